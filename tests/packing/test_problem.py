"""What the packing core may be asked, and what it refuses."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import NestingError, ProblemError
from nesting.packing.problem import (
    Bar,
    Block,
    BlockProblem,
    LinearProblem,
    Piece,
    RollProblem,
    Sheet,
    SheetProblem,
    Skins,
    Trim,
    grid_down,
    grid_up,
    turned_points,
)

L_SHAPE = [(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)]


# --- The grid -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "up", "down"),
    [(0.0, 0, 0), (1.0, 10, 10), (0.3, 3, 3), (1784.55, 17846, 17845), (2150.0, 21500, 21500), (0.01, 1, 0)],
)
def test_pieces_are_rounded_up_to_the_grid_and_room_down(length: float, up: int, down: int) -> None:
    """Tenths of a millimetre by hand; 0.3 is a classic of float noise (0.3 / 0.1 is not 3)."""
    assert (grid_up(length), grid_down(length)) == (up, down)


@given(st.integers(0, 10**8))
def test_lengths_on_the_grid_stay_what_they_are(steps: int) -> None:
    """Float noise of tenths never moves a length to the next grid line."""
    assert grid_up(steps / 10) == grid_down(steps / 10) == steps
    assert grid_up(steps * 0.1) == grid_down(steps * 0.1) == steps


# --- Pieces -------------------------------------------------------------------------------------------


def test_a_quarter_turn_swaps_the_sides_of_a_rectangle() -> None:
    """The box is told as length by width after turning."""
    panel = Piece.rectangle("P", 2060, 1560)
    assert panel.box(0) == panel.box(180) == (2060, 1560)
    assert panel.box(90) == panel.box(270) == panel.box(-90) == (1560, 2060)
    assert panel.area == 2060 * 1560


def test_turns_are_counter_clockwise() -> None:
    """A quarter turn takes the corner at the right end of the base to the top of the right side."""
    # By hand: (x, y) becomes (-y, x); the box is then moved 300 to the right.
    turned = turned_points(L_SHAPE, 90)
    assert turned == ((300, 0), (300, 300), (200, 300), (200, 100), (0, 100), (0, 0))


def test_mirroring_flips_in_the_x_axis_before_turning() -> None:
    """The foot of an L goes to the top; then the quarter turn."""
    # By hand: y becomes 300 - y.
    assert turned_points(L_SHAPE, 0, mirrored=True) == (
        (0, 300),
        (300, 300),
        (300, 200),
        (100, 200),
        (100, 0),
        (0, 0),
    )
    # By hand from there: (x, y) becomes (300 - y, x).
    assert turned_points(L_SHAPE, 90, mirrored=True)[1] == (0, 300)


def test_an_outline_may_lie_anywhere_and_run_either_way() -> None:
    """It is moved to the origin, closed once and made counter-clockwise."""
    shifted = [(x + 50, y - 20) for x, y in reversed(L_SHAPE)]
    piece = Piece.polygon("L", [*shifted, shifted[0]])
    assert len(piece.points) == 6
    assert (piece.length, piece.width) == (300, 300)
    assert min(x for x, _ in piece.points) == min(y for _, y in piece.points) == 0
    nexts = piece.points[1:] + piece.points[:1]
    twice = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(piece.points, nexts, strict=True))
    # By hand: 300 x 100 + 100 x 200.
    assert twice / 2 == piece.area == 50_000


def test_the_box_of_a_turned_square_is_its_diagonal() -> None:
    """100 by 100 turned by 45 degrees: 100 times the root of 2, both ways."""
    square = Piece.polygon("S", [(0, 0), (100, 0), (100, 100), (0, 100)], turns=(45,))
    assert square.box(45) == pytest.approx((141.42135623730951, 141.42135623730951))


@given(st.floats(-720, 720), st.booleans())
def test_turning_keeps_all_distances(turn: float, mirrored: bool) -> None:
    """Whatever the turn, the outline stays congruent and lies at the origin."""
    turned = turned_points(L_SHAPE, turn, mirrored)
    assert min(x for x, _ in turned) == min(y for _, y in turned) == 0
    for i, j in ((0, 1), (1, 4), (2, 5)):
        assert math.dist(turned[i], turned[j]) == pytest.approx(math.dist(L_SHAPE[i], L_SHAPE[j]))


def test_pieces_cannot_be_changed() -> None:
    """Values are frozen; a change is a copy."""
    piece = Piece.rectangle("P", 100, 50)
    with pytest.raises(FrozenInstanceError):
        piece.length = 120  # type: ignore[misc]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Piece.rectangle("", 1, 1), "must have a key"),
        (lambda: Piece.rectangle("P", 0, 1), r"Piece 'P': length must be above 0.*got 0"),
        (lambda: Piece.rectangle("P", math.nan, 1), "Piece 'P': length must be above 0.*got nan"),
        (lambda: Piece.rectangle("P", math.inf, 1), "length must be above 0 and at most 10000000 mm"),
        (lambda: Piece.rectangle("P", 1, -3), "Piece 'P': width must be above 0.*got -3"),
        (lambda: Piece.rectangle("P", 1, 1, 0), "quantity must be a whole number from 1"),
        (lambda: Piece.rectangle("P", 1, 1, 1.5), "quantity must be a whole number.*got 1.5"),  # type: ignore[arg-type]
        (lambda: Piece.rectangle("P", 1, 1, True), "quantity must be a whole number.*got True"),
        (lambda: Piece.rectangle("P", 1, 1, turns=()), "at least one turn"),
        (lambda: Piece.rectangle("P", 1, 1, turns=(45,)), "must be 0, 90, 180 or 270"),
        (lambda: Piece.polygon("P", [(0, 0), (1, 1)]), "at least 3 corners, got 2"),
        (lambda: Piece.polygon("P", [(0, 0), (1, 1), (1, 0), (0, 1)]), "crosses itself or has no area"),
        (lambda: Piece.polygon("P", [(0, 0), (1, 1), (2, 2)]), "crosses itself or has no area"),
        (lambda: Piece.polygon("P", [(0, 0), (math.nan, 1), (1, 0)]), "two finite numbers"),
        (lambda: Piece.slab("P", 1, 1, 0), "thickness must be above 0"),
        (lambda: Piece.linear("P", -1), "length must be above 0"),
    ],
)
def test_impossible_pieces_are_refused(make, words: str) -> None:  # type: ignore[no-untyped-def]
    """The message names the piece, the value and what is allowed."""
    with pytest.raises(ProblemError, match=words):
        make()


# --- Problems -----------------------------------------------------------------------------------------

PANEL = Piece.rectangle("P", 100, 50)
SLAB = Piece.slab("P", 100, 50, 20)
LENGTH = Piece.linear("P", 100)
SHEET = Sheet("S", 1000, 500)
BLOCK = Block("K", 1000, 500, 300)
BAR = Bar("B", 1000)


def test_one_number_trims_all_edges_of_a_sheet_and_all_faces_of_a_block() -> None:
    """A number is spread over the edges; a `Trim` is taken as it is."""
    assert SheetProblem((SHEET,), (PANEL,), trim=10).rims_of(SHEET) == Trim(10, 10, 10, 10)
    assert BlockProblem((BLOCK,), (SLAB,), trim=15).skins == Skins(15, 15, 15, 15, 15, 15)
    own = Trim(x0=1, y1=2)
    assert SheetProblem((SHEET,), (PANEL,), trim=own).rims_of(SHEET) == own
    rest = Sheet("rest", 900, 700, trim=Trim())
    assert SheetProblem((SHEET, rest), (PANEL,), trim=own).rims_of(rest) == Trim()


def test_lists_of_pieces_become_tuples() -> None:
    """A problem keeps its own copy, so that nobody can change it later."""
    pieces = [PANEL]
    problem = RollProblem(2150, pieces)  # type: ignore[arg-type]
    pieces.append(PANEL)
    assert problem.pieces == (PANEL,)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: RollProblem(0, (PANEL,)), "width must be above 0"),
        (lambda: RollProblem(2150, ()), "at least one piece"),
        (lambda: RollProblem(2150, (PANEL, PANEL)), "Piece 'P' is listed twice"),
        (lambda: RollProblem(2150, (SLAB,)), "Piece 'P': must not have a thickness"),
        (lambda: RollProblem(2150, (LENGTH,)), "Piece 'P': needs a width"),
        (lambda: RollProblem(2150, (PANEL,), gap=-1), "gap must be 0 or more"),
        (lambda: RollProblem(2150, (PANEL,), stages=4), "stages must be None, 2, 3 or 'any', got 4"),  # type: ignore[arg-type]
        (lambda: RollProblem(2150, (PANEL,), max_marker_length=0), "max_marker_length must be above 0"),
        (lambda: SheetProblem((), (PANEL,)), "at least one sheet"),
        (lambda: SheetProblem((SHEET, SHEET), (PANEL,)), "sheet 'S' is listed twice"),
        (lambda: SheetProblem((SHEET,), (PANEL,), kerf=math.nan), "kerf must be 0 or more"),
        (lambda: SheetProblem((SHEET,), (PANEL,), trim=-1), "trim x0 must be 0 or more"),
        (lambda: Sheet("S", 0, 500), "Sheet 'S': length must be above 0"),
        (lambda: Sheet("S", 1, 1, cost=0), "Sheet 'S': cost must be above 0"),
        (lambda: Sheet("S", 1, 1, available=-1), "Sheet 'S': available must be a whole number from 0"),
        (lambda: BlockProblem((BLOCK,), (PANEL,)), "Piece 'P': needs a thickness"),
        (lambda: BlockProblem((BLOCK,), (SLAB,), order="any"), "order must be 'slit first'"),  # type: ignore[arg-type]
        (lambda: Block("K", 1, 1, -1), "Block 'K': height must be above 0"),
        (lambda: LinearProblem((BAR,), (PANEL,)), "Piece 'P': must not have a width"),
        (lambda: LinearProblem((), (LENGTH,)), "at least one bar"),
        (lambda: Piece.linear("P", 100, joins=-1), "Piece 'P': joins must be a whole number from 0"),
        (lambda: Piece.linear("P", 100, joins=1), "a part must be longer than the 0 mm"),
        (lambda: Piece.linear("P", 100, joins=1, least=20, seam=10), "longer than the 20 mm that its two"),
        (lambda: Piece("P", 100, 50, joins=1, least=20), "only lengths cut from bars can be joined"),
        (lambda: Bar("B", math.inf), "Bar 'B': length must be above 0"),
    ],
)
def test_contradictory_problems_are_refused(make, words: str) -> None:  # type: ignore[no-untyped-def]
    """The message names what is wrong; it is a `ValueError` as well as one of ours."""
    with pytest.raises(ProblemError, match=words) as caught:
        make()
    assert isinstance(caught.value, ValueError)
    assert isinstance(caught.value, NestingError)
