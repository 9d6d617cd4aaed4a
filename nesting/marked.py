"""The lines that are marked on a box to cut outlines out of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from nesting.model import Point

__all__ = ["MarkedBox", "is_straight", "marked_box", "marked_lines"]

SAME = 1e-3
"""Measures closer than this are equal, mm."""

BEND = 15.0
"""A curve goes on where it turns by less than this, degrees."""

LEAST_OFFCUT = 1.0
"""Offcuts smaller than this in plan, mm2, are dust."""


@dataclass(frozen=True, slots=True)
class MarkedBox:
    """What is cut out of a box.

    Parameters
    ----------
    lines
        Lines to follow, seen from above, mm from the low corner of the box.
    straight
        Whether all of them are straight, so that a saw will do.
    offcuts
        What is left of the box between and around the outlines but for the cuts, mm2.
    """

    lines: tuple[tuple[Point, ...], ...]
    straight: bool
    offcuts: float


def marked_box(outlines: Sequence[Sequence[Point]], length: float, width: float, kerf: float) -> MarkedBox:
    """Lines and offcuts of a box with one or two outlines in it.

    Parameters
    ----------
    outlines
        Where they lie in the box, mm, counter-clockwise.
    length, width
        Of the box, mm.
    kerf
        Width of a cut, mm.
    """
    import shapely

    lines = tuple(line for outline in outlines for line in marked_lines(outline, length, width))
    pieces: Any = shapely.union_all([shapely.Polygon(outline) for outline in outlines])
    taken = pieces.buffer(kerf, join_style="mitre") if kerf > 0 else pieces
    offcuts = float(shapely.box(0, 0, length, width).difference(taken).area)
    return MarkedBox(
        lines, all(is_straight(line) for line in lines), offcuts if offcuts > LEAST_OFFCUT else 0.0
    )


def marked_lines(outline: Sequence[Point], length: float, width: float) -> tuple[tuple[Point, ...], ...]:
    """The stretches of an outline inside its box; each begins and ends at a face of the box."""
    count = len(outline)
    inner = [not _on_one_side(outline[at], outline[(at + 1) % count], length, width) for at in range(count)]
    # A curve that ends along a side of the box is followed to where it ends.
    kept = [
        inner[at]
        or (inner[at - 1] and _bend(outline, at) < BEND)
        or (inner[(at + 1) % count] and _bend(outline, (at + 1) % count) < BEND)
        for at in range(count)
    ]
    if all(kept):
        return ((*outline, outline[0]),)
    first = next(at for at in range(count) if not kept[at])
    lines: list[tuple[Point, ...]] = []
    line: list[Point] = []
    for step in range(first, first + count):
        at, after = step % count, (step + 1) % count
        if kept[at]:
            line = line or [outline[at]]
            line.append(outline[after])
        if line and (
            not kept[after] or (_on_a_side(outline[after], length, width) and _bend(outline, after) >= BEND)
        ):
            lines.append(tuple(line))
            line = []
    return tuple(lines)


def _bend(outline: Sequence[Point], at: int) -> float:
    """By how many degrees an outline turns at a corner."""
    (x0, y0), (x1, y1), (x2, y2) = outline[at - 1], outline[at], outline[(at + 1) % len(outline)]
    before, after = math.atan2(y1 - y0, x1 - x0), math.atan2(y2 - y1, x2 - x1)
    return abs(math.degrees((after - before + math.pi) % (2.0 * math.pi) - math.pi))


def is_straight(line: Sequence[Point]) -> bool:
    """Whether all points of a line lie on the straight between its ends."""
    (x0, y0), (x1, y1) = line[0], line[-1]
    reach = max(abs(x1 - x0), abs(y1 - y0))
    return reach > 0 and all(
        abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) <= SAME * reach for x, y in line
    )


def _sides(point: Point, length: float, width: float) -> set[int]:
    """Which sides of the box a point lies on."""
    x, y = point
    near = (abs(x), abs(x - length), abs(y), abs(y - width))
    return {side for side, apart in enumerate(near) if apart <= SAME}


def _on_a_side(point: Point, length: float, width: float) -> bool:
    return bool(_sides(point, length, width))


def _on_one_side(start: Point, end: Point, length: float, width: float) -> bool:
    return bool(_sides(start, length, width) & _sides(end, length, width))
