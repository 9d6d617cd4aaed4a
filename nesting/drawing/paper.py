"""Pages: paper sizes, header, caution and stamp; what every printed map has in common."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from nesting.drawing.lettering import shortened, text_width, wrapped
from nesting.drawing.scene import Layer, Scene, Text
from nesting.drawing.sketch import Box, Sketch
from nesting.errors import NestingError

__all__ = ["PAPERS", "Canvas", "DrawingError", "Header", "Page", "Paper", "find_paper", "finished"]


class DrawingError(NestingError, ValueError):
    """A picture was asked for in a way that makes no sense."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A paper size, lying (long side along x).

    Parameters
    ----------
    key
        What people call it.
    width, height
        mm; A sizes after ISO 216, Letter and Tabloid (8.5 x 11 and 11 x 17 in) after ASME Y14.1, A and B.
    least
        Smallest letters, height of capitals in mm.
    margin
        Left free on every side, mm.
    band
        Height that a stretch of roll should at least have on paper, mm.
    """

    key: str
    width: float
    height: float
    least: float
    margin: float
    band: float


PAPERS: MappingProxyType[str, Paper] = MappingProxyType(
    {
        "A1": Paper(key="A1", width=841.0, height=594.0, least=2.5, margin=12.0, band=120.0),
        "A3": Paper(key="A3", width=420.0, height=297.0, least=2.0, margin=10.0, band=80.0),
        "A4": Paper(key="A4", width=297.0, height=210.0, least=1.8, margin=8.0, band=55.0),
        "Tabloid": Paper(key="Tabloid", width=431.8, height=279.4, least=2.0, margin=10.0, band=75.0),
        "Letter": Paper(key="Letter", width=279.4, height=215.9, least=1.8, margin=8.0, band=55.0),
    }
)


def find_paper(key: str) -> Paper:
    """The paper called `key`.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    if key not in PAPERS:
        raise DrawingError(f"paper = {key!r}: allowed: {', '.join(PAPERS)}. Choose one of them.")
    return PAPERS[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What stands above a drawing.

    Parameters
    ----------
    title
        Range and material.
    heading
        Which layout, and how often it is cut.
    cells
        Pairs of caption and value.
    lines
        What stock it is cut from; printed below the heading.
    notices
        What the reader must not miss; printed below the cells, in bold.
    caution, stamp
        Bottom lines: how not to get hurt, and what made this page.
    """

    title: str
    heading: str
    cells: tuple[tuple[str, str], ...]
    notices: tuple[str, ...]
    caution: str
    stamp: str
    lines: tuple[str, ...] = ()


LEADING = 1.7
"""Distance of base lines over the height of capitals."""

MOST_NOTICE_LINES = 6
CAUTION = "CAUTION"


class Canvas(Sketch):
    """A sketch that knows how large its letters are to be."""

    def __init__(self, paper: Paper) -> None:
        super().__init__()
        self.paper = paper


class Page(Canvas):
    """A page with its header and footer drawn; `body` is the room left for the drawing."""

    def __init__(self, paper: Paper, header: Header) -> None:
        super().__init__(paper)
        self.header = header
        margin = paper.margin
        self.frame = Box(margin, margin, paper.width - margin, paper.height - margin)
        self._title_line = self.frame.high - 2.0 * paper.least
        high = self._draw_header()
        low = self._draw_footer()
        gap = 2.0 * paper.least
        self.body = Box(self.frame.left, low + gap, self.frame.right, high - gap)

    def _draw_header(self) -> float:
        least, frame = self.paper.least, self.frame
        large, middle = 2.0 * least, 1.5 * least
        room = frame.width - text_width("page 000 of 000", middle) - 4.0 * least
        words = shortened(self.header.title, room, large, bold=True)
        self.add(Text(frame.left, self._title_line, words, large, bold=True))
        line = self._title_line - LEADING * large
        words = shortened(self.header.heading, frame.width, middle, bold=True)
        self.add(Text(frame.left, line, words, middle, bold=True))
        for words in self.header.lines:
            for part in wrapped(words, frame.width, 1.15 * least, bold=True):
                line -= LEADING * 1.15 * least
                self.add(Text(frame.left, line, part, 1.15 * least, bold=True))
        line = self._draw_cells(line - 1.2 * middle)
        lines = [
            part for notice in self.header.notices for part in wrapped(notice, frame.width, least, bold=True)
        ]
        if len(lines) > MOST_NOTICE_LINES:
            lines = [*lines[: MOST_NOTICE_LINES - 1], "More remarks are in the plan's report."]
        for part in lines:
            line -= LEADING * least
            self.add(Text(frame.left, line, part, least, bold=True))
        return line

    def _draw_cells(self, top: float) -> float:
        """Boxes with caption over value, as many to a row as fit, stretched to the full width."""
        least, frame = self.paper.least, self.frame
        value_size = 1.15 * least
        pad = 0.9 * least
        height = least + value_size + 2.8 * pad
        widest = frame.width / 2.0
        rows: list[list[tuple[str, str, float]]] = [[]]
        used = 0.0
        cells = []
        for caption, value in self.header.cells:
            natural = max(text_width(caption, least), text_width(value, value_size, bold=True)) + 2.0 * pad
            cells.append((caption, value, min(natural, widest)))
        total = sum(width for _, _, width in cells)
        even = total / max(1, math.ceil(total / frame.width))  # rows of about the same width
        for cell in cells:
            if rows[-1] and (used + cell[2] > frame.width or used >= even):
                rows.append([])
                used = 0.0
            rows[-1].append(cell)
            used += cell[2]
        for row in rows:
            if not row:
                continue
            spare = (frame.width - sum(width for _, _, width in row)) / len(row)
            left = frame.left
            for caption, value, natural in row:
                width = natural + spare
                self.rect(Box(left, top - height, left + width, top), Layer.FRAME)
                room = width - 2.0 * pad
                self.add(
                    Text(left + pad, top - pad - least, shortened(caption, room, least), least),
                    Text(
                        left + pad,
                        top - height + pad,
                        shortened(value, room, value_size, bold=True),
                        value_size,
                        bold=True,
                    ),
                )
                left += width
            top -= height
        return top

    def _draw_footer(self) -> float:
        least, frame = self.paper.least, self.frame
        self.add(Text(frame.left, frame.low, shortened(self.header.stamp, frame.width, least), least))
        indent = text_width(CAUTION, least, bold=True) + 2.0 * least
        pad = 0.8 * least
        lines = wrapped(self.header.caution, frame.width - indent - 2.0 * pad, least)
        low = frame.low + 1.6 * least
        high = low + (len(lines) - 1) * LEADING * least + least + 2.0 * pad
        self.rect(Box(frame.left, low, frame.right, high), Layer.FRAME)
        base = high - pad - least
        self.add(Text(frame.left + pad, base, CAUTION, least, bold=True))
        for number, words in enumerate(lines):
            self.add(Text(frame.left + pad + indent, base - number * LEADING * least, words, least))
        return high


def finished(pages: Sequence[Page]) -> tuple[Scene, ...]:
    """The scenes of a set of pages, each with its number."""
    scenes = []
    for number, page in enumerate(pages, start=1):
        size = 1.5 * page.paper.least
        words = f"page {number} of {len(pages)}"
        page.add(Text(page.frame.right, page._title_line, words, size, "end"))
        title = f"{page.header.title}: {page.header.heading} ({words})"
        scenes.append(
            Scene(title=title, width=page.paper.width, height=page.paper.height, items=tuple(page.items))
        )
    return tuple(scenes)


def without_notices(header: Header) -> Header:
    """The header for the following pages: what was said once need not be said again."""
    return replace(header, notices=())
