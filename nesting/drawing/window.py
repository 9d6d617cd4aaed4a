"""What is seen of a picture through a window: items cut off at its edges, none of them moved or scaled."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from nesting.drawing.scene import Circle, Hatch, Item, Line, Polygon, Text, extent, style_of
from nesting.drawing.sketch import Box, clipped, text_box
from nesting.model import Point

__all__ = ["clipped_lines", "clipped_outline", "seen"]

CORNERS = 48
"""A circle that is cut off is drawn with so many corners; for signs of some mm that is within 0.01 mm."""


def seen(items: Iterable[Item], box: Box) -> Iterator[Item]:
    """The items inside `box`, mm; what crosses its edge is cut off there, and words are left out then."""
    for item in items:
        match item:
            case Text():
                if _inside(box, text_box(item)):
                    yield item
            case Circle():
                around = Box(
                    item.x - item.radius, item.y - item.radius, item.x + item.radius, item.y + item.radius
                )
                if _inside(box, around):
                    yield item
                elif _touching(box, around):
                    steps = (2.0 * math.pi * i / CORNERS for i in range(CORNERS))
                    points = tuple(
                        (item.x + item.radius * math.cos(a), item.y + item.radius * math.sin(a))
                        for a in steps
                    )
                    yield from _polygon(Polygon(points, item.layer, style_of(item)), box)
            case Line():
                around = Box(*extent(item.points))
                if _inside(box, around):
                    yield item
                elif _touching(box, around):
                    for part in clipped_lines(item.points, box):
                        yield replace(item, points=part)
            case Polygon():
                around = Box(*extent(item.points))
                if _inside(box, around):
                    yield item
                elif _touching(box, around):
                    yield from _polygon(item, box)


def _inside(box: Box, other: Box) -> bool:
    return (
        box.left <= other.left
        and other.right <= box.right
        and box.low <= other.low
        and other.high <= box.high
    )


def _touching(box: Box, other: Box) -> bool:
    return (
        box.left <= other.right
        and other.left <= box.right
        and box.low <= other.high
        and other.low <= box.high
    )


def _polygon(item: Polygon, box: Box) -> Iterator[Item]:
    style = style_of(item)
    if style.fill or style.hatch is not Hatch.NONE:
        points = clipped_outline(item.points, box)
        if points:
            yield Polygon(points, item.layer, replace(style, width=0.0))
    if style.width > 0.0:
        for part in clipped_lines((*item.points, item.points[0]), box):
            yield Line(part, item.layer, replace(style, fill=None, hatch=Hatch.NONE))


def clipped_outline(points: Sequence[Point], box: Box) -> tuple[Point, ...]:
    """The part of an outline inside `box`; empty if there is none."""
    part = clipped(points, box.left, box.right)
    turned = clipped([(y, x) for x, y in part], box.low, box.high) if part else []
    return tuple((x, y) for y, x in turned)


def clipped_lines(points: Sequence[Point], box: Box) -> tuple[tuple[Point, ...], ...]:
    """The parts of an open line inside `box` (Liang and Barsky 1984, ACM Transactions on Graphics 3(1))."""
    parts: list[list[Point]] = []
    for (x0, y0), (x1, y1) in pairwise(points):
        first, last = 0.0, 1.0
        for step, room in (
            (x0 - x1, x0 - box.left),
            (x1 - x0, box.right - x0),
            (y0 - y1, y0 - box.low),
            (y1 - y0, box.high - y0),
        ):
            if step > 0.0:
                last = min(last, room / step)
            elif step < 0.0:
                first = max(first, room / step)
            elif room < 0.0:
                first = math.inf
        if first >= last or (x0, y0) == (x1, y1):
            continue
        start = (x0, y0) if first == 0.0 else (x0 + first * (x1 - x0), y0 + first * (y1 - y0))
        end = (x1, y1) if last == 1.0 else (x0 + last * (x1 - x0), y0 + last * (y1 - y0))
        if parts and parts[-1][-1] == start:
            parts[-1].append(end)
        else:
            parts.append([start, end])
    return tuple(tuple(part) for part in parts)
