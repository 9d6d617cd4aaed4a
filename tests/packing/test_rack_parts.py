"""The parts of the rack engine by themselves: windows, rows of slices, fills around flaws, bounds."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing import Flaw, Piece, RackProblem, Roll, solve, verify
from nesting.packing.bars import BarRoom, bar_cost_bound, scaled_bound
from nesting.packing.grid import Kinds
from nesting.packing.profiles import profiles_of
from nesting.packing.rack.around import fill_around, search_around
from nesting.packing.rack.bounds import area_cost_bound
from nesting.packing.rack.drafts import RackDraft, roll_grid
from nesting.packing.rack.ease import dominated, ease
from nesting.packing.rack.improve import Repairer, reassign
from nesting.packing.rack.kernels import best_row, zones_of
from nesting.packing.rack.makers import WindowMaker
from nesting.packing.rack.shared import Bench
from nesting.packing.rack.stocks import Band, RackGrid, Stain, stocks_of
from nesting.packing.roll.chunks import Chunk
from nesting.packing.search import Search

some = settings(max_examples=60, deadline=None, derandomize=True)

PIECE = Piece.rectangle("a", 300, 200, 4, (0,))


def rack(*rolls: Roll, pieces: tuple[Piece, ...] = (PIECE,), **more: Any) -> RackProblem:
    return RackProblem(rolls, pieces, **more)


def grid_of(problem: RackProblem) -> RackGrid:
    return RackGrid(problem, Kinds.of(problem.pieces))


# --- Windows ------------------------------------------------------------------------------------------


def test_flaws_across_end_windows_and_narrow_ones_lie_within() -> None:
    """By hand: 0 to 1000 with a flaw from 400 to 450, then 1100 to 3000; 200 wide finds no room of 150."""
    roll = Roll(
        "r", 500, 3000, 1.0, 2, (Flaw(1000, 1100), Flaw(400, 450, 0, 100), Flaw(1950, 2000, 150, 350))
    )
    first, second, third = stocks_of(rack(roll))
    assert (first.starts, first.length, first.stains) == ((0,), 10000, (Stain(4000, 4500, 0, 1000),))
    # The flaw at 1950 leaves 150 on either side: no piece fits there, so it goes across.
    assert (second.starts, second.length, second.stains) == ((11000,), 8500, ())
    assert (third.starts, third.length) == ((20000,), 10000)
    assert [stock.available for stock in (first, second, third)] == [2, 2, 2]


def test_windows_alike_are_one_stock() -> None:
    """3000 with 1000 to 2000 gone: two windows of 1000, on three rolls each."""
    (stock,) = stocks_of(rack(Roll("r", 500, 3000, 1.0, 3, (Flaw(1000, 2000),))))
    assert (stock.starts, stock.length, stock.available) == ((0, 20000), 10000, 6)


def test_bands_keep_clear_of_flaws_and_leave_room_to_cut() -> None:
    """By hand, gap 5: beside a flaw from 200 to 203 the upper band begins 10.1 above the lower."""
    (stock,) = stocks_of(rack(Roll("r", 500, 1000, 1.0, 1, (Flaw(400, 450, 200, 203),)), gap=5))
    assert stock.bands(0) == (Band(0, 5000),)
    assert stock.bands(1) == (Band(0, 2000), Band(2101, 2899))
    (edge,) = stocks_of(rack(Roll("r", 500, 1000, 1.0, 1, (Flaw(400, 450, 0, 3),)), gap=5))
    assert edge.bands(1) == (Band(51, 4949),)


@some
@given(
    st.integers(3000, 40_000),
    st.lists(st.tuples(st.integers(0, 40_000), st.integers(1, 500)), max_size=4),
    st.sampled_from([0.0, 5.0]),
    st.sampled_from([0.0, 40.0]),
    st.none() | st.integers(700, 5000),
)
def test_parts_of_a_window_lie_apart_within_it_and_stand_for_all_of_it(
    length: int, flaws: list[tuple[int, int]], gap: float, end_loss: float, longest: int | None
) -> None:
    """Parts do not overlap, no flaw is lost, and their shares add up to the whole window."""
    found = tuple(Flaw(x, x + dx, 0, 100) for x, dx in flaws if x < length)
    problem = rack(
        Roll("r", 500, length, 1.0, 1, found), gap=gap, end_loss=end_loss, max_marker_length=longest
    )
    parts = sorted(
        (start, stock.length or 0, stock)
        for stock in stocks_of(problem, divided=True)
        for start in stock.starts
    )
    between = max(0, round((gap - end_loss) * 10))
    for (start, size, _), (after, _, _) in pairwise(parts):
        assert start + size + between <= after
    assert parts[-1][0] + parts[-1][1] <= length * 10
    assert sum(stock.share for _, _, stock in parts) == pytest.approx(length * 10)
    for flaw in found:
        at = (flaw.x0 * 10, min(flaw.x1, length) * 10)
        seen = sum(
            stain.x1 - stain.x0
            for start, _, stock in parts
            for stain in stock.stains
            if start + stain.x0 >= at[0] and start + stain.x1 <= at[1]
        )
        lost = sum(
            max(0, min(after, at[1]) - max(start + size, at[0]))
            for (start, size, _), (after, _, _) in pairwise(parts)
        )
        assert seen + lost >= at[1] - at[0]


def test_a_roll_without_end_spares_rests_that_are_no_better() -> None:
    """Of rests only the cheaper and the wider one can help."""
    rolls = (
        Roll("new", 1000, cost=2.0),
        Roll("same", 1000, 3000, 2.0, 1),
        Roll("narrow", 900, 3000, 2.0, 1),
        Roll("cheap", 900, 3000, 1.9, 1),
        Roll("wide", 1100, 3000, 3.0, 1),
    )
    grid = grid_of(rack(*rolls))
    spared = {rolls[grid.stocks[at].roll].key for at in dominated(grid)}
    assert spared == {"same", "narrow"}


def test_only_plentiful_rolls_lose_their_end() -> None:
    """Four of 300 x 200 are 0.24 m2: one roll of 0.25 m2 is not plenty, ten are, and so are any number."""
    for available, plenty in ((1, False), (10, True), (None, True)):
        problem = rack(Roll("r", 250, 1000, 1.0, available))
        eased = ease(problem, grid_of(problem))
        assert (eased is not None) == plenty
        if eased is not None:
            assert eased.rolls[0].length is None


# --- Rows of slices -----------------------------------------------------------------------------------


@some
@given(
    st.lists(st.tuples(st.integers(1, 9), st.integers(-3, 9)), min_size=1, max_size=4),
    st.integers(1, 24),
    st.lists(st.tuples(st.integers(0, 24), st.integers(1, 4)), max_size=2),
    st.sampled_from([0.0, 0.5]),
)
def test_rows_of_slices_gain_the_most_there_is(
    slices: list[tuple[int, int]], room: int, flaws: list[tuple[int, int]], skip: float
) -> None:
    """Against plain recursion over all places; where a flaw is met a slice gains half."""
    units = np.array([unit for unit, _ in slices], np.int64)
    x0, x1 = (np.array(ends, np.int64) for ends in ([x for x, _ in flaws], [x + dx for x, dx in flaws]))
    masks, zones = zones_of(x0, x1, 0, 1, room, units)
    gains = np.array([[gain / 2 if mask else gain for _, gain in slices] for mask in masks], np.float64)

    def met(place: int, unit: int) -> bool:
        return any(x < place + unit and x + dx > place for x, dx in flaws)

    @cache
    def best(place: int) -> float:
        """From `place` on, behind a slice."""
        found = 0.0
        if place < room:
            found = max(found, best(place + 1) - skip)
        for unit, gain in slices:
            if place + unit <= room:
                found = max(found, (gain / 2 if met(place, unit) else gain) + best(place + unit))
        return found

    places, chosen, gain = best_row(units, gains, zones, room, skip)
    assert gain == pytest.approx(max(best(place) for place in range(room + 1)))
    ends = [place + int(units[k]) for place, k in zip(places.tolist(), chosen.tolist(), strict=True)]
    assert all(end <= after for end, after in zip(ends, places.tolist()[1:], strict=False))
    told = sum(gains[zones[place, k], k] for place, k in zip(places, chosen, strict=True))
    skipped = sum(after - end for end, after in zip(ends, places.tolist()[1:], strict=False))
    assert told - skip * skipped == pytest.approx(gain)


# --- Fills around flaws -------------------------------------------------------------------------------


@some
@given(
    st.lists(st.tuples(st.integers(2, 12), st.integers(2, 12), st.integers(1, 5)), min_size=1, max_size=5),
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(1, 8), st.integers(0, 20), st.integers(1, 8)), max_size=4
    ),
    st.integers(12, 24),
    st.integers(12, 50),
    st.integers(0, 2),
)
def test_fills_keep_clear_of_flaws_and_of_each_other(
    boxes: list[tuple[int, int, int]],
    flaws: list[tuple[int, int, int, int]],
    width: int,
    target: int,
    gap: int,
) -> None:
    """All within the room, a gap apart, off the flaws, no more than there are; plain and searched."""
    stains = np.array([(x, x + dx, y, y + dy) for x, dx, y, dy in flaws], np.int64).reshape(-1, 4)
    dx, dy, copies = (np.array(column, np.int64) for column in zip(*boxes, strict=True))
    kinds = np.arange(dx.size)
    start = np.arange(dx.size + 1)
    task = (kinds, copies, start, dx + gap, dy + gap, dx * dy)
    for searched in (False, True):
        out = np.empty((4, int(copies.sum())), np.int64)
        order = np.argsort(-dx * dy, kind="stable")
        size = (width + gap, target + gap, gap, stains)
        if searched:
            goal = int((dx * dy * copies).sum())
            placed, worth, top, _ = search_around(*size, goal, 20, 10**6, order, *task, Search().random, out)
        else:
            placed, worth, top, _ = fill_around(*size, order, *task, out)
        spots = [(int(x), int(y), int(dx[k]), int(dy[k])) for k, _, x, y in out[:, :placed].T]
        assert worth == sum(a * b for _, _, a, b in spots)
        assert (np.bincount(out[0, :placed], minlength=dx.size) <= copies).all()
        for at, (x, y, a, b) in enumerate(spots):
            assert x >= 0 and y >= 0 and x + a <= target and y + b <= width and x + a + gap <= top
            assert not any(s[0] < x + a and s[1] > x and s[2] < y + b and s[3] > y for s in stains.tolist())
            for u, v, c, d in spots[:at]:
                apart = x >= u + c + gap or u >= x + a + gap or y >= v + d + gap or v >= y + b + gap
                assert apart


def test_a_fill_goes_on_beside_and_behind_a_flaw() -> None:
    """By hand: strips of 10 x 3 in 30 x 10 with a flaw of 4 x 4 in the middle, from 10 on.

    Three before the flaw, one on either side of it, one behind it from 14 on, and two beside that one.
    """
    stains = np.array([(10, 14, 3, 7)], np.int64)
    out = np.empty((4, 8), np.int64)
    task = (np.array([10]), np.array([3]), np.array([30]))
    placed, _, top, _ = fill_around(
        10, 30, 0, stains, np.array([0]), np.array([0]), np.array([8]), np.array([0, 1]), *task, out
    )
    assert (placed, top) == (8, 30)
    assert sorted(out[2].tolist()) == [0, 0, 0, 10, 10, 14, 20, 20]


# --- Bounds -------------------------------------------------------------------------------------------


def test_the_scaled_bound_charges_for_rolls_that_run_out() -> None:
    """By hand: 100 steps of work. A cheap roll (1 a step) gives 40, a dear one (3) the rest: 40 + 180."""
    rooms = [BarRoom(10, 1.0, 40.0), BarRoom(10, 3.0)]
    assert scaled_bound(100.0 * 3.0, [3.0, 3.0], rooms) == pytest.approx(220.0)
    assert scaled_bound(100.0, [1.0, 1.0], rooms) == pytest.approx(220.0)
    assert scaled_bound(0.0, [1.0, 1.0], rooms) == 0.0
    assert scaled_bound(5.0, [0.0], [BarRoom(10, 1.0)]) == 0.0


def test_bounds_know_which_roll_is_cheap_and_how_far_it_goes() -> None:
    """By hand: ten of 600 x 1000. The cheap roll of 1000 holds two, the dear one two across at 3 a metre."""
    pieces = (Piece.rectangle("a", 600, 1000, 10, (0,)),)
    problem = rack(Roll("cheap", 1000, 1300, 1.0, 1), Roll("dear", 2000, cost=3.0), pieces=pieces)
    grid = grid_of(problem)
    bars = bar_cost_bound(profiles_of(pieces), grid.rooms(), grid.gap, Search())
    # 6 m of bars: 1.3 m from the cheap roll, the other 4.7 m two across.
    assert bars == pytest.approx(1.3 + 4.7 / 2 * 3)
    assert area_cost_bound(grid) == pytest.approx(1.3 + 4.7 / 2 * 3)


def test_the_area_bound_knows_what_fits_no_narrow_roll() -> None:
    """By hand: 900 wide never fits the cheap roll of 800, which still takes the narrow pieces."""
    pieces = (Piece.rectangle("w", 1000, 900, 2, (0,)), Piece.rectangle("n", 1000, 400, 4, (0,)))
    problem = rack(Roll("cheap", 800, cost=0.4), Roll("wide", 1800, cost=1.8), pieces=pieces)
    # 1.8 m2 at 1.0 and 1.6 m2 at 0.5.
    assert area_cost_bound(grid_of(problem)) == pytest.approx(1.8 + 0.8)


def test_bounds_count_the_ends_of_the_longest_markers() -> None:
    """By hand: 2 m of bars in markers of at most 1 m with 50 mm lost each: 2.1 m."""
    problem = rack(
        Roll("r", 200, cost=1.0),
        pieces=(Piece.rectangle("a", 500, 200, 4, (0,)),),
        max_marker_length=1000,
        end_loss=50,
    )
    grid = grid_of(problem)
    assert area_cost_bound(grid) == pytest.approx(2.1)
    assert bar_cost_bound(profiles_of(problem.pieces), grid.rooms(), 0, Search()) == pytest.approx(2.1)
    assert math.isclose(grid.rate(grid.stocks[0]), 1e-4 * 1.05)


# --- Improving, and rests ------------------------------------------------------------------------------


@pytest.mark.parametrize("free", [False, True])
def test_pieces_move_to_a_cheaper_roll_that_is_free(free: bool) -> None:
    """By hand: four of 300 x 200 on the dear roll (9 a metre) find room on an old one of 1 a metre."""
    problem = rack(Roll("dear", 400, cost=9.0), Roll("old", 400, 700, 1.0, 1), stages=None if free else 2)
    kinds = Kinds.of(problem.pieces)
    grid = RackGrid(problem, kinds)
    grids = {0: roll_grid(problem, kinds, grid.stocks[0])}
    alone = Chunk(((0, 0, 0, 0),), 3000)
    if not free:
        section, _ = (
            Bench(grid, 2).region(3000, 4000, grid.fitting(grid.stocks[0])).quick_section(3000, np.array([1]))
        )
        alone = grids[0].section_chunk(section)
    poor = RackDraft({0: ((alone, 4),)}, (), np.zeros(1, np.int64))
    search: Search[Any] = Search(effort_limit=10**7)
    search.offer(poor.cost(grid, grids), poor, 0)
    ways = [[WindowMaker(grid, grid.stocks[1], Bench(grid, 2), elsewhere=True)]]
    reassign(grid, grids, Repairer(grid, grids, ways, np.random.default_rng(0), free=free), search)
    assert not search.draft.missing.any()
    assert {at for at, _, _ in search.draft.windows} == {1}
    assert not search.draft.endless
    # Two rows of two: 600 of 700.
    assert search.value == pytest.approx(0.6, rel=1e-5)


@pytest.mark.parametrize(("rest", "used"), [(600, False), (2050, True), (2049, False)])
def test_rests_are_used_up_only_where_no_end_is_lost_by_it(rest: int, used: bool) -> None:
    """By hand: four of 500 in one marker lose 50. A rest for all loses as much, one for one more."""
    rolls = (Roll("new", 1000), Roll("rest", 1000, rest, 1.0, 1))
    problem = rack(*rolls, pieces=(Piece.rectangle("a", 500, 1000, 4, (0,)),), end_loss=50)
    answer = solve(problem, time_limit=None, effort=5)
    verify(problem, answer)
    assert answer.cost == pytest.approx(2.05)
    assert {layout.stock_key for layout in answer.layouts} == ({"rest"} if used else {"new"})
