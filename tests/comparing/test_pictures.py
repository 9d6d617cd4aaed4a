"""Heat map, curve and page: what stands on them, that no words overlap, and the paper."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import pytest
from pypdf import PdfReader

from nesting.comparing import compare, request_for
from nesting.comparing.output import write_comparison
from nesting.comparing.page import curve_figure, heat_map_figure, meeting_page, plain_style
from nesting.comparing.words import subject, variant_name
from nesting.drawing.paper import PAPERS
from nesting.measures import shown_for
from nesting.model import Workshop
from nesting.orders import OrderBook, OrderLine


@pytest.fixture(scope="module")
def found(strip):
    """Two sizes in three widths and a mix."""
    from datetime import date

    lines = tuple(
        OrderLine(order="1", due=date(2026, 12, 1), model_key="plain", size_key=key, quantity=count, row=2)
        for key, count in (("wide", 10), ("narrow", 30))
    )
    request = request_for(
        strip, material="cloth", stock={"roll": "900,2040,2060"}, book=OrderBook("week.csv", lines)
    )
    return compare(strip, request, effort=2.0)


def _words(path) -> list[str]:
    return [
        "".join(item.itertext()).strip() for item in ET.parse(path).iter("{http://www.w3.org/2000/svg}text")
    ]


def _overlaps(figure) -> list[tuple[str, str]]:
    """Words that stand on other words, or leave the picture, by the renderer's own boxes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    boxes = []
    for item in figure.findobj(Text):
        if item.get_text().strip() and item.get_visible():
            # Of the words alone: the box of an annotation holds its leader, too.
            boxes.append((item.get_text(), Text.get_window_extent(item, canvas.get_renderer())))
    wide, high = canvas.get_width_height()
    outside = [
        (words, "the edge")
        for words, box in boxes
        if box.x0 < -1 or box.y0 < -1 or box.x1 > wide + 1 or box.y1 > high + 1
    ]
    return outside + [
        (one, other)
        for (one, a), (other, b) in combinations(boxes, 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 0.5 and min(a.y1, b.y1) - max(a.y0, b.y0) > 0.5
    ]


def test_files_and_their_words(found, tmp_path) -> None:
    """Every width, size, figure and the hatch of what does not fit."""
    files = {path.name: path for path in write_comparison(found, tmp_path / "out", "A4")}
    assert set(files) == {
        "comparison.csv",
        "breakpoints.csv",
        "heat-map.svg",
        "heat-map.png",
        "curve.svg",
        "curve.png",
        "comparison.pdf",
    }
    assert {path.name for path in (tmp_path / "out").iterdir()} == set(files)
    words = _words(files["heat-map.svg"])
    assert {"Wide", "Narrow", "900", "2040", "present", "2060", "does", "not fit"} <= set(words)
    assert "51.0 %" in words  # wide alone on 2040: 1 - 1000 / 2040
    assert "19.20" in words
    assert "url(#" in files["heat-map.svg"].read_text()  # a hatch
    words = _words(files["curve.svg"])
    assert {"Wide", "Narrow", "The mix", "present", "roll width, mm"} <= set(words)
    lists = files["comparison.csv"].read_text(encoding="utf-8-sig").splitlines()
    assert len(lists) == 1 + 2 * 3
    assert "in the mix: cost per bed EUR" in lists[0]


@pytest.mark.parametrize("paper", ["A4", "Letter", "A3"])
def test_the_meeting_gets_one_page(found, tmp_path, paper: str) -> None:
    """Of the size asked for, lying, with what a meeting needs to know."""
    write_comparison(found, tmp_path, paper)
    reader = PdfReader(tmp_path / "comparison.pdf")
    (page,) = reader.pages
    size = [float(side) / 72 * 25.4 for side in page.mediabox[2:]]
    assert size == pytest.approx([PAPERS[paper].width, PAPERS[paper].height], abs=0.01)
    words = page.extract_text()
    for expected in (
        "Cloth: which roll width?",
        "Best choices",
        "Breakpoints",
        "week.csv",
        "test laboratory",
    ):
        assert expected in words


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_words_overlap(found, units, paper) -> None:
    """On the page and the single pictures."""
    shown = replace(found, workshop=Workshop(units=units))
    with shown_for(shown.workshop), plain_style():
        for figure in (heat_map_figure(shown), curve_figure(shown), meeting_page(shown, paper)):
            assert _overlaps(figure) == []


def test_many_sizes_and_long_names_stay_readable(found) -> None:
    """Forty rows with names of eighty letters: the map has them all, the page those that matter most."""
    row = found.rows[0]
    rows = tuple(
        replace(row, case=replace(row.case, size=str(number), size_name=f"Size {number} " + "M" * 70))
        for number in range(40)
    )
    many = replace(found, rows=rows)
    with shown_for(many.workshop), plain_style():
        assert _overlaps(heat_map_figure(many)) == []
        figure = meeting_page(many, "A4")
        assert _overlaps(figure) == []
    assert any("18 of 40" in text.get_text() for text in figure.texts)


def test_the_heading_names_the_side_that_differs(strip) -> None:
    """Blocks that differ in height alone are told by it; else by all sides."""
    words = []
    for blocks in ("1900x980x1000", "1900x980x1000,2000x980x990"):
        request = request_for(strip, material="foam", stock={"block": blocks})
        found = compare(strip, request, effort=1.0)
        words.append((subject(found), variant_name(found, 0)))
    assert words == [("block height", "990"), ("block size", "1900 x 980 x 990")]


def test_the_same_comparison_gives_the_same_files(found, tmp_path) -> None:
    """Byte for byte."""
    first, second = (write_comparison(found, tmp_path / name, "A4") for name in ("a", "b"))
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second]


def test_an_inch_shop_reads_inches(found, tmp_path) -> None:
    """2040 mm are 80.315 in: 80 5/16 to the sixteenth; 1.92 m are 2.0997 yd."""
    shown = replace(found, workshop=Workshop(units="inch"))
    write_comparison(shown, tmp_path, "Letter")
    assert "80 5/16" in _words(tmp_path / "heat-map.svg")
    text = (tmp_path / "comparison.csv").read_text(encoding="utf-8-sig")
    assert "roll width in" in text
    assert "material per bed yd" in text
    assert ",2.1," in text
