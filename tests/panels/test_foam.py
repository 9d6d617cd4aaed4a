"""Foam slabs, convoluted pads, rails and edge strips."""

import pytest
import shapely

from nesting.model import Mark
from nesting.panels import Dims, PanelError
from nesting.panels.foam import convoluted_pad, edge_support, foam_rails, foam_slab

QUEEN = Dims(1524, 2032, 250)  # US queen, 60 x 80 in: sizes as sold in the US
RAILS = {"foam_oversize": 10, "rail_width": 90, "rail_height": 180}


def volume(shapes):
    """m3 of rectangular slabs."""
    return sum(shape.length * shape.width * shape.thickness * shape.count for shape in shapes) / 1e9


def test_core_is_the_worked_example(block):
    """1524 + 10 by 2032 + 10; arithmetic with an oversize of 10 (common practice)."""
    (shape,) = foam_slab(QUEEN, block, foam_oversize=10, thickness=150)
    assert (shape.length, shape.width, shape.thickness, shape.count) == (2042, 1534, 150, 1)


def test_comfort_layer_is_set_in_on_each_side(block):
    """2042 - 6 by 1534 - 6; arithmetic."""
    (shape,) = foam_slab(QUEEN, block, foam_oversize=10, thickness=40, inset=3)
    assert (shape.length, shape.width) == (2036, 1528)


def test_laminated_core_counts_equal_slabs(block):
    """50 + 50 is one kind of slab twice; 50 + 30 + 50 is two kinds. 2 % more thickness: 51 and 30.6."""
    (twice,) = foam_slab(QUEEN, block, foam_oversize=10, thickness=100, thicknesses=(50, 50))
    assert (twice.thickness, twice.count) == (50, 2)
    thick, thin = foam_slab(
        QUEEN, block, foam_oversize=10, thickness=130, thicknesses=(50, 30, 50), thickness_oversize=0.02
    )
    assert (thick.thickness, thick.count, thick.suffix) == (51, 2, "-1")
    assert (thin.thickness, thin.count, thin.suffix) == (30.6, 1, "-2")


def test_thicknesses_that_do_not_add_up_are_refused(block):
    """50 + 40 is not 100."""
    with pytest.raises(PanelError, match="add up to 100 mm; these add up to 90"):
        foam_slab(QUEEN, block, foam_oversize=10, thickness=100, thicknesses=(50, 40))


def test_one_roll_has_one_thickness(roll):
    """Two slabs of 20 come from the roll; 20 and 30 do not."""
    (twice,) = foam_slab(QUEEN, roll, foam_oversize=10, thickness=40, thicknesses=(20, 20))
    assert (twice.thickness, twice.count) == (None, 2)
    with pytest.raises(PanelError, match="slabs of one thickness: 'Cloth' has no other"):
        foam_slab(QUEEN, roll, foam_oversize=10, thickness=50, thicknesses=(20, 30))


def test_slab_without_thickness_or_size_is_refused(block):
    """Each names its parameter."""
    with pytest.raises(PanelError, match="thickness = 0: allowed: at least 1 mm"):
        foam_slab(QUEEN, block, foam_oversize=10, thickness=0)
    with pytest.raises(PanelError, match="inset = 800"):
        foam_slab(QUEEN, block, foam_oversize=10, thickness=50, inset=800)


@pytest.mark.parametrize("pads", [1, 2, 3])
def test_two_convoluted_pads_come_from_one_slab(block, pads):
    """Overall 45, peaks 30, so base 15: slab 2 x 15 + 30 = 60; arithmetic. Pads are counted, not slabs."""
    (shape,) = convoluted_pad(QUEEN, block, foam_oversize=0, thickness=45, peak=30, pads=pads)
    assert (shape.thickness, shape.count, shape.per_slab) == (60, pads, 2)
    assert shape.note == "Split into two interlocking pads 45 thick, peaks 30."


def test_absurd_convoluted_pads_are_refused(block):
    """Peaks as high as the pad, or no pad."""
    with pytest.raises(PanelError, match="peak = 45: allowed: above 0 and less than 45 mm"):
        convoluted_pad(QUEEN, block, foam_oversize=0, thickness=45, peak=45)
    with pytest.raises(PanelError, match="pads = 0"):
        convoluted_pad(QUEEN, block, foam_oversize=0, thickness=45, peak=30, pads=0)


def test_butt_rails_are_the_worked_example(block):
    """2042 x 90 x 180 and 1354 x 90 x 180, two of each: 0.11003 m3, 3.08 kg at 28 kg/m3; arithmetic."""
    side, end = foam_rails(QUEEN, block, **RAILS)
    assert (side.length, side.width, side.thickness, side.count, side.suffix) == (2042, 90, 180, 2, "-L")
    assert (end.length, end.width, end.thickness, end.count, end.suffix) == (1354, 90, 180, 2, "-W")
    assert volume([side, end]) == pytest.approx(0.11003, abs=0.000005)
    assert volume([side, end]) * block.density == pytest.approx(3.08, abs=0.005)


def test_rails_between_corner_blocks_are_shorter_by_two_legs(block):
    """2042 - 300 and 1534 - 300; arithmetic."""
    side, end = foam_rails(QUEEN, block, corners="blocks", corner_leg=150, **RAILS)
    assert (side.length, end.length) == (1742, 1234)


def test_mitred_rails_from_sheets_are_trapezoids(sheet):
    """Edges 2042 and 1862, 90 apart: 175 680 mm2; arithmetic."""
    side, end = foam_rails(QUEEN, sheet, corners="mitred", **RAILS)
    assert shapely.Polygon(side.outline).area == pytest.approx(175_680)
    assert (end.length, end.thickness, end.note) == (1534, None, "")


def test_mitred_rails_from_a_block_are_sawn_square_and_marked(block):
    """Slabs are rectangles; the two mitre lines run in at 45 degrees from the outer corners."""
    side, _ = foam_rails(QUEEN, block, corners="mitred", **RAILS)
    assert (side.length, side.outline) == (2042, ())
    assert side.marks == (
        Mark("seam", ((0.0, 0.0), (90.0, 90.0)), "mitre"),
        Mark("seam", ((2042.0, 0.0), (1952.0, 90.0)), "mitre"),
    )
    assert "45 degrees" in side.note


def test_rails_and_strips_from_a_block_may_stand_where_that_is_asked(block, sheet):
    """Grain does not matter to them; slabs for sleeping surfaces have no such option."""
    assert all(rail.standing for rail in foam_rails(QUEEN, block, standing=True, **RAILS))
    assert not any(rail.standing for rail in foam_rails(QUEEN, block, **RAILS))
    (strip,) = edge_support(QUEEN, block, strip_width=60, thickness=40, standing=True)
    assert strip.standing
    with pytest.raises(PanelError, match="standing = True: allowed: true for plain slabs from a block only"):
        edge_support(QUEEN, sheet, strip_width=60, standing=True)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rail_width": 767}, "rail_width = 767: allowed: above 0 and less than 767 mm"),
        ({"corner_leg": 150}, 'corner_leg = 150: allowed: 0 unless corners = "blocks"'),
        ({"corners": "blocks"}, "corner_leg = 0.0: allowed: from the rail width, 90, to less than 767 mm"),
        ({"rail_height": 0}, "thickness = 0"),
    ],
)
def test_absurd_rails_are_refused(block, change, message):
    """Each message names the value to change."""
    with pytest.raises(PanelError, match=message):
        foam_rails(QUEEN, block, **{**RAILS, **change})


def test_edge_support_runs_along_the_sides(block):
    """2032 - 2 x 100; arithmetic. A length of its own replaces that of the bed."""
    (shape,) = edge_support(QUEEN, block, strip_width=120, thickness=50, inset=100)
    assert (shape.length, shape.width, shape.thickness, shape.count) == (1832, 120, 50, 2)
    (own,) = edge_support(QUEEN, block, strip_width=120, thickness=50, strip_length=1000, strips=4)
    assert (own.length, own.count) == (1000, 4)


def test_absurd_edge_supports_are_refused(roll):
    """No strip, no width, no length."""
    with pytest.raises(PanelError, match="strips = 0"):
        edge_support(QUEEN, roll, strip_width=120, strips=0)
    with pytest.raises(PanelError, match="strip_width = 0"):
        edge_support(QUEEN, roll, strip_width=0)
    with pytest.raises(PanelError, match="inset = 1016"):
        edge_support(QUEEN, roll, strip_width=120, inset=1016)
