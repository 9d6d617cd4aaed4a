"""SVG: sizes in millimetres, the same numbers in the view box, every letter kept."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.scene import Circle, Hatch, Layer, Line, Polygon, Scene, Style, Text
from nesting.drawing.svg import svg_text, write_svg
from nesting.model import MaterialPlan, Plan

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize(("paper", "width", "height"), [("A3", 420, 297), ("A4", 297, 210)])
def test_a_page_is_as_large_as_its_paper(
    paper: str, width: int, height: int, plan: Plan, tmp_path: Path
) -> None:
    """Width and height in mm, and one unit to the millimetre (SVG 1.1, 7.7 and 7.2)."""
    write_svg(map_pages(plan, plan.materials[0], paper)[0], tmp_path / "map.svg")
    root = ET.parse(tmp_path / "map.svg").getroot()
    assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")
    assert root.get("viewBox") == f"0 0 {width} {height}"


def test_a_layout_is_as_large_as_the_material(ticking: MaterialPlan) -> None:
    """True size: the roll of 2200 mm is the height of the picture at least."""
    root = ET.fromstring(svg_text(machine_scene(ticking, 0)))
    height = float(str(root.get("height")).removesuffix("mm"))
    assert height >= 2200
    assert float(str(root.get("viewBox")).split()[3]) == height


def test_a_small_scene_is_written_as_expected() -> None:
    """The whole document, typed by hand: y runs down in SVG, up in a scene."""
    items = (
        Polygon(((1, 1), (9, 1), (9, 4)), Layer.PIECES, Style(fill="#ABCDEF", width=0.5)),
        Line(((0, 0), (10, 5)), Layer.CUTS, Style(dashes=(2.0, 1.0), line="#D55E00")),
        Circle(5, 2, 1.5, Layer.MARKS, Style(width=0.2)),
        Text(2, 3, "a  <b>", 0.729, "middle", 90.0, True),
    )
    assert svg_text(Scene(title="Small & plain", width=10, height=5, items=items)) == (
        '<svg baseProfile="full" '
        'font-family="DejaVu Sans, Bitstream Vera Sans, Arial, Helvetica, sans-serif" '
        'height="5mm" version="1.1" viewBox="0 0 10 5" width="10mm" xmlns="http://www.w3.org/2000/svg" '
        'xmlns:ev="http://www.w3.org/2001/xml-events" xmlns:xlink="http://www.w3.org/1999/xlink">'
        "<title>Small &amp; plain</title><defs />"
        '<rect fill="#FFFFFF" height="5" width="10" x="0" y="0" />'
        '<path d="M1.00,4.00 9.00,4.00 9.00,1.00Z" fill="#ABCDEF" stroke="#000000" stroke-linejoin="round" '
        'stroke-width="0.5" />'
        '<path d="M0.00,5.00 10.00,0.00" fill="none" stroke="#D55E00" stroke-dasharray="2 1" '
        'stroke-linejoin="round" stroke-width="0.25" />'
        '<circle cx="5" cy="3" fill="none" r="1.5" stroke="#000000" stroke-linejoin="round" '
        'stroke-width="0.2" />'
        '<text font-size="1" font-weight="bold" text-anchor="middle" transform="rotate(-90 2.00 2.00)" '
        'x="2.00" y="2.00">a\u00a0 &lt;b&gt;</text></svg>'
    )


def test_hatches_are_drawn_as_lines() -> None:
    """A viewer needs no pattern support: the outline and its ruling are two paths."""
    square = Polygon(
        ((0, 0), (10, 0), (10, 10), (0, 10)), Layer.PIECES, Style(hatch=Hatch.ALONG, fill="#FFFFFF")
    )
    root = ET.fromstring(svg_text(Scene(title="t", width=10, height=10, items=(square,))))
    assert len(root.findall(f"{SVG}path")) == 2


def test_names_keep_every_letter(hostile: Plan) -> None:
    """Markup in names stays text, and other scripts are kept."""
    scenes = map_pages(hostile, hostile.materials[0], "A3")
    root = ET.fromstring(svg_text(scenes[0]))
    said = " ".join(element.text or "" for element in root.iter(f"{SVG}text"))
    assert "<script>" in said
    assert "超大号" in said
    assert not list(root.iter(f"{SVG}script"))


def test_the_same_scene_gives_the_same_bytes(plan: Plan, tmp_path: Path) -> None:
    """Nothing depends on the time or the order of a set."""
    scene = map_pages(plan, plan.materials[4], "A4")[0]
    write_svg(scene, tmp_path / "a.svg")
    write_svg(scene, tmp_path / "b.svg")
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
