"""All panels of a model and size on one sheet, at one scale, with their cut sizes, marks and names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.drawing.lettering import shortened, text_width, wrapped
from nesting.drawing.mark_legend import draw_mark_legend, legend_height, mark_kinds
from nesting.drawing.paper import LEADING, PAPERS, find_paper
from nesting.drawing.piece_art import mark_items, real_edges
from nesting.drawing.pieces import box_corners, measure
from nesting.drawing.scene import Layer, Line, Polygon, Scene, Style, Text, piece_style
from nesting.drawing.sketch import Box, Sketch, View, clipped, scale_steps
from nesting.measures import measures_note, plain
from nesting.model import Mark, Material, Panel

__all__ = ["panel_sheet"]

LEAST = PAPERS["A3"].least

SIDE_ROOM, SIDE_WORDS = 4.0 * LEAST, 2.4 * LEAST
"""Room left of a panel for its width dimension, mm, and to the right of words that stand level there."""

DIMENSION_ROOM = 4.0 * LEAST
"""Room below a panel for its length dimension, mm."""

LEAST_CAPTION = 55.0
"""Captions may always be so wide, mm, however small the panel."""

GAP = 4.0 * LEAST
"""Distance of panels on the sheet, mm."""

SMALLEST_SCALE = 30.0
"""From 1:30 on more pages are taken; only a panel that does not fit a page is drawn smaller."""

SLENDER = 15.0
"""Panels so many times longer than wide are drawn interrupted where they are long on paper."""

MOST_SLENDER = 0.6
"""Share of the page's width from which on a slender panel is interrupted."""

BREAK_GAP = 5.0
"""Space between the two ends of an interrupted panel, mm."""

BREAK_STYLE = Style(width=0.3, dashes=(3.0, 1.0, 1.0, 1.0))
FOOTER = (
    "Cut sizes, all allowances included; length along the material to the right. {note} This sheet shows "
    "what is cut; it does not certify fire performance or safety."
)
SAME = 1e-6  # mm


@dataclass(frozen=True, slots=True)
class _Place:
    """A panel on a page: lower left corner of its cell, mm."""

    panel: Panel
    kind: int
    left: float
    low: float


def panel_sheet(
    title: str,
    panels: Sequence[Panel],
    materials: Mapping[str, Material],
    paper: str = "A3",
    *,
    smallest: float = SMALLEST_SCALE,
    before: int = 0,
    explained: bool = False,
) -> tuple[Scene, ...]:
    """Pages with every panel of one model and size.

    Parameters
    ----------
    title
        Usually model and size.
    panels
        What to draw, in this order.
    materials
        By key, for their names; a key that is missing is printed as it is.
    paper
        Which of `PAPERS`, lying.
    smallest
        From this scale on more pages are taken.
    before
        How many pages come before these, for the page numbers.
    explained
        Say on every page what the marks mean.

    Returns
    -------
    tuple of Scene
        In paper millimetres; at least one page. All pages have the same scale, the largest at which
        the panels fit one page, or else 1 : `smallest`, or what the largest panel needs.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    sheet = find_paper(paper)
    frame = Box(sheet.margin, sheet.margin, sheet.width - sheet.margin, sheet.height - sheet.margin)
    footer = wrapped(FOOTER.format(note=measures_note()), frame.width, LEAST)
    low = frame.low + (1.3 + LEADING * len(footer)) * LEAST
    kinds = mark_kinds(panels) if explained else ()
    legend = Box(frame.left, low, frame.right, low + legend_height(kinds, frame.width, LEAST))
    low = legend.high + (LEAST if kinds else 0.0)
    room = Box(frame.left, low, frame.right, frame.high - 6.0 * LEAST)
    for scale in scale_steps():
        pages, fits = _arranged(panels, scale, room)
        if fits and (len(pages) == 1 or scale >= smallest):
            break
    scenes = []
    for number, places in enumerate(pages, start=1):
        sketch = Sketch()
        words = f"1 : {plain(scale)}    page {before + number} of {before + len(pages)}"
        size = 2.0 * LEAST
        line = frame.high - size
        width = frame.width - text_width(words, 1.5 * LEAST) - 4.0 * LEAST
        sketch.add(
            Text(frame.left, line, shortened(title, width, size, bold=True), size, bold=True),
            Text(frame.right, line, words, 1.5 * LEAST, "end"),
        )
        for count, part in enumerate(reversed(footer)):
            sketch.add(Text(frame.left, frame.low + count * LEADING * LEAST, part, LEAST))
        sketch.line((frame.left, line - LEAST), (frame.right, line - LEAST), layer=Layer.FRAME)
        if kinds:
            draw_mark_legend(sketch, kinds, legend, LEAST)
        for place in places:
            _draw_panel(sketch, place, scale, materials, room)
        items = tuple(sketch.items)
        scenes.append(Scene(title=f"{title} ({words})", width=sheet.width, height=sheet.height, items=items))
    return tuple(scenes)


def _shown_length(panel: Panel, scale: float, room: Box) -> float:
    """Length of the panel on paper, mm; shorter than true for long slender panels."""
    length = panel.length / scale
    most = MOST_SLENDER * room.width
    if length > most and panel.length > SLENDER * panel.width:
        return most
    return length


def _cell(panel: Panel, scale: float, room: Box) -> tuple[float, float]:
    """Width and height of a panel with its dimensions and caption on paper, mm."""
    width = max(_shown_length(panel, scale, room), LEAST_CAPTION)
    height = panel.width / scale + DIMENSION_ROOM + len(_caption(panel, "", width)) * LEADING * LEAST
    return _side_room(panel, scale) + width, height


def _side_room(panel: Panel, scale: float) -> float:
    """Room left of a panel for its width: level words, for which a panel is too narrow, may need more."""
    words = text_width(measure(panel.width), LEAST)
    return SIDE_ROOM if words <= panel.width / scale else max(SIDE_ROOM, words + SIDE_WORDS)


def _caption(panel: Panel, material: str, room: float) -> list[str]:
    """The lines below a panel: name, sizes, material and its note, none wider than `room` mm."""
    thickness = f", {measure(panel.thickness)} thick" if panel.thickness is not None else ""
    shared = f", {panel.per_slab} from each slab" if panel.per_slab > 1 else ""
    lines = (
        f"{panel.code}  {panel.name}",
        f"{measure(panel.length)} x {measure(panel.width)}{thickness}, {panel.pieces} per bed{shared}",
        material,
    )
    short = [shortened(line, room, LEAST, bold=number == 0) for number, line in enumerate(lines)]
    return short + wrapped(panel.remarks, room, LEAST)


def _arranged(panels: Sequence[Panel], scale: float, room: Box) -> tuple[list[list[_Place]], bool]:
    """Panels in rows from the top left, as in a book, and whether each of them fits a page."""
    codes = {code: kind for kind, code in enumerate(sorted({panel.code for panel in panels}))}
    pages: list[list[_Place]] = [[]]
    left, high, tallest = room.left, room.high, 0.0
    for panel in panels:
        width, height = _cell(panel, scale, room)
        if left > room.left and left + width > room.right:
            left, high, tallest = room.left, high - tallest - GAP, 0.0
        if high - height < room.low and pages[-1]:
            pages.append([])
            left, high, tallest = room.left, room.high, 0.0
        pages[-1].append(_Place(panel, codes[panel.code], left, high - height))
        left += width + GAP
        tallest = max(tallest, height)
    cells = [_cell(panel, scale, room) for panel in panels]
    fits = all(width <= room.width and height <= room.height for width, height in cells)
    return pages, fits


def _draw_panel(
    sketch: Sketch, place: _Place, scale: float, materials: Mapping[str, Material], room: Box
) -> None:
    panel = place.panel
    shown = _shown_length(panel, scale, room)
    left = place.left + _side_room(panel, scale)
    material = materials.get(panel.material)
    lines = _caption(panel, material.name if material else panel.material, max(shown, LEAST_CAPTION))
    caption = len(lines) * LEADING * LEAST
    low = place.low + caption + DIMENSION_ROOM
    high = low + panel.width / scale
    whole = shown >= panel.length / scale - SAME
    # Words of marks keep clear of the two dimensions.
    middle = (low + high) / 2.0
    taken = [
        Box(place.left, min(low, middle - LEAST), left, max(high, middle + LEAST)),
        Box(left, low - DIMENSION_ROOM, left + shown, low),
    ]
    if whole:
        _draw_part(sketch, place, View(scale, left, low), (0.0, panel.length), taken)
    else:
        half = (shown - BREAK_GAP) / 2.0
        end = View(scale, left + shown - panel.length / scale, low)
        _draw_part(sketch, place, View(scale, left, low), (0.0, half * scale), taken)
        _draw_part(sketch, place, end, (panel.length - half * scale, panel.length), taken)
    y, x = low - 1.6 * LEAST, left - 1.6 * LEAST
    sketch.dimension((left, y), (left + shown, y), measure(panel.length), LEAST, away=-1.4 * LEAST)
    words = measure(panel.width)
    if text_width(words, LEAST) <= high - low:
        sketch.dimension((x, low), (x, high), words, LEAST, away=1.2 * LEAST)
    else:
        sketch.dimension((x, low), (x, high), "", LEAST, away=0.0)
        sketch.add(Text(x - 0.6 * LEAST, (low + high - LEAST) / 2.0, words, LEAST, "end"))
    for number, line in enumerate(lines):
        base = place.low + caption - (number + 0.8) * LEADING * LEAST
        sketch.add(Text(left, base, line, LEAST, bold=number == 0))


def _draw_part(
    sketch: Sketch, place: _Place, view: View, limits: tuple[float, float], taken: list[Box]
) -> None:
    """A whole panel, or the part of it between two x with open edges where it is interrupted."""
    panel = place.panel
    outline = panel.outline or box_corners(panel.length, panel.width)
    style = piece_style(place.kind)
    start, end = limits
    if start <= 0.0 and end >= panel.length:
        sketch.add(Polygon(view.points(outline), Layer.PIECES, style))
    else:
        part = view.points(clipped(outline, start, end))
        sketch.add(
            Polygon(
                part,
                Layer.PIECES,
                Style(width=0.0, fill=style.fill, hatch=style.hatch, hatch_line=style.hatch_line),
            )
        )
        open_x = view.point(end if start <= 0.0 else start, 0.0)[0]
        for edge in real_edges(part, (open_x,), SAME):
            sketch.add(Line(edge, Layer.PIECES, Style(width=style.width)))
        (_, low), (_, high) = view.point(0.0, 0.0), view.point(0.0, panel.width)
        sketch.line((open_x, low - LEAST), (open_x, high + LEAST), layer=Layer.FRAME, style=BREAK_STYLE)
    centre = view.point(panel.length / 2.0, panel.width / 2.0)
    box = Box(*view.point(0.0, 0.0), *view.point(panel.length, panel.width))
    right = view.point(end, 0.0)[0]
    named: set[str] = set()
    for mark in panel.marks:
        if all(start - SAME <= x <= end + SAME for x, _ in mark.points):
            points = view.points(mark.points)
            sketch.add(*mark_items(mark, points, box, LEAST))
            if len(points) < 2 or mark.text not in named:  # lines of one name are told once
                _name_mark(sketch, mark, points[0] if points else centre, right, taken)
                named.add(mark.text)


def _name_mark(sketch: Sketch, mark: Mark, at: tuple[float, float], edge: float, taken: list[Box]) -> None:
    """The mark's words beside it, where they run into no other and stay left of the panel's edge."""
    words = mark.text or ("" if mark.kind in ("notch", "grain", "fold", "seam", "slat") else mark.kind)
    width = text_width(words, LEAST)
    away = 0.8 * LEAST
    for dx, dy in (
        (away, away),
        (-away - width, away),
        (away, -away - LEAST),
        (-away - width, -away - LEAST),
    ):
        box = Box(at[0] + dx, at[1] + dy, at[0] + dx + width, at[1] + dy + LEAST)
        free = all(
            box.right <= other.left
            or other.right <= box.left
            or box.high <= other.low
            or other.high <= box.low
            for other in taken
        )
        if words and free and box.right <= edge:
            taken.append(box)
            plate = Style(width=0.0, fill="#FFFFFF")
            sketch.rect(
                Box(box.left - 0.3, box.low - 0.4, box.right + 0.3, box.high + 0.4), Layer.TEXT, plate
            )
            sketch.add(Text(box.left, box.low, words, LEAST))
            return
