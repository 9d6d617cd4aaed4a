"""A range file as a workbook: for people who live in spreadsheets.

Every table of the range has a sheet: materials, sizes, models, panels, allowances. A row is one entry, a
column one field; a blank cell is a field that is not given. What a cell holds is what the range file says
there, so that the same checks apply and a round trip changes nothing:

- numbers, yes or no, and text stand as they are, ``54 in`` and formulas such as ``W + 2 * seam`` included;
- a list is written with semicolons, ``king; double``, a list of one with one behind it, ``king;``;
- an inner table has a column for each of its fields, ``skins.x0``;
- anything else, and text that could be mistaken for one of these, is written as in the range file.
"""

from __future__ import annotations

import io
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import openpyxl
from openpyxl.cell import Cell
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter

from nesting.catalogue.tomltext import toml_value
from nesting.errors import Finding
from nesting.reading.findings import Findings, listed, near
from nesting.reading.tables import UNCALCULATED
from nesting.reading.workbook import sheets

__all__ = ["Tables", "range_workbook", "workbook_tables"]

Tables = dict[str, Any]
"""The tables of a range file, as TOML gives them."""

PAIRS = {"Range": "range", "Workshop": "workshop", "Allowances": "allowances"}
"""Sheets of names and values, and the tables they hold."""

LISTS = {"Sizes": "sizes", "Materials": "materials", "Models": "models"}
"""Sheets of named entries, and the tables they hold."""

PANELS = "Panels"
NOTES = "Read me"
KEY, MODEL, NAME, VALUE, NOTE = "key", "model", "name", "value", "note"

FIRST = {
    "Sizes": (KEY, "name", "width", "length"),
    "Materials": (KEY, "name", "kind"),
    "Models": (KEY, "name", "height", "sizes"),
    PANELS: (MODEL, "code", "name", "generator", "material"),
}
"""Columns that come first; the others follow as they occur."""

WORDS = (
    "This workbook holds a range: what is made, and of what. Change it and bring it back; every check of a "
    "range file is made then.",
    "One row is one entry, one column one field. Leave a cell blank where a field is not given.",
    'Lengths are mm unless a unit is written: 54 in, 40 m. Formulas are text such as W + 2 * seam (no "=").',
    "Lists are written with semicolons: king; double. A list of one has a semicolon behind it: king;",
    "Columns such as skins.x0 are fields of an inner table. New columns may be added: their heading is the "
    "name of the field.",
    "The column note of the sheet Allowances is for people and is not read back.",
)

_NUMBER = re.compile(r"[+-]?(\d[\d_]*)?\.?\d+([eE][+-]?\d+)?")
_PANEL = re.compile(r"^(models\..+?\.panels\[\d+\])(?: '[^']*')?")
_HEADING = PatternFill("solid", fgColor="DDE6EE")


# --- Writing ----------------------------------------------------------------------------------------------


def range_workbook(tables: Mapping[str, Any], notes: Mapping[str, str] | None = None) -> bytes:
    """The workbook of a range.

    Parameters
    ----------
    tables
        Of the range file, as TOML gives them.
    notes
        What is remarked on allowances, by their names.

    Returns
    -------
    bytes
        An XLSX file.
    """
    book = openpyxl.Workbook()
    first = book.active
    assert first is not None
    first.title = NOTES
    for row, words in enumerate(WORDS, start=1):
        _write(first.cell(row, 1), words)
        first.cell(row, 1).alignment = Alignment(wrap_text=True, vertical="top")
    first.column_dimensions["A"].width = 100
    for title, table in PAIRS.items():
        columns = [NAME, VALUE, NOTE] if table == "allowances" else [NAME, VALUE]
        remarks = notes or {} if table == "allowances" else {}
        rows = [
            {NAME: name, VALUE: _cell(value), **({NOTE: remarks[name]} if name in remarks else {})}
            for name, value in tables.get(table, {}).items()
        ]
        _sheet(book, title, columns, rows)
    for title, table in LISTS.items():
        entries = [
            {KEY: key, **_flat({name: value for name, value in entry.items() if name != "panels"})}
            for key, entry in tables.get(table, {}).items()
        ]
        _sheet(book, title, FIRST[title], entries)
    panels = [
        {MODEL: key, **_flat(panel)}
        for key, model in tables.get("models", {}).items()
        for panel in model.get("panels", [])
    ]
    _sheet(book, PANELS, FIRST[PANELS], panels)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _flat(table: Mapping[str, Any]) -> dict[str, Any]:
    """Fields to cells; inner tables become fields of their own."""
    cells: dict[str, Any] = {}
    for name, value in table.items():
        if isinstance(value, Mapping) and value and not any(isinstance(v, Mapping) for v in value.values()):
            cells |= {f"{name}.{inner}": _cell(part) for inner, part in value.items()}
        else:
            cells[name] = _cell(value)
    return cells


def _cell(value: Any) -> Any:
    """What stands in a cell for a value of the range file."""
    if isinstance(value, bool | int | float):
        return value
    if isinstance(value, str):
        plain = value == value.strip() != "" and value.isprintable() and _reads_as(value, value)
        return value if plain else toml_value(value)
    if isinstance(value, list):
        text = "; ".join(str(item) for item in value) + (";" if len(value) == 1 else "")
        if value and text.isprintable() and _reads_as(text, value):
            return text
    return toml_value(value)


def _reads_as(text: str, value: Any) -> bool:
    """Whether a cell with this text stands for the value, kinds of numbers included."""
    try:
        return repr(_read(text)) == repr(value)
    except ValueError:
        return False


def _sheet(book: Any, title: str, first: Iterable[str], rows: list[dict[str, Any]]) -> None:
    sheet = book.create_sheet(title)
    columns = list(dict.fromkeys([*first, *(name for row in rows for name in row)]))
    for number, name in enumerate(columns, start=1):
        cell = sheet.cell(1, number)
        _write(cell, name)
        cell.font, cell.fill = Font(bold=True), _HEADING
        width = max([len(name), *(len(str(row.get(name, ""))) for row in rows)])
        sheet.column_dimensions[get_column_letter(number)].width = min(60, width + 3)
    for at, row in enumerate(rows, start=2):
        for number, name in enumerate(columns, start=1):
            if name in row:
                _write(sheet.cell(at, number), row[name])
    sheet.freeze_panes = "B2"


def _write(cell: Cell | Any, value: Any) -> None:
    cell.value = value
    if isinstance(value, str):
        cell.data_type = "s"  # text stays text, with whatever it begins
        cell.number_format = "@"


# --- Reading ----------------------------------------------------------------------------------------------


@dataclass(slots=True)
class Places:
    """Where in the workbook each part of the tables stands."""

    cells: dict[str, str] = field(default_factory=dict)

    def finding(self, finding: Finding) -> Finding:
        """The finding with its place as a sheet, a row and a column."""
        panel = _PANEL.match(finding.place)
        path = panel[1] + finding.place[panel.end() :] if panel else finding.place
        tail = ""
        while path:
            if path in self.cells:
                place = self.cells[path] + (f", {tail}" if tail else "")
                return Finding(finding.file, place, finding.value, finding.allowed, finding.remedy)
            path, _, last = path.rpartition(".")
            tail = f"{last}.{tail}" if tail else last
        return finding


def workbook_tables(name: str, content: bytes) -> tuple[Tables, Places]:
    """The tables that a workbook holds, and where each of them stands.

    Parameters
    ----------
    name
        Name of the file, for messages.
    content
        Its bytes.

    Raises
    ------
    InputError
        With everything that keeps it from being read as a range.
    """
    findings, places = Findings(name), Places()
    tables: Tables = {}
    panels: list[tuple[str, str, dict[str, Any], dict[str, str]]] = []
    known = {sheet.casefold(): sheet for sheet in (*PAIRS, *LISTS, PANELS, NOTES)}
    found: set[str] = set()
    for grid in sheets(name, content):
        title = grid.name.removeprefix("sheet ").strip("'\"")
        sheet = known.get(title.strip().casefold())
        if sheet is None:
            remedy = f"{near(title, known.values())}Rename the sheet or take it out."
            findings.add(grid.name, title, f"the sheets {listed(known.values())}", remedy)
        elif sheet in found:
            findings.add(grid.name, title, "every sheet once", "Put the rows on one sheet.")
        elif sheet != NOTES:
            found.add(sheet)
            rows = list(_rows(sheet, grid.rows(), findings))
            if sheet in PAIRS:
                tables[PAIRS[sheet]] = _pairs(PAIRS[sheet], rows, places, findings)
            elif sheet in LISTS:
                tables[LISTS[sheet]] = _entries(LISTS[sheet], rows, places, findings)
            else:
                panels = [(at, *_taken(MODEL, at, cells, findings), where) for at, cells, where in rows]
    _attach(tables, panels, places, findings)
    findings.stop_if_any()
    return {name: table for name, table in tables.items() if table}, places


def _rows(
    sheet: str, rows: Iterable[Iterable[object]], findings: Findings
) -> Iterator[tuple[str, dict[str, Any], dict[str, str]]]:
    """Place, cells by heading, and place of each cell, of every row that is not blank."""
    headings: list[str] | None = None
    for number, row in enumerate(rows, start=1):
        cells = list(row)
        if all(cell is None or cell == "" for cell in cells):
            continue
        if headings is None:
            headings = ["" if cell is None else str(cell).strip() for cell in cells]
            for heading in {h for h in headings if h and headings.count(h) > 1}:
                findings.add(f"sheet {sheet!r}", heading, "every heading once", "Take one column out.")
            continue
        at = f"sheet {sheet!r}, row {number}"
        values: dict[str, Any] = {}
        where: dict[str, str] = {}
        for column, cell in enumerate(cells):
            if cell is None or (isinstance(cell, str) and not cell.strip()):
                continue
            heading = headings[column] if column < len(headings) else ""
            place = f"{at}, column {heading or get_column_letter(column + 1)}"
            if not heading:
                findings.add(
                    place, cell, "a heading above every column", "Write the name of the field there."
                )
            elif cell is UNCALCULATED:
                remedy = 'Write the value. Formulas of a range are text without "=", such as W + 2 * seam.'
                findings.add(place, "a formula of the spreadsheet", "a value", remedy)
            elif not isinstance(cell, str | bool | int | float):
                remedy = "Format the cell as text or number and write it again."
                findings.add(place, str(cell), "a number or text", remedy)
            else:
                try:
                    values[heading] = _read(cell)
                except ValueError:
                    remedy = "Look for a missing quote or bracket."
                    findings.add(place, cell, "a value as in a range file", remedy)
                where[heading] = place
        yield at, values, where


def _read(cell: str | bool | int | float) -> Any:
    """The value that a cell stands for.

    Raises
    ------
    ValueError
        When it begins as a value of the range file does, and is none.
    """
    if not isinstance(cell, str):
        return int(cell) if isinstance(cell, float) and cell.is_integer() else cell
    text = cell.strip()
    if text[:1] in ('"', "'", "[", "{"):
        try:
            return tomllib.loads(f"value = {text}")["value"]
        except tomllib.TOMLDecodeError as error:
            raise ValueError(str(error)) from None
    if ";" in text:
        items = [item.strip() for item in text.split(";")]
        if items[-1] == "":
            items.pop()
        return [_number(item) for item in items]
    return text


def _number(item: str) -> str | int | float:
    if not _NUMBER.fullmatch(item):
        return item
    number = float(item)
    return int(number) if number.is_integer() and "." not in item else number


def _taken(heading: str, at: str, cells: dict[str, Any], findings: Findings) -> tuple[str, dict[str, Any]]:
    """The name that a row stands under, and its other cells."""
    rest = dict(cells)
    key = rest.pop(heading, None)
    if key is None:
        findings.add(at, None, f"something in the column {heading}", "Fill the cell, or clear the row.")
    return "" if key is None else str(key), rest


def _pairs(
    table: str, rows: list[tuple[str, dict[str, Any], dict[str, str]]], places: Places, findings: Findings
) -> Tables:
    values: Tables = {}
    for at, cells, where in rows:
        name, rest = _taken(NAME, at, cells, findings)
        for other in rest.keys() - {VALUE, NOTE}:
            findings.add(where[other], rest[other], f"the columns {NAME}, {VALUE} and {NOTE}", "Take it out.")
        if name in values:
            findings.add(at, name, "every name once", "It is already written above: take one row out.")
        elif VALUE in rest and name:
            values[name] = rest[VALUE]
        elif name:
            findings.add(at, None, f"something in the column {VALUE}", "Fill the cell, or clear the row.")
        places.cells[f"{table}.{name}"] = where.get(VALUE, at)
    return values


def _entries(
    table: str, rows: list[tuple[str, dict[str, Any], dict[str, str]]], places: Places, findings: Findings
) -> Tables:
    entries: Tables = {}
    for at, cells, where in rows:
        key, rest = _taken(KEY, at, cells, findings)
        if key in entries:
            findings.add(at, key, "every key once", "It is already written above: rename one of them.")
        elif key:
            entries[key] = _nested(rest, f"{table}.{key}", at, where, places, findings)
    return entries


def _nested(
    cells: Mapping[str, Any],
    path: str,
    at: str,
    where: Mapping[str, str],
    places: Places,
    findings: Findings,
) -> Tables:
    """Fields from cells: those with a point in their heading belong to inner tables."""
    places.cells[path] = at
    table: Tables = {}
    for heading, value in cells.items():
        name, _, inner = heading.partition(".")
        places.cells[f"{path}.{heading}"] = where[heading]
        if not inner:
            if name in table:
                findings.add(where[heading], value, f"{name} or its parts, not both", "Clear one of them.")
            table[name] = value
        else:
            part = table.setdefault(name, {})
            if isinstance(part, dict):
                part[inner] = value
            else:
                findings.add(where[heading], value, f"{name} or its parts, not both", "Clear one of them.")
    return table


def _attach(
    tables: Tables,
    panels: list[tuple[str, str, dict[str, Any], dict[str, str]]],
    places: Places,
    findings: Findings,
) -> None:
    """Put the panels into their models."""
    models = tables.get("models", {})
    for at, key, cells, where in panels:
        if not key:
            continue
        if key not in models:
            remedy = f"{near(key, models)}Correct it, or add the model to the sheet 'Models'."
            findings.add(where[MODEL], key, f"models of the sheet 'Models': {listed(models)}", remedy)
            continue
        listed_panels = models[key].setdefault("panels", [])
        path = f"models.{key}.panels[{len(listed_panels) + 1}]"
        listed_panels.append(_nested(cells, path, at, where, places, findings))
