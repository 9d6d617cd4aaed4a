"""The pages of a saw plan: the block drawn apart, how to read the measures, and the cuts in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.drawing.exploded import draw_exploded, draw_frame
from nesting.drawing.legend import COLUMN_GAP, list_pages
from nesting.drawing.lettering import shortened, wrapped
from nesting.drawing.paper import LEADING, Header, Page, Paper
from nesting.drawing.pieces import PlacedPiece
from nesting.drawing.saw_plan_list import HEAVY_SIGN, saw_plan_table
from nesting.drawing.scene import Text
from nesting.drawing.sketch import Box
from nesting.drawing.tables import Table, draw_tables, table_width
from nesting.measures import cut_steps, percent, shown_amount, unit, with_unit
from nesting.model import BlockMaterial, CutNode
from nesting.sawcuts import AWKWARD, Grouping, SawPlan
from nesting.sawyield import BlockYield

__all__ = ["saw_plan_pages"]

LEAST_PICTURE = 0.33
"""Share of the page's width that the picture takes at least; else the list has pages of its own."""

FRAME_HEIGHT = 13.0
"""Room for the three directions, over the height of the letters."""

CELLS = (
    "From",
    "Raw block",
    "Part of a long block",
    "Saw cut (kerf)",
    "Blocks to cut",
    "Parts to cut",
    "Block / rests kept / net",
    "Rebond credit, apart",
)
"""What of the map's header is said again: who stands at a saw has this page only."""

GROUPED = {
    "product": "pieces go to the pile of their product",
    "order": "pieces go to their orders, earliest due first (all of them are in saw-plan.csv)",
}

EVERY = (
    "“90, every 91 to 363”: the first cut at 90, each further one 91 beyond the one before, the last at 363."
)
"""How a line of several cuts is read; lists in inches have a line for each."""

RULES = (
    "Cuts are measured in {steps} to the near side of the blade, from the named face of the part on the "
    "table as it was when its run of cuts began. They hold all skins, parts and saw cuts before them.",
    EVERY,
    "Leave what is cut off in its place until the run is over; then take the parts away.",
    "Parts of one name are alike (x 3: there are three): cut each, or as a pile. What is “beyond” lies "
    "behind the blade.",
    "Sizes are L x W x T: length, width and thickness as in the block. Mark every part with its name.",
    "A box with outlines is cut along the lines marked on it, once it is free: see its picture. Never with a "
    "hot wire: polyurethane gives off poisonous fumes.",
    "A slab “on its side” or “on its end” stands in the block: turn it before you measure it.",
    "“Saw” is the vertical saw, “contour” the contour cutter. At an exclamation mark use a push aid: a side "
    "is under {awkward}.",
    f"“{HEAVY_SIGN}” beside a mass, which is that of one part: above {{limit}}, two people or a lifting aid.",
)


def saw_plan_pages(
    plan: SawPlan,
    group: Grouping,
    account: BlockYield,
    root: CutNode,
    pieces: Sequence[PlacedPiece],
    header: Header,
    paper: Paper,
) -> list[Page]:
    """The pages of the saw plan of one layout.

    Parameters
    ----------
    group
        How the pieces in the plan are grouped.
    account
        What becomes of the block.
    root
        The layout's tree of cuts.
    pieces
        Those of the layout, in the order of its placements.
    header
        That of the layout's map.
    """
    material = account.block.material
    cells = (*(cell for cell in header.cells if cell[0] in CELLS), *_yield_cells(account))
    header = replace(header, heading=f"Saw plan. {header.heading}", cells=cells)
    page = Page(paper, header)
    body, least = page.body, paper.least
    times = "once" if plan.repeats == 1 else f"{plan.repeats} times, once for each block"
    table = saw_plan_table(
        plan, material, f"Cuts in the order of work; follow them {times}; {GROUPED[group]}"
    )
    gap = COLUMN_GAP * least
    room = body.width - table_width(table, least) - gap
    beside = room >= LEAST_PICTURE * body.width
    right = body.left + room if beside else body.right
    _draw_picture(page, Box(body.left, body.low, right, body.high), plan, material, root, pieces)
    rest: tuple[Table, ...] = (table,) if table.rows else ()
    if beside:
        rest = draw_tables(page, rest, [Box(right + gap, body.low, body.right, body.high)], least)
    return [page, *list_pages(rest, paper, header)]


def _yield_cells(account: BlockYield) -> tuple[tuple[str, str], ...]:
    """Mass of the raw block, and what becomes of it."""
    foam, volumes = account.block.material, account.volumes
    shares = " / ".join(percent(share).removesuffix(" %") for share in volumes.shares)
    rebond = " / ".join(shown_amount(mass, "kg") for mass in account.rebond)
    mass = volumes.raw * foam.density
    heavy = ": two people or a lifting aid" if mass > foam.lift_limit else ""
    return (
        ("Mass of a raw block", f"{shown_amount(mass, 'kg')}{heavy}"),
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
    rules = [
        rule.format(
            steps=cut_steps(), awkward=with_unit(AWKWARD), limit=shown_amount(material.lift_limit, "kg", 0)
        )
        for rule in RULES
        if rule != EVERY or unit() == "mm"
    ]
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
