"""The table of pieces beside a drawing, and pages for lists that found no room there."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from nesting.drawing.paper import Header, Page, Paper
from nesting.drawing.pieces import PlacedPiece, size_text, stand_words
from nesting.drawing.scene import piece_style
from nesting.drawing.sketch import Box, Sketch
from nesting.drawing.tables import (
    Column,
    Row,
    Table,
    draw_tables,
    rows_that_fit,
    split_columns,
    table_height,
    table_width,
)
from nesting.measures import plain

__all__ = ["COLUMN_GAP", "draw_in_columns", "drawn_height", "height_in_columns", "legend", "list_pages"]

COLUMN_GAP = 3.0
"""Room between tables side by side, over the height of the letters."""

ROUNDING = 1e-6  # mm

LEGEND_COLUMNS = (
    Column("No.", "end"),
    Column("Code"),
    Column("Panel", gives_way=True),
    Column("Model", gives_way=True),
    Column("Size", gives_way=True),
    Column("Length x width", "end"),
    Column("Here", "end"),
    Column("Turn"),
)


def legend(
    pieces: Sequence[PlacedPiece], shown: Iterable[int], title: str, times: Mapping[int, int] | None = None
) -> Table:
    """Table of the pieces whose numbers are in `shown`, with how many of each there are among `pieces`.

    `times` gives other counts, by number.
    """
    numbers = set(shown)
    counts = times or Counter(piece.number for piece in pieces)
    turns: dict[int, set[str]] = {}
    first: dict[int, PlacedPiece] = {}
    for piece in pieces:
        first.setdefault(piece.number, piece)
        flipped = " flip" if piece.placement.mirrored else ""
        turn = f"{plain(piece.placement.turn % 360.0)}°{flipped}"
        turns.setdefault(piece.number, set()).add(stand_words(piece.placement) or turn)
    rows = []
    thick = False
    for number in sorted(numbers & set(first)):
        demand = first[number].demand
        thick = thick or demand.panel.thickness is not None
        cells = (
            str(number),
            demand.panel.code,
            demand.panel.name,
            demand.model,
            demand.size,
            size_text(demand),
            str(counts[number]),
            _ways(turns[number]),
        )
        rows.append(Row(cells, piece_style(first[number].kind)))
    heading = "Length x width x thick" if thick else "Length x width"
    columns = tuple(
        Column(heading, "end") if column.title == "Length x width" else column for column in LEGEND_COLUMNS
    )
    return Table(title, columns, tuple(rows))


def _ways(turns: Iterable[str]) -> str:
    """How pieces lie, the shortest words first; words of several words are told apart by commas."""
    ways = sorted(turns, key=lambda turn: (len(turn), turn))
    return (", " if any(way.startswith("on ") for way in ways) else " ").join(ways)


def height_in_columns(table: Table, room: float, size: float) -> float:
    """Least height of a table that may be split into as many columns as stand in `room` mm."""
    if not table.rows:
        return 0.0
    columns = split_columns(table, room, size, COLUMN_GAP * size)
    return table_height(math.ceil(len(table.rows) / columns), size)


def drawn_height(table: Table, box: Box, size: float) -> float:
    """Height that `draw_in_columns` takes, mm."""
    return _fewest_columns(table, box, size)[1]


def _fewest_columns(table: Table, box: Box, size: float) -> tuple[int, float]:
    """The fewest columns in which a table fits into a box, and their height; else as many as stand in it."""
    most = split_columns(table, box.width, size, COLUMN_GAP * size)
    for count in range(1, most + 1):
        height = table_height(math.ceil(len(table.rows) / count), size)
        if height <= box.height + ROUNDING:
            return count, height
    return most, box.height


def draw_in_columns(sketch: Sketch, table: Table, box: Box, size: float) -> tuple[Table, ...]:
    """Draw a table at the top of `box`, split evenly into the fewest columns that hold it.

    Rows without room are returned; a table without rows is not drawn.
    """
    if not table.rows:
        return ()
    gap = COLUMN_GAP * size
    columns, height = _fewest_columns(table, box, size)
    width = min(table_width(table, size), (box.width + gap) / columns - gap)
    lefts = [box.left + i * (width + gap) for i in range(columns)]
    boxes = [Box(left, box.high - height, left + width, box.high) for left in lefts]
    return draw_tables(sketch, [table], boxes, size, title_room=box.width)


def list_pages(tables: Sequence[Table], paper: Paper, header: Header) -> list[Page]:
    """Pages with nothing but tables, for what found no room beside the drawing."""
    pages: list[Page] = []
    rest = list(tables)
    while rest:
        page = Page(paper, header)
        if rows_that_fit(page.body.height, paper.least) == 0:
            break  # a page whose header leaves no room for a row would never end
        rest = [*draw_in_columns(page, rest[0], page.body, paper.least), *rest[1:]]
        pages.append(page)
    return pages
