"""What is on a picture, said once: a few primitives in millimetres, y pointing up.

A scene is either a page (paper millimetres) or a layout at true size (material millimetres). The
back ends in `svg`, `pdf` and `dxf` draw every scene with the same few primitives; none of them knows
what a panel is.

Colours are the Okabe-Ito set, which stays distinct for colour-blind readers (Okabe and Ito 2008,
"Color Universal Design"). Every colour comes with a hatch of its own, so that a black-and-white
print tells the pieces apart as well.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from itertools import groupby
from types import MappingProxyType
from typing import Literal, TypeAlias

from nesting.model import Point

__all__ = [
    "STYLES",
    "Anchor",
    "Circle",
    "Hatch",
    "Item",
    "Layer",
    "Line",
    "Polygon",
    "Scene",
    "Style",
    "Text",
    "hatch_lines",
    "moved",
    "piece_style",
    "printable",
    "rectangle",
    "style_of",
]

Anchor: TypeAlias = Literal["start", "middle", "end"]

BLACK = "#000000"
WHITE = "#FFFFFF"
GREY = "#8C8C8C"
ORANGE, SKY, GREEN, YELLOW = "#E69F00", "#56B4E9", "#009E73", "#F0E442"
BLUE, VERMILION, PURPLE = "#0072B2", "#D55E00", "#CC79A7"


class Layer(StrEnum):
    """What an item is for; in DXF files the name of its layer."""

    FRAME = "FRAME"
    STOCK = "STOCK"
    TRIM = "TRIM"
    FLAWS = "FLAWS"
    REMNANTS = "REMNANTS"
    PIECES = "PIECES"
    CUTS = "CUTS"
    MARKS = "MARKS"
    DIMENSIONS = "DIMENSIONS"
    TEXT = "TEXT"
    CHECK = "CHECK"


class Hatch(StrEnum):
    """Ruling inside a polygon."""

    NONE = "none"
    RISING = "rising"
    FALLING = "falling"
    ALONG = "along"
    ACROSS = "across"
    DIAMOND = "diamond"
    SQUARE = "square"


HATCH_ANGLES: MappingProxyType[Hatch, tuple[float, ...]] = MappingProxyType(
    {
        Hatch.NONE: (),
        Hatch.RISING: (45.0,),
        Hatch.FALLING: (135.0,),
        Hatch.ALONG: (0.0,),
        Hatch.ACROSS: (90.0,),
        Hatch.DIAMOND: (45.0, 135.0),
        Hatch.SQUARE: (0.0, 90.0),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How an item is drawn on paper.

    Parameters
    ----------
    line
        Colour of the outline, ``"#RRGGBB"``.
    width
        Width of the outline, mm; 0 draws none.
    dashes
        Lengths of dash and space in turn, mm; empty for a full line.
    fill
        Colour inside, or None.
    hatch, hatch_line, hatch_width, spacing
        Ruling inside: kind, colour, line width and distance, mm.
    """

    line: str = BLACK
    width: float = 0.25
    dashes: tuple[float, ...] = ()
    fill: str | None = None
    hatch: Hatch = Hatch.NONE
    hatch_line: str = GREY
    hatch_width: float = 0.13
    spacing: float = 3.0


STYLES: MappingProxyType[Layer, Style] = MappingProxyType(
    {
        Layer.FRAME: Style(width=0.18),
        Layer.STOCK: Style(width=0.5),
        Layer.TRIM: Style(width=0.13, line=GREY, fill="#EDEDED", hatch=Hatch.RISING, spacing=1.5),
        Layer.FLAWS: Style(
            width=0.5, line=VERMILION, fill=WHITE, hatch=Hatch.DIAMOND, hatch_line=VERMILION, spacing=1.5
        ),
        Layer.REMNANTS: Style(width=0.35, dashes=(3.0, 1.2), fill=WHITE),
        Layer.PIECES: Style(width=0.35),
        Layer.CUTS: Style(width=0.25, line=VERMILION, dashes=(4.0, 1.0, 1.0, 1.0)),
        Layer.MARKS: Style(width=0.2),
        Layer.DIMENSIONS: Style(width=0.18),
        Layer.TEXT: Style(width=0.0),
        Layer.CHECK: Style(width=0.25),
    }
)
"""The style an item takes from its layer when it has none of its own."""

_PIECE_COLOURS = (SKY, ORANGE, GREEN, YELLOW, PURPLE, BLUE, VERMILION)
_PIECE_HATCHES = (
    Hatch.NONE,
    Hatch.RISING,
    Hatch.FALLING,
    Hatch.ACROSS,
    Hatch.DIAMOND,
    Hatch.ALONG,
    Hatch.SQUARE,
)
_FILL_STRENGTH = 0.30  # light enough for black letters, strong enough to tell the colours apart
_HATCH_SHADE = 0.7  # dark enough to show in black and white, yellow too


def piece_style(kind: int) -> Style:
    """Colour and hatch of the `kind`-th kind of piece, counted from 0.

    The first seven differ in colour and in hatch; 49 differ in one of them at least.
    """
    colours, hatches = len(_PIECE_COLOURS), len(_PIECE_HATCHES)
    colour = _PIECE_COLOURS[kind % colours]
    return Style(
        width=STYLES[Layer.PIECES].width,
        fill=_tint(colour, _FILL_STRENGTH),
        hatch=_PIECE_HATCHES[(kind + kind // colours) % hatches],
        hatch_line=_shade(colour, _HATCH_SHADE),
    )


def _tint(colour: str, strength: float) -> str:
    """`colour` thinned with white; strength 1 leaves it as it is."""
    parts = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(255 + (part - 255) * strength):02X}" for part in parts)


def _shade(colour: str, strength: float) -> str:
    """`colour` darkened with black; strength 1 leaves it as it is."""
    parts = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return "#" + "".join(f"{round(part * strength):02X}" for part in parts)


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed outline, its first corner not repeated."""

    points: tuple[Point, ...]
    layer: Layer
    style: Style | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """An open line through two or more points."""

    points: tuple[Point, ...]
    layer: Layer
    style: Style | None = None


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle: centre and radius, mm."""

    x: float
    y: float
    radius: float
    layer: Layer
    style: Style | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """One line of words. Characters that cannot be printed are replaced when it is made.

    Parameters
    ----------
    x, y
        Anchor on the base line, mm.
    words
        What it says.
    size
        Height of the capital letters, mm (lettering is measured so in ISO 3098-1, from memory).
    anchor
        Which point of the line of words lies at the anchor.
    turn
        Degrees, counter-clockwise.
    bold
        Heavier letters.
    layer
        Usually `Layer.TEXT`.
    """

    x: float
    y: float
    words: str
    size: float
    anchor: Anchor = "start"
    turn: float = 0.0
    bold: bool = False
    layer: Layer = Layer.TEXT

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", printable(self.words))


Item: TypeAlias = Polygon | Line | Circle | Text


def printable(words: str) -> str:
    """`words` on one line, safe for every file format: control characters and broken halves become spaces."""
    if words.isprintable():
        return words
    return "".join(" " if _unprintable(letter) else letter for letter in words)


def _unprintable(letter: str) -> bool:
    separator = unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp")
    return separator or ord(letter) & 0xFFFE == 0xFFFE  # the last two of every plane are no characters


def rectangle(
    x: float, y: float, length: float, width: float, layer: Layer, style: Style | None = None
) -> Polygon:
    """The rectangle from (x, y) to (x + length, y + width)."""
    right, top = x + length, y + width
    return Polygon(((x, y), (right, y), (right, top), (x, top)), layer, style)


def moved(item: Item, dx: float, dy: float) -> Item:
    """The item, `dx` mm further to the right and `dy` mm further up."""
    if isinstance(item, Polygon | Line):
        return replace(item, points=tuple((x + dx, y + dy) for x, y in item.points))
    return replace(item, x=item.x + dx, y=item.y + dy)


def style_of(item: Polygon | Line | Circle) -> Style:
    """The item's own style, or else that of its layer."""
    return item.style or STYLES[item.layer]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A whole picture.

    Parameters
    ----------
    title
        Names it in outlines and file properties.
    width, height
        Size of the picture, mm.
    items
        Drawn in this order, later ones on top.
    left, low
        Lower left corner of the picture, mm.
    """

    title: str
    width: float
    height: float
    items: tuple[Item, ...]
    left: float = 0.0
    low: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "title", printable(self.title))


def runs(items: Iterable[Item]) -> Iterator[tuple[Item, ...]]:
    """Items one by one, but lines of one style that follow each other together.

    A back end writes such a run as one path: a scale alone has a hundred ticks.
    """
    for alike, run in groupby(items, key=lambda item: style_of(item) if isinstance(item, Line) else None):
        if alike is None:
            yield from ((item,) for item in run)
        else:
            yield tuple(run)


@lru_cache(maxsize=50_000)  # a page is written as SVG and as PDF
def hatch_lines(points: tuple[Point, ...], style: Style) -> tuple[tuple[Point, Point], ...]:
    """The ruling of `style` inside the outline `points`, as separate lines.

    The lines lie on one grid for the whole page, and the rule of alternate crossings (even-odd)
    decides what is inside.
    """
    lines: list[tuple[Point, Point]] = []
    for angle in HATCH_ANGLES[style.hatch]:
        cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        turned = [(x * cos + y * sin, y * cos - x * sin) for x, y in points]
        lowest, highest = min(y for _, y in turned), max(y for _, y in turned)
        first, last = math.ceil(lowest / style.spacing), math.floor(highest / style.spacing)
        for step in range(first, last + 1):
            level = step * style.spacing
            stops = crossings(turned, level)
            lines += [
                (
                    (a * cos - level * sin, a * sin + level * cos),
                    (b * cos - level * sin, b * sin + level * cos),
                )
                for a, b in zip(stops[::2], stops[1::2], strict=False)
            ]
    return tuple(lines)


def crossings(points: Sequence[Point], level: float) -> list[float]:
    """The x at which the closed outline crosses the height `level`, in rising order."""
    stops = []
    x0, y0 = points[-1]
    for x1, y1 in points:
        if (y0 <= level) != (y1 <= level):  # half open, so that a corner on the level counts once
            stops.append(x0 + (x1 - x0) * (level - y0) / (y1 - y0))
        x0, y0 = x1, y1
    stops.sort()
    return stops


def extent(points: Iterable[Point]) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x and greatest y of some points."""
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)
