"""Two copies of an outline in one box: the second turned by 180 degrees and moved until they fit.

Where the second may lie is known exactly for convex outlines: turned by 180 degrees, P covers points of
the first just where its offset lies in the Minkowski sum P + P, which is P at twice its size (the no-fit
polygon; Bennell and Oliveira 2008, EJOR 184(2): 397-415), and a saw cut between them widens that sum by a
disc. Outlines that are not convex are paired by their hulls, which keeps them farther apart than need be.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from nesting.packing.grid import mm
from nesting.packing.pieces import Point, grid_down, grid_up, turned_points
from nesting.packing.profiles import is_convex, span_at

__all__ = ["PairBox", "least_boxes", "pair_boxes"]

MOST_BOXES = 2
"""Most boxes of pairs in one orientation."""

WORTH = 1.02
"""A further box may have so many times the area of the least."""

NOISE = 1e-6
"""Float noise of a distance, mm, and of an overlap, mm2."""

STEPS = 10
"""Steps of the staircase below all boxes of pairs."""

NUDGES = 4
"""Grid steps that a second copy may be moved on, where rounding has brought it too near."""

ROUND = 16
"""Corners that stand for a quarter of the disc of a saw cut."""


@dataclass(frozen=True, slots=True)
class PairBox:
    """Two copies in a box, in grid steps.

    Parameters
    ----------
    dx, dy
        The box.
    turns
        Of the two copies, degrees.
    places
        Low corners of their boxes, from the low corner of the box.
    """

    dx: int
    dy: int
    turns: tuple[float, float]
    places: tuple[tuple[int, int], tuple[int, int]]


def _orientations(turns: Sequence[float]) -> Iterator[float]:
    """The turns of a first copy for which the second may be turned by another 180 degrees."""
    allowed = {turn % 360.0 for turn in turns}
    for turn in (0.0, 90.0):
        if {turn, turn + 180.0} <= allowed:
            yield turn


def _too_near(outline: Sequence[Point], kerf: float, *, wide: bool) -> Any:
    """Offsets of the second box from the first at which the copies are less than a saw cut apart.

    The disc of the saw cut becomes a polygon, around it with `wide`, inside it otherwise.
    """
    hull = shapely.convex_hull(shapely.Polygon(outline))
    _, _, length, width = hull.bounds
    twice = shapely.transform(hull, lambda points: 2.0 * points - (length, width))
    if kerf == 0:
        return twice
    reach = kerf / math.cos(math.pi / (4 * ROUND)) if wide else kerf
    return twice.buffer(reach, quad_segs=ROUND)


def pair_boxes(outline: Sequence[Point], turns: Sequence[float], kerf: int) -> tuple[PairBox, ...]:
    """The least boxes that two copies of an outline need.

    Parameters
    ----------
    outline
        Lower left of its box at (0, 0), mm.
    turns
        Allowed turns, right angles.
    kerf
        What must be left between the copies, in grid steps.

    Returns
    -------
    tuple of PairBox
        Few for each orientation, that of least area first; verified by the true distance of the copies.
    """
    found: list[PairBox] = []
    for turn in _orientations(turns):
        first = turned_points(outline, turn)
        second = turned_points(outline, turn + 180.0)
        sides = grid_up(max(x for x, _ in first)), grid_up(max(y for _, y in first))
        near = _too_near(first, mm(kerf), wide=True)
        shapes = shapely.Polygon(first), shapely.Polygon(second)
        beside = [(mm(sides[0] + kerf), 0.0), (0.0, mm(sides[1] + kerf))]
        corners = [*near.exterior.coords, *_crossings(near), *beside]
        offsets = {moved for x, y in corners if (moved := _grid_offset(x, y, shapes, mm(kerf)))}
        boxes = sorted(
            (_box(turn, sides, offset) for offset in offsets),
            key=lambda box: (box.dx * box.dy, box.dx, box.places),
        )
        most = WORTH * boxes[0].dx * boxes[0].dy
        kept: list[PairBox] = []
        for box in boxes:
            if box.dx * box.dy > most or len(kept) == MOST_BOXES:
                break
            if not any(other.dx <= box.dx and other.dy <= box.dy for other in (*found, *kept)):
                kept.append(box)
        found += kept
    return tuple(found)


def _crossings(near: Any) -> Iterator[Point]:
    """Where the forbidden offsets end along x alone and along y alone."""
    left, low, right, high = near.bounds
    for line in ([(left - 1, 0), (right + 1, 0)], [(0, low - 1), (0, high + 1)]):
        ends = shapely.get_coordinates(near.exterior.intersection(shapely.LineString(line)))
        yield from ((float(x), float(y)) for x, y in ends)


def _grid_offset(x: float, y: float, shapes: tuple[Any, Any], kerf: float) -> tuple[int, int] | None:
    """The offset on the grid that is nearest and leaves the saw cut; None: there is none near."""
    one, other = shapes
    best: tuple[int, int] | None = None
    for dx in (grid_up(abs(x)), grid_down(abs(x))):
        for dy in (grid_up(abs(y)), grid_down(abs(y))):
            for nudge in range(NUDGES):
                at = int(math.copysign(dx + nudge, x)), int(math.copysign(dy + nudge, y))
                if _leaves_cut(one, other, at, kerf):
                    if best is None or abs(at[0]) + abs(at[1]) < abs(best[0]) + abs(best[1]):
                        best = at
                    break
    return best


def _leaves_cut(one: Any, other: Any, at: tuple[int, int], kerf: float) -> bool:
    offset = np.array([mm(at[0]), mm(at[1])])
    moved = shapely.transform(other, lambda points: points + offset)
    return bool(one.distance(moved) >= kerf - NOISE and one.intersection(moved).area <= NOISE)


def _box(turn: float, sides: tuple[int, int], offset: tuple[int, int]) -> PairBox:
    (x, y), (length, width) = offset, sides
    first = max(0, -x), max(0, -y)
    second = max(0, x), max(0, y)
    return PairBox(length + abs(x), width + abs(y), (turn, turn + 180.0), (first, second))


def least_boxes(outline: Sequence[Point], turns: Sequence[float], kerf: int) -> tuple[tuple[int, int], ...]:
    """Boxes of which every box of two copies, wherever they lie in it, holds at least one; in grid steps.

    With the second copy moved by ``(a, b)``, up or down and to either side, the box is ``length + |a|`` by
    ``width + |b|``. For convex outlines the offsets that are too near are convex, so the least ``|b|`` of
    all offsets up to ``|a|`` is found at ``a`` or ``-a``; a staircase below this function of ``|a|`` gives
    the boxes. Of other outlines the box of one copy is all that is known to be held.
    """
    found: list[tuple[int, int]] = []
    for turn in _orientations(turns):
        first = turned_points(outline, turn)
        length, width = max(x for x, _ in first), max(y for _, y in first)
        if not is_convex(first):
            found.append((grid_down(length), grid_down(width)))
            continue
        near = _too_near(first, mm(kerf), wide=False)
        # Beyond the first offset along x alone that leaves the saw cut, the width of one copy does.
        far = min(abs(x) for x, y in _crossings(near) if abs(y) <= NOISE)
        rim = list(near.exterior.coords)[:-1]
        steps = STEPS if far > 0 else 1
        stops = [far * step / steps for step in range(steps + 1)]
        for a, b in pairwise(stops):
            found.append((grid_down(length + a), grid_down(width + _least(rim, b, far))))
        found.append((grid_down(length + far), grid_down(width)))
    least = dict.fromkeys(found)
    return tuple(
        box for box in least if not any(o != box and o[0] <= box[0] and o[1] <= box[1] for o in least)
    )


def _least(near: Sequence[Point], a: float, far: float) -> float:
    """The least |b| of offsets (a, b) and (-a, b) outside a convex polygon, 0 from `far` on."""
    if a >= far:
        return 0.0
    spans = [span_at(near, a), span_at(near, -a)]
    return max(0.0, min(min(high, -low) for low, high in spans))
