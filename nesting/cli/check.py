"""``nesting check``: look for problems before cutting."""

from __future__ import annotations

import json as json_module
from pathlib import Path
from typing import Annotated

import typer

from nesting.cli.options import DateOrderOption, JsonOption, RangeArgument

__all__ = ["check"]


def check(
    range_file: RangeArgument,
    orders_file: Annotated[
        Path | None, typer.Argument(metavar="[ORDERS]", help="Order book (CSV or XLSX).")
    ] = None,
    date_order: DateOrderOption = None,
    json: JsonOption = False,
) -> None:
    """Check a range file, and an order book against it; list every problem at once.

    Example: nesting check patterns/demo-range.toml patterns/demo-orders.csv
    """
    from nesting.catalogue import load_range
    from nesting.errors import Finding, InputError
    from nesting.orders import load_orders

    findings: tuple[Finding, ...] = ()
    told = []
    try:
        range_ = load_range(range_file)
        told.append(
            f"{range_file.name}: {len(range_.models)} models, {len(range_.sizes)} sizes, "
            f"{len(range_.materials)} materials: all well."
        )
        if orders_file is not None:
            book = load_orders(orders_file, range_, date_order=date_order)
            beds = sum(line.quantity for line in book.lines)
            told.append(f"{orders_file.name}: {len(book.lines)} order lines, {beds} beds: all well.")
    except InputError as error:
        if not json:
            for line in told:
                typer.echo(line)
            raise
        findings = error.findings
    if json:
        typer.echo(
            json_module.dumps(
                [
                    {
                        "file": f.file,
                        "place": f.place,
                        "value": None if f.value is None else str(f.value),
                        "allowed": f.allowed,
                        "remedy": f.remedy,
                    }
                    for f in findings
                ],
                indent=1,
                ensure_ascii=False,
            )
        )
        raise typer.Exit(1 if findings else 0)
    for line in told:
        typer.echo(line)
