"""How wide words are, and making them fit.

All back ends rely on the widths of one typeface, Bitstream Vera Sans, which the PDF embeds and which
is wider than the usual fallbacks of an SVG viewer. Words that fit by this measure fit everywhere.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import cache, lru_cache

__all__ = ["CAPITAL", "FONT_FILES", "fitting_size", "font_size", "shortened", "text_width", "wrapped"]

CAPITAL = 0.729
"""Height of a capital of Vera Sans over its font size (1493 of 2048 units, measured on the letter H)."""

FONT_FILES = {False: "Vera.ttf", True: "VeraBd.ttf"}
"""Font files by boldness, as reportlab bundles them."""

FULL_WIDTH, OTHER_WIDTH = 1.05, 0.75  # letters that Vera lacks, of a substitute font: share of the font size
ELLIPSIS = "…"


def font_size(capital: float) -> float:
    """Font size, mm, whose capital letters are `capital` mm high."""
    return capital / CAPITAL


@cache
def glyph_widths(bold: bool) -> Mapping[int, float]:
    """Advance of every glyph the embedded font has, as a share of the font size."""
    from reportlab.pdfbase.ttfonts import (
        TTFontFile,
    )  # here: reading pictures' words needs it, importing does not

    face = TTFontFile(FONT_FILES[bold])
    return {code: width / 1000.0 for code, width in face.charWidths.items()}


@lru_cache(maxsize=20_000)
def _unit_width(words: str, bold: bool) -> float:
    widths = glyph_widths(bold)
    question = widths[ord("?")]  # the PDF prints this for a letter it lacks
    total = 0.0
    for letter in words:
        width = widths.get(ord(letter))
        if width is None:
            wide = unicodedata.east_asian_width(letter) in "WF"
            width = max(question, FULL_WIDTH if wide else OTHER_WIDTH)
        total += width
    return total


def text_width(words: str, size: float, bold: bool = False) -> float:
    """Width of `words` in mm, the capitals being `size` mm high."""
    return _unit_width(words, bold) * font_size(size)


def fitting_size(words: str, room: float, most: float, least: float, bold: bool = False) -> float | None:
    """Greatest size from `least` to `most` at which `words` are no wider than `room`, or None."""
    unit = text_width(words, 1.0, bold)
    size = most if unit == 0 else min(most, room / unit)
    return size if size >= least else None


def shortened(words: str, room: float, size: float, bold: bool = False) -> str:
    """`words`, cut off with an ellipsis where they are wider than `room` mm; empty if nothing fits."""
    if text_width(words, size, bold) <= room:
        return words
    low, high = 0, len(words)
    while low < high:  # the longest beginning that fits together with its ellipsis
        middle = (low + high + 1) // 2
        if text_width(words[:middle].rstrip() + ELLIPSIS, size, bold) <= room:
            low = middle
        else:
            high = middle - 1
    return words[:low].rstrip() + ELLIPSIS if low else ""


def wrapped(words: str, room: float, size: float, bold: bool = False) -> list[str]:
    """`words` broken into lines no wider than `room` mm; a single longer word is shortened."""
    lines: list[str] = []
    line = ""
    for word in words.split():
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, size, bold) > room:
            lines.append(line)
            longer = word
        line = longer
    if line:
        lines.append(line)
    return [shortened(line, room, size, bold) for line in lines]
