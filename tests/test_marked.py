"""Lines marked on boxes to cut outlines out of them, by hand."""

import math

import pytest

from nesting.marked import is_straight, marked_box, marked_lines
from nesting.panels.geometry import quarter_round


def test_a_triangle_has_one_straight_line():
    """The long side; what is beyond a cut of 2 in a box of 100 x 100 is half of (100 - 2.83)2."""
    triangle = ((0, 0), (100, 0), (0, 100))
    box = marked_box([triangle], 100, 100, 2)
    assert box.lines == (((100, 0), (0, 100)),)
    assert box.straight
    assert box.offcuts == pytest.approx((100 - 2 * math.sqrt(2)) ** 2 / 2)


def test_a_quarter_round_has_one_curve_from_corner_to_corner():
    """The first and the last tangent lie along the sides of the box and belong to the curve."""
    (line,) = marked_lines(quarter_round(150), 150, 150)
    assert (line[0], line[-1]) == ((150, 0), (0, 150))
    assert not is_straight(line)
    box = marked_box([quarter_round(150)], 150, 150, 0)
    assert box.offcuts == pytest.approx((1 - math.pi / 4) * 150**2, rel=0.005)


def test_two_cut_off_corners_are_two_lines():
    """A trapezoid whose short side lies along the box."""
    lines = marked_lines(((0, 0), (200, 0), (170, 30), (30, 30)), 200, 30)
    assert lines == (((200, 0), (170, 30)), ((30, 30), (0, 0)))


def test_an_outline_that_fills_its_box_has_no_line():
    """Nothing to cut, nothing left."""
    box = marked_box([((0, 0), (10, 0), (10, 5), (0, 5))], 10, 5, 1)
    assert (box.lines, box.offcuts) == ((), 0)
