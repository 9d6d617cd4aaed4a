"""``nesting plan``: from orders to cut maps."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nesting.cli.completion import materials
from nesting.cli.options import (
    DateOrderOption,
    EffortOption,
    JsonOption,
    OrdersArgument,
    OutputOption,
    PaperOption,
    RangeArgument,
    SecondsOption,
    SeedOption,
    UnitsOption,
    WorkersOption,
)

if TYPE_CHECKING:
    from nesting.planning import Budget

__all__ = ["plan", "run_plan"]

DEFAULT_EFFORT = 300.0


def plan(
    range_file: RangeArgument,
    orders_file: OrdersArgument,
    output: OutputOption,
    first: Annotated[
        datetime.datetime | None,
        typer.Option("--from", formats=["%Y-%m-%d"], metavar="DATE", help="First due date, e.g. 2026-12-07."),
    ] = None,
    last: Annotated[
        datetime.datetime | None,
        typer.Option("--to", formats=["%Y-%m-%d"], metavar="DATE", help="Last due date."),
    ] = None,
    material: Annotated[
        list[str] | None,
        typer.Option(
            "--material", "-m", help="Only this material; may be repeated.", autocompletion=materials
        ),
    ] = None,
    date_order: DateOrderOption = None,
    paper: PaperOption = None,
    units: UnitsOption = None,
    effort: EffortOption = DEFAULT_EFFORT,
    seconds: SecondsOption = None,
    seed: SeedOption = 0,
    workers: WorkersOption = 2,
    json: JsonOption = False,
) -> None:
    """Plan the cutting of an order book and write cut maps, cut lists and a summary.

    Example: nesting plan range.toml orders.csv --from 2026-12-07 --to 2026-12-11 -o outputs/week
    """
    from nesting.planning import Budget

    budget = Budget(effort=effort, seconds=seconds, seed=seed, workers=workers)
    complete = run_plan(
        range_file,
        orders_file,
        output,
        first=first.date() if first else None,
        last=last.date() if last else None,
        materials=material,
        date_order=date_order,
        paper=paper,
        units=units,
        budget=budget,
        json=json,
    )
    if not complete:
        raise typer.Exit(1)


def run_plan(
    range_file: Path,
    orders_file: Path,
    output: Path,
    *,
    first: datetime.date | None,
    last: datetime.date | None,
    materials: list[str] | None,
    date_order: str | None,
    paper: str | None,
    units: str | None,
    budget: Budget,
    json: bool,
) -> bool:
    """Plan, write and print; tells whether everything can be cut."""
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.cli.progress import watching
    from nesting.orders import load_orders
    from nesting.output import check_folder, write_plan
    from nesting.planning import make_plan
    from nesting.reports.summary import missing_lines, summary, table

    check_folder(output)
    range_ = load_range(range_file).shown_in(units, paper)
    chosen = [range_.find_material(text).key for text in materials] if materials else None
    book = load_orders(orders_file, range_, date_order=date_order).between(first, last)
    with watching(quiet=json) as watch:
        made = make_plan(range_, book, materials=chosen, budget=budget, watch=watch)
    write_plan(made, output, workers=budget.workers)
    if json:
        print_json(summary(made))
    else:
        title = f"{made.range_name}: {made.beds} beds due {made.first_due} to {made.last_due}"
        print_table(title, *table(made))
        typer.echo(f"Cut maps, cut lists and summary are in {output}; print {output / 'maps.pdf'}.")
    for line in missing_lines(made):
        typer.echo(line, err=True)
    return not any(part.missing for part in made.materials)
