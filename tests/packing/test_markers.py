"""Joining chunks to markers: nothing is lost, and few are laid, few are different, as their costs ask."""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LayoutError, ProblemError
from nesting.packing import Answer, Layout, Piece, Placement, Report, RollProblem, Status, solve, verify
from nesting.packing.grid import Kinds
from nesting.packing.problem import GRID
from nesting.packing.roll import markers
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.roll.markers import Markers, group
from nesting.packing.search import Search

PIECES = (Piece.rectangle("a", 100, 100, 4),)


def roll_grid(longest: int | None, gap: int = 0, end_loss: int = 0, setup: int = 0) -> RollGrid:
    """A grid whose lengths are given in grid steps; its pieces do not matter."""
    problem = RollProblem(
        width=1000,
        pieces=PIECES,
        gap=gap * GRID,
        max_marker_length=None if longest is None else longest * GRID,
        end_loss=end_loss * GRID,
        setup=setup * GRID,
    )
    return RollGrid(problem, Kinds.of(PIECES))


def thorough() -> Search[Any]:
    return Search(effort_limit=10**8)


def chunks_of(draft: list[tuple[int, int]]) -> RollDraft:
    return tuple((Chunk(((0, 0, 0, 0),), length), repeats) for length, repeats in draft)


def cost(made: Markers, end_loss: int, setup: int) -> int:
    return end_loss * sum(times for _, times in made) + setup * len(made)


drafts = st.lists(st.tuples(st.integers(1, 50), st.integers(1, 9)), min_size=1, max_size=6)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(drafts, st.integers(50, 120), st.integers(0, 5), st.integers(0, 30), st.integers(0, 60), st.booleans())
def test_markers_hold_all_chunks_within_the_longest_length(
    draft: list[tuple[int, int]], longest: int, gap: int, end_loss: int, setup: int, searched: bool
) -> None:
    """Chunks and their repeats are all there, and no marker is too long, gaps included."""
    chunks = chunks_of(draft)
    made = group(chunks, roll_grid(longest, gap, end_loss, setup), thorough() if searched else None)
    held: dict[int, int] = {}
    for marker, repeats in made:
        assert sum(chunk.length for chunk in marker) + gap * (len(marker) - 1) <= longest
        for chunk in marker:
            held[id(chunk)] = held.get(id(chunk), 0) + repeats
    assert held == {id(chunk): repeats for chunk, repeats in chunks}


def cheapest(
    sizes: list[int], demand: list[int], room: int, laid: int, different: int
) -> tuple[int, int, int]:
    """Least cost, then markers, then different ones, by trying every set of patterns in every order."""
    patterns = [
        counts
        for counts in product(*(range(need + 1) for need in demand))
        if any(counts) and sum(c * s for c, s in zip(counts, sizes, strict=True)) <= room
    ]

    @cache
    def best(at: int, left: tuple[int, ...]) -> tuple[int, int, int]:
        if not any(left):
            return (0, 0, 0)
        if at == len(patterns):
            return (10**9, 0, 0)
        found = best(at + 1, left)
        rest, times = left, 0
        while all(c <= have for c, have in zip(patterns[at], rest, strict=True)):
            rest = tuple(have - c for c, have in zip(patterns[at], rest, strict=True))
            times += 1
            more = best(at + 1, rest)
            found = min(found, (more[0] + times * laid + different, more[1] + times, more[2] + 1))
        return found

    return best(0, tuple(demand))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(10, 60), st.integers(1, 4)), min_size=1, max_size=3, unique_by=lambda x: x[0]
    ),
    st.integers(60, 130),
    st.sampled_from([(0, 0), (0, 7), (5, 0), (5, 3), (3, 5), (2, 40)]),
)
def test_tiny_groupings_are_the_best_there_are(
    draft: list[tuple[int, int]], room: int, costs: tuple[int, int]
) -> None:
    """Against trying every set of patterns: cost, then markers laid, then different ones."""
    made = group(chunks_of(draft), roll_grid(room, 0, *costs), thorough())
    laid = sum(times for _, times in made)
    expected = cheapest([length for length, _ in draft], [times for _, times in draft], room, *costs)
    assert (cost(made, *costs), laid, len(made)) == expected


def test_markers_are_few_and_repeated() -> None:
    """Ten chunks of 40 in markers of 100: two each, cut five times. Without a limit: one marker a chunk."""
    ((chunk, _),) = draft = chunks_of([(40, 10)])
    for search in (None, thorough()):
        assert group(draft, roll_grid(100), search) == (((chunk, chunk), 5),)
        assert group(draft, roll_grid(None), search) == (((chunk,), 10),)


def test_the_gap_between_chunks_counts_in_a_marker() -> None:
    """Two of 48 and a gap of 5 need 101: one a marker at 100, two at 101."""
    ((chunk, _),) = draft = chunks_of([(48, 4)])
    assert group(draft, roll_grid(100, 5)) == (((chunk,), 4),)
    assert group(draft, roll_grid(101, 5)) == (((chunk, chunk), 2),)


def test_greed_lays_one_marker_more_than_there_need_be() -> None:
    """Hand-worked: 50, 30, 30, 40, 25, 25 fill two of 100; the longest first leave 25 for a third."""
    draft = chunks_of([(50, 1), (40, 1), (30, 2), (25, 2)])
    assert len(group(draft, roll_grid(100))) == 3
    assert sum(times for _, times in group(draft, roll_grid(100), thorough())) == 2


def test_few_markers_and_few_different_ones_go_together() -> None:
    """Hand-worked: 4 of 60 and 12 of 40 in 100 are 4 x (60 40) and 4 x (40 40).

    That is 8 laid and 2 kinds. In 140, 4 of 60 and 8 of 40 are 4 x (60 40 40): one kind.
    """
    made = group(chunks_of([(60, 4), (40, 12)]), roll_grid(100, 0, 1, 0), thorough())
    assert (sum(times for _, times in made), len(made)) == (8, 2)
    assert len(group(chunks_of([(60, 4), (40, 8)]), roll_grid(140, 0, 0, 1), thorough())) == 1


def test_without_a_longest_marker_losses_join_all_to_one() -> None:
    """Two chunks, laid three times each: one marker of six where a marker costs, six markers otherwise."""
    draft = chunks_of([(60, 3), (40, 3)])
    assert sum(times for _, times in group(draft, roll_grid(None, end_loss=5))) == 1
    assert sum(times for _, times in group(draft, roll_grid(None, setup=5))) == 1
    assert sum(times for _, times in group(draft, roll_grid(None))) == 6


def test_very_many_chunks_are_not_joined_to_one_endless_marker() -> None:
    """A million chunks stay a short list of repeated markers."""
    made = group(chunks_of([(60, 10**6), (40, 5)]), roll_grid(None, end_loss=5), thorough())
    assert len(made) <= 3
    assert max(len(marker) for marker, _ in made) <= markers.MOST_SPOTS


# --- In a plan ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("stages", [None, 2])
def test_value_counts_losses_and_setups(stages: Any) -> None:
    """By hand: 10 of 1000 on a table of 3000 are 4 markers: 3 x 3000 and 1 x 1000, two different ones.

    10000 + 4 x 50 + 2 x 20 = 10240. 5 x 2000 would be one different marker and 10000 + 250 + 20 = 10270.
    """
    problem = RollProblem(
        900,
        (Piece.rectangle("a", 1000, 900, 10, (0,)),),
        stages=stages,
        max_marker_length=3000,
        end_loss=50,
        setup=20,
    )
    answer = solve(problem, time_limit=None, effort=3)
    verify(problem, answer)
    assert (answer.value, answer.length) == (10240, 10000)
    # 10000 / 3000: at least four markers; one setup.
    assert answer.bound == 10000 + 4 * 50 + 20
    assert (answer.status, answer.stopped) == (Status.FEASIBLE, "effort")
    assert sum(layout.repeats for layout in answer.layouts) == 4


def test_a_setup_dearer_than_the_ends_asks_for_one_marker() -> None:
    """The same with a setup of 100: 10000 + 5 x 50 + 100 = 10350 beats 10000 + 200 + 200."""
    problem = RollProblem(
        900, (Piece.rectangle("a", 1000, 900, 10, (0,)),), max_marker_length=3000, end_loss=50, setup=100
    )
    answer = solve(problem, time_limit=None, effort=3)
    verify(problem, answer)
    assert answer.value == 10350
    assert [(layout.length, layout.repeats) for layout in answer.layouts] == [(2000, 5)]


def test_markers_alike_but_for_the_names_are_set_up_once() -> None:
    """Two keys of one size: the layouts differ in names alone, and one setup is counted."""
    pieces = (Piece.rectangle("a", 1000, 900, 1, (0,)), Piece.rectangle("b", 1000, 900, 1, (0,)))
    problem = RollProblem(900, pieces, max_marker_length=1000, end_loss=50, setup=20)
    answer = solve(problem, time_limit=None, effort=3)
    verify(problem, answer)
    assert len(answer.layouts) == 2
    assert answer.value == 2000 + 2 * 50 + 20
    assert answer.status is Status.OPTIMAL


@settings(max_examples=30, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.integers(2, 12), st.integers(2, 9), st.integers(1, 6)), min_size=1, max_size=4),
    st.integers(12, 30),
    st.integers(0, 9),
    st.integers(0, 9),
    st.sampled_from([None, 2, 3]),
)
def test_any_losses_give_a_plan_that_is_verified(
    sizes: Any, longest: int, end_loss: int, setup: int, stages: Any
) -> None:
    """Complete, the value as the verifier counts it, and the bound no larger."""
    pieces = tuple(Piece.rectangle(str(n), a, b, q, (0,)) for n, (a, b, q) in enumerate(sizes))
    problem = RollProblem(
        10, pieces, gap=0.5, stages=stages, max_marker_length=longest, end_loss=end_loss, setup=setup
    )
    answer = solve(problem, time_limit=None, effort=1)
    verify(problem, answer)
    assert not answer.missing
    laid = sum(layout.repeats for layout in answer.layouts)
    assert answer.value >= answer.length + end_loss * laid + setup - 1e-6


def test_a_wrong_value_is_caught() -> None:
    """Lengths 2 x 1000, one marker laid twice: 2000 + 2 x 50 + 20. One loss or setup less is a fault."""
    problem = RollProblem(
        900, (Piece.rectangle("a", 1000, 900, 2, (0,)),), max_marker_length=1000, end_loss=50, setup=20
    )
    layout = Layout("roll", (Placement("a", 0, 0),), 1000, 2)
    verify(problem, Answer(layouts=(layout,), value=2120, bound=2120))
    for value in (2000, 2070, 2100, 2140):
        with pytest.raises(LayoutError, match="its layouts add up to 2120"):
            verify(problem, Answer(layouts=(layout,), value=value, bound=2000))


@pytest.mark.parametrize("name", ["end_loss", "setup"])
def test_losses_are_0_or_more(name: str) -> None:
    """A negative or unknown loss is refused."""
    for wrong in (-1, float("nan")):
        with pytest.raises(ProblemError, match=name):
            RollProblem(900, PIECES, **{name: wrong})


def test_an_interrupt_while_markers_are_grouped_still_gives_all_of_them() -> None:
    """Once the search itself has used up its nine tenths, the next report raises: the plan is complete."""
    rng = np.random.default_rng(1)
    sizes = rng.integers(200, 900, (12, 2)).tolist()
    pieces = tuple(Piece.rectangle(str(n), a, b, 9) for n, (a, b) in enumerate(sizes))
    problem = RollProblem(1600, pieces, stages=2, max_marker_length=3000, end_loss=30, setup=300)

    def stop(report: Report) -> None:
        if report.effort >= 0.9 * 2_000_000:
            raise KeyboardInterrupt

    answer = solve(problem, time_limit=None, effort=2, progress=stop)
    verify(problem, answer)
    assert not answer.missing
    assert answer.stopped == "interrupted"
    assert solve(problem, time_limit=None, effort=2).value <= answer.value
