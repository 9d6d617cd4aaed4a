"""Borders joined from strips: pouring, the bound, the exact model, and layouts as people read them."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing import Answer, Bar, LinearProblem, Part, Piece, solve, verify
from nesting.packing.linear.join_exact import settle_joined
from nesting.packing.linear.join_relax import relax_joined
from nesting.packing.linear.join_search import search_joined
from nesting.packing.linear.joined import JoinPlan, JoinTask, Want, pour
from nesting.packing.linear.task import StockBar
from nesting.packing.search import Search

# --- Against trying everything ------------------------------------------------------------------------


def splits(want: Want) -> Iterator[tuple[int, ...]]:
    """All ways to make one copy, parts in falling order, for a bar holds them in any order."""
    yield (want.length,)
    for parts in range(2, want.joins + 2):
        total = want.length + 2 * want.seam * (parts - 1)
        for cut in itertools.combinations_with_replacement(range(want.least, total + 1), parts):
            if sum(cut) == total:
                yield cut[::-1]


def cheapest_bars(bars: Sequence[StockBar], kerf: int, parts: Sequence[int], most: float) -> float:
    """Least cost of bars that hold all parts, if that is below `most`: every part in every place."""
    rooms: list[int] = []
    counts = Counter[int]()

    def place(index: int, cost: float, best: float) -> float:
        if cost >= best:
            return best
        if index == len(parts):
            return cost
        need = parts[index] + kerf
        for j, room in enumerate(rooms):
            if room >= need and room not in rooms[:j]:
                rooms[j] -= need
                best = place(index + 1, cost, best)
                rooms[j] += need
        for k, bar in enumerate(bars):
            if bar.length + kerf >= need and (bar.available is None or counts[k] < bar.available):
                rooms.append(bar.length + kerf - need)
                counts[k] += 1
                best = place(index + 1, cost + bar.cost, best)
                counts[k] -= 1
                rooms.pop()
        return best

    return place(0, 0.0, most)


def cheapest_plan(task: JoinTask) -> float:
    """Least cost over all ways to divide all copies; infinite where they do not fit."""
    best = float("inf")
    ways = [itertools.combinations_with_replacement(list(splits(want)), want.quantity) for want in task.wants]
    for chosen in itertools.product(*ways):
        parts = sorted((part for copies in chosen for copy in copies for part in copy), reverse=True)
        best = cheapest_bars(task.bars, task.kerf, parts, best)
    return best


def check_plan(plan: JoinPlan, task: JoinTask) -> None:
    """Every bar holds its parts, every copy is made up of as many of each part, and none is lost."""
    parts: dict[tuple[int, tuple[int, ...]], Counter[int]] = {}
    used = Counter[int]()
    for (k, cuts), times in plan.bars.items():
        used[k] += times
        assert sum(lengths[part] + task.kerf for _, lengths, part in cuts) <= task.bars[k].length + task.kerf
        for piece, lengths, part in cuts:
            parts.setdefault((piece, lengths), Counter())[part] += times
    made = Counter[int]()
    for (piece, lengths), counts in parts.items():
        want = task.wants[piece]
        assert len(lengths) <= want.joins + 1
        assert sum(lengths) == want.length + 2 * want.seam * (len(lengths) - 1)
        assert len(lengths) == 1 or min(lengths) >= want.least
        assert len({counts[part] for part in range(len(lengths))}) == 1
        made[piece] += counts[0]
    for k, bar in enumerate(task.bars):
        assert bar.available is None or used[k] <= bar.available
    for piece, (want, short) in enumerate(zip(task.wants, plan.short, strict=True)):
        assert made[piece] + short == want.quantity
    assert plan.cost == pytest.approx(sum(task.bars[k].cost * times for k, times in used.items()))


WANTS = st.lists(
    st.builds(
        Want,
        length=st.integers(5, 15),
        quantity=st.integers(1, 2),
        joins=st.integers(0, 2),
        least=st.integers(3, 6),
        seam=st.integers(0, 1),
    ),
    min_size=1,
    max_size=2,
)
TASKS = st.builds(
    JoinTask,
    bars=st.lists(
        st.builds(StockBar, st.integers(10, 16), st.integers(1, 3).map(float), st.none() | st.integers(1, 3)),
        min_size=1,
        max_size=2,
    ).map(tuple),
    wants=WANTS.map(tuple),
    kerf=st.integers(0, 1),
)


@given(TASKS)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_small_joined_plans_are_as_cheap_as_any(task: JoinTask) -> None:
    """Against all ways to divide all copies and to put all parts on bars."""
    if any(want.fewest_parts(task.longest) is None for want in task.wants):
        return
    search = Search[JoinPlan]()
    search_joined(task, search)
    plan = search.draft
    assert plan is not None
    check_plan(plan, task)
    if not any(plan.short):
        assert (plan.cost, search.bound) == (pytest.approx(cheapest_plan(task)),) * 2
        assert search.proved


@given(TASKS)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_poured_plans_are_right_and_the_relaxation_is_below_them(task: JoinTask) -> None:
    """Whatever is poured, nothing is lost, and a complete plan costs no less than the bound."""
    if any(want.fewest_parts(task.longest) is None for want in task.wants):
        return
    plan = pour(task, [], [want.quantity for want in task.wants])
    check_plan(plan, task)
    if not any(plan.short):
        assert relax_joined(task, Search()).bound <= plan.cost + 1e-9


# --- By hand ------------------------------------------------------------------------------------------


def task_of(length: int, *wants: Want, kerf: int = 0) -> JoinTask:
    """A task with bars of one length at 1 each."""
    return JoinTask((StockBar(length),), wants, kerf)


@pytest.mark.parametrize(
    ("want", "longest", "parts"),
    [
        (Want(100, 1), 100, 1),
        (Want(101, 1), 100, None),
        (Want(150, 1, joins=1, least=30), 100, 2),
        (Want(190, 1, joins=1, least=30, seam=5), 100, 2),
        (Want(191, 1, joins=1, least=30, seam=5), 100, None),
        (Want(191, 1, joins=2, least=30, seam=5), 100, 3),
        (Want(110, 1, joins=1, least=60), 100, None),
    ],
)
def test_fewest_parts(want: Want, longest: int, parts: int | None) -> None:
    """By hand: two bars of 100 with a seam of twice 5 make 190; two parts of 60 are more than 110."""
    assert want.fewest_parts(longest) == parts


def test_the_relaxation_knows_that_short_rests_are_no_use() -> None:
    """By hand: seven of 17 leave 3 of each bar of 20, and parts are 4 or longer.

    So the joined piece of 50 takes bars of its own: 54 with its two seams of 2 x 1, 2.7 bars; 9.7 in all.
    """
    task = task_of(20, Want(17, 7), Want(50, 1, joins=3, least=4, seam=1))
    assert relax_joined(task, Search()).bound == 10


def test_the_relaxation_knows_that_parts_are_few() -> None:
    """By hand: 6 pieces of 16 leave 6 x 4; two of 20 would fit there, but not in two parts each."""
    task = task_of(20, Want(16, 6), Want(20, 2, joins=1, least=4))
    assert relax_joined(task, Search()).bound >= 7


def test_the_exact_model_finds_the_better_plan_and_proves_it() -> None:
    """By hand: three of 70 take three bars of 110; 40 and 30 of the third fit beside the other two."""
    task = task_of(110, Want(70, 3, joins=1, least=30))
    known = JoinPlan.of(task, [(0, [(0, (70,), 0)])] * 3, [0])
    plan, bound = settle_joined(task, known, 1.0, Search())
    assert plan is not None
    check_plan(plan, task)
    assert (plan.cost, bound) == (2, 2)
    assert plan.seams >= 1
    none, bound = settle_joined(task, plan, 1.0, Search())
    assert (none, bound) == (None, 2)


def test_a_plan_of_one_bar_is_proven_where_no_bar_is_cheaper() -> None:
    """Nothing costs less than the cheaper of two bars."""
    task = JoinTask((StockBar(10, 2.0), StockBar(10, 3.0)), (Want(5, 1, joins=1, least=3),), 0)
    known = JoinPlan.of(task, [(0, [(0, (5,), 0)])], [0])
    assert settle_joined(task, known, 1.0, Search()) == (None, 2)


def test_large_orders_are_planned_in_blocks() -> None:
    """A hundred times the order: within one percent of the bound, and nothing lost."""
    wants = (
        Want(3000, 1000, joins=1, least=300, seam=10),
        Want(2000, 500, joins=2, least=200, seam=10),
        Want(1700, 770),
    )
    for times in (1, 100):
        many = tuple(
            Want(want.length, want.quantity * times, want.joins, want.least, want.seam) for want in wants
        )
        task = task_of(5400, *many, kerf=3)
        search = Search[JoinPlan](effort_limit=100_000_000)
        search_joined(task, search)
        assert search.draft is not None
        check_plan(search.draft, task)
        assert not any(search.draft.short)
        assert search.value <= 1.01 * search.bound


# --- As people ask ------------------------------------------------------------------------------------


def solved(problem: LinearProblem, effort: float = 20.0) -> Answer:
    """An answer that has passed the check."""
    answer = solve(problem, time_limit=None, effort=effort)
    verify(problem, answer)
    return answer


def borders(quantity: int, **joins: float) -> LinearProblem:
    """Borders of 3 m from strips of 5.4 m."""
    piece = Piece.linear("border", 3000, quantity, **joins)  # type: ignore[arg-type]
    return LinearProblem((Bar("strip", 5400),), (piece,))


def test_joins_save_bars() -> None:
    """By hand: one whole border a strip, so ten; 30 000 / 5400 = 5.6, so six with joins."""
    assert solved(borders(10)).value == 10
    answer = solved(borders(10, joins=1, least=300, seam=10))
    assert (answer.value, answer.bound) == (6, 6)
    parts = [p.part for layout in answer.layouts for p in layout.placements if p.part is not None]
    assert all(sum(part.lengths) == pytest.approx(3020) for part in parts)


def test_no_seam_is_sewn_where_none_saves_anything() -> None:
    """One border takes one strip, and two borders take two, joined or not."""
    for quantity in (1, 2):
        answer = solved(borders(quantity, joins=3, least=300, seam=10))
        assert answer.value == quantity
        assert all(p.part is None for layout in answer.layouts for p in layout.placements)


def test_a_border_longer_than_every_strip_is_joined() -> None:
    """By hand: 6000 and a seam of 2 x 10 are 6020: two strips, in two parts."""
    problem = LinearProblem(
        (Bar("strip", 5400),), (Piece.linear("long", 6000, joins=1, least=300, seam=10),), kerf=5
    )
    answer = solved(problem)
    assert (answer.value, answer.bound) == (2, 2)
    lengths = {p.part.lengths for layout in answer.layouts for p in layout.placements if p.part}
    assert len(lengths) == 1
    assert sum(lengths.pop()) == pytest.approx(6020)


def test_a_border_too_long_for_its_joins_is_missing_with_the_reason() -> None:
    """Two strips of 5400 are 10 800 at most."""
    problem = LinearProblem((Bar("strip", 5400),), (Piece.linear("long", 11000, joins=1, least=300),))
    answer = solved(problem)
    assert answer.missing["long"].reason.endswith("5600.0 mm too long, also with 1 join(s)")


def test_what_the_strips_do_not_yield_is_missing() -> None:
    """By hand: two strips of 5400 make three borders of 3020 at the most, a fourth would need 12 060."""
    piece = Piece.linear("border", 3000, 4, joins=1, least=300, seam=10)
    answer = solved(LinearProblem((Bar("strip", 5400, available=2),), (piece,)))
    assert answer.missing["border"].quantity == 1
    assert answer.value == 2


def test_a_part_tells_its_length() -> None:
    """The second of two."""
    assert Part((1200.0, 620.0), 1).length == 620.0
