"""Clipping, spreading and scales."""

from __future__ import annotations

from itertools import pairwise

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.sketch import clipped, scale_steps, spread


def test_clipping_keeps_what_lies_between() -> None:
    """A square of 10 between 4 and 6 leaves an area of 20, and nothing outside remains."""
    square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
    assert shapely.Polygon(clipped(square, 4, 6)).area == pytest.approx(20)
    assert clipped(square, 20, 30) == []


@given(st.lists(st.floats(0, 100), min_size=1, max_size=20), st.floats(0.5, 10))
def test_spread_labels_keep_order_distance_and_limits(wanted: list[float], distance: float) -> None:
    """Closer than asked only when there is no room."""
    places = spread(sorted(wanted), distance, 0, 100)
    least = min(distance, 100 / max(1, len(places) - 1))
    assert all(b - a >= least - 1e-6 for a, b in pairwise(places))
    assert all(-1e-6 <= place <= 100 + 1e-6 for place in places)


def test_scales_are_round() -> None:
    """From the first that is small enough; beyond the last there is only the last."""
    assert scale_steps(21.0)[:2] == (25, 30)
    assert scale_steps(5000.0) == (1000,)
