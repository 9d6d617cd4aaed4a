"""Boxes with the lines that are marked on them: how outlines are cut out of a foam block's boxes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.drawing.lettering import shortened, wrapped
from nesting.drawing.paper import Canvas
from nesting.drawing.piece_labels import Words, draw_label, inner_box
from nesting.drawing.pieces import PlacedPiece
from nesting.drawing.plan_view import ALONG_STYLE
from nesting.drawing.scene import Layer, Polygon, Text, piece_style
from nesting.drawing.sketch import Box, View, scale_steps
from nesting.marked import is_straight
from nesting.measures import measure, plain
from nesting.model import Point
from nesting.sawcuts import SawCut, SawPart, SawPlan

__all__ = ["BOXES", "MarkedPart", "draw_marked_parts", "marked_parts"]

ACROSS, DOWN = 2, 2
"""Boxes beside each other and below each other in one picture."""

BOXES = ACROSS * DOWN
"""Boxes in one picture."""

TITLE, BELOW, LEFT, LINE = 2.6, 5.2, 4.5, 1.6
"""Room for titles, for the dimensions below and to the left, and for a line of words, over the letters."""

GRID_ROOM = 0.15
"""How much farther than a saw cut the lines of one cut may be apart, mm: places are rounded to the grid."""

MOST_TITLE = 3
"""Most lines of the title of a box."""

SAME = 1e-4  # mm


@dataclass(frozen=True, slots=True)
class MarkedPart:
    """Boxes of one size with the same lines marked on them.

    Parameters
    ----------
    cuts
        Those that cut them, one for each name.
    part
        One of the boxes.
    pieces
        What is cut out of it, with outlines from its own low corner.
    at_once
        Whether its two lines are the two sides of one saw cut.
    """

    cuts: tuple[SawCut, ...]
    part: SawPart
    pieces: tuple[tuple[PlacedPiece, tuple[Point, ...]], ...]
    at_once: bool = False

    @property
    def title(self) -> str:
        """Size and names in words."""
        names = ", ".join(f"{cut.part} (cut {cut.number})" for cut in self.cuts)
        return f"{' x '.join(measure(side) for side in self.part.size)}: {names}"

    @property
    def way(self) -> str:
        """On which machine it is cut, and how."""
        (cut, *_) = self.cuts
        if self.at_once:
            return f"{cut.machine}, once between the two lines"
        return f"{cut.machine}, along the line{'s' if len(cut.lines) > 1 else ''}"


def marked_parts(plan: SawPlan, pieces: Sequence[PlacedPiece]) -> list[MarkedPart]:
    """All boxes of a plan with marked lines, those that look alike together."""
    parts = {part.name: part for part in plan.parts}
    groups: dict[object, list[SawCut]] = {}
    for cut in plan.cuts:
        if cut.axis is None:
            groups.setdefault((parts[cut.part].size, cut.lines), []).append(cut)
    found = []
    for cuts in groups.values():
        part = parts[cuts[0].part]
        low = part.lows[0]
        if part.size == plan.size:
            # The raw block: what is marked is what is left when its skins are off.
            low = (plan.skins[0], plan.skins[2], plan.skins[4])
        inside = tuple(
            (piece, tuple((x - low[0], y - low[1]) for x, y in piece.outline))
            for piece in pieces
            if _is_in(piece, low, part)
        )
        found.append(MarkedPart(tuple(cuts), part, inside, _at_once(cuts[0], plan.kerfs[0])))
    return found


def _at_once(cut: SawCut, kerf: float) -> bool:
    """Whether a cut has two straight lines that are no farther apart than the blade is wide."""
    if len(cut.lines) != 2 or not all(is_straight(line) for line in cut.lines):
        return False
    (x0, y0), (x1, y1) = cut.lines[0][0], cut.lines[0][-1]
    reach = math.dist((x0, y0), (x1, y1))
    apart = [abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / reach for x, y in cut.lines[1]]
    return max(apart) <= kerf + GRID_ROOM


def _is_in(piece: PlacedPiece, low: tuple[float, float, float], part: SawPart) -> bool:
    x0, y0, x1, y1 = piece.box
    return (
        abs(piece.placement.z - low[2]) <= SAME
        and low[0] - SAME <= x0
        and x1 <= low[0] + part.size[0] + SAME
        and low[1] - SAME <= y0
        and y1 <= low[1] + part.size[1] + SAME
    )


def draw_marked_parts(page: Canvas, area: Box, parts: Sequence[MarkedPart]) -> None:
    """Draw up to `ACROSS` x `DOWN` boxes, each as large as fits to a round scale, with its lines in words."""
    least = page.paper.least
    width, height = area.width / ACROSS, area.height / DOWN
    for place, part in enumerate(parts):
        down, across = divmod(place, ACROSS)
        left, high = area.left + across * width, area.high - down * height
        _draw(page, Box(left, high - height, left + width - 2.0 * least, high), part)


def _draw(page: Canvas, area: Box, part: MarkedPart) -> None:
    least = page.paper.least
    lines = _line_words(part.cuts[0])
    title = wrapped(part.title, area.width, least, bold=True)
    if len(title) > MOST_TITLE:
        title = [*title[: MOST_TITLE - 1], f"{title[MOST_TITLE - 1]} …"]
    above = (TITLE + LINE * len(title)) * least
    length, width, _ = part.part.size
    room = area.width - LEFT * least, area.height - above - (BELOW + LINE * len(lines)) * least
    scale = scale_steps(max(length / max(room[0], 1.0), width / max(room[1], 1.0)))[0]
    view = View(scale, area.left + LEFT * least, area.high - above - width / scale)
    for number, words in enumerate((*title, f"{part.way}  (1 : {plain(scale)})")):
        foot = area.high - (1.0 + LINE * number) * least
        page.add(Text(area.left, foot, shortened(words, area.width, least), least, bold=number < len(title)))
    box = Box(*view.point(0.0, 0.0), *view.point(length, width))
    page.rect(box, Layer.TRIM)
    for piece, outline in part.pieces:
        shown = view.points(outline)
        page.add(Polygon(shown, Layer.PIECES, piece_style(piece.kind)))
        # Boxes that look alike may be for several demands: their numbers are in the list of cuts.
        code = Words(piece.demand.panel.code, bold=True)
        numbered = Words(f"{piece.number}  {code.words}", bold=True)
        choices = ((code,),) if len(part.cuts) > 1 else ((numbered,), (code,))
        draw_label(page, choices, (inner_box(shown),), 1.6 * least, least)
    page.rect(box, Layer.STOCK)
    for line in part.cuts[0].lines:
        page.line(*view.points(line), layer=Layer.CUTS, style=ALONG_STYLE)
    y, x = box.low - 1.2 * least, box.left - 1.2 * least
    page.dimension((box.left, y), (box.right, y), f"front side {measure(length)}", least, away=-1.4 * least)
    page.dimension((x, box.low), (x, box.high), f"left end {measure(width)}", least, away=1.4 * least)
    for number, words in enumerate(lines):
        foot = box.low - (BELOW + LINE * number) * least
        page.add(Text(area.left, foot, shortened(words, area.width, least), least))


def _line_words(cut: SawCut) -> list[str]:
    """Where each line begins and ends: from the left end and from the front side of the box, mm."""
    return [
        f"{'Straight' if is_straight(line) else 'Curve'} from {_point(line[0])} to {_point(line[-1])}"
        for line in cut.lines
    ]


def _point(point: Point) -> str:
    return f"{measure(point[0])} / {measure(point[1])}"
