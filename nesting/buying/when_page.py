"""The page When: money to order by week, and requirement, arrivals, orders and stock week by week."""

from __future__ import annotations

from nesting.buying.positions import (
    ABOUT,
    BUY,
    CHART_ROWS,
    FIRST_WEEK,
    ITEM,
    LEAD,
    LEAST,
    LINES,
    MULTIPLE,
    PRICE,
    REVIEW,
    WHEN,
    WHY,
    Places,
    scaled,
    unit_of,
)
from nesting.buying.tables import Cell, Column, Live, Page, Table, column_letter, number_of
from nesting.buying.week import Purchase

__all__ = ["when_page"]


def when_page(places: Places) -> Page:
    weeks = places.plan.outlook.weeks
    labels = [weeks.label(week) for week in weeks.numbers]
    head = (Column("material", width=28), Column("what", width=25), Column("unit", width=7))
    money: list[list[Cell]] = []
    for at, purchase in enumerate(places.plan.purchases):
        placed = {order.placed: order.amount for order in purchase.schedule.orders}
        price = purchase.supply.terms.price
        money.append(
            [
                purchase.material.name,
                "money to order",
                places.plan.currency,
                *[
                    Live(
                        f"{column_letter(FIRST_WEEK + week - 1)}{places.when_row(at, 2)}"
                        f"*{places.terms(at, PRICE)}",
                        placed.get(week, 0.0) * price,
                    )
                    for week in weeks.numbers
                ],
            ]
        )
    total: list[Cell] = ["all materials", "money to order", places.plan.currency]
    for column in range(3, 3 + weeks.count):
        letter = column_letter(column + 1)
        span = f"{letter}{places.money_row(0)}:{letter}{places.money_row(places.count - 1)}"
        total.append(Live(f"SUM({span})", sum(number_of(row[column]) for row in money)))
    lines: list[list[Cell]] = [[None, "number of the week", None, *weeks.numbers]]
    for at, purchase in enumerate(places.plan.purchases):
        lines += _lines(places, at, purchase)
    tables = (
        Table(
            "when-money",
            f"Money to order in each week, {places.plan.currency}",
            (*head, *(Column(label, "money", 11) for label in labels)),
            [*money, total],
            total=True,
            gap=CHART_ROWS,
        ),
        Table(
            "when",
            "Week by week",
            (*head, *(Column(label, "amount", 11) for label in labels)),
            lines,
        ),
    )
    return Page(WHEN, ABOUT[WHEN], tables, chart=f"money to order, {places.plan.currency}")


def _lines(places: Places, at: int, purchase: Purchase) -> list[list[Cell]]:
    """Requirement, arrivals, orders, their arrivals, and stock of one material."""
    weeks, terms = places.plan.outlook.weeks, purchase.supply.terms
    placed = {order.placed: order.amount for order in purchase.schedule.orders}
    need, due, order, comes = (places.when_row(at, line) for line in range(LINES - 1))
    lead, review = places.terms(at, LEAD), places.terms(at, REVIEW)
    lot = f"({places.terms(at, ITEM)}*{places.terms(at, MULTIPLE)})"
    name = f"'{BUY}'!$A${places.buy_row(at)}"
    hand = f"'{WHY}'!$G${places.why_row(at)}"
    rows: list[list[Cell]] = [
        [purchase.material.name, what, unit_of(purchase)]
        for what in (
            "requirement less rests",
            "arrives, on order",
            "to order",
            "arrives, of these orders",
            "stock at end of week",
        )
    ]
    on_order = places.on_order
    for week in weeks.numbers:
        letter = column_letter(FIRST_WEEK + week - 1)
        before = f"$C{order}:{column_letter(FIRST_WEEK + week - 2)}{order}"
        number = f"{letter}${places.number_row}"
        saved = sum(item.amount for item in purchase.need.savings if item.week == week)
        listed = places.need_row(at, week)
        rows[0].append(
            Live(
                f"'{WHY}'!$G${listed}-'{WHY}'!$J${listed}",
                scaled(purchase, purchase.need.weeks[week - 1].amount - saved),
            )
        )
        rows[1].append(
            Live(
                f"SUMPRODUCT(({on_order[0]}={name})*({on_order[1]}={number})*{on_order[2]})",
                scaled(purchase, purchase.due[week - 1]),
            )
        )
        upto = f'"<="&({number}+{lead}+{review}-1)'
        numbers = places.across(places.number_row)
        net = (
            f"SUMIFS({places.across(need)},{numbers},{upto})+'{WHY}'!$F${places.why_row(at)}-{hand}"
            f"-SUMIFS({places.across(due)},{numbers},{upto})-SUM({before})"
        )
        rows[2].append(
            Live(
                f"IF(MOD({number}-1,{review})=0,IF(ROUND({net},6)>0,"
                f"ROUNDUP(ROUND(MAX({net},{places.terms(at, LEAST)})/{lot},6),0)*{lot},0),0)",
                scaled(purchase, placed.get(week, 0.0)),
            )
        )
        arrived = placed.get(week - terms.lead, 0.0)
        rows[3].append(
            Live(
                f"IF({number}>{lead},INDEX({places.across(order)},1,{number}-{lead}),0)",
                scaled(purchase, arrived),
            )
        )
        sums = [f"SUM(${column_letter(FIRST_WEEK)}{row}:{letter}{row})" for row in (due, comes, need)]
        rows[4].append(
            Live(
                f"{hand}+{sums[0]}+{sums[1]}-{sums[2]}",
                scaled(purchase, purchase.schedule.ends[week - 1]),
            )
        )
    return rows
