"""The arithmetic of widths."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from nesting.comparing.sums import falls, stepped, sums


@given(
    sizes=st.lists(st.integers(20, 90), min_size=1, max_size=3, unique=True),
    lost=st.integers(0, 5),
    low=st.integers(1, 150),
    span=st.integers(0, 60),
)
def test_sums_are_those_of_all_combinations(sizes: list[int], lost: int, low: int, span: int) -> None:
    """Against trying every number of each piece."""
    high = low + span
    counts = product(*(range(high // size + 1) for size in sizes))
    totals = {
        sum(n * size for n, size in zip(count, sizes, strict=True)) + lost * (sum(count) - 1)
        for count in counts
        if sum(count)
    }
    assert sums(sizes, lost, low, high) == sorted(total for total in totals if low <= total <= high)


@given(st.lists(st.booleans(), min_size=2, max_size=60))
def test_falls_finds_every_step_of_a_falling_line(drops: list[bool]) -> None:
    """A line that falls by one at some places: all of them, and no others."""
    levels = [-sum(drops[: place + 1]) for place in range(len(drops))]
    places = [float(place) for place in range(len(drops))]
    found = falls(places, lambda place: levels[int(place)], lambda one, other: one != other)
    assert found == [place for place in places[1:] if drops[int(place)]]


def test_places_are_rounded_up_to_what_can_be_set_out() -> None:
    """Up, because rounded down the combination would not fit; inches to 1/16."""
    assert stepped([10.0, 10.2, 11.0], 1.0) == [10.0, 11.0]
    assert stepped([25.4], 25.4 / 16) == [25.4]
