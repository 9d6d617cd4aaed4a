"""Small helpers for putting a picture together: collecting items, scaling, arrows, dimension lines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from nesting.drawing.lettering import text_width
from nesting.drawing.scene import STYLES, Item, Layer, Line, Polygon, Style, Text, rectangle
from nesting.model import Point

__all__ = ["Box", "Sketch", "View", "arrow", "clipped", "overlap", "scale_steps", "spread", "text_box"]

SCALES = (1, 2, 2.5, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200, 300, 400, 500, 1000)
"""How many mm of material one mm of paper may stand for. Round, so that a rule can be laid on the print."""

BARB = 0.35
"""Half width of an arrow head over its length."""

ARROW_STYLE = replace(STYLES[Layer.MARKS], fill=STYLES[Layer.MARKS].line)


class Box(NamedTuple):
    """A rectangle of a page, mm."""

    left: float
    low: float
    right: float
    high: float

    @property
    def width(self) -> float:
        """mm."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """mm."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class View:
    """Where material lies on the page: `left` and `low` are the page position of the material's (0, 0)."""

    scale: float
    left: float
    low: float

    def point(self, x: float, y: float) -> Point:
        """Page position of a point of the material, mm."""
        return self.left + x / self.scale, self.low + y / self.scale

    def points(self, points: Iterable[Point]) -> tuple[Point, ...]:
        """Page positions of several points."""
        return tuple(self.point(x, y) for x, y in points)


class Sketch:
    """Collects the items of a picture, first drawn first."""

    def __init__(self) -> None:
        self.items: list[Item] = []

    def add(self, *items: Item) -> None:
        """Put items on top of what is there."""
        self.items += items

    def rect(self, box: Box, layer: Layer, style: Style | None = None) -> None:
        """A rectangle."""
        self.add(rectangle(box.left, box.low, box.width, box.height, layer, style))

    def line(self, *points: Point, layer: Layer, style: Style | None = None) -> None:
        """A line through points."""
        self.add(Line(points, layer, style))

    def centred(
        self, x: float, y: float, words: str, size: float, *, bold: bool = False, turn: float = 0.0
    ) -> None:
        """Words whose middle, both ways, lies at (x, y)."""
        drop = size / 2.0
        angle = math.radians(turn)
        self.add(
            Text(x + drop * math.sin(angle), y - drop * math.cos(angle), words, size, "middle", turn, bold)
        )

    def dimension(self, start: Point, end: Point, words: str, size: float, *, away: float) -> None:
        """A dimension line with an arrow at both ends and its words beside it.

        `away` is the distance of the words from the line, mm, to the left as seen from start to end;
        negative puts them on the right. The words read from below or from the right, as on any
        technical drawing.
        """
        (x0, y0), (x1, y1) = start, end
        angle = math.atan2(y1 - y0, x1 - x0)
        self.line(start, end, layer=Layer.DIMENSIONS)
        head = min(size, math.dist(start, end) / 3.0)
        self.add(_head(start, angle + math.pi, head), _head(end, angle, head))
        x = (x0 + x1) / 2.0 - away * math.sin(angle)
        y = (y0 + y1) / 2.0 + away * math.cos(angle)
        turn = math.degrees(angle) % 180.0
        self.centred(x, y, words, size, turn=turn)


def _head(tip: Point, angle: float, length: float) -> Polygon:
    cos, sin = math.cos(angle), math.sin(angle)
    x, y = tip[0] - length * cos, tip[1] - length * sin
    side = BARB * length
    return Polygon(
        (tip, (x - side * sin, y + side * cos), (x + side * sin, y - side * cos)), Layer.MARKS, ARROW_STYLE
    )


def text_box(text: Text) -> Box:
    """Where level or upright words stand on the page."""
    width = text_width(text.words, text.size, text.bold)
    before = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    if text.turn == 0.0:
        return Box(text.x - before, text.y, text.x - before + width, text.y + text.size)
    return Box(text.x - text.size, text.y - before, text.x, text.y - before + width)


def overlap(one: Box, other: Box) -> bool:
    """Whether two rectangles have more than an edge in common."""
    across = one.left < other.right and other.left < one.right
    return across and one.low < other.high and other.low < one.high


def arrow(start: Point, end: Point, head: float) -> tuple[Item, ...]:
    """An arrow from `start` to `end` with a head of `head` mm."""
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    return Line((start, end), Layer.MARKS), _head(end, angle, head)


def clipped(points: Sequence[Point], least: float, most: float) -> list[Point]:
    """The part of an outline between two x (Sutherland and Hodgman 1974, Communications of the ACM 17(1))."""
    result = list(points)
    for limit, sign in ((least, 1.0), (most, -1.0)):
        source, result = result, []
        for (x0, y0), (x1, y1) in zip(source[-1:] + source[:-1], source, strict=True):
            inside0, inside1 = sign * (x0 - limit) >= 0, sign * (x1 - limit) >= 0
            if inside0 != inside1:
                result.append((limit, y0 + (y1 - y0) * (limit - x0) / (x1 - x0)))
            if inside1:
                result.append((x1, y1))
    return result


def scale_steps(least: float = 0.0) -> tuple[float, ...]:
    """The scales in use, largest picture first, from 1 : `least` on; the last stands for anything longer."""
    return tuple(step for step in SCALES if step >= least) or SCALES[-1:]


def spread(wanted: Sequence[float], distance: float, low: float, high: float) -> list[float]:
    """Positions near the `wanted` ones (rising), at least `distance` apart and between `low` and `high`.

    When there is not room enough they are spaced evenly, closer than asked.
    """
    if not wanted:
        return []
    if len(wanted) > 1:
        distance = min(distance, (high - low) / (len(wanted) - 1))
    places: list[float] = []
    for want in wanted:
        places.append(max(want, low, places[-1] + distance if places else low))
    ceiling = high
    for i in range(len(places) - 1, -1, -1):
        places[i] = min(places[i], ceiling)
        ceiling = places[i] - distance
    return places
