"""Foam blocks: skins, kerfs, both orders of cutting, against exhaustive search and figures by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing import Answer, Block, BlockProblem, Kerfs, Piece, Skins, Status, solve, verify
from nesting.packing.block import search_blocks
from nesting.packing.block.grid import BlockGrid, stocks_of
from nesting.packing.block.slit import SlitMaker
from nesting.packing.grid import Kinds
from nesting.packing.search import Search, Stop
from tests.packing.exact import fewest_blocks_free, fewest_slit_blocks
from tests.packing.test_published import instances

ORDERS = ["slit first", "saw first", "best"]


def checked(problem: BlockProblem, effort: float = 3.0) -> Answer:
    answer = solve(problem, time_limit=None, effort=effort)
    verify(problem, answer)
    return answer


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(1, 5), st.integers(1, 5), st.integers(1, 3), st.booleans()),
        min_size=1,
        max_size=4,
    ),
    st.tuples(st.integers(5, 7), st.integers(5, 7), st.integers(3, 5)),
    st.integers(0, 1),
    st.sampled_from(ORDERS),
)
def test_blocks_are_bounded_by_the_optimum(
    exact_blocks: Callable[..., float], slabs: Any, extent: Any, kerf: int, order: Any
) -> None:
    """What is proved never exceeds the fewest blocks over all ways of cutting, which no plan undercuts."""
    pieces = tuple(
        Piece.slab(str(n), a, b, high, turns=(0, 90) if turning else (0,))
        for n, (a, b, high, turning) in enumerate(slabs)
    )
    problem = BlockProblem((Block("K", *extent),), pieces, kerf=kerf, order=order)
    search: Search[Any] = Search(effort_limit=2_000_000)
    with suppress(Stop):
        search_blocks(problem, Kinds.of(pieces), search)
    boxes = [([(a, b), (b, a)] if turning else [(a, b)], high) for a, b, high, turning in slabs]
    optimum = exact_blocks(boxes, extent, kerf, order)
    assert search.bound <= optimum <= search.value
    assert not search.proved or search.value == optimum


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.integers(1, 5), st.integers(1, 5), st.integers(1, 3), st.integers(1, 3)),
        min_size=1,
        max_size=3,
    ),
    st.lists(st.tuples(st.integers(5, 8), st.integers(5, 8), st.integers(3, 6)), min_size=1, max_size=3),
    st.lists(st.integers(3, 9), min_size=3, max_size=3),
    st.integers(0, 1),
    st.sampled_from(ORDERS),
)
def test_whole_blocks_of_several_sizes_are_bounded_by_the_optimum(
    exact_blocks: Callable[..., float], slabs: Any, extents: Any, costs: Any, kerf: int, order: Any
) -> None:
    """What is proved for whole numbers of blocks and sheets holds for all ways of cutting them."""
    slabs = slabs[: 6 // max(many for *_, many in slabs)] or slabs[:1]
    pieces = tuple(Piece.slab(str(n), *size, many, (0,)) for n, (*size, many) in enumerate(slabs))
    blocks = [(extent, cost) for extent, cost in zip(extents, costs, strict=False)]
    problem = BlockProblem(
        tuple(Block(f"K{n}", *extent, cost=cost) for n, (extent, cost) in enumerate(blocks)),
        pieces,
        kerf=kerf,
        order=order,
    )
    search: Search[Any] = Search(effort_limit=3_000_000)
    with suppress(Stop):
        search_blocks(problem, Kinds.of(pieces), search)
    boxes = [([(a, b)], high) for a, b, high, many in slabs for _ in range(many)]
    optimum = exact_blocks(boxes, blocks, kerf, order)
    assert search.bound <= optimum + 1e-6
    assert optimum <= search.value
    assert not search.proved or search.value == pytest.approx(optimum)


@pytest.mark.parametrize("number", range(6))
def test_no_plan_is_better_than_free_placement(number: int) -> None:
    """Boxes that only must not meet need no more blocks than boxes that are cut (CP-SAT, exact)."""
    rng = np.random.default_rng(number)
    extent = (8, 7, 5)
    sizes = [tuple(int(n) for n in rng.integers((2, 2, 1), (8, 7, 5))) for _ in range(6)]
    pieces = tuple(Piece.slab(str(n), *size) for n, size in enumerate(sizes))
    answer = checked(BlockProblem((Block("K", *extent),), pieces))
    assert fewest_blocks_free(extent, sizes, turning=True) <= answer.cost  # type: ignore[arg-type]


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    slabs=st.lists(
        st.tuples(st.integers(1, 6), st.integers(1, 6), st.integers(1, 3)), min_size=1, max_size=5
    ),
    extent=st.tuples(st.integers(6, 8), st.integers(6, 8), st.integers(3, 5)),
    kerf=st.integers(0, 1),
    turning=st.booleans(),
)
def test_slit_blocks_are_those_of_an_exact_model(
    slabs: list[tuple[int, int, int]], extent: tuple[int, int, int], kerf: int, turning: bool
) -> None:
    """Against a model by assignment for CP-SAT: plans are no better, bounds no higher, proofs exact."""
    pieces = tuple(
        Piece.slab(str(n), a, b, high, turns=(0, 90) if turning else (0,))
        for n, (a, b, high) in enumerate(slabs)
    )
    answer = checked(BlockProblem((Block("K", *extent),), pieces, kerf=kerf, order="slit first"), effort=1.0)
    optimum = fewest_slit_blocks(extent, slabs, turning, kerf)
    assert answer.bound <= optimum <= answer.cost
    assert answer.status != Status.OPTIMAL or answer.cost == optimum


@pytest.mark.parametrize("number", range(1, 9))
def test_a_sheet_of_a_block_is_worth_no_more_than_any_guillotine_pattern(bench: Path, number: int) -> None:
    """gcut1 to gcut8 of Beasley (1985), JORS 36(4): 297-306: unconstrained guillotine cutting, value = area.

    Their optima have any number of stages, so three stages reach no more: what is proved for a sheet must
    not be above them, and no pattern above what is proved. The optima are from memory; the recursion beside
    them confirms each.
    """
    found = [i for i in instances(bench, "strip/gcut") if i["name"] == f"gcut{number}"]
    if not found:
        pytest.skip("this instance is not at hand")
    side = found[0]["strip_width"]
    items = [(a, b) for a, b, _ in found[0]["items"]]
    published = [56460, 60536, 61036, 61698, 246000, 238998, 242567, 246633][number - 1]
    assert unconstrained_guillotine(side, items) == published
    many = 200
    pieces = tuple(Piece.slab(str(n), a, b, 10, many, (0,)) for n, (a, b) in enumerate(items))
    problem = BlockProblem((Block("K", side, side, 10),), pieces)
    grid = BlockGrid(problem, Kinds.of(pieces))
    maker = SlitMaker(grid, stocks_of(problem)[0])
    search: Search[Any] = Search()
    areas = grid.area / 100.0
    proved = maker.best_sheets(areas, search)
    assert proved is not None
    made = maker.fill(areas, grid.demand, search)
    assert made is not None
    assert float(areas @ made.counts) <= proved[0] + 1e-6 <= published + 2e-6
    assert float(areas @ made.counts) >= 0.99 * proved[0]


def unconstrained_guillotine(side: int, items: Sequence[tuple[int, int]]) -> int:
    """Most area that cuts from edge to edge get out of a square, each item as often as one likes."""
    best = np.zeros((side + 1, side + 1), np.int64)
    for a, b in items:
        best[a:, b:] = np.maximum(best[a:, b:], a * b)
    for x in range(1, side + 1):
        for y in range(1, side + 1):
            across = best[x, 1 : y // 2 + 1] + best[x, y - 1 : y - y // 2 - 1 : -1]
            along = best[1 : x // 2 + 1, y] + best[x - 1 : x - x // 2 - 1 : -1, y]
            best[x, y] = max(best[x, y], across.max(initial=0), along.max(initial=0))
    return int(best[side, side])


@pytest.mark.parametrize("order", ORDERS)
def test_slabs_of_nearly_equal_size_share_a_column_or_a_sheet(order: Any) -> None:
    """1910 x 900 and 1905 x 910 fit 1910 x 910 each, and neither holds the other: one block."""
    pieces = (Piece.slab("long", 1910, 900, 100, 1, (0,)), Piece.slab("wide", 1905, 910, 100, 1, (0,)))
    upright = checked(BlockProblem((Block("K", 1910, 910, 200),), pieces, order=order))
    assert (upright.cost, upright.status) == (1, Status.OPTIMAL)
    beside = checked(BlockProblem((Block("K", 1910, 1820, 100),), pieces, order=order))
    assert (beside.cost, beside.status) == (1, Status.OPTIMAL)


@pytest.mark.parametrize("order", ORDERS)
def test_thickness_is_never_shared(order: Any) -> None:
    """A slab of 99 is not cut from a sheet of 100, nor a slab of 100 from one of 99.

    Two sheets are 200 high, but a block of 199 holds 100 and 99, and one of 198 does not.
    """
    pieces = (Piece.slab("a", 50, 50, 100, 1), Piece.slab("b", 50, 50, 99, 1))
    for height, blocks in ((199, 1), (198, 2)):
        answer = checked(BlockProblem((Block("K", 50, 50, height),), pieces, order=order))
        assert answer.cost == blocks
    if order == "slit first":
        beside = checked(BlockProblem((Block("K", 100, 50, 100),), pieces, order=order))
        assert beside.cost == 2


@pytest.mark.parametrize("order", ORDERS)
def test_the_emptiest_block_leaves_one_large_rest(order: Any) -> None:
    """Half a block of slabs leaves the other half in one piece."""
    pieces = (Piece.slab("a", 100, 50, 10, 20, (0,)),)
    answer = checked(BlockProblem((Block("K", 100, 100, 200),), pieces, order=order))
    (layout,) = answer.layouts
    rests = []
    stack = [layout.cuts]
    while stack:
        node = stack.pop()
        assert node is not None
        stack.extend(node.parts)
        if node.axis is None and node.piece is None:
            rests.append(node.length * node.width * node.height)
    assert max(rests) == 100 * 100 * 100


@pytest.mark.parametrize("order", ORDERS)
def test_skins_are_lost_and_kerfs_lie_between(order: Any) -> None:
    """Height 1080 less 20 and 35 is 1025: ten of 102 and nine kerfs of 0.5 are 1024.5. 102.1 fit nine."""
    skins = Skins(15, 15, 20, 20, 20, 35)
    block = (Block("K", 2100, 2060, 1080),)
    answer = checked(
        BlockProblem(block, (Piece.slab("a", 2070, 2020, 102, 10, (0,)),), kerf=0.5, trim=skins, order=order)
    )
    assert (answer.cost, answer.status) == (1, Status.OPTIMAL)
    assert sorted(p.z for layout in answer.layouts for p in layout.placements)[:2] == [20, 122.5]
    answer = checked(
        BlockProblem(
            block, (Piece.slab("a", 2070, 2020, 102.1, 10, (0,)),), kerf=0.5, trim=skins, order=order
        )
    )
    assert answer.cost == 2


@pytest.mark.parametrize("order", ORDERS)
def test_slitter_and_saw_have_their_own_kerf(order: Any) -> None:
    """Two across 201 leave 1 for the saw, ten up 109 leave 1 for the slitter; wider cuts need two blocks."""
    pieces = (Piece.slab("a", 100, 100, 10, 20, (0,)),)
    block = (Block("K", 100, 201, 109),)
    answer = checked(BlockProblem(block, pieces, kerf=Kerfs(level=1, upright=1), order=order))
    assert (answer.cost, answer.status) == (1, Status.OPTIMAL)
    assert checked(BlockProblem(block, pieces, kerf=Kerfs(level=1, upright=1.1), order=order)).cost == 2
    assert checked(BlockProblem(block, pieces, kerf=Kerfs(level=1.1, upright=1), order=order)).cost == 2


@pytest.mark.parametrize("order", ORDERS)
def test_a_slab_may_stand_where_it_is_allowed(order: Any) -> None:
    """A rail of 90 x 180 x 100 in a block 100 x 90 x 180 must stand on its side or its end."""
    block = (Block("K", 100, 90, 180),)
    for size in ((90, 180, 100), (180, 90, 100), (100, 180, 90), (180, 100, 90)):
        standing = (Piece.slab("a", *size, standing=True),)
        answer = checked(BlockProblem(block, standing, order=order))
        assert answer.layouts[0].placements[0].stand == ("end" if size[0] == 180 else "side")
        flat = (Piece.slab("a", *size),)
        assert solve(BlockProblem(block, flat, order=order), time_limit=None, effort=1).missing


@pytest.mark.parametrize("order", ORDERS)
def test_a_remnant_has_no_skins(order: Any) -> None:
    """A remnant of 100 has no skin to lose and is cheaper; the block of 120 has skins of 10."""
    pieces = (Piece.slab("a", 100, 100, 100, 2),)
    blocks = (Block("K", 120, 120, 120, cost=10), Block("R", 100, 100, 100, cost=3, available=1, trim=0))
    answer = checked(BlockProblem(blocks, pieces, trim=10, order=order))
    assert answer.cost == 13
    assert {layout.stock_key: layout.placements[0].z for layout in answer.layouts} == {"K": 10, "R": 0}


def test_mixed_heights_in_a_column_favour_sawing_first() -> None:
    """Half the block in slabs of 4, half in slabs of 3 and 1: columns fit, full sheets do not.

    Footprint 10 x 4, height 4: one slab 5 x 4 x 4 beside 5 x 4 x 3 and 5 x 4 x 1. Slit first, the slab
    of 4 takes a sheet of the whole height.
    """
    pieces = tuple(Piece.slab(f"h{high}", 5, 4, high, 1, (0,)) for high in (4, 3, 1))
    costs = {
        order: checked(BlockProblem((Block("K", 10, 4, 4),), pieces, order=order)).cost  # type: ignore[arg-type]
        for order in ORDERS
    }
    assert costs == {"slit first": 2, "saw first": 1, "best": 1}


def test_full_sheets_of_unlike_slabs_favour_slitting_first() -> None:
    """A sheet of one slab 10 x 4 over a sheet of two 5 x 4: sawn first, no column holds both."""
    pieces = (Piece.slab("long", 10, 4, 2, 1, (0,)), Piece.slab("half", 5, 4, 2, 2, (0,)))
    costs = {
        order: checked(BlockProblem((Block("K", 10, 4, 4),), pieces, order=order)).cost  # type: ignore[arg-type]
        for order in ORDERS
    }
    assert costs == {"slit first": 1, "saw first": 2, "best": 1}


def test_whole_sheets_prove_what_shares_of_sheets_do_not() -> None:
    """Three of two a sheet of 4 and one of two a sheet of 3: 1.5 x 4 + 0.5 x 3 < 10, but 2 x 4 + 3 > 10."""
    pieces = (Piece.slab("a", 5, 10, 4, 3, (0,)), Piece.slab("b", 5, 10, 3, 1, (0,)))
    answer = checked(BlockProblem((Block("K", 10, 10, 10),), pieces, order="slit first"))
    assert (answer.cost, answer.status) == (2, Status.OPTIMAL)
    answer = checked(BlockProblem((Block("K", 10, 10, 11),), pieces, order="slit first"))
    assert (answer.cost, answer.status) == (1, Status.OPTIMAL)


def test_of_sums_of_blocks_the_least_possible_is_proved() -> None:
    """Blocks for 5 hold five slabs, those for 3 hold three: six cost 3 + 3, and seven 5 + 3."""
    blocks = (Block("five", 10, 10, 5, cost=5), Block("three", 10, 10, 3, cost=3))
    for wanted, cost in ((5, 5), (6, 6), (7, 8), (8, 8), (9, 9)):
        answer = checked(BlockProblem(blocks, (Piece.slab("a", 10, 10, 1, wanted),)))
        assert (answer.cost, answer.status) == (cost, Status.OPTIMAL)


def test_even_the_first_plan_ends_with_the_block_that_holds_all_that_is_left() -> None:
    """Six in one block for 10: five would be denser in a block for 6, but the sixth needs another."""
    blocks = (Block("ten", 10, 10, 10, cost=10), Block("five", 10, 10, 5, cost=6))
    problem = BlockProblem(blocks, (Piece.slab("a", 10, 10, 1, 6),))
    answer = solve(problem, time_limit=None, effort=0)
    verify(problem, answer)
    assert answer.cost == 10


def test_large_slabs_lie_at_the_bottom_of_a_column() -> None:
    """A smaller slab lies on a larger one, in its low corner, and is trimmed."""
    pieces = (Piece.slab("small", 4, 3, 2, 1, (0,)), Piece.slab("large", 5, 4, 2, 1, (0,)))
    answer = checked(BlockProblem((Block("K", 5, 4, 4),), pieces, order="saw first"))
    (layout,) = answer.layouts
    assert {p.key: (p.x, p.y, p.z) for p in layout.placements} == {"large": (0, 0, 0), "small": (0, 0, 2)}


@pytest.mark.parametrize("order", ORDERS)
def test_what_no_block_holds_is_missing_with_its_measures(order: Any) -> None:
    """Too high by the skins; the rest is cut. Stock that runs out is said, too."""
    high, low = Piece.slab("high", 10, 10, 9.6), Piece.slab("low", 10, 10, 4, 3)
    answer = checked(BlockProblem((Block("K", 12, 12, 11, available=1),), (high, low), trim=1, order=order))
    assert answer.missing["high"].reason == (
        "measures 10.0 x 10.0 x 9.6 mm and fits no block in an allowed turn; "
        "the largest usable block is 10.0 x 10.0 x 9.0 mm"
    )
    assert answer.missing["low"] == (1, "the stock on hand is used up")


@pytest.mark.parametrize("order", ORDERS)
def test_a_block_that_the_skins_eat_up_or_that_is_not_there_is_no_block(order: Any) -> None:
    """Neither is opened, and nothing fails."""
    piece = Piece.slab("a", 5, 5, 5, 2)
    answer = checked(
        BlockProblem((Block("thin", 3, 50, 50), Block("K", 9, 9, 9)), (piece,), trim=2, order=order)
    )
    assert {layout.stock_key for layout in answer.layouts} == {"K"}
    answer = checked(BlockProblem((Block("K", 9, 9, 9, available=0),), (piece,), order=order))
    assert answer.missing["a"].quantity == 2


def test_a_worked_foam_order_is_proved_at_any_size() -> None:
    """Two cores a sheet and ten sheets a block (arithmetic): 20 cores a block."""
    skins = Skins(15, 15, 20, 20, 20, 35)
    for times in (1, 100, 10_000):
        pieces = (Piece.slab("core", 1910, 910, 100, 20 * times, (0, 90)),)
        answer = checked(BlockProblem((Block("K", 2100, 2060, 1080),), pieces, kerf=0.5, trim=skins))
        assert (answer.cost, answer.status) == (times, Status.OPTIMAL)
        assert len(answer.layouts) <= 2
