"""``nesting marker``: the best use of one roll."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nesting.cli.options import (
    DateOrderOption,
    EffortOption,
    JsonOption,
    OutputOption,
    PaperOption,
    RangeArgument,
    SecondsOption,
    SeedOption,
    UnitsOption,
)

if TYPE_CHECKING:
    pass

__all__ = ["marker"]

DEFAULT_EFFORT = 100.0
ROLL = "Which roll"
WANTED = "What is wanted"


def marker(
    range_file: RangeArgument,
    output: OutputOption,
    orders_file: Annotated[
        Path | None, typer.Argument(metavar="[ORDERS]", help="Order book (CSV or XLSX).", show_default=False)
    ] = None,
    open_plan: Annotated[
        Path | None,
        typer.Option(
            "--open",
            metavar="PLAN.json",
            rich_help_panel=WANTED,
            help="Instead of orders: what is still to be cut of this plan, by the bookings in the ledger.",
        ),
    ] = None,
    first: Annotated[
        datetime.datetime | None,
        typer.Option(
            "--from",
            formats=["%Y-%m-%d"],
            metavar="DATE",
            rich_help_panel=WANTED,
            help="First due date, e.g. 2026-12-07.",
        ),
    ] = None,
    last: Annotated[
        datetime.datetime | None,
        typer.Option(
            "--to", formats=["%Y-%m-%d"], metavar="DATE", rich_help_panel=WANTED, help="Last due date."
        ),
    ] = None,
    date_order: DateOrderOption = None,
    whole_beds: Annotated[
        bool,
        typer.Option(
            "--whole-beds",
            rich_help_panel=WANTED,
            help="Cut all pieces that a bed needs of this material, or none of them.",
        ),
    ] = False,
    instead_of: Annotated[
        str | None,
        typer.Option(
            metavar="MATERIAL",
            rich_help_panel=WANTED,
            help="The material that the pieces are meant for, when the roll is of another one.",
        ),
    ] = None,
    roll: Annotated[
        str | None, typer.Option(metavar="ID", rich_help_panel=ROLL, help="Id of a roll in the ledger.")
    ] = None,
    ledger: Annotated[
        str | None,
        typer.Option(
            "--ledger",
            "--stock",
            metavar="FILE-OR-URL",
            rich_help_panel=ROLL,
            help="Where the roll is written down: a ledger (default: NESTING_LEDGER, or stock.db here) or a "
            "stock list.",
        ),
    ] = None,
    roll_size: Annotated[
        str | None,
        typer.Option(
            metavar="WIDTHxLENGTH",
            rich_help_panel=ROLL,
            help="Instead of an id: usable width and length as measured, e.g. 2180x31000 or '2180 x 31 m'.",
        ),
    ] = None,
    material: Annotated[
        str | None,
        typer.Option("--material", "-m", rich_help_panel=ROLL, help="Material of a roll without an id."),
    ] = None,
    flaw: Annotated[
        list[str] | None,
        typer.Option(
            rich_help_panel=ROLL,
            help="A flaw of a roll without an id, e.g. '12.5 m - 12.6 m' or '20000-20300 x 0-400' (along x "
            "across); may be repeated.",
        ),
    ] = None,
    no_reserve: Annotated[
        bool, typer.Option("--no-reserve", rich_help_panel=ROLL, help="Do not reserve the roll.")
    ] = False,
    paper: PaperOption = None,
    units: UnitsOption = None,
    effort: EffortOption = DEFAULT_EFFORT,
    seconds: SecondsOption = None,
    seed: SeedOption = 0,
    json: JsonOption = False,
) -> None:
    """Plan the markers that use one roll best, clear of its flaws; write the same folder as a plan.

    What is due first is cut first, as much as the roll takes; what does not fit stays open. A roll from the
    ledger is then reserved for the plan.

    Example: nesting marker range.toml orders.csv --roll R-0007 -o outputs/roll-7
    """
    from nesting.catalogue import load_range
    from nesting.cli.console import print_json, print_table
    from nesting.cli.plan import keep_plan
    from nesting.cli.progress import watching
    from nesting.measures import shown_amount, shown_for
    from nesting.output import check_folder
    from nesting.planning import Budget, make_marker
    from nesting.reports.summary import open_lines, summary, table
    from nesting.stock.shelves import is_ledger
    from nesting.stock.singles import find_roll, roll_of_size, wanted_of
    from nesting.stock.store import where_is

    check_folder(output)
    range_ = load_range(range_file).shown_in(units, paper)
    where = where_is(ledger)
    if (roll is None) == (roll_size is None):
        raise typer.BadParameter("give either --roll ID or --roll-size WIDTHxLENGTH", param_hint="--roll")
    if roll is not None:
        piece = find_roll(where, roll, range_)
    else:
        assert roll_size is not None
        piece = roll_of_size(roll_size, flaw or [], material, range_)
    if (orders_file is None) == (open_plan is None):
        raise typer.BadParameter("give either an order book or --open PLAN.json", param_hint="ORDERS")
    meant = range_.find_material(instead_of).key if instead_of else piece.material
    demands, source = wanted_of(
        range_,
        meant,
        orders=orders_file,
        plan=open_plan,
        ledger=where,
        first=first.date() if first else None,
        last=last.date() if last else None,
        date_order=date_order,
    )
    budget = Budget(effort=effort, seconds=seconds, seed=seed)
    with watching(quiet=json) as watch:
        made = make_marker(
            range_,
            demands,
            piece,
            source=source,
            instead_of=meant,
            whole_beds=whole_beds,
            budget=budget,
            watch=watch,
        )
    (part,) = made.materials
    if part.layouts:
        kept = roll is not None and not no_reserve and is_ledger(where)
        keep_plan(made, output, budget.workers, where if kept else None)
    if json:
        print_json(summary(made))
    elif part.layouts:
        use = part.stock[0]
        with shown_for(made.workshop):
            used, left = (shown_amount(length / 1e3, "m", 2) for length in (use.used, use.rest))
        print_table(f"{made.range_name}: {use.name}, {used} used, {left} left", *table(made))
        typer.echo(f"Cut maps and cut list are in {output}; print {output / 'maps.pdf'}.")
    for line in (*part.notes, *open_lines(made)):
        typer.echo(line, err=True)
    if not part.layouts:
        typer.echo(f"Nothing that is wanted fits {piece.id}; nothing was written.", err=True)
        raise typer.Exit(1)
