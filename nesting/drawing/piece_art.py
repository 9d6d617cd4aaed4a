"""Drawing one piece on a page: outline, marks, label and the direction of the material."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from nesting.drawing.piece_labels import clear_rooms, draw_label, inner_box, label_choices
from nesting.drawing.pieces import PlacedPiece
from nesting.drawing.scene import STYLES, Circle, Item, Layer, Line, Polygon, Style, extent, piece_style
from nesting.drawing.sketch import Box, Sketch, View, arrow, clipped
from nesting.model import Mark, Point

__all__ = ["draw_direction", "draw_piece", "mark_items", "real_edges"]

SAME = 1e-6  # mm; two edges closer than this are one
MOST_LETTERS = 1.6
"""Greatest letters on a piece over the smallest on the page."""

MARK_STYLES: dict[str, Style] = {
    "fold": replace(STYLES[Layer.MARKS], dashes=(2.5, 1.0)),
    "seam": replace(STYLES[Layer.MARKS], dashes=(1.0, 0.7)),
}


def draw_piece(
    sketch: Sketch,
    piece: PlacedPiece,
    view: View,
    *,
    least: float,
    show_arrow: bool = False,
    band: tuple[float, float] | None = None,
) -> bool:
    """Draw a piece, or the part of it between two x; whether at least its number could be written.

    Parameters
    ----------
    view
        From material to page.
    least
        Height of the smallest letters, mm.
    show_arrow
        Draw the direction of the material, turned with the piece.
    band
        Only the part between these two x of the material is drawn, with open edges where the piece
        goes on; None for the whole piece.
    """
    style = piece_style(piece.kind)
    left, low, right, high = piece.box
    start, end = band or (left, right)
    whole = left >= start - SAME and right <= end + SAME
    outline = view.points(piece.outline if whole else clipped(piece.outline, start, end))
    sketch.add(Polygon(outline, Layer.PIECES, style if whole else replace(style, width=0.0)))
    if not whole:
        beyond = ((start, left < start - SAME), (end, right > end + SAME))
        limits = [view.point(x, 0.0)[0] for x, goes_on in beyond if goes_on]
        for edge in real_edges(outline, limits, SAME):
            sketch.add(Line(edge, Layer.PIECES, replace(style, fill=None)))

    box = Box(*view.point(left, low), *view.point(right, high))
    avoided: list[Sequence[Point]] = []
    signs: list[Item] = []
    for mark in piece.marks:
        shown = view.points(_between(mark.points, start, end))
        items = mark_items(mark, shown, box, least)
        if len(shown) == 1 or (shown and mark.kind == "grain"):
            avoided.append(_middle(items) if mark.kind == "label" else shown)
            signs += items
        else:
            sketch.add(*items)  # before the label: its plate may interrupt a line, but must not hide a sign

    room = inner_box(outline)
    if show_arrow:
        room = draw_direction(sketch, room, piece.placement.turn, least)
    rooms = clear_rooms(room, avoided, 0.8 * least)
    plate = Style(width=0.0, fill=style.fill)
    written = draw_label(sketch, label_choices(piece), rooms, MOST_LETTERS * least, least, plate)
    sketch.add(*signs)
    return written


def _middle(items: Sequence[Item]) -> tuple[Point, ...]:
    """The middle of a sign that is one outline."""
    (outline,) = [item for item in items if isinstance(item, Polygon)]
    left, low, right, high = extent(outline.points)
    return (((left + right) / 2.0, (low + high) / 2.0),)


def _between(points: Sequence[Point], start: float, end: float) -> tuple[Point, ...]:
    """A mark's points if they lie between two x; of a line of two points the part that does."""
    if all(start - SAME <= x <= end + SAME for x, _ in points):
        return tuple(points)
    if len(points) != 2:
        return ()
    (x0, y0), (x1, y1) = points
    a, b = min(max(x0, start), end), min(max(x1, start), end)
    if abs(a - b) < SAME:
        return ()
    slope = (y1 - y0) / (x1 - x0)
    return (a, y0 + slope * (a - x0)), (b, y0 + slope * (b - x0))


def draw_direction(sketch: Sketch, room: Box, turn: float, least: float) -> Box:
    """An arrow in the lower left of the room, and what is left of the room for the label.

    Where a label would not fit beside it the arrow is left out: the band carries one as well.
    """
    length, height = 5.0 * least, 2.0 * least
    if room.height >= height + 4.0 * least and room.width >= 1.5 * length:
        rest = Box(room.left, room.low + height, room.right, room.high)
    elif room.width >= 3.0 * length and room.height >= 1.2 * least:
        rest = Box(room.left + 1.3 * length, room.low, room.right, room.high)
    else:
        return room
    angle = math.radians(turn)
    half = length / 2.0 if turn % 180.0 == 0.0 else min(length, height) / 2.0
    x = room.left + 0.65 * length
    y = room.low + min(height, room.height) / 2.0
    dx, dy = half * math.cos(angle), half * math.sin(angle)
    sketch.add(*arrow((x - dx, y - dy), (x + dx, y + dy), 0.9 * least))
    return rest


ON_EDGE = 0.11
"""Marks so close to a side of the piece's box are on it, mm; they are kept to tenths."""


def _inward(at: Point, box: Box) -> Point:
    """Direction of a notch, of length 1: square to the side of the box it lies on, else to the middle.

    On a long strip the middle would lie almost along the edge.
    """
    x, y = at
    on_end = min(abs(x - box.left), abs(x - box.right)) <= ON_EDGE
    on_side = min(abs(y - box.low), abs(y - box.high)) <= ON_EDGE
    dx, dy = (box.left + box.right) / 2.0 - x, (box.low + box.high) / 2.0 - y
    if on_end and not on_side:
        dy = 0.0
    elif on_side and not on_end:
        dx = 0.0
    away = math.hypot(dx, dy) or 1.0
    return dx / away, dy / away


def _within(at: float, low: float, high: float, half: float) -> float:
    """The place nearest to `at` where a sign of twice `half` lies between two sides, or their middle."""
    return min(max(at, low + half), high - half) if high - low >= 2.0 * half else (low + high) / 2.0


def mark_items(mark: Mark, points: Sequence[Point], box: Box, size: float) -> tuple[Item, ...]:
    """How a mark is drawn: a line for two points or more, else a sign of `size` mm.

    Parameters
    ----------
    mark
        What it is.
    points
        Where its points are to be drawn.
    box
        Of the piece, drawn there too: notches point into it, and the sign of a label lies in it, as beyond
        the edge it would be on the neighbour.
    """
    if len(points) > 1:
        if mark.kind == "grain":
            return arrow(points[0], points[-1], size)
        return (Line(tuple(points), Layer.MARKS, MARK_STYLES.get(mark.kind)),)
    if not points:
        return ()
    x, y = points[0]
    half = size / 2.0
    if mark.kind == "notch":
        dx, dy = _inward((x, y), box)
        return (Line(((x, y), (x + dx * size, y + dy * size)), Layer.MARKS),)
    if mark.kind == "label":
        x, y = _within(x, box.left, box.right, half), _within(y, box.low, box.high, half)
        corners = ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))
        return (Polygon(corners, Layer.MARKS),)
    # One stroke of the pen there and back, as files grow with every line.
    cross = Line(((x - half, y), (x + half, y), (x, y), (x, y + half), (x, y - half)), Layer.MARKS)
    if mark.kind in ("drill", "vent"):
        return Circle(x, y, 0.7 * half, Layer.MARKS), cross
    return (cross,)


def real_edges(
    outline: Sequence[Point], limits: Sequence[float], tolerance: float
) -> tuple[tuple[Point, ...], ...]:
    """The lines of a clipped outline without the edges that lie on the clipping limits.

    Joined where they follow each other, so that dashes and corners look as in one piece.
    """
    runs: list[list[Point]] = []
    joined = False
    for a, b in pairwise([*outline, outline[0]]):
        on_limit = any(abs(a[0] - limit) < tolerance and abs(b[0] - limit) < tolerance for limit in limits)
        if on_limit:
            joined = False
        elif joined:
            runs[-1].append(b)
        else:
            runs.append([a, b])
            joined = True
    return tuple(tuple(run) for run in runs)
