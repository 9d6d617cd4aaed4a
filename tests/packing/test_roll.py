"""Rolls: markers, gaps, exact fits, and what free placement makes of chunks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from nesting.packing import Answer, Piece, RollProblem, Status, solve, verify
from nesting.packing.grid import Kinds
from nesting.packing.roll.chunks import Chunk, RollGrid
from nesting.packing.roll.free import Stretch, Strip, renest
from nesting.packing.search import Search


def checked(problem: RollProblem, effort: float = 3.0) -> Answer:
    answer = solve(problem, time_limit=None, effort=effort)
    verify(problem, answer)
    return answer


# --- Markers ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stages", [None, 2, 3, "any"])
def test_a_marker_as_long_as_the_longest_piece_is_enough(stages: Any) -> None:
    """Three of 1900 and six of 600 on a table of 1900: one long piece or three short ones a marker.

    Width 900 takes one of 900 across, so 3 * 1900 + 2 * 1800 (arithmetic).
    """
    pieces = (Piece.rectangle("long", 1900, 900, 3, (0,)), Piece.rectangle("short", 600, 900, 6, (0,)))
    answer = checked(RollProblem(900, pieces, stages=stages, max_marker_length=1900))
    assert answer.length == 3 * 1900 + 2 * 1800
    assert max(layout.length for layout in answer.layouts) == 1900


@pytest.mark.parametrize("stages", [None, 2, 3])
def test_gaps_are_kept_within_markers_and_none_is_needed_between_them(stages: Any) -> None:
    """Four of 500 with a gap of 10: 2030 in a row, 1010 in each of two markers."""
    pieces = (Piece.rectangle("a", 500, 900, 4, (0,)),)
    answer = checked(RollProblem(900, pieces, gap=10, stages=stages, max_marker_length=1010))
    assert [(layout.length, layout.repeats) for layout in answer.layouts] == [(1010, 2)]
    assert answer.length == 2020


def test_many_kinds_on_markers_get_a_complete_plan() -> None:
    """Hundreds of single pieces, each of its own size, on a table that takes a few of them."""
    rng = np.random.default_rng(5)
    sizes = rng.integers(200, 2000, (300, 2)).tolist()
    pieces = tuple(Piece.rectangle(str(n), a, b, 1, (0, 90)) for n, (a, b) in enumerate(sizes))
    answer = checked(RollProblem(2150, pieces, max_marker_length=6000), effort=1)
    assert not answer.missing
    assert max(layout.length for layout in answer.layouts) <= 6000
    assert answer.gap < 0.15


# --- Sizes --------------------------------------------------------------------------------------------


def test_reasons_name_the_measures_as_they_are_counted() -> None:
    """A twentieth of a millimetre too wide is too wide by one step of a tenth, and so it is said."""
    wide = Piece.rectangle("wide", 100, 2150.05, turns=(0, 180))
    answer = checked(RollProblem(2150, (wide, Piece.rectangle("good", 100, 2150, turns=(0,)))))
    assert answer.missing["wide"].reason == (
        "needs 2150.1 mm across the roll, usable width is 2150.0 mm: 0.1 mm too wide"
    )
    assert answer.length == 100
    long = Piece.rectangle("long", 700.3, 10, turns=(0,))
    answer = checked(RollProblem(2150, (long,), max_marker_length=700.29))
    assert answer.missing["long"].reason == (
        "needs 700.3 mm along the roll, the longest marker is 700.2 mm: 0.1 mm too long"
    )


def test_a_piece_that_fits_only_turned_is_turned() -> None:
    """2200 along 2150 fits only along the roll; without that turn it is missing."""
    assert checked(RollProblem(2150, (Piece.rectangle("a", 1000, 2200),))).length == 2200
    assert checked(RollProblem(2150, (Piece.rectangle("a", 1000, 2200, turns=(0, 180)),))).missing


def test_nap_panels_are_never_turned() -> None:
    """With turn 0 alone every placement has turn 0."""
    pieces = tuple(Piece.rectangle(str(n), 90 + 10 * n, 40 + 7 * n, 3, (0,)) for n in range(6))
    answer = checked(RollProblem(200, pieces))
    assert {p.turn for layout in answer.layouts for p in layout.placements} == {0.0}


def test_outlines_and_rectangles_in_one_box_share_a_kind() -> None:
    """A triangle and a rectangle of one box lie wherever the other may; both are told apart again."""
    box = Piece.rectangle("box", 400, 300, 3, (0, 180))
    triangle = Piece.polygon("tri", [(0, 0), (400, 0), (0, 300)], 3, (0, 180))
    answer = checked(RollProblem(300, (box, triangle)))
    assert answer.length == 6 * 400
    assert answer.bound <= 3 * 400 + 3 * 200
    assert "bounding rectangle" in answer.notes[0]


def test_a_long_order_of_one_piece_ends_at_once() -> None:
    """A million alike: two across a width of 1000 leave 100, which the bar bound proves. 400 a pair."""
    answer = checked(RollProblem(1000, (Piece.rectangle("a", 400, 450, 10**6, (0,)),)))
    assert (answer.length, answer.status) == (400 * 500_000, Status.OPTIMAL)


# --- Free placement -----------------------------------------------------------------------------------


def roll_grid(sizes: list[tuple[int, int, int]], width: int, **more: Any) -> RollGrid:
    pieces = tuple(Piece.rectangle(str(n), a, b, q, (0, 90)) for n, (a, b, q) in enumerate(sizes))
    return RollGrid(RollProblem(width, pieces, **more), Kinds.of(pieces))


def test_a_stretch_with_nothing_to_swap_does_not_search_on() -> None:
    """Copies of one kind in one order: after one round of lengths there is nothing more to try."""
    grid = roll_grid([(7, 4, 20)], 15)
    search: Search[Chunk] = Search(effort_limit=10**9)
    stretch = Stretch(grid, grid.demand)
    stretch.shorten(search, stretch.lower, None)
    assert search.draft is not None
    assert search.effort < 10**6


def test_a_stretch_may_fail_within_a_longest_length() -> None:
    """What cannot be placed is no draft; nothing is said of how far it came."""
    grid = roll_grid([(10, 10, 3)], 15)
    search: Search[Chunk] = Search(effort_limit=10**6)
    stretch = Stretch(grid, grid.demand)
    stretch.shorten(search, stretch.lower, 250)
    assert search.draft is None


def test_renesting_shortens_a_poor_plan() -> None:
    """Two chunks of one piece each, 10 x 5 on a width of 10: side by side they take half the length."""
    grid = roll_grid([(10, 5, 2)], 10)
    poor = Chunk(((0, 0, 0, 0),), 100)
    search: Search[Any] = Search(effort_limit=10**7)
    search.offer(grid.value(((poor, 2),)), ((poor, 2),))
    renest(grid, search)
    assert search.value == 100


def test_very_many_single_pieces_are_nested_on_several_stretches(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a low limit on one filling the same pieces go on more stretches, and none is lost."""
    monkeypatch.setattr("nesting.packing.roll.free.LONGEST_FILL", 2_000)
    rng = np.random.default_rng(2)
    grid = roll_grid([(int(a), int(b), 1) for a, b in rng.integers(10, 90, (120, 2))], 300)
    search: Search[Any] = Search(effort_limit=10**6)
    Strip(grid).improve(search)
    assert len(search.draft) == 4
    held = sum(chunk.counts(grid.demand.size) * repeats for chunk, repeats in search.draft)
    assert held.tolist() == grid.demand.tolist()
    assert search.value <= 1.2 * float((grid.area * grid.demand).sum()) / grid.width


def without_waste(rng: np.random.Generator, pieces: int, length: int, width: int) -> list[tuple[int, int]]:
    """A rectangle cut into up to so many, by straight cuts and by pinwheels of five (sizes along, across)."""
    rects = [(length, width)]
    while len(rects) < pieces:
        rects.sort(key=lambda rect: rect[0] * rect[1] * rng.uniform(0.3, 1.0))
        along, across = rects.pop()
        if min(along, across) > 3 and len(rects) + 5 <= pieces and rng.random() < 0.4:
            a, b = sorted(rng.choice(np.arange(1, along), 2, replace=False).tolist())
            c, d = sorted(rng.choice(np.arange(1, across), 2, replace=False).tolist())
            rects += [(b, c), (along - b, d), (along - a, across - d), (a, across - c), (b - a, d - c)]
        elif along > across:
            cut = int(rng.integers(1, along))
            rects += [(cut, across), (along - cut, across)]
        else:
            cut = int(rng.integers(1, across))
            rects += [(along, cut), (along, across - cut)]
    return rects


@pytest.mark.parametrize("number", range(8))
@pytest.mark.parametrize("turns", [(0,), (0, 90)], ids=["one-way", "turnable"])
def test_small_packings_without_waste_are_found(number: int, turns: tuple[int, ...]) -> None:
    """Rectangles that were cut from one go back into it without waste (by construction)."""
    rng = np.random.default_rng(number)
    sizes = without_waste(rng, 6 + number, 45, 40)
    pieces = tuple(Piece.rectangle(str(n), a, b, 1, turns) for n, (a, b) in enumerate(sizes))
    answer = checked(RollProblem(40, pieces), effort=100)
    assert (answer.length, answer.status) == (45, Status.OPTIMAL)


@pytest.mark.parametrize("times", [1, 20])
def test_stages_prove_nothing_where_cuts_are_free(times: int) -> None:
    """A pinwheel fills its square; sections of three stages take more, and their bound is theirs alone.

    Hand-worked: 2 of 300 x 200, 2 of 200 x 300 and one of 100 x 100 around a centre fill 500 x 500,
    and no straight cut crosses the square, on markers of one square each.
    """
    pieces = (
        Piece.rectangle("a", 300, 200, 2 * times, (0,)),
        Piece.rectangle("b", 200, 300, 2 * times, (0,)),
        Piece.rectangle("c", 100, 100, times, (0,)),
    )
    problem = RollProblem(500, pieces, max_marker_length=500)
    free = checked(problem, effort=50)
    staged = checked(replace(problem, stages=3), effort=50)
    assert free.bound <= 500 * times < staged.bound <= staged.length
    if times == 1:
        assert (free.length, free.status) == (500, Status.OPTIMAL)


@pytest.mark.parametrize("stages", [2, 3])
def test_very_many_kinds_are_cut_in_parts(stages: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a low limit on kinds the same pieces are planned in parts, and none is lost."""
    rng = np.random.default_rng(8)
    sizes = rng.integers(100, 1500, (60, 2)).tolist()
    pieces = tuple(Piece.rectangle(str(n), a, b, 1 + n % 3, (0, 90)) for n, (a, b) in enumerate(sizes))
    problem = RollProblem(1600, pieces, stages=stages, max_marker_length=5000)
    whole = checked(problem, effort=5)
    monkeypatch.setattr("nesting.packing.roll.sections.MOST_AT_ONCE", 25)
    parted = checked(problem, effort=5)
    assert not parted.missing
    assert parted.bound <= whole.length <= parted.length <= 1.2 * whole.length
