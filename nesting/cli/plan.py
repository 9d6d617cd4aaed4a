"""``nesting plan``: from orders to cut maps."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nesting.cli.options import (
    DateOrderOption,
    EffortOption,
    Group,
    GroupOption,
    JsonOption,
    MaterialsOption,
    OrdersArgument,
    OutputOption,
    PaperOption,
    RangeArgument,
    SecondsOption,
    SeedOption,
    StockOption,
    UnitsOption,
    WorkersOption,
)

if TYPE_CHECKING:
    from nesting.model import Plan
    from nesting.planning import Budget

__all__ = ["keep_plan", "plan", "run_plan"]

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
    material: MaterialsOption = None,
    stock: StockOption = None,
    reserve: Annotated[
        bool,
        typer.Option(
            "--reserve", help="Reserve the pieces that the plan cuts in the ledger given with --stock."
        ),
    ] = False,
    no_new: Annotated[
        bool, typer.Option("--no-new", help="Use only what is on the shelf; the rest cannot be cut.")
    ] = False,
    date_order: DateOrderOption = None,
    paper: PaperOption = None,
    units: UnitsOption = None,
    group: GroupOption = Group.PRODUCT,
    effort: EffortOption = DEFAULT_EFFORT,
    seconds: SecondsOption = None,
    seed: SeedOption = 0,
    workers: WorkersOption = 2,
    json: JsonOption = False,
) -> None:
    """Plan the cutting of an order book and write cut maps, cut lists and a summary.

    With --stock, rolls, bars and sheets from the shelf are cut first, by their measured sizes and clear of
    their flaws, and maps and lists say which piece is cut; new material makes up the rest.

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
        group=group,
        budget=budget,
        json=json,
        stock=stock,
        reserve=reserve,
        new=not no_new,
    )
    if not complete:
        raise typer.Exit(1)


def keep_plan(
    made: Plan, output: Path, workers: int, ledger: str | None, group: Group = Group.PRODUCT
) -> None:
    """Write a plan's folder; with a ledger only after its pieces are reserved there."""
    from nesting.output import write_plan
    from nesting.stock.shelves import release_for, reserve_for, used_pieces

    if ledger is None or not used_pieces(made):
        write_plan(made, output, workers=workers, group=group.value)
        return
    reserve_for(made, ledger)
    try:
        write_plan(made, output, workers=workers, group=group.value)
    except BaseException:
        release_for(made, ledger)
        raise


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
    group: Group = Group.PRODUCT,
    stock: str | None = None,
    reserve: bool = False,
    new: bool = True,
) -> bool:
    """Plan, write and print; tells whether everything can be cut."""
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.cli.progress import watching
    from nesting.orders import load_orders
    from nesting.output import check_folder
    from nesting.planning import make_plan
    from nesting.reports.summary import missing_lines, summary, table
    from nesting.stock.shelves import check_ledger, shelves, stock_of

    check_folder(output)
    if reserve:
        check_ledger(stock)
    range_ = load_range(range_file).shown_in(units, paper)
    chosen = [range_.find_material(text).key for text in materials] if materials else None
    book = load_orders(orders_file, range_, date_order=date_order).between(first, last)
    shelf = shelves(stock_of(stock, range_)) if stock else {}
    with watching(quiet=json) as watch:
        made = make_plan(range_, book, materials=chosen, budget=budget, watch=watch, stock=shelf, new=new)
    keep_plan(made, output, budget.workers, stock if reserve else None, group)
    if json:
        print_json(summary(made))
    else:
        title = f"{made.range_name}: {made.beds} beds due {made.first_due} to {made.last_due}"
        print_table(title, *table(made))
        typer.echo(f"Cut maps, cut lists and summary are in {output}; print {output / 'maps.pdf'}.")
    for line in missing_lines(made):
        typer.echo(line, err=True)
    return not any(part.missing for part in made.materials)
