"""Rounding, contraction, thickness and counting, the same for all generators."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.model import Mark, RollMaterial
from nesting.panels import CutShape, Dims, PanelError
from nesting.panels.shaping import check_dims, check_radius, cut, merged, midpoints, whole_mm_up

BLAME = ("seam", 15.0)


@pytest.mark.parametrize(("value", "expected"), [(1564.0, 1564), (1564.0000000001, 1564), (1564.01, 1565)])
def test_cloth_is_rounded_up_but_not_by_floating_point_noise(value, expected):
    """A thousandth of a mm counts, a rounding error of the computer does not."""
    assert whole_mm_up(value) == expected


def test_contraction_is_divided_not_added(quilted_later):
    """2072 / 0.96 = 2158.3 and 1564 / 0.98 = 1595.9; arithmetic. Adding 4 % would give 2155."""
    shape = cut(2072, 1564, quilted_later, limited_by=BLAME)
    assert (shape.length, shape.width) == (2159, 1596)


@settings(deadline=None)
@given(st.floats(1, 5000), st.floats(1, 5000), st.floats(0, 0.5), st.floats(0, 0.5))
def test_quilted_cloth_is_never_too_small_nor_a_whole_mm_too_large(length, width, along, across):
    """After contraction at least the wanted size is left; one mm less would not do."""
    material = RollMaterial(
        key="c", name="C", width=2200, roll_length=1, contraction_along=along, contraction_across=across
    )
    shape = cut(length, width, material, limited_by=BLAME)
    assert shape.length * (1 - along) >= length - 1e-5
    assert shape.width * (1 - across) >= width - 1e-5
    assert (shape.length - 1) * (1 - along) < length
    assert (shape.width - 1) * (1 - across) < width


def test_boards_and_slabs_keep_tenths(sheet, block):
    """A saw is set to the tenth; sizes in inches keep theirs: 54 in = 1371.6."""
    assert cut(1371.6, 900.04, sheet, limited_by=BLAME).length == 1371.6
    assert cut(1371.6, 900.04, block, limited_by=BLAME, thickness=100).width == 900.0


def test_only_slabs_have_a_thickness(roll, sheet, block):
    """The thickness of a roll or board is its own."""
    assert cut(100, 100, roll, limited_by=BLAME, thickness=20).thickness is None
    assert cut(100, 100, sheet, limited_by=BLAME, thickness=20).thickness is None
    assert cut(100, 100, block, limited_by=BLAME, thickness=20).thickness == 20
    with pytest.raises(PanelError, match=r"thickness = 0.0: allowed: at least 1 mm"):
        cut(100, 100, block, limited_by=BLAME)


def test_outline_and_marks_stretch_with_the_cloth(quilted_later):
    """480 / 0.96 = 500 and 490 / 0.98 = 500; arithmetic."""
    triangle = ((0.0, 0.0), (480.0, 0.0), (0.0, 490.0))
    marks = [Mark("drill", ((240.0, 98.0),), "hole")]
    shape = cut(480, 490, quilted_later, limited_by=BLAME, outline=triangle, marks=marks)
    assert shape.outline == ((0, 0), (500, 0), (0, 500))
    assert shape.marks == (Mark("drill", ((250.0, 100.0),), "hole"),)


@pytest.mark.parametrize("length", [0.0, -20.0, 0.5, math.nan, math.inf])
def test_nothing_left_blames_the_parameter_and_says_what_is_left(roll, length):
    """The message names the value a person wrote, not an inner figure."""
    with pytest.raises(PanelError, match=r"seam = 15.0: allowed: values that leave a part; these give"):
        cut(length, 100, roll, limited_by=BLAME)


@pytest.mark.parametrize(
    ("dims", "name"),
    [(Dims(0, 2000, 250), "width"), (Dims(900, math.nan, 250), "length"), (Dims(900, 2000), "height")],
)
def test_absurd_finished_sizes_are_named(dims, name):
    """Width, length and, where it matters, height."""
    with pytest.raises(PanelError, match=f"^{name} = .*at least 1 mm"):
        check_dims(dims, height=True)


def test_radius_message_gives_the_most_that_fits():
    """Half of 900."""
    check_radius(450, 900, 2000)
    with pytest.raises(PanelError, match="corner_radius = 451: allowed: 0 to 450 mm, half the shorter side"):
        check_radius(451, 900, 2000)


def test_midpoints_are_notched_on_each_side():
    """Bottom, right, top and left."""
    points = [mark.points[0] for mark in midpoints(2000, 900)]
    assert points == [(1000, 0), (2000, 450), (1000, 900), (0, 450)]
    assert {mark.kind for mark in midpoints(2000, 900)} == {"notch"}


def test_equal_shapes_are_counted_and_different_ones_numbered():
    """Order is kept."""
    one, two = CutShape(length=100, width=50), CutShape(length=100, width=60, count=2)
    assert merged([one, one, one], "strip") == (replace(one, count=3),)
    assert merged([one, two, one], "strip") == (
        replace(one, count=2, suffix="-1", title="strip 1"),
        replace(two, count=2, suffix="-2", title="strip 2"),
    )
