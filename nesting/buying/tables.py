"""Tables for a workbook and for lists: cells that are words, numbers, numbers to change, or live formulas."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

__all__ = ["Cell", "Column", "Given", "Kind", "Live", "Page", "Table", "Value", "column_letter", "number_of"]

Value: TypeAlias = str | int | float | datetime.date | None
Kind: TypeAlias = Literal["text", "words", "whole", "amount", "fine", "money", "share", "date"]
"""How what is in a column is written: text that may be broken, words that may run on across empty cells, and
numbers."""


@dataclass(frozen=True, slots=True)
class Live:
    """A formula, in the language of spreadsheets and without its ``=``, and what it gives."""

    formula: str
    value: Value


@dataclass(frozen=True, slots=True)
class Given:
    """A number that whoever has the workbook may change."""

    value: Value


Cell: TypeAlias = Value | Live | Given


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, how its numbers are written, how wide it is in a workbook."""

    heading: str
    kind: Kind = "text"
    width: float = 11.0


@dataclass(frozen=True, slots=True)
class Table:
    """A table under a title.

    Parameters
    ----------
    name
        Of the file when it is written as a list.
    total
        Whether the last row is one of totals.
    gap
        Free rows below, for a chart.
    """

    name: str
    title: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[Cell]]
    total: bool = False
    gap: int = 1


@dataclass(frozen=True, slots=True)
class Page:
    """A sheet of a workbook: what it answers, in words, and its tables one below the other.

    Parameters
    ----------
    chart
        Words at the axis of a chart of the first table, which stands below it; None for none.
    """

    title: str
    about: Sequence[str]
    tables: Sequence[Table] = field(default_factory=tuple)
    chart: str | None = None

    def first_row(self, index: int) -> int:
        """Row of the first line of a table, from 1, its heading just above."""
        return first_row(len(self.about), [(len(table.rows), table.gap) for table in self.tables], index)


def first_row(about: int, tables: Sequence[tuple[int, int]], index: int) -> int:
    """Row of the first line of a table: `about` lines, and rows and gaps of the tables before it."""
    # A title and the words, a free row; then for each table its title and heading, rows and gap.
    return 1 + about + 1 + sum(2 + rows + gap for rows, gap in tables[:index]) + 3


def column_letter(number: int) -> str:
    """Name of a column, counted from 1: A to Z, then AA (bijective base 26)."""
    letters = ""
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def number_of(cell: Cell) -> float:
    """The number in a cell; 0 where there is none."""
    value = cell.value if isinstance(cell, Live | Given) else cell
    return float(value) if isinstance(value, int | float) else 0.0
