"""What is seen through a window is what is there, no more and no less."""

from __future__ import annotations

from itertools import pairwise

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.scene import Circle, Layer, Line, Polygon, Style, Text
from nesting.drawing.sketch import Box
from nesting.drawing.window import clipped_lines, clipped_outline, seen

BOX = Box(10.0, 20.0, 60.0, 50.0)
COORDINATE = st.integers(-20, 90)
LINES = st.lists(st.tuples(COORDINATE, COORDINATE), min_size=2, max_size=8)


@given(LINES)
def test_lines_are_cut_where_another_library_cuts_them(points: list[tuple[int, int]]) -> None:
    """Length and place of what is left agree with shapely; a mere touch of the edge does not count."""
    parts = clipped_lines(points, BOX)
    whole = shapely.MultiLineString([pair for pair in pairwise(points) if pair[0] != pair[1]])
    expected = sum(
        shapely.LineString(pair).intersection(shapely.box(*BOX)).length
        for pair in pairwise(points)
        if pair[0] != pair[1]
    )
    found = sum(shapely.LineString(part).length for part in parts)
    assert found == pytest.approx(expected, abs=1e-6)
    for part in parts:
        assert shapely.box(*BOX).buffer(1e-6).covers(shapely.LineString(part))
        assert whole.buffer(1e-6).covers(shapely.LineString(part))


@given(st.lists(st.tuples(COORDINATE, COORDINATE), min_size=3, max_size=7, unique=True))
def test_convex_outlines_are_cut_where_another_library_cuts_them(points: list[tuple[int, int]]) -> None:
    """Area of what is left."""
    hull = shapely.MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon":
        return
    part = clipped_outline(tuple(hull.exterior.coords[:-1]), BOX)
    found = shapely.Polygon(part).area if len(part) > 2 else 0.0
    assert found == pytest.approx(hull.intersection(shapely.box(*BOX)).area, abs=1e-6)


def test_items_inside_stay_and_items_outside_go() -> None:
    """Words that would be cut in two are left out; outlines at the edge are drawn open."""
    inside = Polygon(((20, 25), (30, 25), (30, 35)), Layer.PIECES)
    items = (
        inside,
        Polygon(((100, 100), (110, 100), (110, 110)), Layer.PIECES),
        Text(20, 30, "in", 3.0),
        Text(58, 30, "cut in two", 3.0),
        Circle(30, 30, 5, Layer.MARKS),
        Circle(500, 30, 5, Layer.MARKS),
        Line(((0, 0), (1, 1)), Layer.CUTS),
    )
    assert list(seen(items, BOX)) == [inside, items[2], items[4]]
    arcs = [item for item in seen([Circle(10, 30, 5, Layer.MARKS)], BOX) if isinstance(item, Line)]
    assert min(x for arc in arcs for x, _ in arc.points) == pytest.approx(10.0)
    assert sum(shapely.LineString(arc.points).length for arc in arcs) == pytest.approx(15.708, abs=0.02)
    filled = Polygon(((0, 30), (20, 30), (20, 40), (0, 40)), Layer.PIECES, Style(fill="#FFFFFF"))
    body, edge = seen([filled], BOX)
    assert isinstance(body, Polygon)
    assert body.style is not None
    assert body.style.width == 0.0
    assert isinstance(edge, Line)
    assert edge.points == ((10.0, 30.0), (20.0, 30.0), (20.0, 40.0), (10.0, 40.0))
