"""A pile of layers seen from the side, with its measured heights listed beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from nesting.drawing.lettering import text_width
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.pieces import measure
from nesting.drawing.scene import WHITE, Layer, Style, Text
from nesting.drawing.sketch import Box, Sketch, spread
from nesting.measures import cut_measure

__all__ = ["LINE", "Rung", "draw_ladder", "ladder_width"]

LINE = 1.7
"""Distance of lines in the list, over the height of the letters."""

GAP = 1.4
"""Room between the columns of the list, over the height of the letters."""

LEADER = 4.0
"""Length of the lines that lead to the list, over the height of the letters."""

PLAIN = Style(width=0.25, fill=WHITE)


@dataclass(frozen=True, slots=True)
class Rung:
    """One layer of the pile.

    Parameters
    ----------
    number
        Counted from the bottom, from 1.
    low, thickness
        Height of its lower face above the raw bottom, and thickness, mm.
    what
        Word in the last column of the list: a plan, a position number, ``"keep"`` or ``"waste"``; a number
        with "trim" for a slab that is smaller than its column.
    label
        Written on the layer itself where there is room; may be empty.
    layer, style
        How it is drawn.
    cut
        Number of the cut that begins at its upper face; may be empty.
    """

    number: int
    low: float
    thickness: float
    what: str
    label: str = ""
    layer: Layer = Layer.PIECES
    style: Style | None = PLAIN
    cut: str = ""


def _rows(rungs: Sequence[Rung], most: int) -> list[tuple[float, tuple[str, ...]]]:
    """Middle height and words of every layer; neighbours alike share a row when there are too many."""
    runs = [[rung] for rung in rungs]
    if len(runs) > most:
        runs = [
            list(run) for _, run in groupby(rungs, key=lambda rung: (rung.what, round(rung.thickness, 4)))
        ]
    rows: list[tuple[float, tuple[str, ...]]] = []
    for run in runs:
        first, last = run[0], run[-1]
        top = last.low + last.thickness
        number = str(first.number) if first is last else f"{first.number}–{last.number}"
        thick = measure(first.thickness) if first is last else f"{len(run)} x {measure(first.thickness)}"
        cut = first.cut if first.cut == last.cut else f"{first.cut}–{last.cut}"
        words = (number, cut_measure(first.low), cut_measure(top), thick, first.what, cut)
        rows.append(((first.low + top) / 2.0, words))
    if len(rows) > most:
        rows = [*rows[: most - 1], (rows[-1][0], ("…", "", "", "", "list", ""))]  # the cut list has them all
    return rows


def _list_rows(
    rungs: Sequence[Rung], headings: tuple[str, str], height: float, size: float
) -> list[tuple[float, tuple[str, ...]]]:
    titles = (headings[0], "from", "to", "thick", headings[1], "cut")
    rows = [(0.0, titles), *_rows(rungs, int(height / (LINE * size)))]
    if any(rung.cut for rung in rungs):
        return rows
    return [(foot, words[:-1]) for foot, words in rows]


def ladder_width(rungs: Sequence[Rung], headings: tuple[str, str], height: float, size: float) -> float:
    """Room that the list of a pile drawn `height` mm high needs right of it, mm."""
    rows = _list_rows(rungs, headings, height, size)
    columns = zip(*(row for _, row in rows), strict=True)
    return (LEADER + GAP * 5) * size + sum(
        max(text_width(word, size) for word in column) for column in columns
    )


def draw_ladder(
    sketch: Sketch,
    rungs: Sequence[Rung],
    headings: tuple[str, str],
    bar: Box,
    raw_height: float,
    size: float,
    low: float | None = None,
) -> None:
    """Draw the layers inside `bar`, which stands for the raw height of the block, and their list.

    Parameters
    ----------
    headings
        Titles of the first and the last column of the list.
    bar
        Where the pile is drawn, mm; the list stands right of it.
    raw_height
        Height of the raw block, mm.
    size
        Height of the letters, mm.
    low
        How far down the list may reach; by default to the bottom of the bar.
    """
    floor = bar.low if low is None else min(low, bar.low)
    per_mm = bar.height / raw_height
    for rung in rungs:
        bottom = bar.low + rung.low * per_mm
        area = Box(bar.left, bottom, bar.right, bottom + rung.thickness * per_mm)
        sketch.rect(area, rung.layer, rung.style)
        if rung.label:
            plate = Style(width=0.0, fill=rung.style.fill) if rung.style else None
            draw_label(sketch, ((Words(rung.label),),), (area,), 1.3 * size, size, plate)
    (_, titles), *rows = _list_rows(rungs, headings, bar.high - floor, size)
    stops = []
    stop = bar.right + LEADER * size
    for column in zip(titles, *(row for _, row in rows), strict=True):
        stop += max(text_width(word, size) for word in column)
        stops.append(stop)
        stop += GAP * size
    for word, stop in zip(titles, stops, strict=True):
        sketch.add(Text(stop, bar.high + 1.2 * size, word, size, "end"))
    feet = [bar.low + height * per_mm for height, _ in rows]
    places = spread(feet, LINE * size, floor + size / 2.0, bar.high - size / 2.0)
    for (_, row), foot, place in zip(rows, feet, places, strict=True):
        bend, end = bar.right + 0.8 * size, bar.right + (LEADER - 0.6) * size
        sketch.line(
            (bar.right, foot), (bend, foot), (end - 0.8 * size, place), (end, place), layer=Layer.DIMENSIONS
        )
        for word, stop in zip(row, stops, strict=True):
            sketch.add(Text(stop, place - size / 2.0, word, size, "end"))
