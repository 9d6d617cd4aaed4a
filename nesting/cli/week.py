"""``nesting week``: what to buy for the next weeks."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nesting.cli.options import (
    SEARCH,
    DateOrderOption,
    EffortOption,
    FirstWeekOption,
    JsonOption,
    MaterialsOption,
    OutputOption,
    RangeArgument,
    SeedOption,
    StockOption,
    UnitsOption,
    WorkersOption,
)

if TYPE_CHECKING:
    from nesting.model import Material

__all__ = ["week"]

DEFAULT_EFFORT = 30.0
QUICK_EFFORT = 10.0
DEFAULT_PLANNED = 8
DEMAND = "How far demand varies"


def week(
    range_file: RangeArgument,
    orders_file: Annotated[
        Path,
        typer.Argument(
            metavar="ORDERS",
            help="Order book, or a forecast with model, size and quantity per week (CSV or XLSX).",
        ),
    ],
    output: OutputOption,
    weeks: Annotated[int, typer.Option("--weeks", "-n", min=1, max=104, help="How many weeks.")],
    first: FirstWeekOption = None,
    material: MaterialsOption = None,
    stock: StockOption = None,
    supply: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="How materials are bought (CSV or XLSX): material, supplier, lead weeks, review weeks, moq, "
            "multiple, on order and week, price, safety or service.",
        ),
    ] = None,
    spread: Annotated[
        float,
        typer.Option(
            min=0,
            max=2,
            rich_help_panel=DEMAND,
            help="Standard deviation of a week's demand for a model and size, as a share of it, e.g. 0.15.",
        ),
    ] = 0.0,
    service: Annotated[
        float,
        typer.Option(
            min=0.501,
            max=0.9999,
            rich_help_panel=DEMAND,
            help="Share of cases in which there is to be enough until the next order is there.",
        ),
    ] = 0.95,
    planned: Annotated[
        int,
        typer.Option(
            min=1, max=104, rich_help_panel=SEARCH, help="Weeks that are nested; later ones are estimated."
        ),
    ] = DEFAULT_PLANNED,
    quick: Annotated[
        bool,
        typer.Option("--quick", rich_help_panel=SEARCH, help="Nest only one week; estimate the others."),
    ] = False,
    effort: EffortOption = DEFAULT_EFFORT,
    seed: SeedOption = 0,
    workers: WorkersOption = 2,
    date_order: DateOrderOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Work out what to buy when: nested requirement per material and week, less stock and what is on order.

    Writes a workbook with live formulas (change a price, a delivery time, a minimum order), its tables as
    CSV, and JSON.

    Example: nesting week range.toml orders.csv --weeks 8 --stock stock.csv --supply supply.csv -o outputs/buy
    """
    from nesting.buying.demand import read_outlook
    from nesting.buying.output import check_buying_folder, write_buying
    from nesting.buying.supply import read_supply
    from nesting.buying.told import buying_values, screen_table
    from nesting.buying.week import LEDGER, plan_buying
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.planning import Budget
    from nesting.stock.shelves import is_ledger, shelves, stock_of

    check_buying_folder(output)
    range_ = load_range(range_file).shown_in(units)
    chosen = [range_.find_material(text).key for text in material] if material else None
    outlook = read_outlook(
        orders_file,
        range_,
        weeks,
        first=first.date() if first else None,
        spread=spread,
        date_order=date_order,
    )
    supplies = read_supply(supply, range_, outlook.weeks) if supply else {}
    shelf = shelves(stock_of(stock, range_)) if stock else {}

    def told(done: Material, count: int, of: int) -> None:
        if not json:
            typer.echo(f"{count} of {of}: {done.name}", err=True)

    made = plan_buying(
        range_,
        outlook,
        supplies=supplies,
        stock=shelf,
        materials=chosen,
        planned=1 if quick else planned,
        service=service,
        spread=spread,
        budget=Budget(effort=min(effort, QUICK_EFFORT) if quick else effort, seed=seed, workers=workers),
        told=told,
        stock_name="" if stock is None else LEDGER if is_ledger(stock) else Path(stock).name,
        supply_name=str(supply or ""),
    )
    write_buying(made, output)
    if json:
        print_json(buying_values(made))
    else:
        span = outlook.weeks
        headings, rows, said = screen_table(made)
        print_table(f"{made.range_name}: {span.label(1)} to {span.label(span.count)}", headings, rows)
        for line in said:
            typer.echo(line)
        typer.echo(f"The workbook is {output / 'buying.xlsx'}; its tables as CSV are beside it.")
    if any(item.missing for part in made.purchases for item in part.need.weeks):
        raise typer.Exit(1)
