"""The pages Stock, Losses and Assumptions of the workbook."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.buying.notes import assumptions
from nesting.buying.positions import scaled, unit_of
from nesting.buying.shelf import is_rest
from nesting.buying.tables import Cell, Column, Given, Live, Page, Table
from nesting.buying.week import BuyingPlan, Purchase
from nesting.measures import amount, measure, plain, shown_amount, unit
from nesting.model import RollMaterial, StockPiece

__all__ = ["assumptions_page", "losses_page", "stock_page"]

SPARE_ROWS = 5
"""Free rows below what is on order, to fill in more."""


def stock_page(plan: BuyingPlan) -> Page:
    """What is there, what is on its way, and how every piece on the shelf was counted."""
    weeks = plan.outlook.weeks
    there: list[list[Cell]] = []
    coming: list[list[Cell]] = []
    pieces: list[list[Cell]] = []
    for purchase in plan.purchases:
        name = purchase.material.name
        counted = unit_of(purchase)
        rests = scaled(purchase, sum(item.amount for item in purchase.need.savings))
        there.append([name, counted, Given(scaled(purchase, purchase.on_hand)), rests])
        for arrival in purchase.supply.arrivals:
            much = scaled(purchase, arrival.amount)
            number = max(1, arrival.week)
            coming.append([name, Given(number), weeks.label(arrival.week), Given(much), counted])
        for held in purchase.held:
            much = scaled(purchase, held.amount)
            kind = "rest" if is_rest(purchase.material, held.piece) else "whole"
            size = _size(purchase, held.piece)
            pieces.append([name, held.piece.id, kind, size, held.piece.lot or None, much, counted, held.why])
    coming += [[None, Given(None), None, Given(None), None] for _ in range(SPARE_ROWS)]
    name_column = Column("material", width=28)
    return Page(
        "Stock",
        (
            "What is there and what is on its way. Rests count only where a planned part fits them and saves "
            "new material.",
        ),
        (
            Table(
                "stock",
                "On hand",
                (
                    name_column,
                    Column("unit", width=10),
                    Column("whole pieces", "amount", 12),
                    Column("rests save in all weeks", "amount", 14),
                ),
                there,
            ),
            Table(
                "on-order",
                "On order (free rows take more: material as above, number of the week, amount)",
                (
                    name_column,
                    Column("number of the week", "whole", 10),
                    Column("week", width=12),
                    Column("amount", "amount", 14),
                    Column("unit", width=10),
                ),
                coming,
            ),
            Table(
                "pieces",
                "Pieces on the shelf",
                (
                    name_column,
                    Column("id", width=10),
                    Column("kind", width=12),
                    Column("size", width=22),
                    Column("lot", width=10),
                    Column("counts for", "amount", 10),
                    Column("unit", width=8),
                    Column("how", width=52),
                ),
                pieces,
            ),
        ),
    )


def _size(purchase: Purchase, piece: StockPiece) -> str:
    if isinstance(purchase.material, RollMaterial):
        return f"{shown_amount(piece.length / 1e3, 'm', 2)} x {measure(piece.width)} {unit()}"
    sides = (piece.length, piece.width, *((piece.height,) if piece.height else ()))
    return f"{' x '.join(map(measure, sides))} {unit()}"


def losses_page(plan: BuyingPlan, prices: Sequence[str]) -> Page:
    """Where the material of the nested weeks goes.

    Parameters
    ----------
    prices
        For each material, the cell that holds its price.
    """
    rows: list[list[Cell]] = []
    start = 6  # of the first table below a page of one line, see `Page.first_row`
    for purchase, price in zip(plan.purchases, prices, strict=True):
        need = purchase.need
        metric = "m3" if purchase.material.kind == "block" else "m2"
        taken = sum(week.amount for week in need.weeks if week.nested)
        own_taken = scaled(purchase, taken)
        money = taken * purchase.supply.terms.price
        for cause, much in (
            ("in the beds", need.pieces),
            *((loss.cause, loss.amount) for loss in need.losses),
            ("rests worth keeping", need.kept),
        ):
            if not need.consumed or not much:
                continue
            share = much / need.consumed
            shown_much, unit_ = amount(much, metric)
            row = start + len(rows)
            rows.append(
                [
                    purchase.material.name,
                    cause,
                    shown_much,
                    unit_,
                    share,
                    Live(f"E{row}*{own_taken!r}*{price}", share * money),
                ]
            )
    columns = (
        Column("material", width=28),
        Column("where it goes", width=26),
        Column("amount", "amount", 11),
        Column("unit", width=8),
        Column("share", "share", 9),
        Column(f"money {plan.currency}", "money", 12),
    )
    page = Page(
        "Losses",
        ("Where the material goes, in the nested weeks together. Each material adds up to 100 %.",),
        (Table("losses", "Losses by cause", columns, rows),),
    )
    assert page.first_row(0) == start
    return page


def assumptions_page(plan: BuyingPlan) -> Page:
    """What made the figures, and what they rest on."""
    weeks = plan.outlook.weeks
    facts: list[list[Cell]] = [
        ["range", plan.range_name],
        ["range file", plan.range_file],
        ["forecast" if plan.outlook.forecast else "order book", plan.orders_file],
        ["weeks", f"{weeks.label(1)} to {weeks.label(weeks.count)} ({weeks.count})"],
        ["beds", str(sum(line.beds for line in plan.outlook.lines))],
        ["stock", plan.stock or "none given"],
        ["supply table", plan.supply or "none given"],
        ["weeks nested", f"the first {min(plan.planned, weeks.count)}"],
        ["effort for each material and week", plain(plan.effort)],
        ["service level", f"{plain(100 * plan.service)} %"],
        ["spread of demand", f"{plain(100 * plan.spread)} % where the file says nothing"],
        ["seed", str(plan.seed)],
        ["made", f"{plan.made}, version {plan.version}"],
    ]
    facts += [["", line] for line in assumptions(plan)]
    yields: list[list[Cell]] = []
    for purchase in plan.purchases:
        fit = purchase.need.fit
        metric = "m3" if purchase.material.kind == "block" else "m2"
        size, unit_ = amount(1.0, metric)
        rates = [scaled(purchase, rate) / size for rate in (fit.rate, fit.least, fit.most)]
        per = f"{unit_of(purchase)} for each {unit_}"
        yields.append([purchase.material.name, per, *rates, fit.weeks])
    return Page(
        "Assumptions",
        ("What the figures were made of, and what they rest on.",),
        (
            Table(
                "assumptions",
                "Assumptions",
                (Column("what", width=32), Column("that is", width=100)),
                facts,
            ),
            Table(
                "yields",
                "Measured yield: what estimated weeks and the spread of demand are reckoned with",
                (
                    Column("material", width=32),
                    Column("unit", width=28),
                    Column("all nested weeks", "fine", 14),
                    Column("best week", "fine", 10),
                    Column("worst week", "fine", 10),
                    Column("different weeks", "whole", 10),
                ),
                yields,
            ),
        ),
    )
