"""Maps of foam blocks: heights first for the slitter, plans for the saw; or columns first, then stacks."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.blocks import is_long, layout_block
from nesting.drawing.block_reading import (
    Column,
    Level,
    Stack,
    block_columns,
    block_levels,
    is_slit_first,
    sheet_list,
    stacks,
)
from nesting.drawing.cuts import columns, leaves, level_cuts, remnant_leaves, saw_lines
from nesting.drawing.facts import header, often
from nesting.drawing.ladder import LINE, PLAIN, Rung, draw_ladder, ladder_width
from nesting.drawing.legend import draw_in_columns, height_in_columns, legend, list_pages
from nesting.drawing.lettering import shortened
from nesting.drawing.marked_boxes import BOXES, MarkedPart, draw_marked_parts, marked_parts
from nesting.drawing.paper import Canvas, Page, Paper, without_notices
from nesting.drawing.piece_labels import Words, draw_label
from nesting.drawing.pieces import PlacedPiece, measure, placed_pieces
from nesting.drawing.plan_view import PlanView, draw_cut_numbers, draw_plan_view, plan_origin, plan_scale
from nesting.drawing.saw_plan_maps import saw_plan_pages
from nesting.drawing.scene import Layer, Text, piece_style
from nesting.drawing.sketch import Box, scale_steps
from nesting.drawing.tables import Table
from nesting.drawing.yield_list import yield_pages
from nesting.measures import fixed, plain, with_unit
from nesting.model import BlockMaterial, CutNode, Layout, MaterialPlan, Plan
from nesting.sawcuts import BLOCK, Grouping, SawPlan
from nesting.sawplan import saw_plans
from nesting.sawyield import BlockYield, block_yield

__all__ = ["STACK_SLOT", "Picture", "block_pictures", "foam_pages"]

CELLS = 2
"""Pictures side by side on a page."""

GAP = 4.0
"""Room between them, over the height of the smallest letters."""

TITLE = 2.6
"""Room for the title of a picture, over the height of the smallest letters."""

MOST_BELOW = 0.45
"""Share of a page's height that the legend may take."""

LEFT, BELOW, ABOVE = 4.5, 4.5, 3.0
"""Room around a side view for its dimensions and the headings of its list, over the smallest letters."""

STACK_BAR, STACK_SLOT = 8.0, 40.0
"""Width of a stack on paper (not to scale), and of the stack with its list, over the smallest letters."""

SIDE_HEADINGS = ("sheet", "plan")
STACK_HEADINGS = ("slab", "no.")
LEGEND_TITLE = 'Pieces on this page ("Here": in one whole block)'


@dataclass(frozen=True, slots=True)
class Picture:
    """One of the pictures of a block: its name, its title, how it is drawn into a box, whose pieces it shows.

    Drawing returns what is to be added to the title.
    """

    name: str
    title: str
    draw: Callable[[Canvas, Box], str]
    pieces: tuple[PlacedPiece, ...]


def foam_pages(
    plan: Plan,
    material_plan: MaterialPlan,
    paper: Paper,
    group: Grouping,
    only: Collection[int] | None = None,
) -> list[Page]:
    """The pages of a foam: each layout with its saw plan, then the account of all blocks.

    `only` are numbers of layouts, from 1: these alone are drawn.
    """
    layouts = material_plan.layouts
    indices = [at for at in range(len(layouts)) if only is None or at + 1 in only]
    if not all(layout.cuts for layout in layouts):  # a block laid by hand, without cuts, has no saw plan
        return [page for at in indices for page in _block_pages(plan, material_plan, at, paper, None)]
    cuttings = saw_plans(material_plan, group)
    pages = [
        page
        for index in indices
        for page in _block_pages(plan, material_plan, index, paper, (cuttings[index], group))
    ]
    if only is not None:
        return pages
    made = without_notices(header(plan, material_plan, "Yield and cost"))
    return pages + yield_pages(material_plan, made, plan.currency, paper)


def _block_pages(
    plan: Plan,
    material_plan: MaterialPlan,
    index: int,
    paper: Paper,
    grouped: tuple[SawPlan, Grouping] | None,
) -> list[Page]:
    """The pages of one block layout, with its saw plan and how the pieces in it are grouped."""
    layout = material_plan.layouts[index]
    block = layout_block(material_plan, index)
    material = block.material
    pieces = placed_pieces(material_plan, index)
    slit = is_slit_first(layout)
    cutting = grouped[0] if grouped else None
    order = "slit first, then saw each sheet" if slit else "saw columns first, then split each"
    which = f"Block layout {index + 1} of {len(material_plan.layouts)}"
    named = f"{block.name}; " if block.name else ""
    heading = f"{which}: {named}{often(material_plan, layout)}; {order}"
    skins = material.skins
    rims = " / ".join(measure(rim) for rim in (skins.x0, skins.x1, skins.y0, skins.y1, skins.z0, skins.z1))
    cells = [("From", block.name)] if block.name else []
    cells += [("Skin left / right / front / back / bottom / top", rims)]
    if is_long(material_plan, index):
        cells.append(("Lies on", _places(layout)))
    made = header(plan, material_plan, heading, layout, pieces, cells)
    pictures = block_pictures(material, layout, pieces, paper, cutting)
    pages: list[Page] = []
    for start in range(0, len(pictures), CELLS):
        shown = pictures[start : start + CELLS]
        page = Page(paper, made if index == 0 and not pages else without_notices(made))
        numbers = {piece.number for picture in shown for piece in picture.pieces}
        table = legend(pieces, numbers, LEGEND_TITLE)
        rest = _draw_pictures(page, shown, table)
        pages += [page, *list_pages(rest, paper, without_notices(made))]
    if grouped is not None and layout.cuts is not None:
        account = block_yield(material_plan, index, grouped[0])
        money = _money_cells(account, plan.currency)
        saw_header = replace(without_notices(made), cells=(*made.cells, *money))
        pages += saw_plan_pages(*grouped, account, layout.cuts, pieces, saw_header, paper)
    return pages


def _money_cells(account: BlockYield, currency: str) -> tuple[tuple[str, str], ...]:
    cost = account.cost
    return (
        (
            "Block / rests kept / net",
            " / ".join(fixed(money, 2) for money in (cost, account.worth, cost - account.worth))
            + f" {currency}",
        ),
        ("Rebond credit, apart", f"{fixed(account.credit, 2)} {currency}"),
    )


def _places(layout: Layout) -> str:
    """Where on which long blocks the parts of a layout lie."""
    copies = layout.repeats // layout.stock_count
    last = layout.stock_number + layout.stock_count - 1
    blocks = (
        f"block {last} at" if layout.stock_count == 1 else f"blocks {layout.stock_number} to {last}, each at"
    )
    more = f", {copies} behind one another" if copies > 1 else ""
    return f"{blocks} {with_unit(layout.start)}{more}"


def block_pictures(
    material: BlockMaterial,
    layout: Layout,
    pieces: Sequence[PlacedPiece],
    paper: Paper,
    cutting: SawPlan | None,
) -> list[Picture]:
    """The views of one block: from the side and plan by plan, or from above and stack by stack.

    `cutting` is the layout's saw plan; a block without a tree of cuts has none.
    """
    if layout.cuts is None or cutting is None or is_slit_first(layout):
        slit = _slit_pictures(material, block_levels(layout, material, pieces), paper, cutting)
        return [*slit, *_box_pictures(cutting, pieces)]
    found = block_columns(layout, pieces, cutting)
    above = _column_picture(material, found, _columns_view(material, layout.cuts, cutting), paper)
    split = _stack_pictures(material, stacks(found), paper, cutting)
    return [above, *split, *_box_pictures(cutting, pieces)]


def _box_pictures(cutting: SawPlan | None, pieces: Sequence[PlacedPiece]) -> list[Picture]:
    """The boxes that outlines are cut out of, several to a picture."""
    parts = marked_parts(cutting, pieces) if cutting is not None else []
    pictures: list[Picture] = []
    for start in range(0, len(parts), BOXES):
        some = parts[start : start + BOXES]

        def draw(page: Canvas, box: Box, some: Sequence[MarkedPart] = some) -> str:
            draw_marked_parts(page, box, some)
            return ""

        title = "Boxes: cut along the lines (ends: from left end / front side)"
        shown = tuple(piece for part in some for piece, _ in part.pieces)
        pictures.append(Picture(f"BOXES_{len(pictures) + 1}", title, draw, shown))
    return pictures


def _draw_pictures(page: Page, shown: Sequence[Picture], table: Table) -> tuple[Table, ...]:
    least, body = page.paper.least, page.body
    below = min(height_in_columns(table, body.width, least), MOST_BELOW * body.height)
    gap = GAP * least
    low = body.low + below + gap / 2.0
    for place, picture in enumerate(shown):
        box = _cell(body, place, low, gap)
        scale = picture.draw(page, Box(box.left, box.low, box.right, box.high - TITLE * least))
        words = shortened(f"{picture.title}{scale}", box.width, 1.2 * least, bold=True)
        page.add(Text(box.left, box.high - 1.2 * least, words, 1.2 * least, bold=True))
    return draw_in_columns(page, table, Box(body.left, body.low, body.right, body.low + below), least)


def _scale_words(scale: float) -> str:
    return f"  (1 : {plain(scale)})"


def _cell(body: Box, place: int, low: float, gap: float) -> Box:
    width = (body.width - (CELLS - 1) * gap) / CELLS
    left = body.left + place * (width + gap)
    return Box(left, low, left + width, body.high)


# Slit first -----------------------------------------------------------------------------------------


def _slit_pictures(
    material: BlockMaterial, found: Sequence[Level], paper: Paper, cutting: SawPlan | None
) -> list[Picture]:
    def side(page: Canvas, box: Box) -> str:
        return _draw_side(page, box, material, found, level_cuts(cutting, BLOCK) if cutting else {})

    pictures = [Picture("SIDE", "Side view: slit into sheets, heights from the raw bottom", side, ())]
    for plan in sorted({level.plan for level in found if level.plan}, key=lambda name: (len(name), name)):
        alike = [level for level in found if level.plan == plan]
        node = alike[0].node
        lines = tuple(saw_lines(cutting, node, ("sheet", "strip"))) if cutting and node else ()
        view = PlanView(material, alike[0].pieces, node, remnant_leaves(material, node), lines)
        title = f"Plan {plan}: {sheet_list(alike)}, {measure(alike[0].thickness)} thick"
        if lines:
            title += ", cuts from its own edge, skins off"
        pictures.append(Picture(f"PLAN_{plan}", title, _plan_drawer(view, paper), alike[0].pieces))
    return pictures


def _plan_drawer(view: PlanView, paper: Paper) -> Callable[[Canvas, Box], str]:
    def draw(page: Canvas, box: Box) -> str:
        scale = plan_scale(view, box, paper.least)
        numbered = draw_plan_view(page, view, box, paper, scale)
        draw_cut_numbers(page, view, plan_origin(view, box, paper.least, scale), paper.least)
        return _scale_words(scale) if numbered else f"{_scale_words(scale)[:-1]}; no number: see cut list)"

    return draw


def _draw_side(
    page: Canvas, box: Box, material: BlockMaterial, found: Sequence[Level], cuts: Mapping[float, int]
) -> str:
    """The block from its long side, x to the right and z up, with the measured sheets beside it."""
    least = page.paper.least
    rungs = []
    for level in found:
        keep = level.node is not None and not level.plan and bool(remnant_leaves(material, level.node))
        what = level.plan or ("keep" if keep else "waste")
        label = f"{level.plan}   {measure(level.thickness)}" if level.plan else "KEEP" if keep else ""
        layer = Layer.PIECES if level.plan else Layer.REMNANTS if keep else Layer.TRIM
        style = PLAIN if level.plan else None
        cut = _cut_at(cuts, level.low + level.thickness)
        rungs.append(Rung(level.number, level.low, level.thickness, what, label, layer, style, cut))
    height = box.height - (BELOW + ABOVE) * least
    list_width = ladder_width(rungs, SIDE_HEADINGS, height, least)
    width = box.width - LEFT * least - list_width
    scale = scale_steps(max(material.length / width, material.height / height))[0]
    left, high = box.left + LEFT * least, box.high - ABOVE * least
    raw = Box(left, high - material.height / scale, left + material.length / scale, high)
    page.rect(raw, Layer.TRIM)
    draw_ladder(page, rungs, SIDE_HEADINGS, raw, material.height, least, low=box.low + BELOW * least)
    for x, side in (
        (raw.left, material.skins.x0),
        (raw.right - material.skins.x1 / scale, material.skins.x1),
    ):
        page.rect(Box(x, raw.low, x + side / scale, raw.high), Layer.TRIM)
    page.rect(raw, Layer.STOCK)
    y, x = raw.low - 1.6 * least, raw.left - 1.6 * least
    page.dimension((raw.left, y), (raw.right, y), measure(material.length), least, away=-1.4 * least)
    page.dimension((x, raw.low), (x, raw.high), measure(material.height), least, away=1.4 * least)
    return _scale_words(scale)


# Saw first ------------------------------------------------------------------------------------------


def _columns_view(material: BlockMaterial, node: CutNode, cutting: SawPlan) -> PlanView:
    """The footprint with the columns that are kept whole; rests on top of a stack are shown there."""
    whole = [column for column in columns(node) if not column.parts]
    kept = tuple(leaf for leaf in remnant_leaves(material, node) if leaf in whole)
    block = CutNode(0.0, 0.0, material.length, material.width, height=material.height)
    return PlanView(material, (), node, kept, tuple(saw_lines(cutting, block, (BLOCK, "section"))))


def _column_picture(
    material: BlockMaterial, found: Sequence[Column], view: PlanView, paper: Paper
) -> Picture:
    """The footprint with its columns lettered."""

    def draw(page: Canvas, box: Box) -> str:
        least = paper.least
        scale = plan_scale(view, box, least)
        draw_plan_view(page, view, box, paper, scale)
        origin = plan_origin(view, box, least, scale)
        for column in found:
            node = column.node
            area = Box(
                *origin.point(node.x, node.y), *origin.point(node.x + node.length, node.y + node.width)
            )
            size = f"{measure(node.length)} x {measure(node.width)}"
            letter = Words(column.letter, 1.6, True)
            choices = (
                (letter, Words(size)),
                (Words(f"{column.letter}  {size}"),),
                (Words(column.letter, 1.0, True),),
            )
            draw_label(page, choices, (area,), 1.6 * least, least)
        draw_cut_numbers(page, view, origin, least)
        return _scale_words(scale)

    return Picture("COLUMNS", "Top view: saw these columns first", draw, ())


def _stack_pictures(
    material: BlockMaterial, found: Sequence[Stack], paper: Paper, cutting: SawPlan
) -> list[Picture]:
    """The stacks, as many to a picture as stand side by side."""
    slot = max(
        [STACK_SLOT * paper.least, *(_stack_width(material, stack, paper, cutting) for stack in found)]
    )
    cell = (paper.width - 2.0 * paper.margin - GAP * paper.least) / CELLS
    each = max(1, int(cell / slot))
    pictures: list[Picture] = []
    for start in range(0, len(found), each):
        group = found[start : start + each]
        slabs = tuple(slab for stack in group for slab in stack.column.slabs)
        pictures.append(
            Picture(
                f"STACKS_{len(pictures) + 1}",
                "Stacks: split each column, heights from its own bottom",
                _stacks_drawer(material, group, cell / each, cutting),
                slabs,
            )
        )
    return pictures


def _stack_width(material: BlockMaterial, stack: Stack, paper: Paper, cutting: SawPlan) -> float:
    """Room that a stack takes with its list, be it whole or with like slabs drawn together."""
    cuts = level_cuts(cutting, f"column {stack.column.letter}")
    rungs = _stack_rungs(material, stack.column, cuts)
    heights = (paper.height * len(rungs), 2.0 * LINE * paper.least)
    lists = (ladder_width(rungs, STACK_HEADINGS, height, paper.least) for height in heights)
    return (STACK_BAR + 2.0) * paper.least + max(lists)


def _stacks_drawer(
    material: BlockMaterial, group: Sequence[Stack], slot: float, cutting: SawPlan
) -> Callable[[Canvas, Box], str]:
    def draw(page: Canvas, box: Box) -> str:
        least = page.paper.least
        for place, stack in enumerate(group):
            left = box.left + place * slot
            node = stack.column.node
            title = f"{', '.join(stack.letters)}: {measure(node.length)} x {measure(node.width)}"
            page.add(
                Text(
                    left, box.high - least, shortened(title, slot - least, least, bold=True), least, bold=True
                )
            )
            bar = Box(left, box.low, left + STACK_BAR * least, box.high - 4.5 * least)
            page.rect(bar, Layer.TRIM)
            cuts = level_cuts(cutting, f"column {stack.column.letter}")
            rungs = _stack_rungs(material, stack.column, cuts)
            draw_ladder(page, rungs, STACK_HEADINGS, bar, node.height, least)
            page.rect(bar, Layer.STOCK)
        return ""

    return draw


def _stack_rungs(material: BlockMaterial, column: Column, cuts: Mapping[float, int]) -> list[Rung]:
    slabs = iter(column.slabs)
    kept = remnant_leaves(material, column.node)
    rungs = []
    layers = column.node.parts if column.node.axis == "z" else (column.node,)
    for number, layer in enumerate(layers, start=1):
        inside = tuple(leaves(layer))
        low = layer.z - column.node.z
        cut = _cut_at(cuts, low + layer.height)
        if any(leaf.piece is not None for leaf in inside):
            mine = [next(slabs) for leaf in inside for at in (leaf.piece, leaf.pair) if at is not None]
            slab = mine[0]
            what = " + ".join(str(piece.number) for piece in mine)
            if len(inside) > 1:
                what += " trim"  # a slab smaller than its column is trimmed once it is split off
            label = f"{slab.demand.panel.code} {measure(layer.height)}"
            rungs.append(Rung(number, low, layer.height, what, label, style=piece_style(slab.kind), cut=cut))
        else:
            keep = layer in kept
            shown = Layer.REMNANTS if keep else Layer.TRIM
            what = "keep" if keep else "waste"
            rungs.append(Rung(number, low, layer.height, what, "", shown, None, cut))
    return rungs


def _cut_at(cuts: Mapping[float, int], height: float) -> str:
    """Number of the level cut that begins at a height, if one does."""
    return str(cuts.get(round(height, 4), ""))
