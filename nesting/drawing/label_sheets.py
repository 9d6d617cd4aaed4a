"""Sheets and rolls of labels: where each label lies on its page."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeVar

from nesting.drawing.paper import DrawingError
from nesting.drawing.scene import Item, Layer, Scene, Style
from nesting.drawing.sketch import Box, Sketch
from nesting.drawing.tiles import SHEETS

__all__ = ["GRIDS", "ROLL", "LabelSheet", "label_pages", "label_sheet", "read_size"]

Label = TypeVar("Label")

ROLL = "roll"
"""Instead of a paper size: labels on a roll, one to a page."""

LEAST_WIDTH, LEAST_HEIGHT = 50.0, 24.0
MOST_SIDE = 420.0
ROUNDING = 1e-6  # mm

GRIDS: MappingProxyType[tuple[str, float, float], tuple[int, int, float]] = MappingProxyType(
    {
        ("A4", 63.5, 38.1): (3, 7, 2.5),
        ("A4", 99.1, 67.7): (2, 4, 2.5),
        ("A4", 99.1, 38.1): (2, 7, 2.5),
        ("Letter", 66.7, 25.4): (3, 10, 3.1),
        ("Letter", 101.6, 50.8): (2, 5, 4.8),
    }
)
"""Columns, rows and gap between columns, mm, of common grids that are not the fullest without gaps, by paper
and label size (from memory, unverified: hold a print against the sheet)."""

FRAME = Style(width=0.1, line="#8C8C8C")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """Labels on a page, all mm.

    Parameters
    ----------
    page_width, page_height
        Paper, standing upright; of roll labels the label itself.
    width, height
        One label.
    columns, rows
        How many there are.
    left, top
        Margins left of the first column and above the first row.
    across, down
        Gaps between columns and between rows.
    """

    page_width: float
    page_height: float
    width: float
    height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    across: float = 0.0
    down: float = 0.0

    @property
    def count(self) -> int:
        """Labels on a page."""
        return self.columns * self.rows

    def boxes(self) -> tuple[Box, ...]:
        """The labels of a page, row by row from the top left."""
        found = []
        for row in range(self.rows):
            high = self.page_height - self.top - row * (self.height + self.down)
            for column in range(self.columns):
                left = self.left + column * (self.width + self.across)
                found.append(Box(left, high - self.height, left + self.width, high))
        return tuple(found)


def read_size(text: str, what: str) -> tuple[float, float]:
    """Two measures in mm: ``"70x36"``.

    Raises
    ------
    DrawingError
        When the text is anything else.
    """
    found = re.fullmatch(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*[x×X]\s*([0-9]+(?:[.,][0-9]+)?)\s*", text)
    if not found:
        raise DrawingError(f"{what} = {text!r}: allowed: two measures in mm such as 70x36. Write it so.")
    first, second = (float(part.replace(",", ".")) for part in found.groups())
    return first, second


def label_sheet(
    size: tuple[float, float],
    sheet: str = "A4",
    margins: tuple[float, float] | None = None,
    gaps: tuple[float, float] | None = None,
) -> LabelSheet:
    """As many labels of a size as a sheet holds.

    Parameters
    ----------
    size
        Width and height of one label, mm.
    sheet
        A paper size of `tiles.SHEETS`, standing upright, or `ROLL`.
    margins
        Left of the first label and above it, mm; None to put the labels in the middle of the sheet.
    gaps
        Across and down, mm; None for none, but sizes of a common grid (`GRIDS`) have its gaps where the
        margins are not given either.

    Raises
    ------
    DrawingError
        When a label is too small for its words and code, or does not fit the sheet.
    """
    width, height = size
    said = f"label size = {width:g} x {height:g} mm"
    if width < LEAST_WIDTH or height < LEAST_HEIGHT or max(size) > MOST_SIDE:
        raise DrawingError(
            f"{said}: allowed: from {LEAST_WIDTH:g} x {LEAST_HEIGHT:g} (width x height) to {MOST_SIDE:g} mm "
            "a side. On smaller labels neither words nor code could be read: choose larger ones."
        )
    if sheet == ROLL:
        return LabelSheet(page_width=width, page_height=height, width=width, height=height)
    if sheet not in SHEETS:
        allowed = ", ".join([*sorted(SHEETS), ROLL])
        raise DrawingError(f"label sheet = {sheet!r}: allowed: {allowed}. Choose one of them.")
    page_width, page_height = SHEETS[sheet]
    across, down = gaps or (0.0, 0.0)
    left, top = margins or (0.0, 0.0)
    columns = int((page_width - left + across + ROUNDING) // (width + across))
    rows = int((page_height - top + down + ROUNDING) // (height + down))
    grid = GRIDS.get((sheet, width, height))
    if grid and gaps is None and margins is None:
        columns, rows, across = grid
    if columns < 1 or rows < 1:
        raise DrawingError(
            f"{said}: does not fit on {sheet} ({page_width:g} x {page_height:g} mm) with these margins. "
            "Choose a larger sheet or smaller labels and margins."
        )
    if margins is None:
        left = (page_width - columns * width - (columns - 1) * across) / 2.0
        top = (page_height - rows * height - (rows - 1) * down) / 2.0
    return LabelSheet(
        page_width=page_width,
        page_height=page_height,
        width=width,
        height=height,
        columns=columns,
        rows=rows,
        left=left,
        top=top,
        across=across,
        down=down,
    )


def label_pages(
    labels: Sequence[Label],
    draw: Callable[[Label, Box], Iterable[Item]],
    sheet: LabelSheet,
    title: str,
    *,
    first: int = 1,
    frames: bool = False,
) -> tuple[Scene, ...]:
    """Pages of labels.

    Parameters
    ----------
    labels
        What is on them, in the order of the sheets.
    draw
        Makes the items of a label that fills a given box.
    first
        The first free label on the first sheet, from 1: begun sheets can be used up.
    frames
        Draw the outline of every label, to try the print against a sheet.

    Raises
    ------
    DrawingError
        When there is no such label on a sheet.
    """
    if not 1 <= first <= sheet.count:
        raise DrawingError(
            f"first label = {first}: allowed: 1 to {sheet.count}, the labels on a sheet. "
            "Count from the top left, row by row."
        )
    boxes = sheet.boxes()
    pages = []
    slots = [None] * (first - 1) + list(range(len(labels)))
    for start in range(0, len(slots), sheet.count):
        sketch = Sketch()
        if frames:
            for box in boxes:
                sketch.rect(box, Layer.FRAME, FRAME)
        for slot, box in zip(slots[start : start + sheet.count], boxes, strict=False):
            if slot is not None:
                sketch.add(*draw(labels[slot], box))
        number = start // sheet.count + 1
        pages.append(
            Scene(
                title=f"{title}, sheet {number}",
                width=sheet.page_width,
                height=sheet.page_height,
                items=tuple(sketch.items),
            )
        )
    return tuple(pages)
