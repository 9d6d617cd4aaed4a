"""Headboard faces, backs and boards."""

import math

import pytest
import shapely

from nesting.panels import Dims, PanelError
from nesting.panels.headboard import headboard_back, headboard_board, headboard_panel

BOARD = Dims(1500, 2000, 600)  # a board 1500 wide and 600 high, for a UK king
PULL = {"headboard_foam": 40, "headboard_thickness": 18, "headboard_staple": 40}


def test_straight_face_is_the_worked_example(roll):
    """1500 + 2 x 98 = 1696 by 600 + 196 = 796; arithmetic."""
    (shape,) = headboard_panel(BOARD, roll, **PULL)
    assert (shape.length, shape.width, shape.outline) == (796, 1696, ())
    (railroaded,) = headboard_panel(BOARD, roll, direction="along", **PULL)
    assert (railroaded.length, railroaded.width) == (1696, 796)


def test_back_cloth_is_the_worked_rule(roll):
    """1500 - 20 + 30 by 600 - 20 + 30; arithmetic on common practice."""
    (shape,) = headboard_back(BOARD, roll, back_inset=10, back_turn_under=15, direction="along")
    assert (shape.length, shape.width) == (1510, 610)


def test_arched_face_keeps_the_centre_of_the_arch(roll):
    """Board 1600 wide, rise 200: radius (800^2 + 200^2) / 400 = 1700. Pulled over 100: 1800 x 1000, radius
    1800, area 1800 x 758.846 + 293 499 = 1 659 422; arithmetic.
    """
    (shape,) = headboard_panel(
        Dims(1600, 2000, 800),
        roll,
        headboard_foam=40,
        headboard_thickness=20,
        headboard_staple=40,
        shape="arched",
        rise=200,
        direction="along",
    )
    assert (shape.length, shape.width) == (1800, 1000)
    assert 1_659_421 <= shapely.Polygon(shape.outline).area <= 1_659_423 + 1885 * 0.1


def test_top_of_the_headboard_points_along_the_roll(roll):
    """Laid across, the arch is at the far end in x."""
    (shape,) = headboard_panel(BOARD, roll, shape="arched", rise=150, **PULL)
    assert (shape.length, shape.width) == (796, 1696)
    at_crown = [y for x, y in shape.outline if x == 796]
    at_foot = [y for x, y in shape.outline if x == 0]
    assert max(at_foot) - min(at_foot) == 1696
    assert sum(at_crown) / len(at_crown) == pytest.approx(848)
    assert shapely.Polygon(shape.outline).exterior.is_ccw


def test_clipped_face_is_moved_out_square_to_every_side(roll):
    """Cuts of 150 at 45 degrees, pulled over 98: the top edge starts at 150 + 98 (2 - sqrt 2) = 207.4."""
    (shape,) = headboard_panel(
        BOARD, roll, shape="clipped", clip_across=150, clip_down=150, direction="along", **PULL
    )
    assert (shape.length, shape.width) == (1696, 796)
    top = [x for x, y in shape.outline if y == 796]
    assert min(top) == pytest.approx(207.41, abs=0.01)
    assert max(top) == pytest.approx(1696 - 207.41, abs=0.01)


def test_board_is_cut_to_its_outline_from_a_sheet(sheet):
    """1500 x 600 less two triangles of 150 x 100 / 2; arithmetic."""
    (shape,) = headboard_board(BOARD, sheet, shape="clipped", clip_across=150, clip_down=100)
    assert (shape.length, shape.width, shape.thickness) == (1500, 600, None)
    assert shapely.Polygon(shape.outline).area == pytest.approx(885_000)


def test_foam_from_a_block_is_a_rectangle_shaped_afterwards(block):
    """Oversize 4 in all."""
    (shape,) = headboard_board(BOARD, block, oversize=4, thickness=40, shape="arched", rise=150)
    assert (shape.length, shape.width, shape.thickness, shape.outline) == (1504, 604, 40, ())
    assert shape.note == "Saw to the arched shape of the board."


def test_half_round_headboard_is_possible(sheet):
    """Rise = half the width = height: half a disc of radius 500, 392 699 mm2; arithmetic."""
    (shape,) = headboard_board(Dims(1000, 2000, 500), sheet, shape="arched", rise=500)
    area = shapely.Polygon(shape.outline).area
    assert math.pi * 500**2 / 2 - 1 <= area <= math.pi * 500**2 / 2 + math.pi * 500 * 0.1


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rise": 100}, 'rise = 100: allowed: 0 unless shape = "arched"'),
        ({"shape": "arched", "clip_down": 9}, 'clip_down = 9: allowed: 0 unless shape = "clipped"'),
        ({"shape": "arched"}, "rise = 0.0: allowed: 1 to 600 mm"),
        ({"shape": "arched", "rise": 601}, "rise = 601: allowed: 1 to 600 mm"),
        ({"shape": "clipped", "clip_across": 750, "clip_down": 9}, "clip_across = 750: .*less than 750 mm"),
        ({"shape": "clipped", "clip_across": 100}, "clip_down = 0.0: allowed: above 0 and less than 600 mm"),
    ],
)
def test_absurd_shapes_are_refused(roll, change, message):
    """Each message names the value to change."""
    with pytest.raises(PanelError, match=message):
        headboard_panel(BOARD, roll, **PULL, **change)


def test_back_set_in_beyond_the_shape_is_refused(roll):
    """Nothing is left, or the cut corners would cross."""
    with pytest.raises(PanelError, match=r"back_inset = 400: .*leave a part"):
        headboard_back(BOARD, roll, back_inset=400, back_turn_under=0)
    with pytest.raises(PanelError, match=r"back_inset = 250: .*leave the shape of the board"):
        headboard_back(
            BOARD, roll, back_inset=250, back_turn_under=0, shape="clipped", clip_across=700, clip_down=500
        )


def test_headboard_without_height_is_refused(roll):
    """The height is missing from the model."""
    with pytest.raises(PanelError, match=r"height = 0.0"):
        headboard_panel(Dims(1500, 2000), roll, **PULL)
