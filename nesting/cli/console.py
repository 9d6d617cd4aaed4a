"""What commands print: tables and JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

__all__ = ["print_json", "print_table"]

NUMERIC = 0.7
"""Share of cells that must be numbers for a column to be set flush right."""


def print_json(value: Any) -> None:
    """Print a value as JSON; paths as text."""
    print(json.dumps(value, indent=1, ensure_ascii=False, default=str))


def print_table(title: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table; columns of numbers flush right."""
    table = Table(title=Text(title), title_justify="left", header_style="bold")
    for at, heading in enumerate(headings):
        cells = [row[at] for row in rows if row[at]]
        numbers = sum(cell[:1].isdigit() for cell in cells) >= NUMERIC * max(1, len(cells))
        table.add_column(Text(heading), justify="right" if numbers else "left")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    # Piped output keeps whole cells: another program, or a file, has no screen width.
    console = Console() if Console().is_terminal else Console(width=200)
    console.print(table)
