"""Whether a panel can be laid on a material, and by how much it cannot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.blocks import block_of, block_sizes
from nesting.model import BlockMaterial, Material, Panel, RollMaterial, SheetMaterial
from nesting.packing.problem import GRID, grid_down, grid_up, turned_points
from nesting.packing.solution import Stand, stood
from nesting.reading.units import show
from nesting.recipes import recipes_of

__all__ = ["Misfit", "misfit", "permitted_turns"]

STRIP_TOLERANCE = 1.0
"""How much narrower than a strip that is only cut to length a panel may be, mm (own choice).

Slit strips are bought in whole millimetres, while a panel's width is reckoned.
"""

_BY_GRAIN = {"one-way": (0.0,), "two-way": (0.0, 180.0), "any": (0.0, 90.0, 180.0, 270.0)}


def permitted_turns(material: Material, *, may_turn: bool = False, shaped: bool = False) -> tuple[float, ...]:
    """Turns that a panel may take on a material, degrees.

    One-way cloth (nap, pile, directional print) takes none, two-way cloth half turns, and quarter turns
    too for a panel that `may_turn`; felt and spunbond ("any") take quarter turns (common practice).
    Strips that are only cut to length cannot take a quarter turn. Slabs in a block take a quarter turn about
    the upright axis, those with an outline, which are `shaped`, any right angle.
    """
    if isinstance(material, BlockMaterial):
        return _BY_GRAIN["any"] if shaped else (0.0, 90.0)
    grain = "any" if may_turn and material.grain == "two-way" else material.grain
    turns = _BY_GRAIN[grain]
    if isinstance(material, RollMaterial) and material.process == "lengths":
        return tuple(turn for turn in turns if turn % 180.0 == 0.0)
    return turns


@dataclass(frozen=True, slots=True)
class Misfit:
    """Why a panel cannot be cut from its material.

    Parameters
    ----------
    found, allowed, remedy
        As in `nesting.errors.Finding`.
    excess
        Millimetres by which it misses, in the turn in which it misses least.
    """

    found: str
    allowed: str
    remedy: str
    excess: float


def misfit(panel: Panel, material: Material) -> Misfit | None:
    """Why `panel` cannot be cut from `material`, whole or in parts that are glued up; None when it can.

    Compared on the packing grid: the panel rounded up, the room rounded down.
    """
    if panel.glue is not None and isinstance(material, BlockMaterial):
        for recipe in recipes_of(panel, material):
            parts = [
                replace(panel, length=length, width=width, thickness=thickness, glue=None)
                for length, width, thickness in recipe.parts
            ]
            if not any(misfit(part, material) for part in parts):
                return None
    if isinstance(material, RollMaterial) and material.process == "lengths":
        fault = _strip_misfit(panel, material)
        if fault is not None:
            return fault
    if isinstance(material, BlockMaterial) and material.sizes:
        faults = [misfit(panel, block_of(material, size.name).material) for size in block_sizes(material)]
        # A panel needs to fit into one of the sizes only; the best of them is spoken of.
        return None if None in faults else min(filter(None, faults), key=lambda fault: fault.excess)
    directions = _room(material)
    best: list[tuple[_Direction, float]] | None = None
    for needs in _boxes(panel):
        short = [(way, need) for way, need in zip(directions, needs, strict=False) if way.lacks(need) > 0]
        if not short:
            return None
        if best is None or _total(short) < _total(best):
            best = short
    assert best is not None  # a panel always has a turn
    way, need = max(best, key=lambda pair: pair[0].lacks(pair[1]))
    lack = way.lacks(need)
    return Misfit(
        f"{show(need)} mm {way.word}",
        f"at most {show(way.room)} mm, the {way.name} of {material.key!r}: {show(lack)} mm too {way.word}",
        f"{way.remedy.format(need=show(need))}, or splitting the panel, would do.",
        lack,
    )


@dataclass(frozen=True, slots=True)
class _Direction:
    """Room in one direction of a material, mm, and how to speak of it."""

    room: float
    name: str
    word: str
    remedy: str

    def lacks(self, need: float) -> float:
        return max(0, grid_up(need) - grid_down(self.room)) * GRID


def _total(short: list[tuple[_Direction, float]]) -> float:
    return sum(way.lacks(need) for way, need in short)


def _room(material: Material) -> tuple[_Direction, ...]:
    """Room along, across and, in blocks, up."""
    if isinstance(material, RollMaterial):
        lay = material.roll_length - 2 * material.end_loss
        name = "roll length without its end losses"
        if material.max_marker_length is not None and material.max_marker_length < lay:
            lay, name = material.max_marker_length, "longest marker"
        return (
            _Direction(lay, name, "long", "Room for {need} mm along the roll"),
            _Direction(
                material.usable_width, "usable width", "wide", "A roll of at least {need} mm usable width"
            ),
        )
    kind = material.kind
    rim = material.trim if isinstance(material, SheetMaterial) else material.skins
    flat = (
        _Direction(
            _longest(material),
            "usable length",
            "long",
            f"A {kind} of at least {{need}} mm usable length",
        ),
        _Direction(
            material.width - rim.y0 - rim.y1,
            "usable width",
            "wide",
            f"A {kind} of at least {{need}} mm usable width",
        ),
    )
    if not isinstance(material, BlockMaterial):
        return flat
    height = material.height - material.skins.z0 - material.skins.z1
    return (
        *flat,
        _Direction(height, "usable height", "thick", "A block of at least {need} mm usable height"),
    )


def _longest(material: SheetMaterial | BlockMaterial) -> float:
    """Usable length of a sheet or block, or the longest part of a long block, mm."""
    rim = material.trim if isinstance(material, SheetMaterial) else material.skins
    usable = material.length - rim.x0 - rim.x1
    if isinstance(material, BlockMaterial) and material.cut_to is not None:
        return min(material.cut_to, usable)
    return usable


def _boxes(panel: Panel) -> Iterator[tuple[float, ...]]:
    """Length, width and, of slabs, height of a panel in every way it may lie."""
    stands: tuple[Stand, ...] = ("flat", "side", "end") if panel.standing else ("flat",)
    for stand in stands:
        along, across, up = stood(panel.length, panel.width, panel.thickness or 0.0, stand)
        for turn in panel.turns:
            length, width = along, across
            if panel.outline:
                turned = turned_points(panel.outline, turn)
                length, width = max(x for x, _ in turned), max(y for _, y in turned)
            elif turn % 180.0:
                length, width = width, length
            yield (length, width) if panel.thickness is None else (length, width, up)


def _strip_misfit(panel: Panel, material: RollMaterial) -> Misfit | None:
    """A strip that is only cut to length must already be as wide as the panel."""
    spare = material.usable_width - panel.width
    if panel.outline:
        return Misfit(
            "a shaped outline",
            f"rectangles, because {material.key!r} is only cut to length",
            "Use a material that is cut to shape, or a plain panel.",
            0.0,
        )
    if spare > STRIP_TOLERANCE:
        return Misfit(
            f"{show(panel.width)} mm wide",
            f"{show(material.usable_width)} mm, because {material.key!r} is only cut to length",
            "Use strip slit to this width, or a material that is cut across its width too.",
            spare,
        )
    return None
