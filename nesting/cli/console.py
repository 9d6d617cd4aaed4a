"""What commands print: tables, JSON and progress."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from nesting.model import Material, MaterialPlan
from nesting.packing import Report
from nesting.planning import Watch

__all__ = ["print_json", "print_table", "watching"]

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


class _Bars(Watch):
    """One line per material: what is searched, how far it came."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._tasks: dict[str, TaskID] = {}
        self._lock = threading.Lock()

    def started(self, material: Material, pieces: int) -> None:
        with self._lock:
            self._tasks[material.key] = self._progress.add_task(material.name, total=None, state=f"{pieces} pieces")

    def report(self, material: Material, report: Report) -> None:
        if report.value == float("inf"):
            return
        gap = (report.value - report.bound) / report.value if report.value else 0.0
        self._progress.update(self._tasks[material.key], state=f"at most {gap:.1%} above the least possible")

    def finished(self, plan: MaterialPlan) -> None:
        figures = plan.figures
        missing = sum(item.quantity for item in plan.missing.values())
        state = f"{figures.efficiency:.1%} used, gap {figures.gap:.1%}, verified"
        if missing:
            state += f", {missing} pieces cannot be cut"
        self._progress.update(self._tasks[plan.material.key], total=1, completed=1, state=state)


@contextmanager
def watching(quiet: bool) -> Iterator[Watch]:
    """Show progress on the error stream, so that output can be piped; nothing when `quiet`."""
    if quiet:
        yield Watch()
        return
    console = Console(stderr=True)
    columns = (
        SpinnerColumn(finished_text="-"),
        TextColumn("{task.description}", markup=False),
        TextColumn("{task.fields[state]}", markup=False),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=console, transient=False) as progress:
        yield _Bars(progress)


def listed(paths: Sequence[Path], most: int = 6) -> str:
    """Some paths in one line."""
    shown = ", ".join(str(path) for path in paths[:most])
    return shown if len(paths) <= most else f"{shown} and {len(paths) - most} more"
