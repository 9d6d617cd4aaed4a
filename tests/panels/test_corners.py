"""Corner supports."""

from dataclasses import replace

import pytest
import shapely

from nesting.model import Mark
from nesting.panels import Dims, PanelError
from nesting.panels.corners import corner_support

KING = Dims(1500, 2000, 250)  # UK king: common practice


def test_square_supports_are_slabs(block):
    """Four of 150 x 150 x 180."""
    (shape,) = corner_support(KING, block, corner_leg=150, thickness=180)
    assert (shape.length, shape.width, shape.thickness, shape.count) == (150, 150, 180, 4)


@pytest.mark.parametrize("supports", [4, 3])
def test_two_triangles_come_from_one_slab(block, supports):
    """Triangles are counted; slabs are paired over all orders."""
    (shape,) = corner_support(KING, block, corner_leg=150, thickness=180, shape="triangle", supports=supports)
    assert (shape.length, shape.width, shape.count, shape.per_slab) == (150, 150, supports, 2)
    assert shape.marks == (Mark("seam", ((150.0, 0.0), (0.0, 150.0)), "saw"),)


def test_slab_for_triangles_allows_for_the_diagonal_cut(block):
    """A kerf of 2 takes 1.414 from both legs: 151.4; arithmetic."""
    (shape,) = corner_support(KING, replace(block, kerf=2), corner_leg=150, thickness=180, shape="triangle")
    assert shape.length == 151.4


def test_shapes_from_sheets_are_cut_true(sheet):
    """150^2 / 2 = 11 250; pi x 150^2 / 4 = 17 671 plus at most the tolerance on the arc."""
    (triangle,) = corner_support(KING, sheet, corner_leg=150, shape="triangle")
    (quarter,) = corner_support(KING, sheet, corner_leg=150, shape="quarter round")
    assert shapely.Polygon(triangle.outline).area == 11_250
    assert 17_671 <= shapely.Polygon(quarter.outline).area <= 17_671 + 236 * 0.1
    assert (triangle.count, quarter.count) == (4, 4)


def test_quarter_round_from_a_block_is_rounded_afterwards(block):
    """Slabs are rectangles."""
    (shape,) = corner_support(KING, block, corner_leg=150, thickness=180, shape="quarter round")
    assert (shape.outline, shape.count, shape.note) == ((), 4, "Round one corner to radius 150.")


def test_absurd_supports_are_refused(block):
    """Half of 1500 is 750."""
    with pytest.raises(PanelError, match="corner_leg = 751: allowed: above 0 to 750 mm"):
        corner_support(KING, block, corner_leg=751, thickness=180)
    with pytest.raises(PanelError, match="supports = 0"):
        corner_support(KING, block, corner_leg=150, thickness=180, supports=0)
    with pytest.raises(PanelError, match=r"thickness = 0.0"):
        corner_support(KING, block, corner_leg=150)
