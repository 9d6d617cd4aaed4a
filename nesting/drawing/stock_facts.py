"""What a map says of the stock below a layout: which piece from the shelf, where on it, and its flaws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.blocks import layout_block
from nesting.drawing.pieces import is_lengths
from nesting.measures import amount, fixed, measure, shown_amount, unit
from nesting.model import BlockMaterial, Material, MaterialPlan, RollMaterial, StockPiece, StockUse
from nesting.shelf import from_shelf, own_material

__all__ = ["SeenFlaw", "flaw_lines", "seen_flaws", "stock_lines", "stock_material", "stock_words"]

SAME = 1e-6  # mm; two places closer than this are one
MOST_LINES = 4
"""Rolls named above a map; where there are more the cut list has the others."""


def stock_material(material_plan: MaterialPlan, index: int) -> Material:
    """The material as it is below one layout, with the measures of the piece that is cut."""
    if isinstance(material_plan.material, BlockMaterial):
        return layout_block(material_plan, index).material
    return own_material(material_plan.material, from_shelf(material_plan, index))


@dataclass(frozen=True, slots=True)
class SeenFlaw:
    """A flaw below a marker.

    Parameters
    ----------
    name
        ``"F1"`` and so on, in the order along the marker.
    x0, x1, y0, y1
        From the beginning of the marker and the edge of the usable width, mm.
    on_roll
        Where it is on the roll; empty when the marker lies on several rolls or places.
    """

    name: str
    x0: float
    x1: float
    y0: float
    y1: float
    on_roll: str


@dataclass(frozen=True, slots=True)
class _Lay:
    """Plies of one layout on one roll."""

    use: StockUse
    piece: StockPiece | None
    plies: int
    start: float | None


def _lays(material_plan: MaterialPlan, index: int) -> Iterator[_Lay]:
    pieces = {piece.id: piece for piece in material_plan.shelf}
    for use in material_plan.stock:
        for place, (at, plies) in enumerate(use.cuts):
            if at == index:
                start = use.starts[place] if use.starts else None
                yield _Lay(use, pieces.get(use.piece), plies, start)


def seen_flaws(material_plan: MaterialPlan, index: int) -> tuple[SeenFlaw, ...]:
    """The flaws below one marker; they are the same wherever it is laid."""
    material = material_plan.material
    if not isinstance(material, RollMaterial) or is_lengths(material_plan):
        return ()
    lays = list(_lays(material_plan, index))
    lay = next((lay for lay in lays if lay.piece is not None and lay.piece.flaws), None)
    if lay is None or lay.piece is None or lay.start is None:
        return ()
    first = lay.start + material.end_loss
    length = material_plan.layouts[index].length
    alone = len(lays) == 1 and lays[0].plies == 1
    found: list[SeenFlaw] = []
    for flaw in sorted(lay.piece.flaws, key=lambda flaw: (flaw.x0, flaw.y0)):
        if flaw.x0 - first >= length + material.end_loss or flaw.x1 - first <= -material.end_loss:
            continue
        top = lay.piece.width if flaw.y1 is None else min(flaw.y1, lay.piece.width)
        on_roll = f"{_along(flaw.x0)}-{_metres(flaw.x1)}" if alone else ""
        name = f"F{len(found) + 1}"
        found.append(SeenFlaw(name, flaw.x0 - first, flaw.x1 - first, flaw.y0, top, on_roll))
    return tuple(found)


def flaw_lines(flaws: tuple[SeenFlaw, ...], length: float, width: float) -> tuple[str, ...]:
    """One line with all flaws below a marker of this length and usable width; none without flaws."""
    if not flaws:
        return ()
    told = []
    for flaw in flaws:
        across = "across the whole width"
        if flaw.y0 > 0 or flaw.y1 < width:
            across = f"{measure(flaw.y0)}-{measure(flaw.y1)} {unit()} from the lower edge"
        here = f"here {measure(max(0.0, flaw.x0))}-{measure(min(length, flaw.x1))} {unit()}"
        if flaw.x1 <= SAME or flaw.x0 >= length - SAME:
            here = "just before the marker" if flaw.x1 <= SAME else "just behind the marker"
        where = f"{flaw.on_roll} of the roll, " if flaw.on_roll else ""
        told.append(f"{flaw.name} {where}{here}, {across}")
    return (f"FLAWS BELOW IT, DO NOT CUT: {'; '.join(told)}.",)


def stock_lines(material_plan: MaterialPlan, index: int) -> tuple[str, ...]:
    """Which pieces from the shelf a layout is cut from, a line each; none where all of the plan is new."""
    if not material_plan.shelf:
        return ()
    lays = list(_lays(material_plan, index))
    lines = [_line(material_plan, index, lay) for lay in lays]
    issued = sum(lay.plies for lay in lays)
    new = material_plan.layouts[index].repeats - issued
    if new:
        lines.append(f"From new {material_plan.material.kind}s: {new}.")
    if len(lines) > MOST_LINES:
        more = len(lines) - MOST_LINES + 1
        lines = [*lines[: MOST_LINES - 1], f"And from {more} more: see cut-list.csv."]
    return tuple(lines)


def _line(material_plan: MaterialPlan, index: int, lay: _Lay) -> str:
    material = material_plan.material
    if not isinstance(material, RollMaterial):
        return f"From {lay.use.name}{_about(lay.piece)}."
    name = lay.use.name if lay.piece else f"new {lay.use.name}"
    if is_lengths(material_plan):
        start = "" if lay.start is None else f", from {_metres(lay.start)}"
        return f"From {name}{_about(lay.piece)}{start}."
    plies = f"{lay.plies} {'ply' if lay.plies == 1 else 'plies'}"
    if lay.start is None:
        return f"Lay {plies} from {name}{_about(lay.piece)}."
    layout = material_plan.layouts[index]
    step = max(layout.length + 2 * material.end_loss, layout.length + material.gap)
    end = lay.start + (lay.plies - 1) * step + layout.length + 2 * material.end_loss
    span = f"from {_metres(lay.start)} to {_metres(end)}"
    return f"Lay {plies} from {name}{_about(lay.piece)}: {span} of the roll, ends included."


def _about(piece: StockPiece | None) -> str:
    """Lot, place and measured size in brackets."""
    if piece is None:
        return ""
    facts = [f"lot {piece.lot}"] if piece.lot else []
    facts += [f"at {piece.place}"] if piece.place else []
    facts += ["a rest"] if piece.remnant else []
    length = _metres(piece.length) if piece.length >= 10_000 else measure(piece.length)
    high = f", {measure(piece.height)} high" if piece.height else ""
    facts.append(f"{measure(piece.width)} wide, {length} long{high}")
    return f" ({', '.join(facts)})"


def stock_words(material_plan: MaterialPlan, index: int) -> str:
    """The same for a cell of a list: ``"R-2 from 12.62 m x2; new roll 1 from 0.00 m"``."""
    if not material_plan.shelf:
        return ""
    words = []
    for lay in _lays(material_plan, index):
        start = "" if lay.start is None else f" from {_metres(lay.start)}"
        name = lay.use.name if lay.piece else f"new {lay.use.name}"
        words.append(f"{name}{start}{f' x{lay.plies}' if lay.plies > 1 else ''}")
    return "; ".join(words)


def _along(length: float) -> str:
    """A place along a roll without its unit."""
    return fixed(amount(length / 1e3, "m")[0], 2)


def _metres(length: float) -> str:
    """A place along a roll: ``"12.62 m"``."""
    return shown_amount(length / 1e3, "m", 2)
