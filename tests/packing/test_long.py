"""Long blocks: cut to length first and paid by the length, against exhaustive search and figures by hand."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import cache
from itertools import product
from math import inf
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LayoutError, ProblemError
from nesting.packing import Answer, Block, BlockProblem, Kerfs, Piece, Skins, Status, verify
from nesting.packing.block import search_blocks
from nesting.packing.block.long import sums_of
from nesting.packing.grid import Kinds
from nesting.packing.search import Search, Stop

from .checks import checked
from .strategies import rectangles, tenths

ORDERS: list[Any] = ["slit first", "saw first", "best"]


@st.composite
def long_problems(draw: st.DrawFn) -> BlockProblem:
    """Small problems with a long block and perhaps a whole one, whose stock may run out."""
    flat = draw(rectangles(kinds=4, quantity=4))
    pieces = tuple(
        Piece.slab(
            piece.key,
            piece.length,
            piece.width,
            draw(st.sampled_from([20.0, 35.5, 50.0])),
            piece.quantity,
            draw(st.sampled_from([(0.0,), (0.0, 90.0)])),
            standing=draw(st.booleans()),
        )
        for piece in flat
    )
    least = int(max(max(piece.length, piece.width) for piece in pieces) * 10) + 100
    cut_to = draw(tenths(least, least + 1500))
    blocks = [
        Block(
            "L",
            draw(tenths(least, least + 6000)),
            draw(tenths(least, least + 1500)),
            draw(tenths(1100, 2000)),
            float(draw(st.integers(1, 20))),
            draw(st.none() | st.integers(0, 3)),
            draw(st.none() | st.just(Skins(x0=5.0, x1=3.5, z1=2.0))),
            cut_to=cut_to,
        )
    ]
    if draw(st.booleans()):
        number = draw(st.none() | st.integers(0, 2))
        blocks.append(Block("K", least / 10, least / 10, 120.0, float(draw(st.integers(1, 20))), number))
    return BlockProblem(
        tuple(blocks),
        pieces,
        kerf=Kerfs(draw(tenths(0, 20)), draw(tenths(0, 20))),
        trim=draw(tenths(0, 50)),
        order=draw(st.sampled_from(ORDERS)),
    )


@settings(max_examples=25, deadline=None, derandomize=True)
@given(long_problems())
def test_every_answer_is_verified(problem: BlockProblem) -> None:
    """Parts between the end skins, a saw cut apart, no more blocks than there are, paid by their length."""
    answer = checked(problem)
    if all(block.available is None for block in problem.blocks) and not answer.missing:
        assert answer.status in (Status.OPTIMAL, Status.FEASIBLE)


def optimum(
    exact_blocks: Callable[..., float],
    slabs: Any,
    extent: Any,
    kerf: int,
    order: str,
    price: Callable[[int], float],
) -> float:
    """Least cost of parts for tiny slabs, by trying all groups and, for each, all whole lengths."""
    most, width, height = extent

    @cache
    def one(part: int) -> float:
        boxes = [
            ([(a, b), (b, a)] if turning else [(a, b)], high)
            for at, (a, b, high, turning) in enumerate(slabs)
            if part >> at & 1
        ]
        for length in range(1, most + 1):
            if exact_blocks(boxes, (length, width, height), kerf, order) == 1:
                return price(length)
        return inf

    @cache
    def least(members: int) -> float:
        if not members:
            return 0.0
        lowest, best, part = members & -members, inf, members
        while part:
            if part & lowest:
                best = min(best, one(part) + least(members ^ part))
            part = (part - 1) & members
        return best

    return least((1 << len(slabs)) - 1)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(1, 5), st.integers(1, 5), st.integers(1, 3), st.booleans()),
        min_size=1,
        max_size=3,
    ),
    st.tuples(st.integers(5, 8), st.integers(5, 7), st.integers(3, 5)),
    st.integers(0, 1),
    st.sampled_from(ORDERS),
)
def test_the_bound_holds_for_parts_of_all_lengths(
    exact_blocks: Callable[..., float], slabs: Any, extent: Any, kerf: int, order: Any
) -> None:
    """What is proved never exceeds the least cost over all lengths and ways of cutting."""
    pieces = tuple(
        Piece.slab(str(n), a, b, high, turns=(0, 90) if turning else (0,))
        for n, (a, b, high, turning) in enumerate(slabs)
    )
    most, width, height = extent
    block = Block("L", 50, width, height, cost=51.0, cut_to=most)
    problem = BlockProblem((block,), pieces, kerf=kerf, order=order)
    search: Search[Any] = Search(effort_limit=2_000_000)
    with suppress(Stop):
        search_blocks(problem, Kinds.of(pieces), search)
    least = optimum(exact_blocks, slabs, extent, kerf, order, lambda n: 51.0 * (n + kerf) / (50 + kerf))
    assert search.bound <= least + 1e-6
    assert least <= search.value + 1e-6


@settings(deadline=None, derandomize=True, max_examples=40)
@given(st.lists(st.integers(4, 30), min_size=1, max_size=3), st.integers(0, 3), st.integers(1, 60))
def test_sums_of_sides_are_all_sums(sizes: list[int], kerf: int, most: int) -> None:
    """Against adding up every selection."""
    times = [range((most + kerf) // (size + kerf) + 1) for size in sizes]
    sums = {
        sum(n * (size + kerf) for n, size in zip(counts, sizes, strict=True)) - kerf
        for counts in product(*times)
        if any(counts)
    }
    assert sums_of(sizes, kerf, most).tolist() == sorted(n for n in sums if n <= most)


def worked() -> tuple[BlockProblem, Answer]:
    """Six cores of 2000 in a block of 10 m less 20 and 30, saw cut 10: see the test below."""
    block = Block("L", 10000, 500, 110, cost=996.0, trim=Skins(x0=20, x1=30, z0=4, z1=6), cut_to=2500)
    problem = BlockProblem((block,), (Piece.slab("core", 2000, 500, 100, 6, (0,)),), kerf=Kerfs(1, 10))
    return problem, checked(problem)


def test_a_worked_long_block() -> None:
    """Usable 9950. A part of 2000 and its cut are 2010 of 9960, at 0.1 each 201. Four fit a block, not five.

    Starts 20, 2030, 4040, 6050 on the first block; two parts are left for the second.
    """
    _, answer = worked()
    assert answer.value == answer.bound == pytest.approx(6 * 201.0)
    spots = [(la.length, la.start, la.stock_number, la.stock_count, la.repeats) for la in answer.layouts]
    on_blocks = {
        (number, start + copy * 2010)
        for _, start, first, count, repeats in spots
        for number in range(first, first + count)
        for copy in range(repeats // count)
    }
    assert on_blocks == {(1, 20), (1, 2030), (1, 4040), (1, 6050), (2, 20), (2, 2030)}
    place = answer.layouts[0].placements[0]
    assert (place.x, place.y, place.z) == (0, 0, 4)


def test_parts_that_fill_a_block_cost_the_whole_of_it() -> None:
    """Three parts of 100 and two saw cuts of 5 are the usable 310 of 330."""
    block = Block("L", 330, 100, 50, cost=7.0, trim=Skins(x0=10, x1=10), cut_to=150)
    answer = checked(BlockProblem((block,), (Piece.slab("a", 100, 100, 50, 3),), kerf=Kerfs(0, 5)))
    assert (answer.value, answer.status) == (7.0, Status.OPTIMAL)


def test_a_part_ends_where_its_last_slab_ends() -> None:
    """The machines take 900; three of 400 are cut from parts of 801 and 400, or of 400 each: 403 a piece."""
    block = Block("L", 40000, 100, 50, cost=40001.0, cut_to=900)
    answer = checked(BlockProblem((block,), (Piece.slab("a", 400, 100, 50, 3, (0,)),), kerf=Kerfs(0, 1)))
    assert answer.value == pytest.approx(3 * 401.0)


def test_a_limited_block_is_used_up_before_others_are_opened() -> None:
    """Four parts of 100 fit the cheap long block (a cut of 2 between them: 406); the fifth is dear."""
    long = Block("L", 406, 100, 50, cost=1.0, available=1, cut_to=250)
    dear = Block("K", 100, 100, 50, cost=10.0)
    pieces = (Piece.slab("a", 100, 100, 50, 5),)
    answer = checked(BlockProblem((long, dear), pieces, kerf=2))
    assert answer.value == pytest.approx(11.0)
    alone = checked(BlockProblem((long,), pieces, kerf=2))
    assert alone.missing["a"] == (1, "the stock on hand is used up")


def test_length_in_all_is_not_length_in_one_piece() -> None:
    """Two blocks of 150 hold one of 100 each, though 300 would hold three; a slab of 40 goes into a rest."""
    block = Block("L", 150, 100, 50, available=2, cut_to=150)
    pieces = (Piece.slab("a", 100, 100, 50, 3, (0,)), Piece.slab("b", 40, 100, 50, 1, (0,)))
    answer = checked(BlockProblem((block,), pieces))
    assert {key: missing.quantity for key, missing in answer.missing.items()} == {"a": 1}


def test_many_alike_blocks_are_told_once() -> None:
    """4,000 cores, four a block: one layout on a thousand blocks."""
    problem, _ = worked()
    pieces = (Piece.slab("core", 2000, 500, 100, 4000, (0,)),)
    answer = checked(replace(problem, pieces=pieces))
    assert len(answer.layouts) <= 2
    assert sum(layout.repeats for layout in answer.layouts) == 4000
    assert max(layout.stock_number + layout.stock_count - 1 for layout in answer.layouts) == 1000


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"start": 19.0}, "starts at 19.0; the usable length of 'L' starts at 20"),
        ({"start": 2029.0}, "the saw cut is 10 mm"),
        ({"start": 9000.0}, "whose usable length ends at 9970"),
        ({"stock_count": 3}, "which 3 blocks cannot share evenly"),
        ({"stock_number": 0}, "the number of the block must be a whole number"),
    ],
)
def test_the_verifier_finds_misplaced_parts(change: dict[str, Any], words: str) -> None:
    """A part in the skin, too near to another, beyond the end, or on no block."""
    problem, answer = worked()
    layouts = list(answer.layouts)
    at = next(n for n, layout in enumerate(layouts) if layout.stock_number == 1)
    layouts[at] = replace(layouts[at], **change)
    if change == {"start": 2029.0}:
        layouts[at] = replace(layouts[at], repeats=1, stock_count=1)
        layouts.append(replace(layouts[at], start=20.0))
        layouts.append(replace(layouts[at], start=4049.0, repeats=2))
    with pytest.raises(LayoutError, match=words):
        verify(problem, replace(answer, layouts=tuple(layouts)))


def test_the_verifier_checks_the_longest_part_the_stock_and_the_price() -> None:
    """The same answer to a problem with shorter parts, fewer blocks, or another price."""
    problem, answer = worked()
    (block,) = problem.blocks
    for change, words in (
        ({"cut_to": 1999.0}, "may be at most 1999 mm"),
        ({"available": 1}, "lies on block 2 of 'L'; there are 1"),
        ({"cost": 997.0}, "its layouts add up to"),
    ):
        with pytest.raises(LayoutError, match=words):
            verify(replace(problem, blocks=(replace(block, **change),)), answer)


def test_the_longest_part_has_a_length() -> None:
    """A measure of nothing is refused."""
    with pytest.raises(ProblemError, match=r"cut_to must be above 0"):
        Block("L", 100, 100, 100, cut_to=0)
