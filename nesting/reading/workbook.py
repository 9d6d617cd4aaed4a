"""The sheets of an XLSX workbook, unpacked only after its size is known to be sane."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

import openpyxl

from nesting.errors import InputError
from nesting.reading.files import MEGABYTE
from nesting.reading.tables import UNCALCULATED, Grid, refusal
from nesting.reading.units import show

__all__ = ["sheets"]

MAX_UNPACKED = 200 * MEGABYTE
"""Most bytes of all parts together once unpacked: a small file may hold a very large one."""
MAX_PARTS = 5_000
"""Most parts (files in the archive)."""
MAX_COLUMNS = 100
"""Columns looked at."""

_CHUNK = 1_000_000
_LONGEST_MARK = 20  # bytes kept from one chunk to the next, so that no mark is cut in two
_ENTITY_MARKS = (b"<!DOCTYPE", b"<!ENTITY")
_FORMULA_MARKS = (b"<f>", b"<f ", b"<f/")


def sheets(name: str, content: bytes) -> Iterator[Grid]:
    """The sheets in order, each read only as far as it is asked for.

    Parameters
    ----------
    name
        Name of the file, for messages.
    content
        Its bytes.

    Raises
    ------
    InputError
        When it is no sound workbook, is too large once unpacked, or defines XML entities.
    """
    has_formulas = _inspect(name, content)
    values = _load(name, content, data_only=True)
    # Where a formula has no stored result its value reads as blank; only the formulas tell it apart.
    formulas = _load(name, content, data_only=False) if has_formulas else None
    for sheet in values.worksheets:
        twin = formulas[sheet.title] if formulas is not None else None
        yield Grid(f"sheet {sheet.title!r}", partial(_rows, name, sheet, twin))


def _broken(name: str) -> InputError:
    remedy = "Open it in a spreadsheet program and save it again as .xlsx, or as CSV."
    return refusal(name, "the file", "a damaged or unknown workbook", "CSV or XLSX", remedy)


def _inspect(name: str, content: bytes) -> bool:
    """Refuse what must not be unpacked; tells whether any part holds formulas."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = archive.infolist()
            size = sum(part.file_size for part in parts)
            if size > MAX_UNPACKED or len(parts) > MAX_PARTS:
                value = f"{show(size / MEGABYTE)} MB in {len(parts)} parts once unpacked"
                allowed = f"at most {show(MAX_UNPACKED / MEGABYTE)} MB in {MAX_PARTS} parts"
                remedy = "Take out other sheets and pictures, or save the order sheet as CSV."
                raise refusal(name, "the file", value, allowed, remedy)
            names = {part.filename for part in parts}
            if "mimetype" in names and b"opendocument" in archive.read("mimetype"):
                remedy = "Save it as .xlsx or as CSV."
                raise refusal(name, "the file", "an OpenDocument spreadsheet", "CSV or XLSX", remedy)
            if "[Content_Types].xml" not in names:
                raise _broken(name)
            found = [_scan(name, archive, part) for part in parts]  # every part: its name proves nothing
            return any(found)
    except InputError:
        raise
    except Exception:  # whatever a damaged archive makes of zipfile and zlib
        raise _broken(name) from None


def _scan(name: str, archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    formulas = False
    tail = b""
    with archive.open(part) as stream:
        while chunk := stream.read(_CHUNK):
            # Without NUL bytes, text in UTF-16 reads like plain text.
            text = tail + chunk.replace(b"\0", b"")
            if any(mark in text for mark in _ENTITY_MARKS):
                remedy = "Save the table as CSV from a program that is trusted."
                raise refusal(name, part.filename, "XML entities", "a plain workbook", remedy)
            formulas = formulas or any(mark in text for mark in _FORMULA_MARKS)
            tail = text[-_LONGEST_MARK:]
    return formulas


def _load(name: str, content: bytes, *, data_only: bool) -> Any:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that do not matter here
            return openpyxl.load_workbook(
                io.BytesIO(content), read_only=True, data_only=data_only, keep_links=False
            )
    except Exception:  # openpyxl raises all kinds on damaged parts
        raise _broken(name) from None


def _rows(name: str, sheet: Any, twin: Any) -> Iterator[Sequence[object]]:
    rows = _values(name, sheet)
    if twin is None:
        yield from rows
        return
    for row, formulas in zip(rows, _values(name, twin), strict=True):
        yield [
            UNCALCULATED if value is None and formula is not None else value
            for value, formula in zip(row, formulas, strict=True)
        ]


def _values(name: str, sheet: Any) -> Iterator[Sequence[object]]:
    sheet.reset_dimensions()  # the size stated in the file may be wrong
    rows = sheet.iter_rows(max_col=MAX_COLUMNS, values_only=True)
    while True:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                row = next(rows, None)
        except Exception:  # damaged sheets are only found out while reading
            raise _broken(name) from None
        if row is None:
            return
        yield row
