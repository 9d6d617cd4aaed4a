"""Widths of words and making them fit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from nesting.drawing.lettering import fitting_size, font_size, shortened, text_width, wrapped


@pytest.mark.parametrize(("bold", "file"), [(False, "Vera.ttf"), (True, "VeraBd.ttf")])
def test_widths_are_those_of_the_font_that_the_pdf_embeds(bold: bool, file: str) -> None:
    """The measure is the PDF library's own, for the same file and size."""
    pdfmetrics.registerFont(TTFont(f"check-{bold}", file))
    expected = pdfmetrics.stringWidth("12  Top panel 2072 x 1564°", f"check-{bold}", font_size(2.0))
    assert text_width("12  Top panel 2072 x 1564°", 2.0, bold) == pytest.approx(expected)


def test_the_measure_is_no_narrower_than_helvetica() -> None:
    """Viewers that show an SVG in a narrower face keep the words inside their room."""
    words = "NOT IN THESE MAPS: Headboard face, 2400 x 2300"
    assert text_width(words, 2.0) >= pdfmetrics.stringWidth(words, "Helvetica", font_size(2.0))


def test_letters_that_the_font_lacks_are_reckoned_wide() -> None:
    """A square letter of another script takes at least its own size."""
    assert text_width("床", 2.0) >= font_size(2.0)


@given(st.text(max_size=60), st.floats(0.1, 80), st.booleans())
def test_shortened_words_fit(words: str, room: float, bold: bool) -> None:
    """Whatever the words: the result is no wider than the room, and whole words stay whole."""
    short = shortened(words, room, 2.0, bold)
    assert text_width(short, 2.0, bold) <= room + 1e-9
    if text_width(words, 2.0, bold) <= room:
        assert short == words


@given(st.text(max_size=120), st.floats(5, 80))
def test_wrapped_lines_fit_and_lose_no_word(words: str, room: float) -> None:
    """Lines keep to the room; where no word had to be shortened, all of them are there."""
    lines = wrapped(words, room, 2.0)
    assert all(text_width(line, 2.0) <= room + 1e-9 for line in lines)
    if all(text_width(word, 2.0) <= room for word in words.split()):
        assert " ".join(lines).split() == words.split()


@given(st.text(min_size=1, max_size=30), st.floats(1, 60))
def test_fitting_size_is_the_greatest_that_fits(words: str, room: float) -> None:
    """At the size it gives, the words fill the room or have the greatest size allowed."""
    size = fitting_size(words, room, 4.0, 1.0)
    if size is None:
        assert text_width(words, 1.0) > room
    else:
        assert text_width(words, size) <= room + 1e-9
        assert size == 4.0 or text_width(words, size) == pytest.approx(room)
