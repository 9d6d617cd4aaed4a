"""Scenes as SVG files: width and height in millimetres, one unit of the view box to the millimetre.

Built with svgwrite, its checks off: they would cost more than the drawing, and tests parse the result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import svgwrite

from nesting.drawing.lettering import font_size
from nesting.drawing.scene import Circle, Item, Line, Polygon, Scene, Style, Text, hatch_lines, runs, style_of
from nesting.files import whole_file
from nesting.model import Point

__all__ = ["svg_text", "write_svg"]

FONTS = "DejaVu Sans, Bitstream Vera Sans, Arial, Helvetica, sans-serif"
"""None of them is wider than the widths that `lettering` reckons with."""


def _number(value: float) -> str:
    """To the hundredth of a millimetre, without needless zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@cache
def _stroke(style: Style) -> dict[str, str]:
    if style.width == 0:
        return {"stroke": "none"}
    values = {"stroke": style.line, "stroke_width": _number(style.width), "stroke_linejoin": "round"}
    if style.dashes:
        values["stroke_dasharray"] = " ".join(_number(dash) for dash in style.dashes)
    return values


class _Sheet:
    """Turns items into elements; y points up in a scene and down in SVG."""

    def __init__(self, scene: Scene, drawing: svgwrite.Drawing) -> None:
        self.left, self.high = scene.left, scene.low + scene.height
        self.drawing = drawing

    def path(self, points: Iterable[Point]) -> str:
        left, high = self.left, self.high
        return "M" + " ".join([f"{x - left:.2f},{high - y:.2f}" for x, y in points])

    def elements(self, run: tuple[Item, ...]) -> Iterator[Any]:
        make = self.drawing
        item = run[0]
        match item:
            case Polygon():
                style = style_of(item)
                yield make.path(d=self.path(item.points) + "Z", fill=style.fill or "none", **_stroke(style))
                ruling = hatch_lines(item.points, style)
                if ruling:
                    lines = "".join([self.path(line) for line in ruling])
                    width = _number(style.hatch_width)
                    yield make.path(d=lines, fill="none", stroke=style.hatch_line, stroke_width=width)
            case Line():
                lines = "".join([self.path(line.points) for line in run if isinstance(line, Line)])
                yield make.path(d=lines, fill="none", **_stroke(style_of(item)))
            case Circle():
                style = style_of(item)
                centre = (_number(item.x - self.left), _number(self.high - item.y))
                radius = _number(item.radius)
                yield make.circle(center=centre, r=radius, fill=style.fill or "none", **_stroke(style))
            case Text():
                yield self.text(item)

    def text(self, item: Text) -> Any:
        x, y = f"{item.x - self.left:.2f}", f"{self.high - item.y:.2f}"
        words = item.words.replace("  ", "\u00a0 ")  # viewers draw two plain spaces as one
        values = {"font_size": _number(font_size(item.size)), "text_anchor": item.anchor}
        if item.bold:
            values["font_weight"] = "bold"
        if item.turn:
            values["transform"] = f"rotate({_number(-item.turn)} {x} {y})"
        return self.drawing.text(words, insert=(x, y), **values)


def svg_text(scene: Scene) -> str:
    """The scene as an SVG document."""
    width, height = _number(scene.width), _number(scene.height)
    drawing = svgwrite.Drawing(
        size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", font_family=FONTS, debug=False
    )
    drawing.set_desc(title=scene.title)
    drawing.add(drawing.rect(size=(width, height), fill="#FFFFFF"))
    sheet = _Sheet(scene, drawing)
    for run in runs(scene.items):
        for element in sheet.elements(run):
            drawing.add(element)
    return str(drawing.tostring())


def write_svg(scene: Scene, path: Path) -> None:
    """Write the scene to an SVG file.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    with whole_file(path) as part:
        part.write_text('<?xml version="1.0" encoding="utf-8"?>\n' + svg_text(scene), encoding="utf-8")
