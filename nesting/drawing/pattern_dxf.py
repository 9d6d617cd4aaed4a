"""The panels of a model and size as DXF in the layer convention of the sewn-product trade (ASTM D6673).

What is known of the convention is from memory and a secondary page; the standard's own tables were not seen,
and it was withdrawn in 2019. Programs that follow it know a piece by its BLOCK and its lines by the number of
their layer. It carries single pieces, not markers: those are ordinary drawings (`machine`).

Entities are the plain ones of Release 12, which every reader takes: POLYLINE, LINE, POINT, TEXT, BLOCK and
INSERT. That release has no field for units, so the file says ``UNITS: METRIC`` (mm), and a square of 100 mm
stands beside the pieces. The corners of its extents are set, as some readers zoom to them.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum
from itertools import pairwise
from pathlib import Path

from ezdxf.document import Drawing
from ezdxf.layouts.base import BaseLayout

from nesting.drawing.dxf import save_audited
from nesting.drawing.pieces import box_corners
from nesting.files import safe_names
from nesting.measures import MACHINES, measure, shown_for
from nesting.model import Mark, Material, Panel, Point

__all__ = ["PatternLayer", "pattern_document", "write_pattern_dxf"]


class PatternLayer(StrEnum):
    """Layers by their number (ASTM D6673, from memory)."""

    BOUNDARY = "1"
    TURN_POINTS = "2"
    CURVE_POINTS = "3"
    NOTCHES = "4"
    GRAIN = "7"
    INTERNAL = "8"
    DRILL = "13"
    SEW = "14"
    TEXT = "15"


CURVE = 20.0
"""Corners that bend the outline by fewer degrees are points of a curve, the others turn points."""

CHECK_SIDE = 100.0  # mm
APART = 150.0
"""Distance of the pieces from each other, mm."""

LETTERS = 8.0  # mm
SIGN = 10.0  # mm, the arm of a cross at a fitting's place
LINE_LAYERS = {
    "grain": PatternLayer.GRAIN,
    "seam": PatternLayer.SEW,
    "fold": PatternLayer.INTERNAL,
    "slat": PatternLayer.INTERNAL,
}
"""Folds are drawn as internal lines: layer 6 is for lines on which a half piece is mirrored."""

POINT_LAYERS = {
    "notch": PatternLayer.NOTCHES,
    "drill": PatternLayer.DRILL,
    "vent": PatternLayer.DRILL,
}
"""Places of handles and labels are no holes: they are drawn as crosses on the layer of internal lines."""


def pattern_document(
    style: str, size: str, panels: Sequence[Panel], materials: Mapping[str, Material]
) -> Drawing:
    """All panels as blocks of one drawing, each inserted once.

    Parameters
    ----------
    style
        Name of the model.
    size
        Name of the size.
    panels
        Which, in this order. Outlines are cut sizes, allowances included.
    materials
        By key, for their names; a key that is missing is written as it is.
    """
    document = Drawing.new("R12")
    for layer in PatternLayer:
        document.layers.add(str(layer))
    space = document.modelspace()
    names = safe_names([panel.code for panel in panels])  # no two alike in capitals either
    low = 0.0
    for panel in panels:
        block = document.blocks.new(names[panel.code].upper())
        _draw_panel(block, panel, size, materials)
        low -= panel.width + APART
        space.add_blockref(block.name, (0.0, low), dxfattribs={"layer": str(PatternLayer.BOUNDARY)})
    _write(
        space,
        (-CHECK_SIDE - APART, -CHECK_SIDE - 3.0 * LETTERS),
        [
            f"STYLE NAME: {style}",
            f"SAMPLE SIZE: {size}",
            f"CREATION DATE: {date.today().isoformat()}",
            "UNITS: METRIC",
            f"The square is {CHECK_SIDE:.0f} x {CHECK_SIDE:.0f} mm: measure it after reading the file.",
        ],
        PatternLayer.BOUNDARY,
    )
    document.header["$EXTMIN"] = (-CHECK_SIDE - APART, low, 0.0)
    document.header["$EXTMAX"] = (max((panel.length for panel in panels), default=0.0), 0.0, 0.0)
    corners = [(x - CHECK_SIDE - APART, y - CHECK_SIDE) for x, y in box_corners(CHECK_SIDE, CHECK_SIDE)]
    space.add_polyline2d(corners, close=True, dxfattribs={"layer": str(PatternLayer.TEXT)})
    return document


def write_pattern_dxf(
    style: str, size: str, panels: Sequence[Panel], materials: Mapping[str, Material], path: Path
) -> None:
    """Write `pattern_document` to a file, after the library's own audit has found nothing to mend.

    Raises
    ------
    FileError
        When the audit finds a fault, or the file cannot be written.
    """
    save_audited(pattern_document(style, size, panels, materials), path)


def _draw_panel(block: BaseLayout, panel: Panel, size: str, materials: Mapping[str, Material]) -> None:
    outline = panel.outline or box_corners(panel.length, panel.width)
    block.add_polyline2d(outline, close=True, dxfattribs={"layer": str(PatternLayer.BOUNDARY)})
    for point, curve in zip(outline, _curved(outline), strict=True):
        layer = PatternLayer.CURVE_POINTS if curve else PatternLayer.TURN_POINTS
        block.add_point(point, dxfattribs={"layer": str(layer)})
    for mark in panel.marks:
        _draw_mark(block, mark)
    if not any(mark.kind == "grain" for mark in panel.marks):
        middle = panel.width / 2.0
        ends = ((panel.length / 4.0, middle), (3.0 * panel.length / 4.0, middle))
        block.add_line(*ends, dxfattribs={"layer": str(PatternLayer.GRAIN)})
    material = materials.get(panel.material)
    with shown_for(MACHINES):
        thick = f", {measure(panel.thickness)} mm thick" if panel.thickness is not None else ""
        lines = [
            f"PIECE NAME: {panel.code}",
            f"SIZE: {size}",
            f"QUANTITY: {panel.pieces}",
            f"MATERIAL: {material.name if material else panel.material}",
            f"ANNOTATION: {panel.name}, cut {measure(panel.length)} x {measure(panel.width)} mm{thick}",
        ]
    _write(block, (panel.length / 4.0, panel.width / 2.0 - 2.0 * LETTERS), lines, PatternLayer.BOUNDARY)


def _curved(outline: Sequence[Point]) -> list[bool]:
    """For each point of an outline, whether it only bends it."""
    found = []
    for before, at, after in zip((outline[-1], *outline), outline, (*outline[1:], outline[0]), strict=False):
        into = math.atan2(at[1] - before[1], at[0] - before[0])
        out = math.atan2(after[1] - at[1], after[0] - at[0])
        bend = math.degrees(math.remainder(out - into, math.tau))
        found.append(abs(bend) < CURVE)
    return found


def _draw_mark(block: BaseLayout, mark: Mark) -> None:
    if len(mark.points) > 1:
        layer = str(LINE_LAYERS.get(mark.kind, PatternLayer.INTERNAL))
        for start, end in pairwise(mark.points):
            block.add_line(start, end, dxfattribs={"layer": layer})
    elif mark.points:
        (x, y) = mark.points[0]
        if mark.kind in POINT_LAYERS:
            block.add_point((x, y), dxfattribs={"layer": str(POINT_LAYERS[mark.kind])})
        else:
            internal = {"layer": str(PatternLayer.INTERNAL)}
            block.add_line((x - SIGN, y), (x + SIGN, y), dxfattribs=internal)
            block.add_line((x, y - SIGN), (x, y + SIGN), dxfattribs=internal)
    words = mark.text or ("" if mark.kind in LINE_LAYERS or mark.kind == "notch" else mark.kind)
    if words and mark.points:
        x, y = mark.points[0]
        _write(block, (x + SIGN, y + SIGN), [words], PatternLayer.TEXT)


def _write(space: BaseLayout, at: Point, lines: Sequence[str], layer: PatternLayer) -> None:
    x, y = at
    for number, words in enumerate(lines):
        text = space.add_text(_plain(words), height=LETTERS, dxfattribs={"layer": str(layer)})
        text.set_placement((x, y - number * 2.0 * LETTERS))


def _plain(words: str) -> str:
    """Seven-bit letters, as the convention asks: accents are dropped, other letters become ``?``."""
    bare = unicodedata.normalize("NFKD", words)
    bare = "".join(letter for letter in bare if not unicodedata.combining(letter))
    plain = bare.encode("ascii", "replace").decode()
    plain = "".join(letter if letter.isprintable() else " " for letter in plain).replace("^", "^ ")
    while "%%" in plain:
        plain = plain.replace("%%", "% %")
    return plain
