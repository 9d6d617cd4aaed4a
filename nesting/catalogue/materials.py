"""Reading one ``[materials.KEY]`` table."""

from __future__ import annotations

from collections.abc import Mapping

from nesting.blocks import SHELF, block_of, block_sizes
from nesting.catalogue.fields import build
from nesting.model import BlockMaterial, BlockSize, Material, RollMaterial, SheetMaterial
from nesting.reading.findings import Findings, listed, near
from nesting.reading.units import show

__all__ = ["material_of"]

MOST_SIZES = 50
"""Most sizes in which one foam is bought."""

_SIDES = ("length", "width", "height")
_OF_SIZES = ("sizes", *_SIDES, "available")
"""Fields of a block that stand in its sizes where it has several."""
LONGEST_WHOLE = 10_000.0
"""Longest block that is cut as it is, mm."""

_KINDS: Mapping[str, type[Material]] = {"roll": RollMaterial, "sheet": SheetMaterial, "block": BlockMaterial}


def material_of(key: str, table: Mapping[str, object], findings: Findings) -> Material | None:
    """The material of a table, or None after noting what is wrong with it.

    Beyond the limits of each field, something usable must be left once trims, skins and end losses are
    taken off.
    """
    place = f"materials.{key}"
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in _KINDS:
        hint = near(kind, _KINDS) if isinstance(kind, str) else ""
        remedy = f'{hint}Write kind = "roll", "sheet" or "block".'
        findings.add(f"{place}.kind", kind, listed(_KINDS), remedy)
        return None
    before = len(findings)
    given: dict[str, object] = {"key": key}
    if kind == "block" and "sizes" in table:
        sizes = _sizes_of(table, place, findings)
        table = {field: value for field, value in table.items() if field not in _OF_SIZES}
        given |= {"sizes": sizes, "available": None}
        given |= {side: getattr(sizes[0], side) if sizes else 0.0 for side in _SIDES}
    material = build(_KINDS[kind], {"name": key, **table}, place, findings, given=given)
    if material is None or len(findings) > before:
        return None
    if isinstance(material, RollMaterial):
        _check_roll(material, place, findings)
    elif isinstance(material, BlockMaterial):
        _check_blocks(material, place, findings)
    else:
        _check_rims(material, place, findings)
    return material if len(findings) == before else None


def _sizes_of(table: Mapping[str, object], place: str, findings: Findings) -> tuple[BlockSize, ...]:
    """The sizes in which a foam is bought; what belongs to one size must not stand beside them."""
    for field in _OF_SIZES:
        if field in table and field != "sizes":
            remedy = f"Write {field} in each of the sizes, or take the sizes out."
            findings.add(f"{place}.{field}", table[field], "nothing where there are sizes", remedy)
    written = table["sizes"]
    tables = written if isinstance(written, list) else []
    if not 1 <= len(tables) <= MOST_SIZES or not all(isinstance(entry, dict) for entry in tables):
        allowed = f"a list of 1 to {MOST_SIZES} tables"
        remedy = 'Write sizes = [{ name = "K1", length = 2100, width = 2060, height = 1080 }].'
        findings.add(f"{place}.sizes", written, allowed, remedy)
        return ()
    found: list[BlockSize] = []
    for number, entry in enumerate(tables, start=1):
        where = f"{place}.sizes[{number}]"
        size = build(BlockSize, entry, where, findings)
        if size is None:
            continue
        if size.name in {other.name for other in found}:
            findings.add(f"{where}.name", size.name, "a name that no other size has", "Rename one of them.")
        if size.name.startswith(SHELF):
            allowed = f"a name that does not begin with {SHELF!r}"
            findings.add(f"{where}.name", size.name, allowed, "Rename it: pieces from the shelf begin so.")
        found.append(size)
    return tuple(found)


def _check_roll(roll: RollMaterial, place: str, findings: Findings) -> None:
    full = show(roll.width)
    if 2 * roll.edge_trim >= roll.width:
        allowed = f"less than half of the width of {full} mm"
        findings.add(f"{place}.edge_trim", roll.edge_trim, allowed, "Correct the trim or the width.")
    if roll.measured_width is not None and roll.measured_width > roll.width:
        allowed = f"at most the full width of {full} mm"
        findings.add(f"{place}.measured_width", roll.measured_width, allowed, "Correct one of the widths.")
    if 2 * roll.end_loss >= roll.roll_length:
        allowed = f"less than half of the roll length of {show(roll.roll_length)} mm"
        remedy = 'Correct one of them; metres are written "60 m".'
        findings.add(f"{place}.end_loss", roll.end_loss, allowed, remedy)


def _check_blocks(material: BlockMaterial, place: str, findings: Findings) -> None:
    for number, size in enumerate(block_sizes(material), start=1):
        where = f"{place}.sizes[{number}]" if material.sizes else place
        own = block_of(material, size.name).material
        _check_rims(own, where, findings)
        _check_length(own, where, findings)


def _check_length(block: BlockMaterial, place: str, findings: Findings) -> None:
    """Long blocks are cut to length first, so it must be known to which."""
    if block.cut_to is None and block.length > LONGEST_WHOLE:
        allowed = f"at most {show(LONGEST_WHOLE)} mm for a block that is cut as it is"
        remedy = (
            'Correct the length, or write cut_to = ..., the longest part that the machines take: "2.2 m".'
        )
        findings.add(f"{place}.length", block.length, allowed, remedy)
    if block.cut_to is not None and block.cut_to > block.length:
        allowed = f"at most the length of {show(block.length)} mm"
        findings.add(f"{place}.cut_to", block.cut_to, allowed, "Correct one of the lengths.")


def _check_rims(material: SheetMaterial | BlockMaterial, place: str, findings: Findings) -> None:
    rim, field = (material.trim, "trim") if isinstance(material, SheetMaterial) else (material.skins, "skins")
    sides = [("length", material.length, rim.x0 + rim.x1), ("width", material.width, rim.y0 + rim.y1)]
    if isinstance(material, BlockMaterial):
        sides.append(("height", material.height, material.skins.z0 + material.skins.z1))
    for side, raw, lost in sides:
        if lost >= raw:
            allowed = f"less than the {side} of {show(raw)} mm"
            found = f"{show(lost)} mm in all"
            findings.add(f"{place}.{field}", found, allowed, f"Correct the {field} or the {side}.")
