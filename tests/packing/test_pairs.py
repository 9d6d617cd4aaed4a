"""Two outlines in one box: where they may lie, what their boxes are, and what is proved of them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LayoutError, ProblemError
from nesting.packing import Answer, Block, BlockProblem, CutNode, Kerfs, Piece, Placement, Status, verify
from nesting.packing.block.outlines import least_boxes, pair_boxes
from nesting.packing.problem import turned_points

from .checks import checked

QUARTERS = (0.0, 90.0, 180.0, 270.0)
TRIANGLE = ((0.0, 0.0), (100.0, 0.0), (0.0, 100.0))
ORDERS: list[Any] = ["slit first", "saw first", "best"]


def quarter(radius: float, steps: int = 24) -> list[tuple[float, float]]:
    """A quarter round, its arc by tangents, so that the true shape lies inside."""
    half = math.pi / 4 / steps
    reach = radius / math.cos(half)
    arc = [(reach * math.cos((2 * k + 1) * half), reach * math.sin((2 * k + 1) * half)) for k in range(steps)]
    return [(0.0, 0.0), (radius, 0.0), *arc, (0.0, radius)]


@st.composite
def convex(draw: st.DrawFn) -> list[tuple[float, float]]:
    """The hull of a few points, in whole mm, no thinner than 5 mm."""
    points = draw(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=3, max_size=7))
    corners = [
        *points,
        (0, 0),
        (draw(st.integers(8, 60)), draw(st.integers(0, 5))),
        (3, draw(st.integers(8, 60))),
    ]
    hull = shapely.convex_hull(shapely.MultiPoint(corners))
    return [(x, y) for x, y in hull.exterior.coords[:-1]]


def pairs(node: CutNode) -> int:
    return (node.pair is not None) + sum(pairs(part) for part in node.parts)


def held(answer: Answer) -> int:
    """Leaves with two pieces, over all blocks."""
    return sum(pairs(layout.cuts) * layout.repeats for layout in answer.layouts if layout.cuts)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(convex(), st.sampled_from([0, 5, 20]), st.tuples(st.integers(-700, 700), st.integers(-700, 700)))
def test_boxes_of_pairs_hold_two_and_every_box_of_two_holds_a_least_one(
    points: list[tuple[float, float]], kerf: int, offset: tuple[int, int]
) -> None:
    """Boxes that are used are possible, and boxes that bounds are proved with lie below all possible ones."""
    outline = turned_points(points, 0.0)
    least = least_boxes(outline, QUARTERS, kerf)
    for box in pair_boxes(outline, QUARTERS, kerf):
        shapes = []
        for turn, (x, y) in zip(box.turns, box.places, strict=True):
            corners = turned_points(outline, turn)
            shapes.append(shapely.Polygon([(x / 10 + cx, y / 10 + cy) for cx, cy in corners]))
        room = shapely.box(0, 0, box.dx / 10, box.dy / 10).buffer(1e-6)
        assert all(room.covers(shape) for shape in shapes)
        assert shapely.distance(*shapes) >= kerf / 10 - 1e-5
        assert shapely.intersection(*shapes).area <= 1e-5
        assert any(dx <= box.dx and dy <= box.dy for dx, dy in least)
    one = shapely.Polygon(outline)
    other = shapely.Polygon(
        [(x + offset[0] / 10, y + offset[1] / 10) for x, y in turned_points(outline, 180.0)]
    )
    if one.distance(other) >= kerf / 10 and one.intersection(other).area < 1e-9:
        left, low, right, high = shapely.union(one, other).bounds
        assert any(dx <= (right - left) * 10 + 1e-6 and dy <= (high - low) * 10 + 1e-6 for dx, dy in least)


def test_two_quarter_rounds_lie_in_a_box_of_r_by_root_three_r() -> None:
    """Centres on opposite sides, 2 r apart and r across: sqrt(3) r up; with a cut k, 2 r + k apart."""
    for kerf in (0, 20):
        box = pair_boxes(quarter(150), QUARTERS, kerf)[0]
        up = math.sqrt((300 + kerf / 10) ** 2 - 150**2)
        assert min(box.dx, box.dy) == 1500
        # The tangents lie up to 0.3 mm outside the arc.
        assert up * 10 <= max(box.dx, box.dy) <= (up + 0.7) * 10


def test_two_triangles_make_a_rectangle() -> None:
    """Legs 100: without a cut the square, with a cut of 2 it is 2 x sqrt(2) = 2.83 longer one way."""
    assert {(box.dx, box.dy) for box in pair_boxes(TRIANGLE, QUARTERS, 0)} == {(1000, 1000)}
    assert {(box.dx, box.dy) for box in pair_boxes(TRIANGLE, QUARTERS, 20)} == {(1000, 1029), (1029, 1000)}
    assert not pair_boxes(TRIANGLE, (0.0, 90.0), 20)


def triangles(quantity: int, turns: tuple[float, ...] = QUARTERS) -> Piece:
    return Piece.slab("t", 100, 100, 50, quantity, turns, points=TRIANGLE)


@pytest.mark.parametrize("order", ORDERS)
def test_pairs_save_blocks(order: Any) -> None:
    """A block of 100 x 100 x 100 holds four triangles 50 high; nine need three. Without half turns, five."""
    block = (Block("K", 100, 100, 100),)
    answer = checked(BlockProblem(block, (triangles(9),), order=order))
    assert (answer.cost, answer.status) == (3, Status.OPTIMAL)
    assert held(answer) >= 3
    answer = checked(BlockProblem(block, (triangles(9, (0.0, 90.0)),), order=order))
    assert (answer.cost, held(answer)) == (5, 0)


def test_a_pair_needs_room_for_the_saw() -> None:
    """Two triangles with a cut of 2 need 102.9; of 102.8 each needs a block of its own."""
    for length, cost in ((102.9, 1), (102.8, 2)):
        block = (Block("K", length, 100, 50),)
        assert checked(BlockProblem(block, (triangles(2),), kerf=Kerfs(5, 2))).cost == cost


def test_pairs_may_be_of_two_demands_of_one_outline() -> None:
    """Three and one make two pairs."""
    pieces = tuple(replace(triangles(n), key=f"t{n}") for n in (3, 1))
    answer = checked(BlockProblem((Block("K", 100, 100, 100),), pieces))
    assert (answer.cost, held(answer)) == (1, 2)


def test_unlike_outlines_of_one_box_do_not_pair() -> None:
    """A triangle and a quarter round have the same box; they need two."""
    round_ = Piece.slab("q", 100, 100, 50, 1, QUARTERS, points=quarter(100))
    assert checked(BlockProblem((Block("K", 100, 100, 50),), (triangles(1), round_))).cost == 2


@st.composite
def outlined_problems(draw: st.DrawFn) -> BlockProblem:
    """Small problems of outlines and boxes, in whole or long blocks."""
    pieces = []
    for index in range(draw(st.integers(1, 3))):
        points = draw(convex())
        length, width = max(x for x, _ in points), max(y for _, y in points)
        turns = draw(st.sampled_from([QUARTERS, (0.0, 180.0), (0.0,)]))
        high = draw(st.sampled_from([20.0, 30.0]))
        outline = turned_points(points, 0.0)
        length, width = max(x for x, _ in outline), max(y for _, y in outline)
        count = draw(st.integers(1, 7))
        pieces.append(Piece.slab(f"P{index}", length, width, high, count, turns, points=outline))
    pieces.append(Piece.slab("box", 40.0, 25.5, 20.0, draw(st.integers(1, 4)), standing=draw(st.booleans())))
    cut_to = draw(st.none() | st.just(150.0))
    length = draw(st.integers(70, 200)) if cut_to is None else 400
    block = Block("K", length, draw(st.integers(70, 150)), draw(st.integers(40, 100)), 3.0, cut_to=cut_to)
    kerf = Kerfs(draw(st.sampled_from([0.0, 0.5])), draw(st.sampled_from([0.0, 2.0])))
    return BlockProblem((block,), tuple(pieces), kerf=kerf, order=draw(st.sampled_from(ORDERS)))


@settings(max_examples=30, deadline=None, derandomize=True)
@given(outlined_problems())
def test_every_answer_with_outlines_is_verified(problem: BlockProblem) -> None:
    """Pairs lie in their leaves, a saw cut apart, and no copy is lost."""
    answer = checked(problem)
    assert not answer.missing


@settings(max_examples=15, deadline=None, derandomize=True)
@given(convex(), st.integers(2, 9), st.sampled_from([0, 20]), st.sampled_from(ORDERS))
def test_the_bound_allows_what_is_built_by_hand(points: Any, count: int, kerf: int, order: Any) -> None:
    """Blocks as large as a box of two, whichever: two a block are possible, so no more can be needed."""
    outline = turned_points(points, 0.0)
    length, width = max(x for x, _ in outline), max(y for _, y in outline)
    piece = Piece.slab("p", length, width, 20, count, QUARTERS, points=outline)
    for box in pair_boxes(outline, QUARTERS, kerf):
        block = Block("K", box.dx / 10, box.dy / 10, 20)
        answer = checked(BlockProblem((block,), (piece,), kerf=Kerfs(0, kerf / 10), order=order))
        assert answer.bound <= -(-count // 2)
        assert answer.value <= -(-count // 2)


def answered() -> tuple[BlockProblem, Answer]:
    """One pair in a block, a cut of 2 between the two: the second triangle is 2.9 further on one way."""
    problem = BlockProblem((Block("K", 102.9, 100, 50),), (triangles(2),), kerf=2)
    return problem, checked(problem)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"turn": 90.0}, "are not one outline turned by 180 degrees"),
        ({"x": 2.8}, "measure 102.8 mm along x, their box 102.9"),
        ({"x": 3.0}, "the usable area ends at 102.9"),
    ],
)
def test_the_verifier_finds_what_is_wrong_with_a_pair(change: dict[str, Any], words: str) -> None:
    """Turned otherwise, moved nearer, moved out of the box."""
    problem, answer = answered()
    (layout,) = answer.layouts
    second = next(n for n, place in enumerate(layout.placements) if place.x > 0)
    places = list(layout.placements)
    places[second] = replace(places[second], **change)
    with pytest.raises(LayoutError, match=words):
        verify(problem, replace(answer, layouts=(replace(layout, placements=tuple(places)),)))


def test_the_verifier_measures_the_saw_cut_of_a_pair() -> None:
    """The answer for a cut of 2 is refused where the cut is 2.1; a pair of boxes always is."""
    problem, answer = answered()
    with pytest.raises(LayoutError, match=r"are 2.05\d* mm apart; the saw cut is 2.1 mm"):
        verify(replace(problem, kerf=Kerfs(2.1, 2.1)), answer)
    (layout,) = answer.layouts
    leaf = CutNode(0, 0, 100, 100, piece=0, pair=1, height=50)
    boxes = (Placement("b", 0, 0), Placement("b", 0, 0))
    plain = BlockProblem((Block("K", 100, 100, 50),), (Piece.slab("b", 100, 100, 50, 2),))
    with pytest.raises(LayoutError, match="which only pieces with an outline may"):
        verify(plain, replace(answer, layouts=(replace(layout, placements=boxes, length=100, cuts=leaf),)))


def test_an_outline_must_be_as_large_as_it_says_and_lie_square() -> None:
    """Sizes that differ, odd turns and standing are refused."""
    with pytest.raises(ProblemError, match="measures 100 x 100 mm, but 100 x 90 mm are given"):
        Piece.slab("t", 100, 90, 50, points=TRIANGLE)
    with pytest.raises(ProblemError, match="turns of a slab must be 0, 90, 180 or 270"):
        Piece.slab("t", 100, 100, 50, turns=(45.0,), points=TRIANGLE)
    with pytest.raises(ProblemError, match="only slabs that are boxes can stand"):
        Piece.slab("t", 100, 100, 50, standing=True, points=TRIANGLE)
