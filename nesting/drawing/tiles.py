"""A picture at true scale on several pages: which page shows what, and where pages meet.

Pages are numbered by row and column, row 1 at the top, column 1 on the left. Neighbours show the same strip,
`overlap` mm wide; they meet in the middle of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

from nesting.drawing.paper import PAPERS, DrawingError
from nesting.drawing.sketch import Box

__all__ = [
    "LONGEST_PAGE",
    "MARGIN",
    "SHEETS",
    "Tile",
    "Tiling",
    "find_sheet",
    "plotter_tiles",
    "sheet_tiles",
    "tile_count",
]

LONGEST_PAGE = 14_400 * 25.4 / 72
"""Longest side of a page, mm: older readers take no more than 14 400 units of 1/72 inch (from memory)."""

MARGIN = 10.0
"""Left free on every side of a page, mm: printers do not reach the edge of the paper."""

LEAST_OVERLAP, MOST_OVERLAP = 4.0, 100.0
NARROWEST_PLOTTER, WIDEST_PLOTTER = 300.0, 5000.0
ROUNDING = 1e-6  # mm

SHEETS: MappingProxyType[str, tuple[float, float]] = MappingProxyType(
    {
        "A1": (594.0, 841.0),
        "A2": (420.0, 594.0),
        "Letter": (215.9, 279.4),
        **{paper.key: (paper.height, paper.width) for paper in PAPERS.values()},
    }
)
"""Width and height of paper standing upright, mm (ISO 216, and 8.5 x 11 inches)."""


def find_sheet(key: str) -> tuple[float, float]:
    """Width and height, mm, of the paper called `key`, standing upright.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    if key not in SHEETS:
        allowed = ", ".join(sorted(SHEETS))
        raise DrawingError(f"paper = {key!r}: allowed: {allowed}. Choose one of them.")
    return SHEETS[key]


@dataclass(frozen=True, slots=True)
class Tile:
    """One page.

    Parameters
    ----------
    row, column
        From 1.
    box
        What it shows, mm of the picture.
    core
        The part of it up to the lines where it meets its neighbours.
    """

    row: int
    column: int
    box: Box
    core: Box

    @property
    def name(self) -> str:
        """As printed on the page and on the page map."""
        return f"R{self.row} C{self.column}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """All pages of a picture, row by row.

    Parameters
    ----------
    area
        The picture, mm.
    overlap
        Width of the strip that neighbours share, mm.
    """

    area: Box
    rows: int
    columns: int
    overlap: float
    tiles: tuple[Tile, ...]


def tile_count(size: float, printable: float, overlap: float) -> int:
    """How many pages in a row cover `size` mm: ceil((size - overlap) / (printable - overlap)).

    The formula of the trade for pages that are glued together with an overlap.
    """
    return max(1, math.ceil((size - overlap) / (printable - overlap) - ROUNDING))


def sheet_tiles(area: Box, sheet: tuple[float, float], overlap: float) -> Tiling:
    """Pages of one paper size, upright or lying, whichever takes fewer.

    Parameters
    ----------
    area
        What to show, mm.
    sheet
        Width and height of the paper, mm.
    overlap
        mm.

    Raises
    ------
    DrawingError
        When the overlap is out of bounds.
    """
    _check_overlap(overlap)
    tried = [
        _tiling(area, (width - 2.0 * MARGIN, height - 2.0 * MARGIN), overlap)
        for width, height in (sheet, sheet[::-1])
    ]
    return min(tried, key=lambda tiling: tiling.rows * tiling.columns)


def plotter_tiles(area: Box, paper_width: float, overlap: float) -> Tiling:
    """Pages for a plotter with paper from a roll: the length of the picture runs along the paper.

    A page is at most `LONGEST_PAGE` long, and the last one no longer than it must be. What is wider than
    the paper goes side by side in lanes, a row of pages each.

    Raises
    ------
    DrawingError
        When paper width or overlap are out of bounds.
    """
    _check_overlap(overlap)
    if not NARROWEST_PLOTTER <= paper_width <= WIDEST_PLOTTER:
        raise DrawingError(
            f"plotter width = {paper_width:g}: allowed: {NARROWEST_PLOTTER:g} to {WIDEST_PLOTTER:g} mm. "
            "Give the width of the paper on the plotter in mm."
        )
    # Whole millimetres, so that no rounding lifts a page above the limit; pages of about the same length.
    longest = math.floor(LONGEST_PAGE - 2.0 * MARGIN)
    count = tile_count(area.width, longest, overlap)
    if count > 1:
        longest = math.ceil((area.width + (count - 1) * overlap) / count)
    tiling = _tiling(area, (longest, paper_width - 2.0 * MARGIN), overlap)
    trimmed = tuple(
        Tile(tile.row, tile.column, tile.box._replace(right=min(tile.box.right, area.right)), tile.core)
        for tile in tiling.tiles
    )
    return Tiling(area=area, rows=tiling.rows, columns=tiling.columns, overlap=overlap, tiles=trimmed)


def _check_overlap(overlap: float) -> None:
    if not LEAST_OVERLAP <= overlap <= MOST_OVERLAP:
        raise DrawingError(
            f"overlap = {overlap:g}: allowed: {LEAST_OVERLAP:g} to {MOST_OVERLAP:g} mm. "
            "Leave it out for the usual overlap."
        )


def _tiling(area: Box, printable: tuple[float, float], overlap: float) -> Tiling:
    across, down = printable
    columns, rows = tile_count(area.width, across, overlap), tile_count(area.height, down, overlap)
    tiles = []
    for row in range(rows):
        high = area.high - row * (down - overlap)
        for column in range(columns):
            left = area.left + column * (across - overlap)
            box = Box(left, high - down, left + across, high)
            half = overlap / 2.0
            core = Box(
                box.left + (half if column else 0.0),
                box.low + half if row + 1 < rows else area.low,
                box.right - half if column + 1 < columns else area.right,
                box.high - (half if row else 0.0),
            )
            tiles.append(Tile(row + 1, column + 1, box, core))
    return Tiling(area=area, rows=rows, columns=columns, overlap=overlap, tiles=tuple(tiles))
