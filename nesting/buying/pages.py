"""The workbook of a buying plan, a page for each question. Formulas reckon again what a buyer changes.

Amounts, and prices for them, are as the workshop counts them that `nesting.measures` was told of.
"""

from __future__ import annotations

from nesting.buying.more_pages import assumptions_page, losses_page, stock_page
from nesting.buying.notes import items_word, notes
from nesting.buying.positions import ABOUT, BUY, FIRST_WEEK, ITEM, LEAD, PRICE, WHEN, Places, scaled, unit_of
from nesting.buying.tables import Cell, Column, Given, Live, Page, Table, column_letter, number_of
from nesting.buying.week import BuyingPlan, Purchase
from nesting.buying.when_page import when_page
from nesting.buying.why_page import why_page

__all__ = ["pages"]


def pages(plan: BuyingPlan) -> list[Page]:
    """All pages, in the order of the workbook."""
    places = Places(plan, stock_page(plan))
    return [
        _buy_page(places),
        when_page(places),
        why_page(places),
        places.stock,
        losses_page(plan, [places.terms(at, PRICE) for at in range(places.count)]),
        assumptions_page(plan),
    ]


def _buy_page(places: Places) -> Page:
    plan = places.plan
    columns = (
        Column("material", width=28),
        Column("supplier", width=16),
        Column("order now", "whole", 8),
        Column("in", width=7),
        Column("that is", "amount", 10),
        Column("unit", width=7),
        Column(f"money now {plan.currency}", "money", 12),
        Column("there from", "date", 11),
        Column("later orders", "whole", 8),
        Column(f"money later {plan.currency}", "money", 12),
        Column("weeks to deliver", "whole", 10),
        Column("weeks between orders", "whole", 9),
        Column("minimum order", "amount", 10),
        Column("sold in", "whole", 8),
        Column("one holds", "amount", 11),
        Column(f"price {plan.currency}", "fine", 9),
    )
    rows = [_buy_row(places, at, purchase) for at, purchase in enumerate(plan.purchases)]
    first, last = places.buy_row(0), places.buy_row(places.count - 1)
    total: list[Cell] = ["all materials", *[None] * 15]
    for at in (6, 9):
        letter = column_letter(at + 1)
        total[at] = Live(f"SUM({letter}{first}:{letter}{last})", sum(number_of(row[at]) for row in rows))
    remarks: list[list[Cell]] = [
        [purchase.material.name, note] for purchase in plan.purchases for note in notes(plan, purchase)
    ]
    tables = (
        Table("what-to-buy", "Orders", columns, [*rows, total], total=True),
        Table("remarks", "Remarks", (Column("material", width=28), Column("remark", "words")), remarks),
    )
    return Page(BUY, ABOUT[BUY], tables)


def _buy_row(places: Places, at: int, purchase: Purchase) -> list[Cell]:
    terms, orders = purchase.supply.terms, purchase.schedule
    row, order = places.buy_row(at), places.when_row(at, 2)
    now = orders.now.amount if orders.now else 0.0
    later = sum(item.amount for item in orders.orders) - now
    weeks = places.plan.outlook.weeks
    start = f"DATE({weeks.monday.year},{weeks.monday.month},{weeks.monday.day})"
    first = column_letter(FIRST_WEEK)
    after = f"SUM('{WHEN}'!{places.across(order)})-E{row}"
    price = terms.price / scaled(purchase, 1.0)
    return [
        purchase.material.name,
        purchase.supply.supplier or None,
        Live(f"ROUND(E{row}/{ITEM}{row},6)", round(now / terms.item, 6)),
        items_word(purchase.material),
        Live(f"'{WHEN}'!{first}{order}", scaled(purchase, now)),
        unit_of(purchase),
        Live(f"E{row}*{PRICE}{row}", now * terms.price),
        Live(f'IF(E{row}>0,{start}+7*{LEAD}{row},"")', weeks.first_day(1 + terms.lead) if now else ""),
        Live(f"ROUND(({after})/{ITEM}{row},6)", round(later / terms.item, 6)),
        Live(f"({after})*{PRICE}{row}", later * terms.price),
        Given(terms.lead),
        Given(terms.review),
        Given(scaled(purchase, terms.least)),
        Given(terms.multiple),
        Given(scaled(purchase, terms.item)),
        Given(price),
    ]
