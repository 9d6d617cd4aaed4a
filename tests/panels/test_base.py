"""Base borders, non-slip tops and dust covers."""

import pytest

from nesting.model import Mark
from nesting.panels import Dims, PanelError
from nesting.panels.base import base_border, dust_cover, non_slip_top

FRAME = Dims(1500, 2000, 330)  # UK king frame: common practice
USUAL = {"turnover": 80, "plain_seam": 12, "staple": 50}  # common practice


def test_base_border_is_the_worked_example(roll):
    """330 + 80 + 12 + 50 = 472 high; 7000 + 2 x 24 = 7048 in two strips of 3524; arithmetic."""
    (shape,) = base_border(FRAME, roll, strips=2, **USUAL)
    assert (shape.length, shape.width, shape.count) == (3524, 472, 2)


def test_base_border_marks_folds_and_corners(roll):
    """Folds 50 and 50 + 330 from the lower edge. Joins lie at the middle of the sides, 1000 from the
    corners, so notches lie at 1012 and 1012 + 1500 = 2512; arithmetic.
    """
    (shape,) = base_border(FRAME, roll, strips=2, **USUAL)
    assert shape.marks == (
        Mark("fold", ((0.0, 50.0), (3524.0, 50.0))),
        Mark("fold", ((0.0, 380.0), (3524.0, 380.0))),
        Mark("notch", ((1012.0, 472.0),), "corner"),
        Mark("notch", ((2512.0, 472.0),), "corner"),
    )


def test_base_border_without_turnover_needs_no_notches(roll):
    """330 + 12 + 50 = 392 high; only the lower fold is left."""
    (shape,) = base_border(FRAME, roll, strips=2, turnover=0, plain_seam=12, staple=50)
    assert shape.width == 392
    assert [mark.kind for mark in shape.marks] == ["fold"]


def test_split_base_has_two_rings(roll):
    """Two bases 750 x 2000: perimeter 5500, one strip each: 5500 + 24 = 5524; arithmetic."""
    (shape,) = base_border(FRAME, roll, split="side by side", **USUAL)
    assert (shape.length, shape.count) == (5524, 2)


@pytest.mark.parametrize(
    ("split", "length", "width", "count"),
    # 2000 - 160 + 24, 1500 - 160 + 24; half the width 750 - 136; half the length 1000 - 136. Arithmetic.
    [("none", 1864, 1364, 1), ("side by side", 1864, 614, 2), ("lengthwise", 864, 1364, 2)],
)
def test_non_slip_top_is_the_worked_example(roll, split, length, width, count):
    """W - 2 f + 2 s by L - 2 f + 2 s, of each base."""
    (shape,) = non_slip_top(FRAME, roll, turnover=80, plain_seam=12, split=split)
    assert (shape.length, shape.width, shape.count) == (length, width, count)


@pytest.mark.parametrize(
    ("split", "length", "width", "count"),
    # 2000 - 20 + 40, 1500 - 20 + 40; half the width 750 + 20; half the length 1000 + 20. Arithmetic.
    [("none", 2020, 1520, 1), ("side by side", 2020, 770, 2), ("lengthwise", 1020, 1520, 2)],
)
def test_dust_cover_is_the_worked_example(roll, split, length, width, count):
    """W - 2 u + 2 t by L - 2 u + 2 t, of each base."""
    (shape,) = dust_cover(FRAME, roll, cover_inset=10, cover_turn_under=20, split=split)
    assert (shape.length, shape.width, shape.count) == (length, width, count)


def test_nothing_left_of_top_or_cover_is_refused(roll):
    """The blame goes to the turn-over and the inset."""
    with pytest.raises(PanelError, match=r"turnover = 800: .*-76.0 mm"):
        non_slip_top(FRAME, roll, turnover=800, plain_seam=12)
    with pytest.raises(PanelError, match="cover_inset = 750"):
        dust_cover(FRAME, roll, cover_inset=750, cover_turn_under=0)
