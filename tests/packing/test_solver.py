"""Budgets, interrupts, determinism, and rough problems that no engine may stumble over."""

from __future__ import annotations

import math
import random
from collections import Counter
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import ProblemError
from nesting.packing import (
    Answer,
    Block,
    BlockProblem,
    Missing,
    Piece,
    Problem,
    Report,
    RollProblem,
    Sheet,
    SheetProblem,
    Status,
    solve,
    verify,
)
from nesting.packing import search as search_module
from nesting.packing.grid import Box, Grid, Kinds, Ledger, Pose, boxes_of, mm
from nesting.packing.search import Search, Stop

few = settings(max_examples=25, deadline=None, derandomize=True)


def checked(problem: Problem, **budget: Any) -> Answer:
    """Solve, verify, and see that no copy is lost."""
    answer = solve(problem, **({"time_limit": None, "effort": 1} | budget))
    verify(problem, answer)
    placed: Counter[str] = Counter()
    for layout in answer.layouts:
        for placement in layout.placements:
            placed[placement.key] += layout.repeats
    for piece in problem.pieces:
        assert placed[piece.key] + answer.missing.get(piece.key, Missing(0, "")).quantity == piece.quantity
    return answer


# --- Rough problems -----------------------------------------------------------------------------------

KEYS = ("Matratze 90×200 é", "☃", " ", "a/b\\c", "<&>\"'", "line\nbreak", "0")
QUANTITIES = (1, 1, 2, 3, 7, 40, 1000, 100_000)
TURNS = ((0,), (90,), (0, 180), (0, 90), (0, 90, 180, 270), (-90, 360))


def rough_size(rng: random.Random, largest: float) -> float:
    """Whole, tenths, and thousandths of a millimetre."""
    return max(0.3, round(rng.uniform(0.3, largest), rng.choice((0, 0, 1, 3))))


def rough_piece(rng: random.Random, number: int, largest: float) -> Piece:
    key, quantity = f"{rng.choice(KEYS)}{number}", rng.choice(QUANTITIES)
    if rng.random() < 0.25:
        corners = rng.choice((3, 4, 6, 40))
        radii = [rng.uniform(0.3, 1) * largest / 2 for _ in range(corners)]
        points = [
            (radius * math.cos(math.tau * k / corners), radius * math.sin(math.tau * k / corners))
            for k, radius in enumerate(radii)
        ]
        turns = rng.choice(((0,), (0, 180), (0, 17.3), tuple(range(0, 360, 10))))
        return Piece.polygon(key, points, quantity, turns, mirror=rng.random() < 0.3)
    sizes = rough_size(rng, largest), rough_size(rng, largest)
    return Piece.rectangle(key, *sizes, quantity, rng.choice(TURNS))


def rough_problem(seed: int) -> Problem:
    """Anything a person may ask for: odd sizes, gaps as large as pieces, trims beyond the sheet, no stock."""
    rng = random.Random(seed)
    largest = rng.choice((5, 40, 300, 1500))
    gap = rng.choice((0, 0, 0.1, 3, 0.25, largest))
    pieces = tuple(rough_piece(rng, number, largest) for number in range(rng.choice((1, 1, 2, 3, 5, 9))))
    limits = (None, None, 0, 1, 3, 20)
    family = rng.choice(("roll", "sheet", "block"))
    if family == "roll":
        return RollProblem(
            width=rng.choice((largest, largest * 2.2, 2150.3, pieces[0].width)),
            pieces=pieces,
            gap=gap,
            stages=rng.choice((None, None, 2, 3, "any")),
            max_marker_length=rng.choice(
                (None, pieces[0].length, max(max(p.length, p.width) for p in pieces), largest * 40)
            ),
        )
    if family == "sheet":
        return SheetProblem(
            sheets=tuple(
                Sheet(
                    f"S{number}",
                    rng.choice((largest, largest * rng.uniform(0.5, 4), pieces[0].length)),
                    rng.choice((largest * 1.7, largest * rng.uniform(0.5, 4), pieces[0].width)),
                    rng.choice((1, 1, 2.5, 0.3)),
                    rng.choice(limits),
                )
                for number in range(rng.choice((1, 1, 2, 3)))
            ),
            pieces=pieces,
            kerf=gap,
            trim=rng.choice((0, 0, 0.05, largest / 10, largest * 3)),
            stages=rng.choice((None, 2, 3, "any")),
        )
    slabs = tuple(
        Piece.slab(p.key, p.length, p.width, rough_size(rng, largest / 4 + 1), p.quantity, rng.choice(TURNS))
        for p in pieces
    )
    return BlockProblem(
        blocks=tuple(
            Block(
                f"B{number}",
                largest * rng.uniform(0.7, 3),
                largest * rng.uniform(0.7, 3),
                largest * rng.uniform(0.5, 2),
                rng.choice((1, 1, 2.2)),
                rng.choice(limits),
            )
            for number in range(rng.choice((1, 1, 2)))
        ),
        pieces=slabs,
        kerf=rng.choice((0, 0, 0.5, 2, largest / 3)),
        trim=rng.choice((0, 0, 0.3, largest / 20, largest)),
        order=rng.choice(("best", "slit first", "saw first")),
    )


@pytest.mark.parametrize("seed", range(60))
def test_whatever_is_asked_is_answered_validly(seed: int) -> None:
    """Seeded rough problems of every family: verified, nothing lost, every missing piece explained."""
    problem = rough_problem(seed)
    answer = checked(problem)
    assert all(missing.reason for missing in answer.missing.values())
    assert not any("stopped" in missing.reason for missing in answer.missing.values())


@pytest.mark.parametrize("seed", range(100, 120))
def test_an_interrupt_at_any_report_leaves_a_valid_answer(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every piece of work reports here, and one of the first hundreds of reports interrupts."""
    monkeypatch.setattr(search_module, "REPORT_EVERY", 0.0)
    problem = rough_problem(seed)
    left = random.Random(seed).choice((1, 2, 3, 5, 10, 30, 100, 300))

    def interrupt(report: Report) -> None:
        nonlocal left
        left -= 1
        if left <= 0:
            raise KeyboardInterrupt

    answer = checked(problem, progress=interrupt)
    assert (answer.stopped == "interrupted") == (left <= 0)


@pytest.mark.parametrize("seed", range(200, 215))
def test_the_same_effort_and_seed_give_the_same_answer(seed: int) -> None:
    """Also for rough problems of every family; nothing but the figures has a say."""
    problem = rough_problem(seed)
    once = checked(problem, seed=seed)
    assert checked(problem, seed=seed) == once


@pytest.mark.parametrize("seed", range(300, 315))
def test_without_time_or_effort_there_is_still_a_complete_plan(seed: int) -> None:
    """The first plan is made in any case; only stock may lack."""
    problem = rough_problem(seed)
    for budget in ({"time_limit": 0}, {"effort": 0}):
        answer = checked(problem, **budget)  # type: ignore[arg-type]
        for missing in answer.missing.values():
            assert "used up" in missing.reason or "fits no" in missing.reason or "needs" in missing.reason


# --- Budgets ------------------------------------------------------------------------------------------

HARD = RollProblem(97, tuple(Piece.rectangle(str(n), 13 + 7 * n % 50, 11 + 5 * n % 40, 2) for n in range(40)))


def test_an_answer_says_what_ended_the_search() -> None:
    """Proved, effort, time: each where it happens."""
    easy = RollProblem(10, (Piece.rectangle("A", 5, 10, 3, (0,)),))
    assert solve(easy).stopped == "proved"
    assert solve(easy).status is Status.OPTIMAL
    assert solve(HARD, time_limit=None, effort=2).stopped == "effort"
    assert solve(HARD, time_limit=0.05, effort=None).stopped == "time"


def test_more_effort_is_no_worse_and_is_not_overdrawn_by_much() -> None:
    """Effort is a ceiling on counted work, checked between pieces of work."""
    values = []
    for effort in (0.5, 2, 8):
        answer = solve(HARD, time_limit=None, effort=effort)
        assert answer.effort <= effort + 3
        values.append(answer.value)
    assert values == sorted(values, reverse=True)


def test_reports_are_in_millimetres_and_improve() -> None:
    """Values fall, bounds rise, effort rises; the last report is no better than the answer."""
    reports: list[Report] = []
    answer = solve(HARD, time_limit=None, effort=30, progress=reports.append)
    assert reports
    known = [report for report in reports if report.value < math.inf]
    assert [r.value for r in known] == sorted((r.value for r in known), reverse=True)
    assert [r.bound for r in reports] == sorted(r.bound for r in reports)
    assert [r.effort for r in reports] == sorted(r.effort for r in reports)
    assert all(answer.value <= report.value for report in reports)


@pytest.mark.parametrize(
    ("budget", "words"),
    [
        ({"time_limit": None}, "Give a time_limit, an effort, or both"),
        ({"time_limit": -1}, "time_limit must be 0 or more, got -1"),
        ({"time_limit": math.nan}, "time_limit must be 0 or more, got nan"),
        ({"effort": math.inf}, "effort must be 0 or more, got inf"),
        ({"seed": 1.5}, "seed must be a whole number, 0 or more, got 1.5"),
        ({"seed": -1}, "seed must be a whole number, 0 or more, got -1"),
        ({"workers": 0}, "workers must be a whole number, 1 or more, got 0"),
    ],
)
def test_a_budget_without_sense_is_refused(budget: dict[str, Any], words: str) -> None:
    """One clear message, before anything is searched."""
    with pytest.raises(ProblemError, match=words):
        solve(HARD, **budget)


def test_something_else_than_a_problem_is_refused() -> None:
    """The message says what is needed."""
    with pytest.raises(ProblemError, match="A roll, rack, sheet, block or linear problem is needed"):
        solve("a roll, please")  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", [0, 1, 2**31, 2**64, 10**30])
def test_any_seed_starts_a_search(seed: int) -> None:
    """Also the largest: the generator's state is never 0."""
    assert Search(seed=seed).random[0] != 0
    assert solve(HARD, time_limit=None, effort=1, seed=seed).seed == seed


# --- Search -------------------------------------------------------------------------------------------


def test_a_draft_that_leaves_less_out_is_better_at_any_cost() -> None:
    """First copies left out, then value; equal is not better."""
    search: Search[str] = Search()
    assert search.offer(10, "first", short=2)
    assert not search.offer(10, "same", short=2)
    assert search.offer(99, "complete", short=0)
    assert not search.offer(1, "cheap", short=1)
    assert (search.draft, search.value) == ("complete", 99)
    search.prove(99)
    assert search.proved


def test_a_search_stops_only_once_there_is_a_plan() -> None:
    """Without a plan there is nothing to fall back on; a plan of the parent will do."""
    search: Search[str] = Search(effort_limit=10)
    search.spend_or_stop(20)
    child = search.child()
    child.spend_or_stop(5)
    search.offer(1, "plan")
    with pytest.raises(Stop):
        child.spend_or_stop(0)


def test_children_share_what_is_left_and_hand_drafts_up() -> None:
    """A child gets its share of the effort; its work counts for the parent, too."""
    search: Search[str] = Search(effort_limit=1000)
    search.spend(200)
    heard: list[tuple[float, str]] = []
    child = search.child(0.5, lambda value, draft: heard.append((value, draft)))
    assert child.effort_left == 400
    child.spend(100)
    assert (child.effort_left, search.effort_left) == (300, 700)
    child.offer(7, "draft")
    child.offer(8, "worse")
    assert heard == [(7, "draft")]
    assert search.draft is None


# --- Grid ---------------------------------------------------------------------------------------------


def test_pieces_are_rounded_up_to_tenths() -> None:
    """100.01 takes 100.1; float noise takes nothing."""
    assert boxes_of(Piece.rectangle("a", 100.01, 0.1 + 0.2, turns=(0,))) == {Box(1001, 3): Pose(0.0)}
    assert mm(1001) == 100.1


def test_turns_that_look_alike_are_one_box() -> None:
    """Half turns of a rectangle change nothing; a square has one box in all turns."""
    assert list(boxes_of(Piece.rectangle("a", 4, 3))) == [Box(40, 30), Box(30, 40)]
    assert list(boxes_of(Piece.rectangle("a", 3, 3))) == [Box(30, 30)]
    flipped = Piece.polygon("p", [(0, 0), (4, 0), (0, 3)], turns=(0, 180), mirror=True)
    assert list(boxes_of(flipped)) == [Box(40, 30)]


@few
@given(
    st.lists(st.integers(1, 9), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(1, 4), st.integers(1, 6)), max_size=4),
)
def test_copies_are_handed_back_to_their_keys(quantities: list[int], layouts: list[tuple[int, int]]) -> None:
    """Like pieces are merged; however the copies are laid out, each key gets its own number back."""
    kinds = Kinds.of(Piece.rectangle(f"k{n}", 30, 20, quantity) for n, quantity in enumerate(quantities))
    assert len(kinds) == 1
    total = sum(quantities)
    assert kinds.quantities.tolist() == [total]
    ledger = Ledger(kinds)
    handed: Counter[str] = Counter()
    for copies, repeats in layouts:
        if copies * repeats > total - handed.total():
            break
        made = list(ledger.assign([(0, 0, x, 0, 0) for x in range(copies)], repeats))
        assert sum(times for _, times in made) == repeats
        for placements, times in made:
            assert len(placements) == copies
            handed.update({key: n * times for key, n in Counter(p.key for p in placements).items()})
    for key, left in ledger.left_over().items():
        handed[key] += left
    assert handed == Counter({f"k{n}": quantity for n, quantity in enumerate(quantities)})


def test_a_merged_kind_is_as_small_as_its_smallest_outline() -> None:
    """A triangle in the same box halves the area that a bound may count on, and is no rectangle."""
    box = Piece.rectangle("box", 4, 3, turns=(0, 180))
    triangle = Piece.polygon("triangle", [(0, 0), (4, 0), (0, 3)], 2)
    (kind,) = Kinds.of([box, triangle])
    assert (kind.quantity, kind.area, kind.solid) == (3, 600, False)
    grid = Grid(Kinds.of([box, triangle]))
    assert grid.start.tolist() == [0, 1]
    assert grid.area.dtype == np.int64
