"""What the header of a map says: how often, how many, how well used; and a caution for each kind of work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nesting.drawing.cuts import usable_box, with_skin
from nesting.drawing.paper import Header
from nesting.drawing.pieces import PlacedPiece, is_lengths, measure, size_text
from nesting.longblocks import as_cut
from nesting.measures import cut_measure, measures_note, percent, reworded, unit, with_unit
from nesting.model import BlockMaterial, Layout, Material, MaterialPlan, Plan, RollMaterial

__all__ = ["STOCK_WORDS", "caution", "efficiency", "header", "lays", "lays_text", "often"]

COMMON_CAUTION = (
    "This tool plans cutting only; it does not test or certify fire performance, safety or legal compliance. "
    "The codes of the place of work and of sale and the machine maker's instructions come first."
)
CAUTIONS = {
    "roll": "Blades cut hands and arms: guard down, cut-resistant glove on the free hand, trained people "
    "only. Lay no more plies than the blade and the ply limit allow.",
    "sheet": "Saw blades cut and throw back: guard just above the board, push aid for narrow parts, dust "
    "drawn off, trained people only.",
    "block": "Foam saws and slitters: guard down to just above the foam, push aids for small parts, trained "
    "people only. Draw off dust, no sparks or flames. No hot wire on polyurethane: its fumes are poisonous. "
    "Foam burns fast with thick, toxic smoke: keep blocks, stacks and scrap few, apart from the work and "
    "away from exits.",
}
"""By kind of material; guarding, dust and fire load after common practice in foam and cloth cutting rooms."""

STOCK_WORDS = {"roll": "marker", "sheet": "sheet", "block": "block"}


def caution(material_plan: MaterialPlan) -> str:
    """The caution printed on every page of this material."""
    return f"{CAUTIONS[material_plan.material.kind]} {COMMON_CAUTION}"


def lays(plies: int, ply_limit: int) -> tuple[int, ...]:
    """Plies of each lay when `plies` are spread at most `ply_limit` at a time: full lays first."""
    full, rest = divmod(plies, ply_limit)
    return (ply_limit,) * full + ((rest,) if rest else ())


def lays_text(plies: int, ply_limit: int) -> str:
    """The lays in words: ``"3 lays: 10 + 10 + 5 plies"``."""
    sizes = lays(plies, ply_limit)
    if len(set(sizes)) == 1:
        return f"{_count(len(sizes), 'lay', 'lays')} of {_count(sizes[0], 'ply', 'plies')}"
    if len(sizes) <= 4:
        return f"{len(sizes)} lays: {' + '.join(map(str, sizes))} plies"
    full = sum(1 for size in sizes if size == ply_limit)
    rest = f" + 1 x {sizes[-1]}" if full < len(sizes) else ""
    return f"{len(sizes)} lays: {full} x {ply_limit}{rest} plies"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def often(material_plan: MaterialPlan, layout: Layout) -> str:
    """How often a layout is cut, in words."""
    material = material_plan.material
    if isinstance(material, RollMaterial):
        if is_lengths(material_plan):
            return f"cut {_count(layout.repeats, 'time', 'times')}"
        return f"spread {lays_text(layout.repeats, material.ply_limit)}"
    if isinstance(material, BlockMaterial) and material.cut_to is not None:
        return f"cut {_count(layout.repeats, 'part', 'parts')} of a long block like this"
    return f"cut {_count(layout.repeats, material.kind, material.kind + 's')} like this"


def efficiency(material_plan: MaterialPlan, layout: Layout, pieces: Iterable[PlacedPiece]) -> float:
    """Share of the usable area, volume or length of one layout that becomes pieces, 0 to 1."""
    material = material_plan.material
    if is_lengths(material_plan):
        return sum(piece.demand.panel.length for piece in pieces) / layout.length if layout.length else 0.0
    if isinstance(material, BlockMaterial):
        material = as_cut(material, layout)
    _, _, length, width = usable_box(material, layout.length)
    if isinstance(material, BlockMaterial):
        low, high = with_skin(material)
        room = length * width * (high - low) / 1e9
        used = sum(piece.demand.panel.volume for piece in pieces)
    else:
        room = length * width / 1e6
        used = sum(piece.demand.panel.area for piece in pieces)
    return used / room if room > 0 else 0.0


def _stock_cells(material: Material, layout: Layout) -> list[tuple[str, str]]:
    if isinstance(material, RollMaterial):
        ends = layout.length + 2.0 * material.end_loss
        return [
            (
                "Roll width, full / usable",
                f"{measure(material.width)} / {measure(material.usable_width)} {unit()}",
            ),
            ("Marker length", with_unit(layout.length)),
            ("Lay length with ends", with_unit(ends)),
            ("Plies in all / lays", f"{layout.repeats} / {len(lays(layout.repeats, material.ply_limit))}"),
        ]
    if isinstance(material, BlockMaterial):
        return _block_cells(material, layout)
    sides = [material.length, material.width]
    sides += [material.thickness] if material.thickness else []
    raw = " x ".join(measure(side) for side in sides)
    return [
        ("Raw sheet", f"{raw} {unit()}"),
        ("Saw cut (kerf)", f"{cut_measure(material.kerf)} {unit()}"),
        ("Sheets to cut", str(layout.repeats)),
    ]


def _block_cells(material: BlockMaterial, layout: Layout) -> list[tuple[str, str]]:
    cut, kerfs = as_cut(material, layout), material.kerfs
    saw, level = cut_measure(kerfs.upright), cut_measure(kerfs.level)
    raw = " x ".join(measure(side) for side in (cut.length, cut.width, cut.height))
    cells = [
        ("Raw block" if material.cut_to is None else "Part of a long block", f"{raw} {unit()}"),
        (
            "Saw cut (kerf)",
            f"{saw} {unit()}" if kerfs.level == kerfs.upright else f"slitter {level}, saw {saw} {unit()}",
        ),
    ]
    if material.cut_to is None:
        return [*cells, ("Blocks to cut", str(layout.repeats))]
    return [*cells, ("Parts to cut", str(layout.repeats))]


def header(
    plan: Plan,
    material_plan: MaterialPlan,
    heading: str,
    layout: Layout | None = None,
    pieces: Sequence[PlacedPiece] = (),
    more: Sequence[tuple[str, str]] = (),
) -> Header:
    """The header of a page about one layout, or about the whole material when `layout` is None.

    `more` are further cells, put after those of the layout.
    """
    material, figures = material_plan.material, material_plan.figures
    cells: list[tuple[str, str]] = []
    if layout is not None:
        cells += _stock_cells(material, layout)
        each = {"roll": "ply", "sheet": "sheet", "block": "block"}[material.kind]
        count = len(layout.placements)
        cells.append((f"Pieces per {each} / in all", f"{count} / {count * layout.repeats}"))
        cells.append(
            (
                f"Efficiency, this {STOCK_WORDS[material.kind]}",
                percent(efficiency(material_plan, layout, pieces)),
            )
        )
    cells += more
    cells.append(("Efficiency, all", percent(figures.efficiency)))
    cells.append(("Gap to bound", percent(figures.gap)))
    cells += [("Made", plan.made), ("Seed", str(plan.seed)), ("Version", plan.version)]
    if material.fire_reference:
        cells.append(("Approval reference", material.fire_reference))
    return Header(
        title=f"{plan.range_name} – {material.name}",
        heading=heading,
        cells=tuple(cells),
        notices=tuple(_notices(material_plan)),
        caution=caution(material_plan),
        stamp=f"{measures_note()}  Range: {plan.range_file}.  Orders: {plan.orders_file}, "
        f"due {plan.first_due} to {plan.last_due}.  Material: {material.key}.",
    )


def _notices(material_plan: MaterialPlan) -> Iterable[str]:
    """What could not be cut, then the planner's remarks, then those of the material and of panels."""
    demands = {demand.key: demand for demand in material_plan.demands}
    for key, missing in material_plan.missing.items():
        demand = demands.get(key)
        what = f"{demand.panel.code} {demand.model} {demand.size}, {size_text(demand)}" if demand else key
        yield f"NOT IN THESE MAPS: {missing.quantity} x {what}: {reworded(missing.reason)}"
    yield from map(reworded, material_plan.notes)
    if material_plan.material.note:
        yield f"Material: {material_plan.material.note}"
    seen: dict[str, list[str]] = {}
    for number, demand in enumerate(material_plan.demands, start=1):
        if demand.panel.note:
            seen.setdefault(demand.panel.note, []).append(str(number))
    for note, numbers in seen.items():
        yield f"No. {', '.join(numbers)}: {note}"
