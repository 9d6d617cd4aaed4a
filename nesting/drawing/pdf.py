"""Scenes as the pages of a PDF file, each in its own size. The same scenes give the same bytes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from nesting.drawing.lettering import FONT_FILES, font_size, glyph_widths, text_width
from nesting.drawing.scene import (
    Circle,
    Item,
    Line,
    Polygon,
    Scene,
    Text,
    hatch_lines,
    printable,
    runs,
    style_of,
)
from nesting.files import whole_file
from nesting.model import Point

__all__ = ["MM", "write_pdf"]

MM = 72.0 / 25.4
"""Points in a millimetre: a point is 1/72 inch (ISO 32000-1, 8.3.2.3)."""

FONT_NAMES = {False: "NestingSans", True: "NestingSansBold"}
ROUND = 1  # line caps and joins


def _register_fonts() -> None:
    for bold, name in FONT_NAMES.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, FONT_FILES[bold]))


@cache
def _colour(code: str) -> str:
    """The three shares of red, green and blue that PDF wants."""
    return " ".join(f"{int(code[i : i + 2], 16) / 255:.3f}" for i in (1, 3, 5))


def _with_known_letters(words: str, bold: bool) -> str:
    known: Mapping[int, float] = glyph_widths(bold)
    return "".join(letter if ord(letter) in known else "?" for letter in words)


def _path(points: Sequence[Point]) -> str:
    (x, y), *others = points
    return f"{x:.3f} {y:.3f} m " + " ".join(f"{x:.3f} {y:.3f} l" for x, y in others)


@cache
def _stroke(colour: str, width: float, dashes: tuple[float, ...]) -> str:
    return f"{_colour(colour)} RG {width:.3f} w [{' '.join(f'{dash:.3f}' for dash in dashes)}] 0 d"


def _line_operators(run: Sequence[Item]) -> str:
    alike = [item for item in run if isinstance(item, Line)]
    style = style_of(alike[0])
    lines = " ".join(_path(item.points) for item in alike)
    return f"{_stroke(style.line, style.width, style.dashes)} {lines} S"


def _polygon_operators(item: Polygon) -> str:
    style = style_of(item)
    paint = {(True, True): "B", (True, False): "f", (False, True): "S", (False, False): "n"}
    operator = paint[style.fill is not None, style.width > 0]
    fill = f"{_colour(style.fill)} rg " if style.fill else ""
    stroke = _stroke(style.line, style.width, style.dashes)
    operators = f"{fill}{stroke} {_path(item.points)} h {operator}"
    ruling = hatch_lines(item.points, style)
    if ruling:
        lines = " ".join(_path(line) for line in ruling)
        operators += f" {_stroke(style.hatch_line, style.hatch_width, ())} {lines} S"
    return operators


def _draw(canvas: Canvas, run: tuple[Item, ...]) -> None:
    # Paths are written as operators of the page description (ISO 32000-1, 8.5): a marker has many
    # thousands of them, and the methods of the canvas cost most of the time.
    item = run[0]
    match item:
        case Polygon():
            canvas.addLiteral(_polygon_operators(item))
        case Line():
            canvas.addLiteral(_line_operators(run))
        case Circle():
            style = style_of(item)
            canvas.addLiteral(_stroke(style.line, style.width, style.dashes))
            if style.fill:
                canvas.addLiteral(f"{_colour(style.fill)} rg")
            canvas.circle(item.x, item.y, item.radius, stroke=1, fill=1 if style.fill else 0)
        case Text():
            _draw_text(canvas, item)


def _draw_text(canvas: Canvas, item: Text) -> None:
    canvas.addLiteral("0 0 0 rg")
    canvas.setFont(FONT_NAMES[item.bold], font_size(item.size))
    words = _with_known_letters(item.words, item.bold)
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * text_width(words, item.size, item.bold)
    if item.turn == 0:
        canvas.drawString(item.x - shift, item.y, words)
        return
    canvas.saveState()
    canvas.translate(item.x, item.y)
    canvas.rotate(item.turn)
    canvas.drawString(-shift, 0.0, words)
    canvas.restoreState()


@contextmanager
def _binary_streams() -> Iterator[None]:
    """Without the text coding of compressed streams: files a fifth smaller, and quicker written."""
    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def write_pdf(scenes: Sequence[Scene], path: Path, title: str) -> None:
    """Write the scenes as the pages of one PDF, with an outline of their titles.

    Letters that the embedded font lacks are printed as ``?``.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    _register_fonts()
    with whole_file(path) as part, _binary_streams():
        canvas = Canvas(str(part), invariant=True, pageCompression=1)
        canvas.setTitle(printable(title))
        canvas.setCreator("nesting")
        for number, scene in enumerate(scenes):
            canvas.setPageSize((scene.width * MM, scene.height * MM))
            canvas.bookmarkPage(f"page-{number}")
            canvas.addOutlineEntry(scene.title, f"page-{number}")
            canvas.scale(MM, MM)
            canvas.translate(-scene.left, -scene.low)
            canvas.setLineJoin(ROUND)
            for run in runs(scene.items):
                _draw(canvas, run)
            canvas.showPage()
        canvas.save()
