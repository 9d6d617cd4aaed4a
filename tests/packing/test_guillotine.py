"""Staged patterns: valued, made, narrowed down and bounded as exhaustive search says."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import cache
from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing import Piece, RollProblem, Sheet, SheetProblem, Status, solve, verify
from nesting.packing.grid import Grid, Kinds, mm
from nesting.packing.guillotine import Pattern, Region, Section
from nesting.packing.roll import search_roll
from nesting.packing.search import Search, Stop
from nesting.packing.sheet import search_sheets
from nesting.packing.solution import CutNode
from nesting.packing.trees import divide, piece_in, sections_tree

few = settings(max_examples=25, deadline=None, derandomize=True)

Stages = Literal[2, 3]

regions = st.tuples(
    st.integers(4, 16),  # length
    st.integers(4, 12),  # width
    st.lists(  # boxes: dx, dy, value, copies
        st.tuples(st.integers(1, 8), st.integers(1, 8), st.integers(1, 9), st.integers(1, 4)),
        min_size=1,
        max_size=4,
    ),
    st.integers(0, 2),  # kerf
    st.sampled_from([2, 3]),  # stages
)


def region_of(case: Any, factor: int = 1) -> Region:
    length, width, boxes, kerf, stages = case
    dx, dy = (np.array(column, np.int64) * factor for column in list(zip(*boxes, strict=True))[:2])
    return Region(length * factor, width * factor, dx, dy, np.arange(len(boxes)), kerf * factor, stages)


def best_by_trying(case: Any) -> float:
    """Most value of any pattern when copies are free: sections along, strips across, boxes in a strip."""
    length, width, boxes, kerf, stages = case

    @cache
    def stack(room: int, widest: int) -> float:
        if stages == 2:
            return max((v for dx, dy, v, _ in boxes if dx <= room and dy <= widest), default=0.0)
        return max(
            (v + stack(room - dx - kerf, widest) for dx, dy, v, _ in boxes if dx <= room and dy <= widest),
            default=0.0,
        )

    @cache
    def across(reach: int, room: int) -> float:
        usable = [(dy, stack(reach, dy)) for _, dy, _, _ in boxes if dy <= room]
        return max(
            (worth + across(reach, room - dy - kerf) for dy, worth in usable if worth > 0), default=0.0
        )

    @cache
    def along(room: int) -> float:
        return max(
            (
                across(reach, width) + along(room - reach - kerf)
                for reach in range(1, room + 1)
                if across(reach, width) > 0
            ),
            default=0.0,
        )

    return along(length)


def check_section(section: Section, case: Any, factor: int = 1) -> None:
    """Strips fit across, boxes fit their strips, and the length is that of the longest strip."""
    _, width, boxes, kerf, stages = case
    reach = 0
    for strip in section.strips:
        assert strip.boxes
        assert len(strip.boxes) == 1 or stages == 3
        assert strip.width == factor * max(boxes[box][1] for box in strip.boxes)
        used = sum(boxes[box][0] for box in strip.boxes) + kerf * (len(strip.boxes) - 1)
        reach = max(reach, factor * used)
    assert section.length == reach
    assert sum(s.width for s in section.strips) + factor * kerf * (len(section.strips) - 1) <= factor * width


def check_pattern(pattern: Pattern, counts: Any, limits: Any, case: Any, factor: int = 1) -> None:
    """Sections fit along, and hold what is counted, within the limits."""
    length, _, _, kerf, _ = case
    for section in pattern.sections:
        check_section(section, case, factor)
    used = sum(s.length for s in pattern.sections) + factor * kerf * (len(pattern.sections) - 1)
    assert not pattern.sections or used <= factor * length
    assert np.bincount(list(pattern.boxes), minlength=counts.size).tolist() == counts.tolist()
    assert (counts <= limits).all()


@few
@given(regions)
def test_with_copies_free_the_best_pattern_is_found_and_bounded(case: Any) -> None:
    """Value of the pattern == value by trying everything == upper bound, as nothing is coarsened."""
    region = region_of(case)
    values = np.array([value for _, _, value, _ in case[2]], np.float64)
    plenty = np.full(values.size, 999, np.int64)
    pattern, counts, value = region.pattern(values, plenty, Search())
    check_pattern(pattern, counts, plenty, case)
    expected = best_by_trying(case)
    assert value == values @ counts == pytest.approx(expected)
    assert region.best_value(values, Search()) == pytest.approx(expected)


@few
@given(regions)
def test_within_limits_patterns_are_possible_and_no_better_than_free_ones(case: Any) -> None:
    """Neither searched nor quick patterns use a copy too many."""
    region = region_of(case)
    values = np.array([value for _, _, value, _ in case[2]], np.float64)
    limits = np.array([copies for _, _, _, copies in case[2]], np.int64)
    for pattern, counts in (region.pattern(values, limits, Search())[:2], region.quick_pattern(limits)):
        check_pattern(pattern, counts, limits, case)
        assert values @ counts <= best_by_trying(case) + 1e-9
    fitting = [dx <= case[0] and dy <= case[1] for dx, dy, _, _ in case[2]]
    assert region.quick_pattern(limits)[1].any() == any(fitting)


@few
@given(regions, st.integers(0, 3))
def test_a_pattern_narrowed_down_holds_what_is_asked(case: Any, seed: int) -> None:
    """`only_of` keeps the given counts and closes up what is left."""
    region = region_of(case)
    values = np.array([value for _, _, value, _ in case[2]], np.float64)
    pattern, counts, _ = region.pattern(values, np.full(values.size, 999, np.int64), Search())
    fewer = np.random.default_rng(seed).integers(0, counts + 1)
    check_pattern(region.only_of(pattern, fewer), fewer, counts, case)


@few
@given(regions, st.integers(701, 2_000))
def test_on_a_coarse_grid_patterns_stay_possible_and_bounds_true(case: Any, factor: int) -> None:
    """Sizes off by one step have no common measure, so that the grid must be coarsened."""
    length, width, boxes, kerf, stages = case
    dx = np.array([dx * factor - (n % 2) for n, (dx, *_) in enumerate(boxes)], np.int64)
    dy = np.array([dy * factor - 1 for _, dy, *_ in boxes], np.int64)
    values = np.array([value for _, _, value, _ in boxes], np.float64)
    region = Region(length * factor, width * factor, dx, dy, np.arange(dx.size), kerf * factor, stages)
    pattern, counts, value = region.pattern(values, np.full(values.size, 999, np.int64), Search())
    used = sum(s.length for s in pattern.sections) + kerf * factor * (len(pattern.sections) - 1)
    assert not pattern.sections or used <= length * factor
    for section in pattern.sections:
        across = sum(s.width for s in section.strips) + kerf * factor * (len(section.strips) - 1)
        assert across <= width * factor
    bound = region.best_value(values, Search())
    # Boxes a step smaller fit at least as often as the whole ones do.
    assert bound is not None
    assert bound >= best_by_trying(case) - 1e-9
    assert bound >= value - 1e-9
    assert counts.sum() == len(pattern.boxes)


def test_boxes_smaller_than_a_coarse_step_leave_a_region_without_proof() -> None:
    """A box of 3 steps on a length of 100 000, seen in steps of 20, would seem to be free."""
    region = Region(100_000, 50, np.array([3, 99_989]), np.array([7, 11]), np.arange(2), 0, 3)
    assert region.best_value(np.ones(2), Search()) is None


def test_a_region_without_fitting_boxes_is_empty() -> None:
    """Nothing is made and nothing is worth anything."""
    region = Region(10, 10, np.array([11]), np.array([3]), np.arange(1), 0, 3)
    assert region.empty
    assert region.best_value(np.ones(1), Search()) == 0.0
    assert region.pattern(np.ones(1), np.array([5]), Search())[0] == Pattern(())
    assert region.quick_pattern(np.array([5]))[0] == Pattern(())


def test_only_allowed_boxes_are_used() -> None:
    """A region may be told to leave boxes out."""
    boxes = np.array([4, 5])
    region = Region(10, 10, boxes, boxes, np.arange(2), 0, 3, np.array([True, False]))
    _, counts, _ = region.pattern(np.array([1.0, 9.0]), np.array([9, 9]), Search())
    assert counts.tolist() == [4, 0]


def test_many_boxes_are_sampled_and_still_make_patterns() -> None:
    """With thousands of kinds a selection is looked at; what is made is possible and not poor."""
    rng = np.random.default_rng(3)
    dx, dy = rng.integers(50, 400, (2, 3000))
    region = Region(3000, 2000, dx, dy, np.arange(3000), 3, 3)
    area = (dx * dy).astype(np.float64)
    limits = np.ones(3000, np.int64)
    for pattern, counts in (region.pattern(area, limits, Search())[:2], region.quick_pattern(limits)):
        assert (counts <= limits).all()
        assert sum(s.length for s in pattern.sections) + 3 * (len(pattern.sections) - 1) <= 3000
        assert area @ counts >= 0.8 * 3000 * 2000


# --- Whole problems -----------------------------------------------------------------------------------

pieces_st = st.lists(st.tuples(st.integers(1, 6), st.integers(1, 6), st.booleans()), min_size=1, max_size=5)


def boxes_of(pieces: Any) -> list[list[tuple[int, int]]]:
    return [[(a, b), (b, a)] if turning and a != b else [(a, b)] for a, b, turning in pieces]


def rectangles(pieces: Any) -> tuple[Piece, ...]:
    return tuple(
        Piece.rectangle(str(n), a, b, turns=(0, 90) if turning else (0,))
        for n, (a, b, turning) in enumerate(pieces)
    )


@few
@given(pieces_st, st.integers(6, 12), st.integers(0, 1), st.sampled_from([2, 3]))
def test_staged_rolls_are_bounded_by_the_staged_optimum(
    exact_roll: Callable[..., float], pieces: Any, width: int, gap: int, stages: Stages
) -> None:
    """What is proved never exceeds the optimum over all sections, which no plan undercuts."""
    problem = RollProblem(width, rectangles(pieces), gap=gap, stages=stages)
    search: Search[Any] = Search(effort_limit=2_000_000)
    with suppress(Stop):
        search_roll(problem, Kinds.of(problem.pieces), search)
    optimum = exact_roll(boxes_of(pieces), width, gap, stages)
    # A plan of several markers has no gaps between them, and its bound holds for such plans too.
    assert mm(search.bound) <= optimum <= mm(search.value)
    assert not search.proved or mm(search.value) == optimum


@few
@given(pieces_st, st.integers(6, 9), st.integers(6, 9), st.integers(0, 1), st.sampled_from([2, 3]))
def test_staged_sheets_are_bounded_by_the_staged_optimum(
    exact_sheets: Callable[..., float], pieces: Any, length: int, width: int, kerf: int, stages: Stages
) -> None:
    """What is proved never exceeds the fewest sheets over all patterns, which no plan undercuts."""
    problem = SheetProblem((Sheet("S", length, width),), rectangles(pieces), kerf=kerf, stages=stages)
    search: Search[Any] = Search(effort_limit=2_000_000)
    with suppress(Stop):
        search_sheets(problem, Kinds.of(problem.pieces), search)
    optimum = exact_sheets(boxes_of(pieces), length, width, kerf, stages)
    assert search.bound <= optimum <= search.value
    assert not search.proved or search.value == optimum


def test_a_piece_as_wide_as_the_roll_fits_on_any_grid() -> None:
    """Off every common measure and too fine for the tables, a full width is still a full width."""
    for stages in (2, 3, "any"):
        pieces = (
            Piece.rectangle("full", 2011.7, 2150.3, 4, (0,)),
            Piece.rectangle("long", 8777.1, 1033.9, 3, (0,)),
        )
        problem = RollProblem(2150.3, pieces, stages=stages)  # type: ignore[arg-type]
        answer = solve(problem, time_limit=None, effort=3)
        verify(problem, answer)
        assert not answer.missing
        # Two of 1033.9 lie side by side: 4 full ones, then 2 rows of long ones.
        assert answer.length == pytest.approx(4 * 2011.7 + 2 * 8777.1)


@pytest.mark.parametrize("stages", [2, 3])
def test_a_roll_narrower_than_a_coarse_step_still_takes_its_pieces(stages: Stages) -> None:
    """Tape 2 mm wide and pieces of 40 m: a step that suits the length is wider than the roll."""
    pieces = (
        Piece.rectangle("a", 40_000, 0.6, 7, (0,)),
        Piece.rectangle("b", 30_000, 0.7, 5, (0,)),
        Piece.rectangle("c", 20_000.7, 1.9, 2, (0,)),
    )
    problem = RollProblem(2, pieces, stages=stages)
    answer = solve(problem, time_limit=None, effort=1)
    verify(problem, answer)
    assert not answer.missing


def test_sections_may_come_out_even_where_single_boxes_do_not() -> None:
    """Hand-worked: 3 stages stack 2 x 600 beside 3 x 400 on a width of 1000; no waste, 1200 long."""
    pieces = (Piece.rectangle("a", 600, 500, 2, (0,)), Piece.rectangle("b", 400, 500, 3, (0,)))
    answer = solve(RollProblem(1000, pieces, stages=3), time_limit=None, effort=3)
    assert (answer.length, answer.status) == (1200, Status.OPTIMAL)
    # With two stages a section holds boxes side by side: 600 | 600, 400 | 400, and 400 alone.
    assert solve(RollProblem(1000, pieces, stages=2), time_limit=None, effort=3).length == 1400


# --- Trees --------------------------------------------------------------------------------------------


def test_a_cut_leaves_parts_a_kerf_apart_and_the_rest() -> None:
    """100 along x, parts of 30 and 40 with kerf 2: at 0 and 32, rest from 74 (tenths of a millimetre)."""
    root = divide((0, 0, 0), (100, 50, 0), "x", [(30, lambda c, e: piece_in(c, e, e, 0, 2)), (40, _leaf)], 2)
    assert [(part.x, part.length) for part in root.parts] == [(0.0, 3.0), (3.2, 4.0), (7.4, 2.6)]
    assert [part.piece for part in root.parts] == [0, None, None]


def test_a_rest_thinner_than_the_blade_is_dust() -> None:
    """100 along x, one part of 99 and kerf 2: nothing is left to list."""
    root = divide((0, 0, 0), (100, 50, 0), "x", [(99, _leaf)], 2)
    assert len(root.parts) == 1


def test_what_fills_its_room_needs_no_cut() -> None:
    """A single part as large as the box replaces it; without parts the box is left over."""
    assert divide((0, 0, 0), (100, 50, 0), "x", [(100, _leaf)], 2).axis is None
    assert divide((0, 0, 0), (100, 50, 0), "y", [], 2).parts == ()


def test_a_piece_is_trimmed_along_then_across_then_in_height() -> None:
    """A box larger on all sides needs three trims, in this order."""
    node = piece_in((0, 0, 0), (10, 10, 10), (5, 6, 7), 3, (1, 1, 1))
    axes = []
    while node.axis is not None:
        axes.append(node.axis)
        node = node.parts[0]
    assert axes == ["x", "y", "z"]
    assert (node.piece, node.length, node.width, node.height) == (3, 0.5, 0.6, 0.7)


def test_a_tree_lists_pieces_in_the_order_of_its_pattern() -> None:
    """With the first cut along y the pattern is laid on its side."""
    grid = Grid(Kinds.of([Piece.rectangle("a", 2, 3, 9, (0,)), Piece.rectangle("b", 1, 1, 9, (0,))]))
    region = Region(100, 60, grid.dx, grid.dy, grid.owner, 0, 3)
    pattern, _, _ = region.pattern(np.array([6.0, 1.0]), np.array([3, 4]), Search())
    seen: list[int] = []

    def place(box: int, corner: Any, extent: Any) -> CutNode:
        seen.append(box)
        return piece_in(corner, extent, (int(grid.dx[box]), int(grid.dy[box]), 0), len(seen) - 1, 0)

    sections_tree((0, 0, 0), (100, 60, 0), pattern.sections, grid.dx, grid.dy, 0, place)
    assert tuple(seen) == pattern.boxes


def _leaf(corner: Any, extent: Any) -> CutNode:
    return divide(corner, extent, "x", [], 0)
