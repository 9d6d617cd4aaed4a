"""PDF: ISO pages, embedded letters, the same bytes for the same plan."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest

from nesting.drawing.maps import map_pages
from nesting.drawing.pdf import write_pdf
from nesting.drawing.scene import Circle, Hatch, Layer, Line, Polygon, Scene, Style, Text
from nesting.model import Plan

POINT = 25.4 / 72  # mm


# ISO 216 allows 1.5 mm up to 150 mm and 2 mm up to 600 mm; a file has no reason to use any of it.
@pytest.mark.parametrize(("paper", "width", "height"), [("A3", 420, 297), ("A4", 297, 210)])
def test_pages_measure_as_iso_paper(paper: str, width: int, height: int, plan: Plan, tmp_path: Path) -> None:
    """Read back by another library."""
    write_pdf(map_pages(plan, plan.materials[0], paper), tmp_path / "maps.pdf", "Maps")
    for page in pypdf.PdfReader(tmp_path / "maps.pdf").pages:
        assert float(page.mediabox.width) * POINT == pytest.approx(width, abs=0.01)
        assert float(page.mediabox.height) * POINT == pytest.approx(height, abs=0.01)


def test_scenes_of_other_sizes_keep_their_own_page(tmp_path: Path) -> None:
    """True size: a scene of 1000 x 500 mm makes a page of 1000 x 500 mm, wherever its corner lies."""
    scene = Scene(title="t", width=1000, height=500, left=-20, low=-30, items=(Text(0, 0, "corner", 10.0),))
    write_pdf([scene], tmp_path / "t.pdf", "t")
    (page,) = pypdf.PdfReader(tmp_path / "t.pdf").pages
    assert float(page.mediabox.width) * POINT == pytest.approx(1000, abs=0.01)
    assert "corner" in page.extract_text()


def test_words_can_be_read_back_and_searched(plan: Plan, tmp_path: Path) -> None:
    """Text stays text, in letters that are embedded."""
    write_pdf(map_pages(plan, plan.materials[0], "A3"), tmp_path / "maps.pdf", "Maps of the spring range")
    reader = pypdf.PdfReader(tmp_path / "maps.pdf")
    text = reader.pages[0].extract_text()
    assert "2072 x 1564" in text
    assert "turned 180°" in text
    assert reader.metadata is not None
    assert reader.metadata.title == "Maps of the spring range"
    fonts = reader.pages[0]["/Resources"]["/Font"]
    embedded = [font for font in fonts.values() if "FontDescriptor" in str(font.get_object())]
    assert embedded
    assert all("/FontFile2" in font["/FontDescriptor"] for font in embedded)
    assert next(entry.title for entry in reader.outline).startswith("Spring range – Quilted ticking")


def test_the_same_plan_gives_the_same_bytes(plan: Plan, tmp_path: Path) -> None:
    """No time of day, no random names."""
    scenes = [scene for item in plan.materials for scene in map_pages(plan, item, "A4")]
    write_pdf(scenes, tmp_path / "a.pdf", "Maps")
    write_pdf(scenes, tmp_path / "b.pdf", "Maps")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_letters_that_the_font_lacks_become_question_marks(hostile: Plan, tmp_path: Path) -> None:
    """Three Chinese letters are three question marks; accents are there."""
    write_pdf(map_pages(hostile, hostile.materials[0], "A3"), tmp_path / "maps.pdf", "超大 <title>")
    text = pypdf.PdfReader(tmp_path / "maps.pdf").pages[0].extract_text()
    assert "???" in text
    assert "Größe" in text
    assert "超" not in text


def test_every_primitive_is_drawn(tmp_path: Path) -> None:
    """Filled, hatched, dashed, turned: the page holds the operators for each (ISO 32000-1, 8.5)."""
    items = (
        Polygon(((1, 1), (9, 1), (9, 4)), Layer.PIECES, Style(fill="#ABCDEF", hatch=Hatch.RISING)),
        Polygon(((1, 1), (9, 1), (9, 4)), Layer.PIECES, Style(width=0.0, fill="#000000")),
        Line(((0, 0), (10, 5)), Layer.CUTS, Style(dashes=(2.0, 1.0), line="#D55E00")),
        Circle(5, 2, 1.5, Layer.MARKS, Style(fill="#FFFFFF")),
        Text(2, 3, "turned", 1.0, "middle", 90.0, True),
    )
    write_pdf([Scene(title="t", width=10, height=5, items=items)], tmp_path / "t.pdf", "t")
    (page,) = pypdf.PdfReader(tmp_path / "t.pdf").pages
    content = page.get_contents()
    assert content is not None
    operators = content.get_data().decode("latin-1")
    assert "0.671 0.804 0.937 rg" in operators  # AB / FF, CD / FF, EF / FF
    assert "[2.000 1.000] 0 d 0.000 0.000 m 10.000 5.000 l S" in operators
    assert "turned" in page.extract_text()
