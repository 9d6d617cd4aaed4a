"""Plain panels."""

import pytest

from nesting.panels import Dims, PanelError
from nesting.panels.plain import plain_panel


def test_plain_panel_adds_its_seam_on_each_edge(roll):
    """1000 + 24 by 500 + 24; arithmetic."""
    (shape,) = plain_panel(Dims(500, 1000), roll, seam=12)
    assert (shape.length, shape.width) == (1024, 524)


def test_plain_panel_has_no_seam_unless_asked(sheet):
    """The size is the cut size."""
    (shape,) = plain_panel(Dims(500.5, 1000), sheet)
    assert (shape.length, shape.width, shape.thickness) == (1000, 500.5, None)


def test_plain_slab_needs_a_thickness(block):
    """A slab of no thickness is a slip."""
    (shape,) = plain_panel(Dims(500, 1000), block, thickness=30)
    assert shape.thickness == 30
    with pytest.raises(PanelError, match=r"thickness = 0.0"):
        plain_panel(Dims(500, 1000), block)


def test_plain_panel_without_width_is_refused(roll):
    """A formula gave nothing."""
    with pytest.raises(PanelError, match="width = 0: allowed: at least 1 mm"):
        plain_panel(Dims(0, 1000), roll)
