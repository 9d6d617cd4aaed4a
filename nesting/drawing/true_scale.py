"""Markers and sheets at true scale on paper: for a plotter, or tiled on sheets that are glued together.

A page keeps the coordinates of the layout, so nothing is scaled on the way to the paper. Every page carries
its row and column, a rule of 100 mm to measure before the print is used, and register marks on the lines at
which pages meet. A map of the pages comes first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.drawing.cuts import cut_lines, remnant_leaves, usable_box
from nesting.drawing.cutting_order import LayoutOrder, numbered
from nesting.drawing.facts import STOCK_WORDS, caution, often
from nesting.drawing.lettering import shortened, text_width, wrapped
from nesting.drawing.paper import LEADING
from nesting.drawing.piece_art import draw_direction, mark_items
from nesting.drawing.piece_labels import Words, clear_rooms, draw_label, inner_box, label_choices
from nesting.drawing.pieces import PlacedPiece, is_lengths, measure, placed_pieces
from nesting.drawing.scene import (
    STYLES,
    Item,
    Layer,
    Line,
    Polygon,
    Scene,
    Style,
    Text,
    piece_style,
    rectangle,
)
from nesting.drawing.sketch import Box, Sketch, View, overlap
from nesting.drawing.stock_facts import SeenFlaw, seen_flaws, stock_material
from nesting.drawing.tiles import MARGIN, SHEETS, Tile, Tiling, plotter_tiles, sheet_tiles
from nesting.drawing.window import clipped_outline, seen
from nesting.measures import shown_for, with_unit
from nesting.model import BlockMaterial, CutNode, MaterialPlan, Plan, Point, RollMaterial

__all__ = ["CHECK_RULE", "Target", "can_be_drawn_full_size", "true_scale_pages", "true_scale_tiling"]

CHECK_RULE = 100.0
"""Length of the rule on every page, mm."""

SIGN = 10.0
"""Size of the signs for holes, notches and fittings, mm."""

LEAST_LETTERS = 3.0
"""Smallest height of the capitals on a piece, mm."""

LEAST_ROOM = 6.0
"""A part of a piece that is narrower than this on a page has no label there, mm."""

PLOTTER_LETTERS, SHEET_LETTERS = (20.0, 3.5), (7.0, 2.2)
"""Greatest height of the capitals on a piece, and their height in the margin of a page, mm."""

METRE = 1000.0
PIECE = replace(STYLES[Layer.PIECES], width=0.4)
EDGE = replace(STYLES[Layer.STOCK], width=0.6)
USABLE = replace(STYLES[Layer.STOCK], width=0.25, dashes=(8.0, 3.0))
FLAW = replace(STYLES[Layer.FLAWS], spacing=20.0)
JOIN = Style(width=0.15, dashes=(1.5, 1.5))
REGISTER = Style(width=0.2)
REGISTER_PLACES = (0.25, 0.75)
"""Where register marks stand along the line at which two pages meet, as shares of it."""

MAP_SHEET = "A4"
LEAST_ON_MAP = 1.3
"""Smallest letters of page names on the page map, mm; rows and columns are named outside it as well."""

CHECK_WORDS = "= {length} mm. Print at 100 %, not fitted to the page."


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What the full-size drawing is printed on; one of `plotter_width` and `sheet` is given.

    Parameters
    ----------
    plotter_width
        Width of the paper on the plotter, mm.
    sheet
        Key of a paper size of `tiles.SHEETS`.
    overlap
        Width of the strip that neighbouring pages share, mm.
    """

    plotter_width: float | None = None
    sheet: str | None = None
    overlap: float = 10.0


def can_be_drawn_full_size(material_plan: MaterialPlan) -> bool:
    """Rolls and sheets can; foam blocks are no drawing, and tapes are only cut to length."""
    return material_plan.material.kind != "block" and not is_lengths(material_plan)


def true_scale_tiling(material_plan: MaterialPlan, index: int, target: Target) -> Tiling:
    """The pages that layout `index` takes. The rim of a roll is drawn where that takes no more pages.

    Raises
    ------
    DrawingError
        When the target is out of bounds.
    """
    wide, narrow = (_tiling(area, target) for area in _areas(material_plan, index))
    return wide if len(wide.tiles) <= len(narrow.tiles) else narrow


def _tiling(area: Box, target: Target) -> Tiling:
    if target.plotter_width is not None:
        return plotter_tiles(area, target.plotter_width, target.overlap)
    return sheet_tiles(area, SHEETS[target.sheet or MAP_SHEET], target.overlap)


def _areas(material_plan: MaterialPlan, index: int) -> tuple[Box, Box]:
    """What should be seen, and what must be: for a roll with its rim and the ends of the lay, and without."""
    material, layout = stock_material(material_plan, index), material_plan.layouts[index]
    assert not isinstance(material, BlockMaterial)
    if not isinstance(material, RollMaterial):
        whole = Box(0.0, 0.0, material.length, material.width)
        return whole, whole
    usable = material.usable_width
    side = max(0.0, material.width - usable) / 2.0
    end = material.end_loss
    return Box(-end, -side, layout.length + end, usable + side), Box(0.0, 0.0, layout.length, usable)


def true_scale_pages(
    plan: Plan,
    material_plan: MaterialPlan,
    index: int,
    target: Target,
    cutting: LayoutOrder | None = None,
) -> tuple[Scene, ...]:
    """Layout `index` at true scale: the page map, if there is more than one page, and the pages row by row.

    Parameters
    ----------
    plan
        For what is written on the pages.
    material_plan
        One of its materials, for which `can_be_drawn_full_size` holds.
    cutting
        Every piece gets its place in this cutting order; without it, none.

    Returns
    -------
    tuple of Scene
        Pages at a scale of 1 : 1, in the coordinates of the layout (page map: in paper millimetres).

    Raises
    ------
    DrawingError
        When the target is out of bounds.
    LayoutError
        When the layout refers to a piece that is not among the demands.
    """
    assert not isinstance(material_plan.material, BlockMaterial)
    with shown_for(plan.workshop):
        return tuple(_pages(plan, material_plan, index, target, cutting))


def _pages(
    plan: Plan, material_plan: MaterialPlan, index: int, target: Target, cutting: LayoutOrder | None
) -> list[Scene]:
    pieces = placed_pieces(material_plan, index)
    pieces = numbered(pieces, cutting) if cutting else pieces
    tiling = true_scale_tiling(material_plan, index, target)
    words = STOCK_WORDS[material_plan.material.kind]
    name = f"{material_plan.material.name}, {words} {index + 1} of {len(material_plan.layouts)}"
    stamp = f"{name}, plan {plan.number}, made {plan.made}" if plan.number else f"{name}, made {plan.made}"
    lines = list(_outlines(material_plan, index, pieces, tiling.area))
    letters, small = PLOTTER_LETTERS if target.plotter_width is not None else SHEET_LETTERS
    rests = remnant_leaves(material_plan.material, material_plan.layouts[index].cuts)
    pages = []
    for tile in tiling.tiles:
        sketch = Sketch()
        sketch.add(*seen(lines, tile.box))
        _draw_words(sketch, material_plan, pieces, tile, letters)
        _draw_kept(sketch, rests, tile, letters)
        _draw_flaw_words(sketch, seen_flaws(material_plan, index), tile, letters)
        _draw_register(sketch, tiling, tile)
        _draw_margin(sketch, tiling, tile, stamp, small)
        pages.append(
            Scene(
                title=f"{tile.name}: {stamp}",
                width=tile.box.width + 2.0 * MARGIN,
                height=tile.box.height + 2.0 * MARGIN,
                items=tuple(sketch.items),
                left=tile.box.left - MARGIN,
                low=tile.box.low - MARGIN,
            )
        )
    if len(pages) > 1:
        heading = f"{name}: {often(material_plan, material_plan.layouts[index])}"
        pages.insert(0, _page_map(plan, material_plan, pieces, tiling, heading, target))
    return pages


def _outlines(
    material_plan: MaterialPlan, index: int, pieces: Sequence[PlacedPiece], area: Box
) -> Iterator[Item]:
    """Everything that is drawn but the words: material, pieces, marks and cuts."""
    material, layout = stock_material(material_plan, index), material_plan.layouts[index]
    yield rectangle(area.left, area.low, area.width, area.height, Layer.STOCK, EDGE)
    left, low, length, width = usable_box(material, layout.length)
    usable = rectangle(left, low, length, width, Layer.STOCK, USABLE)
    if Box(left, low, left + length, low + width) != area:
        yield usable
    if isinstance(material, RollMaterial):
        for metre in range(1, int(layout.length // METRE) + 1):
            yield Line(((metre * METRE, low), (metre * METRE, low + SIGN)), Layer.DIMENSIONS)
    for piece in pieces:
        yield Polygon(piece.outline, Layer.PIECES, PIECE)
        x0, y0, x1, y1 = piece.box
        for mark in piece.marks:
            yield from mark_items(mark, mark.points, ((x0 + x1) / 2.0, (y0 + y1) / 2.0), SIGN)
    for flaw in seen_flaws(material_plan, index):
        yield rectangle(flaw.x0, flaw.y0, flaw.x1 - flaw.x0, flaw.y1 - flaw.y0, Layer.FLAWS, FLAW)
    for cut in cut_lines(layout.cuts) if layout.cuts else ():
        yield Line((cut.start, cut.end), Layer.CUTS)
    for leaf in remnant_leaves(material, layout.cuts):
        yield replace(rectangle(leaf.x, leaf.y, leaf.length, leaf.width, Layer.REMNANTS), style=USABLE)


def _draw_words(
    sketch: Sketch,
    material_plan: MaterialPlan,
    pieces: Sequence[PlacedPiece],
    tile: Tile,
    letters: float,
) -> None:
    """Labels on what of each piece belongs to this page, so that no label is cut in two where pages meet."""
    one_way = _is_one_way(material_plan)
    for piece in pieces:
        if not overlap(Box(*piece.box), tile.core):
            continue
        part = clipped_outline(piece.outline, tile.core)
        if not part:
            continue
        room = inner_box(part)
        if min(room.width, room.height) < LEAST_ROOM:
            continue
        if one_way:
            room = draw_direction(sketch, room, piece.placement.turn, letters)
        signs = [mark.points for mark in piece.marks if len(mark.points) == 1 or mark.kind == "grain"]
        draw_label(sketch, label_choices(piece), clear_rooms(room, signs, SIGN), letters, LEAST_LETTERS)


def _is_one_way(material_plan: MaterialPlan) -> bool:
    material = material_plan.material
    return not isinstance(material, BlockMaterial) and material.grain == "one-way"


def _draw_kept(sketch: Sketch, rests: Sequence[CutNode], tile: Tile, letters: float) -> None:
    for leaf in rests:
        rest = Box(leaf.x, leaf.y, leaf.x + leaf.length, leaf.y + leaf.width)
        if overlap(rest, tile.core):
            room = _shared(rest, tile.core)
            words = Words(f"KEEP {measure(leaf.length)} x {measure(leaf.width)}")
            draw_label(sketch, ((words,),), (room,), letters, LEAST_LETTERS)


def _draw_flaw_words(sketch: Sketch, flaws: Sequence[SeenFlaw], tile: Tile, letters: float) -> None:
    for flaw in flaws:
        spot = Box(flaw.x0, flaw.y0, flaw.x1, flaw.y1)
        if overlap(spot, tile.core):
            words = (Words(f"{flaw.name} FLAW, DO NOT CUT", bold=True), Words(flaw.name, bold=True))
            plate = Style(width=0.0, fill="#FFFFFF")
            room = _shared(spot, tile.core)
            draw_label(sketch, [(line,) for line in words], (room,), letters, LEAST_LETTERS, plate)


def _shared(one: Box, other: Box) -> Box:
    return Box(
        max(one.left, other.left),
        max(one.low, other.low),
        min(one.right, other.right),
        min(one.high, other.high),
    )


def _draw_register(sketch: Sketch, tiling: Tiling, tile: Tile) -> None:
    """The lines at which pages meet, with crosses that come to lie upon those of the neighbour."""
    core, arm = tile.core, 0.45 * tiling.overlap
    upright = [core.left] * (tile.column > 1) + [core.right] * (tile.column < tiling.columns)
    level = [core.high] * (tile.row > 1) + [core.low] * (tile.row < tiling.rows)
    for x in upright:
        sketch.line((x, core.low), (x, core.high), layer=Layer.FRAME, style=JOIN)
        for share in REGISTER_PLACES:
            _register_mark(sketch, (x, core.low + share * core.height), arm)
    for y in level:
        sketch.line((core.left, y), (core.right, y), layer=Layer.FRAME, style=JOIN)
        for share in REGISTER_PLACES:
            _register_mark(sketch, (core.left + share * core.width, y), arm)


def _register_mark(sketch: Sketch, at: Point, arm: float) -> None:
    """A cross in a diamond: crosses in circles are holes in pieces."""
    x, y = at
    sketch.line((x - arm, y), (x + arm, y), layer=Layer.CHECK, style=REGISTER)
    sketch.line((x, y - arm), (x, y + arm), layer=Layer.CHECK, style=REGISTER)
    half = 0.7 * arm
    sketch.add(Polygon(((x + half, y), (x, y + half), (x - half, y), (x, y - half)), Layer.CHECK, REGISTER))


def _draw_margin(sketch: Sketch, tiling: Tiling, tile: Tile, stamp: str, size: float) -> None:
    """Page name, neighbours and plan above; the rule below; ticks at the corners of what is printed."""
    box = tile.box
    for x, outward in ((box.left, -1.0), (box.right, 1.0)):
        for y, up in ((box.low, -1.0), (box.high, 1.0)):
            sketch.line((x + outward, y), (x + outward * 4.0, y), layer=Layer.FRAME)
            sketch.line((x, y + up), (x, y + up * 4.0), layer=Layer.FRAME)
    top = box.high + 2.0
    words = f"{tile.name}  (row {tile.row} of {tiling.rows}, column {tile.column} of {tiling.columns})"
    sketch.add(Text(box.left + 2.0, top, words, size, bold=True))
    start = text_width(words, size, bold=True) + 4.0 * size
    room = box.width - start - 4.0
    sketch.add(Text(box.left + start, top, shortened(stamp, room, size), size))
    left, y = box.left + 2.0, box.low - 3.5
    length = min(CHECK_RULE, box.width - 4.0)
    for at in (0.0, length / 2.0, length):
        sketch.line((left + at, y - 1.2), (left + at, y + 1.2), layer=Layer.CHECK, style=REGISTER)
    sketch.line((left, y), (left + length, y), layer=Layer.CHECK, style=REGISTER)
    words = CHECK_WORDS.format(length=f"{length:.0f}")
    words = shortened(words, box.width - length - 4.0 - 3.0 * size, size)
    sketch.add(Text(left + length + size, y - size / 2.0, words, size, bold=True))


def _page_map(
    plan: Plan,
    material_plan: MaterialPlan,
    pieces: Sequence[PlacedPiece],
    tiling: Tiling,
    heading: str,
    target: Target,
) -> Scene:
    """Which page goes where, how to print and join them, and a caution."""
    height, width = SHEETS[target.sheet or MAP_SHEET]
    size = 2.0 * width / SHEETS[MAP_SHEET][1]  # on large paper people stand further away
    frame = Box(MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    sketch = Sketch()
    y = frame.high - 2.0 * size
    sketch.add(
        Text(frame.left, y, shortened(heading, frame.width, 1.7 * size, bold=True), 1.7 * size, bold=True)
    )
    for words in _instructions(plan, material_plan, tiling, target):
        for line in wrapped(words, frame.width, size):
            y -= LEADING * size
            sketch.add(Text(frame.left, y, line, size))
    low = frame.low
    for line in reversed(wrapped(f"CAUTION. {caution(material_plan)}", frame.width, size)):
        sketch.add(Text(frame.left, low, line, size))
        low += LEADING * size
    room = Box(frame.left + 6.0 * size, low + 2.0 * size, frame.right, y - 5.0 * size)
    area = tiling.area
    scale = max(area.width / room.width, area.height / room.height)
    view = View(scale, room.left - area.left / scale, room.high - area.high / scale)
    for piece in pieces:
        sketch.add(
            Polygon(view.points(piece.outline), Layer.PIECES, replace(piece_style(piece.kind), width=0.13))
        )
    thick = Style(width=0.35)
    for tile in tiling.tiles:
        (left, bottom), (right, top) = view.point(*tile.core[:2]), view.point(*tile.core[2:])
        cell = Box(left, bottom, right, top)
        sketch.rect(cell, Layer.FRAME, thick)
        draw_label(
            sketch,
            ((Words(tile.name, bold=True),),),
            (cell,),
            2.0 * size,
            LEAST_ON_MAP,
            Style(width=0.0, fill="#FFFFFF"),
        )
        if tile.row == 1 and (tile.column == 1 or cell.width >= 4.0 * size or tile.column % 5 == 0):
            sketch.centred((left + right) / 2.0, top + 1.5 * size, f"C{tile.column}", size)
        if tile.column == 1:
            sketch.add(Text(left - size, (bottom + top - size) / 2.0, f"R{tile.row}", size, "end"))
    return Scene(title=f"Page map: {heading}", width=width, height=height, items=tuple(sketch.items))


def _instructions(plan: Plan, material_plan: MaterialPlan, tiling: Tiling, target: Target) -> Iterator[str]:
    count = len(tiling.tiles)
    paper = target.sheet or f"plotter paper {with_unit(target.plotter_width or 0.0)} wide"
    yield (
        f"{count} pages on {paper}, {tiling.rows} rows of {tiling.columns}; R is the row, C the column. "
        f"Plan {plan.number or plan.made}, {plan.range_name}."
    )
    yield (
        "Print every page at 100 %, not fitted to the page, and measure its rule before use: "
        f"it must be {CHECK_RULE:.0f} mm long."
    )
    yield (
        f"Neighbours show the same strip of {with_unit(tiling.overlap)}. Cut one of them along the dotted "
        "line and lay it on the other so that the crosses in diamonds meet; then glue or tape."
    )
    if _is_one_way(material_plan):
        yield "ONE-WAY material: the arrow on a piece is the way of its nap or pattern."
