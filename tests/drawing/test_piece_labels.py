"""What is written on a piece."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.lettering import text_width
from nesting.drawing.piece_art import mark_items
from nesting.drawing.piece_labels import Words, clear_rooms, draw_label, inner_box
from nesting.drawing.scene import Polygon, Text, extent
from nesting.drawing.sketch import Box, Sketch
from nesting.model import Mark

CHOICES = (
    (Words("12", 1.35, True), Words("TP queen"), Words("2072 x 1564")),
    (Words("12  2072 x 1564"),),
    (Words("12"),),
)


def _label(width: float, height: float) -> list[Text]:
    sketch = Sketch()
    draw_label(sketch, CHOICES, (Box(0, 0, width, height),), 3.2, 2.0)
    return [item for item in sketch.items if isinstance(item, Text)]


def test_a_large_piece_says_everything() -> None:
    """Number, name and size, at the greatest letters allowed."""
    texts = _label(80, 60)
    assert [text.words for text in texts] == ["12", "TP queen", "2072 x 1564"]
    assert texts[1].size == pytest.approx(3.2)


def test_a_long_low_strip_says_it_in_one_line() -> None:
    """A strip of 75 mm at 1:25 is 3 mm high."""
    texts = _label(80, 3)
    assert [text.words for text in texts] == ["12  2072 x 1564"]
    assert texts[0].size >= 2.0


def test_a_tall_narrow_strip_is_written_upright() -> None:
    """Turned a quarter, so that it reads from the right."""
    texts = _label(3, 80)
    assert [(text.words, text.turn) for text in texts] == [("12  2072 x 1564", 90.0)]


def test_a_small_piece_shows_its_number_only() -> None:
    """And a tiny one nothing, rather than letters nobody can read."""
    assert [text.words for text in _label(6, 4)] == ["12"]
    assert _label(2, 1) == []


@given(st.floats(1, 100), st.floats(1, 100))
def test_labels_never_leave_their_piece(width: float, height: float) -> None:
    """Whatever the room, all words stand inside it and none is smaller than allowed."""
    for text in _label(width, height):
        half = text_width(text.words, text.size, text.bold) / 2.0
        assert text.size >= 2.0 - 1e-6
        if text.turn:
            box = (text.x - text.size, text.y - half, text.x, text.y + half)
        else:
            box = (text.x - half, text.y, text.x + half, text.y + text.size)
        assert box[0] >= 0 and box[1] >= 0 and box[2] <= width and box[3] <= height


@given(st.lists(st.floats(20, 50), min_size=5, max_size=12))
def test_room_for_a_label_lies_inside_the_outline(radii: list[float]) -> None:
    """Up to the height of one slice, of which the search knows the two edges only."""
    count = len(radii)
    points = [
        (r * math.cos(2 * math.pi * i / count), r * math.sin(2 * math.pi * i / count))
        for i, r in enumerate(radii)
    ]
    shape = shapely.Polygon(points)
    room = inner_box(points)
    inside = shapely.box(*room).intersection(shape).area
    assert inside >= 0.9 * room.width * room.height


def test_the_room_of_a_rectangle_is_all_of_it() -> None:
    """Turned by a quarter or not."""
    assert inner_box([(0, 0), (4, 0), (4, 2), (0, 2)]) == Box(0, 0, 4, 2)


def test_labels_keep_clear_of_holes() -> None:
    """A hole in a strip leaves four parts; without any room the hole is ignored."""
    strip, hole = Box(0, 0, 100, 20), [((30.0, 10.0),)]
    assert clear_rooms(strip, hole, 2.0) == (
        Box(32, 0, 100, 20),
        Box(0, 0, 100, 8),
        Box(0, 12, 100, 20),
        Box(0, 0, 28, 20),
    )
    full = [((x, y),) for x in (2.0, 5.0, 8.0) for y in (2.0, 5.0, 8.0)]
    assert clear_rooms(Box(0, 0, 10, 10), full, 3.0) == (Box(0, 0, 10, 10),)


@given(
    st.lists(st.tuples(st.floats(0, 80), st.floats(0, 30)), max_size=8),
    st.floats(10, 80),
    st.floats(5, 30),
)
def test_free_parts_hold_no_mark(marks: list[tuple[float, float]], width: float, height: float) -> None:
    """Every part lies in the room and away from every mark, up to the rounding to hundredths."""
    room = Box(5.0, 7.0, 5.0 + width, 7.0 + height)
    for part in clear_rooms(room, [((x + 5.0, y + 7.0),) for x, y in marks], 1.6):
        assert part.left >= room.left - 0.01 and part.right <= room.right + 0.01
        assert part.low >= room.low - 0.01 and part.high <= room.high + 0.01
        if part != room:
            for x, y in ((x + 5.0, y + 7.0) for x, y in marks):
                away = max(part.left - x, x - part.right, part.low - y, y - part.high)
                assert away >= 1.6 - 0.02


def test_the_sign_of_a_label_stays_on_its_piece() -> None:
    """A label sewn in at an edge: beyond it the sign would stand on the neighbour, or on its words."""
    box = Box(10.0, 20.0, 110.0, 30.0)
    for at in ((60.0, 20.0), (60.0, 30.0), (10.0, 25.0), (110.0, 30.0)):
        (sign,) = mark_items(Mark("label", (at,)), (at,), box, 2.0)
        assert isinstance(sign, Polygon)
        left, low, right, high = extent(sign.points)
        assert left >= 10.0 and right <= 110.0 and low >= 20.0 and high <= 30.0
        assert (right - left, high - low) == (2.0, 2.0)
