"""The pages of a saw plan: the block drawn apart, how to read the measures, and the cuts in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.drawing.exploded import draw_exploded, draw_frame
from nesting.drawing.legend import COLUMN_GAP, list_pages
from nesting.drawing.lettering import shortened, wrapped
from nesting.drawing.paper import LEADING, Header, Page, Paper
from nesting.drawing.pieces import PlacedPiece
from nesting.drawing.saw_plan_list import saw_plan_table
from nesting.drawing.scene import Text
from nesting.drawing.sketch import Box
from nesting.drawing.tables import Table, draw_tables, table_width
from nesting.measures import cut_steps, percent, shown_amount, with_unit
from nesting.model import BlockMaterial, CutNode
from nesting.sawcuts import AWKWARD, SawPlan
from nesting.sawyield import saw_yield

__all__ = ["saw_plan_pages"]

LEAST_PICTURE = 0.33
"""Share of the page's width that the picture takes at least; else the list has pages of its own."""

FRAME_HEIGHT = 13.0
"""Room for the three directions, over the height of the letters."""

CELLS = ("Raw block", "Part of a long block", "Saw cut (kerf)", "Blocks to cut", "Parts to cut")
"""What of the map's header is said again: who stands at a saw has this page only."""

RULES = (
    "Cuts are measured in {steps} to the near side of the blade, from the named face of the part on the "
    "table as it was when its run of cuts began. They hold all skins, parts and saw cuts before them.",
    "Leave what is cut off in its place until the run is over; then take the parts away.",
    "Parts of one name are alike (x 3: there are three): cut each, or as a pile. What is “beyond” lies "
    "behind the blade.",
    "Sizes are L x W x T: length, width and thickness as in the block. Mark every part with its name.",
    "A box with outlines is cut along the lines marked on it, once it is free: see its picture. Never with a "
    "hot wire: polyurethane gives off poisonous fumes.",
    "A slab “on its side” or “on its end” stands in the block: turn it before you measure it.",
    "“Saw” is the vertical saw, “contour” the contour cutter. At an exclamation mark use a push aid: a side "
    "is under {awkward}.",
)


def saw_plan_pages(
    plan: SawPlan,
    material: BlockMaterial,
    root: CutNode,
    pieces: Sequence[PlacedPiece],
    header: Header,
    paper: Paper,
) -> list[Page]:
    """The pages of the saw plan of one layout.

    Parameters
    ----------
    root
        The layout's tree of cuts.
    pieces
        Those of the layout, in the order of its placements.
    header
        That of the layout's map.
    """
    cells = (*(cell for cell in header.cells if cell[0] in CELLS), *_yield_cells(plan, material.density))
    header = replace(header, heading=f"Saw plan. {header.heading}", cells=cells)
    page = Page(paper, header)
    body, least = page.body, paper.least
    times = "once" if plan.repeats == 1 else f"{plan.repeats} times, once for each block"
    table = saw_plan_table(plan, f"Cuts in the order of work; follow them {times}")
    gap = COLUMN_GAP * least
    room = body.width - table_width(table, least) - gap
    beside = room >= LEAST_PICTURE * body.width
    right = body.left + room if beside else body.right
    _draw_picture(page, Box(body.left, body.low, right, body.high), plan, material, root, pieces)
    rest: tuple[Table, ...] = (table,) if table.rows else ()
    if beside:
        rest = draw_tables(page, rest, [Box(right + gap, body.low, body.right, body.high)], least)
    return [page, *list_pages(rest, paper, header)]


def _yield_cells(plan: SawPlan, density: float) -> tuple[tuple[str, str], ...]:
    """Mass of the raw block, and what becomes of it."""
    found = saw_yield(plan)
    shares = " / ".join(percent(share).removesuffix(" %") for share in found.shares)
    rebond = f"{shown_amount(found.scrap * density, 'kg')} / {shown_amount(found.skins * density, 'kg')}"
    return (
        ("Mass of a raw block", shown_amount(found.raw * density, "kg")),
        ("Pieces / stock / rebond / skin / dust", f"{shares} %"),
        ("For rebond from a block, clean / skin", rebond),
    )


def _draw_picture(
    page: Page,
    box: Box,
    plan: SawPlan,
    material: BlockMaterial,
    root: CutNode,
    pieces: Sequence[PlacedPiece],
) -> None:
    """The block drawn apart, below it the directions of the measures and the rules."""
    least = page.paper.least
    rules = [rule.format(steps=cut_steps(), awkward=with_unit(AWKWARD)) for rule in RULES]
    lines = [line for rule in rules for line in wrapped(rule, box.width, least)]
    low = box.low
    for line in reversed(lines):
        page.add(Text(box.left, low, line, least))
        low += LEADING * least
    low += least
    draw_frame(page, box.left + least, low, least)
    low += FRAME_HEIGHT * least
    title = 1.2 * least
    words = shortened("The block without its skins, drawn apart (not to scale)", box.width, title, bold=True)
    page.add(Text(box.left, box.high - title, words, title, bold=True))
    picture = Box(box.left, low, box.right, box.high - 3.0 * title)
    draw_exploded(page, picture, material, plan, root, pieces, least)
