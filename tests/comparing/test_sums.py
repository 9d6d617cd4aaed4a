"""The arithmetic of widths."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from nesting.comparing.sums import between, extent_of, falls, sizes_of, stepped, sums
from nesting.model import BlockMaterial, Demand, Kerfs, Panel


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


def test_how_a_slab_lies_decides_what_it_measures() -> None:
    """2000 x 900 x 100 in a block: flat, on its side, on its end; a quarter turn about the upright axis."""
    slab = Panel(code="S", name="Slab", material="m", length=2000, width=900, thickness=100, standing=True)
    assert extent_of(slab, 0.0) == (2000, 900, 100)
    assert extent_of(slab, 90.0) == (900, 2000, 100)
    assert extent_of(slab, 0.0, "side") == (2000, 100, 900)
    assert extent_of(slab, 90.0, "end") == (900, 100, 2000)
    demand = Demand(key="S", panel=slab, model="m", size="s", quantity=1)
    assert sizes_of([demand], "height") == {100, 900, 2000}


def test_a_block_has_two_kinds_of_cuts() -> None:
    """The slitter's between slabs above each other, the saw's between those beside each other."""
    cuts = Kerfs(level=1.0, upright=3.0)
    block = BlockMaterial(key="b", name="B", length=2000, width=2000, height=1000, density=30, kerf=cuts)
    assert [between(block, axis) for axis in ("length", "width", "height")] == [3.0, 3.0, 1.0]
