"""The workbook: read again by another library, reckoned again by a spreadsheet program. Data are invented."""

from __future__ import annotations

import datetime
import io
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from nesting.buying.demand import Outlook, WeekLine
from nesting.buying.output import write_buying
from nesting.buying.pages import pages
from nesting.buying.supply import Arrival, Supply, standard_supply
from nesting.buying.tables import Given, Live, Page, column_letter
from nesting.buying.week import BuyingPlan, plan_buying
from nesting.buying.weeks import Weeks
from nesting.buying.workbook import workbook
from nesting.catalogue import Range
from nesting.errors import NestingError
from nesting.measures import shown_for
from nesting.model import StockPiece
from nesting.planning import Budget

SOFFICE = shutil.which("soffice") or shutil.which("libreoffice")
NEEDS_OFFICE = pytest.mark.skipif(
    SOFFICE is None, reason="LibreOffice is not installed (Debian: libreoffice-calc): nothing to reckon with"
)
MONDAY = datetime.date(2026, 12, 7)
LINES = tuple(
    WeekLine(week, "plain", size, beds, float(beds), beds * 0.2)
    for week, pair in enumerate(((40, 10), (44, 8), (30, 12), (52, 9), (47, 10), (33, 11)), start=1)
    for size, beds in zip(("half", "whole"), pair, strict=True)
)
STOCK = {
    "cloth": (
        StockPiece(id="R1", material="cloth", length=3100.0, width=1000.0, remnant=True),
        StockPiece(id="=R2", material="cloth", length=20_000.0, width=900.0),
    )
}


def supplies(range_: Range) -> dict[str, Supply]:
    """Of the cloth: a minimum order, pairs of rolls, deliveries; of boards: a fixed reserve."""
    cloth = standard_supply(range_.materials["cloth"])
    board = standard_supply(range_.materials["board"])
    return {
        "cloth": replace(
            cloth,
            terms=replace(cloth.terms, lead=2, review=2, least=90.0, multiple=2, price=11.5),
            supplier="-Mill (invented)",
            arrivals=(Arrival(2, 40.0), Arrival(0, 10.0), Arrival(30, 20.0)),
        ),
        "board": replace(board, terms=replace(board.terms, review=3, price=17.25), safety=4.0, on_hand=6.0),
    }


def planned(range_: Range, bought: dict[str, Supply] | None = None) -> BuyingPlan:
    return plan_buying(
        range_,
        Outlook("demand.csv", Weeks(MONDAY, 6), LINES, True),
        supplies=supplies(range_) if bought is None else bought,
        stock=STOCK,
        planned=2,
        spread=0.2,
        budget=Budget(effort=1.0),
    )


@pytest.fixture(scope="module")
def plan(small_range: Range) -> BuyingPlan:
    return planned(small_range)


def recalculated(content: bytes, folder: Path) -> openpyxl.Workbook:
    """The workbook after a spreadsheet program has reckoned all its formulas."""
    assert SOFFICE is not None
    source = folder / "in.xlsx"
    openpyxl.load_workbook(io.BytesIO(content)).save(source)  # which leaves out the stored results
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    words = [
        SOFFICE,
        profile,
        "--headless",
        "--convert-to",
        "xlsx",
        "--outdir",
        str(folder / "out"),
        str(source),
    ]
    subprocess.run(words, check=True, capture_output=True, timeout=180)
    return openpyxl.load_workbook(folder / "out" / "in.xlsx", data_only=True)


def cells(found: list[Page]) -> Iterator[tuple[str, str, object]]:
    """Page, place and content of every cell of the tables."""
    for page in found:
        for index, table in enumerate(page.tables):
            for row, content in enumerate(table.rows, start=page.first_row(index)):
                for column, cell in enumerate(content, start=1):
                    yield page.title, f"{column_letter(column)}{row}", cell


def check_all(book: openpyxl.Workbook, found: list[Page]) -> int:
    """Compare every formula's result with what the program says; tells how many there were."""
    count = 0
    for title, place, cell in cells(found):
        if not isinstance(cell, Live):
            continue
        count += 1
        got = book[title][place].value
        if isinstance(cell.value, datetime.date):
            assert got.date() == cell.value, (title, place)
        elif isinstance(cell.value, str):
            assert (got or "") == cell.value, (title, place)
        else:
            assert got == pytest.approx(cell.value, rel=1e-6, abs=1e-6), (title, place, cell.formula)
    return count


def test_a_page_for_each_question(plan: BuyingPlan) -> None:
    """Read back: titles, headings where the tables say they are, formulas, words that stay words."""
    found = pages(plan)
    book = openpyxl.load_workbook(io.BytesIO(workbook(found)))
    assert book.sheetnames == ["What to buy", "When", "Why", "Stock", "Losses", "Assumptions"]
    for page in found:
        for index, table in enumerate(page.tables):
            row = page.first_row(index) - 1
            headings = [book[page.title].cell(row, at + 1).value for at in range(len(table.columns))]
            assert headings == [column.heading for column in table.columns]
    for title, place, cell in cells(found):
        inside = book[title][place]
        if isinstance(cell, Live):
            assert inside.data_type == "f"
        elif isinstance(cell, str) and cell:
            assert (inside.value, inside.data_type) == (cell, "s")
        elif isinstance(cell, Given):
            assert inside.value == cell.value
    assert len(book["When"]._charts) == 1


def test_results_are_there_for_whatever_only_shows_it(plan: BuyingPlan) -> None:
    """A preview reckons nothing."""
    found = pages(plan)
    book = openpyxl.load_workbook(io.BytesIO(workbook(found)), data_only=True)
    assert check_all(book, found) > 150


@NEEDS_OFFICE
def test_a_spreadsheet_reckons_the_same(plan: BuyingPlan, tmp_path: Path) -> None:
    """Every formula of the workbook gives what the program says, to a millionth."""
    found = pages(plan)
    assert check_all(recalculated(workbook(found), tmp_path), found) > 150


@NEEDS_OFFICE
def test_a_spreadsheet_reckons_the_same_in_yards(plan: BuyingPlan, tmp_path: Path) -> None:
    """Orders are the same rolls and the same money in an inch shop."""
    inch = replace(plan, workshop=plan.workshop.changed("inch"))
    with shown_for(inch.workshop):
        found = pages(inch)
        headings = [cell.value for _, place, cell in cells(found) if isinstance(cell, Live)]
    book = recalculated(workbook(found), tmp_path)
    assert check_all(book, found) == len(headings)
    metric = pages(plan)[0].tables[0].rows[-1][6]
    assert isinstance(metric, Live)
    last = found[0].first_row(0) + len(found[0].tables[0].rows) - 1
    assert book["What to buy"][f"G{last}"].value == pytest.approx(metric.value)


@NEEDS_OFFICE
def test_what_a_buyer_changes_is_reckoned_as_the_program_would(
    small_range: Range, plan: BuyingPlan, tmp_path: Path
) -> None:
    """Another price, delivery time, review, minimum order and delivery, typed into the cells in blue."""
    book = openpyxl.load_workbook(io.BytesIO(workbook(pages(plan))))
    row = pages(plan)[0].first_row(0)
    assert book["What to buy"][f"A{row}"].value == "Cloth"
    for column, value in (("K", 3), ("L", 1), ("M", 130), ("N", 1), ("P", 9.9)):
        book["What to buy"][f"{column}{row}"] = value
    free = pages(plan)[3].first_row(1) + 3
    assert book["Stock"][f"A{free}"].value is None
    for column, value in (("A", "Cloth"), ("B", 1), ("D", 25)):
        book["Stock"][f"{column}{free}"] = value
    book["Why"][f"L{pages(plan)[2].first_row(0)}"] = 7.5
    stream = io.BytesIO()
    book.save(stream)

    bought = supplies(small_range)
    cloth = bought["cloth"]
    bought["cloth"] = replace(
        cloth,
        terms=replace(cloth.terms, lead=3, review=1, least=130.0, multiple=1, price=9.9),
        arrivals=(*cloth.arrivals, Arrival(1, 25.0)),
        safety=7.5,
    )
    wanted = pages(planned(small_range, bought))[0]
    told = wanted.tables[0].rows[0]
    assert isinstance(told[2], Live)
    assert told[2].value == 7.0
    got = recalculated(stream.getvalue(), tmp_path)["What to buy"]
    for column, cell in zip("CDEFGHIJ", told[2:10], strict=True):
        value = cell.value if isinstance(cell, Live) else cell
        found = got[f"{column}{row}"].value
        if isinstance(value, datetime.date):
            assert found.date() == value
        else:
            assert found == pytest.approx(value), column
    before = pages(plan)[0].tables[0].rows[0]
    assert [cell.value for cell in told if isinstance(cell, Live)] != [
        cell.value for cell in before if isinstance(cell, Live)
    ]


def test_a_folder_appears_whole_or_not_at_all(plan: BuyingPlan, tmp_path: Path) -> None:
    """And never in the place of somebody else's files."""
    write_buying(plan, tmp_path / "buy")
    write_buying(plan, tmp_path / "buy")
    names = {path.name for path in (tmp_path / "buy").iterdir()}
    assert {"buying.xlsx", "buying.json", "what-to-buy.csv", "when.csv", "why.csv", "losses.csv"} <= names
    assert (tmp_path / "buy" / "pieces.csv").read_text("utf-8-sig").count("'=R2") == 1
    other = tmp_path / "other"
    other.mkdir()
    (other / "letter.txt").write_text("mine")
    with pytest.raises(NestingError, match="not a buying plan"):
        write_buying(plan, other)
    assert [path.name for path in other.iterdir()] == ["letter.txt"]
    assert {path.name for path in tmp_path.iterdir()} == {"buy", "other"}


def test_lists_follow_the_decimal_sign(small_range: Range, plan: BuyingPlan, tmp_path: Path) -> None:
    """With a decimal comma cells are set apart by semicolons."""
    write_buying(replace(plan, workshop=replace(plan.workshop, decimal=",")), tmp_path / "buy")
    line = (tmp_path / "buy" / "what-to-buy.csv").read_text("utf-8-sig").splitlines()[1]
    assert line.startswith("Cloth;'-Mill (invented);")
    assert line.endswith(";11,5")
