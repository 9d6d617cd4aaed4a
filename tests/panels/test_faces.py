"""Quilted panels."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.model import RollMaterial
from nesting.panels import Dims, PanelError
from nesting.panels.faces import quilted_panel

QUEEN = Dims(1524, 2032, 250)  # US queen, 60 x 80 in: sizes as sold in the US


def test_queen_panel_is_the_worked_example(roll):
    """1524 + 30 + 10 = 1564 by 2032 + 40 = 2072; arithmetic with s 15, c 5 (common practice)."""
    (shape,) = quilted_panel(QUEEN, roll, seam=15, crown=5)
    assert (shape.length, shape.width, shape.count) == (2072, 1564, 1)
    assert shape.outline == ()
    assert shape.marks == ()


def test_queen_panel_quilted_after_cutting_is_the_worked_example(quilted_later):
    """2072 / 0.96 = 2158.3 -> 2159 along, 1564 / 0.98 = 1595.9 -> 1596 across; arithmetic."""
    (shape,) = quilted_panel(QUEEN, quilted_later, seam=15, crown=5)
    assert (shape.length, shape.width) == (2159, 1596)


def test_cut_corner_is_the_offset_of_the_finished_one(roll):
    """Radius 75 + 15 + 5 = 95, so the area is 2072 x 1564 - 0.8584 x 95^2 = 3 232 861; arithmetic."""
    (shape,) = quilted_panel(QUEEN, roll, seam=15, crown=5, corner_radius=75)
    quarter_circles = 2 * math.pi * 95
    assert 3_232_860 <= shapely.Polygon(shape.outline).area <= 3_232_862 + quarter_circles * 0.1


def test_rounded_corner_becomes_an_ellipse_in_cloth_quilted_later(quilted_later):
    """The corner 95 x 95 is stretched to 98.96 along and 96.94 across; arithmetic: 95 / 0.96, 95 / 0.98."""
    (shape,) = quilted_panel(QUEEN, quilted_later, seam=15, crown=5, corner_radius=75)
    on_lower_edge = [x for x, y in shape.outline if y == 0]
    on_left_edge = [y for x, y in shape.outline if x == 0]
    # A tangent corner lies up to half a span inside the end of the arc: 95 tan(0.0436) = 4.2.
    assert 94.5 <= min(on_lower_edge) <= 99
    assert 92.5 <= min(on_left_edge) <= 97


def test_centre_notches_lie_on_the_middle_of_each_side(roll):
    """Of the cut size 2072 x 1564."""
    (shape,) = quilted_panel(QUEEN, roll, seam=15, crown=5, centre_notches=True)
    assert [mark.points[0] for mark in shape.marks] == [(1036, 0), (2072, 782), (1036, 1564), (0, 782)]


def test_radius_larger_than_half_the_bed_is_refused(roll):
    """Half of 1524 is 762."""
    with pytest.raises(PanelError, match="corner_radius = 800: allowed: 0 to 762 mm"):
        quilted_panel(QUEEN, roll, seam=15, crown=5, corner_radius=800)


@settings(deadline=None)
@given(st.floats(600, 2200), st.floats(1000, 2300), st.floats(0, 300), st.floats(0, 0.1), st.floats(0, 0.1))
def test_contracted_panel_covers_the_wanted_shape(width, length, radius, along, across):
    """After quilting, the finished rounded panel plus its seams still fits into what was cut."""
    material = RollMaterial(
        key="c", name="C", width=2400, roll_length=1, contraction_along=along, contraction_across=across
    )
    (shape,) = quilted_panel(Dims(width, length), material, seam=15, crown=5, corner_radius=radius)
    box = [(0, 0), (shape.length, 0), (shape.length, shape.width), (0, shape.width)]
    after = shapely.Polygon([(x * (1 - along), y * (1 - across)) for x, y in shape.outline or box])
    # The finished panel with sharp 20 mm of seam round its rounded corners, in the middle of what is left.
    finished = shapely.box(radius, radius, length - radius, width - radius)
    wanted = finished.buffer(radius + 20, quad_segs=64) if radius else finished.buffer(20, join_style="mitre")
    left, low, right, high = after.bounds
    moved = shapely.affinity.translate(wanted, (right - left - length) / 2, (high - low - width) / 2)
    assert after.buffer(1e-4).covers(moved)
