"""The page Why: from requirement to order, and how each week's requirement was found."""

from __future__ import annotations

from nesting.buying.ordering import factor_of, safety_stock
from nesting.buying.positions import (
    ABOUT,
    FIRST_WEEK,
    LEAD,
    REVIEW,
    STOCK,
    WHEN,
    WHY,
    Places,
    scaled,
    unit_of,
)
from nesting.buying.tables import Cell, Column, Given, Live, Page, Table, column_letter
from nesting.buying.week import Purchase
from nesting.measures import amount

__all__ = ["why_page"]


def why_page(places: Places) -> Page:
    columns = (
        Column("material", width=28),
        Column("unit", width=7),
        Column("weeks covered", "whole", 10),
        Column("requirement, all new", "amount", 14),
        Column("rests save", "amount", 9),
        Column("safety stock", "amount", 9),
        Column("on hand", "amount", 9),
        Column("on order in time", "amount", 10),
        Column("missing", "amount", 9),
        Column("to order now", "amount", 9),
        Column("service level", "share", 9),
        Column("fixed safety stock", "amount", 9),
        Column("safety stock, simulated", "amount", 10),
        Column("safety stock, by formula", "amount", 11),
        Column("requirement: 5 % are below", "amount", 14),
        Column("half are below", "amount", 10),
        Column("95 % are below", "amount", 10),
    )
    needs = (
        Column("material", width=28),
        Column("number of the week", "whole", 10),
        Column("week", width=10),
        Column("beds", "whole", 8),
        Column("size of pieces", "amount", 10),
        Column("unit of size", width=7),
        Column("requirement", "amount", 14),
        Column("unit", width=7),
        Column("how it was found", width=12),
        Column("rests save", "amount", 9),
        Column("not proven necessary", "share", 11),
    )
    rows = [_why_row(places, at, purchase) for at, purchase in enumerate(places.plan.purchases)]
    lines = [line for purchase in places.plan.purchases for line in _needs(places, purchase)]
    return Page(
        WHY,
        ABOUT[WHY],
        (
            Table("why", "From requirement to order, for the order to place now", columns, rows),
            Table("requirement", "Requirement by material and week", needs, lines),
        ),
    )


def _why_row(places: Places, at: int, purchase: Purchase) -> list[Cell]:
    row, spread = places.why_row(at), purchase.spread
    spans = {
        column: f"${column}${places.need_row(at, 1)}:${column}${places.need_row(at, places.weeks)}"
        for column in ("B", "G", "J")
    }
    upto = f'"<="&C{row}'
    due, numbers = places.across(places.when_row(at, 1)), places.across(places.number_row)
    cover = purchase.supply.terms.cover
    service = purchase.supply.service or places.plan.service
    simulated: Cell = None
    by_formula: Cell = None
    band: list[Cell] = [None, None, None]
    if spread is not None:
        simulated = scaled(purchase, spread.at_service)
        by_formula = scaled(purchase, safety_stock(factor_of(service), spread.sigma, 1.0))
        band = [
            scaled(purchase, max(0.0, purchase.gross + off))
            for off in (spread.low, spread.middle, spread.high)
        ]
    grown = f"M{row}*SQRT(MIN(C{row},{places.weeks})/{purchase.cover})*NORMSINV(K{row})/NORMSINV({service!r})"
    now = purchase.schedule.now
    return [
        purchase.material.name,
        unit_of(purchase),
        Live(f"{places.terms(at, LEAD)}+{places.terms(at, REVIEW)}", cover),
        Live(f"SUMIFS({spans['G']},{spans['B']},{upto})", scaled(purchase, purchase.gross)),
        Live(f"SUMIFS({spans['J']},{spans['B']},{upto})", scaled(purchase, purchase.saved)),
        Live(
            f"IF(ISNUMBER(L{row}),L{row},IF(ISNUMBER(M{row}),{grown},0))",
            scaled(purchase, purchase.safety),
        ),
        Live(f"'{STOCK}'!$C${places.stock.first_row(0) + at}", scaled(purchase, purchase.on_hand)),
        Live(
            f"SUMIFS('{WHEN}'!{due},'{WHEN}'!{numbers},{upto})",
            scaled(purchase, purchase.schedule.due),
        ),
        Live(f"MAX(0,D{row}+F{row}-G{row}-H{row}-E{row})", scaled(purchase, purchase.schedule.net)),
        Live(
            f"'{WHEN}'!{column_letter(FIRST_WEEK)}{places.when_row(at, 2)}",
            scaled(purchase, now.amount if now else 0.0),
        ),
        Given(service),
        Given(None if purchase.supply.safety is None else scaled(purchase, purchase.supply.safety)),
        simulated,
        by_formula,
        *band,
    ]


def _needs(places: Places, purchase: Purchase) -> list[list[Cell]]:
    rows: list[list[Cell]] = []
    metric = "m3" if purchase.material.kind == "block" else "m2"
    for week in purchase.need.weeks:
        size, unit = amount(week.pieces, metric)
        saved = sum(item.amount for item in purchase.need.savings if item.week == week.week)
        rows.append(
            [
                purchase.material.name,
                week.week,
                places.plan.outlook.weeks.label(week.week),
                week.beds,
                size,
                unit,
                scaled(purchase, week.amount),
                unit_of(purchase),
                ("nested" if week.nested else "estimated") if week.beds else "none needed",
                scaled(purchase, saved),
                week.gap,
            ]
        )
    return rows
