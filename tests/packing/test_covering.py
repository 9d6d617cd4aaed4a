"""Covering a demand with columns: a toy maker for bars stands in for the geometry."""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing.columns import Column, Cover, densest, without_surplus
from nesting.packing.covering import Covering
from nesting.packing.search import Search, Stop

few = settings(max_examples=30, deadline=None, derandomize=True)


class Bars:
    """Cuts lengths from a bar: quick patterns hold one kind, all others are found by trying everything."""

    def __init__(self, stock: int, room: int, cost: float, sizes: list[int]) -> None:
        self.stock, self.room, self.cost = stock, room, cost
        self.sizes = np.array(sizes)
        ranges = [range(room // size + 1) for size in sizes]
        held = [np.array(counts) for counts in product(*ranges) if np.dot(counts, sizes) <= room]
        self.held = [counts for counts in held if counts.any()]

    def column(self, counts: np.ndarray) -> Column:
        return Column(self, self.cost, counts.astype(np.int64), None)

    def quick(self, left: np.ndarray) -> Column | None:
        for kind in np.flatnonzero(left):
            if copies := min(left[kind], self.room // self.sizes[kind]):
                return self.column(np.eye(left.size, dtype=np.int64)[kind] * copies)
        return None

    def fill(self, values: np.ndarray, left: np.ndarray, search: Search[Any]) -> Column | None:
        search.spend_or_stop(1)
        possible = [counts for counts in self.held if (counts <= left).all() and values @ counts > 0]
        return self.column(max(possible, key=lambda counts: float(values @ counts))) if possible else None

    def price(self, values: np.ndarray, search: Search[Any]) -> list[Column]:
        column = self.fill(values, np.full(values.size, self.room), search)
        return [column] if column else []

    def ratio(self, values: np.ndarray, charge: float, search: Search[Any]) -> float | None:
        best = max((float(values @ counts) for counts in self.held), default=0.0)
        return best / (self.cost + charge)

    def trim(self, column: Column, counts: np.ndarray) -> Column:
        assert (counts <= column.counts).all()
        return self.column(counts)


def run(
    bars: list[tuple[int, int, int | None]], sizes: list[int], demand: list[int], **budget: Any
) -> Search[Cover]:
    """Cover `demand`; bars are (length, cost, how many there are)."""
    search: Search[Cover] = Search(**budget)
    makers = [
        Bars(stock, room, float(cost), sizes) for stock, (room, cost, limit) in enumerate(bars) if limit != 0
    ]
    covering = Covering(
        np.array(demand),
        [limit for *_, limit in bars],
        makers,
        areas=np.array(sizes, np.float64),
        round_bound=lambda bound: bound,
        dearest=max(float(cost) for _, cost, _ in bars),
    )
    covering.run(search)
    return search


def best_by_trying(
    bars: list[tuple[int, int, int | None]], sizes: list[int], demand: list[int]
) -> tuple[int, float]:
    """Fewest copies left out, and the least cost at that, over all plans."""
    ample = sum(demand)

    @cache
    def best(left: tuple[int, ...], stock: tuple[int, ...]) -> tuple[int, float]:
        found = (sum(left), 0.0)
        if not any(left):
            return found
        for index, (room, cost, _) in enumerate(bars):
            if stock[index]:
                fewer = tuple(n - (i == index) for i, n in enumerate(stock))
                for counts in product(*(range(n + 1) for n in left)):
                    if any(counts) and np.dot(counts, sizes) <= room:
                        rest = tuple(n - c for n, c in zip(left, counts, strict=True))
                        missing, more = best(rest, fewer)
                        found = min(found, (missing, more + cost))
        return found

    return best(tuple(demand), tuple(ample if limit is None else limit for *_, limit in bars))


cases = st.tuples(
    st.lists(
        st.tuples(st.integers(5, 12), st.integers(1, 5), st.none() | st.integers(0, 2)),
        min_size=1,
        max_size=2,
    ),
    st.lists(
        st.tuples(st.integers(2, 9), st.integers(1, 3)), min_size=1, max_size=2, unique_by=lambda p: p[0]
    ),
)


@few
@given(cases)
def test_covers_are_complete_bounded_and_within_the_stock(case: Any) -> None:
    """Counts add up, stock is not overdrawn, and the bound holds for every complete plan."""
    bars, pieces = case
    sizes, demand = [list(column) for column in zip(*pieces, strict=True)]
    search = run(bars, sizes, demand, effort_limit=100_000)
    cover = search.draft
    assert cover is not None
    held = sum((column.counts * times for column, times in cover.chosen), start=np.zeros(len(sizes), int))
    assert (held + cover.missing).tolist() == demand
    for stock, (_, _, limit) in enumerate(bars):
        used = sum(times for column, times in cover.chosen if column.maker.stock == stock)
        assert limit is None or used <= limit
    assert search.value == cover.cost
    missing, cost = best_by_trying(bars, sizes, demand)
    assert search.short == missing
    if missing == 0:
        assert search.bound <= cost + 1e-6
        assert search.value >= cost
    assert not search.proved or search.value == pytest.approx(cost)


def test_small_plans_are_optimal() -> None:
    """Hand-worked: bars of 10, 4 of 6 and 4 of 4 make 4 full bars; 5 of 5 and 1 of 3 need 3."""
    assert run([(10, 1, None)], [6, 4], [4, 4], effort_limit=100_000).value == 4
    assert run([(10, 1, None)], [5, 3], [5, 1], effort_limit=100_000).value == 3
    # A bar of 12 for 2 beats two bars of 7 for 1.5 each when one 7 and one 5 are wanted.
    search = run([(12, 2, None), (7, 1.5, None)], [7, 5], [1, 1], effort_limit=100_000)  # type: ignore[list-item]
    assert (search.value, search.proved) == (2, True)


def test_scarce_stock_is_not_wasted_on_a_greedy_start() -> None:
    """One bar of 10 and one of 9: 6 + 4 and 5 + 4 fit, but not once the greedy start has put 5 + 5 on one."""
    search = run([(10, 1, 1), (9, 1, 1)], [6, 5, 4], [1, 1, 2], effort_limit=100_000)
    assert (search.short, search.value) == (0, 2)


def test_what_stock_cannot_hold_is_left_out() -> None:
    """Two bars of 10 hold four of 5; the fifth is missing, and so is everything when there is no bar."""
    search = run([(10, 1, 2)], [5], [5], effort_limit=100_000)
    assert (search.short, search.value) == (1, 2)
    search = run([(10, 1, 0)], [5], [5], effort_limit=100_000)
    assert (search.short, search.value) == (5, 0)


def test_a_large_demand_is_covered_by_few_columns() -> None:
    """A million of each of three lengths: as many bars as the bound says, in a handful of patterns."""
    search = run([(100, 1, None)], [44, 33, 12], [10**6] * 3, effort_limit=10_000_000)
    assert search.draft is not None
    assert len(search.draft.chosen) <= 12
    assert search.value <= search.bound + 3
    assert search.bound >= 10**6 * (44 + 33 + 12) / 100


def test_a_quick_plan_is_there_before_the_budget_ends_the_search() -> None:
    """With no effort at all the first plan is still complete; then the search stops."""
    search: Search[Cover] = Search(effort_limit=0)
    maker = Bars(0, 10, 1.0, [3, 4])
    covering = Covering(
        np.array([7, 5]), [None], [maker], areas=np.array([3.0, 4.0]), round_bound=lambda bound: bound
    )
    with pytest.raises(Stop):
        covering.run(search)
    assert search.short == 0
    # Quick patterns of the toy hold one kind: 3 + 3 bars (7 / 3, 5 / 2, rounded up).
    assert search.value == 6


def test_surplus_is_taken_off_the_emptiest_patterns() -> None:
    """Columns that hold more than is wanted are cut down, and the counts come out even."""
    maker = Bars(0, 10, 1.0, [3, 4])
    full, emptier = maker.column(np.array([2, 1])), maker.column(np.array([0, 2]))
    cut = without_surplus([(full, 2), (emptier, 1)], np.array([3, 1]), np.array([3.0, 4.0]))
    held = sum(column.counts * times for column, times in cut)
    assert held.tolist() == [3, 1]
    # The bar with two of 4 was the emptiest: it is gone altogether.
    assert sum(times for _, times in cut) == 2


def test_the_densest_column_costs_least_per_value() -> None:
    """Empty columns and None do not count."""
    maker = Bars(0, 10, 1.0, [3, 4])
    poor, rich, empty = (maker.column(np.array(counts)) for counts in ([1, 0], [0, 2], [0, 0]))
    values = np.array([3.0, 4.0])
    assert densest([None, poor, empty, rich], values) is rich
    assert densest([None, empty], values) is None
