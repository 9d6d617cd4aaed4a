"""Racks: which piece from which roll, rests used up, flaws kept clear, and no bound above the truth."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from nesting.packing import Flaw, Piece, RackProblem, Roll, Status
from nesting.packing.grid import Kinds
from nesting.packing.rack import search_rack
from nesting.packing.search import Search
from tests.packing.checks import checked
from tests.packing.strategies import rack_problems

some = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


@some
@given(rack_problems())
def test_racks_are_valid_and_nothing_is_lost(problem: RackProblem) -> None:
    """Every rack gets a valid plan; where a roll without end takes all pieces it is complete."""
    answer = checked(problem)
    widest = max((roll.width for roll in problem.rolls if roll.length is None), default=0.0)
    if all(max(piece.length, piece.width) <= widest for piece in problem.pieces):
        assert not answer.missing


# --- Against the truth --------------------------------------------------------------------------------


def cheapest_rack(
    rolls: list[tuple[int, int | None, int]], items: list[tuple[int, int]], turning: bool
) -> float | None:
    """Least cost of one roll of each kind by CP-SAT, free placement; None when not all can be placed.

    Rolls are width, length and cost a metre; every roll is used in one marker from its beginning.
    """
    model = cp_model.CpModel()
    ample = sum(max(item) for item in items)
    ends = [model.new_int_var(0, ample if length is None else length, "") for _, length, _ in rolls]
    xs: list[list[Any]] = [[] for _ in rolls]
    ys: list[list[Any]] = [[] for _ in rolls]
    for a, b in items:
        turned = model.new_bool_var("") if turning else model.new_constant(0)
        along, across = model.new_int_var(0, ample, ""), model.new_int_var(0, ample, "")
        model.add(along == a + (b - a) * turned)
        model.add(across == b + (a - b) * turned)
        here = [model.new_bool_var("") for _ in rolls]
        model.add_exactly_one(here)
        for at, (width, _, _) in enumerate(rolls):
            x, x_end = model.new_int_var(0, ample, ""), model.new_int_var(0, ample, "")
            y, y_end = model.new_int_var(0, width, ""), model.new_int_var(0, width, "")
            xs[at].append(model.new_optional_interval_var(x, along, x_end, here[at], ""))
            ys[at].append(model.new_optional_interval_var(y, across, y_end, here[at], ""))
            model.add(x_end <= ends[at]).only_enforce_if(here[at])
    for at in range(len(rolls)):
        model.add_no_overlap_2d(xs[at], ys[at])
    model.minimize(sum(cost * end for end, (_, _, cost) in zip(ends, rolls, strict=True)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), "the reference model was not solved"
    return solver.objective_value / 1000.0 if status == cp_model.OPTIMAL else None


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(5, 12), st.none() | st.integers(4, 15), st.integers(1, 4)),
        min_size=1,
        max_size=2,
    ),
    st.lists(st.tuples(st.integers(1, 8), st.integers(1, 5)), min_size=1, max_size=5),
    st.booleans(),
)
def test_no_bound_exceeds_the_optimum_and_proved_plans_are_optimal(
    rolls: list[tuple[int, int | None, int]], items: list[tuple[int, int]], turning: bool
) -> None:
    """Bound <= optimum <= cost on tiny racks, with CP-SAT as the judge; a proved plan is the optimum."""
    optimum = cheapest_rack(rolls, items, turning)
    turns = (0, 90) if turning else (0,)
    pieces = tuple(Piece.rectangle(str(n), a, b, turns=turns) for n, (a, b) in enumerate(items))
    offer = tuple(
        Roll(str(n), width, length, cost, None if length is None else 1)
        for n, (width, length, cost) in enumerate(rolls)
    )
    for stages in (None, 2, 3):
        answer = checked(RackProblem(offer, pieces, stages=stages), effort=3)
        if answer.missing:
            continue
        assert optimum is not None, "a plan was found where there is none"
        assert answer.cost >= optimum - 1e-6
        if stages is None:
            assert answer.bound <= optimum + 1e-6
            if answer.status is Status.OPTIMAL:
                assert answer.cost == pytest.approx(optimum, abs=1e-5)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.integers(5, 9),
    st.integers(0, 1),
    st.lists(st.tuples(st.integers(1, 6), st.integers(1, 5)), min_size=1, max_size=5),
    st.sampled_from([2, 3]),
)
def test_no_bound_exceeds_the_optimum_of_staged_cutting(
    exact_roll: Any, width: int, gap: int, items: list[tuple[int, int]], stages: Any
) -> None:
    """One roll without end, by trying everything: with two stages the bound is that of the sections."""
    pieces = tuple(Piece.rectangle(str(n), a, b, turns=(0,)) for n, (a, b) in enumerate(items))
    if any(b > width for _, b in items):
        return
    optimum = exact_roll([[item] for item in items], width, gap, stages)
    answer = checked(RackProblem((Roll("r", width, cost=1000.0),), pieces, gap, stages), effort=3)
    # Every marker is cut for itself and saves a gap to the next one.
    saved = gap * (sum(layout.repeats for layout in answer.layouts) - 1)
    assert answer.bound <= optimum + 1e-6
    assert answer.cost >= optimum - saved - 1e-6


# --- Which roll ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("stages", [None, 2, 3, "any"])
def test_short_rests_are_used_up_first_where_it_costs_nothing(stages: Any) -> None:
    """Hand-worked: ten strips of 500; a rest of 1200 takes two, one of 2600 five, the new roll the others."""
    rolls = (
        Roll("new", 2000, cost=1.0),
        Roll("long", 2000, 2600, 1.0, 1),
        Roll("short", 2000, 1200, 1.0, 1),
    )
    answer = checked(RackProblem(rolls, (Piece.rectangle("a", 500, 2000, 10, (0,)),), stages=stages), 10)
    used: Counter[str] = Counter()
    for layout in answer.layouts:
        used[layout.stock_key] += len(layout.placements) * layout.repeats
    assert used == {"new": 3, "long": 5, "short": 2}
    assert (answer.cost, answer.status) == (5.0, Status.OPTIMAL)


@pytest.mark.parametrize("stages", [None, 2, 3])
def test_pieces_go_to_the_width_that_they_fill(stages: Any) -> None:
    """Hand-worked: 900 wide on a roll of 900, 1400 wide on one of 1400: no waste."""
    rolls = (Roll("wide", 1400, cost=1.4), Roll("narrow", 900, cost=0.9))
    pieces = (Piece.rectangle("a", 700, 1400, 4, (0,)), Piece.rectangle("b", 600, 900, 5, (0,)))
    answer = checked(RackProblem(rolls, pieces, stages=stages), 5)
    assert answer.cost == pytest.approx(2.8 * 1.4 + 3.0 * 0.9)
    assert answer.status is Status.OPTIMAL


@pytest.mark.parametrize("stages", [None, 2, 3])
def test_stock_that_is_short_leaves_the_small_pieces(stages: Any) -> None:
    """Two of 1000 and three of 300 on one roll of 2000: as many as can be, and of two plans the larger.

    Four fit when a large one is left (1000 + 3 x 300), two when no large one is.
    """
    rolls = (Roll("r", 500, 2000, 1.0, 1),)
    pieces = (Piece.rectangle("L", 1000, 500, 2, (0,)), Piece.rectangle("s", 300, 500, 3, (0,)))
    answer = checked(RackProblem(rolls, pieces, stages=stages), 5)
    assert {key: missing.quantity for key, missing in answer.missing.items()} == {"L": 1}
    assert "stock on hand" in answer.missing["L"].reason
    assert answer.status is Status.INCOMPLETE
    alike = (Piece.rectangle("L", 1000, 500, 2, (0,)), Piece.rectangle("s", 990, 500, 1, (0,)))
    answer = checked(RackProblem(rolls, alike, stages=stages), 5)
    assert set(answer.missing) == {"s"}


def test_no_roll_left_is_told_from_too_large() -> None:
    """Of a roll none is left: the stock is used up. A piece that no roll takes: no room."""
    rolls = (Roll("r", 500, 2000, 1.0, 0),)
    pieces = (
        Piece.rectangle("fits", 1000, 500),
        Piece.rectangle("wide", 600, 501, turns=(0,)),
        Piece.rectangle("long", 2001, 400, turns=(0,)),
    )
    answer = checked(RackProblem(rolls, pieces))
    assert "stock on hand" in answer.missing["fits"].reason
    assert "501.0 mm across the roll, the widest roll is 500.0 mm" in answer.missing["wide"].reason
    assert "finds no room of 2001.0 x 400.0 mm" in answer.missing["long"].reason
    long = checked(RackProblem((Roll("r", 500),), (Piece.rectangle("a", 900, 9),), max_marker_length=800))
    assert "the longest marker is 800.0 mm: 100.0 mm too long" in long.missing["a"].reason


# --- Flaws --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stages", [None, 2, 3, "any"])
def test_a_narrow_flaw_costs_only_its_band(stages: Any) -> None:
    """Hand-worked: 3000 x 1000 with a flaw 100 wide all along the middle takes six of 1000 x 450."""
    flaw = Flaw(0, 3000, 450, 550)
    problem = RackProblem(
        (Roll("r", 1000, 3000, 1.0, 1, (flaw,)),), (Piece.rectangle("a", 1000, 450, 6, (0,)),), stages=stages
    )
    answer = checked(problem)
    assert not answer.missing
    assert answer.cost == pytest.approx(3.0)


@pytest.mark.parametrize("stages", [None, 2, 3])
def test_a_flaw_across_divides_a_roll(stages: Any) -> None:
    """Hand-worked: of 3000 with 1200 to 1250 gone, 1200 and 1750 are left: two and three of 550."""
    rolls = (Roll("r", 500, 3000, 1.0, 1, (Flaw(1200, 1250),)),)
    answer = checked(RackProblem(rolls, (Piece.rectangle("a", 550, 500, 6, (0,)),), stages=stages))
    assert answer.missing["a"].quantity == 1
    assert sorted(layout.start for layout in answer.layouts)[-1] == 1250.0


def test_fillings_of_many_rolls_stay_a_short_list() -> None:
    """A thousand flawed rolls cut alike are told by number and count, not one by one."""
    rolls = (Roll("r", 500, 3000, 1.0, 1000, (Flaw(1200, 1250),)),)
    answer = checked(RackProblem(rolls, (Piece.rectangle("a", 550, 500, 5000, (0,)),)), 5)
    assert not answer.missing
    assert len(answer.layouts) <= 4
    assert {layout.stock_count for layout in answer.layouts} == {1000}


# --- Budgets ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stages", [None, 3])
def test_the_same_effort_gives_the_same_plan(stages: Any) -> None:
    """Problem, effort and seed decide; and there is a plan with no effort at all."""
    rolls = (Roll("a", 900, cost=2.0), Roll("b", 700, 2500, 1.0, 2, (Flaw(900, 950, 300, 350),)))
    pieces = tuple(Piece.rectangle(str(n), 110 + 70 * n, 90 + 55 * n, 4, (0, 90)) for n in range(6))
    problem = RackProblem(rolls, pieces, 5, stages)
    first, second = checked(problem, 4, seed=3), checked(problem, 4, seed=3)
    assert first == second
    quick = checked(problem, 0)
    assert not quick.missing
    assert quick.cost >= first.cost


def test_more_of_the_same_takes_hardly_more_work() -> None:
    """Ten times the quantity: the work of the search (whose end is not the budget) hardly grows."""
    rolls = (Roll("a", 900, cost=2.0), Roll("b", 700, 2500, 1.0))
    work = []
    for times in (10, 100):
        pieces = tuple(Piece.rectangle(str(n), 110 + 70 * n, 90 + 55 * n, 4 * times) for n in range(3))
        search: Search[Any] = Search(effort_limit=10**8)
        search_rack(RackProblem(rolls, pieces, 5, 2), Kinds.of(pieces), search)
        work.append(search.effort)
    assert work[1] <= 1.5 * work[0]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.integers(20, 200),
    st.integers(20, 200),
    st.lists(
        st.tuples(
            st.integers(0, 180), st.integers(1, 60), st.integers(0, 180), st.none() | st.integers(1, 60)
        ),
        max_size=3,
    ),
    st.integers(5, 120),
    st.integers(5, 120),
    st.sampled_from([(0.0, None), (0.0, 2), (2.0, 3), (2.0, None)]),
)
def test_a_piece_that_is_said_to_fit_is_placed(
    length: int,
    width: int,
    flaws: list[tuple[int, int, int, int | None]],
    dx: int,
    dy: int,
    rules: tuple[float, Any],
) -> None:
    """On one flawed roll a single piece is placed, or it is said that there is no room for it."""
    found = tuple(Flaw(x, x + dx, y, None if dy is None else y + dy) for x, dx, y, dy in flaws)
    roll = Roll("r", width, length, 1.0, 1, found)
    answer = checked(RackProblem((roll,), (Piece.rectangle("a", dx, dy),), rules[0], rules[1]))
    for missing in answer.missing.values():
        assert "stock on hand" not in missing.reason


@pytest.mark.parametrize("stages", [None, 2, 3])
def test_rests_shorter_than_a_piece_do_not_shorten_the_roll(stages: Any) -> None:
    """Rests as good as the new roll, but of 300 and 700: pieces of 900 still come from the new one."""
    rolls = (Roll("new", 1000), Roll("a", 1000, 300, 1.0, 2), Roll("b", 1000, 700, 1.0, 1))
    pieces = (Piece.rectangle("l", 900, 1000, 2, (0,)), Piece.rectangle("s", 250, 1000, 5, (0,)))
    answer = checked(RackProblem(rolls, pieces, stages=stages), 3)
    assert not answer.missing
    assert answer.cost == pytest.approx(2 * 0.9 + 5 * 0.25)
    held = Counter({layout.stock_key: 0 for layout in answer.layouts})
    for layout in answer.layouts:
        held[layout.stock_key] += len(layout.placements) * layout.repeats
    assert held == {"new": 3, "a": 2, "b": 2}


@pytest.mark.parametrize("stages", [None, 2, 3])
@pytest.mark.parametrize("end_loss", [0.0, 15.0])
def test_rolls_there_are_plenty_of_are_laid_out_to_their_ends(stages: Any, end_loss: float) -> None:
    """Many pieces on many rolls of 6000: planned as if without end, and then laid on them."""
    pieces = tuple(Piece.rectangle(str(n), 310 + 170 * n, 290 + 90 * n, 12, (0, 90)) for n in range(6))
    problem = RackProblem(
        (Roll("r", 2150, 6000, 1.0, 60), Roll("s", 1400, 6000, 0.9)), pieces, 5, stages, 4000, end_loss
    )
    answer = checked(problem, 6)
    assert not answer.missing
    assert answer.gap < 0.25
