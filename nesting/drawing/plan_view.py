"""A sheet, or one sheet of a block, seen from above: rim, pieces, rests to keep, cuts with their measures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.drawing.cuts import Cut, cut_lines, first_cuts, usable_box
from nesting.drawing.lettering import text_width
from nesting.drawing.paper import Paper
from nesting.drawing.piece_art import draw_piece
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.pieces import PlacedPiece, measure
from nesting.drawing.scene import Layer, Style, Text, rectangle
from nesting.drawing.sketch import Box, Sketch, View, scale_steps, spread
from nesting.model import BlockMaterial, CutNode, Point, SheetMaterial

__all__ = [
    "LEADER",
    "PlanView",
    "cut_words",
    "draw_plan_view",
    "labels_above",
    "plan_end",
    "plan_origin",
    "plan_scale",
]

LEFT, BELOW = 4.5, 4.5
"""Room for the dimensions of the raw size, over the height of the smallest letters."""

CUT_LABEL_GAP = 1.5
"""Distance of cut labels from each other, over the height of the smallest letters."""

LEADER = 2.5
"""Length of the line from the edge to a cut label, over the height of the smallest letters."""

ALONG_STYLE = Style(width=0.45, line="#D55E00", dashes=(6.0, 1.2, 1.2, 1.2))
"""First cuts are drawn heavier than those that follow."""


@dataclass(frozen=True, slots=True)
class PlanView:
    """What is seen from above.

    Parameters
    ----------
    material
        Gives the raw size, the rim and the limits of a rest worth keeping.
    pieces
        The pieces on it.
    node
        Tree of cuts, or None for pieces placed freely.
    kept
        Rests worth keeping.
    """

    material: SheetMaterial | BlockMaterial
    pieces: tuple[PlacedPiece, ...]
    node: CutNode | None
    kept: tuple[CutNode, ...] = ()


def cut_words(number: int, cut: Cut) -> str:
    """A cut's number and its measure: ``"3: 1510"``."""
    return f"{number}: {measure(cut.at)}"


def _margins(view: PlanView, least: float) -> tuple[float, float, float, float]:
    """Room needed left, below, right and above for dimensions and cut labels, mm."""
    cuts = first_cuts(view.node) if view.node else ()
    room = max((text_width(cut_words(i, cut), least) for i, cut in enumerate(cuts, start=1)), default=0.0)
    room = room + (LEADER + 0.8) * least if cuts else 0.0
    across = bool(cuts) and cuts[0].start[0] == cuts[0].end[0]
    return LEFT * least, BELOW * least, 0.5 * least if across else room, room if across else 0.5 * least


def plan_scale(view: PlanView, box: Box, least: float) -> float:
    """The scale at which the view with its dimensions fits into `box`."""
    left, below, right, above = _margins(view, least)
    width, height = box.width - left - right, box.height - below - above
    return scale_steps(max(view.material.length / max(width, 1.0), view.material.width / max(height, 1.0)))[0]


def plan_origin(view: PlanView, box: Box, least: float, scale: float) -> View:
    """Where the view lies on the page when it is drawn into the upper left of `box`."""
    left, _, _, above = _margins(view, least)
    return View(scale, box.left + left, box.high - above - view.material.width / scale)


def plan_end(view: PlanView, box: Box, least: float, scale: float) -> Point:
    """Where the view ends on the page, at the lower right, when it is drawn into the upper left of `box`."""
    _, below, right, _ = _margins(view, least)
    origin = plan_origin(view, box, least, scale)
    return origin.left + view.material.length / scale + right, origin.low - below


def draw_plan_view(sketch: Sketch, view: PlanView, box: Box, paper: Paper, scale: float) -> bool:
    """Draw the view into the upper left of `box`; whether every piece shows its number."""
    least, material = paper.least, view.material
    origin = plan_origin(view, box, least, scale)

    def rect(
        x: float, y: float, length: float, width: float, layer: Layer, style: Style | None = None
    ) -> None:
        low = origin.point(x, y)
        sketch.add(rectangle(*low, length / scale, width / scale, layer, style))

    rect(0.0, 0.0, material.length, material.width, Layer.TRIM)
    rect(*usable_box(material, material.length), Layer.STOCK, Style(width=0.13, fill="#FFFFFF"))
    for leaf in view.kept:
        rect(leaf.x, leaf.y, leaf.length, leaf.width, Layer.REMNANTS)
        room = Box(*origin.point(leaf.x, leaf.y), *origin.point(leaf.x + leaf.length, leaf.y + leaf.width))
        size = Words(f"{measure(leaf.length)} x {measure(leaf.width)}")
        one_line = Words(f"KEEP {size.words}", bold=True)
        draw_label(
            sketch, ((Words("KEEP", bold=True), size), (one_line,), (size,)), (room,), 1.5 * least, least
        )
    numbered = True
    grain = isinstance(material, SheetMaterial) and material.grain == "one-way"
    for piece in view.pieces:
        numbered = draw_piece(sketch, piece, origin, least=least, show_arrow=grain) and numbered
    for cut in cut_lines(view.node) if view.node else ():
        style = ALONG_STYLE if cut.stage == 1 else None
        sketch.line(origin.point(*cut.start), origin.point(*cut.end), layer=Layer.CUTS, style=style)
    rect(0.0, 0.0, material.length, material.width, Layer.STOCK)
    if view.node:
        _draw_cut_labels(sketch, first_cuts(view.node), origin, material, least)
    _draw_raw_size(sketch, origin, material, least)
    return numbered


def _draw_cut_labels(
    sketch: Sketch, cuts: Sequence[Cut], origin: View, material: SheetMaterial | BlockMaterial, least: float
) -> None:
    """The number of each first cut and its measure from the raw edge, at the edge where it begins."""
    if not cuts:
        return
    right, top = origin.point(material.length, material.width)
    across = cuts[0].start[0] == cuts[0].end[0]
    feet = [origin.point(*cut.end)[0 if across else 1] for cut in cuts]
    if across:
        inner = origin.point(*cuts[0].end)[1]
        words = [cut_words(number, cut) for number, cut in enumerate(cuts, start=1)]
        labels_above(sketch, words, feet, (inner, top), (origin.left, right), least)
        return
    places = spread(feet, CUT_LABEL_GAP * least, origin.low, top)
    for number, (cut, foot, place) in enumerate(zip(cuts, feet, places, strict=True), start=1):
        inner = origin.point(*cut.end)[0]
        bend = right + (LEADER - 0.8) * least
        sketch.line(
            (inner, foot),
            (right, foot),
            (bend, place),
            (right + LEADER * least, place),
            layer=Layer.DIMENSIONS,
        )
        sketch.add(Text(right + (LEADER + 0.4) * least, place - least / 2.0, cut_words(number, cut), least))


def labels_above(
    sketch: Sketch,
    words: Sequence[str],
    feet: Sequence[float],
    edge: tuple[float, float],
    limits: tuple[float, float],
    least: float,
) -> None:
    """Upright words above an edge, each led to its foot and kept apart from the others.

    Parameters
    ----------
    feet
        Where on the page the cuts are, x in mm, rising.
    edge
        y at which the cuts end, and y above which the words stand.
    limits
        Least and greatest x of the words.
    least
        Height of the letters.
    """
    inner, top = edge
    for text, foot, place in zip(words, feet, spread(feet, CUT_LABEL_GAP * least, *limits), strict=True):
        bend = top + (LEADER - 0.8) * least
        sketch.line(
            (foot, inner), (foot, top), (place, bend), (place, top + LEADER * least), layer=Layer.DIMENSIONS
        )
        sketch.add(Text(place + least / 2.0, top + (LEADER + 0.4) * least, text, least, turn=90.0))


def _draw_raw_size(
    sketch: Sketch, origin: View, material: SheetMaterial | BlockMaterial, least: float
) -> None:
    right, top = origin.point(material.length, material.width)
    y, x = origin.low - 1.6 * least, origin.left - 1.6 * least
    words = f"{measure(material.length)}"
    sketch.dimension((origin.left, y), (right, y), words, least, away=-1.4 * least)
    sketch.dimension((x, origin.low), (x, top), measure(material.width), least, away=1.4 * least)
