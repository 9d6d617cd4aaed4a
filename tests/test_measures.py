"""Lengths and amounts in the workshop's units: right, and read back as what they were."""

from __future__ import annotations

import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting import measures
from nesting.measures import (
    IMPERIAL,
    amount,
    cut_measure,
    fixed,
    list_cell,
    measure,
    percent,
    plain,
    ruler,
    shown_amount,
    shown_for,
    unit,
    with_unit,
)
from nesting.model import Workshop
from nesting.reading.units import to_mm

INCH = Workshop(units="inch")
COMMA = Workshop(decimal=",")
LENGTHS = st.floats(-200_000, 200_000)


@given(LENGTHS)
def test_millimetres_are_read_back_to_the_tenth(value: float) -> None:
    """What is printed is what `nesting.reading` understands."""
    assert to_mm(with_unit(value)) == pytest.approx(value, abs=0.05 + 1e-6)


@given(LENGTHS)
def test_inches_are_read_back_to_half_a_step(value: float) -> None:
    """Sizes to 1/16 in, cuts to 1/32 in, in lists as on maps."""
    with shown_for(INCH):
        size, cut = measure(value), cut_measure(value)
        assert unit() == "in"
    for words, step in ((size, 16), (cut, 32)):
        for written in (words, list_cell(words)):
            assert to_mm(f"{written} in") == pytest.approx(value, abs=25.4 / step / 2 + 1e-5)


@given(st.integers(-5000, 5000), st.sampled_from([1, 2, 4, 8, 16]))
def test_a_tape_reading_stays_as_it_is(top: int, bottom: int) -> None:
    """A length that is on a tape is printed exactly, its fraction reduced."""
    with shown_for(INCH):
        words = measure(top / bottom * 25.4)
        assert measure(to_mm(f"{words} in")) == words
    assert to_mm(f"{words} in") == pytest.approx(top / bottom * 25.4, abs=1e-5)
    assert not words.endswith(("2/4", "2/8", "4/8", "2/16", "4/16", "8/16"))


@pytest.mark.parametrize(
    ("mm", "words"),
    [
        (0.0, "0"),
        (1564.0, "61 9/16"),
        (19.05, "3/4"),
        (-1.6, "-1/16"),
        (2540.0, "100"),
        (-0.3, "0"),
        (0.5, "0"),
    ],
)
def test_inches_as_on_a_tape(mm: float, words: str) -> None:
    """Hand-worked: 1564 / 25.4 = 61.575 and 9/16 = 0.5625, 10/16 = 0.625."""
    with shown_for(INCH):
        assert measure(mm) == words


# NIST Special Publication 811 (2008), appendix B.8: factors to seven figures (inch to millimetre 2.54 E+01,
# yard 9.144 E-01, square foot 9.290304 E-02, cubic foot 2.831685 E-02, pound (avoirdupois) 4.535924 E-01).
NIST = {"mm": 25.4, "m": 0.9144, "m2": 0.09290304, "m3": 0.02831685, "kg": 0.4535924}


def test_factors_are_those_of_nist() -> None:
    """Each to the figures that are published."""
    assert {metric: float(f"{each:.7g}") for metric, (_, each) in IMPERIAL.items()} == NIST


def test_amounts_carry_their_unit() -> None:
    """587.9 yd are 537.6 m."""
    assert shown_amount(1234.56, "m") == "1,234.6 m"
    with shown_for(INCH):
        assert shown_amount(537.544, "m") == "587.9 yd"
        assert amount(0.4535924, "kg") == (pytest.approx(1.0, abs=1e-6), "lb")


def test_a_decimal_comma() -> None:
    """Thousands are then apart by a space: a comma could be misread."""
    with shown_for(COMMA):
        shown = measure(1510.5), plain(12.5), percent(0.875), fixed(1234.5, 2)
    assert shown == ("1510,5", "12,5", "87,5 %", "1 234,50")
    assert fixed(1234.5, 2) == "1,234.50"


@pytest.mark.parametrize(
    ("words", "cell"), [("3/4", "0 3/4"), ("-3/4", "-0 3/4"), ("1 3/4", "1 3/4"), ("12", "12")]
)
def test_no_cell_of_a_list_is_a_date(words: str, cell: str) -> None:
    """3/4 alone is the third of April, or the fourth of March, to a spreadsheet."""
    assert list_cell(words) == cell


def test_sentences_of_rooms_that_know_only_millimetres() -> None:
    """Inches come first, the millimetres stay; what is no length is left alone."""
    told = "No. 5 measures 1564.0 x 2072.0 mm, 114 mm too wide for 1 450 mm in 3 turns"
    assert measures.reworded(told) == told
    with shown_for(INCH):
        assert measures.reworded(told) == (
            "No. 5 measures 61 9/16 x 81 9/16 in (1564.0 x 2072.0 mm), 4 1/2 in (114 mm) too wide for "
            "57 1/16 in (1 450 mm) in 3 turns"
        )


@pytest.mark.parametrize("workshop", [Workshop(), INCH])
def test_marks_of_a_ruler_meet_its_numbers(workshop: Workshop) -> None:
    """Every step divides the stretch between two numbers."""
    with shown_for(workshop):
        marks = ruler()
    assert [round(marks.whole / step, 9) % 1 for step in marks.steps] == [0.0] * len(marks.steps)
    assert marks.whole == pytest.approx(amount_of_one(marks.unit))


def amount_of_one(name: str) -> float:
    """Length of one metre or yard, mm."""
    return {"m": 1000.0, "yd": 914.4}[name]


def test_what_is_said_for_one_workshop_ends_there() -> None:
    """After an error, and in a thread that was started inside."""
    told = []
    with pytest.raises(ZeroDivisionError), shown_for(INCH):
        thread = threading.Thread(target=lambda: told.append(measures.unit()))
        thread.start()
        thread.join()
        raise ZeroDivisionError
    assert told == ["mm"]
    assert unit() == "mm"
