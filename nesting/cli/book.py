"""``nesting book``: what was really cut of a plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nesting.cli.options import JsonOption, LedgerOption, UnitsOption, WhoOption

if TYPE_CHECKING:
    from nesting.model import Plan
    from nesting.stock.booking import Cut, Outcome
    from nesting.stock.ledger import Ledger

__all__ = ["book"]

CUT = "What was cut"
INSTEAD = "Instead of booking"


def book(
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN", help="A plan.json that 'nesting plan' wrote.")],
    layout: Annotated[
        int | None, typer.Option("--layout", "-l", min=1, help="Layout, as printed.", rich_help_panel=CUT)
    ] = None,
    material: Annotated[
        str | None,
        typer.Option("--material", "-m", help="Material, where the plan has several.", rich_help_panel=CUT),
    ] = None,
    plies: Annotated[
        int | None,
        typer.Option(min=1, help="Plies, sheets or blocks. Default: all not booked.", rich_help_panel=CUT),
    ] = None,
    length_used: Annotated[
        str | None,
        typer.Option(help="Length of roll really used for them, mm or with a unit.", rich_help_panel=CUT),
    ] = None,
    damaged: Annotated[
        list[str] | None,
        typer.Option(metavar="PIECE=COUNT", help="Spoilt pieces; may be repeated.", rich_help_panel=CUT),
    ] = None,
    not_cut: Annotated[
        list[str] | None,
        typer.Option(metavar="PIECE=COUNT", help="Pieces left uncut; may be repeated.", rich_help_panel=CUT),
    ] = None,
    piece: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Roll, sheet or block, if not as planned.", rich_help_panel=CUT),
    ] = None,
    rest: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LxW[xH]",
            help="Rest for the shelf, if not as planned.",
            rich_help_panel=CUT,
        ),
    ] = None,
    no_rests: Annotated[
        bool, typer.Option("--no-rests", help="No rest goes back to the shelf.", rich_help_panel=CUT)
    ] = False,
    beyond_plan: Annotated[
        bool, typer.Option("--beyond-plan", help="More plies were cut than planned.", rich_help_panel=CUT)
    ] = False,
    demand_only: Annotated[
        bool, typer.Option("--demand-only", help="Leave the stock in the ledger alone.", rich_help_panel=CUT)
    ] = False,
    note: Annotated[str, typer.Option(help="A remark, kept with it.", rich_help_panel=CUT)] = "",
    undo: Annotated[
        bool, typer.Option("--undo", help="Take the last booking of the plan back.", rich_help_panel=INSTEAD)
    ] = False,
    report: Annotated[
        bool, typer.Option("--report", help="Show planned against actual.", rich_help_panel=INSTEAD)
    ] = False,
    open_: Annotated[
        bool, typer.Option("--open", help="List what is still to be cut.", rich_help_panel=INSTEAD)
    ] = False,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="CSV file for --open.", rich_help_panel=INSTEAD),
    ] = None,
    ledger: LedgerOption = None,
    who: WhoOption = None,
    units: UnitsOption = None,
    json: JsonOption = False,
) -> None:
    """Book what was really cut: stock gets shorter, rests come back to the shelf, damaged pieces stay open.

    Example: nesting book outputs/week/plan.json -m quilt-classic --layout 2 --plies 4 --length-used "22.4 m"
    """
    from nesting.measures import shown_for
    from nesting.planfile import read_plan
    from nesting.stock.ledger import open_ledger

    if sum((layout is not None, undo, report, open_)) != 1:
        raise typer.BadParameter("say one of --layout, --undo, --report or --open.")
    if output is not None and not open_:
        raise typer.BadParameter("--output is for --open.")
    plan = read_plan(plan_file)
    plan = replace(plan, workshop=plan.workshop.changed(units))
    if layout is None:
        act = _undo if undo else _report if report else _open
        with shown_for(plan.workshop), open_ledger(ledger, who=who) as opened:
            act(plan, opened, output, note, json)
        return
    from nesting.stock.booking import book as book_cut
    from nesting.stock.told import cut_from

    with shown_for(plan.workshop):
        cut = cut_from(
            layout=layout,
            material=material,
            plies=plies,
            length_used=length_used,
            damaged=damaged or (),
            not_cut=not_cut or (),
            pieces=piece or (),
            rests=rest or (),
            no_rests=no_rests,
            beyond=beyond_plan,
            demand_only=demand_only,
            note=note,
        )
        with open_ledger(ledger, who=who, create=_without_stock(plan, cut)) as opened:
            _tell(book_cut(plan, opened, cut), json)


def _without_stock(plan: Plan, cut: Cut) -> bool:
    """Whether no piece of a ledger can be meant, so that booking may begin one."""
    tied = any(use.piece for part in plan.materials for use in part.stock)
    return not cut.pieces and (cut.demand_only or not tied)


def _tell(outcome: Outcome, json: bool, *, undone: bool = False) -> None:
    from nesting.cli.console import print_json, print_table
    from nesting.measures import reworded
    from nesting.stock.actuals import outcome_lines, outcome_values
    from nesting.stock.views import piece_table

    if json:
        print_json({**outcome_values(outcome), "undone": undone})
        return
    typer.echo("Taken back:" if undone else "Booked:")
    for line in outcome_lines(outcome):
        typer.echo(line)
    if outcome.pieces:
        print_table("Stock now", *piece_table(outcome.pieces))
    if outcome.remnants:
        print_table("Rests for the shelf: write these ids on them", *piece_table(outcome.remnants))
    for note in outcome.notes:
        typer.echo(reworded(note), err=True)


def _undo(plan: Plan, ledger: Ledger, _: Path | None, note: str, json: bool) -> None:
    from nesting.stock.undo import undo_last

    _tell(undo_last(plan, ledger, note), json, undone=True)


def _report(plan: Plan, ledger: Ledger, _: Path | None, __: str, json: bool) -> None:
    from nesting.cli.console import print_json, print_table
    from nesting.stock.actuals import actual_rows, actual_table, booking_table, booking_values
    from nesting.stock.booking import open_demands
    from nesting.stock.bookings import bookings_of
    from nesting.stock.plies import plan_number

    number = plan_number(plan)
    every = bookings_of(ledger, number, undone=True)
    rows = actual_rows(plan, [one for one in every if not one.undone], open_demands(plan, ledger))
    if json:
        print_json({"plan": number, "layouts": rows, "bookings": [booking_values(one) for one in every]})
        return
    print_table(f"Plan {number}: planned against actual", *actual_table(rows, touched_only=True))
    if every:
        print_table("Bookings", *booking_table(every))


def _open(plan: Plan, ledger: Ledger, output: Path | None, _: str, json: bool) -> None:
    from nesting.cli.console import print_json, print_table
    from nesting.stock.actuals import open_rows, open_table, write_open
    from nesting.stock.booking import open_demands

    still = open_demands(plan, ledger)
    rows = open_rows(still)
    if output is not None:
        write_open(still, output)
    if json:
        print_json(rows)
        return
    count = sum(row["still to cut"] for row in rows)
    if output is not None:
        typer.echo(f"{count} pieces are still to be cut; the list is {output}.")
    elif not rows:
        typer.echo("Everything is cut.")
    else:
        print_table(f"{count} pieces still to cut", *open_table(rows))
