"""Whatever is asked, the answer is valid, complete or honest about it, and never below the truth."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from nesting.errors import ProblemError
from nesting.packing import (
    Bar,
    Block,
    BlockProblem,
    LinearProblem,
    Piece,
    Problem,
    Report,
    RollProblem,
    Sheet,
    SheetProblem,
    Skins,
    Status,
    solve,
    verify,
)
from tests.packing.checks import checked
from tests.packing.exact import shortest_free
from tests.packing.strategies import (
    block_problems,
    linear_problems,
    rack_problems,
    roll_problems,
    sheet_problems,
)

some = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


@some
@given(roll_problems())
def test_rolls_are_valid_and_complete(problem: RollProblem) -> None:
    """Every roll problem whose pieces fit gets a complete plan, with any stages, gap and marker length."""
    assert not checked(problem).missing


@some
@given(sheet_problems())
def test_sheets_are_valid_and_complete(problem: SheetProblem) -> None:
    """Every sheet problem with enough sheets gets a complete plan."""
    assert not checked(problem).missing


@some
@given(block_problems())
def test_blocks_are_valid(problem: BlockProblem) -> None:
    """Every block problem gets a valid plan; only slabs thicker than every block are missing."""
    answer = checked(problem)
    thickest = max(block.height for block in problem.blocks) - 2 * problem.skins.z0
    for piece in problem.pieces:
        assert piece.thickness is not None
        if piece.thickness <= thickest:
            assert piece.key not in answer.missing
        else:
            assert "fits no block" in answer.missing[piece.key].reason


@some
@given(linear_problems())
def test_bars_are_valid_and_nothing_is_lost(problem: LinearProblem) -> None:
    """Bars may run out and pieces may be too long; both are said."""
    checked(problem)


@some
@given(linear_problems(joins=2))
def test_joined_bars_are_valid_and_nothing_is_lost(problem: LinearProblem) -> None:
    """The same where pieces may be joined from two or three parts."""
    checked(problem)


triangles = st.builds(
    lambda a, b, c: [(0.0, 0.0), (float(a), 0.0), (float(c), float(b))],
    st.integers(20, 90),
    st.integers(20, 90),
    st.integers(0, 90),
)


@some
@given(
    st.lists(st.tuples(triangles, st.integers(1, 4), st.booleans()), min_size=1, max_size=4),
    st.sampled_from([(0,), (0, 180), (0, 90, 180, 270), (0, 45, 17.5)]),
)
def test_outlines_are_valid_in_any_turn_and_their_packing_is_said_to_be_rough(shapes, turns) -> None:
    """Shaped pieces go by their boxes at present, and the answer says so."""
    pieces = [
        Piece.polygon(f"T{n}", points, quantity, turns, mirror)
        for n, (points, quantity, mirror) in enumerate(shapes)
    ]
    answer = checked(RollProblem(200, tuple(pieces)))
    assert "bounding rectangle" in " ".join(answer.notes)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.integers(6, 14),
    st.lists(st.tuples(st.integers(1, 9), st.integers(1, 6)), min_size=1, max_size=6),
    st.booleans(),
)
def test_no_roll_bound_exceeds_the_optimum_and_proved_answers_are_optimal(width, items, turning) -> None:
    """Bound <= optimum <= length on tiny strips, with CP-SAT as the judge."""
    turns = (0, 90) if turning else (0,)
    problem = RollProblem(
        width, tuple(Piece.rectangle(str(n), a, b, turns=turns) for n, (a, b) in enumerate(items))
    )
    answer = checked(problem, effort=3)
    optimum = shortest_free(width, items, turning)
    assert answer.bound <= optimum <= answer.length
    if answer.status is Status.OPTIMAL:
        assert answer.length == optimum


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    st.integers(6, 10),
    st.integers(6, 10),
    st.lists(st.tuples(st.integers(2, 6), st.integers(2, 6)), min_size=1, max_size=6),
)
def test_no_sheet_bound_exceeds_the_optimum(length, width, items) -> None:
    """The least number of sheets by CP-SAT, free placement, bounds every kind of cutting from below."""
    model = cp_model.CpModel()
    sheets = len(items)
    used = [model.new_bool_var("") for _ in range(sheets)]
    xs, ys = [], []
    for a, b in items:
        turned = model.new_bool_var("")
        along, across = model.new_int_var(0, 10, ""), model.new_int_var(0, 10, "")
        model.add(along == a + (b - a) * turned)
        model.add(across == b + (a - b) * turned)
        sheet = model.new_int_var(0, sheets - 1, "")
        x, x_end = model.new_int_var(0, length * sheets, ""), model.new_int_var(0, length * sheets, "")
        y, y_end = model.new_int_var(0, width, ""), model.new_int_var(0, width, "")
        # Sheets stand in a row; an item lies on one of them.
        model.add(x >= sheet * length)
        model.add(x_end <= (sheet + 1) * length)
        for number, flag in enumerate(used):
            here = model.new_bool_var("")
            model.add(sheet == number).only_enforce_if(here)
            model.add(sheet != number).only_enforce_if(here.negated())
            model.add_implication(here, flag)
        xs.append(model.new_interval_var(x, along, x_end, ""))
        ys.append(model.new_interval_var(y, across, y_end, ""))
    model.add_no_overlap_2d(xs, ys)
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) != cp_model.OPTIMAL:
        pytest.fail("the reference model was not solved")
    optimum = round(solver.objective_value)
    pieces = tuple(Piece.rectangle(str(n), a, b, turns=(0, 90)) for n, (a, b) in enumerate(items))
    for stages in (None, "any", 2, 3):
        answer = checked(SheetProblem((Sheet("S", length, width),), pieces, stages=stages))  # type: ignore[arg-type]
        assert answer.cost >= optimum
        if stages in (None, "any"):
            assert answer.bound <= optimum


def test_block_yield_agrees_with_the_example_worked_by_hand() -> None:
    """2100 x 2060 x 1080, trims 20/15/35/20, kerf 0.5: ten sheets of 100, two 910 x 1910 cores in each.

    floor(1025.5 / 100.5) = 10 sheets; 2 x 910 + 2 kerfs = 1821 of 2020: 20 cores a block (arithmetic).
    """
    block = Block("K", 2100, 2060, 1080)
    skins = Skins(15, 15, 20, 20, 20, 35)
    for order in ("slit first", "saw first", "best"):
        for cores, blocks in ((20, 1), (21, 2), (200, 10)):
            pieces = (Piece.slab("core", 1910, 910, 100, cores),)
            answer = checked(BlockProblem((block,), pieces, kerf=0.5, trim=skins, order=order))  # type: ignore[arg-type]
            assert answer.cost == blocks
            assert answer.status is Status.OPTIMAL


def test_yields_of_a_block_agree_with_the_example_worked_by_hand() -> None:
    """Cores alone use 74.4 % of the raw block, with rails 81.8 %, with thin pads 83.3 % (arithmetic).

    Of 2020 across, 2 x 910 and two kerfs leave 199: two rails of 90. Of 1025 up, ten sheets and ten kerfs
    leave 20: one sheet more. 20 x 0.91 x 1.91 x 0.1 + 20 x 0.09 x 1.91 x 0.1 + 2 x 0.91 x 1.91 x 0.02 m3
    of 2.1 x 2.06 x 1.08.
    """
    block = Block("K", 2100, 2060, 1080)
    core = Piece.slab("core", 1910, 910, 100, 20)
    rail = Piece.slab("rail", 1910, 90, 100, 20)
    pad = Piece.slab("pad", 1910, 910, 20, 2)
    for pieces, share in (((core,), 74.4), ((core, rail), 81.8), ((core, rail, pad), 83.3)):
        problem = BlockProblem((block,), pieces, kerf=0.5, trim=Skins(15, 15, 20, 20, 20, 35))
        answer = checked(problem)
        assert (answer.cost, answer.status) == (1, Status.OPTIMAL)
        good = sum(p.length * p.width * (p.thickness or 0) * p.quantity for p in pieces)
        assert round(100 * good / (answer.cost * 2100 * 2060 * 1080), 1) == share


def test_border_strips_across_a_roll_agree_with_the_example_worked_by_hand() -> None:
    """Strips 260 high across 2150 usable: floor(2150 / 260) = 8 side by side, left 70 (arithmetic)."""
    problem = RollProblem(2150, (Piece.rectangle("border", 1785, 260, 16, turns=(0,)),), stages=2)
    answer = checked(problem)
    assert answer.length == 2 * 1785
    assert answer.status is Status.OPTIMAL


def test_ten_times_the_quantity_is_hardly_more_work() -> None:
    """Patterns repeat, so the search works on kinds, not on copies."""
    pieces = [("TP", 2072, 1564, 12), ("BO", 1785, 260, 24), ("TQ", 1942, 1390, 9), ("BQ", 1655, 235, 18)]
    answers = [
        checked(
            RollProblem(
                2150,
                tuple(Piece.rectangle(k, a, b, q * times, (0, 180)) for k, a, b, q in pieces),
                stages=3,
                max_marker_length=12_000,
            ),
            effort=50,
        )
        for times in (10, 100)
    ]
    assert answers[1].length <= 10 * answers[0].length
    assert answers[1].effort <= 1.5 * max(answers[0].effort, 1)
    assert len(answers[1].layouts) <= 2 * len(answers[0].layouts) + 4


def test_markers_keep_their_longest_length() -> None:
    """No marker is longer than the table, and the lengths add up over repeats."""
    problem = RollProblem(2000, (Piece.rectangle("A", 1900, 900, 31, (0,)),), max_marker_length=6000)
    answer = checked(problem)
    assert max(layout.length for layout in answer.layouts) <= 6000
    assert answer.length == 16 * 1900


def test_what_fits_nowhere_is_missing_with_its_reason() -> None:
    """Too wide, too long, too large, too thick: each said by how much; the rest is cut."""
    good = Piece.rectangle("good", 500, 500, 3)
    wide = Piece.rectangle("wide", 500, 2200, 2, turns=(0, 180))
    long = Piece.rectangle("long", 7000, 100, 1, turns=(0,))
    roll = checked(RollProblem(2150, (good, wide, long), max_marker_length=6000))
    assert "50.0 mm too wide" in roll.missing["wide"].reason
    assert "1000.0 mm too long" in roll.missing["long"].reason
    assert roll.status is Status.INCOMPLETE
    sheet = checked(SheetProblem((Sheet("S", 1000, 1000),), (good, wide), trim=10))
    assert "fits no sheet" in sheet.missing["wide"].reason
    bars = checked(LinearProblem((Bar("B", 400),), (Piece.linear("a", 500), Piece.linear("b", 400))))
    assert set(bars.missing) == {"a"}


def test_stock_that_runs_out_leaves_pieces_missing() -> None:
    """Limited sheets are used up, and what is left over is said."""
    problem = SheetProblem((Sheet("S", 1000, 1000, available=2),), (Piece.rectangle("A", 600, 600, 5),))
    answer = checked(problem)
    assert answer.missing["A"].quantity == 3
    assert "used up" in answer.missing["A"].reason
    assert sum(layout.repeats for layout in answer.layouts) == 2


@pytest.mark.parametrize("seed", [0, 1, 7])
def test_the_same_seed_and_effort_give_the_same_answer(seed: int) -> None:
    """No clock, no worker count and no earlier run has a say."""
    pieces = tuple(Piece.rectangle(str(n), 300 + 37 * n % 500, 200 + 53 * n % 300, 3) for n in range(12))
    problem = RollProblem(1500, pieces, max_marker_length=5000)
    one = solve(problem, time_limit=None, effort=8, seed=seed)
    solve(problem, time_limit=None, effort=2, seed=seed + 1)
    assert solve(problem, time_limit=None, effort=8, seed=seed, workers=2) == one


def test_an_interrupt_returns_the_best_so_far() -> None:
    """Ctrl-C from a progress callback ends the search, not the call."""

    def stop(report: Report) -> None:
        if report.value < float("inf"):
            raise KeyboardInterrupt

    pieces = tuple(Piece.rectangle(str(n), 13 + 7 * n % 50, 11 + 5 * n % 40, 2) for n in range(40))
    problem = RollProblem(97, pieces)
    answer = solve(problem, time_limit=60, progress=stop)
    verify(problem, answer)
    assert answer.stopped == "interrupted"
    assert not answer.missing


def test_a_budget_that_makes_no_sense_is_refused() -> None:
    """A search needs an end, and a seed."""
    problem = RollProblem(10, (Piece.rectangle("A", 1, 1),))
    with pytest.raises(ProblemError, match="may never end"):
        solve(problem, time_limit=None)
    with pytest.raises(ProblemError, match="effort must be 0 or more"):
        solve(problem, effort=float("nan"))
    with pytest.raises(ProblemError, match="workers must be a whole number"):
        solve(problem, workers=0)


def test_gaps_are_kept_between_pieces_and_not_at_the_edge() -> None:
    """Three strips of 100 with gaps of 5 need 310 across, not 320."""
    pieces = (Piece.rectangle("A", 500, 100, 3, (0,)),)
    for stages in (None, 2, 3):
        exact = checked(RollProblem(310, pieces, gap=5, stages=stages))  # type: ignore[arg-type]
        assert exact.length == 500
        (layout,) = exact.layouts
        ys = sorted(placement.y for placement in layout.placements)
        assert all(b - a == pytest.approx(105) for a, b in pairwise(ys))
        narrow = checked(RollProblem(309.9, pieces, gap=5, stages=stages))  # type: ignore[arg-type]
        assert narrow.length > 500


def test_pieces_alike_under_different_names_keep_their_numbers() -> None:
    """Like pieces are merged for the search and handed back, also over repeats."""
    pieces = tuple(Piece.rectangle(f"order {n}", 400, 300, n + 1) for n in range(7))
    answer = checked(SheetProblem((Sheet("S", 1250, 1250),), pieces, kerf=3))
    assert answer.status is Status.OPTIMAL
    assert len({p.key for layout in answer.layouts for p in layout.placements}) == 7
    assert not any(a == b for a, b in combinations(answer.layouts, 2))


def test_sizes_a_hair_over_the_grid_never_give_a_rejected_layout() -> None:
    """What rounding forgives is less than what the verifier forgives: two such pieces do not share 200 mm."""
    for excess in (4e-8, 4e-7, 6e-7, 1e-6, 4e-6, 1e-5):
        pieces = (Piece.rectangle("A", 50, 100 + excess, 2, turns=(0,)),)
        assert not checked(RollProblem(200, pieces)).missing


ANY = st.one_of(
    roll_problems(), rack_problems(), sheet_problems(), block_problems(), linear_problems(joins=2)
)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(ANY, st.integers(0, 3))
def test_with_an_effort_every_engine_answers_the_same_again(problem: Problem, seed: int) -> None:
    """Two runs with a budget of work alone, also with another number of workers, give one answer."""
    one = solve(problem, time_limit=None, effort=4, seed=seed)
    assert solve(problem, time_limit=None, effort=4, seed=seed, workers=2) == one
