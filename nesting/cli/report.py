"""``nesting report``: a saved plan as one page for a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import JsonOption, PaperOption

__all__ = ["report"]


def report(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json that 'nesting plan' wrote.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="Page to write (.html).")
    ] = Path("outputs/report.html"),
    paper: PaperOption = None,
    json: JsonOption = False,
) -> None:
    """Write a saved plan as one page for a browser: tables that sort, losses, and maps to zoom into.

    The page needs no network; its figures can be saved from it as CSV.

    Example: nesting report outputs/week/plan.json -o outputs/week.html
    """
    from nesting.cli.console import print_json
    from nesting.page import write_page
    from nesting.planfile import read_plan

    made = read_plan(plan_file)
    write_page(made, output, paper)
    if json:
        print_json({"page": output, "plan": made.number, "bytes": output.stat().st_size})
        return
    typer.echo(f"{output} ({output.stat().st_size / 1e6:.1f} MB): open it in a browser.")
