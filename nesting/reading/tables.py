"""Tables that people keep in spreadsheets: CSV and XLSX files, found by their headings.

Such files come from outside and are treated as hostile: sizes are limited before anything is unpacked,
and every cell is checked before it is used.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from itertools import islice
from typing import TypeAlias

from nesting.errors import Finding, InputError
from nesting.reading.files import MEGABYTE, read_limited
from nesting.reading.findings import Findings, listed
from nesting.reading.units import show

__all__ = ["Cell", "Row", "read_table"]

MAX_BYTES = 50 * MEGABYTE
"""Largest file."""
MAX_ROWS = 200_000
"""Most rows that are not blank."""
MAX_HEADING_ROW = 20
"""The headings must be within this many rows from the top."""
MAX_CELL = 200
"""Most characters in a cell that is used, unless a table says otherwise."""
MAX_LINE = 100_000
"""Most characters in a line of CSV."""
DELIMITERS = (";", "\t", ",")
"""Tried in this order: where two find as many headings, a comma may be a decimal comma."""

ERROR_VALUES = frozenset({"#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A"})
"""What spreadsheets show when a formula fails (ECMA-376, error values)."""

Cell: TypeAlias = str | int | float | bool | date | None
"""Content of a cell: text without spaces around it, None when blank."""

UNCALCULATED = object()
"""Stands for a formula whose result is not stored in the file."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row with the cells of the wanted columns.

    Parameters
    ----------
    number
        As a spreadsheet counts rows, from 1.
    cells
        By the plain name of the column.
    """

    number: int
    cells: Mapping[str, Cell]


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet of a workbook, or a CSV file read with one delimiter; its rows can be read repeatedly."""

    name: str
    rows: Callable[[], Iterator[Sequence[object]]]


@dataclass(frozen=True, slots=True)
class _Heading:
    """Where the headings of a grid stand: column number by plain name."""

    grid: Grid
    row: int
    columns: Mapping[str, list[int]]
    written: tuple[str, ...]


def read_table(
    path: str | os.PathLike[str],
    columns: Mapping[str, Sequence[str]],
    findings: Findings,
    *,
    kind: str,
    optional: Collection[str] = (),
    longest: int = MAX_CELL,
) -> Iterator[Row]:
    """The rows of the table in a file, blank ones left out.

    Parameters
    ----------
    path
        CSV (delimiter comma, semicolon or tab; UTF-8, UTF-16 with its mark, or Windows-1252) or XLSX.
    columns
        Plain name of every wanted column with the other headings it may have, in lower case. Columns may
        stand in any order among others, in the first sheet that has them.
    findings
        Takes what is wrong with single cells; rows at fault are left out.
    kind
        What the file is, for messages: ``"an order book"``.
    optional
        Plain names of columns that may be absent; the rows then have no such cell.
    longest
        Most characters in a cell that is used.

    Raises
    ------
    InputError
        When the file cannot be read at all or a column is missing.
    """
    name = os.fspath(path)
    content = read_limited(path, limit=MAX_BYTES, kind=kind)
    heading = _find_heading(name, _grids(name, content), columns, kind, optional)
    return _rows(heading, findings, longest)


def refusal(name: str, place: str, value: str, allowed: str, remedy: str) -> InputError:
    """The error for a file that cannot be read any further."""
    return InputError([Finding(name, place, value, allowed, remedy)])


def _grids(name: str, content: bytes) -> Iterable[Grid]:
    if content.startswith(b"PK\x03\x04"):
        from nesting.reading.workbook import sheets  # here: loading it is slow

        return sheets(name, content)
    if content.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):  # OLE compound file
        value, remedy = (
            "an old or password-protected workbook",
            "Save it as .xlsx without a password, or as CSV.",
        )
        raise refusal(name, "the file", value, "CSV or XLSX", remedy)
    text = _decoded(name, content)
    return [Grid("", partial(_csv_rows, name, text, delimiter)) for delimiter in DELIMITERS]


def _decoded(name: str, content: bytes) -> str:
    wide = content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
        line = text.count("\n", 0, text.index("\0")) + 1
        remedy = "Export the table again, as CSV or XLSX."
        raise refusal(name, f"line {line}", "a NUL character", "text", remedy)
    remedy = "Save the table as CSV in UTF-8, or as XLSX."
    raise refusal(name, "the file", "bytes that are no text", "CSV or XLSX", remedy)


def _csv_rows(name: str, text: str, delimiter: str) -> Iterator[Sequence[object]]:
    def lines() -> Iterator[str]:
        for number, line in enumerate(io.StringIO(text, newline=""), start=1):
            if len(line) > MAX_LINE:
                value = f"a line of {show(len(line))} characters"
                remedy = "Export the table again, one order to a line."
                raise refusal(name, f"line {number}", value, f"at most {show(MAX_LINE)} characters", remedy)
            yield line

    reader = csv.reader(lines(), delimiter=delimiter, strict=True)
    try:
        yield from reader
    except csv.Error:  # a quote that is never closed runs into the end or the csv module's field limit
        remedy = "Look for a quotation mark too many or too few in this line or further up."
        allowed = "quotation marks in pairs"
        value = "a cell that does not end where it should"
        raise refusal(name, f"line {reader.line_num}", value, allowed, remedy) from None


def _find_heading(
    name: str,
    grids: Iterable[Grid],
    columns: Mapping[str, Sequence[str]],
    kind: str,
    optional: Collection[str],
) -> _Heading:
    best: _Heading | None = None
    broken: InputError | None = None
    for grid in grids:
        try:
            heading = _best_row(grid, columns)
        except InputError as error:  # with the wrong delimiter, quotes need not pair
            broken = broken or error
            continue
        if heading and (best is None or len(heading.columns) > len(best.columns)):
            best = heading
        if best and len(best.columns) == len(columns):
            break
    if best is None:
        if broken is not None:
            raise broken
        wanted = ", ".join(column for column in columns if column not in optional)
        remedy = f"Add a row of headings within the first {MAX_HEADING_ROW} rows: {wanted}."
        raise refusal(name, "the file", "no headings", f"{kind} with headings", remedy)
    _check_heading(name, best, columns, optional)
    return best


def _best_row(grid: Grid, columns: Mapping[str, Sequence[str]]) -> _Heading | None:
    """The row near the top in which most columns are found."""
    names = {word: column for column, words in columns.items() for word in (column, *words)}
    best: _Heading | None = None
    for number, row in enumerate(islice(grid.rows(), MAX_HEADING_ROW), start=1):
        found: dict[str, list[int]] = {}
        for index, cell in enumerate(row):
            column = names.get(_plain(cell))
            if column is not None:
                found.setdefault(column, []).append(index)
        written = tuple(str(cell).strip()[:40] for cell in row if cell is not None and str(cell).strip())
        if found and (best is None or len(found) > len(best.columns)):
            best = _Heading(grid, number, found, written)
    return best


def _plain(cell: object) -> str:
    """A heading without case, signs and surplus spaces: ``"Order_No."`` becomes ``"order no"``."""
    return " ".join(re.split(r"[\W_]+", cell.casefold())).strip() if isinstance(cell, str) else ""


def _check_heading(
    name: str, heading: _Heading, columns: Mapping[str, Sequence[str]], optional: Collection[str]
) -> None:
    findings = Findings(name)
    place = ", ".join(filter(None, (heading.grid.name, f"row {heading.row}")))
    for column, words in columns.items():
        where = heading.columns.get(column, [])
        if not where and column not in optional:
            found = f"the headings {', '.join(heading.written)}"
            allowed = f"a column {column!r}, also called {listed(words)}"
            findings.add(
                place, found, allowed, f"Add the column {column!r}, or rename the one that is meant."
            )
        if len(where) > 1:
            found = " and ".join(f"column {index + 1}" for index in where)
            remedy = "Rename the columns that are not meant."
            findings.add(place, found, f"one column for {column!r}", remedy)
    findings.stop_if_any()


def _rows(heading: _Heading, findings: Findings, longest: int) -> Iterator[Row]:
    columns = {column: where[0] for column, where in heading.columns.items()}
    count = 0
    for number, raw in enumerate(heading.grid.rows(), start=1):
        if number <= heading.row:
            continue
        picked = {column: raw[at] if at < len(raw) else None for column, at in columns.items()}
        before = len(findings)
        cells = {
            column: _cell(content, number, column, findings, longest) for column, content in picked.items()
        }
        if len(findings) == before and all(cell is None for cell in cells.values()):
            continue
        count += 1
        if count > MAX_ROWS:
            remedy = "Split it, for instance by week."
            findings.add(f"row {number}", "more rows", f"at most {show(MAX_ROWS)} rows", remedy)
            return
        if len(findings) == before:
            yield Row(number, cells)


def _cell(content: object, row: int, column: str, findings: Findings, longest: int) -> Cell:
    place = f"row {row}, {column}"
    if content is UNCALCULATED:
        remedy = "Open the workbook in a spreadsheet program, save it, and try again."
        findings.add(place, "a formula without a result", "a value", remedy)
        return None
    if isinstance(content, datetime):
        return content.date()
    if content is None or isinstance(content, int | float | date):
        return content
    text = str(content).strip()
    if len(text) > longest:
        found = f"{text[:20]}... ({show(len(text))} characters)"
        findings.add(place, found, f"at most {longest} characters", "Shorten it.")
        return None
    if text in ERROR_VALUES:
        findings.add(place, text, "a value", "Put the formula right in the spreadsheet.")
        return None
    return text or None
