"""Corner supports."""

import pytest
import shapely

from nesting.model import SheetMaterial
from nesting.panels import Dims, PanelError
from nesting.panels.corners import corner_support

KING = Dims(1500, 2000, 250)  # UK king: common practice


def test_square_supports_are_slabs(block):
    """Four of 150 x 150 x 180."""
    (shape,) = corner_support(KING, block, corner_leg=150, thickness=180)
    assert (shape.length, shape.width, shape.thickness, shape.count) == (150, 150, 180, 4)


def test_shapes_from_sheets_are_cut_true(sheet):
    """150^2 / 2 = 11 250; pi x 150^2 / 4 = 17 671 plus at most the tolerance on the arc."""
    (triangle,) = corner_support(KING, sheet, corner_leg=150, shape="triangle")
    (quarter,) = corner_support(KING, sheet, corner_leg=150, shape="quarter round")
    assert shapely.Polygon(triangle.outline).area == 11_250
    assert 17_671 <= shapely.Polygon(quarter.outline).area <= 17_671 + 236 * 0.1
    assert (triangle.count, quarter.count) == (4, 4)


def test_shapes_from_blocks_are_outlines_too(block):
    """As many as are wanted, with what the cutter must know; a box of one would be 150 x 150."""
    for shape, machine in (("triangle", "Saw the long side"), ("quarter round", "contour cutter")):
        (made,) = corner_support(KING, block, corner_leg=150, thickness=180, shape=shape, supports=3)
        (flat,) = corner_support(KING, replace_kind(block), corner_leg=150, shape=shape, supports=3)
        assert (made.outline, made.thickness, made.count) == (flat.outline, 180, 3)
        assert machine in made.note
        assert not flat.note


def replace_kind(block):
    """The same foam as a sheet."""
    return SheetMaterial(key=block.key, name=block.name, length=block.length, width=block.width)


def test_only_square_supports_from_blocks_may_stand(block):
    """Outlines are cut from above, and sheets have no side."""
    (made,) = corner_support(KING, block, corner_leg=150, thickness=180, standing=True)
    assert made.standing
    for material, shape in ((block, "triangle"), (replace_kind(block), "square")):
        with pytest.raises(PanelError, match="standing = True: allowed: true for plain slabs from a block"):
            corner_support(KING, material, corner_leg=150, thickness=180, shape=shape, standing=True)


def test_absurd_supports_are_refused(block):
    """Half of 1500 is 750."""
    with pytest.raises(PanelError, match="corner_leg = 751: allowed: above 0 to 750 mm"):
        corner_support(KING, block, corner_leg=751, thickness=180)
    with pytest.raises(PanelError, match="supports = 0"):
        corner_support(KING, block, corner_leg=150, thickness=180, supports=0)
    with pytest.raises(PanelError, match=r"thickness = 0.0"):
        corner_support(KING, block, corner_leg=150)
