"""The primitives: styles, hatches, printable words."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.scene import (
    STYLES,
    Hatch,
    Layer,
    Polygon,
    Style,
    Text,
    crossings,
    extent,
    hatch_lines,
    piece_style,
    printable,
    rectangle,
    style_of,
)


def test_the_first_seven_kinds_differ_in_colour_and_in_hatch() -> None:
    """A black-and-white print tells seven kinds of pieces apart by hatch alone."""
    styles = [piece_style(kind) for kind in range(7)]
    assert len({style.fill for style in styles}) == 7
    assert len({style.hatch for style in styles}) == 7


def test_49_kinds_have_49_looks() -> None:
    """Beyond seven, colour or hatch still differs."""
    assert len({(s.fill, s.hatch) for s in (piece_style(kind) for kind in range(49))}) == 49


def test_fills_leave_black_letters_readable() -> None:
    """Contrast of black on every fill is at least 7 (WCAG 2.1, criterion 1.4.6, formula from memory)."""
    for kind in range(7):
        fill = piece_style(kind).fill
        assert fill is not None
        shares = [int(fill[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
        luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        assert (luminance + 0.05) / 0.05 >= 7


def test_hatch_of_a_square_is_what_one_would_rule_by_hand() -> None:
    """Level lines 3 mm apart in a square of 10 mm: at 3, 6 and 9, from edge to edge."""
    square = rectangle(0, 0.5, 10, 9, Layer.PIECES)
    lines = hatch_lines(square.points, Style(hatch=Hatch.ALONG, spacing=3.0))
    assert lines == (((0, 3), (10, 3)), ((0, 6), (10, 6)), ((0, 9), (10, 9)))


def test_no_hatch_draws_no_lines() -> None:
    """The plain style stays plain."""
    assert hatch_lines(rectangle(0, 0, 5, 5, Layer.PIECES).points, Style()) == ()


@given(
    st.lists(st.floats(5, 50), min_size=3, max_size=9),
    st.sampled_from([Hatch.RISING, Hatch.FALLING, Hatch.SQUARE, Hatch.DIAMOND]),
)
def test_hatch_never_leaves_its_outline(radii: list[float], hatch: Hatch) -> None:
    """Whatever star-shaped outline is hatched, the lines stay inside."""
    count = len(radii)
    points = tuple(
        (r * math.cos(2 * math.pi * i / count), r * math.sin(2 * math.pi * i / count))
        for i, r in enumerate(radii)
    )
    shape = shapely.Polygon(points).buffer(1e-6)
    for line in hatch_lines(points, Style(hatch=hatch, spacing=4.0)):
        assert shape.covers(shapely.LineString(line))


def test_a_corner_on_the_level_counts_once() -> None:
    """A diamond cut at its widest corners gives one stretch, not two."""
    assert crossings([(0, 0), (5, -5), (10, 0), (5, 5)], 0.0) == [0.0, 10.0]


def test_extent_is_the_box_of_points() -> None:
    """Least and greatest x and y."""
    assert extent([(1, 5), (-2, 3), (4, 4)]) == (-2, 3, 4, 5)


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("Top panel", "Top panel"),
        ("two\nlines\tand\x00nothing", "two lines and nothing"),
        ("half \ud800 pair", "half   pair"),
        ("not a character \uffff", "not a character  "),
        ("床垫 Größe", "床垫 Größe"),
    ],
)
def test_words_become_printable(words: str, shown: str) -> None:
    """Control characters become spaces; letters of any script stay."""
    assert printable(words) == shown
    assert Text(0, 0, words, 2.0).words == shown


def test_items_take_the_style_of_their_layer_unless_they_have_one() -> None:
    """The table is a default, not a rule."""
    own = Style(width=9.0)
    assert style_of(Polygon(((0, 0),), Layer.CUTS)) is STYLES[Layer.CUTS]
    assert style_of(Polygon(((0, 0),), Layer.CUTS, own)) is own
