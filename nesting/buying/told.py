"""A buying plan for other programs (JSON), as lists (CSV) and as a table for the screen."""

from __future__ import annotations

import csv
import datetime
import io
import json
from typing import Any

from nesting.buying.notes import assumptions, counted_in, items_word, notes, shown
from nesting.buying.pages import pages
from nesting.buying.tables import Cell, Given, Live, Table
from nesting.buying.week import BuyingPlan, Purchase
from nesting.measures import MACHINES, delimiter, fixed, plain, shown_for

__all__ = ["buying_json", "buying_values", "lists", "screen_table"]

ROUND = 4
"""Decimals of amounts for other programs."""


@shown_for(MACHINES)
def buying_values(plan: BuyingPlan) -> dict[str, Any]:
    """Everything, always metric."""
    weeks = plan.outlook.weeks
    return {
        "range": plan.range_name,
        "range file": plan.range_file,
        "orders file": plan.orders_file,
        "forecast": plan.outlook.forecast,
        "made": plan.made,
        "version": plan.version,
        "seed": plan.seed,
        "effort": plan.effort,
        "weeks": [weeks.label(week) for week in weeks.numbers],
        "first day": weeks.monday.isoformat(),
        "beds": [plan.outlook.beds(week) for week in weeks.numbers],
        f"money now {plan.currency}": round(sum(item.money for item in plan.purchases), 2),
        "materials": [_material(plan, purchase) for purchase in plan.purchases],
        "assumptions": assumptions(plan),
    }


def _material(plan: BuyingPlan, purchase: Purchase) -> dict[str, Any]:
    terms, orders, need = purchase.supply.terms, purchase.schedule, purchase.need
    weeks, spread = plan.outlook.weeks, purchase.spread
    unit = counted_in(purchase.material) or items_word(purchase.material)

    def plainly(amount: float | None) -> float | None:
        return None if amount is None else round(amount, ROUND)

    return {
        "material": purchase.material.key,
        "name": purchase.material.name,
        "unit": unit,
        "supplier": purchase.supply.supplier,
        "lead weeks": terms.lead,
        "review weeks": terms.review,
        "minimum order": plainly(terms.least),
        "sold in": terms.multiple,
        "one holds": plainly(terms.item),
        f"price {plan.currency}": plainly(terms.price),
        "weeks covered": purchase.cover,
        "requirement": plainly(purchase.gross),
        "safety stock": plainly(purchase.safety),
        "service level": purchase.service,
        "on hand": plainly(purchase.on_hand),
        "on order in time": plainly(orders.due),
        "rests save": plainly(purchase.saved),
        "missing": plainly(orders.net),
        f"money now {plan.currency}": round(purchase.money, 2),
        "orders": [
            {
                "place in": weeks.label(order.placed),
                "there in": weeks.label(order.arrives),
                "items": order.items,
                "of": items_word(purchase.material),
                "amount": plainly(order.amount),
                f"money {plan.currency}": round(order.amount * terms.price, 2),
            }
            for order in orders.orders
        ],
        "by week": [
            {
                "week": weeks.label(week.week),
                "beds": week.beds,
                "requirement": plainly(week.amount),
                "nested": week.nested,
                "rests save": plainly(sum(item.amount for item in need.savings if item.week == week.week)),
                "on order": plainly(due),
                "stock at end": plainly(end),
                "missing pieces": week.missing,
            }
            for week, due, end in zip(need.weeks, purchase.due, orders.ends, strict=True)
        ],
        "short from": None if orders.short is None else weeks.label(orders.short),
        "yield": {
            "rate": plainly(need.fit.rate),
            "least": plainly(need.fit.least),
            "most": plainly(need.fit.most),
            "different weeks": need.fit.weeks,
        },
        "spread": None
        if spread is None
        else {
            "5 %": plainly(max(0.0, purchase.gross + spread.low)),
            "50 %": plainly(max(0.0, purchase.gross + spread.middle)),
            "95 %": plainly(max(0.0, purchase.gross + spread.high)),
            "safety stock by formula": plainly(purchase.by_formula),
        },
        "losses": {
            loss.cause: round(loss.amount / need.consumed, ROUND) for loss in need.losses if need.consumed
        },
        "pieces on the shelf": [
            {"id": held.piece.id, "counts for": plainly(held.amount), "how": held.why}
            for held in purchase.held
        ],
        "notes": notes(plan, purchase),
    }


def buying_json(plan: BuyingPlan) -> str:
    """The same as text."""
    return json.dumps(buying_values(plan), indent=1, ensure_ascii=False) + "\n"


def lists(plan: BuyingPlan) -> dict[str, str]:
    """Every table of the workbook as CSV, by file name, as the workshop counts and writes."""
    with shown_for(plan.workshop):
        return {f"{table.name}.csv": _csv(table) for page in pages(plan) for table in page.tables}


def _csv(table: Table) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n", delimiter=delimiter())
    writer.writerow([column.heading for column in table.columns])
    for row in table.rows:
        cells = [_plain(cell) for cell in row]
        if any(cells):
            writer.writerow(cells)
    return out.getvalue()


def _plain(cell: Cell) -> str:
    value = cell.value if isinstance(cell, Live | Given) else cell
    if value is None:
        return ""
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, int | float):
        return plain(value, ROUND)
    # What begins like a formula would be one to a spreadsheet.
    return f"'{value}" if value[:1] in ("=", "+", "-", "@") else value


def screen_table(plan: BuyingPlan) -> tuple[list[str], list[list[str]], list[str]]:
    """Headings and rows of the table on screen, and what has to be said below it."""
    with shown_for(plan.workshop):
        rows = [_row(plan, purchase) for purchase in plan.purchases]
        by_note: dict[str, list[str]] = {}
        for item in plan.purchases:
            for note in notes(plan, item):
                by_note.setdefault(note, []).append(item.material.name)
        said = [f"{', '.join(names)}: {note}" for note, names in by_note.items()]
        total = fixed(sum(item.money for item in plan.purchases), 2)
    rows.append(["all materials", "", "", "", "", "", "", "", total])
    headings = [
        "material",
        "weeks",
        "requirement",
        "safety stock",
        "on hand",
        "on order",
        "order now",
        "there in",
        f"money {plan.currency}",
    ]
    return headings, rows, [*said, *plan.outlook.notes]


def _row(plan: BuyingPlan, purchase: Purchase) -> list[str]:
    material, now = purchase.material, purchase.schedule.now
    nested = all(week.nested for week in purchase.need.weeks[: purchase.cover])
    order = f"{now.items} {items_word(material, now.items)}" if now else "nothing"
    if now and counted_in(material):
        order += f" ({shown(material, now.amount)})"
    return [
        material.name,
        str(purchase.cover),
        shown(material, purchase.gross) + ("" if nested else ", part estimated"),
        shown(material, purchase.safety) if purchase.safety else "-",
        shown(material, purchase.on_hand),
        shown(material, purchase.schedule.due) if purchase.schedule.due else "-",
        order,
        plan.outlook.weeks.label(now.arrives) if now else "",
        fixed(purchase.money, 2),
    ]
