"""What the marks on panels mean: each sign as it is drawn, its name and purpose, across a page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from nesting.drawing.lettering import shortened, text_width
from nesting.drawing.piece_art import mark_items
from nesting.drawing.scene import Text
from nesting.drawing.sketch import Box, Sketch
from nesting.model import Mark, Panel, Point

__all__ = ["MARK_WORDS", "draw_mark_legend", "legend_height", "mark_kinds"]

MARK_WORDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "notch": ("Notch", "where parts meet in sewing; snip within the seam"),
        "drill": ("Drill", "centre of a hole"),
        "handle": ("Handle", "place of a handle"),
        "vent": ("Vent", "centre of a ventilator"),
        "label": ("Label", "sewn in here"),
        "fold": ("Fold", "fold along it"),
        "seam": ("Seam", "sew or saw along it, as the note says"),
        "slat": ("Slat", "middle of a slat"),
        "grain": ("Grain", "direction of the material"),
    }
)
"""What each kind of mark is called, and what it is for."""

LINES = ("fold", "seam", "slat", "grain")
"""Marks that are lines; the others are points."""

LINE = 2.1
"""Distance of lines over the height of the letters."""

POINT_ROOM, LINE_ROOM, APART = 2.5, 6.0, 3.0
"""Room for a sign, for a line, and between entries, over the height of the letters."""


def mark_kinds(panels: Iterable[Panel]) -> tuple[str, ...]:
    """Kinds of marks that occur, in the order of `MARK_WORDS`."""
    used = {mark.kind for panel in panels for mark in panel.marks}
    return tuple(kind for kind in MARK_WORDS if kind in used)


def legend_height(kinds: Sequence[str], room: float, size: float) -> float:
    """Height that the legend takes in `room` mm; 0 without marks."""
    return len(_flowed(kinds, room, size)) * LINE * size


def draw_mark_legend(sketch: Sketch, kinds: Sequence[str], box: Box, size: float) -> None:
    """Draw the legend at the top of `box`."""
    for number, line in enumerate(_flowed(kinds, box.width, size), start=1):
        base = box.high - number * LINE * size + (LINE - 1.0) * size / 2.0
        left = box.left
        for kind in line:
            sign = _sign_room(kind, size)
            middle = (left + sign / 2.0, base + size / 2.0)
            points: tuple[Point, ...] = (middle,)
            if kind in LINES:
                points = ((left, middle[1]), (left + sign - size, middle[1]))
            around = Box(left, middle[1] - size / 2.0, left + sign, base + size)
            if kind == "notch":  # as it stands on the lower edge of a part
                points = ((middle[0], around.low),)
            sketch.add(*mark_items(Mark(kind, points), points, around, size))  # type: ignore[arg-type]
            name, words = MARK_WORDS[kind]
            left += sign
            sketch.add(Text(left, base, name, size, bold=True))
            left += text_width(f"{name} ", size, bold=True)
            shown = shortened(words, box.right - left, size)
            sketch.add(Text(left, base, shown, size))
            left += text_width(shown, size) + APART * size


def _sign_room(kind: str, size: float) -> float:
    return (LINE_ROOM if kind in LINES else POINT_ROOM) * size


def _flowed(kinds: Sequence[str], room: float, size: float) -> list[list[str]]:
    """Kinds line by line, as many to a line as stand in `room`."""
    lines: list[list[str]] = []
    used = 0.0
    for kind in kinds:
        name, words = MARK_WORDS[kind]
        width = _sign_room(kind, size) + text_width(f"{name} ", size, bold=True) + text_width(words, size)
        if not lines or used + width > room:
            lines.append([])
            used = 0.0
        lines[-1].append(kind)
        used += width + APART * size
    return lines
