"""Pages as a workbook (XLSX): numbers to change in blue, formulas live, ready to print."""

from __future__ import annotations

import datetime
import io
import math
import re
import zipfile
from collections.abc import Sequence
from xml.etree import ElementTree

import openpyxl
from openpyxl.cell import Cell as SheetCell
from openpyxl.chart import BarChart, Reference
from openpyxl.chart.data_source import StrRef
from openpyxl.chart.series import SeriesLabel
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from nesting.buying.tables import Cell, Given, Kind, Live, Page, Table, Value, column_letter

__all__ = ["workbook"]

FORMATS: dict[Kind, str] = {
    "text": "General",
    "words": "General",
    "whole": '#,##0;[Red]-#,##0;"-"',
    "amount": '#,##0.0;[Red]-#,##0.0;"-"',
    "fine": "#,##0.00##",
    "money": '#,##0.00;[Red]-#,##0.00;"-"',
    "share": "0.0%",
    "date": "yyyy-mm-dd",
}
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_DAY_ZERO = datetime.date(1899, 12, 30)
"""Where spreadsheets count days from, their leap day of 1900 allowed for."""
_HEADING = PatternFill("solid", fgColor="DDE6EE")
_GIVEN = PatternFill("solid", fgColor="FFF6D6")
_BLUE = Font(color="1F3FBF")
_LINE = Border(top=Side(style="thin"))
TITLE_SIZE, TABLE_SIZE = 15, 12
LINE_HEIGHT = 13.5
"""Points for a line of text."""
LETTERS = 1.05
"""Letters to a unit of a column's width: rather too few than cut off below."""
ACROSS = 18
"""Columns that are still read on one page; more go on several."""
BOLD = 0.75
"""Of a column's width, what bold letters leave."""
MARGIN = 0.4
"""Inches."""


def workbook(pages: Sequence[Page]) -> bytes:
    """The workbook.

    Returns
    -------
    bytes
        An XLSX file. The program that opens it reckons all formulas again; their results are stored for
        whatever only shows it.
    """
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for page in pages:
        _write_page(book.create_sheet(page.title), page)
    book.calculation.fullCalcOnLoad = True
    stream = io.BytesIO()
    book.save(stream)
    return _with_results(stream.getvalue(), pages)


def _with_results(content: bytes, pages: Sequence[Page]) -> bytes:
    """The workbook with the result of every formula beside it, which its writer leaves out (ECMA-376)."""
    out = io.BytesIO()
    ElementTree.register_namespace("", _MAIN)
    ElementTree.register_namespace("r", _LINKS)
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            part = old.read(name)
            if found := re.fullmatch(r"xl/worksheets/sheet([0-9]+)\.xml", name):
                root = ElementTree.fromstring(part)
                results = _results(pages[int(found[1]) - 1])
                for cell in root.iter(f"{{{_MAIN}}}c"):
                    place = cell.get("r", "")
                    if place in results:
                        _store(cell, results[place])
                part = ElementTree.tostring(root, encoding="UTF-8", xml_declaration=True)
            new.writestr(name, part)
    return out.getvalue()


def _results(page: Page) -> dict[str, Value]:
    return {
        f"{column_letter(column)}{row}": cell.value
        for index, table in enumerate(page.tables)
        for row, cells in enumerate(table.rows, start=page.first_row(index))
        for column, cell in enumerate(cells, start=1)
        if isinstance(cell, Live)
    }


def _store(cell: ElementTree.Element, value: Value) -> None:
    inside = cell.find(f"{{{_MAIN}}}v")
    if inside is None:
        inside = ElementTree.SubElement(cell, f"{{{_MAIN}}}v")
    if isinstance(value, str):
        cell.set("t", "str")
        inside.text = value
    elif isinstance(value, datetime.date):
        inside.text = str((value - _DAY_ZERO).days)
    else:
        inside.text = "" if value is None else repr(float(value))


def _write_page(sheet: Worksheet, page: Page) -> None:
    _put(sheet, 1, 1, page.title).font = Font(bold=True, size=TITLE_SIZE)
    for row, words in enumerate(page.about, start=2):
        _put(sheet, row, 1, words)
    for index, table in enumerate(page.tables):
        _write_table(sheet, table, page.first_row(index))
    for index in range(max((len(table.columns) for table in page.tables), default=0)):
        widest = max(table.columns[index].width for table in page.tables if index < len(table.columns))
        sheet.column_dimensions[column_letter(index + 1)].width = widest
    if page.chart is not None:
        _draw(sheet, page, page.chart)
    for side in ("left", "right", "top"):
        setattr(sheet.page_margins, side, MARGIN)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    across = max((len(table.columns) for table in page.tables), default=1)
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = math.ceil(across / ACROSS), 0
    if across > ACROSS:
        sheet.print_title_cols = "A:C"
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    assert sheet.oddFooter is not None
    sheet.oddFooter.center.text = "&A, page &P of &N"
    sheet.freeze_panes = "B1" if page.chart is not None else None


def _write_table(sheet: Worksheet, table: Table, first: int) -> None:
    _put(sheet, first - 2, 1, table.title).font = Font(bold=True, size=TABLE_SIZE)
    for column, about in enumerate(table.columns, start=1):
        cell = _put(sheet, first - 1, column, about.heading)
        cell.font, cell.fill = Font(bold=True), _HEADING
        words = about.kind in ("text", "words")
        cell.alignment = Alignment(
            wrap_text=True,
            vertical="bottom",
            horizontal="left" if words else "right",
            indent=int(words and column > 1),
        )
    sheet.row_dimensions[first - 1].height = _height(
        [(column.heading, column.width * BOLD) for column in table.columns]
    )
    for row, cells in enumerate(table.rows, start=first):
        for column, (about, value) in enumerate(zip(table.columns, cells, strict=True), start=1):
            cell = _put(sheet, row, column, value)
            counted = about.kind == "amount" and isinstance(value, int)
            cell.number_format = FORMATS["whole" if counted else about.kind]
            words = about.kind in ("text", "words")
            cell.alignment = Alignment(
                wrap_text=about.kind == "text",
                vertical="top",
                horizontal="left" if words else "right",
                indent=int(words and column > 1),
            )
            if isinstance(value, Given):
                cell.font, cell.fill = _BLUE, _GIVEN
            if table.total and row == first + len(table.rows) - 1:
                cell.font, cell.border = Font(bold=True), _LINE
        sheet.row_dimensions[row].height = _height(
            [("", 1.0)]
            + [
                (value, about.width)
                for about, value in zip(table.columns, cells, strict=True)
                if about.kind == "text" and isinstance(value, str)
            ]
        )


def _height(texts: Sequence[tuple[str, float]]) -> float:
    """Height of a row, points, so that the longest of some texts has room in its column's width."""
    return LINE_HEIGHT * max(_lines(text, width) for text, width in texts)


def _lines(text: str, width: float) -> int:
    """Lines that a text takes, broken between words."""
    lines, room = 1, max(1, math.floor(width * LETTERS))
    left = room
    for word in text.split():
        if len(word) > left and left < room:
            lines, left = lines + 1, room
        left -= len(word) + 1
    return lines


def _put(sheet: Worksheet, row: int, column: int, value: Cell) -> SheetCell:
    cell = sheet.cell(row, column)
    assert isinstance(cell, SheetCell)
    if isinstance(value, Live):
        cell.value = f"={value.formula}"
        return cell
    plain = value.value if isinstance(value, Given) else value
    cell.value = plain
    if isinstance(plain, str):
        cell.data_type = "s"  # names that begin like a formula stay words
    elif isinstance(plain, datetime.date):
        cell.number_format = FORMATS["date"]
    return cell


def _draw(sheet: Worksheet, page: Page, words: str) -> None:
    """A column of money for each week, a share of it for each material."""
    table, first = page.tables[0], page.first_row(0)
    columns, last = len(table.columns), first + len(table.rows) - 1 - int(table.total)
    chart = BarChart()
    chart.type, chart.grouping, chart.overlap, chart.gapWidth = "col", "stacked", 100, 60
    chart.title = table.title
    chart.y_axis.title, chart.y_axis.number_format = words, "#,##0"
    chart.x_axis.delete = chart.y_axis.delete = False
    for row in range(first, last + 1):
        chart.add_data(
            Reference(sheet, min_col=4, max_col=columns, min_row=row), from_rows=True, titles_from_data=False
        )
        series = chart.series[-1]
        series.tx = SeriesLabel(strRef=StrRef(f"'{sheet.title}'!$A${row}"))
    chart.set_categories(Reference(sheet, min_col=4, max_col=columns, min_row=first - 1))
    chart.height, chart.width = 9, 26
    sheet.add_chart(chart, f"A{last + int(table.total) + 2}")
