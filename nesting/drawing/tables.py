"""Tables on a page: columns as wide as their words need, continued in the next box where one is full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from nesting.drawing.lettering import shortened, text_width
from nesting.drawing.scene import Layer, Style, Text, rectangle
from nesting.drawing.sketch import Box, Sketch

__all__ = [
    "Column",
    "Row",
    "Table",
    "draw_tables",
    "rows_that_fit",
    "split_columns",
    "table_height",
    "table_width",
]

ROW = 2.1
"""Height of a row over the height of its capitals."""

PAD = 0.9
"""Room on either side of a word over the height of its capitals."""

SWATCH = 2.6
"""Width of a colour sample over the height of the capitals."""

NARROWEST = 6.0
"""Least width of a column that gives way, over the height of the capitals."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, which side its words stand on, whether it may be shortened."""

    title: str
    align: Literal["start", "end"] = "start"
    gives_way: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """The words of one row, and the style of a colour sample drawn before the first of them."""

    cells: tuple[str, ...]
    sample: Style | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a title above it."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


def _natural_widths(table: Table, size: float) -> list[float]:
    widths = []
    for place, column in enumerate(table.columns):
        words = max((text_width(row.cells[place], size) for row in table.rows), default=0.0)
        widths.append(max(words, text_width(column.title, size, bold=True)) + 2.0 * PAD * size)
    if any(row.sample for row in table.rows):
        widths[0] += SWATCH * size
    return widths


def table_width(table: Table, size: float) -> float:
    """Width at which no word is shortened, mm."""
    return sum(_natural_widths(table, size))


def table_height(rows: int, size: float) -> float:
    """Height of a table of so many rows with its title and headings, mm."""
    return (rows + 2) * ROW * size


def rows_that_fit(height: float, size: float) -> int:
    """How many rows go into a box of that height beside title and headings; 0 if none."""
    return max(0, int(height / (ROW * size) + 1e-6) - 2)


def split_columns(table: Table, room: float, size: float, gap: float) -> int:
    """How many copies of the table, continuing each other, stand side by side in `room` mm."""
    return max(1, int((room + gap) / (table_width(table, size) + gap)))


def _widths(table: Table, size: float, room: float) -> list[float]:
    """Column widths within `room`: columns that give way share what is missing, the widest first."""
    widths = _natural_widths(table, size)
    excess = sum(widths) - room
    yielding = [i for i, column in enumerate(table.columns) if column.gives_way]
    while excess > 1e-9 and yielding:
        widest = max(widths[i] for i in yielding)
        group = [i for i in yielding if widths[i] > widest - 1e-9]
        below = max((widths[i] for i in yielding if i not in group), default=0.0)
        floor = max(below, NARROWEST * size)
        cut = min(excess / len(group), max(0.0, widest - floor))
        if cut == 0.0:
            break
        for i in group:
            widths[i] -= cut
        excess -= cut * len(group)
    return widths


def _draw(sketch: Sketch, table: Table, box: Box, size: float, title_room: float) -> float:
    """Draw the whole table at the top of `box`; returns the y below it."""
    widths = _widths(table, size, box.width)
    row_height, pad = ROW * size, PAD * size
    rise = (row_height - size) / 2.0
    top = box.high - row_height
    width = sum(widths)
    sketch.add(
        Text(box.left, top + rise, shortened(table.title, title_room, size, bold=True), size, bold=True)
    )
    sampled = any(row.sample for row in table.rows)
    titles = tuple(column.title for column in table.columns)
    rows: list[tuple[tuple[str, ...], Style | None, bool]] = [(titles, None, True)]
    rows += [(row.cells, row.sample, False) for row in table.rows]
    for cells, sample, bold in rows:
        top -= row_height
        sketch.line((box.left, top), (box.left + width, top), layer=Layer.FRAME)
        left = box.left
        for place, (words, column, column_width) in enumerate(zip(cells, table.columns, widths, strict=True)):
            indent = SWATCH * size if sampled and place == 0 else 0.0
            if indent and sample is not None:
                sketch.add(
                    rectangle(
                        left, top, indent, row_height, Layer.PIECES, replace(sample, width=0.18, spacing=1.2)
                    )
                )
            shown = shortened(words, column_width - indent - 2.0 * pad + 1e-6, size, bold)
            at = left + column_width - pad if column.align == "end" else left + indent + pad
            sketch.add(Text(at, top + rise, shown, size, column.align, bold=bold))
            left += column_width
    sketch.line(
        (box.left, box.high - row_height), (box.left + width, box.high - row_height), layer=Layer.FRAME
    )
    return top


def draw_tables(
    sketch: Sketch,
    tables: Sequence[Table],
    boxes: Sequence[Box],
    size: float,
    title_room: float | None = None,
) -> tuple[Table, ...]:
    """Fill boxes with tables one after the other; what finds no room is returned.

    Parameters
    ----------
    boxes
        From left to right; a table that is continued in the next box has its title over the first only.
    size
        Height of the letters, mm.
    title_room
        Width that titles may take, mm; by default that of their box.
    """
    rest = list(tables)
    begun = False
    for box in boxes:
        high = box.high
        while rest:
            table = rest[0]
            fit = rows_that_fit(high - box.low, size)
            if fit == 0:
                break
            part = replace(table, rows=table.rows[:fit], title="" if begun else table.title)
            area = Box(box.left, box.low, box.right, high)
            high = _draw(sketch, part, area, size, title_room or box.width) - ROW * size
            begun = fit < len(table.rows)
            if begun:
                rest[0] = replace(table, rows=table.rows[fit:])
                break
            rest.pop(0)
    return tuple(rest)
