"""Pages for whoever glues: every glued layer as a small drawing with its parts and joints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from nesting.drawing.facts import header
from nesting.drawing.glue_list import FROM, joints_text, orders_text
from nesting.drawing.lettering import shortened, text_width
from nesting.drawing.paper import LEADING, Page, Paper
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.pieces import measure
from nesting.drawing.scene import STYLES, Layer, Text, piece_style, rectangle
from nesting.drawing.sketch import Box, Sketch
from nesting.model import Demand, GluedLayer, MaterialPlan, Plan

__all__ = ["glue_pages"]

COLUMNS, ROWS = 3, 3
"""Layers side by side and below one another on a page."""

GAP = 3.0
"""Room between them, over the height of the smallest letters."""

WORDS = 3
"""Lines of words over each drawing."""

SIDE, BELOW = 3.5, 4.5
"""Room for words beside and for measures below a drawing, over the smallest letters."""

STACK_SHARE = 0.5
"""Most of the height of a drawing that a stack of layers takes; it is not to scale."""

JOINT_STYLE = replace(STYLES[Layer.CUTS], width=0.7)

NOTICES = (
    "Glue cut faces only: square, clean and without skin, of one grade and batch; and only where the "
    "product's fire approval allows it.",
    "Put parts in the order drawn. Layers that lie on one another keep their joints apart: do not turn one "
    "end for end or side for side.",
    "Adhesive: follow its data sheet, ventilate, wear what it asks for; no flames or sparks, and let glued "
    "stacks dry and air apart from the work.",
)
"""Common practice; the data sheet of the adhesive comes first."""


def glue_pages(plan: Plan, material_plan: MaterialPlan, paper: Paper) -> list[Page]:
    """The pages of one material's glued layers, none when nothing is glued."""
    layers = material_plan.glued
    if not layers:
        return []
    copies = sum(layer.copies for layer in layers)
    joints = sum(layer.copies * len(layer.joints) for layer in layers)
    words = f"Glue list: {copies} layer{'s' if copies > 1 else ''} from parts, {joints} joints"
    made = replace(header(plan, material_plan, words), notices=NOTICES)
    numbered = {demand.key: (number, demand) for number, demand in enumerate(material_plan.demands, start=1)}
    kinds = {code: at for at, code in enumerate(sorted({d.panel.code for d in material_plan.demands}))}
    pages: list[Page] = []
    for place, layer in enumerate(layers):
        if place % (COLUMNS * ROWS) == 0:
            pages.append(Page(paper, made))
        page, slot = pages[-1], place % (COLUMNS * ROWS)
        gap = GAP * paper.least
        width = (page.body.width - (COLUMNS - 1) * gap) / COLUMNS
        height = (page.body.height - (ROWS - 1) * gap) / ROWS
        left = page.body.left + slot % COLUMNS * (width + gap)
        high = page.body.high - slot // COLUMNS * (height + gap)
        _draw_layer(page, Box(left, high - height, left + width, high), layer, numbered, kinds, paper.least)
    return pages


def _draw_layer(
    page: Page,
    box: Box,
    layer: GluedLayer,
    numbered: Mapping[str, tuple[int, Demand]],
    kinds: Mapping[str, int],
    least: float,
) -> None:
    panel = layer.panel
    size = " x ".join(measure(side) for side in (panel.length, panel.width, panel.thickness or 0.0))
    title = f"{layer.name}: {panel.code} {layer.model} {layer.size}, {layer.copies} to glue"
    lines = (
        (title, 1.2 * least, True),
        (f"{panel.name}, {size}; joint at {joints_text(layer)} from the {FROM[layer.line]}", least, False),
        (f"For {orders_text(layer)}", least, False),
    )
    y = box.high
    for words, letters, bold in lines:
        y -= LEADING * letters
        page.add(Text(box.left, y, shortened(words, box.width, letters, bold=bold), letters, bold=bold))
    area = Box(box.left + SIDE * least, box.low + BELOW * least, box.right - SIDE * least, y - least)
    if layer.line == "layers":
        extent, outer = panel.thickness or 1.0, Box(area.left, area.low, area.right, area.high)
        extent = sum(part.thickness * len(part.places) for part in layer.parts)
        scale = extent / (STACK_SHARE * area.height)
    else:
        scale = max(panel.length / area.width, panel.width / area.height)
        extent = panel.length if layer.line == "across" else panel.width
        outer = Box(area.left, area.low, area.left + panel.length / scale, area.low + panel.width / scale)
    ends = [0.0, *layer.joints, extent]
    owner = {at: part for part in layer.parts for at in part.places}
    for at, (low, high) in enumerate(pairwise(ends), start=1):
        number, demand = numbered[owner[at].key]
        cell = (
            Box(outer.left + low / scale, outer.low, outer.left + high / scale, outer.high)
            if layer.line == "across"
            else Box(outer.left, outer.low + low / scale, outer.right, outer.low + high / scale)
        )
        code = demand.panel.code
        page.add(
            rectangle(cell.left, cell.low, cell.width, cell.height, Layer.PIECES, piece_style(kinds[code]))
        )
        sides = (owner[at].thickness,) if layer.line == "layers" else (owner[at].length, owner[at].width)
        words = " x ".join(measure(side) for side in sides)
        choices = (
            (Words(f"{number}", 1.4, True), Words(code), Words(words)),
            (Words(f"{number}  {code}", 1.0, True), Words(words)),
            (Words(f"{number}  {code}  {words}", 1.0, True),),
            (Words(f"{number}", 1.0, True),),
        )
        draw_label(page, choices, (cell,), 1.4 * least, least)
    _draw_joints(page, layer, outer, ends, scale, least)


def _draw_joints(
    sketch: Sketch, layer: GluedLayer, outer: Box, ends: list[float], scale: float, least: float
) -> None:
    """The joints as thick lines, measured from the head end, the left side or the bottom."""
    for count, joint in enumerate(ends[1:-1], start=1):
        if layer.line == "across":
            x = outer.left + joint / scale
            sketch.line((x, outer.low), (x, outer.high), layer=Layer.CUTS, style=JOINT_STYLE)
            if count == 1:
                y = outer.low - 1.4 * least
                sketch.dimension((outer.left, y), (x, y), measure(joint), least, away=-1.4 * least)
        else:
            y = outer.low + joint / scale
            sketch.line((outer.left, y), (outer.right, y), layer=Layer.CUTS, style=JOINT_STYLE)
            if layer.line == "along" and count == 1:
                x = outer.right + 1.4 * least
                sketch.dimension((x, outer.low), (x, y), measure(joint), least, away=-1.4 * least)
    if layer.line == "layers":
        words = "from the side, not to scale"
        sketch.add(Text(outer.right, outer.low - 2.0 * least, words, least, "end"))
        return
    middle = (outer.low + outer.high) / 2.0
    if text_width("HEAD", least) < outer.height:
        sketch.centred(outer.left - 1.6 * least, middle, "HEAD", least, turn=90.0)
    if layer.line == "along":
        sketch.add(Text(outer.left, outer.low - 2.0 * least, "left side", least))
