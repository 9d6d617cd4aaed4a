"""Dates as people write them; what can be read two ways is never guessed."""

from __future__ import annotations

import contextlib
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.reading.dates import DateError, EitherWay, common_order, long_date, read_date

APRIL_3 = date(2026, 4, 3)


@pytest.mark.parametrize(
    "written",
    [
        APRIL_3,
        datetime(2026, 4, 3, 15, 30),
        "2026-04-03",
        "2026-4-3",
        "2026/04/03",
        "2026.04.03",
        "20260403",
        20260403,
        20260403.0,
        "2026-04-03 00:00:00",
        "2026-04-03T12:30:00.000Z",
        "3.4.2026",
        "03.04.2026",
        "3. 4. 2026",
        "3.4.2026 08:00",
        "3 Apr 2026",
        "3 April 2026",
        "03-APR-2026",
        "3. April 2026",
        "3rd April 2026",
        "April 3, 2026",
        "Apr 3rd 2026",
        "2026-W14-5",  # ISO 8601: week 14 of 2026 begins on Monday 30 March, so its Friday is 3 April
        "2026W145",
    ],
)
def test_plain_dates_are_read(written):
    """All of these are 3 April 2026 and nothing else."""
    assert read_date(written) == APRIL_3


@pytest.mark.parametrize("written", ["3/4/2026", "03-04-2026", "3/4/2026 12:00:00 AM"])
def test_numeric_dates_have_two_readings(written):
    """Day first it is 3 April, month first 4 March."""
    either = read_date(written)
    assert isinstance(either, EitherWay)
    assert either.read("day first") == APRIL_3
    assert either.read("month first") == date(2026, 3, 4)
    with pytest.raises(
        DateError, match=r"could be 3 April 2026 or 4 March 2026: write 2026-04-03 or 2026-03-04"
    ):
        either.read(None)


@pytest.mark.parametrize(
    ("written", "day"),
    [("13/4/2026", date(2026, 4, 13)), ("4/13/2026", date(2026, 4, 13)), ("4/4/2026", date(2026, 4, 4))],
)
def test_numeric_dates_with_one_reading_need_no_order(written, day):
    """There is no month 13, and 4/4 is the same either way."""
    assert read_date(written).read(None) == day


def test_a_reading_that_is_no_date_is_refused():
    """13/4 cannot be month first."""
    with pytest.raises(DateError, match="Read month first, this is no date"):
        read_date("13/4/2026").read("month first")


@pytest.mark.parametrize(
    ("column", "order"),
    [
        (["3/4/2026", "13/4/2026"], "day first"),
        (["3/4/2026", "4/13/2026"], "month first"),
        (["3/4/2026", "4/13/2026", "13/4/2026"], None),
        (["3/4/2026", "4/4/2026"], None),
        (["3/4/2026", "2026-04-13", "13.4.2026"], None),
        ([], None),
    ],
)
def test_a_column_has_an_order_when_its_dates_agree(column, order):
    """Only numeric dates with slashes or hyphens count, and only those with one reading."""
    assert common_order([read_date(written) for written in column]) == order


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("3/4/26", "Write the year with four digits"),
        ("3.4.26", "Write the year with four digits"),
        ("3-Apr-26", "Write the year with four digits"),
        ("31/02/2026", "There is no such day"),
        ("31.04.2026", "There is no such day"),
        ("4.13.2026", "There is no such day"),
        ("2026-02-30", "There is no such day"),
        ("32/13/2026", "There is no such day"),
        ("2026-W14", "A week is no day: this one runs from 2026-03-30 to 2026-04-05"),
        ("2026-W54", "There is no such week"),
        ("3 Avril 2026", "'Avril' is no English month"),
        ("1926-04-03", "Write a year from 2000 to 2100"),
        ("3/4/1926", "Write a year from 2000 to 2100"),
        (date(1900, 1, 1), "Write a year from 2000 to 2100"),
        (46115, "As a day number of a spreadsheet this is 2026-04-03"),
        ("46115", "As a day number of a spreadsheet this is 2026-04-03"),
        ("soon", "Write a date such as 2026-04-03"),
        ("3/4-2026", "Write a date such as"),
        ("", "Write a date such as"),
        ("٣/٤/٢٠٢٦", "Write a date such as"),
        (True, "Write a date such as"),
        (12.5, "Write a date such as"),
        (None, "Write a date such as"),
    ],
)
def test_other_dates_are_refused_with_a_reason(written, message):
    """Short years, days that do not exist, weeks, day numbers."""
    with pytest.raises(DateError, match=message):
        read_date(written)


@given(st.dates(date(2000, 1, 1), date(2100, 12, 31)))
def test_every_day_is_read_back_from_every_way_of_writing_it(day):
    """Written by Python's own formatting."""
    for written in (
        f"{day:%Y-%m-%d}",
        f"{day:%d.%m.%Y}",
        f"{day:%d %b %Y}",
        f"{day:%B %d, %Y}",
        f"{day:%G-W%V-%u}",
    ):
        assert read_date(written) == day
    assert read_date(f"{day:%d/%m/%Y}").read("day first") == day
    assert read_date(f"{day:%m/%d/%Y}").read("month first") == day
    assert read_date(long_date(day)) == day


@given(st.integers(36_526, 73_415))
def test_day_numbers_are_counted_as_spreadsheets_do(number):
    """Number 36526 is 1 January 2000 in spreadsheets that count from 1900 (ECMA-376, date systems)."""
    day = date(2000, 1, 1) + timedelta(days=number - 36_526)
    with pytest.raises(DateError, match=f"this is {day}"):
        read_date(number)


@given(st.text(max_size=30) | st.text("0123456789/-. JanFebW:T", max_size=20))
def test_any_text_is_a_date_or_a_date_error(text):
    """Nothing else is ever raised."""
    with contextlib.suppress(DateError):
        reading = read_date(text)
        if isinstance(reading, EitherWay):
            reading.read(None)
