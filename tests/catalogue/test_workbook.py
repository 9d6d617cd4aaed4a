"""A range as a workbook: a round trip changes nothing, and what is wrong is told by sheet, row and column."""

from __future__ import annotations

import io
import tomllib
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.catalogue import load_range
from nesting.catalogue.exchange import write_range, write_workbook
from nesting.catalogue.rangefile import TABLES
from nesting.catalogue.tomltext import changed_text, remarks
from nesting.catalogue.workbook import LISTS, PAIRS, range_workbook, workbook_tables
from nesting.errors import InputError
from nesting.output import patterns_folder

SMALL = Path(__file__).parents[1] / "data" / "ranges" / "small.toml"
RANGES = [SMALL, patterns_folder() / "demo-range.toml"]


def tables_of(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def edited(path: Path, sheet: str, cell: str, value: object) -> None:
    book = openpyxl.load_workbook(path)
    book[sheet][cell] = value
    book.save(path)


@pytest.mark.parametrize("path", RANGES, ids=lambda path: path.name)
def test_a_round_trip_changes_nothing(path: Path, tmp_path: Path) -> None:
    """The tables are equal, and the text of the file is the same to the last remark."""
    book, copy = tmp_path / "range.xlsx", tmp_path / "copy.toml"
    copy.write_bytes(path.read_bytes())
    counts = write_workbook(path, book)
    assert counts["materials"] == len(tables_of(path)["materials"])
    assert workbook_tables("range.xlsx", book.read_bytes())[0] == tables_of(path)
    assert write_range(book, copy) == []
    assert copy.read_bytes() == path.read_bytes()
    fresh = tmp_path / "fresh.toml"
    write_range(book, fresh)
    assert tables_of(fresh) == tables_of(path)


def test_a_workbook_saved_by_another_program_is_the_same_range(tmp_path: Path) -> None:
    """Read and saved by openpyxl, as a spreadsheet program would: whole numbers, styles and all."""
    book = tmp_path / "range.xlsx"
    write_workbook(RANGES[1], book)
    again = openpyxl.load_workbook(book)
    again.save(book)
    assert workbook_tables("range.xlsx", book.read_bytes())[0] == tables_of(RANGES[1])
    direct, ours = load_range(RANGES[1]), load_range(book)
    assert (ours.materials, ours.sizes, ours.models) == (direct.materials, direct.sizes, direct.models)


def test_changes_are_listed_and_remarks_stay(tmp_path: Path) -> None:
    book, copy = tmp_path / "range.xlsx", tmp_path / "copy.toml"
    copy.write_bytes(SMALL.read_bytes())
    write_workbook(SMALL, book)
    edited(book, "Allowances", "B2", 17)
    edited(book, "Sizes", "B3", "Double bed")
    changes = write_range(book, copy)
    assert changes == [
        "allowances.seam: 15 is now 17",
        "sizes.double.name: 'Double' is now 'Double bed'",
    ]
    assert load_range(copy).sizes["double"].name == "Double bed"
    before, after = SMALL.read_text("utf-8").splitlines(), copy.read_text("utf-8").splitlines()
    assert sum(one != other for one, other in zip(before, after, strict=True)) == 2


@pytest.mark.parametrize(
    ("sheet", "cell", "value", "told"),
    [
        ("Sizes", "C2", -900, "sheet 'Sizes', row 2, column width"),
        ("Panels", "E3", "tickin", "sheet 'Panels', row 3, column material"),
        ("Panels", "A2", "auror", "sheet 'Panels', row 2, column model"),
        ("Materials", "A3", "ticking", "sheet 'Materials', row 3"),
        ("Allowances", "B3", "[1, 2", "sheet 'Allowances', row 3, column value"),
        ("Models", "A3", None, "sheet 'Models', row 3"),
        ("Panels", "Z2", 5, "sheet 'Panels', row 2, column Z"),
    ],
)
def test_faults_are_told_by_sheet_row_and_column(
    sheet: str, cell: str, value: object, told: str, tmp_path: Path
) -> None:
    book, range_file = tmp_path / "range.xlsx", tmp_path / "range.toml"
    write_workbook(SMALL, book)
    edited(book, sheet, cell, value)
    with pytest.raises(InputError) as caught:
        write_range(book, range_file)
    assert any(finding.place.startswith(told) for finding in caught.value.findings), str(caught.value)
    assert not range_file.exists()


def test_a_formula_of_the_spreadsheet_is_refused(tmp_path: Path) -> None:
    book = tmp_path / "range.xlsx"
    write_workbook(SMALL, book)
    edited(book, "Allowances", "B2", "=10+5")
    with pytest.raises(InputError, match='without "="'):
        load_range(book)


def test_text_that_looks_like_a_formula_stays_text() -> None:
    """A cell that begins with an equals sign must not be worked out by a spreadsheet."""
    tables = {"range": {"name": "=1+1", "currency": "EUR"}}
    content = range_workbook(tables)
    cell = openpyxl.load_workbook(io.BytesIO(content))["Range"]["B2"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")


SCALARS = (
    st.booleans()
    | st.integers(-(10**9), 10**9)
    | st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: round(x, 6))
    | st.text(
        st.characters(codec="utf-8", exclude_categories=("Cs", "Cc"), exclude_characters="\ufffe\uffff")
    )
)
VALUES = (
    SCALARS | st.lists(SCALARS, max_size=4) | st.dictionaries(st.sampled_from("abc"), SCALARS, max_size=3)
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.dictionaries(st.sampled_from(["name", "u", "v", "w"]), VALUES, min_size=1))
def test_every_kind_of_value_comes_back(entry: dict[str, Any]) -> None:
    """Numbers, text of all kinds, lists and inner tables, in cells and in a range file written anew."""
    tables = {"materials": {"m": entry}, "models": {"k": {"height": 1, "panels": [entry, entry]}}}
    back, _ = workbook_tables("x.xlsx", range_workbook(tables))
    assert _same(back, tables)
    text, _ = changed_text(back)
    assert _same(tomllib.loads(text), tables)
    again, changes = changed_text(back, text)
    assert (again, changes) == (text, [])


def _same(found: dict[str, Any], wanted: dict[str, Any]) -> bool:
    """Equal, yes and no told from numbers."""
    return repr(_sorted(found)) == repr(_sorted(wanted))


def _sorted(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _sorted(value[key]) for key in sorted(value)}
    if isinstance(value, float) and value.is_integer():
        return int(value)  # a spreadsheet knows one kind of number
    return [_sorted(part) for part in value] if isinstance(value, list) else value


def test_remarks_on_allowances_are_notes() -> None:
    text = "[allowances]\nseam = 15  # tape edge\ncrown = 5\n"
    assert remarks(text, "allowances") == {"seam": "tape edge"}


def test_every_table_of_a_range_has_its_sheet() -> None:
    assert set(PAIRS.values()) | set(LISTS.values()) == set(TABLES)
