"""QR codes (ISO/IEC 18004) as lines of a picture."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from nesting.drawing.scene import Layer, Line, Style, printable
from nesting.drawing.sketch import Box

__all__ = ["qr_lines"]

LEVELS = ("m", "l")
"""The first recovers about 15 % of a code: labels are handled, creased and chalked on. The second, with about
7 %, is for codes that would otherwise be too fine."""

LEAST_MODULE = 0.33
"""Modules that are smaller than this, mm, are hard to print and read (four dots at 300 to the inch)."""

MASK = 0
"""Any of the eight masks makes a valid code. Trying all of them for the evenest takes five times as long."""

QUIET = 4
"""Modules left white on every side."""


def qr_lines(words: str, box: Box) -> Iterator[Line]:
    """The code of some words in the middle of a box, quiet zone included.

    Every row of dark modules is a line as thick as a module: a page of labels has hundreds of thousands of
    modules, and lines of one style are written as one path.
    """
    for level in LEVELS:
        rows = _runs(printable(words), level)
        modules = rows[-1][0] + 1 + 2 * QUIET
        side = min(box.width, box.height) / modules
        if side >= LEAST_MODULE:
            break
    left = (box.left + box.right) / 2.0 + side * (QUIET - modules / 2.0)
    high = (box.low + box.high) / 2.0 - side * (QUIET - modules / 2.0)
    style = _style(round(side, 4))
    for row, start, end in rows:
        y = high - (row + 0.5) * side
        yield Line(((left + start * side, y), (left + end * side, y)), Layer.MARKS, style)


@cache
def _style(side: float) -> Style:
    return Style(width=side)


def _runs(words: str, level: str) -> tuple[tuple[int, int, int], ...]:
    """Row, first module and the module after the last of every dark stretch; the last row has one, too."""
    import segno

    found = []
    for row, modules in enumerate(segno.make_qr(words, error=level, boost_error=False, mask=MASK).matrix):
        start: int | None = None
        for column, dark in enumerate([*modules, 0]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                found.append((row, start, column))
                start = None
    return tuple(found)
