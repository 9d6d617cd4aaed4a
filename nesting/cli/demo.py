"""``nesting demo``: the week of an invented bed maker."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import JsonOption, PaperOption, UnitsOption, WorkersOption

__all__ = ["demo"]

EFFORT = 80.0


def demo(
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="DIR", help="Folder to write into.")
    ] = Path("outputs/demo"),
    paper: PaperOption = None,
    units: UnitsOption = None,
    workers: WorkersOption = 2,
    json: JsonOption = False,
) -> None:
    """Plan the week of an invented bed maker, from the files in patterns/.

    Example: nesting demo -o outputs/demo
    """
    from nesting.cli.plan import run_plan
    from nesting.output import patterns_folder
    from nesting.planning import Budget

    folder = patterns_folder()
    if not json:
        typer.echo(
            f"The week of an invented bed maker, from demo-range.toml and demo-orders.csv in {folder}."
        )
    complete = run_plan(
        folder / "demo-range.toml",
        folder / "demo-orders.csv",
        output,
        first=None,
        last=None,
        materials=None,
        date_order=None,
        paper=paper,
        units=units,
        budget=Budget(effort=EFFORT, workers=workers),
        json=json,
    )
    if not complete:
        raise typer.Exit(1)
