"""Slabs glued up from parts: figures by hand, exhaustive search, and what the check refuses."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LayoutError, ProblemError
from nesting.packing import Answer, Block, BlockProblem, Glued, Piece, Recipe, Status, solve, verify
from nesting.packing.block import search_blocks
from nesting.packing.grid import Kinds
from nesting.packing.search import Search, Stop
from tests.packing.checks import checked
from tests.packing.strategies import block_problems

HALVES = Recipe(((50, 100, 10), (50, 100, 10)))
FLAT = (Block("K", 100, 100, 10),)
"""One slab of 100 x 100 x 10; thickness needs no cut."""


def glued_copies(answer: Answer) -> int:
    return sum(
        layout.repeats
        for layout in answer.layouts
        for placement in layout.placements
        if isinstance(placement.part, Glued) and placement.part.index == 0
    )


def test_a_slab_thicker_than_the_block_is_laminated() -> None:
    """100 thick from a block 60 high: two slabs of 50 each, one in every block."""
    laminated = Recipe(((200, 100, 50), (200, 100, 50)))
    pieces = (Piece.slab("core", 200, 100, 100, 3, recipes=(laminated,)),)
    answer = checked(BlockProblem((Block("K", 200, 100, 60),), pieces))
    assert (answer.cost, answer.status) == (6, Status.OPTIMAL)
    parts = {placement.part for layout in answer.layouts for placement in layout.placements}
    assert parts == {Glued(0, 0), Glued(0, 1)}


def test_gluing_saves_blocks_where_it_can() -> None:
    """Five slabs 60 long from blocks of 100: whole, five blocks; 60 + 40 twice and 60 + 20 + 20 are three."""
    recipe = Recipe(((40, 100, 10), (20, 100, 10)))
    slab = Piece.slab("a", 60, 100, 10, 5, (0,), recipes=(recipe,))
    answer = checked(BlockProblem(FLAT, (slab,)))
    assert (answer.cost, answer.status, glued_copies(answer)) == (3, Status.OPTIMAL, 2)
    assert checked(BlockProblem(FLAT, (replace(slab, recipes=()),))).cost == 5


def test_nothing_is_glued_that_saves_nothing() -> None:
    """Two slabs of 50 fill a block of 100, so halves are of no use."""
    halves = Recipe(((25, 100, 10), (25, 100, 10)))
    answer = checked(BlockProblem(FLAT, (Piece.slab("a", 50, 100, 10, 4, (0,), recipes=(halves,)),)))
    assert (answer.cost, glued_copies(answer)) == (2, 0)


@pytest.mark.parametrize(("cost", "value", "glued"), [(0.9, 4.8, 2), (1.1, 5.0, 0)])
def test_the_cost_of_gluing_counts(cost: float, value: float, glued: int) -> None:
    """Two glued copies save two blocks; they are glued only where that costs less than the blocks."""
    recipe = Recipe(((40, 100, 10), (20, 100, 10)), cost)
    slab = Piece.slab("a", 60, 100, 10, 5, (0,), recipes=(recipe,))
    answer = checked(BlockProblem(FLAT, (slab,)), effort=5)
    assert (answer.value, glued_copies(answer)) == (value, glued)


def test_a_slab_may_have_to_be_glued() -> None:
    """With whole=False a slab that fits the block is glued all the same."""
    slab = Piece.slab("a", 100, 100, 10, 2, recipes=(HALVES,), whole=False)
    answer = checked(BlockProblem(FLAT, (slab,)))
    assert (answer.cost, glued_copies(answer)) == (2, 2)


def test_parts_are_shared_with_other_slabs() -> None:
    """A slab of 40 is wanted anyway; the other is cut as 60 and 40, the sizes that fill the block."""
    recipe = Recipe(((60, 100, 10), (40, 100, 10)))
    pieces = (
        Piece.slab("short", 40, 100, 10, 1, (0,)),
        Piece.slab("long", 100, 100, 10, 1, (0,), recipes=(recipe,), whole=False),
        Piece.slab("rest", 60, 100, 10, 1, (0,)),
    )
    assert checked(BlockProblem(FLAT, pieces)).cost == 2


def test_only_whole_copies_leave_a_short_stock() -> None:
    """Two blocks of 100 hold two of 60 and one of 40 + 20; a part without the others is not cut."""
    recipe = Recipe(((40, 100, 10), (20, 100, 10)))
    slab = Piece.slab("a", 60, 100, 10, 5, (0,), recipes=(recipe,))
    answer = checked(BlockProblem((replace(FLAT[0], available=2),), (slab,)))
    assert answer.missing["a"].quantity == 2
    assert glued_copies(answer) == 1


def test_what_cannot_be_made_says_so() -> None:
    """Neither whole nor in parts."""
    too_long = Recipe(((150, 100, 10), (50, 100, 10)))
    slab = Piece.slab("a", 200, 100, 10, 1, recipes=(too_long,))
    reason = solve(BlockProblem(FLAT, (slab,)), effort=1).missing["a"].reason
    assert "200.0" in reason and "glue" in reason
    reason = solve(BlockProblem(FLAT, (replace(slab, whole=False),)), effort=1).missing["a"].reason
    assert "must be glued" in reason


@st.composite
def glue_problems(draw: st.DrawFn) -> BlockProblem:
    """Small block problems with random recipes, some blocks short, some slabs never in one piece."""
    problem = draw(block_problems())
    pieces = []
    for piece in problem.pieces:
        assert piece.thickness is not None
        recipes = []
        for _ in range(draw(st.integers(0, 2))):
            cost = draw(st.sampled_from([0.0, 0.5, 3.0]))
            count = draw(st.integers(2, 3))
            if draw(st.booleans()):
                parts = ((piece.length, piece.width, piece.thickness / count),) * count
            else:
                parts = ((piece.length / count, piece.width, piece.thickness),) * count
            recipes.append(Recipe(parts, cost))
        whole = not recipes or draw(st.booleans())
        pieces.append(replace(piece, recipes=tuple(recipes), whole=whole))
    available = draw(st.none() | st.integers(1, 3))
    blocks = tuple(replace(block, available=available) for block in problem.blocks)
    return replace(problem, pieces=tuple(pieces), blocks=blocks)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(glue_problems(), st.sampled_from([0.0, 0.2, 3.0]))
def test_every_answer_is_right(problem: BlockProblem, effort: float) -> None:
    """Whatever the budget, the check finds no fault, and no copy is lost."""
    checked(problem, effort)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(2, 5), st.integers(1, 4), st.integers(1, 3), st.booleans(), st.booleans()),
        min_size=1,
        max_size=3,
    ),
    st.tuples(st.integers(5, 7), st.integers(4, 6), st.integers(3, 5)),
    st.sampled_from(["slit first", "saw first", "best"]),
    st.sampled_from([0.0, 0.3]),
)
def test_the_bound_holds_for_every_choice(
    exact_blocks: Callable[..., float], slabs: Any, extent: Any, order: Any, cost: float
) -> None:
    """What is proved never exceeds the cheapest choice over all ways of gluing and cutting."""
    pieces = []
    for n, (a, b, high, joined, must) in enumerate(slabs):
        parts = ((1, b, high), (a - 1, b, high)) if joined else ((a, b, high / 2), (a, b, high / 2))
        pieces.append(
            Piece.slab(str(n), a, b, high, turns=(0,), recipes=(Recipe(parts, cost),), whole=not must)
        )
    problem = BlockProblem((Block("K", *extent),), tuple(pieces), order=order)
    search: Search[Any] = Search(effort_limit=3_000_000)
    with suppress(Stop):
        search_blocks(problem, Kinds.of(pieces), search)
    least = float("inf")
    for choice in product(*[(True,) if not piece.whole else (False, True) for piece in pieces]):
        cut = []
        for piece, glued in zip(pieces, choice, strict=True):
            sizes = piece.recipes[0].parts if glued else ((piece.length, piece.width, piece.thickness),)
            # In halves of a unit, so that all is whole.
            cut += [([(round(2 * x), round(2 * y))], round(2 * z)) for x, y, z in sizes]
        blocks = exact_blocks(cut, tuple(2 * side for side in extent), 0, order)
        least = min(least, blocks + cost * sum(choice))
    assert search.bound <= least + 1e-6
    assert search.value >= least - 1e-6
    if search.proved:
        assert search.value == pytest.approx(least)


def right() -> tuple[BlockProblem, Answer]:
    slab = Piece.slab("a", 100, 100, 10, 2, (0,), recipes=(HALVES,), whole=False)
    problem = BlockProblem(FLAT, (slab,))
    return problem, checked(problem)


def test_the_check_refuses_a_slab_in_one_piece_that_must_be_glued() -> None:
    """The plan is right but for the whole slab."""
    problem, answer = right()
    whole = BlockProblem(FLAT, (replace(problem.pieces[0], whole=True, recipes=()),))
    with pytest.raises(LayoutError, match="in one piece"):
        verify(problem, checked(whole))
    verify(problem, answer)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (Glued(0, 0), "as many of each"),
        (Glued(1, 0), "recipe 1"),
        (Glued(-1, 0), "recipe -1"),
        (Glued(0, 2), "part 2"),
    ],
)
def test_the_check_refuses_wrong_parts(part: Glued, words: str) -> None:
    """One part more than the others, or one that no recipe has."""
    problem, answer = right()
    layout = answer.layouts[0]
    placements = tuple(
        replace(placement, part=part) if placement.part == Glued(0, 1) else placement
        for placement in layout.placements
    )
    broken = replace(answer, layouts=(replace(layout, placements=placements), *answer.layouts[1:]))
    with pytest.raises(LayoutError, match=words):
        verify(problem, broken)


def test_the_check_counts_the_cost_of_gluing() -> None:
    """A value without it is refused."""
    slab = Piece.slab("a", 100, 100, 10, 2, recipes=(replace(HALVES, cost=0.25),), whole=False)
    problem = BlockProblem(FLAT, (slab,))
    answer = checked(problem)
    assert answer.value == 2.5
    with pytest.raises(LayoutError, match="value"):
        verify(problem, replace(answer, value=2.0, bound=2.0))


@pytest.mark.parametrize(
    "make",
    [
        lambda: Recipe(((1, 1, 1),)),
        lambda: Recipe(((1, 1, 1), (1, 1, 0))),
        lambda: Recipe(((1, 1, 1), (1, 1, 1)), float("nan")),
        lambda: Piece.slab("a", 1, 1, 1, whole=False),
        lambda: Piece("a", 1, 1, recipes=(HALVES,)),
    ],
)
def test_recipes_that_make_no_sense_are_refused(make: Callable[[], object]) -> None:
    """Too few parts, no thickness, no cost, nothing to be made of, no slab."""
    with pytest.raises(ProblemError):
        make()


def test_the_same_seed_gives_the_same_plan() -> None:
    """Effort and seed decide, not time."""
    recipe = Recipe(((40, 100, 10), (20, 100, 10)))
    slabs = (Piece.slab("a", 60, 100, 10, 7, (0,), recipes=(recipe,)), Piece.slab("b", 35, 45, 10, 9))
    problem = BlockProblem(FLAT, slabs, kerf=0.5)
    assert checked(problem, 3) == checked(problem, 3)


@pytest.mark.parametrize("long", [True, False])
def test_it_is_said_when_nothing_is_glued_up_though_it_is_allowed(long: bool) -> None:
    """Beside long blocks all is cut in one piece; a plan that could have glued says so."""
    block = Block("K", 4000.0, 1000.0, 500.0, cut_to=2000.0) if long else Block("K", 2000.0, 1000.0, 500.0)
    layer = Piece.slab("a", 1900, 900, 100, 4, recipes=(Recipe(((1900, 900, 50), (1900, 900, 50))),))
    answer = solve(BlockProblem((block,), (layer,)), time_limit=None, effort=0.5)
    assert any("Nothing is glued up here" in note for note in answer.notes) == long
