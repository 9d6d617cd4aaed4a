"""Order books, forecasts and supply tables: what is read, and what is said of faults. Data are invented."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.buying.demand import Outlook, read_outlook
from nesting.buying.supply import Arrival, read_supply
from nesting.buying.weeks import Weeks
from nesting.catalogue import Range
from nesting.errors import InputError

MONDAY = datetime.date(2026, 12, 7)
WEEKS = Weeks(MONDAY, 4)


def outlook(tmp_path: Path, range_: Range, text: str, weeks: int = 4, **more: object) -> Outlook:
    path = tmp_path / "demand.csv"
    path.write_text(text, encoding="utf-8")
    return read_outlook(path, range_, weeks, **more)  # type: ignore[arg-type]


def test_weeks_have_the_names_of_iso_8601() -> None:
    """2026 has 53 of them, as its first of January is a Thursday."""
    weeks = Weeks.around(datetime.date(2026, 12, 23), 4)
    assert weeks.monday == datetime.date(2026, 12, 21)
    assert [weeks.label(number) for number in weeks.numbers] == [
        "2026-W52",
        "2026-W53",
        "2027-W01",
        "2027-W02",
    ]


@given(st.integers(-60, 60))
def test_a_week_is_read_as_it_is_written(number: int) -> None:
    assert WEEKS.read(WEEKS.label(number)) == number
    assert WEEKS.read(WEEKS.first_day(number)) == number
    assert WEEKS.read(str(WEEKS.first_day(number) + datetime.timedelta(days=6))) == number


@pytest.mark.parametrize("cell", [None, True, "soon", "2026-W54", 0, "200", "3/4/2026"])
def test_what_is_no_week_is_refused(cell: object) -> None:
    with pytest.raises(ValueError, match=r"Write|There is no|Weeks are|could be"):
        WEEKS.read(cell)  # type: ignore[arg-type]


def test_an_order_book_falls_into_weeks(tmp_path: Path, small_range: Range) -> None:
    """Beds due in one week are added up; what is due later is told."""
    text = (
        "order,due,model,size,quantity\n"
        "A1,2026-12-09,Plain,Half,3\nA2,2026-12-11,Plain,Half,4\nA3,2026-12-14,Plain,Whole,5\n"
        "A4,2027-02-01,Plain,Whole,6\n"
    )
    found = outlook(tmp_path, small_range, text, spread=0.1)
    assert not found.forecast
    assert found.weeks.monday == MONDAY
    assert [(line.week, line.size, line.beds) for line in found.lines] == [(1, "half", 7), (2, "whole", 5)]
    assert found.lines[0].sd == pytest.approx(0.7)
    assert found.notes == ("6 beds are due after 2026-W53 and are not counted.",)


def test_an_order_book_may_say_how_far_it_varies(tmp_path: Path, small_range: Range) -> None:
    text = "order,due,model,size,quantity,sd\nA1,2026-12-09,Plain,Half,30,4\nA2,2026-12-09,Plain,Whole,10,\n"
    found = outlook(tmp_path, small_range, text)
    assert [line.sd for line in found.lines] == [4.0, 0.0]


def test_a_forecast_repeats_and_loses_no_bed(tmp_path: Path, small_range: Range) -> None:
    """12.5 a week make 25 in two, 50 in four; fractions are carried on."""
    text = "model,size,per week,spread\nPlain,Half,12.5,20 %\n"
    found = outlook(tmp_path, small_range, text, first=MONDAY)
    assert found.forecast
    assert [line.beds for line in found.lines] == [13, 12, 13, 12]
    assert [line.mean for line in found.lines] == [12.5] * 4
    assert [line.sd for line in found.lines] == [2.5] * 4


def test_a_forecast_by_week(tmp_path: Path, small_range: Range) -> None:
    """Weeks by number, by name, by a day in them; next Monday is the first one."""
    text = (
        "model;size;week;quantity\nPlain;Half;1;10\nPlain;Half;2026-W51;20\nPlain;Half;2026-12-25;30\n"
        "Plain;Whole;2026-W40;9\n"
    )
    found = outlook(tmp_path, small_range, text, today=datetime.date(2026, 12, 3))
    assert [(line.week, line.beds) for line in found.lines] == [(1, 10), (2, 20), (3, 30)]
    assert found.notes == ("9 beds are due before 2026-W50 and are not counted.",)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Plain,Half,1,,", ["row 2, quantity", "one of quantity and per week"]),
        ("Plain,Half,1,5,5", ["row 2, quantity", "both"]),
        ("Plain,Half,1,,5", ["row 2, week", "no week beside 'per week'"]),
        ("Plane,Half,1,5,", ["row 2, model", "Did you mean 'plain'?"]),
        ("Plain,Half,soon,5,", ["row 2, week", "'soon'", "2026-W50"]),
        ("Plain,Half,1,-5,", ["row 2, quantity", "-5", "a number from 0 to 100 000"]),
        (",Half,1,5,", ["row 2, model", "nothing", "Fill it in."]),
        ("Plain,Half,9,5,", ["nothing from 2026-W50 to 2026-W53", "more weeks"]),
    ],
)
def test_faults_in_a_forecast_are_told(
    tmp_path: Path, small_range: Range, row: str, words: list[str]
) -> None:
    with pytest.raises(InputError) as told:
        outlook(tmp_path, small_range, f"model,size,week,quantity,per week\n{row}\n", first=MONDAY)
    for word in words:
        assert word in str(told.value)


def supply(tmp_path: Path, range_: Range, text: str):
    path = tmp_path / "supply.csv"
    path.write_text(text, encoding="utf-8")
    return read_supply(path, range_, WEEKS)


def test_a_supply_table_is_read(tmp_path: Path, small_range: Range) -> None:
    """Rolls or lengths, several deliveries, blocks priced by the piece from a price per m3."""
    found = supply(
        tmp_path,
        small_range,
        "material,supplier,roll length,lead time,review,minimum order,sold in,on order,week,price,safety,"
        "service\n"
        "Cloth,Mill (invented),25 m,3,2,500 m,2,4 rolls,2026-W51,11.5,30 m,\n"
        "Cloth,,,,,,,2 rolls,3,,,\n"
        "foam,,,1,,4,,,,120,,98 %\n",
    )
    cloth, foam = found["cloth"], found["foam"]
    assert (cloth.terms.item, cloth.terms.lead, cloth.terms.review) == (25.0, 3, 2)
    assert (cloth.terms.least, cloth.terms.multiple, cloth.terms.price) == (500.0, 2, 11.5)
    assert cloth.arrivals == (Arrival(2, 100.0), Arrival(3, 50.0))
    assert cloth.safety == 30.0
    assert (foam.terms.least, foam.terms.price, foam.service) == (4.0, pytest.approx(240.0), 0.98)
    assert set(found) == {"cloth", "foam"}


def test_headings_may_carry_the_unit(tmp_path: Path, small_range: Range) -> None:
    """A yard is 0.9144 m; bare amounts are rolls."""
    found = supply(tmp_path, small_range, "material,moq (yd),on hand\ncloth,100,3\n")["cloth"]
    assert found.terms.least == pytest.approx(91.44)
    assert found.on_hand == 60.0


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("cloht,1,,,", ["row 2, material", "Did you mean 'cloth'?"]),
        ("cloth,1.5,,,", ["row 2, lead weeks", "a whole number"]),
        ("board,1,500 m,,", ["row 2, moq", "'500 m'", "so many sheets"]),
        ("cloth,1,500 kg,,", ["row 2, moq", "500 kg", "such as '500 m'"]),
        ("cloth,1,,3,", ["row 2, week", "nothing", "2026-W50"]),
        ("cloth,1,,,2", ["row 2, on order", "an amount beside the week"]),
        ("cloth,1,,3,soon", ["row 2, week", "'soon'"]),
        ("cloth,1,,3,2\ncloth,2,,3,3", ["row 3", "only on order and week"]),
    ],
)
def test_faults_in_a_supply_table_are_told(
    tmp_path: Path, small_range: Range, row: str, words: list[str]
) -> None:
    with pytest.raises(InputError) as told:
        supply(tmp_path, small_range, f"material,lead weeks,moq,on order,week\n{row}\n")
    for word in words:
        assert word in str(told.value)
