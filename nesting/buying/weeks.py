"""Weeks as buyers count them: from a Monday, numbered from 1, named after the ISO week."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass

from nesting.reading.dates import DateError, read_date
from nesting.reading.tables import Cell

__all__ = ["MOST_WEEKS", "Weeks"]

MOST_WEEKS = 104
"""Two years."""

_ISO = re.compile(r"([0-9]{4})-?\s?W([0-9]{1,2})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Weeks:
    """So many weeks from a Monday on.

    Parameters
    ----------
    monday
        First day of week 1.
    count
        How many weeks.
    """

    monday: datetime.date
    count: int

    @classmethod
    def around(cls, day: datetime.date, count: int) -> Weeks:
        """The weeks from that of `day` on."""
        return cls(day - datetime.timedelta(days=day.weekday()), count)

    @property
    def numbers(self) -> range:
        """1, 2, ..."""
        return range(1, self.count + 1)

    def number(self, day: datetime.date) -> int:
        """Number of the week a day lies in: 0 and less before the first, more than `count` after the last."""
        return (day - self.monday).days // 7 + 1

    def first_day(self, number: int) -> datetime.date:
        """Monday of a week, which may lie outside."""
        return self.monday + datetime.timedelta(weeks=number - 1)

    def label(self, number: int) -> str:
        """The ISO week (ISO 8601), such as ``"2026-W50"``."""
        year, week, _ = self.first_day(number).isocalendar()
        return f"{year}-W{week:02d}"

    def read(self, cell: Cell) -> int:
        """The number of the week that a cell means: ``3`` (the third), ``2026-W50`` or a day.

        Raises
        ------
        ValueError
            When it means none; the message says what to do.
        """
        how = (
            "Write a week such as 2026-W50, its number from 1 (the first week), or a day such as 2026-12-07."
        )
        if isinstance(cell, bool) or cell is None:
            raise ValueError(how)
        text = str(int(cell)) if isinstance(cell, float) and cell.is_integer() else str(cell).strip()
        if re.fullmatch(r"[0-9]{1,3}", text):
            if not 1 <= int(text) <= MOST_WEEKS:
                raise ValueError(f"Weeks are counted from 1 (the first) to {MOST_WEEKS}.")
            return int(text)
        if found := _ISO.fullmatch(text):
            try:
                return self.number(datetime.date.fromisocalendar(int(found[1]), int(found[2]), 1))
            except ValueError:
                raise ValueError("There is no such week. " + how) from None
        try:
            day = read_date(cell)
        except DateError as error:
            raise ValueError(f"{error} A week may be written as 2026-W50.") from None
        if not isinstance(day, datetime.date):
            day = day.read(None)
        return self.number(day)
