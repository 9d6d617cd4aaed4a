"""Order books: many shapes, hostile files, and the demand they make."""

from __future__ import annotations

import csv
import io
import random
import re
import zipfile
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.catalogue import load_range
from nesting.errors import InputError
from nesting.orders import OrderBook, OrderLine, demand_by_material, load_orders
from nesting.reading import tables
from nesting.reading import workbook as workbooks
from nesting.reading.findings import MAX_FINDINGS

DATA = Path(__file__).parent / "data"
HEAD = "order,due,model,size,quantity\n"
SOUND = HEAD + "A1,2026-04-03,Aurora,Double,12\n"


@pytest.fixture(scope="module")
def small():
    """The small invented range."""
    return load_range(DATA / "ranges" / "small.toml")


@pytest.fixture
def book(tmp_path, small):
    """Reads an order book given as text or bytes."""

    def load(content: str | bytes, **options) -> OrderBook:
        path = tmp_path / "orders.csv"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return load_orders(path, small, **options)

    return load


@pytest.fixture
def workbook(tmp_path, small):
    """Reads an order book given as sheets of rows."""

    def load(*sheets: list[list[object]], **options) -> OrderBook:
        return load_orders(_saved(tmp_path, *sheets), small, **options)

    return load


def _saved(folder, *sheets):
    file = openpyxl.Workbook()
    file.remove(file.active)
    for number, rows in enumerate(sheets):
        sheet = file.create_sheet(f"Sheet {number}")
        for row in rows:
            sheet.append(row)
    path = folder / "orders.xlsx"
    file.save(path)
    return path


def line(order="A1", due=date(2026, 4, 3), model="aurora", size="double", quantity=12, row=2):
    """An order line, by default that of `SOUND`."""
    return OrderLine(order=order, due=due, model_key=model, size_key=size, quantity=quantity, row=row)


# ---------------------------------------------------------------------------- shapes of CSV files


@pytest.mark.parametrize("name", sorted(path.name for path in (DATA / "orders").iterdir()))
def test_all_ways_to_write_an_order_book_say_the_same(small, name):
    """The sample books differ in delimiter, headings, order of columns, dates and encoding only."""
    lines = load_orders(DATA / "orders" / name, small).lines
    assert [(item.order, item.due, item.model_key, item.size_key, item.quantity) for item in lines] == [
        ("1001", date(2026, 4, 3), "aurora", "double", 12),
        ("1002", date(2026, 4, 13), "basis", "single", 1),
        ("1002", date(2026, 4, 13), "aurora", "us-queen", 30),
    ]


@pytest.mark.parametrize(
    "content",
    [
        SOUND,
        SOUND.replace(",", ";"),
        SOUND.replace(",", "\t"),
        SOUND.replace("\n", "\r\n"),
        SOUND.replace("\n", "\r"),
        "\ufeff" + SOUND,
        SOUND.encode("utf-16"),
        "sep=;\n" + SOUND.replace(",", ";"),
        "Orders of the week\n\n" + SOUND,
        SOUND + "\n,,,,\n  , ,\n",
        SOUND.replace("quantity\n", "quantity,remark\n").replace("12\n", "12,caf\xe9\n").encode("cp1252"),
        SOUND.replace("order,", '"order",').replace("A1", '"A1"'),
        "ORDER, Due ,Model,SIZE,Quantity\nA1 , 2026-04-03,aurora, double,12\n",
        "Order_No.,Due-Date,Product,Bed size,Qty.\nA1,3 April 2026,AURORA,135x190 cm,12.0\n",
    ],
)
def test_the_same_order_is_read_from_many_shapes(book, content):
    """Delimiters, line ends, marks, encodings, blank rows, title rows, headings, quotes."""
    (found,) = book(content).lines
    assert found == line(row=found.row)


def test_rows_are_counted_as_spreadsheets_count_them(book):
    """Title rows, blank rows and the headings count."""
    lines = book("Orders\n\n" + SOUND + "\n\nA2,2026-04-03,Aurora,Double,1\n").lines
    assert [item.row for item in lines] == [4, 7]


def test_a_comma_may_be_a_decimal_comma_between_semicolons(book):
    """12,0 is twelve."""
    assert book(SOUND.replace(",", ";").replace("12", "12,0")).lines == (line(),)


def test_other_columns_are_ignored(book):
    """Whatever they hold."""
    content = "colour,order,x,due,model,size,quantity\n" + "=1+1," + "A1,#REF!,2026-04-03,Aurora,Double,12\n"
    assert book(content).lines == (line(),)


def test_the_same_line_twice_counts_twice(book, small):
    """An order number may come again, even with model and size alike."""
    found = book(SOUND + "A1,2026-04-03,Aurora,Double,12\n")
    assert len(found.lines) == 2
    top = demand_by_material(small, found.lines)["ticking"][0]
    assert top.quantity == 48  # 2 x 12 beds, 2 panels each
    assert [(share.order, share.due, share.pieces) for share in top.orders] == [("A1", "2026-04-03", 48)]


# ---------------------------------------------------------------------------- findings


@pytest.mark.parametrize(
    ("row", "place", "message"),
    [
        (",2026-04-03,Aurora,Double,12", "order", "found nothing; allowed: a value in every row. Fill it in"),
        ("A1,,Aurora,Double,12", "due", "found nothing"),
        ("A1,2026-04-03,,Double,12", "model", "found nothing"),
        ("A1,2026-04-03,Aurora,,12", "size", "found nothing"),
        ("A1,2026-04-03,Aurora,Double,", "quantity", "found nothing"),
        ("A1,2026-04-03,Aurora,Double", "quantity", "found nothing"),
        (f"{'A' * 41},2026-04-03,Aurora,Double,1", "order", "at most 40 characters"),
        ('"A\n1",2026-04-03,Aurora,Double,1', "order", "on one line"),
        (
            f"{'A' * 300},2026-04-03,Aurora,Double,1",
            "order",
            r"AAA... \(300 characters\)'; allowed: at most 200",
        ),
        ("A1,#REF!,Aurora,Double,1", "due", "found '#REF!'.*Put the formula right"),
        ("A1,soon,Aurora,Double,1", "due", "found 'soon'.*Write a date such as 2026-04-03"),
        ("A1,3/4/2026,Aurora,Double,1", "due", "could be 3 April 2026 or 4 March 2026: write 2026-04-03"),
        ("A1,3/4/26,Aurora,Double,1", "due", "four digits"),
        (
            "A1,2026-04-03,Arora,Double,1",
            "model",
            "found 'Arora'.*'aurora' or 'basis'. Did you mean 'aurora'",
        ),
        ("A1,2026-04-03,Aurora,dubble,1", "size", "Did you mean 'double'"),
        ("A1,2026-04-03,Aurora,135x190,1", "size", "In centimetres"),
        (
            "A1,2026-04-03,Basis,Queen,1",
            "size",
            "found 'Queen'; allowed: a size of 'Basis': 'single' or 'double'",
        ),
        ("A1,2026-04-03,Aurora,Double,0", "quantity", "a whole number from 1 to 100 000.*take the row out"),
        ("A1,2026-04-03,Aurora,Double,-3", "quantity", "take the row out"),
        ("A1,2026-04-03,Aurora,Double,2.5", "quantity", "Beds come whole"),
        ('A1,2026-04-03,Aurora,Double,"2,5"', "quantity", "Beds come whole"),
        ("A1,2026-04-03,Aurora,Double,100001", "quantity", "split the order"),
        ("A1,2026-04-03,Aurora,Double,1.000", "quantity", "found '1.000'.*It could be 1 or 1000"),
        ('A1,2026-04-03,Aurora,Double,"1,500"', "quantity", "It could be 1.5 or 1500"),
        ("A1,2026-04-03,Aurora,Double,12 pcs", "quantity", "Write digits only"),
        ("A1,2026-04-03,Aurora,Double,1e3", "quantity", "Write digits only"),
        ("A1,2026-04-03,Aurora,Double,nan", "quantity", "Write digits only"),
        ("A1,2026-04-03,Aurora,Double,١٢", "quantity", "Write digits only"),
    ],
)
def test_a_faulty_cell_is_named_with_row_and_column(book, row, place, message):
    """One sound row above, the faulty one is row 3."""
    with pytest.raises(InputError) as caught:
        book(f"{SOUND}{row}\n")
    (finding,) = caught.value.findings
    assert finding.place == f"row 3, {place}"
    assert re.search(message, str(finding)), str(finding)
    assert "orders.csv: row 3, " in str(finding)


@pytest.mark.parametrize(
    ("written", "quantity"),
    [
        ("12", 12),
        ("12.0", 12),
        ('"12,00"', 12),
        ("1 000", 1000),
        ("1\u00a0000", 1000),
        ("1\u202f000", 1000),
        ('"1,000.0"', 1000),
        ('"1.000,00"', 1000),
        ("100000", 100_000),
        ("007", 7),
    ],
)
def test_whole_quantities_are_read(book, written, quantity):
    """With decimal point or comma, and groups of three where no doubt is left."""
    assert book(SOUND.replace("12", written)).lines == (line(quantity=quantity),)


def test_all_faults_are_told_at_once(book):
    """Row by row, column by column."""
    with pytest.raises(InputError) as caught:
        book(HEAD + ",x,Arora,Double,0\nA1,2026-04-03,Aurora,Dubble,1\n")
    places = [finding.place for finding in caught.value.findings]
    assert places == ["row 2, order", "row 2, due", "row 2, model", "row 2, quantity", "row 3, size"]


def test_at_most_200_faults_are_listed(book):
    """The rest is counted."""
    with pytest.raises(InputError) as caught:
        book(HEAD + "A1,2026-04-03,Aurora,Double,0\n" * 1000)
    assert len(caught.value.findings) == MAX_FINDINGS + 1
    assert caught.value.findings[-1].place == "and 800 more"


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("order,due,model,size\n", r"row 1: found 'the headings order, due, model, size'"),
        ("order,due,model,size\n", r"allowed: a column 'quantity', also called 'qty', 'pcs'"),
        ("order;model\nA1;Aurora\n", r"a column 'due'.*\n.*a column 'size'.*\n.*a column 'quantity'"),
        ("order,due,model,size,qty,pcs\n", r"'column 5 and column 6'; allowed: one column for 'quantity'"),
        ("A1,2026-04-03,Aurora,Double,12\n", r"found 'no headings'; allowed: an order book with headings"),
        ("A1,2026-04-03,Aurora,Double,12\n", r"Add a row of headings .*order, due, model, size, quantity"),
        ("\n" * 20 + SOUND, "found 'no headings'"),
        (HEAD, r"found 'headings only'; allowed: at least one order line"),
        ("", "found 'an empty file'"),
        ("  \n \n", "found 'an empty file'"),
        (SOUND + 'A1,2026-04-03,"Aurora,Double,12\n', r"line 3: found 'a cell that does not end"),
        (SOUND + 'A1,2026-04-03,"Aur"ora,Double,12\n', r"line 3: .*quotation marks in pairs"),
        (SOUND + "A1,2026-04-03,Aur\0ora,Double,12\n", r"line 3: found 'a NUL character'"),
        (SOUND.encode("utf-16-le"), "a NUL character"),
        (b"\xff\xfeA", "bytes that are no text"),
        (b"order\x81\x8d,due\n", "bytes that are no text"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, r"an old or password-protected workbook"),
        (b"PK\x03\x04 and so on", "a damaged or unknown workbook"),
        (b"%PDF-1.7\n1 0 obj\n", "found 'no headings'"),
        (SOUND + "A" * 200_000 + "\n", r"line 3: found 'a line of 200 001 characters'"),
    ],
)
def test_what_is_no_order_book_is_said_plainly(book, content, message):
    """Missing columns, broken quotes, other kinds of file."""
    with pytest.raises(InputError, match=message):
        book(content)


def test_a_file_that_cannot_be_opened_is_said_plainly(tmp_path, small):
    """Missing, or a folder."""
    with pytest.raises(InputError, match=r"found 'no such file'; allowed: an order book of at most 50 MB"):
        load_orders(tmp_path / "nowhere.csv", small)
    with pytest.raises(InputError, match="found 'a folder'"):
        load_orders(tmp_path, small)


# ---------------------------------------------------------------------------- dates of a whole file


def _dated(*days):
    return HEAD + "".join(f"A{number},{day},Aurora,Double,1\n" for number, day in enumerate(days))


def test_one_clear_date_settles_the_others(book):
    """13/4 can only be day first, so 3/4 is 3 April."""
    assert [item.due for item in book(_dated("3/4/2026", "13/4/2026")).lines] == [
        date(2026, 4, 3),
        date(2026, 4, 13),
    ]
    assert [item.due for item in book(_dated("3/4/2026", "4/13/2026")).lines] == [
        date(2026, 3, 4),
        date(2026, 4, 13),
    ]


def test_contradicting_dates_settle_nothing(book):
    """One row is day first, another month first: the third stays open, and only that one is told."""
    with pytest.raises(InputError) as caught:
        book(_dated("13/4/2026", "4/13/2026", "3/4/2026"))
    (finding,) = caught.value.findings
    assert finding.place == "row 4, due"
    assert "3 April 2026 or 4 March 2026" in finding.remedy


def test_the_order_of_dates_can_be_stated(book):
    """It settles what the file leaves open, and refuses what contradicts it."""
    content = _dated("3/4/2026")
    assert book(content, date_order="day first").lines[0].due == date(2026, 4, 3)
    assert book(content, date_order="month first").lines[0].due == date(2026, 3, 4)
    assert book(_dated("3.4.2026"), date_order="month first").lines[0].due == date(2026, 4, 3)
    with pytest.raises(InputError, match="Read month first, this is no date"):
        book(_dated("13/4/2026"), date_order="month first")
    with pytest.raises(ValueError, match="date_order must be one of"):
        book(content, date_order="year first")


# ---------------------------------------------------------------------------- workbooks


COLUMNS = ["Order", "Due", "Model", "Size", "Quantity"]


def test_a_workbook_with_real_dates_and_numbers_is_read(workbook):
    """Order numbers may be numbers, dates real, quantities decimals of a whole."""
    rows = [COLUMNS, [1001, datetime(2026, 4, 3), "Aurora", "Double", 12], [None] * 5]
    assert workbook([*rows, [1002.0, date(2026, 4, 3), "Aurora", "1350x1900", 12.0]]).lines == (
        line(order="1001"),
        line(order="1002", row=4),
    )


def test_the_first_sheet_with_the_headings_is_read(workbook):
    """Cover sheets are passed over, title rows too."""
    cover = [["Orders of the week"], [], ["prepared by", "order"]]
    orders = [["Week 14"], [], COLUMNS, ["A1", "2026-04-03", "Aurora", "Double", "12"]]
    assert workbook(cover, orders, [COLUMNS, ["A9", "2026-04-03", "Aurora", "Double", 1]]).lines == (
        line(row=4),
    )


def test_a_missing_column_names_the_sheet(workbook):
    """So that it can be found in a large workbook."""
    with pytest.raises(InputError, match=r"orders.xlsx: sheet 'Sheet 1', row 2: .*a column 'size'"):
        workbook([["x"]], [["y"], ["Order", "Due", "Model", "Quantity"]])


@pytest.mark.parametrize(
    ("row", "place", "message"),
    [
        (["A1", date(2026, 4, 3), "Aurora", "Double", 2.5], "quantity", "Beds come whole"),
        (["A1", date(2026, 4, 3), "Aurora", "Double", True], "quantity", "Write digits only"),
        (["A1", date(2026, 4, 3), "Aurora", "Double", datetime(2026, 1, 1)], "quantity", "Write digits only"),
        (["A1", 46115, "Aurora", "Double", 1], "due", "As a day number of a spreadsheet this is 2026-04-03"),
        (["A1", date(2026, 4, 3), "Aurora", "#N/A", 1], "size", "Put the formula right"),
        (["A1", "13/4/2026", "Aurora", "Double", 1], "due", "day and month may be swapped"),
        (
            ["A1", date(2026, 4, 3), "Aurora", "Double", "=6+6"],
            "quantity",
            "a formula without a result.*save it",
        ),
    ],
)
def test_a_faulty_cell_of_a_workbook_is_named(workbook, row, place, message):
    """Row 3, below a sound one with a real date."""
    with pytest.raises(InputError) as caught:
        workbook([COLUMNS, ["A0", date(2026, 4, 3), "Aurora", "Double", 1], row])
    (finding,) = caught.value.findings
    assert finding.place == f"row 3, {place}"
    assert re.search(message, str(finding)), str(finding)


def test_a_row_of_formulas_without_results_is_not_taken_for_blank(workbook):
    """Programs that write workbooks do not always work the formulas out."""
    with pytest.raises(InputError) as caught:
        workbook(
            [COLUMNS, ["A0", date(2026, 4, 3), "Aurora", "Double", 1], ["=X1", "=X2", "=X3", "=X4", "=X5"]]
        )
    assert len(caught.value.findings) == 5


def test_text_dates_beside_real_ones_pass_when_the_order_is_stated(workbook):
    """The person has looked at them, then."""
    rows = [
        COLUMNS,
        ["A0", date(2026, 4, 3), "Aurora", "Double", 1],
        ["A1", "13/4/2026", "Aurora", "Double", 1],
    ]
    assert workbook(rows, date_order="day first").lines[1].due == date(2026, 4, 13)


# ---------------------------------------------------------------------------- hostile files


def test_a_file_too_large_is_refused_unread(tmp_path, small):
    """200 MB of nothing, which takes no room on the disk."""
    path = tmp_path / "orders.csv"
    with path.open("wb") as file:
        file.truncate(200_000_000)
    assert path.stat().st_size > tables.MAX_BYTES
    with pytest.raises(InputError, match=r"found '200 MB'; allowed: an order book of at most 50 MB"):
        load_orders(path, small)


def test_too_many_rows_are_refused(book, monkeypatch):
    """The row is named at which reading stopped; blank rows do not count."""
    assert tables.MAX_ROWS == 200_000
    monkeypatch.setattr(tables, "MAX_ROWS", 1000)
    row = "A,2026-04-03,Aurora,Double,1\n"
    assert len(book(HEAD + (row + "\n") * 1000).lines) == 1000
    with pytest.raises(InputError) as caught:
        book(HEAD + row * 1001)
    (finding,) = caught.value.findings
    assert finding.place == "row 1002"
    assert "at most 1 000 rows" in str(finding)


def _archive(parts):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return packed.getvalue()


def test_a_zip_bomb_is_refused_before_it_is_unpacked(book, monkeypatch):
    """25 MB of zeros pack to a fortieth of a megabyte."""
    assert workbooks.MAX_UNPACKED == 200_000_000
    monkeypatch.setattr(workbooks, "MAX_UNPACKED", 20_000_000)
    content = _archive({"[Content_Types].xml": "<Types/>", "xl/media/x.bin": bytes(25_000_000)})
    assert len(content) < 30_000
    with pytest.raises(InputError, match=r"found '25 MB in 2 parts once unpacked'; allowed: at most 20 MB"):
        book(content)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_xml_entities_are_refused(tmp_path, small, encoding):
    """A few nested entities expand to gigabytes."""
    path = _saved(tmp_path, [COLUMNS])
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><worksheet>&b;</worksheet>'
    parts["xl/worksheets/sheet1.xml"] = (" " * 999_995 + bomb).encode(encoding)
    path.write_bytes(_archive(parts))
    with pytest.raises(InputError, match=r"xl/worksheets/sheet1.xml: found 'XML entities'"):
        load_orders(path, small)


@pytest.mark.parametrize(
    ("part", "content"),
    [
        ("xl/workbook.xml", b""),
        ("xl/workbook.xml", b"<workbook"),
        ("xl/worksheets/sheet1.xml", b"<worksheet><sheetData><row r='1'><c r='A1'"),
        ("[Content_Types].xml", b"<Types/>"),
    ],
)
def test_a_damaged_workbook_is_said_plainly(tmp_path, small, part, content):
    """Whatever part is damaged."""
    path = _saved(tmp_path, [COLUMNS, ["A1", "2026-04-03", "Aurora", "Double", 12]])
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()} | {part: content}
    path.write_bytes(_archive(parts))
    with pytest.raises(InputError, match=r"a damaged or unknown workbook|found 'no headings'"):
        load_orders(path, small)


def test_a_truncated_workbook_is_said_plainly(tmp_path, small):
    """Half a file has no table of contents."""
    path = _saved(tmp_path, [COLUMNS, ["A1", "2026-04-03", "Aurora", "Double", 12]])
    path.write_bytes(path.read_bytes()[:-500])
    with pytest.raises(InputError, match="a damaged or unknown workbook"):
        load_orders(path, small)


def test_other_archives_are_no_workbooks(book):
    """A plain archive, and an OpenDocument spreadsheet."""
    with pytest.raises(InputError, match="a damaged or unknown workbook"):
        book(_archive({"orders.csv": SOUND}))
    with pytest.raises(InputError, match=r"an OpenDocument spreadsheet.*Save it as .xlsx"):
        book(_archive({"mimetype": "application/vnd.oasis.opendocument.spreadsheet"}))


def test_a_cell_far_to_the_right_costs_nothing(tmp_path, small):
    """Columns beyond the hundredth are not looked at."""
    path = _saved(tmp_path, [COLUMNS, ["A1", "2026-04-03", "Aurora", "Double", 12, *[None] * 16_000, "x"]])
    assert load_orders(path, small).lines == (line(),)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    st.binary(max_size=200) | st.text(max_size=200).map(lambda text: (HEAD + text).encode("utf-8", "replace"))
)
def test_any_file_is_an_order_book_or_an_input_error(book, content):
    """Nothing else is ever raised."""
    try:
        book(content)
    except InputError as error:
        assert str(error)


# ---------------------------------------------------------------------------- choosing and exploding


def test_lines_between_two_days_include_both():
    """None leaves an end open."""
    lines = tuple(line(due=date(2026, 4, day), row=day) for day in (1, 3, 5, 7))
    whole = OrderBook("orders.csv", lines)
    assert [item.due.day for item in whole.between(date(2026, 4, 3), date(2026, 4, 5)).lines] == [3, 5]
    assert [item.due.day for item in whole.between(None, date(2026, 4, 1)).lines] == [1]
    assert whole.between(None, None) == whole


def test_days_without_orders_are_a_finding():
    """It says which days have some."""
    whole = OrderBook("orders.csv", (line(), line(due=date(2026, 4, 9))))
    with pytest.raises(
        InputError,
        match=r"due: found 'nothing due from 2026-05-01 to the end'.*from 2026-04-03 to 2026-04-09",
    ):
        whole.between(date(2026, 5, 1), None)


# Worked by hand: Aurora needs 2 top panels, 4 border strips and 2 tapes a bed, and from 1200 wide 2 half
# cores; Basis 1 top panel. 12 + 3 doubles and 5 singles of Aurora, 7 doubles of Basis.
def test_demand_is_worked_out_by_material(small):
    """Pieces a bed times beds, in the order of the range file."""
    lines = [
        line("A2", quantity=12),
        line("A1", quantity=3, due=date(2026, 4, 1)),
        line("A3", size="single", quantity=5),
        line("A3", model="basis", quantity=7),
    ]
    demand = demand_by_material(small, lines)
    assert {key: [(item.key, item.quantity) for item in items] for key, items in demand.items()} == {
        "ticking": [
            ("TP Aurora Single", 10),
            ("BO Aurora Single", 20),
            ("TP Aurora Double", 30),
            ("BO Aurora Double", 60),
            ("TP Basis Double", 7),
        ],
        "tape": [("TE Aurora Single", 10), ("TE Aurora Double", 30)],
        "foam": [("CO Aurora Single", 5), ("HC Aurora Double", 30)],
    }
    top = demand["ticking"][2]
    assert (top.model, top.size, top.panel.code, top.panel.width) == ("Aurora", "Double", "TP", 1390.0)
    shares = [(share.order, share.due, share.pieces) for share in top.orders]
    assert shares == [("A1", "2026-04-01", 6), ("A2", "2026-04-03", 24)]


def test_demands_of_like_names_get_their_keys_too(tmp_path):
    """Two sizes called Queen must not be mixed up."""
    text = (DATA / "ranges" / "small.toml").read_text().replace('name = "Single"', 'name = "Queen"')
    path = tmp_path / "range.toml"
    path.write_text(text)
    lines = [line(size="single", quantity=1), line(size="us-queen", quantity=1), line(quantity=1)]
    keys = [item.key for item in demand_by_material(load_range(path), lines)["tape"]]
    assert keys == [
        "TE Aurora Queen (aurora, single)",
        "TE Aurora Double",
        "TE Aurora Queen (aurora, us-queen)",
    ]


def test_a_line_the_range_does_not_offer_is_a_finding(small):
    """Lines may come from elsewhere than a checked file."""
    with pytest.raises(InputError, match=r"size: found 'us-queen'; allowed: a size of 'Basis'"):
        demand_by_material(small, [line(), line(model="basis", size="us-queen")])
    assert demand_by_material(small, []) == {}


_beds = st.sampled_from(
    [("Aurora", "Single"), ("Aurora", "Double"), ("aurora", "us queen"), ("BASIS", "single")]
)
_rows = st.lists(
    st.tuples(
        st.sampled_from(["A1", "A2", "A3"]),
        st.dates(date(2026, 1, 1), date(2026, 12, 31)),
        _beds,
        st.integers(1, 99),
    ),
    min_size=1,
    max_size=12,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None)
@given(_rows, st.randoms(use_true_random=False))
def test_the_order_of_rows_and_columns_does_not_matter(tmp_path, small, rows, shuffler: random.Random):
    """Shuffled any way, the demand is the same; and it adds up to what was ordered."""
    columns = ["order", "due", "model", "size", "quantity"]
    table = [[order, day.isoformat(), *bed, str(count)] for order, day, bed, count in rows]

    def demand(order_of_columns, order_of_rows):
        path = tmp_path / "orders.csv"
        with path.open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([columns[at] for at in order_of_columns])
            writer.writerows([table[row][at] for at in order_of_columns] for row in order_of_rows)
        return demand_by_material(small, load_orders(path, small).lines)

    plain = demand(range(5), range(len(table)))
    mixed = demand(shuffler.sample(range(5), 5), shuffler.sample(range(len(table)), len(table)))
    assert list(plain.items()) == list(mixed.items())
    tops = [item for item in plain["ticking"] if item.panel.code == "TP"]
    auroras = sum(count for _, _, bed, count in rows if bed[0] != "BASIS")
    others = sum(count for _, _, bed, count in rows if bed[0] == "BASIS")
    assert sum(item.quantity for item in tops) == 2 * auroras + others
    for item in (item for items in plain.values() for item in items):
        assert item.quantity == sum(share.pieces for share in item.orders)
        assert list(item.orders) == sorted(item.orders, key=lambda share: (share.due, share.order))
