"""The cut list on paper: one table for each layout, in cutting order, with the orders every cut is for."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import groupby

from nesting.drawing.cutlist import CutRow, cut_list_rows
from nesting.drawing.cutting_order import LayoutOrder
from nesting.drawing.facts import STOCK_WORDS, header, often
from nesting.drawing.legend import list_pages
from nesting.drawing.lettering import wrapped
from nesting.drawing.paper import Page, Paper, find_paper, finished, without_notices
from nesting.drawing.pieces import is_lengths, placed_pieces
from nesting.drawing.scene import Scene
from nesting.drawing.tables import Column, Row, Table
from nesting.measures import shown_for
from nesting.model import MaterialPlan, Plan

__all__ = ["cut_list_pages"]

COLUMNS = (
    Column("Cut", "end"),
    Column("No.", "end"),
    Column("Code"),
    Column("Panel", gives_way=True),
    Column("Model", gives_way=True),
    Column("Size", gives_way=True),
    Column("Length x width", "end"),
    Column("Turn", "end"),
    Column("At x / y", "end"),
    Column("In all", "end"),
    Column("For orders"),
)
ORDERS_SHARE = 0.3
"""Share of the page's width for the orders of a cut; more take further rows."""


def cut_list_pages(
    plan: Plan,
    material_plan: MaterialPlan,
    cutting: Sequence[LayoutOrder],
    paper: str | None = None,
    only: Collection[int] | None = None,
) -> tuple[Scene, ...]:
    """Pages with the cut list of a material.

    Parameters
    ----------
    plan
        For what the header says.
    cutting
        What `cutting_orders` says of this material.
    paper
        Key of a paper for maps, lying; None for the workshop's own.
    only
        Numbers of the layouts, from 1; None for all.

    Raises
    ------
    DrawingError
        When there is no such paper.
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    sheet = find_paper(paper or plan.workshop.paper)
    with shown_for(plan.workshop):
        return finished(_pages(plan, material_plan, cutting, sheet, only))


def _pages(
    plan: Plan,
    material_plan: MaterialPlan,
    cutting: Sequence[LayoutOrder],
    sheet: Paper,
    only: Collection[int] | None,
) -> list[Page]:
    room = ORDERS_SHARE * (sheet.width - 2.0 * sheet.margin)
    pages: list[Page] = []
    for number, rows in groupby(cut_list_rows(material_plan, cutting), key=lambda row: row.layout):
        if only is not None and number not in only:
            continue
        layout = material_plan.layouts[number - 1]
        word = "Bars" if is_lengths(material_plan) else STOCK_WORDS[material_plan.material.kind].capitalize()
        heading = f"Cut list. {word} {number} of {len(material_plan.layouts)}: {often(material_plan, layout)}"
        table = Table(
            "In the order of cutting" + ("" if layout.cuts else ", bed by bed"),
            COLUMNS,
            tuple(line for row in rows for line in _lines(row, room, sheet.least)),
        )
        head = header(plan, material_plan, heading, layout, placed_pieces(material_plan, number - 1))
        head = without_notices(head) if pages else head
        pages += list_pages([table], sheet, head)
    return pages


def _lines(row: CutRow, room: float, size: float) -> Iterator[Row]:
    """A cut, with further rows where its orders need them."""
    sides = [row.length, row.width, *([row.thickness] if row.thickness else [])]
    cells = (
        str(row.sequence),
        str(row.position),
        row.code,
        row.panel,
        row.model,
        row.size,
        " x ".join(sides),
        row.turn.replace(" flipped", " flip"),
        f"{row.x} / {row.y}",
        str(row.total_pieces),
    )
    orders = wrapped(row.orders.replace(" x", "\u00a0x"), room, size) or [""]
    yield Row((*cells, orders[0]))
    for more in orders[1:]:
        yield Row((*([""] * len(cells)), more))
