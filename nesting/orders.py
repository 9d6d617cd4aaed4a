"""The order book: order lines from a spreadsheet, and the demand for panels they make."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from nesting.catalogue import Model, Range
from nesting.errors import Finding, InputError
from nesting.model import Demand, OrderShare, Panel, Size
from nesting.reading.cells import cell_text, read_number
from nesting.reading.dates import DATE_ORDERS, DateError, EitherWay, common_order, read_date
from nesting.reading.findings import Findings
from nesting.reading.tables import Cell, Row, read_table
from nesting.reading.units import show

__all__ = ["DATE_ORDERS", "OrderBook", "OrderLine", "RowReader", "demand_by_material", "load_orders"]

T = TypeVar("T")

MAX_QUANTITY = 100_000
"""Most beds in one order line."""
MAX_ORDER = 40
"""Most characters of an order number."""

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "order": (
        "order no",
        "order nr",
        "order number",
        "order id",
        "order ref",
        "order reference",
        "sales order",
        "job",
        "job no",
        "job number",
    ),
    "due": (
        "due date",
        "due on",
        "delivery",
        "delivery date",
        "deliver by",
        "deliver on",
        "needed by",
        "required by",
        "required date",
        "wanted by",
        "ship date",
        "dispatch date",
    ),
    "model": ("model name", "product", "product name", "article", "item", "bed", "mattress"),
    "size": ("bed size", "mattress size", "dimensions", "width x length", "size name"),
    "quantity": ("qty", "pcs", "pieces", "units", "count", "beds", "order quantity", "quantity ordered"),
}
"""The columns of an order book and what else they may be called."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """So many beds of one model and size for one order.

    Parameters
    ----------
    order
        Order number, as written.
    due
        Day on which it is due.
    model_key, size_key
        Keys in the range.
    quantity
        Beds.
    row
        Row in the order book, from 1.
    """

    order: str
    due: date
    model_key: str
    size_key: str
    quantity: int
    row: int


@dataclass(frozen=True, slots=True)
class OrderBook:
    """The order lines of one file, in the order of the file."""

    file: str
    lines: tuple[OrderLine, ...]

    def between(self, first: date | None, last: date | None) -> OrderBook:
        """The lines due from `first` to `last`, both included; None leaves that end open.

        Raises
        ------
        InputError
            When nothing is due then.
        """
        lines = tuple(
            line
            for line in self.lines
            if (first is None or line.due >= first) and (last is None or line.due <= last)
        )
        if not lines:
            days = [line.due for line in self.lines]
            allowed = f"days with orders, which run from {min(days)} to {max(days)}" if days else "orders"
            span = f"nothing due from {first or 'the beginning'} to {last or 'the end'}"
            raise InputError([Finding(self.file, "due", span, allowed, "Choose other days.")])
        return OrderBook(self.file, lines)


def load_orders(path: str | os.PathLike[str], range_: Range, *, date_order: str | None = None) -> OrderBook:
    """Read and check an order book.

    Parameters
    ----------
    path
        A CSV or XLSX file of at most 50 MB and 200 000 rows, with the columns `COLUMNS` in any order.
    range_
        What can be ordered.
    date_order
        How dates such as ``3/4/2026`` are written, one of `DATE_ORDERS`; None to find out from the file,
        and to refuse what stays ambiguous.

    Raises
    ------
    InputError
        With every problem found, at most 200 of them, each with its row and column.
    ValueError
        When `date_order` is none of `DATE_ORDERS`.
    """
    if date_order is not None and date_order not in DATE_ORDERS:
        raise ValueError(f"date_order must be one of {DATE_ORDERS} or None, got {date_order!r}.")
    name = os.fspath(path)
    findings = Findings(name)
    rows = list(read_table(path, COLUMNS, findings, kind="an order book"))
    reader = RowReader(range_, findings, _dates(rows, date_order))
    lines = tuple(line for row in rows if (line := reader.line(row)) is not None)
    if not rows and not len(findings):
        findings.add("the file", "headings only", "at least one order line", "Add orders below the headings.")
    findings.stop_if_any()
    return OrderBook(name, lines)


def _dates(rows: Iterable[Row], date_order: str | None) -> dict[int, date | DateError]:
    """Due date by row number, or what is wrong with it.

    Dates are read together, because one row may tell how another is to be read.
    """
    readings: dict[int, date | EitherWay] = {}
    dates: dict[int, date | DateError] = {}
    real_dates = False
    for row in rows:
        cell = row.cells["due"]
        real_dates = real_dates or isinstance(cell, date)
        if cell is None:
            continue
        try:
            readings[row.number] = read_date(cell)
        except DateError as error:
            dates[row.number] = error
    order = date_order or common_order(readings.values())
    for number, reading in readings.items():
        try:
            if isinstance(reading, EitherWay) and real_dates and date_order is None:
                # A spreadsheet that left this as text could not read it in its own order, and so may
                # have swapped day and month of the dates beside it.
                raise DateError(
                    "It is text while others are real dates, in which day and month may be swapped: "
                    "check them all, then write them as 2026-04-03 or state the date order."
                )
            dates[number] = reading.read(order) if isinstance(reading, EitherWay) else reading
        except DateError as error:
            dates[number] = error
    return dates


class RowReader:
    """Turns rows into order lines; what is wrong with them goes into the findings."""

    def __init__(self, range_: Range, findings: Findings, dates: Mapping[int, date | DateError]) -> None:
        self.range, self.findings, self.dates = range_, findings, dates
        self._models: dict[str, Model | Finding] = {}
        self._sizes: dict[tuple[str, str], Size | Finding] = {}

    def line(self, row: Row) -> OrderLine | None:
        """The order line of a row; None when something is wrong with it."""
        for column, cell in row.cells.items():
            if cell is None:
                self.findings.add(f"row {row.number}, {column}", None, "a value in every row", "Fill it in.")
        order = self._order(row)
        due = self._due(row)
        model = self.model(row)
        size = self.size(row, model) if model else None
        quantity = self._quantity(row)
        if order is None or due is None or model is None or size is None or quantity is None:
            return None
        return OrderLine(
            order=order,
            due=due,
            model_key=model.key,
            size_key=size.key,
            quantity=quantity,
            row=row.number,
        )

    def _order(self, row: Row) -> str | None:
        text = cell_text(row.cells["order"])
        if text is not None and not (len(text) <= MAX_ORDER and text.isprintable()):
            allowed = f"at most {MAX_ORDER} characters on one line"
            self.findings.add(f"row {row.number}, order", text, allowed, "Shorten it.")
            return None
        return text

    def _due(self, row: Row) -> date | None:
        due = self.dates.get(row.number)
        if isinstance(due, DateError):
            allowed = "one day, written so that it can be read in one way"
            self.findings.add(f"row {row.number}, due", row.cells["due"], allowed, str(due))
            return None
        return due

    def model(self, row: Row) -> Model | None:
        """The model of a row; None when there is none, which is noted."""
        text = cell_text(row.cells["model"])
        if text is None:
            return None
        if text not in self._models:
            try:
                self._models[text] = self.range.find_model(text)
            except InputError as error:
                self._models[text] = error.findings[0]
        return self._noted(self._models[text], text, f"row {row.number}, model")

    def size(self, row: Row, model: Model) -> Size | None:
        """The size of a row; None when there is none or the model is not made in it, which is noted."""
        text = cell_text(row.cells["size"])
        if text is None:
            return None
        wanted = (model.key, text)
        if wanted not in self._sizes:
            try:
                size = self.range.find_size(text, among=model.sizes)
                offered = size.key in model.sizes
                self._sizes[wanted] = size if offered else self.range.not_offered(model, size.key)
            except InputError as error:
                self._sizes[wanted] = error.findings[0]
        return self._noted(self._sizes[wanted], text, f"row {row.number}, size")

    def _noted(self, found: T | Finding, text: str, place: str) -> T | None:
        if isinstance(found, Finding):
            self.findings.extend([replace(found, file=self.findings.file, place=place, value=text)])
            return None
        return found

    def _quantity(self, row: Row) -> int | None:
        cell = row.cells["quantity"]
        if cell is None:
            return None
        try:
            return _whole(cell)
        except ValueError as error:
            allowed = f"a whole number from 1 to {show(MAX_QUANTITY)}"
            self.findings.add(f"row {row.number}, quantity", cell, allowed, str(error))
            return None


def _whole(cell: Cell) -> int:
    """Number of beds in a cell; ValueError says in a sentence what to do about any other content."""
    number: float | None = None
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        number = float(cell)
    elif isinstance(cell, str):
        number = read_number(cell)
    if number is None:
        raise ValueError("Write digits only, such as 12.")
    if not number.is_integer():
        raise ValueError("Beds come whole: correct the quantity.")
    if number < 1:
        raise ValueError("Correct the quantity or take the row out.")
    if number > MAX_QUANTITY:
        raise ValueError("Correct the quantity, or split the order.")
    return int(number)


def demand_by_material(range_: Range, lines: Iterable[OrderLine]) -> dict[str, tuple[Demand, ...]]:
    """How many of each panel the order lines need.

    The order of `lines` does not matter: materials, models, sizes and panels follow the range file.

    Returns
    -------
    dict
        Demands by the key of their material. Lines of the same order number, due day, model and size are
        added up. A demand is called after its panel, model and size, with the keys of the latter two
        where names alone would not tell demands apart.

    Raises
    ------
    InputError
        When a line names a model or size that the range does not offer.
    """
    beds: dict[tuple[str, str], dict[tuple[date, str], int]] = {}
    for line in lines:
        orders = beds.setdefault((line.model_key, line.size_key), {})
        share = (line.due, line.order)
        orders[share] = orders.get(share, 0) + line.quantity
    wanted: dict[str, list[tuple[Panel, str, str]]] = {}
    for model_key, size_key in _in_range_order(range_, beds):
        for panel in range_.panels(model_key, size_key):
            wanted.setdefault(panel.material, []).append((panel, model_key, size_key))
    return {
        material: _demands(range_, wanted[material], beds)
        for material in range_.materials
        if material in wanted
    }


def _in_range_order(range_: Range, pairs: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    models = {key: place for place, key in enumerate(range_.models)}
    sizes = {key: place for place, key in enumerate(range_.sizes)}
    # Strangers come first: asking the range for their panels says what is wrong.
    return sorted(pairs, key=lambda pair: (models.get(pair[0], -1), sizes.get(pair[1], -1), pair))


def _demands(
    range_: Range,
    wanted: list[tuple[Panel, str, str]],
    beds: Mapping[tuple[str, str], Mapping[tuple[date, str], int]],
) -> tuple[Demand, ...]:
    names = [
        f"{panel.code} {range_.models[model].name} {range_.sizes[size].name}" for panel, model, size in wanted
    ]
    shared = {name for name, count in Counter(names).items() if count > 1}
    demands = []
    for name, (panel, model, size) in zip(names, wanted, strict=True):
        parts = [
            OrderShare(order=order, due=due.isoformat(), pieces=count * panel.pieces)
            for (due, order), count in sorted(beds[model, size].items())
        ]
        orders = _slab_shares(parts, panel.per_slab)
        demands.append(
            Demand(
                key=f"{name} ({model}, {size})" if name in shared else name,
                panel=panel,
                model=range_.models[model].name,
                size=range_.sizes[size].name,
                quantity=sum(share.pieces for share in orders),
                orders=orders,
                spare=-sum(share.pieces for share in parts) % panel.per_slab,
            )
        )
    return tuple(demands)


def _slab_shares(parts: list[OrderShare], per_slab: int) -> tuple[OrderShare, ...]:
    """Slabs for each order where one makes several parts; one that is shared names all its orders."""
    shares: list[OrderShare] = []
    shared: list[OrderShare] = []
    room = 0  # parts that the last slab still makes
    for share in parts:
        left = share.pieces
        if room:
            shared.append(share)
            taken = min(room, left)
            room, left = room - taken, left - taken
        if shared and not room:
            shares.append(_together(shared))
            shared = []
        whole, over = divmod(left, per_slab)
        if whole:
            shares.append(replace(share, pieces=whole))
        if over:
            shared, room = [share], per_slab - over
    if shared:
        shares.append(_together(shared))
    return tuple(shares)


def _together(shares: list[OrderShare]) -> OrderShare:
    names = dict.fromkeys(share.order for share in shares)
    return OrderShare(order=" + ".join(names), due=shares[0].due, pieces=1)
