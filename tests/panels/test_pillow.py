"""Pillow gussets, pillow panels and yokes."""

import pytest
import shapely

from nesting.panels import Dims, PanelError
from nesting.panels.pillow import pillow_gusset, pillow_panel, yoke

QUEEN = Dims(1524, 2032, 350)  # US queen, 60 x 80 in: sizes as sold in the US
KING = Dims(1500, 2000, 350)  # UK king: common practice


def test_queen_gusset_is_the_worked_example(roll):
    """50 + 24 = 74 high; (7018.2 + 4 x 24) / 4 = 1778.6 -> 1779; arithmetic."""
    (shape,) = pillow_gusset(
        QUEEN, roll, gusset_height=50, plain_seam=12, ease=0.005, corner_radius=75, strips=4
    )
    assert (shape.length, shape.width, shape.count) == (1779, 74, 4)


def test_gusset_of_an_inset_pillow_is_shorter(roll):
    """Pillow 1460 x 1960: perimeter 6840, in two (6840 + 48) / 2 = 3444; arithmetic."""
    (shape,) = pillow_gusset(KING, roll, gusset_height=50, plain_seam=12, ease=0.0, inset=20, strips=2)
    assert shape.length == 3444


def test_pillow_panel_is_a_top_panel_set_in(roll):
    """2032 - 40 + 40 = 2032 by 1524 - 40 + 40 = 1524 with inset 20, s 15, c 5; arithmetic."""
    (shape,) = pillow_panel(QUEEN, roll, seam=15, crown=5, inset=20)
    assert (shape.length, shape.width) == (2032, 1524)


@pytest.mark.parametrize("inset", [762, -1])
def test_inset_that_leaves_no_pillow_is_refused(roll, inset):
    """Half of 1524 is 762."""
    with pytest.raises(PanelError, match=f"inset = {inset}: allowed: 0 to less than 762 mm"):
        pillow_panel(QUEEN, roll, seam=15, crown=5, inset=inset)


def test_gusset_without_height_is_refused(roll):
    """Even though its seams alone would have a height."""
    with pytest.raises(PanelError, match="gusset_height = 0: allowed: above 0"):
        pillow_gusset(QUEEN, roll, gusset_height=0, plain_seam=12, ease=0.0)


def test_yoke_without_strip_width_is_a_full_sheet(roll):
    """2000 + 24 by 1500 + 24; arithmetic."""
    (shape,) = yoke(KING, roll, plain_seam=12)
    assert (shape.length, shape.width, shape.outline) == (2024, 1524, ())


def test_mitred_yoke_strips_have_their_slanted_edges_moved_out_too(roll):
    """Outer cut edge 2000 + 24 x 2.41421 = 2057.9 -> 2058, width 120 + 24 = 144; 1557.9 -> 1558.

    Inner cut edge 2000 - 240 + 24 x 0.41421 = 1769.9; arithmetic.
    """
    side, end = yoke(KING, roll, plain_seam=12, strip_width=120)
    assert (side.length, side.width, side.count, side.suffix) == (2058, 144, 2, "-L")
    assert (end.length, end.width, end.count, end.suffix) == (1558, 144, 2, "-W")
    inner = [x for x, y in side.outline if y == 144]
    assert max(inner) - min(inner) == pytest.approx(1769.9, abs=0.2)
    assert shapely.Polygon(side.outline).is_valid


def test_square_yoke_strips_meet_inside_the_side_strips(roll):
    """2024 and 1500 - 240 + 24 = 1284; arithmetic."""
    side, end = yoke(KING, roll, plain_seam=12, strip_width=120, corners="square", corner_radius=75)
    assert (side.length, end.length, side.outline) == (2024, 1284, ())
    assert side.note == "Trim outer corners to radius 75 after joining."


def test_yoke_strips_that_meet_in_the_middle_are_refused(roll):
    """Half of 1500 is 750."""
    with pytest.raises(PanelError, match="strip_width = 750: allowed: less than 750 mm"):
        yoke(KING, roll, plain_seam=12, strip_width=750)
