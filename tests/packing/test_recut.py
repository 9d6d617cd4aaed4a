"""Sheets cut anew: perfect ones found again, small orders at the optimum, large rests, and what limits do."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache
from math import inf
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing import Answer, CutNode, Missing, Piece, Sheet, SheetProblem, Status, solve, verify
from nesting.packing.columns import Column, Cover
from nesting.packing.grid import Kinds
from nesting.packing.problem import Stages
from nesting.packing.search import Search
from nesting.packing.sheet import SheetGrid, layouts, search_sheets, stocks_of
from nesting.packing.sheet.cutter import Cutter
from nesting.packing.sheet.depth import DeepMaker
from nesting.packing.sheet.makers import Cascade
from nesting.packing.sheet.offcut import enlarge_offcut
from tests.packing.strategies import sheet_problems

few = settings(max_examples=25, deadline=None, derandomize=True)


def checked(problem: SheetProblem, effort: float = 1.0) -> Answer:
    answer = solve(problem, time_limit=None, effort=effort)
    verify(problem, answer)
    return answer


def fixed(sizes: Sequence[tuple[int, int]]) -> tuple[Piece, ...]:
    return tuple(Piece.rectangle(str(n), a, b, turns=(0,)) for n, (a, b) in enumerate(sizes))


def cut_up(rng: random.Random, length: int, width: int, pieces: int) -> list[tuple[int, int]]:
    """A sheet cut from edge to edge again and again, always the largest part, nothing wasted."""
    parts = [(length, width)]
    while len(parts) < pieces:
        a, b = max(parts, key=lambda part: part[0] * part[1])
        parts.remove((a, b))
        if a > b:
            at = rng.randrange(a // 4, 3 * a // 4)
            parts += [(at, b), (a - at, b)]
        else:
            at = rng.randrange(b // 4, 3 * b // 4)
            parts += [(a, at), (a, b - at)]
    return parts


@pytest.mark.parametrize("seed", range(4))
def test_sheets_cut_up_without_waste_are_put_together_again(seed: int) -> None:
    """Three sheets, seven pieces of each: three sheets are enough, and all of them are full."""
    rng = random.Random(seed)
    sizes = [part for _ in range(3) for part in cut_up(rng, 60, 40, 7)]
    answer = checked(SheetProblem((Sheet("S", 60, 40),), fixed(sizes)), effort=60)
    assert (answer.cost, answer.status) == (3, Status.OPTIMAL)


def any_depth_optimum(
    sizes: Sequence[tuple[int, int]], kerf: int, sheets: Sequence[tuple[int, int, float, int]]
) -> float:
    """Least cost over all guillotine patterns, by trying every division of every set of pieces.

    Sheets are length, width, cost and number; infinite when they do not suffice.
    """

    @cache
    def shortest(members: int, room: int) -> float:
        """Least length in which a set is cut from a board so wide."""
        if members & (members - 1) == 0:
            a, b = sizes[members.bit_length() - 1]
            return a if b <= room else inf
        best = inf
        lowest = members & -members
        part = (members - 1) & members
        while part:
            if part & lowest:
                rest = members ^ part
                best = min(best, shortest(part, room) + kerf + shortest(rest, room))
                for at in range(1, room - kerf):
                    best = min(best, max(shortest(part, at), shortest(rest, room - kerf - at)))
            part = (part - 1) & members
        return best

    @cache
    def cheapest(members: int, left: tuple[int, ...]) -> float:
        """Least cost of a set when so many sheets of each size are left."""
        if not members:
            return 0.0
        lowest = members & -members
        best = inf
        for at, (length, width, cost, _) in enumerate(sheets):
            part = members if left[at] else 0
            after = (*left[:at], left[at] - 1, *left[at + 1 :])
            while part:
                if part & lowest and shortest(part, width) <= length:
                    best = min(best, cost + cheapest(members ^ part, after))
                part = (part - 1) & members
        return best

    return cheapest((1 << len(sizes)) - 1, tuple(number for *_, number in sheets))


@few
@given(
    st.integers(6, 9),
    st.integers(6, 9),
    st.integers(0, 1),
    st.lists(st.tuples(st.integers(1, 6), st.integers(1, 6)), min_size=1, max_size=6),
)
def test_small_orders_need_no_more_sheets_than_the_optimum(length, width, kerf, sizes) -> None:
    """Up to six pieces, any depth: the optimum is found, and no bound exceeds it."""
    problem = SheetProblem((Sheet("S", length, width),), fixed(sizes), kerf=kerf)
    answer = checked(problem)
    optimum = any_depth_optimum(sizes, kerf, [(length, width, 1.0, len(sizes))])
    assert answer.bound <= optimum == answer.cost


@few
@given(
    st.integers(0, 1),
    st.integers(1, 2),
    st.integers(3, 9),
    st.lists(st.tuples(st.integers(1, 6), st.integers(1, 6)), min_size=1, max_size=5),
)
def test_small_orders_from_two_sizes_cost_no_more_than_the_optimum(kerf, number, price, sizes) -> None:
    """A large size without limit, and a small one of which there are one or two."""
    large, small = Sheet("large", 9, 8, 10), Sheet("small", 7, 6, price, available=number)
    answer = checked(SheetProblem((large, small), fixed(sizes), kerf=kerf))
    optimum = any_depth_optimum(sizes, kerf, [(9, 8, 10.0, len(sizes)), (7, 6, float(price), number)])
    assert answer.bound <= optimum == answer.cost


@few
@given(
    st.sampled_from([2, 3]),
    st.integers(0, 1),
    st.lists(st.tuples(st.integers(1, 6), st.integers(1, 6)), min_size=1, max_size=5),
)
def test_small_staged_orders_need_no_more_sheets_than_the_optimum(exact_sheets, stages, kerf, sizes) -> None:
    """Up to five pieces in two and three stages, against every staged pattern."""
    problem = SheetProblem((Sheet("S", 9, 8),), fixed(sizes), kerf=kerf, stages=stages)
    answer = checked(problem)
    assert answer.cost == exact_sheets([[size] for size in sizes], 9, 8, kerf, stages)


@pytest.mark.parametrize(("kinds", "quantity", "seed"), [(30, 1, 0), (8, 40, 1), (20, 3, 2), (10, 200, 3)])
def test_a_wider_choice_of_cuts_costs_no_more(kinds: int, quantity: int, seed: int) -> None:
    """Two stages, three, any number, free: single pieces, and quantities for which patterns repeat."""
    rng = random.Random(seed)
    pieces = tuple(
        Piece.rectangle(str(n), rng.randrange(150, 900), rng.randrange(100, 600), quantity, (0, 90))
        for n in range(kinds)
    )
    costs = [
        checked(SheetProblem((Sheet("S", 2440, 1220),), pieces, kerf=3.2, trim=8, stages=stages), 20).cost
        for stages in (2, 3, "any", None)
    ]
    assert costs == sorted(costs, reverse=True)


@few
@given(sheet_problems())
def test_plans_come_back_from_their_trees_as_they_were(problem: SheetProblem) -> None:
    """Taken apart and read again: the same sheets, the same pieces, and a plan that passes the check."""
    kinds = Kinds.of(problem.pieces)
    search: Search[Any] = Search(effort_limit=300_000)
    search_sheets(problem, kinds, search)
    grid = SheetGrid(problem, kinds)
    stocks = stocks_of(problem)
    cutter = Cutter(grid, stocks, [sheet.available for sheet in problem.sheets], problem.stages)
    assert search.draft is not None
    choice = cutter.choose(search.draft, free=False)
    task = cutter.task(choice)
    again = cutter.cover(choice, task, cutter.load(choice, task))
    assert not again.missing.any()
    assert again.cost == pytest.approx(search.draft.cost)
    made, ledger = layouts(problem, kinds, again)
    assert not ledger.left_over()
    verify(problem, Answer(layouts=tuple(made), value=again.cost, bound=0.0))


def test_only_so_many_pieces_are_taken_up_at_once() -> None:
    """The emptiest sheets first, and never more pieces than the limit; the others stay."""
    problem = SheetProblem((Sheet("S", 100, 100),), (Piece.rectangle("a", 49, 49, 30, (0,)),))
    kinds = Kinds.of(problem.pieces)
    search: Search[Any] = Search(effort_limit=300_000)
    search_sheets(problem, kinds, search)
    grid = SheetGrid(problem, kinds)
    cutter = Cutter(grid, stocks_of(problem), [None], "any")
    assert isinstance(search.draft, Cover)
    choice = cutter.choose(search.draft, most=10)
    # Thirty are seven sheets of four and one of two: that one and two full ones are ten.
    assert (choice.cost, choice.missing) == (3, 0)
    assert choice.counts.tolist() == [10]
    assert sum(times for _, times in choice.kept) == 5


def test_a_piece_that_cuts_leave_out_is_squeezed_in_where_cuts_are_free() -> None:
    """A pinwheel of five on 1000 x 1000 without waste, which no straight cut divides, and a full sheet."""
    sizes = [(600, 400), (350, 600), (650, 450), (400, 550), (250, 150)]
    assert sum(a * b for a, b in sizes) == 1000 * 1000
    pieces = fixed([*sizes, (1000, 1000)])
    sheet = (Sheet("S", 1000, 1000),)
    free = checked(SheetProblem(sheet, pieces, stages=None), effort=20)
    straight = checked(SheetProblem(sheet, pieces), effort=20)
    assert (free.cost, straight.cost) == (2, 3)


def test_the_same_seed_and_effort_give_the_same_sheets() -> None:
    """No clock and no earlier run has a say; another seed may cut the sheets in another way."""
    rng = random.Random(11)
    pieces = fixed([(rng.randrange(15, 60), rng.randrange(10, 50)) for _ in range(40)])
    problem = SheetProblem((Sheet("S", 100, 90), Sheet("T", 80, 60, 0.6, 3)), pieces, kerf=0.5, trim=1)
    one = solve(problem, time_limit=None, effort=12, seed=5)
    solve(problem, time_limit=None, effort=3, seed=6)
    assert solve(problem, time_limit=None, effort=12, seed=5) == one


def rests(node: CutNode) -> list[float]:
    """Areas of all left-overs of a tree of cuts, mm2."""
    if node.axis is None:
        return [node.length * node.width] if node.piece is None else []
    return [area for part in node.parts for area in rests(part)]


@pytest.mark.parametrize("stages", [2, 3, "any"])
def test_the_rest_is_in_one_piece_as_large_as_can_be(stages: Stages) -> None:
    """Two of 400 x 500 on 1000 x 1000, one above the other: 600 x 1000 is left, not 1000 x 500."""
    problem = SheetProblem(
        (Sheet("S", 1000, 1000),), (Piece.rectangle("a", 400, 500, 2, (0,)),), stages=stages
    )
    (layout,) = checked(problem).layouts
    assert layout.cuts is not None
    assert max(rests(layout.cuts)) == 600 * 1000


def test_the_rest_of_the_last_sheet_is_gathered_from_all_sheets() -> None:
    """Seven of 500 x 480 fill one sheet and three quarters of another; the smaller ones leave with them.

    Four on each of two sheets would take all eight places; the two of 200 x 20 fit beside four.
    """
    pieces = (Piece.rectangle("a", 500, 480, 6, (0,)), Piece.rectangle("b", 500, 20, 4, (0,)))
    answer = checked(SheetProblem((Sheet("S", 1000, 1000),), pieces), effort=20)
    assert answer.cost == 2
    # The first sheet is full with four of each; two of 500 x 480 take 1000 x 480 or 500 x 960.
    assert max(area for layout in answer.layouts if layout.cuts for area in rests(layout.cuts)) == 520 * 1000


@few
@given(sheet_problems().filter(lambda problem: problem.stages is not None))
def test_a_larger_rest_never_costs_more(problem: SheetProblem) -> None:
    """At the same cost nothing is missing, and the largest rest is no smaller than it was."""
    kinds = Kinds.of(problem.pieces)
    grid, stocks = SheetGrid(problem, kinds), stocks_of(problem)
    cutter = Cutter(grid, stocks, [sheet.available for sheet in problem.sheets], problem.stages)
    search: Search[Any] = Search(effort_limit=100_000)
    search_sheets(problem, kinds, search)
    before = search.draft
    assert before is not None
    search.effort_limit = 2_000_000
    enlarge_offcut(cutter, search)
    assert search.draft.cost <= before.cost + 1e-6
    plans = [layouts(problem, kinds, draft)[0] for draft in (before, search.draft)]
    verify(problem, Answer(layouts=tuple(plans[1]), value=search.draft.cost, bound=0.0))
    # A rest that a piece is trimmed from beyond the last stage is none that the search counts.
    if problem.stages == "any":
        least, most = (max(area for layout in plan for area in [0.0, *rests(layout.cuts)]) for plan in plans)
        assert most >= least - 1e-6


@few
@given(
    st.lists(st.tuples(st.integers(20, 90), st.integers(20, 90)), min_size=1, max_size=4),
    st.integers(0, 5),
)
def test_no_pattern_is_worth_more_than_is_proved(sizes, kerf) -> None:
    """The pattern of most area holds no more than the proof says, and on a fine grid just as much."""
    problem = SheetProblem((Sheet("S", 100, 97),), fixed(sizes), kerf=kerf)
    kinds = Kinds.of(problem.pieces)
    grid = SheetGrid(problem, kinds)
    maker = DeepMaker(grid, stocks_of(problem)[0], proves=True)
    values = grid.area.astype(np.float64)
    search: Search[Any] = Search(effort_limit=10**9)
    (column,) = maker.price(values, search)
    bound = maker.ratio(values, 0.0, search)
    assert bound is not None
    assert float(values @ column.counts) == pytest.approx(bound)


def test_a_pattern_on_a_coarse_grid_is_valid_and_within_the_proof() -> None:
    """So many sizes that the points are too many: rounded up for the pattern, down for the proof."""
    rng = random.Random(5)
    pieces = tuple(
        Piece.rectangle(str(n), rng.randrange(1000, 9000) / 10, rng.randrange(1000, 6000) / 10, 500)
        for n in range(30)
    )
    problem = SheetProblem((Sheet("S", 2440, 1220),), pieces, kerf=3.2, trim=8)
    kinds = Kinds.of(pieces)
    grid = SheetGrid(problem, kinds)
    maker = DeepMaker(grid, stocks_of(problem)[0], proves=True)
    values = grid.area.astype(np.float64)
    search: Search[Any] = Search(effort_limit=10**9)
    (column,) = maker.price(values, search)
    bound = maker.ratio(values, 0.0, search)
    assert bound is not None
    worth = float(values @ column.counts)
    assert 0.9 * bound < worth <= bound
    made, _ = layouts(problem, kinds, Cover(((column, 1),), grid.demand - column.counts))
    missing = {
        piece.key: Missing(piece.quantity - held, "not asked for here")
        for piece, held in zip(pieces, column.counts.tolist(), strict=True)
        if held < piece.quantity
    }
    verify(problem, Answer(layouts=tuple(made), value=1.0, bound=0.0, missing=missing))


class Fixed:
    """A way of cutting that makes one pattern, of so many copies of the only kind, for 1."""

    stock = 0

    def __init__(self, copies: int, ratio: float | None) -> None:
        self._copies, self._ratio = copies, ratio

    def price(self, values: Any, search: Any) -> list[Column]:
        return [Column(self, 1.0, np.array([self._copies]), None)]  # type: ignore[arg-type]

    def ratio(self, values: Any, charge: float, search: Any) -> float | None:
        return self._ratio


@pytest.mark.parametrize(
    ("value", "limited", "tried"),
    [
        # Two copies are worth more than 1 from 0.5 on; below, the second level is asked, and the third.
        (0.6, False, [2]),
        (0.4, False, [2, 3]),
        (0.2, False, [2, 3, 4]),
        # What a limited stock must earn on top is not known to the makers.
        (0.6, True, [2, 3, 4]),
    ],
)
def test_a_wider_way_of_cutting_is_asked_when_the_simple_one_gains_nothing(value, limited, tried) -> None:
    """Levels of one way each, with patterns of two, three and four copies."""
    levels = [[Fixed(copies, None)] for copies in (2, 3, 4)]
    cascade = Cascade(0, levels, np.ones(1), limited=limited)  # type: ignore[arg-type]
    made = cascade.price(np.array([value]), Search())
    assert [int(column.counts[0]) for column in made] == tried


def test_only_the_widest_way_of_cutting_proves_anything() -> None:
    """The best of the last level bounds all levels; without its proof there is none."""
    simple = Fixed(2, 0.1)
    for last, proved in (([Fixed(3, 0.4), Fixed(4, 0.7)], 0.7), ([Fixed(3, 0.4), Fixed(4, None)], None)):
        cascade = Cascade(0, [[simple], last], np.ones(1), limited=False)  # type: ignore[arg-type, list-item]
        assert cascade.ratio(np.ones(1), 0.0, Search()) == proved
