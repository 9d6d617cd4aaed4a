"""Sheets: trims, kerfs, several sizes, stock that runs out, and free placement."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from nesting.errors import LayoutError
from nesting.packing import Answer, Piece, Sheet, SheetProblem, Status, Trim, solve, verify

ALL_STAGES = [None, 2, 3, "any"]


def checked(problem: SheetProblem, effort: float = 3.0) -> Answer:
    answer = solve(problem, time_limit=None, effort=effort)
    verify(problem, answer)
    return answer


@pytest.mark.parametrize("stages", ALL_STAGES)
def test_kerfs_lie_between_pieces_and_trims_outside_them(stages: Any) -> None:
    """1000 less 10 and 20 is 970: three of 320 and two kerfs of 5 take it all; 5.1 is too much."""
    trim = Trim(10, 20, 15, 25)
    pieces = (Piece.rectangle("a", 320, 960, 6, (0,)),)
    sheet = (Sheet("S", 1000, 1000),)
    answer = checked(SheetProblem(sheet, pieces, kerf=5, trim=trim, stages=stages))
    assert (answer.cost, answer.status) == (2, Status.OPTIMAL)
    (layout,) = answer.layouts
    assert sorted(p.x for p in layout.placements) == [10, 335, 660]
    assert {p.y for p in layout.placements} == {15}
    assert checked(SheetProblem(sheet, pieces, kerf=5.1, trim=trim, stages=stages)).cost == 3


@pytest.mark.parametrize("stages", ALL_STAGES)
def test_a_rest_without_rims_goes_first_where_it_is_cheaper(stages: Any) -> None:
    """A rest of 645 x 960 takes two of 320 with a kerf of 5 to its very edges; two need a new sheet."""
    pieces = (Piece.rectangle("a", 320, 960, 4, (0,)),)
    sheets = (Sheet("new", 1000, 1000, 10.0), Sheet("rest", 645, 960, 3.0, 1, Trim()))
    problem = SheetProblem(sheets, pieces, kerf=5, trim=20, stages=stages)
    answer = checked(problem)
    assert answer.cost == 13
    (rest,) = (layout for layout in answer.layouts if layout.stock_key == "rest")
    assert sorted((p.x, p.y) for p in rest.placements) == [(0, 0), (325, 0)]
    with pytest.raises(LayoutError, match="starts before x 20"):
        verify(replace(problem, sheets=(sheets[0], replace(sheets[1], trim=None))), answer)


@pytest.mark.parametrize("stages", ALL_STAGES)
def test_a_piece_as_large_as_the_sheet_takes_one_each(stages: Any) -> None:
    """Exact fits on both sides, off the tenths."""
    problem = SheetProblem(
        (Sheet("S", 1234.56, 789.01),), (Piece.rectangle("a", 1234.5, 789, 7, (0,)),), kerf=4, stages=stages
    )
    assert checked(problem).cost == 7


def test_a_sheet_that_the_trims_eat_up_is_no_sheet() -> None:
    """With another size on offer that one is taken; alone, all pieces are missing with the reason."""
    small, large = Sheet("small", 90, 500, 0.1), Sheet("large", 1000, 500)
    piece = Piece.rectangle("a", 300, 300, 2)
    answer = checked(SheetProblem((small, large), (piece,), trim=50))
    assert {layout.stock_key for layout in answer.layouts} == {"large"}
    answer = checked(SheetProblem((small,), (piece,), trim=50))
    assert answer.missing["a"].quantity == 2
    assert answer.missing["a"].reason == (
        "measures 300.0 x 300.0 mm and fits no sheet in an allowed turn; "
        "the largest usable sheet is 0.0 x 400.0 mm"
    )
    assert answer.status is Status.INCOMPLETE


@pytest.mark.parametrize("stages", ALL_STAGES)
def test_the_cheaper_size_is_bought(stages: Any) -> None:
    """Four of 500 x 500: one sheet 1000 x 1000 for 3 beats four of 500 x 500 for 1 each."""
    sheets = (Sheet("quarter", 500, 500, 1), Sheet("whole", 1000, 1000, 3))
    answer = checked(SheetProblem(sheets, (Piece.rectangle("a", 500, 500, 4),), stages=stages))
    assert (answer.cost, answer.status) == (3, Status.OPTIMAL)
    answer = checked(SheetProblem(sheets, (Piece.rectangle("a", 500, 500, 5),), stages=stages))
    assert answer.cost == 4


@pytest.mark.parametrize("stages", ALL_STAGES)
def test_scarce_sheets_are_shared_out_so_that_all_fits(stages: Any) -> None:
    """One 1000 long, one 900: 600 + 400 on the first, 500 + 400 on the other; any other way one is left."""
    sheets = (Sheet("A", 1000, 600, available=1), Sheet("B", 900, 600, available=1))
    pieces = (
        Piece.rectangle("600", 600, 600, 1, (0,)),
        Piece.rectangle("500", 500, 600, 1, (0,)),
        Piece.rectangle("400", 400, 600, 2, (0,)),
    )
    answer = checked(SheetProblem(sheets, pieces, stages=stages))
    assert not answer.missing
    assert answer.cost == 2


@pytest.mark.parametrize("stages", ALL_STAGES)
def test_used_up_stock_is_said_and_nothing_is_lost(stages: Any) -> None:
    """Two sheets hold eight of 500 x 500; two of ten are missing. With no sheet at all ten are."""
    piece = Piece.rectangle("a", 500, 500, 10)
    answer = checked(SheetProblem((Sheet("S", 1000, 1000, available=2),), (piece,), stages=stages))
    assert answer.missing["a"] == (2, "the stock on hand is used up")
    answer = checked(SheetProblem((Sheet("S", 1000, 1000, available=0),), (piece,), stages=stages))
    assert answer.missing["a"] == (10, "the stock on hand is used up")
    assert answer.layouts == ()


def test_staged_layouts_carry_their_cuts_and_free_ones_none() -> None:
    """A guillotine plan can be followed cut by cut."""
    pieces = (Piece.rectangle("a", 400, 300, 5), Piece.rectangle("b", 250, 200, 5))
    for stages in ALL_STAGES:
        answer = checked(SheetProblem((Sheet("S", 1000, 1000),), pieces, kerf=3, stages=stages))  # type: ignore[arg-type]
        assert all((layout.cuts is None) == (stages is None) for layout in answer.layouts)


def test_the_first_cut_may_go_either_way_without_a_limit_on_stages() -> None:
    """Strips of the full length of a sheet, of two widths, and a column across them.

    1000 x 600: 700 long strips of 250 and 350 high, and 300 x 600 beside them, in two stages and a
    trim; turned about, 1000 long strips over a row of pieces need the first cut along the sheet.
    """
    pieces = (
        Piece.rectangle("strip", 1000, 200, 1, (0,)),
        Piece.rectangle("left", 300, 400, 1, (0,)),
        Piece.rectangle("right", 700, 400, 1, (0,)),
    )
    sheet = (Sheet("S", 1000, 600),)
    assert checked(SheetProblem(sheet, pieces, stages="any")).cost == 1
    # With the first cuts across the length the strip cannot lie beside both others.
    assert checked(SheetProblem(sheet, pieces, stages=2)).cost == 2


def test_free_placement_finds_a_pinwheel_that_no_straight_cut_divides() -> None:
    """Four pieces around a fifth, on 1000 x 1000 without waste: no cut runs from edge to edge.

    600 x 400 at (0, 0), 350 x 600 at (0, 400), 650 x 450 at (350, 550), 400 x 550 at (600, 0) and
    250 x 150 at (350, 400): together 1 000 000.
    """
    sizes = [(600, 400), (350, 600), (650, 450), (400, 550), (250, 150)]
    pieces = tuple(Piece.rectangle(f"{a} x {b}", a, b, 1, (0,)) for a, b in sizes)
    sheet = (Sheet("S", 1000, 1000),)
    free = checked(SheetProblem(sheet, pieces, stages=None))
    assert (free.cost, free.status) == (1, Status.OPTIMAL)
    assert checked(SheetProblem(sheet, pieces, stages="any")).cost == 2


def test_outlines_are_placed_by_their_boxes() -> None:
    """A thousandth of a square millimetre of area is still a piece."""
    sliver = Piece.polygon("sliver", [(0, 0), (300, 200), (299.99999, 200)], 2)
    answer = checked(SheetProblem((Sheet("S", 500, 500),), (sliver,), stages=None))
    assert not answer.missing
    assert answer.cost == 1


def test_ten_times_the_quantity_is_ten_times_the_sheets_in_as_many_layouts() -> None:
    """Patterns repeat: a thousand beds need no more layouts than ten do, give or take the rests."""
    parts = (("side", 1900, 300, 4), ("end", 880, 300, 4), ("slat", 1850, 95, 40), ("leg", 300, 80, 16))
    answers = []
    for times in (10, 1000):
        pieces = tuple(Piece.rectangle(key, a, b, q * times, (0, 90)) for key, a, b, q in parts)
        answers.append(checked(SheetProblem((Sheet("S", 2440, 1220),), pieces, kerf=3.2, trim=8), effort=20))
    assert answers[1].cost <= 100 * answers[0].cost
    assert len(answers[1].layouts) <= len(answers[0].layouts) + 6


def test_a_pinwheel_of_pieces_that_are_alike_is_found_too() -> None:
    """Hand-worked: two of 300 x 200, two of 200 x 300 and one of 100 x 100 fill 500 x 500."""
    pieces = (
        Piece.rectangle("a", 300, 200, 2, (0,)),
        Piece.rectangle("b", 200, 300, 2, (0,)),
        Piece.rectangle("c", 100, 100, 1, (0,)),
    )
    answer = checked(SheetProblem((Sheet("S", 500, 500),), pieces, stages=None))
    assert (answer.cost, answer.status) == (1, Status.OPTIMAL)
