"""The workbook of a buying plan, a page for each question. Formulas reckon again what a buyer changes.

Amounts, and prices for them, are as the workshop counts them that `nesting.measures` was told of.
"""

from __future__ import annotations

from dataclasses import dataclass

from nesting.buying.more_pages import assumptions_page, losses_page, stock_page
from nesting.buying.notes import counted_in, items_word, notes
from nesting.buying.ordering import factor_of, safety_stock
from nesting.buying.tables import Cell, Column, Given, Live, Page, Table, column_letter, first_row
from nesting.buying.week import BuyingPlan, Purchase
from nesting.measures import amount

__all__ = ["pages"]

BUY, WHEN, WHY, STOCK, LOSSES = "What to buy", "When", "Why", "Stock", "Losses"

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


def pages(plan: BuyingPlan) -> list[Page]:
    """All pages, in the order of the workbook."""
    build = _Build(plan, stock_page(plan))
    return [
        build.buy(),
        build.when(),
        build.why(),
        build.stock,
        losses_page(plan, [f"'{BUY}'!${PRICE}${build.buy_row(at)}" for at in range(build.count)]),
        assumptions_page(plan),
    ]


def scaled(purchase: Purchase, value: float) -> float:
    """An amount as the workshop counts it."""
    metric = counted_in(purchase.material)
    return amount(value, metric)[0] if metric else value


def unit_of(purchase: Purchase) -> str:
    """What amounts are counted in."""
    metric = counted_in(purchase.material)
    return amount(0.0, metric)[1] if metric else items_word(purchase.material)


@dataclass(frozen=True, slots=True)
class _Build:
    """Knows where everything stands."""

    plan: BuyingPlan
    stock: Page

    @property
    def count(self) -> int:
        return len(self.plan.purchases)

    @property
    def weeks(self) -> int:
        return self.plan.outlook.weeks.count

    def buy_row(self, at: int) -> int:
        return first_row(len(ABOUT[BUY]), [], 0) + at

    def why_row(self, at: int) -> int:
        return first_row(len(ABOUT[WHY]), [], 0) + at

    def need_row(self, at: int, week: int) -> int:
        """Row of a material and week in the list of requirements."""
        return first_row(len(ABOUT[WHY]), [(self.count, 1)], 1) + at * self.weeks + week - 1

    def money_row(self, at: int) -> int:
        return first_row(len(ABOUT[WHEN]), [], 0) + at

    @property
    def number_row(self) -> int:
        """Row of the numbers of the weeks, the first one of the second table of When."""
        return first_row(len(ABOUT[WHEN]), [(self.count + 1, CHART_ROWS)], 1)

    def when_row(self, at: int, line: int) -> int:
        return self.number_row + 1 + at * LINES + line

    def across(self, row: int, first: int = FIRST_WEEK) -> str:
        """The cells of all weeks in a row of When."""
        return f"${column_letter(first)}${row}:${column_letter(FIRST_WEEK + self.weeks - 1)}${row}"

    def terms(self, at: int, column: str) -> str:
        return f"'{BUY}'!${column}${self.buy_row(at)}"

    # --- What to buy ----------------------------------------------------------------------------------

    def buy(self) -> Page:
        plan = self.plan
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
        rows = [self._buy_row(at, purchase) for at, purchase in enumerate(plan.purchases)]
        first, last = self.buy_row(0), self.buy_row(self.count - 1)
        total: list[Cell] = ["all materials", *[None] * 15]
        for at in (6, 9):
            letter = column_letter(at + 1)
            total[at] = Live(f"SUM({letter}{first}:{letter}{last})", sum(_number(row[at]) for row in rows))
        remarks: list[list[Cell]] = [
            [purchase.material.name, note] for purchase in plan.purchases for note in notes(plan, purchase)
        ]
        tables = (
            Table("what-to-buy", "Orders", columns, [*rows, total], total=True),
            Table("remarks", "Remarks", (Column("material", width=28), Column("remark", "words")), remarks),
        )
        return Page(BUY, ABOUT[BUY], tables)

    def _buy_row(self, at: int, purchase: Purchase) -> list[Cell]:
        terms, orders = purchase.supply.terms, purchase.schedule
        row, order = self.buy_row(at), self.when_row(at, 2)
        now = orders.now.amount if orders.now else 0.0
        later = sum(item.amount for item in orders.orders) - now
        weeks = self.plan.outlook.weeks
        start = f"DATE({weeks.monday.year},{weeks.monday.month},{weeks.monday.day})"
        first = column_letter(FIRST_WEEK)
        after = f"SUM('{WHEN}'!{self.across(order)})-E{row}"
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

    # --- When -----------------------------------------------------------------------------------------

    def when(self) -> Page:
        weeks = self.plan.outlook.weeks
        labels = [weeks.label(week) for week in weeks.numbers]
        head = (Column("material", width=28), Column("what", width=25), Column("unit", width=7))
        money: list[list[Cell]] = []
        for at, purchase in enumerate(self.plan.purchases):
            placed = {order.placed: order.amount for order in purchase.schedule.orders}
            price = purchase.supply.terms.price
            money.append(
                [
                    purchase.material.name,
                    "money to order",
                    self.plan.currency,
                    *[
                        Live(
                            f"{column_letter(FIRST_WEEK + week - 1)}{self.when_row(at, 2)}"
                            f"*{self.terms(at, PRICE)}",
                            placed.get(week, 0.0) * price,
                        )
                        for week in weeks.numbers
                    ],
                ]
            )
        total: list[Cell] = ["all materials", "money to order", self.plan.currency]
        for column in range(3, 3 + weeks.count):
            letter = column_letter(column + 1)
            span = f"{letter}{self.money_row(0)}:{letter}{self.money_row(self.count - 1)}"
            total.append(Live(f"SUM({span})", sum(_number(row[column]) for row in money)))
        lines: list[list[Cell]] = [[None, "number of the week", None, *weeks.numbers]]
        for at, purchase in enumerate(self.plan.purchases):
            lines += self._lines(at, purchase)
        tables = (
            Table(
                "when-money",
                f"Money to order in each week, {self.plan.currency}",
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
        return Page(WHEN, ABOUT[WHEN], tables, chart=f"money to order, {self.plan.currency}")

    def _lines(self, at: int, purchase: Purchase) -> list[list[Cell]]:
        """Requirement, arrivals, orders, their arrivals, and stock of one material."""
        weeks, terms = self.plan.outlook.weeks, purchase.supply.terms
        placed = {order.placed: order.amount for order in purchase.schedule.orders}
        need, due, order, comes = (self.when_row(at, line) for line in range(LINES - 1))
        lead, review = self.terms(at, LEAD), self.terms(at, REVIEW)
        lot = f"({self.terms(at, ITEM)}*{self.terms(at, MULTIPLE)})"
        name = f"'{BUY}'!$A${self.buy_row(at)}"
        hand = f"'{WHY}'!$G${self.why_row(at)}"
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
        on_order = [f"'{STOCK}'!{span}" for span in _on_order_spans(self.stock)]
        for week in weeks.numbers:
            letter = column_letter(FIRST_WEEK + week - 1)
            before = f"$C{order}:{column_letter(FIRST_WEEK + week - 2)}{order}"
            number = f"{letter}${self.number_row}"
            saved = sum(item.amount for item in purchase.need.savings if item.week == week)
            listed = self.need_row(at, week)
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
            numbers = self.across(self.number_row)
            net = (
                f"SUMIFS({self.across(need)},{numbers},{upto})+'{WHY}'!$F${self.why_row(at)}-{hand}"
                f"-SUMIFS({self.across(due)},{numbers},{upto})-SUM({before})"
            )
            rows[2].append(
                Live(
                    f"IF(MOD({number}-1,{review})=0,IF(ROUND({net},6)>0,"
                    f"ROUNDUP(ROUND(MAX({net},{self.terms(at, LEAST)})/{lot},6),0)*{lot},0),0)",
                    scaled(purchase, placed.get(week, 0.0)),
                )
            )
            arrived = placed.get(week - terms.lead, 0.0)
            rows[3].append(
                Live(
                    f"IF({number}>{lead},INDEX({self.across(order)},1,{number}-{lead}),0)",
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

    # --- Why ------------------------------------------------------------------------------------------

    def why(self) -> Page:
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
        rows = [self._why_row(at, purchase) for at, purchase in enumerate(self.plan.purchases)]
        lines = [line for purchase in self.plan.purchases for line in self._needs(purchase)]
        return Page(
            WHY,
            ABOUT[WHY],
            (
                Table("why", "From requirement to order, for the order to place now", columns, rows),
                Table("requirement", "Requirement by material and week", needs, lines),
            ),
        )

    def _why_row(self, at: int, purchase: Purchase) -> list[Cell]:
        row, spread = self.why_row(at), purchase.spread
        spans = {
            column: f"${column}${self.need_row(at, 1)}:${column}${self.need_row(at, self.weeks)}"
            for column in ("B", "G", "J")
        }
        upto = f'"<="&C{row}'
        due, numbers = self.across(self.when_row(at, 1)), self.across(self.number_row)
        cover = purchase.supply.terms.cover
        service = purchase.supply.service or self.plan.service
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
        grown = (
            f"M{row}*SQRT(MIN(C{row},{self.weeks})/{purchase.cover})*NORMSINV(K{row})/NORMSINV({service!r})"
        )
        now = purchase.schedule.now
        return [
            purchase.material.name,
            unit_of(purchase),
            Live(f"{self.terms(at, LEAD)}+{self.terms(at, REVIEW)}", cover),
            Live(f"SUMIFS({spans['G']},{spans['B']},{upto})", scaled(purchase, purchase.gross)),
            Live(f"SUMIFS({spans['J']},{spans['B']},{upto})", scaled(purchase, purchase.saved)),
            Live(
                f"IF(ISNUMBER(L{row}),L{row},IF(ISNUMBER(M{row}),{grown},0))",
                scaled(purchase, purchase.safety),
            ),
            Live(f"'{STOCK}'!$C${self.stock.first_row(0) + at}", scaled(purchase, purchase.on_hand)),
            Live(
                f"SUMIFS('{WHEN}'!{due},'{WHEN}'!{numbers},{upto})",
                scaled(purchase, purchase.schedule.due),
            ),
            Live(f"MAX(0,D{row}+F{row}-G{row}-H{row}-E{row})", scaled(purchase, purchase.schedule.net)),
            Live(
                f"'{WHEN}'!{column_letter(FIRST_WEEK)}{self.when_row(at, 2)}",
                scaled(purchase, now.amount if now else 0.0),
            ),
            Given(service),
            Given(None if purchase.supply.safety is None else scaled(purchase, purchase.supply.safety)),
            simulated,
            by_formula,
            *band,
        ]

    def _needs(self, purchase: Purchase) -> list[list[Cell]]:
        rows: list[list[Cell]] = []
        metric = "m3" if purchase.material.kind == "block" else "m2"
        for week in purchase.need.weeks:
            size, unit = amount(week.pieces, metric)
            saved = sum(item.amount for item in purchase.need.savings if item.week == week.week)
            rows.append(
                [
                    purchase.material.name,
                    week.week,
                    self.plan.outlook.weeks.label(week.week),
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


def _number(cell: Cell) -> float:
    value = cell.value if isinstance(cell, Live | Given) else cell
    return float(value) if isinstance(value, int | float) else 0.0


def _on_order_spans(page: Page) -> tuple[str, str, str]:
    """Cells of the list of what is on order: materials, numbers of weeks, amounts."""
    first = page.first_row(1)
    last = first + len(page.tables[1].rows) - 1
    name, week, much = (f"${column}${first}:${column}${last}" for column in ("A", "B", "D"))
    return name, week, much
