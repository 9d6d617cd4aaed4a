"""Progress of a plan, a line per material.

Apart from `console`, because it loads the solver, which takes a second.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TaskID, TextColumn, TimeElapsedColumn

from nesting.model import Material, MaterialPlan
from nesting.packing import Report
from nesting.planning import Watch

__all__ = ["watching"]


class _Bars(Watch):
    """One line per material: what is searched, how far it came."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self._tasks: dict[str, TaskID] = {}
        self._lock = threading.Lock()

    def started(self, material: Material, pieces: int) -> None:
        with self._lock:
            state = f"{pieces} pieces"
            self._tasks[material.key] = self._progress.add_task(material.name, total=None, state=state)

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
