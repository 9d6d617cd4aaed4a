"""Lengths as people write them."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.reading.units import LengthError, show, to_mm


# The inch is exactly 25.4 mm and the foot 12 inches: international yard and pound agreement of 1959.
# Sizes in inches as used in North America (from memory, unverified); millimetres worked out by hand.
@pytest.mark.parametrize(
    ("inches", "millimetres"),
    [
        (38, 965.2),
        (54, 1371.6),
        (60, 1524.0),
        (72, 1828.8),
        (75, 1905.0),
        (76, 1930.4),
        (80, 2032.0),
        (84, 2133.6),
    ],
)
def test_inches_convert_exactly(inches, millimetres):
    """Whether the unit is written or comes from the file, the result has no noise."""
    assert to_mm(f"{inches} in") == millimetres
    assert to_mm(inches, "in") == millimetres


@pytest.mark.parametrize(
    ("written", "millimetres"),
    [
        (15, 15.0),
        ("15", 15.0),
        ("15mm", 15.0),
        ("2.5 cm", 25.0),
        ("60 m", 60_000.0),
        ("0.5 in", 12.7),
        (".5 in", 12.7),
        ("3/4 in", 19.05),
        ("27 1/4 in", 692.15),
        ("1 ft", 304.8),
        (" 54  in ", 1371.6),
        ("-5 mm", -5.0),
    ],
)
def test_units_are_read(written, millimetres):
    """All units, with and without a space, fractions and mixed numbers."""
    assert to_mm(written) == millimetres


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("54 inch", "mm, cm, m, in or ft"),
        ("54 IN", "mm, cm, m, in or ft"),
        ("", "Write a number"),
        ("wide", "Write a number"),
        ("12,5 cm", "decimal point"),
        ("1-1/2 in", r'Write "1 1/2 in", with a space'),
        ("1/0 in", "divided by 0"),
        ("٣ in", "Write a number"),
        (float("nan"), "finite"),
        (10**400, "finite"),
        ("9" * 400, "too large"),
        ("9" * 400 + "/7 in", "too large"),
        (True, "Write a number"),
        ([54], "Write a number"),
    ],
)
def test_what_is_no_length_is_refused_with_a_reason(written, message):
    """The message says what to write instead."""
    with pytest.raises(LengthError, match=message):
        to_mm(written)


@given(st.text(max_size=30) | st.from_regex(r"[0-9 ./-]{0,12}(mm|cm|m|in|ft)?", fullmatch=True))
def test_any_text_is_a_length_or_a_length_error(text):
    """Nothing else is ever raised."""
    with contextlib.suppress(LengthError):
        to_mm(text)


@pytest.mark.parametrize(
    ("number", "shown"),
    [(0, "0"), (12.0, "12"), (1371.6, "1 371.6"), (2310, "2 310"), (1_000_000.0, "1 000 000")],
)
def test_numbers_are_shown_in_groups_of_three(number, shown):
    """At most one decimal, none for whole numbers."""
    assert show(number) == shown
