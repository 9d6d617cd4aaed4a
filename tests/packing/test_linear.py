"""Bars: the knapsack, the bound, and plans against exact solutions and published instances."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from nesting.errors import ProblemError
from nesting.packing.linear import BarPlan, StockBar, pack_bars
from nesting.packing.linear.exact import cover, settle
from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.listing import list_patterns
from nesting.packing.linear.relax import Relaxation, material_bound, relax
from nesting.packing.linear.task import Pattern, Task, whole_costs
from nesting.packing.linear.whole import first_fit
from nesting.packing.search import Search

# --- The knapsack -------------------------------------------------------------------------------------


def ints(values: Sequence[int]) -> np.ndarray:
    """The arrays that the integer core takes."""
    return np.array(values, np.int64)


def most_valuable(room: int, kinds: Sequence[tuple[int, int, int]]) -> int:
    """Best value over all counts, one by one; kinds are (size, value, most)."""
    return max(
        sum(count * value for count, (_, value, _) in zip(counts, kinds, strict=True))
        for counts in itertools.product(*(range(most + 1) for *_, most in kinds))
        if sum(count * size for count, (size, *_) in zip(counts, kinds, strict=True)) <= room
    )


KINDS = st.lists(st.tuples(st.integers(1, 25), st.integers(0, 30), st.integers(0, 4)), min_size=1, max_size=5)


@given(st.integers(1, 80), KINDS, st.integers(0, 60), st.sampled_from([0, 10**6]))
@settings(max_examples=150, deadline=None)
def test_the_best_fill_is_the_best_of_all(
    room: int, kinds: list[tuple[int, int, int]], floor: int, dense_room: int
) -> None:
    """Both forms of the dynamic program agree with trying everything, and keep to the floor."""
    sizes, values, most = (ints(column) for column in zip(*kinds, strict=True))
    best = most_valuable(room, kinds)
    found = best_fills(room, sizes, values, most, floor=floor, fills=4, dense_room=dense_room)
    assert found.upper == max(best, floor)
    assert bool(found.counts) == (best > floor)
    if found.counts:
        assert int(found.counts[0] @ values) == best
    for counts in found.counts:
        assert floor < int(counts @ values) <= best
        assert int(counts @ sizes) <= room
        assert (counts >= 0).all() and (counts <= most).all()


@given(st.integers(1, 80), KINDS)
@settings(max_examples=60, deadline=None)
def test_dropped_states_are_owned_up_to(room: int, kinds: list[tuple[int, int, int]]) -> None:
    """With room for two states only the fill may be worse, but the upper value holds."""
    sizes, values, most = (ints(column) for column in zip(*kinds, strict=True))
    found = best_fills(room, sizes, values, most, dense_room=0, most_states=2)
    value = int(found.counts[0] @ values) if found.counts else 0
    assert value <= most_valuable(room, kinds) <= found.upper


def test_a_bar_of_ten_kilometres_is_filled_exactly() -> None:
    """Sizes by hand: 3 x 33 333 333 is one step short of 10^8 (tenths of a millimetre)."""
    found = best_fills(10**8, ints([33_333_333, 49_999_999]), ints([33_333_333, 49_999_999]), ints([5, 5]))
    assert found.upper == 99_999_999
    assert found.counts[0].tolist() == [3, 0]


# --- Tasks and bounds ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("costs", "unit", "whole"),
    [
        ([1.0], Fraction(1), [1]),
        ([12.35, 7.8], Fraction(13, 20), [19, 12]),
        ([600.0, 400.0, 300.0], Fraction(100), [6, 4, 3]),
        ([0.1, 0.3], Fraction(1, 10), [1, 3]),
    ],
)
def test_costs_are_counted_in_their_largest_common_unit(
    costs: list[float], unit: Fraction, whole: list[int]
) -> None:
    """By hand: 12.35 and 7.80 are 19 and 12 times 0.65."""
    assert whole_costs(costs) == (unit, whole)


def test_costs_without_a_sensible_unit_are_rounded_down() -> None:
    """A third and pi have no common decimal unit; rounded down, a bound stays a bound."""
    costs = [1 / 3, math.pi]
    unit, whole = whole_costs(costs)
    assert all(0 <= cost - float(unit * count) < 1e-8 for cost, count in zip(costs, whole, strict=True))


def make_task(
    bars: Sequence[StockBar], lengths: Sequence[int], demand: Sequence[int], kerf: int = 0
) -> tuple[Task, Fraction]:
    """A task in whole costs, and their unit."""
    unit, costs = whole_costs([bar.cost for bar in bars])
    return Task.of(bars, costs, ints(lengths), ints(demand), kerf), unit


def test_the_material_bound_takes_the_cheapest_length() -> None:
    """Six of 50 and six of 51 are 606; at 3 per 100 or 5 per 200 that is 15.15, so 16 at least."""
    task, unit = make_task([StockBar(100, 3), StockBar(200, 5)], [50, 51], [6, 6])
    assert material_bound(task) * unit == 16


def test_kerfs_and_common_divisors_leave_the_same_fits() -> None:
    """Three of 1785 with kerf 10 are 5375: they fit a bar of 5375, and of 5374 not."""
    for length, pieces in ((5375, 3), (5374, 2)):
        task, _ = make_task([StockBar(length)], [1785], [9], kerf=10)
        assert int(task.rooms[0]) // int(task.sizes[0]) == pieces


def relaxed(task: Task) -> Relaxation:
    """The relaxation, solved to the end without a budget."""
    return relax(task, list(first_fit(task)), Search(), converge=True)


def test_patterns_never_hold_more_than_is_wanted() -> None:
    """One piece of 30 needs a whole bar; three of 30 on it would prove a third of its cost only.

    The second bar is there for its price, so that costs are counted in units of 1.
    """
    task, _ = make_task([StockBar(100, 100.0), StockBar(100, 101.0)], [30], [1])
    assert relaxed(task).bound == 100


# Chvatal (1983), *Linear Programming*, chapter 13 (from memory): raws of 100 cut into 97, 610, 395 and
# 211 finals of 45, 36, 31 and 14; the relaxation is 452.25, the optimum 453.
CHVATAL = ([45, 36, 31, 14], [97, 610, 395, 211])


def test_the_relaxation_reaches_a_textbook_value() -> None:
    """452.25, and rounded up."""
    task, _ = make_task([StockBar(100)], *CHVATAL)
    assert relaxed(task).bound == 453
    assert float(relaxed(task).dual.bound) == pytest.approx(452.25, abs=1e-5)


def test_every_pattern_is_listed_once_and_none_has_room_to_spare() -> None:
    """By hand, 50 and 30 from 100 with two of each: 2 + 0, 1 + 1 and 0 + 2 (three are not wanted)."""
    task, _ = make_task([StockBar(100)], [50, 30], [2, 2])
    listed, _ = list_patterns(task, [0], ints([1, 1]), 10)
    assert listed is not None
    assert sorted(pattern.counts for pattern in listed) == [(0, 2), (1, 1), (2, 0)]
    assert list_patterns(task, [0], ints([1, 1]), 2)[0] is None


@given(st.integers(1, 60), KINDS, st.integers(0, 60))
@settings(max_examples=80, deadline=None)
def test_listed_patterns_are_all_full_ones_of_that_value(
    room: int, kinds: list[tuple[int, int, int]], least: int
) -> None:
    """Against trying all counts, one by one."""
    sizes, values, most = (ints(column) for column in zip(*kinds, strict=True))
    task = Task(ints([room]), ints([1]), ints([9]), sizes, most)
    listed, _ = list_patterns(task, [least], values, 10**4)
    every = [ints(counts) for counts in itertools.product(*(range(n + 1) for n in most.tolist()))]
    expected = {
        tuple(counts.tolist())
        for counts in every
        if counts.any()
        and counts @ sizes <= room
        and counts @ values >= least
        and not any(counts[i] < most[i] and sizes[i] <= room - counts @ sizes for i in range(len(kinds)))
    }
    assert listed is not None
    assert len(listed) == len(expected)
    assert {pattern.counts for pattern in listed} == expected


def test_long_bars_are_listed_by_a_coarser_table() -> None:
    """10^8 steps do not fit a table; three of 33 333 333 are one step longer than two of 49 999 999."""
    sizes = ints([49_999_999, 33_333_333])
    task = Task(ints([10**8]), ints([1]), ints([9]), sizes, ints([5, 5]))
    listed, _ = list_patterns(task, [99_999_999], sizes, 10)
    assert listed is not None
    assert sorted(pattern.counts for pattern in listed) == [(0, 3)]


@given(st.integers(25, 40), KINDS)
@settings(max_examples=60, deadline=None)
def test_a_plan_costs_no_less_than_the_bound_and_what_its_patterns_cost_beyond(
    room: int, kinds: list[tuple[int, int, int]]
) -> None:
    """So no plan within a target has a pattern of less value than `least` tells."""
    lengths, _, demand = zip(*kinds, strict=True)
    task, _ = make_task([StockBar(room)], lengths, [wanted + 1 for wanted in demand])
    dual = relaxed(task).dual
    plan = first_fit(task)
    cost = sum(plan.values())
    beyond = sum((dual.charges[p.bar] - dual.worth * int(p.array @ dual.values)) * n for p, n in plan.items())
    assert cost >= dual.bound + beyond
    least = dual.least(cost)[0]
    assert all(int(pattern.array @ dual.values) >= least for pattern in plan)


def test_a_question_is_settled_either_way() -> None:
    """By hand: 60 and 50 from 100 need four bars where two of each are wanted; never three."""
    task, _ = make_task([StockBar(100)], [60, 50], [2, 2])
    dual = relaxed(task).dual
    found = settle(task, dual, 3, 4, 100, 100, Search())
    assert found.plan is not None
    assert (sum(found.plan.values()), found.bound) == (3, 3)
    none = cover(task, list(found.plan), [], (2, 2), 100, Search())
    assert (none.plan, none.bound) == (None, 3)


def test_nothing_is_settled_without_a_budget() -> None:
    """The bound that was known stands."""
    task, _ = make_task([StockBar(100)], [60, 50], [2, 2])
    search = Search[object](effort_limit=0)
    found = settle(task, relaxed(task).dual, 3, 4, 100, 100, search)
    assert (found.plan, found.bound) == (None, 3)


# --- Plans --------------------------------------------------------------------------------------------


def check_plan(
    plan: BarPlan, bars: Sequence[StockBar], lengths: Sequence[int], demand: Sequence[int], kerf: int
) -> None:
    """Every bar holds what is cut from it, no bar is used too often, every piece is accounted for."""
    placed = [0] * len(lengths)
    used = [0] * len(bars)
    for pattern in plan.patterns:
        assert pattern.repeats >= 1
        assert any(pattern.counts)
        used[pattern.bar] += pattern.repeats
        held = [length for length, count in zip(lengths, pattern.counts, strict=True) for _ in range(count)]
        assert sum(held) + kerf * (len(held) - 1) <= bars[pattern.bar].length
        for index, count in enumerate(pattern.counts):
            placed[index] += count * pattern.repeats
    for bar, count in zip(bars, used, strict=True):
        assert bar.available is None or count <= bar.available
    for index, wanted in enumerate(demand):
        assert placed[index] + plan.missing.get(index, (0, ""))[0] == wanted
    assert plan.cost == pytest.approx(sum(bars[p.bar].cost * p.repeats for p in plan.patterns))
    assert 0 <= plan.bound <= plan.cost


def cheapest(
    bars: Sequence[StockBar], lengths: Sequence[int], demand: Sequence[int], kerf: int
) -> float | None:
    """Exact optimum by CP-SAT with one variable per piece and single bar; None when not all fit."""
    model = cp_model.CpModel()
    total = sum(demand)
    single = [
        k
        for k, bar in enumerate(bars)
        for _ in range(total if bar.available is None else min(total, bar.available))
    ]
    opened = [model.new_bool_var("") for _ in single]
    cut = [[model.new_int_var(0, wanted, "") for _ in single] for wanted in demand]
    for row, wanted in zip(cut, demand, strict=True):
        model.add(sum(row) == wanted)
    for j, k in enumerate(single):
        held = sum((lengths[i] + kerf) * cut[i][j] for i in range(len(lengths)))
        model.add(held <= (bars[k].length + kerf) * opened[j])
        if j and single[j - 1] == k:
            model.add(opened[j] <= opened[j - 1])
    model.minimize(sum(int(bars[k].cost) * opened[j] for j, k in enumerate(single)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    return round(solver.objective_value) if status == cp_model.OPTIMAL else None


STOCK = st.lists(
    st.builds(
        StockBar,
        st.integers(40, 100),
        st.integers(1, 9).map(float),
        st.none() | st.integers(0, 2),
    ),
    min_size=1,
    max_size=3,
)
WANTED = st.lists(st.tuples(st.integers(5, 45), st.integers(1, 3)), min_size=1, max_size=4)


@given(STOCK, WANTED, st.sampled_from([0, 3]))
@settings(max_examples=80, deadline=None)
def test_small_plans_are_as_cheap_as_any(
    bars: list[StockBar], wanted: list[tuple[int, int]], kerf: int
) -> None:
    """Against an exact model that shares nothing with the engine; nothing is missing that could fit."""
    lengths, demand = ([pair[i] for pair in wanted] for i in (0, 1))
    plan = pack_bars(bars, lengths, demand, kerf)
    check_plan(plan, bars, lengths, demand, kerf)
    best = cheapest(bars, lengths, demand, kerf)
    if best is None:
        assert plan.missing
        placed = [wanted - plan.missing.get(i, (0, ""))[0] for i, wanted in enumerate(demand)]
        best = cheapest(bars, lengths, placed, kerf)
    else:
        assert not plan.missing
    assert best is not None
    assert plan.cost == best
    assert plan.bound <= best


def test_border_strips_from_a_hand_worked_bar() -> None:
    """1785 from 5400 with kerf 10: three a bar (5375 used), so seven need three bars."""
    plan = pack_bars([StockBar(54000)], [17850], [7], kerf=100)
    assert (plan.cost, plan.bound, plan.stopped) == (3, 3, "proved")
    assert {pattern.counts: pattern.repeats for pattern in plan.patterns} == {(3,): 2, (1,): 1}


def test_the_rest_goes_on_the_cheapest_bar_that_holds_it() -> None:
    """Five of 100: four on the long bar (4 x 100 = 400 for 40), the last on a short one for 15."""
    plan = pack_bars([StockBar(400, 40.0), StockBar(150, 15.0)], [100], [5])
    assert plan.cost == 55
    assert {(p.bar, p.counts): p.repeats for p in plan.patterns} == {(0, (4,)): 1, (1, (1,)): 1}


def test_few_patterns_are_listed_and_the_plan_is_proven() -> None:
    """Two remnants of 300 at 1 take three pieces of 100 each; the other four need one new bar of 600.

    By hand the relaxation only proves 2 + 10 x 4/6 = 8.67; all patterns together prove 12.
    """
    plan = pack_bars([StockBar(600, 10.0), StockBar(300, 1.0, available=2)], [100], [10])
    assert plan.cost == 12
    assert plan.stopped == "proved"


def test_missing_pieces_come_with_the_reason() -> None:
    """One piece is too long for every bar; of the others only two bars of two can be had."""
    bars = [StockBar(200, 1.0, available=2)]
    plan = pack_bars(bars, [250, 100], [1, 7])
    check_plan(plan, bars, [250, 100], [1, 7], 0)
    assert plan.missing[0] == (1, "longer than every bar")
    assert plan.missing[1] == (3, "the bars that are long enough run out")


def test_a_long_bar_that_is_out_of_stock_is_no_reason_to_call_a_piece_too_long() -> None:
    """It would fit if there were one."""
    plan = pack_bars([StockBar(500, 1.0, available=0), StockBar(200)], [300, 100], [1, 2])
    assert plan.missing == {0: (1, "the bars that are long enough run out")}
    assert plan.cost == 1


def test_longer_pieces_are_placed_rather_than_shorter_ones() -> None:
    """One bar of 100 takes either of 90 and 80."""
    plan = pack_bars([StockBar(100, 1.0, available=1)], [80, 90], [1, 1])
    assert plan.missing == {0: (1, "the bars that are long enough run out")}


def test_nothing_wanted_costs_nothing() -> None:
    """An empty order has an empty plan, and it is proven."""
    plan = pack_bars([StockBar(100)], [50], [0])
    assert (plan.patterns, plan.cost, plan.bound, plan.stopped) == ((), 0.0, 0.0, "proved")


def test_large_quantities_cost_no_more_work_than_small_ones() -> None:
    """The textbook order a thousand times over: 452 250 bars exactly."""
    lengths, demand = CHVATAL
    plan = pack_bars([StockBar(100)], lengths, [1000 * quantity for quantity in demand])
    assert (plan.cost, plan.bound) == (452_250, 452_250)


def weeks_rolls() -> tuple[list[StockBar], list[int], list[int], int]:
    """Invented: rolls of 60, 45 and 30 m, 14 marker lengths of 1.8 to 9.3 m, in tenths of a millimetre."""
    random = np.random.default_rng(7)
    lengths = (random.integers(36, 186, 14) * 500).tolist()
    demand = random.integers(1, 40, 14).tolist()
    return [StockBar(600_000, 60.0), StockBar(450_000, 46.0), StockBar(300_000, 31.5)], lengths, demand, 400


def budget(units: float) -> Search[object]:
    """A search that may spend so many millions of steps."""
    return Search(effort_limit=int(units * 1e6))


WEEK = 30
"""Millions of steps that are enough for `weeks_rolls`."""


@pytest.fixture(scope="module")
def weeks_plan() -> BarPlan:
    """A plan for `weeks_rolls`."""
    return pack_bars(*weeks_rolls(), search=budget(WEEK))


def test_rolls_of_a_week_are_planned_within_a_percent(weeks_plan: BarPlan) -> None:
    """The gap that is left is small, and the plan is right."""
    check_plan(weeks_plan, *weeks_rolls())
    assert (weeks_plan.cost - weeks_plan.bound) / weeks_plan.cost <= 0.01


def test_the_same_input_gives_the_same_plan(weeks_plan: BarPlan) -> None:
    """No clock and no chance in it."""
    assert pack_bars(*weeks_rolls(), search=budget(WEEK)) == weeks_plan


@pytest.mark.parametrize("units", [0, 0.01, 0.3, 2])
def test_a_complete_plan_is_there_whenever_the_budget_is_used_up(units: float, weeks_plan: BarPlan) -> None:
    """Even with none at all; and the bound holds."""
    case = weeks_rolls()
    plan = pack_bars(*case, search=budget(units))
    check_plan(plan, *case)
    assert not plan.missing
    assert plan.stopped == "effort"
    assert plan.bound <= weeks_plan.cost


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([], [1], [1]), "at least one bar"),
        (([StockBar(0)], [1], [1]), "Bar 0: length must be 1 to 100000000 steps, got 0"),
        (([StockBar(5, 0.0)], [1], [1]), "Bar 0: cost must be above 0"),
        (([StockBar(5, math.nan)], [1], [1]), "Bar 0: cost must be above 0, got nan"),
        (([StockBar(5, 1.0, -1)], [1], [1]), "Bar 0: available must be 0 or more, got -1"),
        (([StockBar(5)], [1, -2], [1, 1]), "Piece 1: length must be 1 to"),
        (([StockBar(5)], [1], [-1]), "Piece 0: quantity must be 0 or more, got -1"),
        (([StockBar(5)], [1, 2], [1]), "one quantity for each of 2 lengths, got 1"),
        (([StockBar(5)], [1], [1], -1), "kerf must be 0 to"),
        (([StockBar(10**8)], list(range(1, 7)), [1] * 6), "6 pieces are too many where the shortest is 1"),
    ],
)
def test_impossible_figures_are_refused(
    arguments: tuple[list[StockBar], list[int], list[int]], words: str
) -> None:
    """The message names the bar or piece and the value."""
    with pytest.raises(ProblemError, match=words):
        pack_bars(*arguments)


def test_patterns_of_the_core_compare_by_value() -> None:
    """So that sets of them hold each once."""
    assert Pattern.of(0, ints([1, 2])) == Pattern(0, (1, 2))
    assert len({Pattern.of(0, ints([1, 2])), Pattern(0, (1, 2))}) == 1


# --- Published instances ------------------------------------------------------------------------------

# A worked example that is much copied (from memory): master rolls of 5600 mm and thirteen widths; the
# optimum is 73 rolls with 0.401 % of waste. The waste checks the quantities: sum / (73 x 5600).
PAPER = {
    1380: 22,
    1520: 25,
    1560: 12,
    1710: 14,
    1820: 18,
    1880: 18,
    1930: 20,
    2000: 10,
    2050: 12,
    2100: 14,
    2140: 16,
    2150: 18,
    2200: 20,
}


def test_the_paper_machine_example_needs_73_rolls() -> None:
    """Value and waste as published."""
    assert round(100 * (1 - sum(w * q for w, q in PAPER.items()) / (73 * 5600)), 3) == 0.401
    plan = pack_bars([StockBar(5600)], list(PAPER), list(PAPER.values()))
    assert (plan.cost, plan.bound, plan.stopped) == (73, 73, "proved")


def test_the_textbook_example_needs_453_raws() -> None:
    """The optimum of `CHVATAL`."""
    plan = pack_bars([StockBar(100)], *CHVATAL)
    assert (plan.cost, plan.bound) == (453, 453)


# Falkenauer (1996), J. Heuristics 2: 5-30 (u, t: optima as published in the instance files); Scholl,
# Klein and Juergens (1997), Computers & OR 24: 627-645 (N); Waescher and Gau (1996), OR Spektrum 18:
# 131-144 (TEST); instances of Schoenfield, taken up by Belov and Scheithauer (2006), EJOR 171: 85-106
# (BPP). Some of them need a bar more than the relaxation rounded up: TEST0022, TEST0065, BPP14, BPP119.
# Values without a published optimum are proven by the engine's own bound.
INSTANCES = [
    ("falkenauer", "u250_00"),
    ("falkenauer", "u500_03"),
    ("falkenauer", "u1000_11"),
    ("falkenauer", "t60_04"),
    ("falkenauer", "t120_05"),
    ("scholl", "N2C2W2_C"),
    ("scholl", "N4C1W4_T"),
    ("scholl", "N4W1B3R7"),
    ("waescher", "TEST0058"),
    ("waescher", "TEST0075"),
    ("waescher", "TEST0022"),
    ("waescher", "TEST0065"),
    ("hard28", "BPP14"),
    ("hard28", "BPP119"),
    ("hard28", "BPP766"),
    ("hard28", "BPP178"),
]


@pytest.mark.parametrize(("set_name", "name"), INSTANCES)
def test_published_instances_are_solved_and_proven(bench: Path, set_name: str, name: str) -> None:
    """Never below the file's lower bound; the published optimum where there is one."""
    data = json.loads((bench / "stock1d" / f"{set_name}.json").read_text(encoding="utf-8"))
    instance = next(item for item in data["instances"] if item["name"] == name)
    lengths, demand = zip(*instance["items"], strict=True)
    bars = [StockBar(instance["capacity"])]
    plan = pack_bars(bars, lengths, demand)
    check_plan(plan, bars, lengths, demand, 0)
    assert plan.bound >= instance["lower_bound"]
    assert plan.cost == plan.bound
    if instance["optimal"] is not None:
        assert plan.cost == instance["optimal"]
    if instance["best_known"] is not None:
        assert plan.cost <= instance["best_known"]
