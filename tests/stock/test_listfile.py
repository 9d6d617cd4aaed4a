"""Stock lists. All data are invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from nesting.catalogue import Range
from nesting.errors import InputError
from nesting.model import Flaw
from nesting.stock.listfile import read_listed, read_stock_list
from nesting.stock.measures import parse_flaws, read_length, show_flaws


def listing(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "stock.csv"
    path.write_text(text, encoding="utf-8")
    return path


def faults(path: Path, range_: Range | None = None) -> str:
    with pytest.raises(InputError) as caught:
        read_stock_list(path, range_)
    return str(caught.value)


def test_a_list_in_the_words_of_a_store(tmp_path, demo_range) -> None:
    """Other headings, units in headings, decimal commas, several alike, flaws, and names of materials."""
    path = listing(
        tmp_path,
        "Roll No;Cloth;Length (m);Usable width;Qty;Dye lot;Faults;Location;Rest\n"
        "T1;quilt-classic;48,5;2190;1;L7;12.5-12.6 m;A1;no\n"
        'T2;"Quilted ticking, classic";41.250;86 in;2;L8;"3 m - 3.2 m; 20000-20300 x 0-400";A2;\n'
        "T3;spunbond;7;2090;;;;;yes\n",
    )
    first, second, third, rest = read_stock_list(path, demo_range)
    assert (first.id, first.material, first.length, first.width) == ("T1", "quilt-classic", 48500, 2190)
    assert (first.lot, first.place, first.flaws) == ("L7", "A1", (Flaw(12500, 12600),))
    assert (second.id, third.id) == ("T2-1", "T2-2")
    assert (second.material, second.length, second.width) == ("quilt-classic", 41250, pytest.approx(2184.4))
    assert third.flaws == (Flaw(3000, 3200), Flaw(20000, 20300, 0, 400))
    assert (rest.remnant, first.remnant) == (True, False)


def test_a_workbook_reads_alike(tmp_path, demo_range) -> None:
    """Numbers as numbers, ids typed as numbers."""
    book = Workbook()
    sheet = book.active
    for row in (("place", "id", "material", "width", "length m"), ("B", 1204, "spunbond", 2090, 250.5)):
        sheet.append(row)
    book.save(tmp_path / "stock.xlsx")
    (piece,) = read_stock_list(tmp_path / "stock.xlsx", demo_range)
    assert (piece.id, piece.length, piece.width, piece.place) == ("1204", 250500, 2090, "B")


def test_blank_sizes_of_new_pieces_are_those_of_the_range(tmp_path, demo_range) -> None:
    """A list of new blocks and boards need not repeat the range; rolls are as wide as is usable."""
    path = listing(tmp_path, "material,quantity\ncore-foam,2\nwaxed-board,\nquilt-classic,\n")
    listed = read_listed(path, demo_range)
    assert [(one.kind, one.named, one.row) for one in listed] == [
        ("block", False, 2),
        ("block", False, 2),
        ("sheet", False, 3),
        ("roll", False, 4),
    ]
    materials = demo_range.materials
    assert listed[0].piece.height == materials["core-foam"].height
    assert listed[2].piece.height == 0
    assert listed[3].piece.width == materials["quilt-classic"].usable_width == 2200
    assert len({one.piece.id for one in listed}) == 4


def test_without_a_range_materials_are_taken_as_written(tmp_path) -> None:
    """The kind follows from the sizes, or is written."""
    path = listing(
        tmp_path,
        "id,material,kind,length,width,height\na,Foam,,2000,1000,500\nb,Cloth,,30 m,1500,\n"
        "c,Tape,roll,9 m,40,\nd,Board,Sheet,2440,1220,\n",
    )
    assert [one.kind for one in read_listed(path)] == ["block", "roll", "roll", "sheet"]
    assert read_stock_list(path)[0].material == "Foam"


def test_every_problem_is_told_at_once(tmp_path, demo_range) -> None:
    """Row, column, value and what to do."""
    path = listing(
        tmp_path,
        "id;material;length;width;height;quantity;remnant;flaws\n"
        "A;quilt-clasic;40 m;2200;;;;\n"
        "B;spunbond;50 m;4100;;;;\n"
        "B;spunbond;-5;20x;;;;\n"
        "C;spunbond;50 m;2000;;many;perhaps;5 m\n"
        "D;spunbond;50 m;2000;;;;60 m - 61 m\n"
        "E;core-foam;9 m;2000;1000;;;\n"
        "F;spunbond;;;;;yes;\n"
        "G;spunbond;9 km;2000;30;;;\n"
        ";;1;1;;;;\n"
        "H;spunbond;5000 m;2000;;;;\n"
        "I;core-foam;2000;2000;1000;;;1-2\n",
    )
    told = faults(path, demo_range)
    for words in (
        "row 2, material: found 'quilt-clasic'",
        "Did you mean 'quilt-classic'",
        "row 3, width: found 4100.0; allowed: at most the width of 'spunbond', 2 100 mm",
        "row 4, id: found 'B'",
        "row 4, length: found '-5'",
        "row 4, width: found '20x'",
        "row 5, quantity: found 'many'",
        "row 5, remnant: found 'perhaps'; allowed: yes or no",
        "row 5, flaws: found '5 m'",
        "row 6, flaws: found '60000-61000 mm'; allowed: within the length, 50 000 mm",
        "row 7, length: found 9000.0",
        "row 8, length: found nothing",
        "row 9, length: found '9 km'",
        "row 10, material: found nothing",
        "row 11, length: found 5000000.0",
        "row 12, flaws: found '1-2 mm'; allowed: flaws only on rolls",
    ):
        assert words in told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("id,length,width\nA,1,1\n", "a column 'material', also called"),
        ("material,id\nx,A\n", "a column 'length', also called"),
        ("material,length,length m,width\nx,1,1,1\n", "one column for the length"),
        ("material,length,width\n", "at least one piece"),
        ("material,length,width\nx,1.250,900\n", "It could be 1.25 or 1250"),
        ("material,length,width,kind\nx,1250,900,bale\n", "'roll', 'sheet' or 'block'"),
        ("material,length,width\nx,1250,900\n", "row 2, kind: found nothing; allowed: 'roll', 'sheet' or"),
    ],
)
def test_lists_that_cannot_be_read(tmp_path, text, words) -> None:
    """A missing or doubled column, no rows, two readings, an unknown kind."""
    assert words in faults(listing(tmp_path, text))


def test_a_bare_number_is_no_length_where_people_read_inches(tmp_path, demo_range) -> None:
    """They would mean inches; a unit in the cell or in the heading settles it."""
    inches = replace(demo_range, workshop=demo_range.workshop.changed("inch"))
    bare = listing(tmp_path, "material,length,width,flaws\nquilt-classic,40 m,84,5-6\n")
    told = faults(bare, inches)
    assert (
        "row 2, width: found '84'; allowed: a length in mm, or with its unit. Write the unit: \"84 in\""
        in told
    )
    assert "row 2, flaws: found '5-6'" in told
    clear = listing(tmp_path, "material,length m,width in,flaws\nquilt-classic,40,84,5-6 in\n")
    (piece,) = read_stock_list(clear, inches)
    assert (piece.length, piece.width) == (40_000, pytest.approx(2133.6))
    assert piece.flaws == (Flaw(127, 152.4),)


def test_new_pieces_are_not_much_smaller_than_the_range_says(tmp_path, demo_range) -> None:
    """Inches taken for millimetres are found out; a remnant may be of any size."""
    told = faults(listing(tmp_path, "material,length,width\nquilt-classic,40 m,84\n"), demo_range)
    assert "row 2, width: found 84.0; allowed: at least 1 100 mm for a new piece" in told
    read_stock_list(listing(tmp_path, "material,length,width,rest\nquilt-classic,40 m,84,x\n"), demo_range)


def test_a_date_made_by_the_spreadsheet_is_no_id(tmp_path) -> None:
    """Ids such as 3-12 turn into dates in spreadsheets."""
    import datetime

    book = Workbook()
    for row in (("id", "material", "length", "width"), (datetime.date(2026, 12, 3), "x", 1000, 900)):
        book.active.append(row)
    book.save(tmp_path / "stock.xlsx")
    assert "made a date of it" in faults(tmp_path / "stock.xlsx")


@pytest.mark.parametrize(
    ("value", "unit", "mm"),
    [
        ("12,5 m", "mm", 12_500),
        ("12.500", "m", 12_500),
        ("12.500 m", "mm", 12_500),
        ("2 150", "mm", 2_150),
        ("1,250.5", "mm", 1_250.5),
        (41.25, "m", 41_250),
        ("1 1/2 in", "mm", 38.1),
        ("84", "in", 2_133.6),
    ],
)
def test_lengths(value, unit, mm) -> None:
    """Decimal commas and grouped thousands besides what range files know (arithmetic)."""
    assert read_length(value, unit) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["12,500 m", "2.150", "x", "", "5-6", True, None])
def test_lengths_of_two_readings_or_none_are_refused(text) -> None:
    """Nothing is guessed."""
    with pytest.raises(ValueError):
        read_length(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("12.5 m", "from - to"),
        ("12 m - 13", "after both numbers"),
        ("13-12 m", "beyond its start"),
        ("1-2 x 3-4 x 5-6", "write one flaw as"),
        ("1-2 x 400", "from - to"),
        ("20-21 x 0-4 in", "after both spans"),
    ],
)
def test_flaws_that_cannot_be_read(text, words) -> None:
    """The message says which span and how to write it."""
    with pytest.raises(ValueError, match=words):
        parse_flaws(text)


tenths = st.integers(1, 19_000_000).map(lambda n: n / 10)


@st.composite
def flaw(draw: st.DrawFn) -> Flaw:
    x0, x1 = sorted(draw(st.lists(tenths, min_size=2, max_size=2, unique=True)))
    if draw(st.booleans()):
        return Flaw(x0, x1)
    y0, y1 = sorted(draw(st.lists(tenths, min_size=2, max_size=2, unique=True)))
    return Flaw(x0, x1, y0, y1)


@given(st.lists(flaw(), max_size=5).map(tuple))
def test_flaws_written_are_read_back(flaws) -> None:
    """What is exported can be taken in again."""
    assert parse_flaws(show_flaws(flaws)) == flaws


def test_what_is_left_of_a_long_block_is_listed(tmp_path, demo_range) -> None:
    """The comfort foam of the demo range comes in blocks of 30 m; a rest of one is longer than any sheet."""
    path = tmp_path / "stock.csv"
    path.write_text("id,material,length,width,height\nL-1,comfort-foam,10.5 m,2060,1000\n", encoding="utf-8")
    with pytest.raises(InputError, match="new piece"):
        read_stock_list(path, demo_range)
    path.write_text(
        "id,material,length,width,height,remnant\nL-1,comfort-foam,10.5 m,2060,1000,yes\n", encoding="utf-8"
    )
    assert read_stock_list(path, demo_range)[0].length == 10_500
