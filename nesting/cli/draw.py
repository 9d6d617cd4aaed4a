"""``nesting draw``: make the drawings of a saved plan again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import (
    Group,
    GroupOption,
    JsonOption,
    OutputOption,
    PaperOption,
    UnitsOption,
    WorkersOption,
)

__all__ = ["draw"]


def draw(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json that 'nesting plan' wrote.")],
    output: OutputOption,
    paper: PaperOption = None,
    units: UnitsOption = None,
    group: GroupOption = Group.PRODUCT,
    workers: WorkersOption = 2,
    json: JsonOption = False,
) -> None:
    """Make the cut maps, cut lists and summary of a saved plan again, on other paper or in other units.

    Example: nesting draw outputs/week/plan.json --paper A4 -o outputs/week-a4
    """
    from nesting.cli.console import print_json
    from nesting.output import check_folder, write_plan
    from nesting.planfile import read_plan

    check_folder(output)
    made = read_plan(plan_file)
    made = replace(made, workshop=made.workshop.changed(units, paper))
    files = write_plan(made, output, workers=workers, group=group.value)
    if json:
        shown = made.workshop
        print_json({"plan": made.number, "units": shown.units, "paper": shown.paper, "files": files})
        return
    typer.echo(f"Drawn again: {len(made.materials)} materials in {output}; print {output / 'maps.pdf'}.")
