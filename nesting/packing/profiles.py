"""Pieces seen as bars: what a cross-section of a marker shows of them.

For the bar relaxation a piece in one of its turns is a set of bars: lengths along x over which it is at
least so wide. A rectangle is one bar; a convex outline is sliced into a few, each the largest rectangle
that the slice is sure to hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

from nesting.packing.problem import GRID, Piece, Point, grid_down, grid_up, turned_points

__all__ = ["Bars", "Profile", "is_convex", "profiles_of", "span_at"]

MOST_SLICES = 12
"""Most slices of an outline: enough for the rounded corners of a bed to cost well under 1 %."""

Bars: TypeAlias = tuple[tuple[float, int], ...]
"""Pairs of length (grid steps) and width (whole grid steps, rounded down)."""


@dataclass(frozen=True, slots=True)
class Profile:
    """How many pieces there are, and the bars of one of them in each allowed turn."""

    quantity: int
    turns: tuple[Bars, ...]


def profiles_of(pieces: Iterable[Piece]) -> list[Profile]:
    """Profiles of all rectangles and convex outlines, like ones merged; other outlines are left out."""
    merged: dict[tuple[Bars, ...], int] = {}
    for piece in pieces:
        turns = _turns(piece)
        if turns:
            merged[turns] = merged.get(turns, 0) + piece.quantity
    return [Profile(quantity, turns) for turns, quantity in merged.items()]


def _turns(piece: Piece) -> tuple[Bars, ...]:
    if not piece.points:
        boxes = {piece.box(turn) for turn in piece.turns}
        # Rectangles are counted as the engines count them: rounded up to the grid.
        return tuple(sorted(((float(grid_up(length)), grid_up(width)),) for length, width in boxes))
    if not is_convex(piece.points):
        return ()
    ways = [
        (turn, mirrored) for turn in piece.turns for mirrored in ((False, True) if piece.mirror else (False,))
    ]
    return tuple(sorted({_slices(turned_points(piece.points, *way)) for way in ways}))


def is_convex(points: Sequence[Point]) -> bool:
    """Whether a counter-clockwise outline turns left everywhere; straight corners are allowed."""
    around = [*points, *points[:2]]
    return all(
        (bx - ax) * (cy - by) - (by - ay) * (cx - bx) >= -1e-9
        for (ax, ay), (bx, by), (cx, cy) in zip(around, around[1:], around[2:], strict=False)
    )


def _slices(outline: Sequence[Point]) -> Bars:
    places = sorted({x for x, _ in outline})
    slices = min(MOST_SLICES, len(places) - 1)
    # Corners crowd where the outline bends, and so do slices set out by their number.
    breaks = [places[round(k * (len(places) - 1) / slices)] for k in range(slices + 1)]
    spans = [span_at(outline, x) for x in breaks]
    bars = []
    for (x0, x1), ((low0, high0), (low1, high1)) in zip(pairwise(breaks), pairwise(spans), strict=True):
        # Between two cross-sections a convex outline holds what both of them hold.
        width = grid_down(min(high0, high1) - max(low0, low1))
        if width > 0:
            bars.append((round((x1 - x0) / GRID, 6), width))
    return tuple(bars)


def span_at(outline: Sequence[Point], x: float) -> tuple[float, float]:
    """Lowest and highest y of a convex outline at x."""
    heights: list[float] = []
    for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if min(x0, x1) <= x <= max(x0, x1):
            heights.extend((y0, y1) if x0 == x1 else (y0 + (y1 - y0) * (x - x0) / (x1 - x0),))
    return min(heights), max(heights)
