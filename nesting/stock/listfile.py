"""Stock lists: what stands on the shelf, from a spreadsheet."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from datetime import date

from nesting.catalogue import Range
from nesting.errors import InputError
from nesting.measures import shown_for
from nesting.model import Flaw, Material, SheetMaterial, StockPiece
from nesting.reading.cells import cell_text, read_number
from nesting.reading.findings import Findings, listed
from nesting.reading.tables import Cell, Row, read_table
from nesting.reading.units import MM_PER_UNIT, show
from nesting.stock.fitting import KINDS, check_sizes, kind_without_range, nominal
from nesting.stock.measures import FLAW_EXAMPLE, parse_flaws, read_length

__all__ = ["COLUMNS", "ListedPiece", "listed_from", "read_listed", "read_stock_list"]

MAX_QUANTITY = 10_000
"""Most pieces alike in one row."""
MAX_ID = 40
"""Most characters of an id in a list, with room for the numbers that quantities add."""
MAX_TEXT = 80
"""Most characters of a lot or place."""
MAX_FLAWS = 2_000
"""Most characters of a list of flaws."""

YES = frozenset({"yes", "y", "true", "1", "x", "remnant", "rest", "offcut"})
NO = frozenset({"no", "n", "false", "0", "-", "new", "whole", "full"})

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "id": (
        "piece",
        "piece id",
        "piece no",
        "piece number",
        "roll no",
        "roll nr",
        "roll number",
        "roll id",
        "block no",
        "block number",
        "sheet no",
        "sheet number",
        "stock id",
        "stock no",
        "stock number",
        "ticket",
        "ticket no",
        "barcode",
    ),
    "material": ("material key", "material name", "cloth", "fabric", "foam", "article", "item", "quality"),
    "kind": ("material kind", "type"),
    "length": ("measured length", "roll length"),
    "width": ("measured width", "usable width", "least usable width", "cuttable width"),
    "height": ("measured height", "thickness"),
    "quantity": ("qty", "pcs", "pieces", "units", "count", "number of pieces"),
    "remnant": ("rest", "offcut", "remnant or whole"),
    "lot": ("lot no", "lot number", "dye lot", "batch", "batch no", "batch number", "shade"),
    "flaws": ("flaw", "faults", "fault", "defects", "defect"),
    "place": ("location", "shelf", "rack", "bin", "position", "stands", "warehouse"),
    **{
        f"{side} {unit}": tuple(f"{word} {unit}" for word in ("measured " + side, *more))
        for side, more in (
            ("length", ("roll length",)),
            ("width", ("usable width", "cuttable width")),
            ("height", ("thickness",)),
        )
        for unit in MM_PER_UNIT
    },
}
"""The columns of a stock list and what else they may be called; all but the material may be absent.

A heading with a unit, such as ``Length (m)``, sets the unit of bare numbers below it; see `read_length` for
others.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPiece:
    """A piece of a stock list.

    Parameters
    ----------
    piece
        What it is; where the list names none, its id is only ``"row 5"`` or, of several, ``"row 5-2"``.
    kind
        ``"roll"``, ``"sheet"`` or ``"block"``.
    named
        Whether the list gives the id.
    row
        Row of the file, from 1.
    """

    piece: StockPiece
    kind: str
    named: bool
    row: int


def read_stock_list(path: str | os.PathLike[str], range_: Range | None = None) -> tuple[StockPiece, ...]:
    """The pieces of a stock list; see `read_listed`."""
    return tuple(listed_piece.piece for listed_piece in read_listed(path, range_))


def read_listed(path: str | os.PathLike[str], range_: Range | None = None) -> tuple[ListedPiece, ...]:
    """Read and check a stock list.

    Parameters
    ----------
    path
        A CSV or XLSX file of at most 50 MB and 200 000 rows, with the columns `COLUMNS` in any order.
    range_
        The materials that there are. With it, materials may be given by key or name, a blank size is the
        nominal one of the range (not for remnants), and sizes are checked. Without it materials are taken
        as they are written.

    Raises
    ------
    InputError
        With every problem found, at most 200 of them, each with its row and column.
    """
    name = os.fspath(path)
    findings = Findings(name)
    optional = [column for column in COLUMNS if column != "material"]
    rows = list(
        read_table(path, COLUMNS, findings, kind="a stock list", optional=optional, longest=MAX_FLAWS)
    )
    if not rows and not len(findings):
        findings.add("the file", "headings only", "at least one piece", "Add pieces below the headings.")
    if rows:
        _check_sides(rows[0], range_, findings)
    findings.stop_if_any()
    reader = _Reader(range_, findings)
    with _reading(range_):
        pieces = tuple(piece for row in rows for piece in reader.pieces(row))
    findings.stop_if_any()
    return pieces


def listed_from(values: Mapping[str, Cell], range_: Range | None = None) -> tuple[ListedPiece, ...]:
    """Pieces from single values, such as the options of a command, instead of a file.

    Parameters
    ----------
    values
        By the plain names of `COLUMNS`; what is absent or None is blank.
    range_
        As for `read_listed`.

    Raises
    ------
    InputError
        With every problem found; each names its option, such as ``--width``.
    """
    findings = Findings("take-in")
    cells = {**dict.fromkeys(("material", "length", "width")), **values}
    with _reading(range_):
        pieces = tuple(_Reader(range_, findings).pieces(Row(0, cells)))
    findings.stop_if_any()
    return pieces


def _reading(range_: Range | None) -> AbstractContextManager[None]:
    """Bare numbers are read as the people of the range mean them, or those that are known already."""
    return shown_for(range_.workshop) if range_ else nullcontext()


def _at(row: Row, column: str) -> str:
    return f"row {row.number}, {column}" if row.number else f"--{column}"


def _side_columns(row: Row, side: str) -> list[tuple[str, str | None]]:
    """Columns that give a side, with the unit of bare numbers in them."""
    columns = [(side, None), *((f"{side} {unit}", unit) for unit in MM_PER_UNIT)]
    return [(column, unit) for column, unit in columns if column in row.cells]


def _check_sides(row: Row, range_: Range | None, findings: Findings) -> None:
    for side in ("length", "width", "height"):
        found = [column for column, _ in _side_columns(row, side)]
        if len(found) > 1:
            remedy = "Keep one of them, or rename the others."
            findings.add("the headings", listed(found), f"one column for the {side}", remedy)
        if not found and side != "height" and range_ is None:
            allowed = f"a column {side!r}, also called {listed(COLUMNS[side])}, or with a unit: {side!r} (m)"
            remedy = f"Add the column {side!r}, or rename the one that is meant."
            findings.add("the headings", None, allowed, remedy)


class _Reader:
    """Turns rows into pieces."""

    def __init__(self, range_: Range | None, findings: Findings) -> None:
        self.range, self.findings = range_, findings
        self._rows_of: dict[str, tuple[str, int]] = {}
        self._materials: dict[str, Material | InputError] = {}

    def pieces(self, row: Row) -> list[ListedPiece]:
        """The pieces of a row; none when something is wrong with it."""
        before = len(self.findings)
        text, material = self._material(row)
        remnant = self._remnant(row)
        sizes = {side: self._side(row, side) for side in ("length", "width", "height")}
        quantity = self._quantity(row)
        given = self._words(row, "id", MAX_ID)
        lot = self._words(row, "lot", MAX_TEXT) or ""
        place = self._words(row, "place", MAX_TEXT) or ""
        flaws = self._flaws(row)
        kind = self._kind(row, material, sizes)
        if self.range is None or remnant:
            for side in ("length", "width"):
                if sizes[side] is None:
                    self.findings.add(_at(row, side), None, "a measured length above 0", "Measure it.")
        id_ = given or f"row {row.number}"
        ids = [id_] if quantity == 1 else [f"{id_}-{at}" for at in range(1, quantity + 1)]
        faulty = len(self.findings) > before
        if given:
            self._note_ids(ids, row.number)
        if faulty or text is None or kind is None:
            return []
        if isinstance(material, SheetMaterial) and sizes["height"] == material.thickness:
            sizes["height"] = 0.0  # known from the range; pieces of flat material have no height
        if material is not None and not remnant:
            sizes = {side: nominal(material, side) if size is None else size for side, size in sizes.items()}
        piece = StockPiece(
            id=id_,
            material=material.key if material else text,
            length=sizes["length"] or 0.0,
            width=sizes["width"] or 0.0,
            height=sizes["height"] or 0.0,
            remnant=remnant,
            lot=lot,
            flaws=flaws,
            place=place,
        )
        for fault in check_sizes(piece, kind, material):
            place_ = _at(row, fault.field)
            value = None if fault.value == 0 else fault.value
            self.findings.add(place_, value, fault.allowed, fault.remedy)
        if len(self.findings) > before:
            return []
        named = given is not None
        return [
            ListedPiece(piece=replace(piece, id=each), kind=kind, named=named, row=row.number) for each in ids
        ]

    def _note_ids(self, ids: list[str], number: int) -> None:
        for id_ in ids:
            first = self._rows_of.setdefault(id_.casefold(), (id_, number))
            if first[1] != number:
                remedy = f"Row {first[1]} has {first[0]!r} too: give every piece its own id."
                self.findings.add(f"row {number}, id", id_, "an id that no other row has", remedy)
                return

    def _material(self, row: Row) -> tuple[str | None, Material | None]:
        text = self._words(row, "material", MAX_TEXT)
        if text is None:
            if row.cells["material"] is None:
                remedy = "Write the key or name of the material."
                self.findings.add(_at(row, "material"), None, "a value in every row", remedy)
            return None, None
        if self.range is None:
            return text, None
        if text not in self._materials:
            try:
                self._materials[text] = self.range.find_material(text)
            except InputError as error:
                self._materials[text] = error
        found = self._materials[text]
        if isinstance(found, InputError):
            place = _at(row, "material")
            self.findings.extend(
                replace(finding, file=self.findings.file, place=place, value=text)
                for finding in found.findings
            )
            return text, None
        return text, found

    def _kind(self, row: Row, material: Material | None, sizes: Mapping[str, float | None]) -> str | None:
        text = self._words(row, "kind", MAX_TEXT)
        kind = text.casefold().removesuffix("s") if text else None
        if kind is not None and kind not in KINDS:
            self.findings.add(_at(row, "kind"), text, listed(KINDS), "Correct it, or leave it out.")
            return None
        if material is not None:
            if kind is not None and kind != material.kind:
                allowed = f"{material.kind!r}, as the range says of {material.key!r}"
                self.findings.add(_at(row, "kind"), text, allowed, "Correct the kind or the material.")
                return None
            return material.kind
        if self.range is not None:
            return None  # the unknown material is told already
        kind = kind or kind_without_range(sizes["length"] or 0.0, sizes["height"] or 0.0)
        if kind is None and sizes["length"]:
            remedy = "Write which it is, or give the range file."
            self.findings.add(_at(row, "kind"), None, listed(KINDS), remedy)
        return kind

    def _side(self, row: Row, side: str) -> float | None:
        """A measured side, mm; None when it is blank, 0 when something is wrong with it."""
        for column, unit in _side_columns(row, side):
            cell = row.cells[column]
            if cell is None:
                return None
            place = _at(row, column)
            try:
                length = read_length(cell, unit)
            except ValueError as error:
                self.findings.add(place, cell, f"a length in {unit or 'mm'}, or with its unit", str(error))
                return 0.0
            if length < 0 or (length == 0 and side != "height"):
                self.findings.add(place, cell, "a length above 0", "Measure it, or take the row out.")
                return 0.0
            return length
        return None

    def _quantity(self, row: Row) -> int:
        cell = row.cells.get("quantity")
        if cell is None:
            return 1
        remedy = "Write digits only, such as 3."
        number: float | None = None
        try:
            if isinstance(cell, str):
                number = read_number(cell)
            elif isinstance(cell, int | float) and not isinstance(cell, bool):
                number = float(cell)
        except ValueError as error:
            remedy = str(error)
        if number is None or not number.is_integer() or not 1 <= number <= MAX_QUANTITY:
            allowed = f"a whole number from 1 to {show(MAX_QUANTITY)}"
            self.findings.add(_at(row, "quantity"), cell, allowed, remedy)
            return 1
        return int(number)

    def _remnant(self, row: Row) -> bool:
        cell = row.cells.get("remnant")
        if cell is None or isinstance(cell, bool):
            return bool(cell)
        word = (cell_text(cell) or "").casefold()
        if word not in YES | NO:
            self.findings.add(_at(row, "remnant"), cell, "yes or no", "Write yes for a rest.")
        return word in YES

    def _words(self, row: Row, column: str, most: int) -> str | None:
        cell: Cell = row.cells.get(column)
        place = _at(row, column)
        if isinstance(cell, date):
            remedy = "The spreadsheet made a date of it: format the column as text and write it again."
            self.findings.add(place, cell, "text", remedy)
            return None
        text = cell_text(cell)
        if text is not None and re.match("'[=+@-]", text):
            text = text[1:]  # put there so that no spreadsheet takes it for a formula
        if text is not None and not (len(text) <= most and text.isprintable()):
            self.findings.add(place, text, f"at most {most} characters on one line", "Shorten it.")
            return None
        return text

    def _flaws(self, row: Row) -> tuple[Flaw, ...]:
        text = cell_text(row.cells.get("flaws"))
        if text is None or text == "-":
            return ()
        try:
            return parse_flaws(text)
        except ValueError as error:
            allowed = f"spans along the roll, such as {FLAW_EXAMPLE!r}"
            self.findings.add(_at(row, "flaws"), text, allowed, str(error))
            return ()
