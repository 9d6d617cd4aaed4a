"""Maps of boards and other sheets: the whole sheet with its first cuts measured, and its lists beside it."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.drawing.cuts import first_cuts, remnant_leaves
from nesting.drawing.facts import header, often
from nesting.drawing.legend import draw_in_columns, drawn_height, height_in_columns, legend, list_pages
from nesting.drawing.paper import Header, Page, Paper, without_notices
from nesting.drawing.pieces import measure, placed_pieces
from nesting.drawing.plan_view import PlanView, draw_plan_view, plan_end, plan_scale
from nesting.drawing.sketch import Box
from nesting.drawing.stock_facts import stock_material
from nesting.drawing.tables import Column, Row, Table, draw_tables, table_height, table_width
from nesting.measures import cut_measure, plain
from nesting.model import CutNode, MaterialPlan, Plan, SheetMaterial

__all__ = ["first_cut_table", "sheet_pages"]

MOST_FOR_LISTS = 0.42
"""Share of the page's width that lists beside the drawing may take."""

MOST_BELOW = 0.45
"""Share of the page's height that lists below the drawing may take."""

GAP = 3.0
"""Room between drawing and lists, over the height of the smallest letters."""

SMALL_NOTE = "; no number: see cut list"


def first_cut_table(node: CutNode | None) -> Table | None:
    """The first cuts in order, with their place and the part each of them leaves; None without any."""
    cuts = first_cuts(node) if node else ()
    if node is None or not cuts:
        return None
    edge = "left" if node.axis == "x" else "lower"
    sizes = [part.length if node.axis == "x" else part.width for part in node.parts]
    rows = [
        Row((str(number), cut_measure(cut.at), measure(size)))
        for number, (cut, size) in enumerate(zip(cuts, sizes, strict=False), start=1)
    ]
    rows.append(Row(("rest", "", measure(sizes[-1]))))
    columns = (Column("Cut", "end"), Column(f"From raw {edge} edge", "end"), Column("Strip", "end"))
    return Table("First cuts, to the near side of the saw cut", columns, tuple(rows))


def sheet_pages(plan: Plan, material_plan: MaterialPlan, index: int, paper: Paper) -> list[Page]:
    """The pages of one sheet layout: one, or more when the lists are long."""
    material = stock_material(material_plan, index)
    assert isinstance(material, SheetMaterial)
    layout = material_plan.layouts[index]
    pieces = placed_pieces(material_plan, index)
    heading = f"Sheet layout {index + 1} of {len(material_plan.layouts)}: {often(material_plan, layout)}"
    view = PlanView(material, pieces, layout.cuts, remnant_leaves(material, layout.cuts))
    least, gap = paper.least, GAP * paper.least
    numbers = {piece.number for piece in pieces}

    def head(scale: float) -> Header:
        trim = material.trim
        rims = " / ".join(measure(rim) for rim in (trim.x0, trim.x1, trim.y0, trim.y1))
        cells = [("Trim left / right / low / high", rims), ("Scale", f"1 : {plain(scale)}")]
        made = header(plan, material_plan, heading, layout, pieces, cells)
        return made if index == 0 else without_notices(made)

    table = legend(pieces, numbers, 'Pieces ("Here": on one sheet)')
    cuts = first_cut_table(layout.cuts)
    body = Page(paper, head(1.0)).body
    side = min(table_width(table, least), MOST_FOR_LISTS * body.width)
    below = min(height_in_columns(table, body.width, least), MOST_BELOW * body.height) + gap
    beside_box = Box(body.left, body.low, body.right - side - gap, body.high)
    above_box = Box(body.left, body.low + below, body.right, body.high)
    beside, above = plan_scale(view, beside_box, least), plan_scale(view, above_box, least)
    scale = min(beside, above)
    page = Page(paper, head(scale))
    if beside <= above:
        numbered = draw_plan_view(page, view, beside_box, paper, scale)
        table = table if numbered else _with_note(table)
        tables = [table] if cuts is None else [table, cuts]
        rest = draw_tables(page, tables, [Box(body.right - side, body.low, body.right, body.high)], least)
    else:
        numbered = draw_plan_view(page, view, above_box, paper, scale)
        table = table if numbered else _with_note(table)
        right, low = plan_end(view, above_box, least, scale)
        box = Box(body.left, body.low, body.right, low)
        rest = draw_in_columns(page, table, box, least)
        high = low - drawn_height(table, box, least) - gap
        _draw_where_it_fits(
            page, cuts, (Box(right + gap, low, body.right, body.high), box._replace(high=high))
        )
    return [page, *list_pages(rest, paper, without_notices(head(scale)))]


def _draw_where_it_fits(page: Page, table: Table | None, boxes: Sequence[Box]) -> None:
    """Draw a table into the first box that holds all of it, or not at all: its measures stand at the cuts."""
    least = page.paper.least
    for box in boxes:
        if (
            table is not None
            and box.width >= table_width(table, least)
            and box.height >= table_height(len(table.rows), least)
        ):
            draw_tables(page, [table], [box], least)
            return


def _with_note(table: Table) -> Table:
    return Table(table.title.rstrip(")") + SMALL_NOTE + ")", table.columns, table.rows)
