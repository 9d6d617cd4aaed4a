"""Waxed boards, whole and split on slat lines."""

from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.model import SheetMaterial
from nesting.packing.problem import Trim
from nesting.panels import Dims, PanelError
from nesting.panels.boards import waxed_board

KING = Dims(1500, 2000)  # UK king frame: common practice


def sizes(shapes):
    return [(shape.length, shape.width, shape.count) for shape in shapes]


def slats(shape):
    return [mark.points[0][0] for mark in shape.marks]


def test_board_that_fits_stays_whole(sheet):
    """900 x 1900 less 10 on each side on a sheet of 2440 x 1220; arithmetic."""
    assert sizes(waxed_board(Dims(900, 1900), sheet, board_inset=10)) == [(1880, 880, 1)]


def test_board_may_be_turned_to_fit(sheet):
    """1180 x 1480 fits 2440 x 1220 only on its side."""
    (shape,) = waxed_board(Dims(1500, 1200), sheet, board_inset=10)
    assert (shape.length, shape.width, shape.count) == (1180, 1480, 1)


def test_board_without_slats_is_halved_across(sheet):
    """1980 x 1480: turned, a part may be 1220 long, so two of 990; no join along the middle is needed."""
    assert sizes(waxed_board(KING, sheet, board_inset=10)) == [(990, 1480, 2)]


def test_join_lies_on_the_slat_that_makes_the_longest_part_shortest(sheet):
    """Slats at 100, 300 ... 1900 of the frame: 90, 290 ... 1890 of the board. Parts up to 1220: the join
    may lie at 890 or 1090; both give 1090 and 890. Slats lie 90 from an end and 200 apart on each part.
    """
    shapes = waxed_board(KING, sheet, board_inset=10, slat_pitch=200, first_slat=100)
    assert sorted(sizes(shapes)) == [(890, 1480, 1), (1090, 1480, 1)]
    assert slats(max(shapes, key=lambda shape: shape.length)) == [90, 290, 490, 690, 890]
    assert slats(min(shapes, key=lambda shape: shape.length)) == [90, 290, 490, 690]
    assert {mark.points[1][1] for mark in shapes[0].marks} == {1480}


def test_parts_alike_when_turned_are_one_part(sheet):
    """With a slat in the very middle, 1000 of 2000, both halves have slats 200 apart."""
    shapes = waxed_board(KING, sheet, board_inset=0, slat_pitch=200, first_slat=200)
    assert sizes(shapes) == [(1000, 1500, 2)]
    assert slats(shapes[0]) == [200, 400, 600, 800]


def test_grained_board_is_not_turned_but_split_along_the_middle(sheet):
    """1480 is wider than 1220, so two parts of 740, whole in length."""
    shapes = waxed_board(KING, replace(sheet, grain="two-way"), board_inset=10)
    assert sizes(shapes) == [(1980, 740, 2)]


def test_trims_count(sheet):
    """With 20 lost on each edge a part may be 1180 long; 1180 of board stays whole, 1181 does not."""
    trimmed = replace(sheet, trim=Trim(20, 20, 20, 20))
    assert sizes(waxed_board(Dims(1500, 1180), trimmed, board_inset=0)) == [(1180, 1500, 1)]
    assert sizes(waxed_board(Dims(1500, 1181), trimmed, board_inset=0)) == [(590.5, 1500, 2)]


def test_small_sheets_are_refused():
    """Half of 1480 is 740, wider than a sheet of 700 x 600."""
    small = SheetMaterial(key="b", name="B", length=700, width=600)
    with pytest.raises(
        PanelError, match=r"width = 1500: allowed: half a board no wider than .* 700 x 600 mm"
    ):
        waxed_board(KING, small, board_inset=10)


def test_slats_too_far_apart_are_refused():
    """From 90 to 1590 there is no slat, and the sheet is 1220 long."""
    small = SheetMaterial(key="b", name="B", length=1220, width=1220)
    with pytest.raises(PanelError, match=r"slat_pitch = 1500: .*place the slats nearer"):
        waxed_board(KING, small, board_inset=10, slat_pitch=1500, first_slat=100)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"board_inset": 750}, "board_inset = 750: allowed: less than 750 mm"),
        ({"slat_pitch": 2}, "slat_pitch = 2: allowed: 0, or at least 10 mm"),
        ({"first_slat": 100}, "first_slat = 100: allowed: 0 without a slat_pitch"),
    ],
)
def test_absurd_boards_are_refused(sheet, change, message):
    """Each message names the value to change."""
    with pytest.raises(PanelError, match=message):
        waxed_board(KING, sheet, **{"board_inset": 10, **change})


@settings(deadline=None)
@given(
    st.integers(900, 2200),
    st.integers(700, 1300),
    st.integers(90, 400),
    st.integers(0, 300),
    st.integers(0, 20),
)
def test_split_is_as_good_as_trying_every_set_of_slats(length, sheet_length, pitch, first, inset):
    """Fewest parts, then shortest longest part, against plain enumeration on a sheet that is not turned."""
    material = SheetMaterial(key="b", name="B", length=sheet_length, width=2000, grain="one-way")
    board = length - 2 * inset
    lines = [line - inset for line in range(first, length, pitch) if 1 <= line - inset <= board - 1]
    best = None
    for joins in range(len(lines) + 1):
        longest = [
            max(end - start for start, end in pairwise([0, *chosen, board]))
            for chosen in combinations(lines, joins)
        ]
        fitting = [value for value in longest if value <= sheet_length]
        if fitting:
            best = (joins + 1, min(fitting))
            break
        if joins > 3:
            break
    assume(best is not None)
    shapes = waxed_board(Dims(1000, length), material, board_inset=inset, slat_pitch=pitch, first_slat=first)
    assert sum(shape.count for shape in shapes) == best[0]
    assert max(shape.length for shape in shapes) == best[1]
    assert sum(shape.length * shape.count for shape in shapes) == pytest.approx(board)
