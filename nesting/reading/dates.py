"""Reading dates that people wrote, without guessing.

``3/4/2026`` is 3 April to some and 4 March to others. Such a date is only read when another date of the
same column can be read one way alone and none contradicts it; otherwise both readings are shown. Dates
with points (``3.4.2026``) put the day first everywhere.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from nesting.errors import NestingError

__all__ = ["DATE_ORDERS", "DateError", "EitherWay", "common_order", "long_date", "read_date"]

DATE_ORDERS = ("day first", "month first")
"""How numeric dates with slashes or hyphens may be read."""

FIRST_YEAR, LAST_YEAR = 2000, 2100
"""Years accepted: anything else is a slip of the pen."""

# Day numbers of spreadsheets count from here, once their leap day of 1900 is allowed for.
_SPREADSHEET_DAY_ZERO = date(1899, 12, 30)
_SPREADSHEET_DAYS = range(30_000, 80_000)

_TIME = re.compile(r"[T ]+[0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?\s*([ap]m|Z)?$", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"([0-9]{4})([-/.])([0-9]{1,2})\2([0-9]{1,2})|([0-9]{4})([0-9]{2})([0-9]{2})")
_POINTS = re.compile(r"([0-9]{1,2})\. ?([0-9]{1,2})\. ?([0-9]{4})")
_NUMERIC = re.compile(r"([0-9]{1,2})([/-])([0-9]{1,2})\2([0-9]{4})")
_DAY_MONTH = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th)?[-. /]{0,2}([A-Za-z]{3,9})[-., /]{0,2}([0-9]{4})")
_MONTH_DAY = re.compile(r"([A-Za-z]{3,9})[-. ]{1,2}([0-9]{1,2})(?:st|nd|rd|th)?[-, ]{1,2}([0-9]{4})")
_WEEK = re.compile(r"([0-9]{4})-?W([0-9]{1,2})(?:-?([1-7]))?", re.IGNORECASE)
_SHORT_YEAR = re.compile(r"[0-9]{1,2}([-/. ]{1,2})([0-9]{1,2}|[A-Za-z]{3,9})\1[0-9]{2}")


class DateError(NestingError, ValueError):
    """A date that cannot be read; the message says what to do, as a sentence."""


@dataclass(frozen=True, slots=True)
class EitherWay:
    """A numeric date and its two readings; None where a reading is no date."""

    text: str
    day_first: date | None
    month_first: date | None

    def read(self, order: str | None) -> date:
        """The date, in the given order or in the only one that makes sense.

        Raises
        ------
        DateError
            When `order` is None and both readings make sense, or the reading asked for is no date.
        """
        if order is not None:
            chosen = dict(zip(DATE_ORDERS, (self.day_first, self.month_first), strict=True))[order]
            if chosen is None:
                raise DateError(f"Read {order}, this is no date. Write it as 2026-04-03.")
            return chosen
        if self.day_first and self.month_first and self.day_first != self.month_first:
            both = f"{long_date(self.day_first)} or {long_date(self.month_first)}"
            raise DateError(f"It could be {both}: write {self.day_first} or {self.month_first}.")
        chosen = self.day_first or self.month_first
        assert chosen is not None  # read_date refuses what is no date either way
        return chosen


def read_date(value: object) -> date | EitherWay:
    """A date from a cell.

    Accepts real dates, ``2026-04-03`` (also with slashes or points, or as ``20260403``), ``3.4.2026``,
    ``3 Apr 2026``, ``April 3, 2026``, ISO weekdays (``2026-W14-5``) and, as `EitherWay`, ``3/4/2026`` and
    ``3-4-2026``. A time of day after the date is dropped.

    Raises
    ------
    DateError
        When it is no date, is only a week, or has a year of two digits.
    """
    if isinstance(value, date):
        return _in_years(value.year, value.month, value.day)
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise DateError("Write a date such as 2026-04-03.")
    text = _TIME.sub("", _digits(value)).strip()
    if found := _YEAR_FIRST.fullmatch(text):
        year, month, day = (found[1], found[3], found[4]) if found[1] else (found[5], found[6], found[7])
        return _in_years(int(year), int(month), int(day))
    if found := _POINTS.fullmatch(text):
        return _in_years(int(found[3]), int(found[2]), int(found[1]))
    if found := _NUMERIC.fullmatch(text):
        return _either_way(text, int(found[1]), int(found[3]), int(found[4]))
    if found := _DAY_MONTH.fullmatch(text):
        return _in_years(int(found[3]), _month(found[2]), int(found[1]))
    if found := _MONTH_DAY.fullmatch(text):
        return _in_years(int(found[3]), _month(found[1]), int(found[2]))
    if found := _WEEK.fullmatch(text):
        return _week_day(int(found[1]), int(found[2]), int(found[3] or 0))
    if _SHORT_YEAR.fullmatch(text):
        raise DateError("Write the year with four digits, such as 2026-04-03.")
    if re.fullmatch(r"[0-9]{5}", text) and int(text) in _SPREADSHEET_DAYS:
        day = _SPREADSHEET_DAY_ZERO + timedelta(days=int(text))
        raise DateError(f"As a day number of a spreadsheet this is {day}: if that is meant, write it so.")
    raise DateError("Write a date such as 2026-04-03.")


def common_order(readings: Iterable[date | EitherWay]) -> str | None:
    """The order that the dates of a column agree on; None when none or both are seen."""
    seen: set[str] = set()
    for reading in readings:
        if isinstance(reading, EitherWay) and (reading.day_first is None) != (reading.month_first is None):
            seen.add(DATE_ORDERS[0] if reading.day_first else DATE_ORDERS[1])
    return seen.pop() if len(seen) == 1 else None


def long_date(day: date) -> str:
    """A date that nobody can misread: ``"3 April 2026"``."""
    return f"{day.day} {calendar.month_name[day.month]} {day.year}"


def _digits(value: str | int | float) -> str:
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _in_years(year: int, month: int, day: int) -> date:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise DateError(f"Write a year from {FIRST_YEAR} to {LAST_YEAR}.")
    try:
        return date(year, month, day)
    except ValueError:
        raise DateError("There is no such day; write the date as 2026-04-03.") from None


def _either_way(text: str, first: int, second: int, year: int) -> EitherWay:
    def attempt(month: int, day: int) -> date | None:
        try:
            return date(year, month, day)
        except ValueError:
            return None

    readings = EitherWay(text, attempt(second, first), attempt(first, second))
    either = readings.day_first or readings.month_first
    if either is None:
        raise DateError("There is no such day; write the date as 2026-04-03.")
    _in_years(either.year, either.month, either.day)
    return readings


def _month(word: str) -> int:
    names = list(calendar.month_name)
    for number, name in enumerate(names[1:], start=1):
        if name.lower().startswith(word.lower()):
            return number
    raise DateError(f"{word!r} is no English month; write the date as 2026-04-03.")


def _week_day(year: int, week: int, weekday: int) -> date:
    try:
        monday = date.fromisocalendar(year, week, 1)
    except ValueError:
        raise DateError("There is no such week; write the day, such as 2026-04-03.") from None
    if not weekday:
        sunday = monday + timedelta(days=6)
        raise DateError(f"A week is no day: this one runs from {monday} to {sunday}. Write the day.")
    day = monday + timedelta(days=weekday - 1)
    return _in_years(day.year, day.month, day.day)
