"""A sheet, or one sheet of a block, seen from above: rim, pieces, rests to keep, cuts with their measures."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.drawing.cuts import Cut, cut_lines, usable_box
from nesting.drawing.lettering import text_width
from nesting.drawing.paper import Paper
from nesting.drawing.piece_art import draw_piece
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.pieces import PlacedPiece, measure
from nesting.drawing.scene import Layer, Style, Text, rectangle
from nesting.drawing.sketch import Box, Sketch, View, overlap, scale_steps, spread, text_box
from nesting.measures import cut_measure
from nesting.model import BlockMaterial, CutNode, Point, SheetMaterial

__all__ = [
    "ALONG_STYLE",
    "LEADER",
    "PlanView",
    "cut_words",
    "draw_cut_numbers",
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

NUMBER_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9, 0.05, 0.95)
"""Where on a line its number may stand, as a share of its length; the first choice first."""

NUMBER_PLATE = Style(width=0.13, line="#D55E00", fill="#FFFFFF")


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
    numbered
        Cuts with their numbers in a saw plan, which are then shown instead of those of the tree.
    """

    material: SheetMaterial | BlockMaterial
    pieces: tuple[PlacedPiece, ...]
    node: CutNode | None
    kept: tuple[CutNode, ...] = ()
    numbered: tuple[Cut, ...] = ()

    @property
    def cuts(self) -> tuple[Cut, ...]:
        """All cuts that are shown."""
        return self.numbered or tuple(cut_lines(self.node) if self.node else ())

    @property
    def labelled(self) -> tuple[Cut, ...]:
        """The first cuts, which all run one way and are labelled at the edge, in rising order."""
        firsts = [cut for cut in self.cuts if cut.stage == 1]
        # Skins may come off the other way, but before the last of them.
        ways = [cut.start[0] == cut.end[0] for cut in firsts]
        return tuple(
            sorted(
                (cut for cut, across in zip(firsts, ways, strict=True) if across == ways[-1]),
                key=lambda cut: cut.start,
            )
        )


def cut_words(number: int, cut: Cut) -> str:
    """A cut's number and its measure: ``"3: 1510"``."""
    return f"{number}: {cut_measure(cut.at)}"


def _margins(view: PlanView, least: float) -> tuple[float, float, float, float]:
    """Room needed left, below, right and above for dimensions and cut labels, mm."""
    cuts = view.labelled
    room = max((text_width(words, least) for words in _words(cuts)), default=0.0)
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
    for cut in view.cuts:
        style = ALONG_STYLE if cut.stage == 1 else None
        sketch.line(origin.point(*cut.start), origin.point(*cut.end), layer=Layer.CUTS, style=style)
    rect(0.0, 0.0, material.length, material.width, Layer.STOCK)
    _draw_cut_labels(sketch, view.labelled, origin, material, least)
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
        labels_above(sketch, _words(cuts), feet, (inner, top), (origin.left, right), least)
        return
    places = spread(feet, CUT_LABEL_GAP * least, origin.low, top)
    for cut, words, foot, place in zip(cuts, _words(cuts), feet, places, strict=True):
        inner = origin.point(*cut.end)[0]
        bend = right + (LEADER - 0.8) * least
        sketch.line(
            (inner, foot),
            (right, foot),
            (bend, place),
            (right + LEADER * least, place),
            layer=Layer.DIMENSIONS,
        )
        sketch.add(Text(right + (LEADER + 0.4) * least, place - least / 2.0, words, least))


def _words(cuts: Sequence[Cut]) -> list[str]:
    return [cut_words(cut.number or number, cut) for number, cut in enumerate(cuts, start=1)]


def draw_cut_numbers(sketch: Sketch, view: PlanView, origin: View, least: float) -> None:
    """The saw plan's numbers of inner cuts on their lines, where no words stand yet; else the list has to do.

    To be drawn when all other words are.
    """
    taken = [text_box(item) for item in sketch.items if isinstance(item, Text)]
    inner = set(view.numbered) - set(view.labelled)
    for cut in sorted(inner, key=lambda cut: (cut.number, cut.start)):
        (x0, y0), (x1, y1) = origin.point(*cut.start), origin.point(*cut.end)
        words = str(cut.number)
        wide, high = text_width(words, least, bold=True) + 0.8 * least, 1.5 * least
        if math.dist((x0, y0), (x1, y1)) < max(wide, high):
            continue
        for share in NUMBER_PLACES:
            x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
            box = Box(x - wide / 2.0, y - high / 2.0, x + wide / 2.0, y + high / 2.0)
            clear = Box(box.left - 0.5 * least, box.low, box.right + 0.5 * least, box.high)
            if not any(overlap(clear, other) for other in taken):
                sketch.rect(box, Layer.CUTS, NUMBER_PLATE)
                sketch.centred(x, y, words, least, bold=True)
                taken.append(box)
                break


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
    front, left = measure(material.length), measure(material.width)
    if isinstance(material, BlockMaterial):
        # The faces that the saw plan measures from.
        front, left = f"front side {front}", f"left end {left}"
    sketch.dimension((origin.left, y), (right, y), front, least, away=-1.4 * least)
    sketch.dimension((x, origin.low), (x, top), left, least, away=1.4 * least)
