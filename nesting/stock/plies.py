"""What a plan says of the plies that are cut: lengths, pieces, rests, and from which piece of stock."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from nesting.blocks import ONE_SIZE, as_cut, block_of
from nesting.longblocks import saw_width
from nesting.measures import MACHINES
from nesting.model import BlockMaterial, Layout, MaterialPlan, Plan, RollMaterial
from nesting.packing.solution import Part
from nesting.reading.findings import listed, near
from nesting.reports.statistics import remnants_of
from nesting.stock.store import StockError

__all__ = [
    "Share",
    "contents",
    "counted",
    "find_layout",
    "find_part",
    "plan_number",
    "planned_length",
    "ply_length",
    "ply_rests",
    "shares",
    "unbooked",
]

Booked = Mapping[tuple[int, str], int]
"""Plies booked so far, by number of the layout and id of the piece; the id is empty where none was named."""


def plan_number(plan: Plan) -> str:
    """The number of a plan; of one that was made before plans had numbers, as it would be now."""
    if plan.number:
        return plan.number
    content = repr(replace(plan, workshop=MACHINES))  # how maps are written does not come into it
    return hashlib.sha256(content.encode()).hexdigest()[:8]


def find_part(plan: Plan, material: str | None) -> MaterialPlan:
    """The plan of one material, by its key or name; None where there is but one.

    Raises
    ------
    StockError
        When it is not in the plan, or several are and none is named.
    """
    known = [part.material.key for part in plan.materials]
    if material is None:
        if len(plan.materials) == 1:
            return plan.materials[0]
        raise StockError(f"The plan has several materials. Say which with --material: {listed(known)}.")
    for part in plan.materials:
        if material.casefold() in (part.material.key.casefold(), part.material.name.casefold()):
            return part
    raise StockError(
        f"There is no material {material!r} in the plan. {near(material, known)}It has {listed(known)}."
    )


def find_layout(part: MaterialPlan, number: int) -> Layout:
    """A layout by its number, as it is printed on the maps.

    Raises
    ------
    StockError
        When there is none of this number.
    """
    if 1 <= number <= len(part.layouts):
        return part.layouts[number - 1]
    span = f"layouts 1 to {len(part.layouts)}" if part.layouts else "no layouts"
    raise StockError(f"{part.material.name} has {span} in this plan; there is no layout {number}.")


def ply_length(part: MaterialPlan, layout: Layout) -> float:
    """Length that one ply takes of a roll, both end losses included, or a part of a long block with its saw
    cut, mm; 0 for sheets and blocks that are used whole.
    """
    material = part.material
    if isinstance(material, BlockMaterial):
        own = block_of(material, layout.stock_key, part.shelf).material
        return 0.0 if own.cut_to is None else layout.length + saw_width(own)
    if not isinstance(material, RollMaterial):
        return 0.0
    length = layout.length
    if material.process == "lengths":  # a layout is as long as the roll: what counts is where it ends
        panel = {demand.key: demand.panel for demand in part.demands}
        length = max(
            placement.x
            + (placement.part.length if isinstance(placement.part, Part) else panel[placement.key].length)
            for placement in layout.placements
        )
    return length + 2 * material.end_loss


COUNTED = {"roll": ("ply", "plies"), "sheet": ("sheet", "sheets"), "block": ("block", "blocks")}
"""What is counted of a layout, one and several, by kind of material."""


def counted(kind: str, number: int) -> str:
    """How often a layout is cut: ``"1 ply"``, ``"4 sheets"``."""
    return f"{number} {COUNTED[kind][number != 1]}"


def contents(layout: Layout) -> Counter[str]:
    """How many pieces one ply holds, by the key of their demand; a joined piece counts by its first part."""
    return Counter(
        placement.key
        for placement in layout.placements
        if placement.part is None or placement.part.index == 0
    )


def ply_rests(part: MaterialPlan, layout: Layout) -> tuple[tuple[float, float, float], ...]:
    """Length, width and height, mm, of the rests of one sheet or block that are worth keeping.

    What is left of a long block is no rest of the part that is cut off it.
    """
    material = part.material
    if isinstance(material, RollMaterial):
        return ()
    layout = replace(layout, repeats=1)
    if isinstance(material, BlockMaterial):
        material = as_cut(block_of(material, layout.stock_key, part.shelf).material, layout)
        layout = replace(layout, stock_key=ONE_SIZE, start=0.0, stock_number=1, stock_count=1)
    return tuple(
        (rest.length, rest.width, rest.height)
        for rest in remnants_of(material, [layout], ())
        for _ in range(rest.quantity)
    )


@dataclass(frozen=True, slots=True)
class Share:
    """So many plies of a layout from one piece of stock; `piece` is empty where none is named.

    `planned` is the length of roll or long block that they take by the plan, mm, with what is passed over
    before them.
    """

    piece: str
    plies: int
    planned: float


def unbooked(part: MaterialPlan, booked: Booked, piece: str) -> int:
    """Plies that the plan still has to cut from a piece; of the whole material when it does not name it."""
    done: Counter[int] = Counter()
    for (number, _), plies in booked.items():
        done[number] += plies
    open_ = {n: max(0, layout.repeats - done[n]) for n, layout in enumerate(part.layouts, start=1)}
    if all(use.piece != piece for use in part.stock):
        return sum(open_.values())
    on_piece: Counter[int] = Counter()
    for number, _, left, _ in _walk(part, piece, booked):
        on_piece[number] += left
    # What was cut from another piece instead is open no more.
    return sum(min(left, open_[number]) for number, left in on_piece.items())


def _walk(part: MaterialPlan, piece: str, booked: Booked) -> list[tuple[int, int, int, float | None]]:
    """What is cut from a piece in cutting order: number of the layout, plies, plies left, where it begins."""
    done = {number: plies for (number, id_), plies in booked.items() if id_ == piece}
    steps = []
    for use in part.stock:
        if use.piece != piece:
            continue
        starts = use.starts if len(use.starts) == len(use.cuts) else (None,) * len(use.cuts)
        for (index, plies), start in zip(use.cuts, starts, strict=True):
            cut = min(plies, done.get(index + 1, 0))
            done[index + 1] = done.get(index + 1, 0) - cut
            steps.append((index + 1, plies, plies - cut, start))
    return steps


def shares(
    part: MaterialPlan, number: int, plies: int, booked: Booked, consumed: Mapping[str, float]
) -> tuple[Share, ...]:
    """Which pieces the next plies of a layout come from, as the plan says.

    Parameters
    ----------
    number
        Of the layout, from 1.
    plies
        How many are cut.
    booked
        What was booked before.
    consumed
        Length of roll used so far for this plan, mm, by id of the piece.

    Returns
    -------
    tuple of Share
        In the order of the plan. Plies beyond what it says, or all where it names no pieces, are of none.
    """
    found = []
    left = plies
    pieces = dict.fromkeys(use.piece for use in part.stock if use.piece)
    for piece in pieces:
        count = min(left, sum(rest for n, _, rest, _ in _walk(part, piece, booked) if n == number))
        if count:
            found.append(Share(piece, count, planned_length(part, number, count, piece, booked, consumed)))
            left -= count
    if left:
        found.append(Share("", left, left * ply_length(part, part.layouts[number - 1])))
    return tuple(found)


def planned_length(
    part: MaterialPlan, number: int, plies: int, piece: str, booked: Booked, consumed: Mapping[str, float]
) -> float:
    """Length of a roll or long block that the next plies of a layout take, mm; parameters as for `shares`.

    Where the plan gives them a place on this roll and is followed in order, what is passed over before them
    (a flaw, say) counts. The first part of a long block takes the skin of its end with it.
    """
    each = ply_length(part, part.layouts[number - 1])
    begun = place = consumed.get(piece, 0.0)
    if each and not begun and isinstance(part.material, BlockMaterial):
        key = part.layouts[number - 1].stock_key
        place += min(layout.start for layout in part.layouts if layout.stock_key == key)
    in_order = True
    for step, planned, rest, start in _walk(part, piece, booked):
        if step == number and rest and plies:
            now = min(rest, plies)
            if in_order and start is not None:
                place = max(place, start + (planned - rest) * each)
            place += now * each
            plies -= now
            in_order = in_order and now == rest
        elif rest:
            in_order = False
    return place + plies * each - begun
