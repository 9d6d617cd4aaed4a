"""The list of commands."""

from __future__ import annotations

from typing import Annotated

import typer

from nesting.cli.book import book
from nesting.cli.check import check
from nesting.cli.compare import compare
from nesting.cli.demo import demo
from nesting.cli.draw import draw
from nesting.cli.marker import marker
from nesting.cli.panels import panels
from nesting.cli.plan import plan
from nesting.cli.print_pack import print_pack
from nesting.cli.range_file import app as range_app
from nesting.cli.report import report
from nesting.cli.stock import stock
from nesting.cli.week import week
from nesting.cli.widths import widths

__all__ = ["app"]

app = typer.Typer(
    name="nesting",
    help="Plan how a bed factory's orders are cut from rolls, sheets and foam blocks.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from nesting import __version__

        typer.echo(f"nesting {__version__}")
        raise typer.Exit


@app.callback()
def common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and leave.")
    ] = False,
) -> None:
    """Plan how a bed factory's orders are cut from rolls, sheets and foam blocks."""


for command in (demo, check, panels, plan, marker, draw, report, book, week, widths, compare):
    app.command()(command)
app.command("print")(print_pack)

app.add_typer(stock, name="stock")
app.add_typer(range_app, name="range")
