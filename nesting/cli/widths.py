"""``nesting widths``: which roll widths, sheet or block sizes to buy."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.completion import materials
from nesting.cli.options import (
    DateOrderOption,
    EffortOption,
    FirstWeekOption,
    JsonOption,
    RangeArgument,
    SecondsOption,
    SeedOption,
    UnitsOption,
    WorkersOption,
)

__all__ = ["widths"]

DEFAULT_EFFORT = 60.0
DEFAULT_WEEKS = 8


def widths(
    range_file: RangeArgument,
    orders_file: Annotated[
        Path,
        typer.Argument(
            metavar="ORDERS",
            help="Order book, or a forecast with model, size and quantity per week (CSV or XLSX).",
        ),
    ],
    material: Annotated[
        str, typer.Option("--material", "-m", help="Of which material.", autocompletion=materials)
    ],
    offer: Annotated[
        Path,
        typer.Option(
            metavar="FILE",
            help="Sizes on offer (CSV or XLSX): width and price per metre of rolls; length, width and price "
            "of sheets; length, width, height and price per m3 of blocks; optionally a name.",
        ),
    ],
    weeks: Annotated[
        int, typer.Option("--weeks", "-n", min=1, max=104, help="Weeks whose demand is planned together.")
    ] = DEFAULT_WEEKS,
    first: FirstWeekOption = None,
    sets: Annotated[int, typer.Option("--sets", min=1, max=3, help="Most sizes to buy side by side.")] = 2,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the table of all choices as CSV.")
    ] = None,
    effort: EffortOption = DEFAULT_EFFORT,
    seconds: SecondsOption = None,
    seed: SeedOption = 0,
    workers: WorkersOption = 2,
    date_order: DateOrderOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Compare roll widths (sheet or block sizes) on offer: what the demand costs with one, two or three.

    The demand of all weeks is planned together on each size and on each set of sizes.

    Example: nesting widths range.toml orders.csv --material headboard-velvet --offer offer.csv --sets 2
    """
    from nesting.buying.choices import advice, choices_csv, choices_table, choices_values
    from nesting.buying.demand import read_outlook
    from nesting.buying.offers import as_bought_now, read_offers
    from nesting.buying.widths import compare
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.errors import NestingError
    from nesting.files import whole_file
    from nesting.measures import shown_for
    from nesting.orders import demand_by_material
    from nesting.planning import Budget

    range_ = load_range(range_file).shown_in(units)
    chosen = range_.find_material(material)
    outlook = read_outlook(
        orders_file, range_, weeks, first=first.date() if first else None, date_order=date_order
    )
    lines = [line for week in outlook.weeks.numbers for line in outlook.order_lines(week)]
    demands = demand_by_material(range_, lines).get(chosen.key)
    if not demands:
        raise NestingError(f"{chosen.name} is not needed in these weeks: choose other weeks or materials.")

    def told(name: str, count: int, of: int) -> None:
        if not json:
            typer.echo(f"{count} of {of}: {name}", err=True)

    with shown_for(range_.workshop):
        offers = read_offers(offer, chosen)
        now = as_bought_now(chosen)
        found = compare(
            offers,
            demands,
            sizes=sets,
            now=now,
            budget=Budget(effort=effort, seconds=seconds, seed=seed, workers=workers),
            told=told,
        )
        if csv is not None:
            with whole_file(csv) as part:
                part.write_text(choices_csv(found, chosen, range_.currency), encoding="utf-8-sig")
        if json:
            print_json(choices_values(found, chosen, range_.currency))
        else:
            span = outlook.weeks
            title = f"{chosen.name}, {span.label(1)} to {span.label(span.count)}"
            print_table(title, *choices_table(found, chosen, range_.currency))
            for line in (*advice(found, chosen, range_.currency), *outlook.notes):
                typer.echo(line)
    if all(choice.missing for choice in found.choices):
        raise typer.Exit(1)
