"""Outlines, perimeters and areas against closed formulae and shapely."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.panels.geometry import (
    ARC_TOLERANCE,
    arched_rectangle,
    clipped_rectangle,
    flattened_arc,
    offset_convex,
    perimeter,
    polygon_area,
    quarter_round,
    rounded_rectangle,
    rounded_rectangle_area,
    spans,
    to_origin,
    trapezoid,
)

NOISE = 1e-5
FINE_SEGMENTS = 512  # of shapely's quarter circle: off by under 0.01 mm at the radii used here

sides = st.floats(200, 3000).map(lambda value: round(value, 1))
shares = st.floats(0.01, 1.0)


def assert_proper(outline, length, width):
    """Valid, counter-clockwise, its box at the origin and of the stated size."""
    shape = shapely.Polygon(outline)
    assert shape.is_valid
    assert shape.exterior.is_ccw
    assert shape.bounds == pytest.approx((0, 0, length, width), abs=NOISE)
    assert len(set(outline)) == len(outline)
    return shape


def test_perimeter_of_a_rounded_queen_is_the_worked_figure():
    """2 (1524 + 2032) - 1.7168 x 75 = 7112 - 128.76; arithmetic on a US queen with radius 75."""
    assert perimeter(1524, 2032, 75) == pytest.approx(6983.24, abs=0.01)


def test_area_of_a_rounded_rectangle_is_the_worked_figure():
    """1000 x 2000 - 0.8584 x 100^2 = 1 991 416; arithmetic."""
    assert rounded_rectangle_area(1000, 2000, 100) == pytest.approx(1_991_416, abs=1)


def test_radius_of_half_the_side_makes_a_circle():
    """A circle of radius 500: circumference 3141.59, area 785 398; arithmetic."""
    assert perimeter(1000, 1000, 500) == pytest.approx(3141.59, abs=0.01)
    assert rounded_rectangle_area(1000, 1000, 500) == pytest.approx(785_398.2, abs=0.1)


@settings(deadline=None)
@given(sides, sides, shares)
def test_rounded_rectangle_contains_the_true_shape_and_stays_within_tolerance(length, width, share):
    """The flattened outline lies between the true curve and one that is `ARC_TOLERANCE` larger."""
    radius = share * min(length, width) / 2
    shape = assert_proper(rounded_rectangle(length, width, radius), length, width)
    inner = shapely.box(radius, radius, length - radius, width - radius)
    true = inner.buffer(radius, quad_segs=FINE_SEGMENTS)
    assert shape.buffer(NOISE).covers(true)
    assert true.buffer(ARC_TOLERANCE + 0.01).covers(shape)
    assert shape.area >= rounded_rectangle_area(width, length, radius) - 1
    assert (
        shape.area <= rounded_rectangle_area(width, length, radius) + 2 * math.pi * radius * ARC_TOLERANCE + 1
    )


def test_square_corners_need_no_outline():
    """An exact rectangle stays a rectangle."""
    assert rounded_rectangle(2000, 900, 0) == ()


@pytest.mark.parametrize("radius", [-1, 450.1, math.nan])
def test_radius_over_half_the_side_is_refused(radius):
    """A corner cannot be rounder than a half circle."""
    with pytest.raises(ValueError, match="half the shorter side"):
        rounded_rectangle(2000, 900, radius)


@settings(deadline=None)
@given(st.floats(1, 5000), st.floats(0.05, 2 * math.pi), st.booleans())
def test_corners_of_a_flattened_arc_lie_outside_it_by_at_most_the_tolerance(radius, sweep, even):
    """Measured from the centre of the arc."""
    corners = flattened_arc((0.0, 0.0), radius, 0.0, sweep, even=even)
    distances = [math.hypot(x, y) - radius for x, y in corners]
    assert min(distances) >= -NOISE
    assert max(distances) <= ARC_TOLERANCE + NOISE
    assert not even or len(corners) % 2 == 0


def test_number_of_spans_is_the_least_that_holds_the_tolerance():
    """At radius 95: acos(95 / 95.1) = 0.045863, and 1.570796 / (2 x 0.045863) = 17.12, so 18."""
    assert spans(95, math.pi / 2) == 18


@settings(deadline=None)
@given(st.floats(1, 500))
def test_quarter_round_has_the_area_of_a_quarter_circle(leg):
    """``pi b^2 / 4``, plus at most the tolerance along the arc."""
    shape = assert_proper(quarter_round(leg), leg, leg)
    true = math.pi * leg**2 / 4
    assert true - 0.01 <= shape.area <= true + math.pi / 2 * (leg + ARC_TOLERANCE) * ARC_TOLERANCE + 0.01


def test_arched_top_has_the_worked_height_of_side_and_area():
    """w 1800, h 1000, r 1800: side 1000 - (1800 - 1558.846) = 758.846.

    Area 1800 x 758.846 + (1800^2 / 2)(pi/3 - sin 60) = 1 365 923 + 293 499 = 1 659 422; arithmetic.
    """
    outline = arched_rectangle(1800, 1000, 1800)
    shape = assert_proper(outline, 1800, 1000)
    assert outline[2] == pytest.approx((1800, 758.846), abs=0.001)
    arc_length = 1800 * math.pi / 3
    assert 1_659_421 <= shape.area <= 1_659_423 + arc_length * ARC_TOLERANCE


@settings(deadline=None)
@given(st.floats(300, 2500), st.floats(0.5, 4.0))
def test_arched_top_contains_the_true_arch_within_tolerance(width, flatness):
    """Every outline corner above the sides lies outside the arc by at most `ARC_TOLERANCE`."""
    radius = max(width * flatness, width / 2)
    height = radius  # high enough for any arch
    outline = arched_rectangle(width, height, radius)
    assert_proper(outline, width, height)
    for x, y in outline[3:-1]:
        distance = math.hypot(x - width / 2, y - (height - radius)) - radius
        assert -NOISE <= distance <= ARC_TOLERANCE + NOISE


def test_half_circle_standing_on_its_base_has_no_double_corner():
    """Where the arch starts at the lower edge the sides vanish."""
    assert_proper(arched_rectangle(1000, 500, 500), 1000, 500)


def test_arch_higher_than_the_board_is_refused():
    """A half circle of radius 500 does not fit 400."""
    with pytest.raises(ValueError, match="higher than the whole"):
        arched_rectangle(1000, 400, 500)
    with pytest.raises(ValueError, match="at least half the width"):
        arched_rectangle(1000, 800, 499)


def test_trapezoid_has_ends_at_45_degrees():
    """Outer edge 1000, depth 90: inner edge 820."""
    assert trapezoid(1000, 90) == ((0, 0), (1000, 0), (910, 90), (90, 90))
    with pytest.raises(ValueError, match="less than half"):
        trapezoid(1000, 500)


def test_clipped_rectangle_loses_two_triangles():
    """1500 x 600 less two of 150 x 100 / 2 = 885 000 mm2; arithmetic."""
    outline = clipped_rectangle(1500, 600, 150, 100)
    assert assert_proper(outline, 1500, 600).area == pytest.approx(885_000)
    with pytest.raises(ValueError, match="do not fit"):
        clipped_rectangle(1500, 600, 750, 100)


@settings(deadline=None)
@given(
    st.floats(300, 2000), st.floats(300, 2000), st.floats(0.05, 0.9), st.floats(0.05, 0.9), st.floats(1, 150)
)
def test_offset_outline_agrees_with_shapely_mitred_buffer(width, height, across, down, distance):
    """Moving every side out is a buffer with sharp corners."""
    outline = clipped_rectangle(width, height, across * width / 2, down * height)
    moved = shapely.Polygon(offset_convex(outline, distance))
    buffered = shapely.Polygon(outline).buffer(distance, join_style="mitre", mitre_limit=100)
    assert moved.area == pytest.approx(buffered.area, rel=1e-6)
    left, low, right, high = buffered.bounds
    assert moved.bounds == pytest.approx((0, 0, right - left, high - low), abs=NOISE)


def test_offset_that_swallows_a_side_is_refused():
    """The inner edge of this strip is 20 long; moving in by 60 leaves less than nothing."""
    with pytest.raises(ValueError, match="without length"):
        offset_convex(trapezoid(200, 90), -60)


def test_area_is_positive_counter_clockwise_only():
    """A triangle of legs 30 and 40."""
    triangle = [(0.0, 0.0), (30.0, 0.0), (0.0, 40.0)]
    assert polygon_area(triangle) == 600
    assert polygon_area(triangle[::-1]) == -600


def test_outline_moves_to_the_origin():
    """The lower left of the box becomes (0, 0)."""
    assert to_origin([(-5.0, 2.0), (5.0, 2.0), (0.0, 9.0)]) == ((0, 0), (10, 0), (5, 7))
