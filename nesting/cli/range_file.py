"""``nesting range``: a range file as a workbook, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import JsonOption, RangeArgument

__all__ = ["app"]

app = typer.Typer(
    name="range",
    help="Take a range file into a spreadsheet and back.",
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


@app.command("to-workbook")
def to_workbook(
    range_file: RangeArgument,
    output: Annotated[
        Path, typer.Option("--output", "-o", metavar="FILE", help="Workbook to write (.xlsx).")
    ],
    json: JsonOption = False,
) -> None:
    """Write a range as a workbook: a sheet each for materials, sizes, models, panels and allowances.

    Example: nesting range to-workbook patterns/demo-range.toml -o outputs/range.xlsx
    """
    from nesting.catalogue.exchange import write_workbook
    from nesting.cli.console import print_json

    rows = write_workbook(range_file, output)
    if json:
        print_json({"workbook": output, "rows": rows})
        return
    typer.echo(
        f"{output}: {rows['materials']} materials, {rows['sizes']} sizes, {rows['models']} models, "
        f"{rows['panels']} panels, {rows['allowances']} allowances. Every command takes it as a range file; "
        "'nesting range from-workbook' brings it back."
    )


@app.command("from-workbook")
def from_workbook(
    workbook: Annotated[
        Path, typer.Argument(metavar="WORKBOOK", help="Workbook that holds a range (.xlsx).")
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="Range file to write (.toml). One that is there keeps its remarks and order.",
        ),
    ],
    json: JsonOption = False,
) -> None:
    """Bring a workbook back into a range file, through all its checks, and list what has changed.

    Example: nesting range from-workbook outputs/range.xlsx -o my-range.toml
    """
    from nesting.catalogue.exchange import write_range
    from nesting.cli.console import print_json

    changes = write_range(workbook, output)
    if json:
        print_json({"range": output, "changes": changes})
        return
    for change in changes:
        typer.echo(change)
    count = len(changes)
    told = "nothing has changed" if not count else f"{count} change{'' if count == 1 else 's'}"
    typer.echo(f"{output}: {told}.")
