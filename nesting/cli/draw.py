"""``nesting draw``: make the drawings of a saved plan again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import OutputOption, Paper, PaperOption, WorkersOption

__all__ = ["draw"]


def draw(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json that 'nesting plan' wrote.")],
    output: OutputOption,
    paper: PaperOption = Paper.A3,
    workers: WorkersOption = 2,
) -> None:
    """Make the cut maps, cut lists and summary of a saved plan again, for instance on other paper.

    Example: nesting draw outputs/week/plan.json --paper A4 -o outputs/week-a4
    """
    from nesting.output import check_folder, write_plan
    from nesting.planfile import read_plan

    check_folder(output)
    made = read_plan(plan_file)
    write_plan(made, output, paper, workers)
    typer.echo(f"Drawn again: {len(made.materials)} materials in {output}; print {output / 'maps.pdf'}.")
