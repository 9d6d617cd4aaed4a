"""Layouts at true size in material millimetres, for cutting tables and saws; nothing is clipped or scaled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.blocks import layout_block
from nesting.drawing.block_reading import block_columns, block_levels, is_slit_first, sheet_list, stacks
from nesting.drawing.cuts import cut_lines, remnant_leaves, usable_box
from nesting.drawing.cutting_order import LayoutOrder
from nesting.drawing.facts import often
from nesting.drawing.lettering import text_width
from nesting.drawing.piece_art import mark_items
from nesting.drawing.piece_labels import Words, clear_rooms, draw_label, inner_box, label_choices
from nesting.drawing.pieces import PlacedPiece, lying_size, measure, placed_pieces
from nesting.drawing.scene import Item, Layer, Line, Polygon, Scene, Text, extent, moved, rectangle
from nesting.drawing.sketch import Box, Sketch
from nesting.drawing.stock_facts import seen_flaws, stock_lines, stock_material
from nesting.measures import MACHINES, shown_for
from nesting.model import BlockMaterial, CutNode, Material, MaterialPlan, Point, RollMaterial
from nesting.sawplan import saw_plan

__all__ = ["CHECK_SIDE", "machine_scene"]

CHECK_SIDE = 100.0
"""Side of the check square, mm: measured after import, it shows whether the units were understood."""

APART = 100.0
"""Distance of the check square from the stock, mm."""

PICTURES_APART = 500.0
"""Distance of the views of one block from each other, mm."""

MOST_LETTERS, GOOD_LETTERS, LEAST_LETTERS = 30.0, 12.0, 3.0
"""Greatest height of the capitals on a piece, the least that is liked, and the least of all, mm."""

SIGN = 10.0
"""Size of the signs for holes, notches and fittings, mm."""

CAPTION = 30.0
"""Height of the capitals of captions, mm."""


@shown_for(MACHINES)
def machine_scene(
    material_plan: MaterialPlan, index: int, stamp: str = "", cutting: LayoutOrder | None = None
) -> Scene:
    """One layout at true size.

    Rolls, sheets and bars keep the coordinates of the plan. Of a slit-first block every distinct
    sheet is drawn, of a saw-first block its columns, one beside the other; the captions give the
    heights. A check square stands outside the stock, to the right of it.

    Parameters
    ----------
    material_plan
        The material.
    index
        Which of its layouts, from 0.
    stamp
        A line that says what made the file.
    cutting
        The outlines of rolls, sheets and bars are drawn in this order, each from the corner at which the
        knife begins; without it, as the plan names them.

    Raises
    ------
    LayoutError
        When the layout refers to a piece that is not among the demands.
    """
    material, layout = material_plan.material, material_plan.layouts[index]
    pieces = placed_pieces(material_plan, index)
    sketch = Sketch()
    right, low = layout.length, 0.0
    if isinstance(material, BlockMaterial):
        right = _draw_block(sketch, material_plan, index, pieces)
    else:
        own = stock_material(material_plan, index)
        raw = _raw_box(own, layout.length)
        usable = usable_box(own, layout.length)
        low, right = raw[1], raw[2]
        for outline in dict.fromkeys((raw, usable)):  # one outline where nothing is lost at the edges
            sketch.add(rectangle(*outline, Layer.STOCK))
        for flaw in seen_flaws(material_plan, index):
            sketch.add(rectangle(flaw.x0, flaw.y0, flaw.x1 - flaw.x0, flaw.y1 - flaw.y0, Layer.FLAWS))
        _draw_pieces(sketch, _as_cut(pieces, cutting) if cutting else pieces)
        _draw_cuts(sketch, layout.cuts)
        for leaf in remnant_leaves(material, layout.cuts):
            _draw_remnant(sketch, leaf)
    sketch.add(rectangle(right + APART, 0.0, CHECK_SIDE, CHECK_SIDE, Layer.CHECK))
    block = layout_block(material_plan, index).size if isinstance(material, BlockMaterial) else ""
    words = [
        f"{material.name}{f', {block}' if block else ''}: layout {index + 1} of "
        f"{len(material_plan.layouts)}, " + often(material_plan, layout),
        *stock_lines(material_plan, index),
        f"Millimetres. The square above is {CHECK_SIDE:.0f} x {CHECK_SIDE:.0f}: measure it before cutting.",
    ]
    for line, text in enumerate([*words, stamp] if stamp else words, start=1):
        sketch.add(Text(right + APART, low - line * 2.0 * CAPTION, text, CAPTION))
    points = [point for item in sketch.items for point in _corners(item)]
    left, bottom, far, top = extent(points)
    return Scene(
        title=words[0],
        width=far - left,
        height=top - bottom,
        items=tuple(sketch.items),
        left=left,
        low=bottom,
    )


def _corners(item: Item) -> tuple[Point, ...]:
    """Points that a picture must hold to show all of an item; of upright words only where they begin."""
    if isinstance(item, Polygon | Line):
        return item.points
    if isinstance(item, Text) and item.anchor == "start" and item.turn == 0:
        return (item.x, item.y), (item.x + text_width(item.words, item.size), item.y + item.size)
    return ((item.x, item.y),)


def _raw_box(material: Material, length: float) -> tuple[float, float, float, float]:
    """Least x, least y, length and width of the whole sheet, or of the full roll along the layout."""
    if isinstance(material, RollMaterial):
        side = max(0.0, material.width - material.usable_width) / 2.0
        return 0.0, -side, length, material.usable_width + 2.0 * side
    return 0.0, 0.0, material.length, material.width


def _as_cut(pieces: Sequence[PlacedPiece], cutting: LayoutOrder) -> list[PlacedPiece]:
    """The pieces in cutting order, each outline begun where the knife begins."""
    found = []
    for place, start in zip(cutting.pieces, cutting.starts, strict=True):
        outline = pieces[place].outline
        found.append(replace(pieces[place], outline=(*outline[start:], *outline[:start])))
    return found


def _draw_pieces(sketch: Sketch, pieces: Sequence[PlacedPiece]) -> None:
    for piece in pieces:
        sketch.add(Polygon(piece.outline, Layer.PIECES))
        signs = [mark.points for mark in piece.marks if len(mark.points) == 1 or mark.kind == "grain"]
        rooms = clear_rooms(inner_box(piece.outline), signs, SIGN)
        _label(sketch, [lines for lines in label_choices(piece) if len(lines) == 1], rooms)
        x0, y0, x1, y1 = piece.box
        for mark in piece.marks:
            sketch.add(*mark_items(mark, mark.points, ((x0 + x1) / 2.0, (y0 + y1) / 2.0), SIGN))


def _label(sketch: Sketch, choices: Sequence[Sequence[Words]], rooms: Sequence[Box]) -> None:
    """Fewer words in good letters rather than all of them in small ones."""
    if not draw_label(sketch, choices, rooms, MOST_LETTERS, GOOD_LETTERS):
        draw_label(sketch, choices, rooms, MOST_LETTERS, LEAST_LETTERS)


def _draw_cuts(sketch: Sketch, node: CutNode | None) -> None:
    for cut in cut_lines(node) if node else ():
        sketch.line(cut.start, cut.end, layer=Layer.CUTS)


def _draw_remnant(sketch: Sketch, leaf: CutNode) -> None:
    sketch.add(rectangle(leaf.x, leaf.y, leaf.length, leaf.width, Layer.REMNANTS))
    room = Box(leaf.x, leaf.y, leaf.x + leaf.length, leaf.y + leaf.width)
    words = Words(f"KEEP {measure(leaf.length)} x {measure(leaf.width)}")
    _label(sketch, ((words,),), (room,))


def _draw_block(
    sketch: Sketch, material_plan: MaterialPlan, index: int, pieces: Sequence[PlacedPiece]
) -> float:
    """The views of a block beside each other; returns where the last of them ends, mm."""
    material, layout = layout_block(material_plan, index).material, material_plan.layouts[index]
    left = 0.0
    if not is_slit_first(layout):
        _draw_footprint(sketch, material)
        plan = saw_plan(material, layout, material_plan.demands)
        found = block_columns(layout, pieces, plan)
        for column in found:
            node = column.node
            sketch.add(rectangle(node.x, node.y, node.length, node.width, Layer.PIECES))
            room = Box(node.x, node.y, node.x + node.length, node.y + node.width)
            words = f"{column.letter}  {measure(node.length)} x {measure(node.width)}"
            _label(sketch, ((Words(words),), (Words(column.letter),)), (room,))
        _draw_cuts(sketch, layout.cuts)
        captions = []
        for stack in stacks(found):
            bottom = stack.column.node.z
            slabs = ", ".join(
                f"{measure(lying_size(s.demand, s.placement)[2])} at {measure(s.placement.z - bottom)}"
                for s in stack.column.slabs
            )
            captions.append(f"Column {', '.join(stack.letters)}: slabs from its bottom: {slabs}")
        _captions(sketch, material.width, captions)
        return material.length
    levels = block_levels(layout, material, pieces)
    names = list(dict.fromkeys(level.plan for level in levels if level.plan))
    for place, name in enumerate(names):
        alike = [level for level in levels if level.plan == name]
        left = place * (material.length + PICTURES_APART)
        view = Sketch()
        _draw_footprint(view, material)
        _draw_pieces(view, alike[0].pieces)
        _draw_cuts(view, alike[0].node)
        for leaf in remnant_leaves(material, alike[0].node):
            _draw_remnant(view, leaf)
        heights = ", ".join(measure(level.low) for level in alike)
        first = f"Plan {name}: {sheet_list(alike)}, {measure(alike[0].thickness)} thick"
        _captions(view, material.width, [first, f"Lower faces at {heights} from the raw bottom"])
        sketch.add(*(moved(item, left, 0.0) for item in view.items))
    return left + material.length


def _draw_footprint(sketch: Sketch, material: BlockMaterial) -> None:
    raw = (0.0, 0.0, material.length, material.width)
    for outline in dict.fromkeys((raw, usable_box(material, material.length))):
        sketch.add(rectangle(*outline, Layer.STOCK))


def _captions(sketch: Sketch, high: float, captions: Sequence[str]) -> None:
    for line, words in enumerate(reversed(captions)):
        sketch.add(Text(0.0, high + (1 + 2 * line) * CAPTION, words, CAPTION))
