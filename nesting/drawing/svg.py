"""Scenes as SVG files: width and height in millimetres, one unit of the view box to the millimetre.

Built with the standard library's XML tree, which takes care of every letter that markup reserves.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

from nesting.drawing.files import whole_file
from nesting.drawing.lettering import font_size
from nesting.drawing.scene import Circle, Item, Line, Polygon, Scene, Style, Text, hatch_lines, style_of
from nesting.model import Point

__all__ = ["svg_text", "write_svg"]

NAMESPACE = "http://www.w3.org/2000/svg"
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
    values = {"stroke": style.line, "stroke-width": _number(style.width), "stroke-linejoin": "round"}
    if style.dashes:
        values["stroke-dasharray"] = " ".join(_number(dash) for dash in style.dashes)
    return values


class _Sheet:
    """Turns items into elements; y points up in a scene and down in SVG."""

    def __init__(self, scene: Scene) -> None:
        self.left, self.high = scene.left, scene.low + scene.height

    def path(self, points: Iterable[Point]) -> str:
        left, high = self.left, self.high
        return "M" + " ".join([f"{x - left:.2f},{high - y:.2f}" for x, y in points])

    def elements(self, item: Item) -> Iterator[ET.Element]:
        match item:
            case Polygon():
                style = style_of(item)
                fill = style.fill or "none"
                yield ET.Element("path", {"d": self.path(item.points) + "Z", "fill": fill, **_stroke(style)})
                ruling = hatch_lines(item.points, style)
                if ruling:
                    lines = "".join([self.path(line) for line in ruling])
                    width = _number(style.hatch_width)
                    stroke = {"stroke": style.hatch_line, "stroke-width": width}
                    yield ET.Element("path", {"d": lines, "fill": "none", **stroke})
            case Line():
                stroke = _stroke(style_of(item))
                yield ET.Element("path", {"d": self.path(item.points), "fill": "none", **stroke})
            case Circle():
                style = style_of(item)
                place = {"cx": _number(item.x - self.left), "cy": _number(self.high - item.y)}
                fill = style.fill or "none"
                yield ET.Element(
                    "circle", {**place, "r": _number(item.radius), "fill": fill, **_stroke(style)}
                )
            case Text():
                yield self.text(item)

    def text(self, item: Text) -> ET.Element:
        x, y = f"{item.x - self.left:.2f}", f"{self.high - item.y:.2f}"
        values = {"x": x, "y": y, "font-size": _number(font_size(item.size)), "text-anchor": item.anchor}
        if item.bold:
            values["font-weight"] = "bold"
        if item.turn:
            values["transform"] = f"rotate({_number(-item.turn)} {x} {y})"
        element = ET.Element("text", values)
        element.text = item.words.replace("  ", "\u00a0 ")  # viewers draw two plain spaces as one
        return element


def svg_text(scene: Scene) -> str:
    """The scene as an SVG document."""
    width, height = _number(scene.width), _number(scene.height)
    size = {"width": f"{width}mm", "height": f"{height}mm", "viewBox": f"0 0 {width} {height}"}
    root = ET.Element("svg", {"xmlns": NAMESPACE, "version": "1.1", **size, "font-family": FONTS})
    ET.SubElement(root, "title").text = scene.title
    ET.SubElement(root, "rect", {"width": width, "height": height, "fill": "#FFFFFF"})
    sheet = _Sheet(scene)
    for item in scene.items:
        root.extend(sheet.elements(item))
    return ET.tostring(root, encoding="unicode")


def write_svg(scene: Scene, path: Path) -> None:
    """Write the scene to an SVG file.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    with whole_file(path) as part:
        part.write_text('<?xml version="1.0" encoding="utf-8"?>\n' + svg_text(scene), encoding="utf-8")
