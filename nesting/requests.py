"""From a material and its demand to a packing problem."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import assert_never

from nesting.blocks import block_stock
from nesting.model import BlockMaterial, Demand, Material, RollMaterial, SheetMaterial, StockPiece
from nesting.packing.problem import (
    Bar,
    BlockProblem,
    Flaw,
    LinearProblem,
    Piece,
    Problem,
    RackProblem,
    Roll,
    RollProblem,
    Sheet,
    SheetProblem,
    Stages,
    Trim,
)
from nesting.recipes import recipes_of
from nesting.shelf import alike, as_new, width_share, worth_of

__all__ = ["NEW_ROLL", "NEW_SHEET", "Stretch", "longest_marker", "problem_for", "rate_of", "stretches"]

NEW_ROLL, NEW_SHEET = "roll", "sheet"
"""Keys of new material, and of what is from the shelf but no different."""

BEFORE_BUYING = 0.97
"""What a whole roll from the shelf is reckoned at: it goes before new ones, which must be bought, if that
takes no more than three hundredths more cloth."""

RATE = 1000.0
"""Cost of a metre of new roll: what is least is then the mm of new roll that all is worth."""

_STAGES: dict[str, Stages] = {
    "free knife": None,
    "guillotine": "any",
    "guillotine 2": 2,
    "guillotine 3": 3,
}


def longest_marker(material: RollMaterial) -> float:
    """Longest marker that the cutting table and one roll allow, mm; a ply loses both its ends."""
    whole_roll = material.roll_length - 2 * material.end_loss
    table = material.max_marker_length
    return whole_roll if table is None else min(table, whole_roll)


def problem_for(
    material: Material, demands: Sequence[Demand], stock: Sequence[StockPiece] = (), *, new: bool = True
) -> Problem:
    """The packing problem of one material.

    With rolls from the shelf what is made least is the mm of new roll that all is worth: the length taken,
    times the share of the usual width, and of rests times what they are worth.

    Parameters
    ----------
    material
        What is cut.
    demands
        What is wanted; their keys become the keys of the pieces.
    stock
        What stands on the shelf of this material, free to be used.
    new
        Whether new material may be used as well; without it there must be a piece on the shelf.
    """
    if isinstance(material, RollMaterial):
        if material.process == "lengths":
            lengths = [Piece.linear(d.key, d.panel.length, d.quantity) for d in demands]
            return LinearProblem(_bars(material, stock, new=new), tuple(lengths), kerf=material.gap)
        rolls = _rolls(material, stock, new=new)
        if any(roll.length is not None for roll in rolls):
            return RackProblem(
                rolls=rolls,
                pieces=tuple(_flat(demand) for demand in demands),
                gap=material.gap,
                stages=_STAGES[material.process],
                max_marker_length=longest_marker(material) if new else material.max_marker_length,
                end_loss=2 * material.end_loss,
            )
        return RollProblem(
            width=material.usable_width,
            pieces=tuple(_flat(demand) for demand in demands),
            gap=material.gap,
            stages=_STAGES[material.process],
            max_marker_length=longest_marker(material),
            end_loss=2 * material.end_loss,
        )
    if isinstance(material, SheetMaterial):
        return SheetProblem(
            sheets=_sheets(material, stock, new=new),
            pieces=tuple(_flat(demand) for demand in demands),
            kerf=material.kerf,
            trim=material.trim,
            stages=_STAGES[material.process],
        )
    if isinstance(material, BlockMaterial):
        return BlockProblem(
            blocks=block_stock(material, stock, new=new),
            pieces=tuple(_slab(demand, material, demands) for demand in demands),
            kerf=material.kerfs,
            trim=material.skins,
            order=material.order,
        )
    assert_never(material)


def rate_of(piece: StockPiece, material: RollMaterial) -> float:
    """Mm of new roll that a mm of a roll from the shelf is reckoned at."""
    rate = width_share(piece, material) * worth_of(piece, material)
    return rate if piece.remnant else rate * BEFORE_BUYING


def _rolls(material: RollMaterial, stock: Sequence[StockPiece], *, new: bool) -> tuple[Roll, ...]:
    """New rolls without end, which stand for those like them on the shelf, too, and the others there."""
    rolls = [Roll(NEW_ROLL, material.usable_width, cost=RATE)] if new else []
    for key, pieces in alike(stock).items():
        first = pieces[0]
        if new and as_new(first, material):
            continue
        cost = RATE * rate_of(first, material)
        flaws = tuple(_moved(flaw, material.end_loss) for flaw in first.flaws if flaw.x1 > material.end_loss)
        rolls.append(Roll(key, first.width, first.length, cost, len(pieces), flaws))
    return tuple(rolls)


def _moved(flaw: Flaw, end_loss: float) -> Flaw:
    """A flaw as a problem knows it, where the pieces begin with the ply: in truth an end loss lies before."""
    return Flaw(max(0.0, flaw.x0 - end_loss), flaw.x1 - end_loss, flaw.y0, flaw.y1)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Sound lengths that are cut as bars.

    Parameters
    ----------
    key
        Of the bar.
    pieces
        On which each of them is one; none of them is new material.
    start
        Where it begins on the roll, mm, its end loss first.
    length
        Between both end losses, mm.
    """

    key: str
    pieces: tuple[StockPiece, ...]
    start: float
    length: float


def stretches(material: RollMaterial, stock: Sequence[StockPiece], *, new: bool) -> tuple[Stretch, ...]:
    """The stretches between flaws of all rolls on the shelf that are not like new ones.

    Whatever is only cut to length has no room beside a flaw.
    """
    found = []
    for key, pieces in alike(stock).items():
        first = pieces[0]
        if new and as_new(first, material):
            continue
        at = 0.0
        for number, flaw in enumerate(
            [*sorted(first.flaws, key=lambda flaw: flaw.x0), Flaw(first.length, first.length + 1.0)], start=1
        ):
            length = min(flaw.x0, first.length) - at - 2 * material.end_loss
            if material.max_marker_length is not None:
                length = min(length, material.max_marker_length)
            if length > 0:
                found.append(Stretch(key if number == 1 else f"{key}, {number}", pieces, at, length))
            at = max(at, flaw.x1)
    return tuple(found)


def _bars(material: RollMaterial, stock: Sequence[StockPiece], *, new: bool) -> tuple[Bar, ...]:
    bars = [Bar(NEW_ROLL, longest_marker(material), cost=longest_marker(material))] if new else []
    bars += [
        Bar(part.key, part.length, part.length * rate_of(part.pieces[0], material), len(part.pieces))
        for part in stretches(material, stock, new=new)
    ]
    return tuple(bars)


def _sheets(material: SheetMaterial, stock: Sequence[StockPiece], *, new: bool) -> tuple[Sheet, ...]:
    """New sheets, with those like them on the shelf, and the others there at their share of the area."""
    price = material.price or 1.0
    like_new = sum(as_new(piece, material) for piece in stock)
    available: int | None = like_new
    if new:
        available = None if material.available is None else material.available + like_new
    sheets = [Sheet(NEW_SHEET, material.length, material.width, price, available)]
    for key, pieces in alike(stock).items():
        first = pieces[0]
        if as_new(first, material):
            continue
        share = first.length * first.width / (material.length * material.width)
        sheets.append(
            Sheet(
                key,
                first.length,
                first.width,
                price * share * worth_of(first, material),
                len(pieces),
                Trim() if first.remnant else None,
            )
        )
    return tuple(sheets)


def _flat(demand: Demand) -> Piece:
    panel = demand.panel
    if panel.outline:
        return Piece.polygon(demand.key, panel.outline, demand.quantity, panel.turns, panel.mirror)
    return Piece.rectangle(demand.key, panel.length, panel.width, demand.quantity, panel.turns)


def _slab(demand: Demand, material: BlockMaterial, demands: Sequence[Demand]) -> Piece:
    panel = demand.panel
    if panel.thickness is None:
        raise ValueError(f"{demand.key}: a panel cut from a block needs a thickness")
    return Piece.slab(
        demand.key,
        panel.length,
        panel.width,
        panel.thickness,
        demand.quantity,
        panel.turns,
        recipes=recipes_of(panel, material, [other.panel for other in demands]),
        whole=panel.glue is None or panel.glue.whole,
        standing=panel.standing,
        points=panel.outline,
    )
