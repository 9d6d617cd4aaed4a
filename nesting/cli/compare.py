"""``nesting compare``: waste and cost of models and sizes in other widths and sizes of a material."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.completion import materials, models, sizes
from nesting.cli.options import (
    EffortOption,
    JsonOption,
    OutputOption,
    PaperOption,
    RangeArgument,
    SeedOption,
    UnitsOption,
    WorkersOption,
)

__all__ = ["compare"]

DEFAULT_EFFORT = 10.0
STOCK = "What to compare"


def compare(
    range_file: RangeArgument,
    output: OutputOption,
    model: Annotated[
        list[str] | None,
        typer.Option("--model", "-m", help="Only this model; may be repeated.", autocompletion=models),
    ] = None,
    size: Annotated[
        list[str] | None,
        typer.Option("--size", "-s", help="Only this size; may be repeated.", autocompletion=sizes),
    ] = None,
    material: Annotated[
        str | None,
        typer.Option(help="Material; else the one most money goes into.", autocompletion=materials),
    ] = None,
    widths: Annotated[
        str | None,
        typer.Option(
            metavar="LIST",
            rich_help_panel=STOCK,
            help='Full roll widths, such as 2000,2100,"84 in". A price per metre may follow: 2100=11.20.',
        ),
    ] = None,
    sheets: Annotated[
        str | None,
        typer.Option(
            metavar="LIST", rich_help_panel=STOCK, help="Sheet sizes, length x width: 2750x1700,2500x1700."
        ),
    ] = None,
    blocks: Annotated[
        str | None,
        typer.Option(
            metavar="LIST",
            rich_help_panel=STOCK,
            help="Block sizes, length x width x height: 2100x2060x1200.",
        ),
    ] = None,
    mix: Annotated[
        Path | None,
        typer.Option(
            metavar="ORDERS", help="Order book (CSV or XLSX): what each size costs among all others."
        ),
    ] = None,
    volume: Annotated[
        int, typer.Option(min=1, max=100_000_000, help="Beds a year, for savings a year.")
    ] = 10_000,
    beds: Annotated[
        int, typer.Option(min=1, max=1000, help="Equal beds planned together that stand for many.")
    ] = 20,
    paper: PaperOption = None,
    units: UnitsOption = None,
    effort: EffortOption = DEFAULT_EFFORT,
    seed: SeedOption = 0,
    workers: WorkersOption = 2,
    json: JsonOption = False,
) -> None:
    """Compare roll widths, sheet or block sizes: waste and cost of every model and size, and breakpoints.

    Example: nesting compare range.toml --model aster --widths 2100,2200,2300 --volume 8000 -o outputs/widths
    """
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.comparing import compare as compared
    from nesting.comparing import request_for
    from nesting.comparing.output import write_comparison
    from nesting.comparing.tables import breakpoint_table, comparison_data, comparison_table
    from nesting.comparing.words import best_choices
    from nesting.measures import shown_for
    from nesting.orders import load_orders

    range_ = load_range(range_file).shown_in(units, paper)
    with shown_for(range_.workshop):
        request = request_for(
            range_,
            models=model or (),
            sizes=size or (),
            material=material,
            stock={"roll": widths or "", "sheet": sheets or "", "block": blocks or ""},
            book=load_orders(mix, range_) if mix else None,
            volume=volume,
            beds=beds,
        )
    try:
        with _counting(quiet=json) as planned:
            found = compared(range_, request, effort=effort, seed=seed, workers=workers, planned=planned)
    except KeyboardInterrupt:
        typer.echo("Stopped. Nothing was written.", err=True)
        raise typer.Exit(130) from None
    files = write_comparison(found, output, _page_paper(paper, range_.workshop.paper))
    if json:
        print_json({**comparison_data(found), "files": files})
        return
    print_table(*comparison_table(found))
    if found.breakpoints:
        print_table("What a small change would save", *breakpoint_table(found))
    with shown_for(range_.workshop):
        for words in best_choices(found):
            typer.echo(words)
    typer.echo(
        f"Lists, pictures and a page for the meeting are in {output}; print {output / 'comparison.pdf'}."
    )


def _page_paper(asked: str | None, workshop: str) -> str:
    """The page is for a table in an office: without another wish, the small sheet of the workshop's kind."""
    if asked is not None:
        return str(asked)
    return "Letter" if workshop in ("Letter", "Tabloid") else "A4"


@contextmanager
def _counting(quiet: bool) -> Iterator[Callable[[int], None]]:
    """How many plans were made, on the error stream."""
    if quiet:
        yield lambda count: None
        return
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("planning", total=None)
        yield lambda count: progress.update(task, description=f"{count} plans made and verified")
