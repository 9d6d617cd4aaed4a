"""What the verifier checks of a rack besides what holds for every layout.

As the rest of the verifier it shares nothing with the engines.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import shapely

from nesting.packing.faults import NOISE, check_whole, fault, mm
from nesting.packing.problem import Flaw, RackProblem, Roll
from nesting.packing.solution import Answer, Layout

__all__ = ["OUTLINE_DEPTH", "check_flaws", "check_place", "check_rolls", "rack_cost"]

OUTLINE_DEPTH = 0.01
"""How deep two outlines, or an outline and a flaw, may lie in each other, or how much a gap may fall short,
mm: turned outlines have corners off the grid. Rectangles have no such allowance."""

Lying = tuple[str, tuple[float, float], tuple[float, float], tuple[tuple[float, float], ...]]
"""A piece: its name, low and high corner of its box, and its outline from the low corner (may be empty)."""


def check_place(problem: RackProblem, layout: Layout, where: str) -> Roll:
    """The roll of a layout, after checking where on it and on how many it lies."""
    roll = next((roll for roll in problem.rolls if roll.key == layout.stock_key), None)
    if roll is None:
        fault(where, f"is cut from {layout.stock_key!r}, which is not in stock")
    longest = problem.max_marker_length
    if longest is not None and layout.length > longest + NOISE:
        fault(where, f"is {mm(layout.length)} mm long; a marker may be at most {mm(longest)} mm")
    check_whole(layout.stock_number, "the number of the roll", where)
    check_whole(layout.stock_count, "the number of rolls", where)
    if not math.isfinite(layout.start) or layout.start < -NOISE:
        fault(where, f"starts at {layout.start!r}; it must be 0 or more")
    if roll.length is None:
        if (layout.start, layout.stock_number, layout.stock_count) != (0.0, 1, 1):
            fault(where, f"has a place on {roll.key!r}, which has no end")
        return roll
    if layout.repeats % layout.stock_count:
        fault(where, f"is cut {layout.repeats} times, which {layout.stock_count} rolls cannot share evenly")
    last = layout.stock_number + layout.stock_count - 1
    if roll.available is not None and last > roll.available:
        fault(where, f"lies on roll {last} of {roll.key!r}; there are {roll.available}")
    end = max(_starts(problem, layout)) + layout.length + problem.end_loss
    if end > roll.length + NOISE:
        fault(where, f"reaches to {mm(end)} of {roll.key!r}, which ends at {mm(roll.length)}")
    return roll


def _starts(problem: RackProblem, layout: Layout) -> list[float]:
    """Where the copies of a layout begin on each of its rolls."""
    step = layout.length + max(problem.gap, problem.end_loss)
    return [layout.start + at * step for at in range(layout.repeats // layout.stock_count)]


def check_flaws(problem: RackProblem, layout: Layout, roll: Roll, lying: Sequence[Lying], where: str) -> None:
    """No piece of any copy lies on a flaw."""
    if not roll.flaws:
        return
    for start in _starts(problem, layout):
        for flaw in roll.flaws:
            low, high = flaw.x0 - start, flaw.x1 - start
            if low >= layout.length or high <= 0:
                continue
            for piece in lying:
                if _deep(piece, low, high, flaw, roll.width):
                    name, corner = piece[0], piece[1]
                    at = f"{name!r} at x {mm(corner[0])}, y {mm(corner[1])}"
                    fault(where, f"piece {at} lies on the flaw from {mm(flaw.x0)} to {mm(flaw.x1)}")


def _deep(piece: Lying, x0: float, x1: float, flaw: Flaw, width: float) -> bool:
    """Whether a piece overlaps a flaw by more than noise."""
    _, low, high, outline = piece
    y0, y1 = flaw.y0, width if flaw.y1 is None else flaw.y1
    if min(high[0], x1) - max(low[0], x0) <= NOISE or min(high[1], y1) - max(low[1], y0) <= NOISE:
        return False
    if not outline:
        return True
    shape = shapely.Polygon([(x + low[0], y + low[1]) for x, y in outline])
    return not shape.intersection(shapely.box(x0, y0, x1, y1)).buffer(-OUTLINE_DEPTH).is_empty


def check_rolls(problem: RackProblem, answer: Answer) -> None:
    """Layouts on one roll with an end keep their distance: a gap, or an end loss if that is more."""
    apart = max(problem.gap, problem.end_loss)
    for roll in problem.rolls:
        layouts = [
            (number, layout)
            for number, layout in enumerate(answer.layouts, start=1)
            if layout.stock_key == roll.key
        ]
        if roll.length is None:
            continue
        for first in _alike([layout for _, layout in layouts]):
            on_roll = [(n, la) for n, la in layouts if 0 <= first - la.stock_number < la.stock_count]
            spans = sorted((start, n, la.length) for n, la in on_roll for start in _starts(problem, la))
            for (start, one, length), (after, other, _) in pairwise(spans):
                if after - start - length < apart - NOISE:
                    room = f"{mm(after - start - length)} mm apart on roll {first} of {roll.key!r}"
                    fault(f"Layout {other}", f"and layout {one} are {room}; they must keep {mm(apart)} mm")


def _alike(layouts: Sequence[Layout]) -> Iterator[int]:
    """The first number of every run of rolls that hold the same layouts."""
    yield from sorted({layout.stock_number for layout in layouts})


def rack_cost(problem: RackProblem, answer: Answer) -> float:
    """Cost of all markers, end losses included."""
    rate = {roll.key: roll.cost for roll in problem.rolls}
    return math.fsum(
        rate[layout.stock_key] / 1000.0 * (layout.length + problem.end_loss) * layout.repeats
        for layout in answer.layouts
    )
