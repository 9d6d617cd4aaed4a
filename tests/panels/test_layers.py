"""Insulator pads and fibre layers."""

import pytest

from nesting.panels import Dims, PanelError
from nesting.panels.layers import fibre_layer, insulator_pad

QUEEN = Dims(1524, 2032, 250)  # US queen, 60 x 80 in: sizes as sold in the US


def test_insulator_inside_foam_rails_is_the_worked_example(roll):
    """Plan 1534 x 2042, rails 90: opening 1354 x 1862; pad - 2 x 10 = 1334 x 1842; arithmetic."""
    (shape,) = insulator_pad(QUEEN, roll, foam_oversize=10, pad_inset=10, rail_width=90)
    assert (shape.length, shape.width) == (1842, 1334)


def test_insulator_follows_a_given_spring_unit(roll):
    """1862 - 20 by 1354 - 20, whatever the rails; arithmetic."""
    (shape,) = insulator_pad(
        QUEEN, roll, foam_oversize=10, pad_inset=10, spring_length=1862, spring_width=1354
    )
    assert (shape.length, shape.width) == (1842, 1334)


def test_half_a_spring_size_is_refused(roll):
    """Both or neither."""
    with pytest.raises(PanelError, match=r"spring_width = 0.0: allowed: both spring_length and spring_width"):
        insulator_pad(QUEEN, roll, foam_oversize=10, pad_inset=10, spring_length=1862)


@pytest.mark.parametrize(
    ("pad_inset", "rail_width", "blamed"), [(800, 0, "pad_inset = 800"), (10, 800, "rail_width = 800")]
)
def test_pad_of_no_size_blames_what_took_it(roll, pad_inset, rail_width, blamed):
    """The inset or the rails."""
    with pytest.raises(PanelError, match=blamed):
        insulator_pad(QUEEN, roll, foam_oversize=10, pad_inset=pad_inset, rail_width=rail_width)


def test_fibre_layers_are_counted_and_may_be_undersize(roll):
    """2032 - 20 by 1524 - 20, three of them; arithmetic."""
    (shape,) = fibre_layer(QUEEN, roll, oversize=-20, layers=3)
    assert (shape.length, shape.width, shape.count) == (2012, 1504, 3)


def test_fibre_layer_may_have_rounded_corners(roll):
    """The outline fills the box."""
    (shape,) = fibre_layer(QUEEN, roll, corner_radius=75)
    assert max(x for x, _ in shape.outline) == 2032
    with pytest.raises(PanelError, match="corner_radius = 763"):
        fibre_layer(QUEEN, roll, corner_radius=763)


def test_no_layers_or_no_size_is_refused(roll):
    """Both are slips."""
    with pytest.raises(PanelError, match="layers = 0: allowed: 1 or more"):
        fibre_layer(QUEEN, roll, layers=0)
    with pytest.raises(PanelError, match="oversize = -400"):
        fibre_layer(Dims(400, 800), roll, oversize=-400, corner_radius=50)
