"""No bound exceeds the truth: each one by itself against exact models, exhaustive search and hand figures."""

from __future__ import annotations

import math
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from nesting.packing import Piece, RollProblem
from nesting.packing.bounds import (
    area_bound,
    bar_bound,
    longest_bound,
    rounded_cost,
    row_bound,
    sheet_count_bound,
    stock_bound,
)
from nesting.packing.grid import Kinds
from nesting.packing.profiles import profiles_of
from nesting.packing.roll import search_roll
from nesting.packing.search import Search

few = settings(max_examples=25, deadline=None, derandomize=True)

items = st.lists(st.tuples(st.integers(1, 9), st.integers(1, 6)), min_size=1, max_size=5)


def shortest_strip(width: int, sizes: list[tuple[int, int]], turning: bool, gap: int = 0) -> int:
    """Least length of a strip, free placement, by CP-SAT; every piece is longer and wider by the gap."""
    model = cp_model.CpModel()
    ample = sum(max(size) + gap for size in sizes)
    length = model.new_int_var(0, ample, "")
    along, across = [], []
    for a, b in sizes:
        turned: Any = model.new_bool_var("") if turning else 0
        dx, dy = model.new_int_var(0, ample, ""), model.new_int_var(0, ample, "")
        model.add(dx == a + gap + (b - a) * turned)
        model.add(dy == b + gap + (a - b) * turned)
        x, y = model.new_int_var(0, ample, ""), model.new_int_var(0, width, "")
        x_end, y_end = model.new_int_var(0, ample, ""), model.new_int_var(0, width + gap, "")
        along.append(model.new_interval_var(x, dx, x_end, ""))
        across.append(model.new_interval_var(y, dy, y_end, ""))
        model.add(x_end <= length)
    model.add_no_overlap_2d(along, across)
    model.minimize(length)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value) - gap


def arrays(sizes: list[tuple[int, int]], turning: bool) -> tuple[Any, Any, Any, Any]:
    """Boxes of single pieces: start, dx, dy, demand."""
    boxes = [[(a, b), (b, a)] if turning else [(a, b)] for a, b in sizes]
    start = np.cumsum([0] + [len(turns) for turns in boxes])
    dx, dy = np.array([box for turns in boxes for box in turns], np.int64).T
    return start, dx, dy, np.ones(len(sizes), np.int64)


@few
@given(st.integers(6, 12), items, st.booleans())
def test_simple_roll_bounds_never_exceed_the_optimum(
    width: int, sizes: list[tuple[int, int]], turning: bool
) -> None:
    """Area, longest piece and row, with CP-SAT as the judge."""
    start, dx, dy, demand = arrays(sizes, turning)
    area = np.array([a * b for a, b in sizes], np.int64)
    optimum = shortest_strip(width, sizes, turning)
    assert area_bound(area, demand, width) <= optimum
    assert longest_bound(start, dx, dy, width) <= optimum
    assert row_bound(start, dx, dy, demand, width) <= optimum


@few
@given(st.integers(6, 12), items, st.booleans(), st.integers(0, 2))
def test_the_bar_bound_never_exceeds_the_optimum(
    width: int, sizes: list[tuple[int, int]], turning: bool, gap: int
) -> None:
    """The relaxation drops that a piece is whole; millimetres here, tenths inside."""
    turns = (0, 90) if turning else (0,)
    pieces = [Piece.rectangle(str(n), a, b, turns=turns) for n, (a, b) in enumerate(sizes)]
    bound = bar_bound(profiles_of(pieces), 10 * width, 10 * gap, Search())
    assert bound / 10 <= shortest_strip(width, sizes, turning, gap) + 1e-9


@few
@given(st.integers(6, 12), items, st.booleans(), st.integers(0, 2))
def test_what_a_roll_search_proves_holds(
    width: int, sizes: list[tuple[int, int]], turning: bool, gap: int
) -> None:
    """All bounds together, before the answer is cut down to its own value."""
    turns = (0, 90) if turning else (0,)
    pieces = tuple(Piece.rectangle(str(n), a, b, turns=turns) for n, (a, b) in enumerate(sizes))
    search: Search[Any] = Search(effort_limit=2_000_000)
    search_roll(RollProblem(width, pieces, gap=gap), Kinds.of(pieces), search)
    assert search.bound / 10 <= shortest_strip(width, sizes, turning, gap) + 1e-9


def test_area_and_length_worked_by_hand() -> None:
    """3 of 4 x 5 and 1 of 9 x 2 cover 78: 78 / 10 rounds up to 8; turned or not, 9 must lie along 8."""
    assert area_bound(np.array([20, 18]), np.array([3, 1]), 10) == 8
    start, dx, dy, _ = arrays([(4, 5), (9, 2)], turning=True)
    assert longest_bound(start, dx, dy, 8) == 9
    assert longest_bound(start, dx, dy, 9) == 4


def test_an_area_beyond_64_bits_is_counted_right() -> None:
    """Ten million pieces of 1 km by 10 m (10**7 by 10**5 steps) on a roll of 10 m: 10**7 * 10**7 steps."""
    assert area_bound(np.array([10**12]), np.array([10**7]), 10**5) == 10**14


def test_pieces_over_half_the_width_lie_in_a_row() -> None:
    """Width 10: two of 3 x 6 and one of 4 x 7 may not lie side by side; 5 x 5 may. 2 * 3 + 4 = 10."""
    start, dx, dy, _ = arrays([(3, 6), (4, 7), (5, 5)], turning=False)
    assert row_bound(start, dx, dy, np.array([2, 1, 9]), 10) == 10
    # Turned, the 3 x 6 is 3 wide and leaves the row; the 4 x 7 is then 4 wide and leaves it too.
    start, dx, dy, _ = arrays([(3, 6), (4, 7)], turning=True)
    assert row_bound(start, dx, dy, np.array([2, 1]), 10) == 0


def test_the_bar_bound_sees_widths_that_do_not_combine() -> None:
    """Strips 6 and 5 wide on a roll of 10: 5 and 5 combine, 6 stays alone. 4 of 6 and 4 of 5, each 7 long.

    By area 4 * 7 * 11 / 10 = 30.8; as bars 4 * 7 + 2 * 7 = 42.
    """
    pieces = [Piece.rectangle("A", 7, 6, 4, (0,)), Piece.rectangle("B", 7, 5, 4, (0,))]
    assert bar_bound(profiles_of(pieces), 100, 0, Search()) == 420


def test_two_triangles_in_a_square_are_not_bounded_above_the_square() -> None:
    """Two right triangles 100 x 100 fill a square: no bound may exceed 100, and area alone gives 100."""
    piece = Piece.polygon("T", [(0, 0), (100, 0), (0, 100)], 2, turns=(0, 180))
    assert bar_bound(profiles_of([piece]), 1000, 0, Search()) <= 1000
    search: Search[Any] = Search(effort_limit=1_000_000)
    search_roll(RollProblem(100, (piece,)), Kinds.of([piece]), search)
    assert search.bound == 1000


def test_outlines_do_not_make_lengths_multiples_of_their_boxes() -> None:
    """Three parallelograms, base 100, height 100, slant 50: side by side they are 3 * 100 + 50 = 350 long.

    Their boxes are 150 long, and the multiple of 150 above the area bound, 450, would be wrong.
    """
    piece = Piece.polygon("P", [(0, 0), (100, 0), (150, 100), (50, 100)], 3, turns=(0,))
    search: Search[Any] = Search(effort_limit=1_000_000)
    search_roll(RollProblem(100, (piece,)), Kinds.of([piece]), search)
    assert search.bound <= 3500


def test_a_spent_search_still_has_a_true_bar_bound() -> None:
    """Every round is a proof, so that stopping early only weakens it."""
    rng = np.random.default_rng(1)
    sizes = rng.integers(100, 900, (40, 2)).tolist()
    pieces = [Piece.rectangle(str(n), a, b, 3) for n, (a, b) in enumerate(sizes)]
    full = bar_bound(profiles_of(pieces), 21_500, 0, Search())
    early = bar_bound(profiles_of(pieces), 21_500, 0, Search(effort_limit=1))
    assert 0 <= early <= full
    assert bar_bound(profiles_of(pieces), 21_500, 0, Search(effort_limit=0)) == 0


@few
@given(
    st.lists(
        st.tuples(st.integers(3, 20), st.integers(1, 9), st.none() | st.integers(0, 3)),
        min_size=1,
        max_size=3,
    ),
    st.integers(1, 60),
)
def test_the_stock_bound_never_exceeds_the_cheapest_purchase(
    stock: list[tuple[int, int, int | None]], total: int
) -> None:
    """All purchases are tried; where the stock does not suffice there is nothing to compare."""
    counts = [range((-(-total // room) if limit is None else limit) + 1) for room, _, limit in stock]
    costs = [
        sum(n * cost for n, (_, cost, _) in zip(bought, stock, strict=True))
        for bought in product(*counts)
        if sum(n * room for n, (room, *_) in zip(bought, stock, strict=True)) >= total
    ]
    rooms, prices, limits = zip(*stock, strict=True)
    bound = stock_bound(float(total), rooms, prices, limits)
    if costs:
        assert bound <= min(costs) + 1e-9
        assert rounded_cost(prices)(bound) <= min(costs) + 1e-9


def test_one_size_of_stock_is_bought_in_whole_pieces() -> None:
    """25 in rooms of 10 at 4 each: three pieces, 12; with a second size a fraction is the bound, 2.5 * 4."""
    assert stock_bound(25, [10], [4], [None]) == 12
    assert stock_bound(25, [10, 9], [4, 4], [None, None]) == 10
    assert rounded_cost([4.0, 4.0])(10) == 12
    assert [rounded_cost([4.0, 5.0])(bound) for bound in (0, 6, 9.1, 10, 11)] == [0, 8, 10, 10, 12]


def fewest_sheets(length: int, width: int, sizes: list[tuple[int, int]], turning: bool) -> int:
    """Least number of sheets, free placement, by CP-SAT with an interval for every piece and sheet."""
    model = cp_model.CpModel()
    used = [model.new_bool_var("") for _ in sizes]
    placed: list[list[Any]] = [[] for _ in sizes]
    for sheet in range(len(sizes)):
        along, across = [], []
        for piece, (a, b) in enumerate(sizes):
            for dx, dy in {(a, b), (b, a)} if turning else {(a, b)}:
                if dx <= length and dy <= width:
                    here = model.new_bool_var("")
                    x, y = model.new_int_var(0, length - dx, ""), model.new_int_var(0, width - dy, "")
                    along.append(model.new_optional_fixed_size_interval_var(x, dx, here, ""))
                    across.append(model.new_optional_fixed_size_interval_var(y, dy, here, ""))
                    placed[piece].append(here)
                    model.add_implication(here, used[sheet])
        model.add_no_overlap_2d(along, across)
    for choices in placed:
        model.add_exactly_one(choices)
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@few
@given(
    st.integers(5, 9),
    st.integers(5, 9),
    st.lists(st.tuples(st.integers(2, 5), st.integers(1, 5)), min_size=1, max_size=5),
    st.booleans(),
)
def test_the_sheet_count_bound_never_exceeds_the_optimum(
    length: int, width: int, sizes: list[tuple[int, int]], turning: bool
) -> None:
    """Dual feasible functions along and across, with and without turning."""
    bound = sheet_count_bound(*arrays(sizes, turning), length, width)
    assert math.ceil(sum(a * b for a, b in sizes) / (length * width)) <= bound
    assert bound <= fewest_sheets(length, width, sizes, turning)


def test_pieces_over_half_a_sheet_both_ways_need_a_sheet_each() -> None:
    """Five of 6 x 6 on sheets 10 x 10: five sheets, although their area fills less than two."""
    start, dx, dy, _ = arrays([(6, 6)], turning=False)
    assert sheet_count_bound(start, dx, dy, np.array([5]), 10, 10) == 5


@pytest.mark.parametrize("kinds", [1, 1500])
def test_many_kinds_that_turn_still_give_a_true_bound(kinds: int) -> None:
    """Kinds beyond the number that is counted only weaken the bound: 4 x 3 in 12 x 12, twelve a sheet."""
    start, dx, dy, demand = arrays([(4, 3)] * kinds, turning=True)
    assert 1 <= sheet_count_bound(start, dx, dy, demand, 12, 12) <= math.ceil(kinds / 12)
