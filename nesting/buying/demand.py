"""What is to be made in each week: from an order book, or from a forecast without order numbers and days."""

from __future__ import annotations

import datetime
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.buying.weeks import Weeks
from nesting.catalogue import Range
from nesting.errors import Finding, InputError
from nesting.orders import COLUMNS as ORDER_COLUMNS
from nesting.orders import OrderLine, RowReader, load_orders
from nesting.reading.cells import read_number
from nesting.reading.findings import Findings
from nesting.reading.tables import Cell, Row, read_table
from nesting.reading.units import show

__all__ = ["Outlook", "WeekLine", "number_in", "read_outlook"]

MOST_BEDS = 100_000.0
"""Most beds of one row and week."""

FORECAST_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "model": ORDER_COLUMNS["model"],
    "size": ORDER_COLUMNS["size"],
    "week": ("in week", "iso week", "calendar week", "due week"),
    "quantity": ORDER_COLUMNS["quantity"],
    "per week": ("a week", "each week", "quantity per week", "qty per week", "weekly", "weekly quantity"),
    "sd": ("standard deviation", "std dev", "stdev", "sigma"),
    "spread": ("variation", "spread share", "coefficient of variation", "cv"),
}
"""The columns of a forecast and what else they may be called; `sd` and `spread` go in an order book, too."""


@dataclass(frozen=True, slots=True)
class WeekLine:
    """So many beds of one model and size in one week.

    Parameters
    ----------
    week
        From 1.
    beds
        Whole beds that are planned.
    mean, sd
        Mean and standard deviation of what will be wanted, beds.
    """

    week: int
    model: str
    size: str
    beds: int
    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is to be made over some weeks.

    Parameters
    ----------
    forecast
        Whether the file has no days of its own.
    notes
        What of the file was left out, in words.
    """

    file: str
    weeks: Weeks
    lines: tuple[WeekLine, ...]
    forecast: bool
    notes: tuple[str, ...] = ()

    @property
    def uncertain(self) -> bool:
        """Whether anything is said about how demand varies."""
        return any(line.sd > 0 for line in self.lines)

    def order_lines(self, week: int) -> tuple[OrderLine, ...]:
        """What is made in a week as order lines, due on its Monday."""
        return tuple(
            OrderLine(
                order=self.weeks.label(week),
                due=self.weeks.first_day(week),
                model_key=line.model,
                size_key=line.size,
                quantity=line.beds,
                row=0,
            )
            for line in self.lines
            if line.week == week and line.beds
        )

    def beds(self, week: int) -> int:
        """Beds of a week."""
        return sum(line.beds for line in self.lines if line.week == week)


@dataclass(slots=True)
class _Row:
    """A row before it is known which weeks there are: `week` None is every week."""

    week: int | None
    model: str
    size: str
    quantity: float
    sd: float | None


def read_outlook(
    path: str | os.PathLike[str],
    range_: Range,
    count: int,
    *,
    first: datetime.date | None = None,
    today: datetime.date | None = None,
    spread: float = 0.0,
    date_order: str | None = None,
) -> Outlook:
    """Read an order book, or a forecast.

    A file with a column for due days is an order book, see `nesting.orders.load_orders`. A forecast has
    model, size and either `quantity` with `week`, or `per week` (or `quantity` alone) for the same in every
    week; a quantity may be a fraction, such as 12.5 a week.

    Parameters
    ----------
    count
        How many weeks.
    first
        A day in the first week; None: the first due day of an order book, or next Monday.
    spread
        Standard deviation of a week's demand for one model and size as a share of it, where the file says
        nothing (columns `sd`, in beds, or `spread`, a share).

    Raises
    ------
    InputError
        With every problem found.
    """
    name = os.fspath(path)
    findings = Findings(name)
    columns = {**FORECAST_COLUMNS, "due": ORDER_COLUMNS["due"]}
    optional = [column for column in columns if column not in ("model", "size")]
    rows = list(read_table(path, columns, findings, kind="an order book or a forecast", optional=optional))
    if not rows and not len(findings):
        findings.add("the file", "headings only", "at least one row", "Add rows below the headings.")
    findings.stop_if_any()
    if "due" in rows[0].cells:
        book = load_orders(path, range_, date_order=date_order)
        weeks = Weeks.around(first or min(line.due for line in book.lines), count)
        sds = {row.number: _sd(row, findings) for row in rows}
        read = [
            _Row(weeks.number(line.due), line.model_key, line.size_key, line.quantity, sds.get(line.row))
            for line in book.lines
        ]
        forecast = False
    else:
        monday = _next_monday(today or datetime.date.today())
        weeks = Weeks.around(first or monday, count)
        read = [row for item in rows if (row := _forecast_row(item, range_, weeks, findings)) is not None]
        forecast = True
    findings.stop_if_any()
    return _outlook(name, weeks, read, forecast=forecast, spread=spread)


def _next_monday(today: datetime.date) -> datetime.date:
    return today + datetime.timedelta(days=(7 - today.weekday()) % 7)


def _outlook(name: str, weeks: Weeks, rows: Sequence[_Row], *, forecast: bool, spread: float) -> Outlook:
    sums: dict[tuple[int, str, str], list[float]] = {}
    before = after = 0.0
    for row in rows:
        for week in weeks.numbers if row.week is None else [row.week]:
            if not 1 <= week <= weeks.count:
                before += row.quantity if week < 1 else 0.0
                after += row.quantity if week > weeks.count else 0.0
                continue
            total = sums.setdefault((week, row.model, row.size), [0.0, 0.0])
            total[0] += row.quantity
            total[1] += spread * row.quantity if row.sd is None else row.sd
    if not sums:
        span = f"{weeks.label(1)} to {weeks.label(weeks.count)}"
        allowed = "something in the weeks asked for"
        remedy = "Choose another first day, or more weeks."
        raise InputError([Finding(name, "weeks", f"nothing from {span}", allowed, remedy)])
    notes = []
    if before:
        notes.append(f"{show(before)} beds are due before {weeks.label(1)} and are not counted.")
    if after:
        notes.append(f"{show(after)} beds are due after {weeks.label(weeks.count)} and are not counted.")
    return Outlook(name, weeks, tuple(_lines(sums)), forecast, tuple(notes))


def _lines(sums: Mapping[tuple[int, str, str], Sequence[float]]) -> list[WeekLine]:
    """Beds come whole: fractions are carried on from week to week, so that no bed is lost or made up."""
    carried: dict[tuple[str, str], tuple[float, int]] = {}
    lines = []
    for (week, model, size), (mean, sd) in sorted(sums.items()):
        wanted, made = carried.get((model, size), (0.0, 0))
        wanted += mean
        beds = int(wanted + 0.5 + 1e-9) - made
        carried[model, size] = (wanted, made + beds)
        lines.append(WeekLine(week, model, size, beds, mean, sd))
    return lines


def _forecast_row(row: Row, range_: Range, weeks: Weeks, findings: Findings) -> _Row | None:
    before = len(findings)
    reader = RowReader(range_, findings, {})
    for column in ("model", "size"):
        if row.cells[column] is None:
            findings.add(f"row {row.number}, {column}", None, "a value in every row", "Fill it in.")
    model = reader.model(row)
    size = reader.size(row, model) if model else None
    week = _week(row, weeks, findings)
    given = [column for column in ("quantity", "per week") if row.cells.get(column) is not None]
    if len(given) != 1:
        remedy = "Give the quantity of the week, or the same for every week as 'per week', in each row."
        found = "both" if given else None
        findings.add(f"row {row.number}, quantity", found, "one of quantity and per week", remedy)
        return None
    if given == ["per week"] and week is not None:
        remedy = "Leave the week blank, or call the column quantity."
        findings.add(f"row {row.number}, week", row.cells["week"], "no week beside 'per week'", remedy)
    quantity = number_in(row, given[0], findings, least=0.0, most=MOST_BEDS)
    sd = _sd(row, findings, quantity)
    if len(findings) > before or model is None or size is None or quantity is None:
        return None
    return _Row(week, model.key, size.key, quantity, sd)


def _week(row: Row, weeks: Weeks, findings: Findings) -> int | None:
    cell = row.cells.get("week")
    if cell is None:
        return None
    try:
        return weeks.read(cell)
    except ValueError as error:
        findings.add(f"row {row.number}, week", cell, "a week", str(error))
        return None


def _sd(row: Row, findings: Findings, quantity: float | None = None) -> float | None:
    """Standard deviation of a row, beds; None where it says nothing."""
    sd = number_in(row, "sd", findings, least=0.0, most=MOST_BEDS)
    share = number_in(row, "spread", findings, least=0.0, most=2.0, share=True)
    if sd is not None or share is None:
        return sd
    if quantity is None:
        quantity = number_in(row, "quantity", Findings(findings.file), least=0.0, most=MOST_BEDS)
    return share * (quantity or 0.0)


def number_in(
    row: Row, column: str, findings: Findings, *, least: float, most: float, share: bool = False
) -> float | None:
    """The number in a cell within limits; None where it is blank or, which is noted, none.

    Parameters
    ----------
    share
        A share, which may be written in per cent: ``15 %``.
    """
    cell: Cell = row.cells.get(column)
    if cell is None:
        return None
    number: float | None = None
    remedy = "Write a number, digits only."
    try:
        if isinstance(cell, str):
            text = cell.removesuffix("%").strip() if share else cell
            number = read_number(text)
            if number is not None and text != cell:
                number /= 100.0
        elif isinstance(cell, int | float) and not isinstance(cell, bool):
            number = float(cell)
    except ValueError as error:
        remedy = str(error)
    if number is None or not least <= number <= most:
        example = " (a share, such as 0.15 or 15 %)" if share else ""
        allowed = f"a number from {show(least)} to {show(most)}{example}"
        findings.add(f"row {row.number}, {column}", cell, allowed, remedy)
        return None
    return number
