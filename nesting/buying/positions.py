"""Where everything stands in the workbook of a buying plan, so that formulas can point to it."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.buying.notes import counted_in, items_word
from nesting.buying.tables import Page, column_letter, first_row
from nesting.buying.week import BuyingPlan, Purchase
from nesting.measures import amount

__all__ = [
    "ABOUT",
    "BUY",
    "CHART_ROWS",
    "FIRST_WEEK",
    "ITEM",
    "LEAD",
    "LEAST",
    "LINES",
    "MULTIPLE",
    "PRICE",
    "REVIEW",
    "STOCK",
    "WHEN",
    "WHY",
    "Places",
    "scaled",
    "unit_of",
]

BUY, WHEN, WHY, STOCK = "What to buy", "When", "Why", "Stock"

ABOUT = {
    BUY: (
        "What to order now and in these weeks. Change the cells in blue: everything else follows.",
        "Prices are per metre or yard of roll, per sheet, per block.",
    ),
    WHEN: ("Orders to place and stock to expect, week by week, if demand is as planned. Below 0 is short.",),
    WHY: (
        "How the amount to order now comes about: requirement of the weeks covered + safety stock - on hand "
        "- on order in time - what rests save.",
        "Safety stock: the fixed one where it is given, else so much that there is enough in the share of "
        "cases called service level.",
    ),
}
CHART_ROWS = 20
FIRST_WEEK = 4
"""Column of the first week on the page When."""
LINES = 5
"""Rows of each material there."""

# Columns of What to buy and Why that formulas point to.
LEAD, REVIEW, LEAST, MULTIPLE, ITEM, PRICE = "K", "L", "M", "N", "O", "P"


def scaled(purchase: Purchase, value: float) -> float:
    """An amount as the workshop counts it."""
    metric = counted_in(purchase.material)
    return amount(value, metric)[0] if metric else value


def unit_of(purchase: Purchase) -> str:
    """What amounts are counted in."""
    metric = counted_in(purchase.material)
    return amount(0.0, metric)[1] if metric else items_word(purchase.material)


@dataclass(frozen=True, slots=True)
class Places:
    """Knows where everything stands."""

    plan: BuyingPlan
    stock: Page

    @property
    def count(self) -> int:
        """How many materials there are."""
        return len(self.plan.purchases)

    @property
    def weeks(self) -> int:
        """How many weeks there are."""
        return self.plan.outlook.weeks.count

    def buy_row(self, at: int) -> int:
        """Row of a material, counted from 0, on What to buy."""
        return first_row(len(ABOUT[BUY]), [], 0) + at

    def why_row(self, at: int) -> int:
        """Its row in the first table of Why."""
        return first_row(len(ABOUT[WHY]), [], 0) + at

    def need_row(self, at: int, week: int) -> int:
        """Row of a material and week in the list of requirements."""
        return first_row(len(ABOUT[WHY]), [(self.count, 1)], 1) + at * self.weeks + week - 1

    def money_row(self, at: int) -> int:
        """Its row in the first table of When."""
        return first_row(len(ABOUT[WHEN]), [], 0) + at

    @property
    def number_row(self) -> int:
        """Row of the numbers of the weeks, the first one of the second table of When."""
        return first_row(len(ABOUT[WHEN]), [(self.count + 1, CHART_ROWS)], 1)

    def when_row(self, at: int, line: int) -> int:
        """One of its `LINES` rows in the second table of When."""
        return self.number_row + 1 + at * LINES + line

    def across(self, row: int, first: int = FIRST_WEEK) -> str:
        """The cells of all weeks in a row of When."""
        return f"${column_letter(first)}${row}:${column_letter(FIRST_WEEK + self.weeks - 1)}${row}"

    def terms(self, at: int, column: str) -> str:
        """The cell of What to buy that holds one of its terms."""
        return f"'{BUY}'!${column}${self.buy_row(at)}"

    @property
    def on_order(self) -> tuple[str, str, str]:
        """Cells of the list of what is on order: materials, numbers of weeks, amounts."""
        first = self.stock.first_row(1)
        last = first + len(self.stock.tables[1].rows) - 1
        name, week, much = (f"'{STOCK}'!${column}${first}:${column}${last}" for column in ("A", "B", "D"))
        return name, week, much
