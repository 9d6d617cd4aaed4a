"""Maps of roll markers: long markers are broken into bands that stand above each other on the pages."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

from nesting.drawing.cuts import Cut, cut_lines, first_cuts
from nesting.drawing.cutting_order import LayoutOrder, numbered
from nesting.drawing.facts import header, often
from nesting.drawing.legend import draw_in_columns, height_in_columns, legend, list_pages
from nesting.drawing.lettering import text_width
from nesting.drawing.paper import Header, Page, Paper, without_notices
from nesting.drawing.piece_art import draw_piece
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.pieces import PlacedPiece, measure, placed_pieces
from nesting.drawing.plan_view import LEADER, cut_words, labels_above
from nesting.drawing.scene import Layer, Style, Text, rectangle
from nesting.drawing.sketch import Box, View, arrow, scale_steps
from nesting.drawing.stock_facts import SeenFlaw, seen_flaws, stock_material
from nesting.drawing.tables import Table
from nesting.measures import plain, ruler, with_unit
from nesting.model import Layout, MaterialPlan, Plan, RollMaterial

__all__ = ["roll_pages"]

Band: TypeAlias = tuple[float, float]
"""Where a stretch of the lay begins and ends, mm along the roll."""

GUTTER = 8.0
"""Room left of a band for its width dimensions, over the height of the smallest letters."""

RULER = 3.6
"""Room below a band for its metre marks, over the height of the smallest letters."""

ABOVE = 2.2
"""Room above a band for its title, over the height of the smallest letters."""

NUMBER_ROOM = 1.5
"""A piece shows its number when its narrow side is so much larger than the smallest letters."""

FINEST_FOR_NUMBERS = 20.0
"""Narrow pieces never make the picture larger than 1:20: a marker must not take dozens of pages."""

MOST_FOR_LEGEND = 0.28
"""Share of a page kept free for a long legend when the scale is chosen; the rest gets a page of its own."""

BREAK_ZONE = 0.25
"""A band may be so much shorter than the page allows where that cuts fewer pieces in two."""

LEAST_MARK_SPACE = 1.8  # mm of paper between marks along a roll
BREAK_STYLE = Style(width=0.3, dashes=(5.0, 1.2, 1.0, 1.2))
FLAW_PLATE = Style(width=0.13, line="#D55E00", fill="#FFFFFF")
SAME = 1e-6  # mm; two edges closer than this are one
LEGEND_TITLE = 'Pieces in this picture ("Here": in the whole marker, one ply)'


@dataclass(frozen=True)  # without slots, for the property that is kept
class _Marker:
    """One layout of a roll with what is needed to draw it."""

    material: RollMaterial
    layout: Layout
    pieces: tuple[PlacedPiece, ...]
    flaws: tuple[SeenFlaw, ...] = ()

    @property
    def start(self) -> float:
        """x at which the lay begins, mm: the end loss lies before the marker."""
        return -self.material.end_loss

    @property
    def end(self) -> float:
        """x at which the lay ends, mm."""
        return self.layout.length + self.material.end_loss

    @property
    def side(self) -> float:
        """Strip lost on each long edge, mm; a measured width is taken to lie in the middle."""
        return max(0.0, self.material.width - self.material.usable_width) / 2.0

    @cached_property
    def across(self) -> tuple[tuple[int, Cut], ...]:
        """The first cuts, with their numbers, where they run across the roll."""
        node = self.layout.cuts
        return tuple(enumerate(first_cuts(node), start=1)) if node and node.axis == "x" else ()

    def above(self, least: float) -> float:
        """Room above a band for its title and for the measures of its first cuts, mm."""
        longest = max((text_width(cut_words(*cut), least) for cut in self.across), default=0.0)
        return ABOVE * least + (longest + (LEADER + 0.4) * least if self.across else 0.0)

    @property
    def full(self) -> float:
        """Width of the drawing, mm."""
        return self.material.usable_width + 2.0 * self.side

    def numbers_in(self, bands: Sequence[Band]) -> set[int]:
        """Position numbers of the pieces of which a part lies in one of the bands."""
        return {piece.number for band in bands for piece in self.pieces_in(band)}

    def pieces_in(self, band: Band) -> tuple[PlacedPiece, ...]:
        """The pieces of which a part lies in the band."""
        start, end = band
        return tuple(p for p in self.pieces if p.box[0] < end - SAME and p.box[2] > start + SAME)


def roll_pages(
    plan: Plan, material_plan: MaterialPlan, index: int, paper: Paper, mini: LayoutOrder | None = None
) -> list[Page]:
    """The pages of one marker.

    With its cutting order as `mini`, one page, as small as need be: pieces tell their place in that order,
    and the list of pieces goes as far as there is room.
    """
    material = stock_material(material_plan, index)
    assert isinstance(material, RollMaterial)
    layout = material_plan.layouts[index]
    pieces = placed_pieces(material_plan, index)
    if mini:
        pieces = numbered(pieces, mini)
    marker = _Marker(material, layout, pieces, seen_flaws(material_plan, index))
    heading = f"Marker {index + 1} of {len(material_plan.layouts)}: {often(material_plan, layout)}"

    def head(scale: float) -> Header:
        made = header(plan, material_plan, heading, layout, marker.pieces, [("Scale", f"1 : {plain(scale)}")])
        return made if index == 0 else without_notices(made)

    choose = _largest_on_one_page if mini else _choose
    scale, bands = choose(marker, Page(paper, head(1.0)).body, paper)
    pages: list[Page] = []
    place = 0
    while place < len(bands):
        page = Page(paper, without_notices(head(scale)) if pages else head(scale))
        count = len(bands) if mini else _bands_that_fit(marker, bands[place:], page.body, scale, paper)
        left_over = _draw_page(
            page, marker, bands, range(place, place + count), scale, alone=mini is not None
        )
        pages += [page, *list_pages(() if mini else left_over, paper, without_notices(head(scale)))]
        place += count
    return pages


def _choose(marker: _Marker, body: Box, paper: Paper) -> tuple[float, tuple[Band, ...]]:
    """Scale and bands: legible first, then few pages, then as large as possible."""
    table = legend(marker.pieces, {piece.number for piece in marker.pieces}, LEGEND_TITLE)
    below = min(height_in_columns(table, body.width, paper.least), MOST_FOR_LEGEND * body.height)
    tallest = body.height - below - marker.above(paper.least) - RULER * paper.least
    possible = scale_steps(marker.full / tallest)
    narrowest = min((min(p.box[2] - p.box[0], p.box[3] - p.box[1]) for p in marker.pieces), default=math.inf)

    def legible(scale: float) -> bool:
        numbers = narrowest / scale >= NUMBER_ROOM * paper.least or scale <= FINEST_FOR_NUMBERS
        # A narrow roll is shorter than a band at any useful scale; then the numbers alone decide.
        return numbers and (marker.full / scale >= paper.band or scale <= FINEST_FOR_NUMBERS)

    best: tuple[int, float, tuple[Band, ...]] | None = None
    for scale in [scale for scale in possible if legible(scale)] or possible[:1]:
        bands = _split(marker, (body.width - GUTTER * paper.least) * scale)
        pages = place = 0
        while place < len(bands):
            place += _bands_that_fit(marker, bands[place:], body, scale, paper)
            pages += 1
        if best is None or pages < best[0]:
            best = (pages, scale, bands)
    assert best is not None
    return best[1], best[2]


def _largest_on_one_page(marker: _Marker, body: Box, paper: Paper) -> tuple[float, tuple[Band, ...]]:
    """Scale and bands with which the whole marker stands on one page, as large as possible."""
    scales = scale_steps()
    for scale in scales:
        bands = _split(marker, (body.width - GUTTER * paper.least) * scale)
        if len(bands) * _band_height(marker, scale, paper) <= body.height:
            break
    return scale, bands


def _split(marker: _Marker, longest: float) -> tuple[Band, ...]:
    """Break the lay into bands no longer than `longest`, where as few pieces as possible are cut in two."""
    bands: list[Band] = []
    start = marker.start
    edges = sorted({p.box[0] for p in marker.pieces} | {p.box[2] for p in marker.pieces})
    while marker.end - start > longest + SAME:
        latest = start + longest
        near = [x for x in edges if start + longest * (1.0 - BREAK_ZONE) <= x <= latest] + [latest]
        cut = min(
            near, key=lambda x: (sum(p.box[0] < x - SAME and p.box[2] > x + SAME for p in marker.pieces), -x)
        )
        bands.append((start, cut))
        start = cut
    return (*bands, (start, marker.end))


def _band_height(marker: _Marker, scale: float, paper: Paper) -> float:
    return marker.full / scale + marker.above(paper.least) + RULER * paper.least


def _bands_that_fit(marker: _Marker, bands: Sequence[Band], body: Box, scale: float, paper: Paper) -> int:
    """How many bands go on one page together with the legend of their pieces; at least one."""
    count = 1
    for more in range(2, len(bands) + 1):
        table = legend(marker.pieces, marker.numbers_in(bands[:more]), LEGEND_TITLE)
        need = more * _band_height(marker, scale, paper) + height_in_columns(table, body.width, paper.least)
        if need > body.height:
            break
        count = more
    return count


def _draw_page(
    page: Page, marker: _Marker, bands: Sequence[Band], shown: range, scale: float, alone: bool
) -> tuple[Table, ...]:
    """Draw some of the bands and their legend; what of the legend finds no room is returned.

    A page that stays `alone` says so where its legend is cut short.
    """
    least = page.paper.least
    high = page.body.high
    title = LEGEND_TITLE
    for number in shown:
        start, _ = bands[number]
        low = high - _band_height(marker, scale, page.paper) + RULER * least
        left = page.body.left + GUTTER * least - start / scale
        view = View(scale, left, low + marker.side / scale)
        words = f"Band {number + 1} of {len(bands)}" if len(bands) > 1 else ""
        _draw_title(page, marker, view, bands[number], words)
        if not _draw_band(page, marker, view, bands[number]):
            title = f"{LEGEND_TITLE[:-1]}; no number: see cut list)"
        _draw_cut_measures(page, marker, view, bands[number])
        _draw_ruler(page, marker, view, bands[number])
        _draw_widths(page, marker, view, bands[number])
        high = low - RULER * least
    table = legend(marker.pieces, marker.numbers_in([bands[number] for number in shown]), title)
    box = Box(page.body.left, page.body.low, page.body.right, high)
    if alone and height_in_columns(table, box.width, least) > box.height:
        table = replace(table, title="Pieces, as far as there is room; all of them are in the cut list")
    return draw_in_columns(page, table, box, least)


def _draw_title(page: Page, marker: _Marker, view: View, band: Band, words: str) -> None:
    """Which band it is, and for one-way material which way it runs."""
    least = page.paper.least
    x, top = view.point(band[0], marker.material.usable_width + marker.side)
    y = top + marker.above(least) - (ABOVE - 0.8) * least
    if marker.material.grain == "one-way":
        words = f"{words}    ONE-WAY: nap or pattern runs this way".strip()
    if words:
        page.add(Text(x, y, words, least, bold=True))
    if marker.material.grain == "one-way":
        start = x + text_width(words, least, bold=True) + 1.5 * least
        page.add(*arrow((start, y + least / 2.0), (start + 8.0 * least, y + least / 2.0), 1.5 * least))


def _draw_band(page: Page, marker: _Marker, view: View, band: Band) -> bool:
    """Material, pieces, cuts and marks between two x; whether every piece shows its number."""
    start, end = band
    low, high = -marker.side, marker.material.usable_width + marker.side

    def area(x0: float, y0: float, x1: float, y1: float, layer: Layer) -> None:
        x0, x1 = max(x0, start), min(x1, end)
        if x1 > x0 + SAME and y1 > y0 + SAME:
            (left, bottom), (right, top) = view.point(x0, y0), view.point(x1, y1)
            page.add(rectangle(left, bottom, right - left, top - bottom, layer))

    area(start, low, end, 0.0, Layer.TRIM)
    area(start, marker.material.usable_width, end, high, Layer.TRIM)
    area(marker.start, 0.0, 0.0, marker.material.usable_width, Layer.TRIM)
    area(marker.layout.length, 0.0, marker.end, marker.material.usable_width, Layer.TRIM)
    for flaw in marker.flaws:
        area(flaw.x0, flaw.y0, flaw.x1, flaw.y1, Layer.FLAWS)
    for y in (low, high):
        page.line(view.point(start, y), view.point(end, y), layer=Layer.STOCK)

    numbered = True
    grain = marker.material.grain == "one-way"
    for piece in marker.pieces_in(band):
        written = draw_piece(page, piece, view, least=page.paper.least, show_arrow=grain, band=band)
        numbered = numbered and written
    _draw_flaw_labels(page, marker, view, band)
    for cut in cut_lines(marker.layout.cuts) if marker.layout.cuts else ():
        if cut.start[0] <= end and cut.end[0] >= start:
            ends = [(min(max(x, start), end), y) for x, y in (cut.start, cut.end)]
            page.line(*view.points(ends), layer=Layer.CUTS)
    for x, outer in ((start, marker.start), (end, marker.end)):
        at_end = abs(x - outer) < SAME
        page.line(
            view.point(x, low),
            view.point(x, high),
            layer=Layer.STOCK if at_end else Layer.FRAME,
            style=None if at_end else BREAK_STYLE,
        )
    return numbered


def _draw_flaw_labels(page: Page, marker: _Marker, view: View, band: Band) -> None:
    """Names of the flaws on this band; where a flaw is too small for words its name stands over it."""
    least = page.paper.least
    for flaw in marker.flaws:
        x0, x1 = max(flaw.x0, band[0]), min(flaw.x1, band[1])
        if x1 <= x0 + SAME:
            continue
        room = Box(*view.point(x0, flaw.y0), *view.point(x1, flaw.y1))
        words = [f"{flaw.name} DO NOT CUT {flaw.on_roll}".strip(), f"{flaw.name} DO NOT CUT", flaw.name]
        choices = [(Words(text, bold=True),) for text in words]
        if not draw_label(page, choices, (room,), 1.3 * least, least, FLAW_PLATE):
            half = text_width(flaw.name, least, bold=True) / 2.0 + 0.4 * least
            x, y = (room.left + room.right) / 2.0, (room.low + room.high) / 2.0
            page.rect(Box(x - half, y - 0.9 * least, x + half, y + 0.9 * least), Layer.FLAWS, FLAW_PLATE)
            page.centred(x, y, flaw.name, least, bold=True)


def _draw_cut_measures(page: Page, marker: _Marker, view: View, band: Band) -> None:
    """Number and measure of the first cuts on this band, from the start of the marker."""
    shown = [
        (number, cut) for number, cut in marker.across if band[0] - SAME <= cut.start[0] < band[1] - SAME
    ]
    (left, inner), right = view.point(band[0], marker.material.usable_width), view.point(band[1], 0.0)[0]
    top = view.point(0.0, marker.material.usable_width + marker.side)[1]
    feet = [view.point(*cut.start)[0] for _, cut in shown]
    words = [cut_words(number, cut) for number, cut in shown]
    labels_above(page, words, feet, (inner, top), (left, right), page.paper.least)


def _draw_ruler(page: Page, marker: _Marker, view: View, band: Band) -> None:
    """Marks along the lower edge: a long one with its number every metre or yard."""
    least = page.paper.least
    low = -marker.side
    marks = ruler()
    step = next((s for s in marks.steps if s / view.scale >= LEAST_MARK_SPACE), marks.steps[-1])
    each = round(marks.whole / step)
    last = min(band[1], marker.layout.length)
    numbered: list[float] = []
    for i in range(math.ceil((max(band[0], 0.0) - SAME) / step), math.floor((last + SAME) / step) + 1):
        at = i * step
        whole = i % each == 0
        x, y = view.point(at, low)
        page.line((x, y), (x, y - (1.0 if whole else 0.5) * least), layer=Layer.DIMENSIONS)
        if whole:
            words = f"{i // each} {marks.unit}" if i else "0"
            page.add(Text(x, y - 2.4 * least, words, least, "middle"))
            numbered.append(x)
    if last == marker.layout.length:
        x, y = view.point(last, low)
        words = f"end {with_unit(last)}"
        page.line((x, y), (x, y - least), layer=Layer.DIMENSIONS)
        half = text_width(words, least)
        middle = min(x, page.body.right - half / 2.0)
        if not numbered or middle - half / 2.0 > numbered[-1] + 3.0 * least:
            page.add(Text(middle, y - 2.4 * least, words, least, "middle"))


def _draw_widths(page: Page, marker: _Marker, view: View, band: Band) -> None:
    """Dimension lines of the usable and the full width, left of the band."""
    least = page.paper.least
    usable = marker.material.usable_width
    left, low = view.point(band[0], 0.0)
    _width_dimension(page, left - 1.6 * least, low, view.point(0.0, usable)[1], "usable", usable)
    if marker.side > 0:
        full = (view.point(0.0, -marker.side)[1], view.point(0.0, usable + marker.side)[1])
        _width_dimension(page, left - 5.0 * least, *full, "full", marker.full)


def _width_dimension(page: Page, x: float, low: float, high: float, name: str, width: float) -> None:
    least = page.paper.least
    for words in (f"{name} {measure(width)}", measure(width)):
        if text_width(words, least) <= high - low:
            page.dimension((x, low), (x, high), words, least, away=1.2 * least)
            return
    page.dimension((x, low), (x, high), "", least, away=0.0)
    page.add(Text(x - 0.6 * least, (low + high - least) / 2.0, measure(width), least, "end"))
