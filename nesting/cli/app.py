"""The list of commands."""

from __future__ import annotations

from typing import Annotated

import typer

from nesting.cli.check import check
from nesting.cli.demo import demo
from nesting.cli.draw import draw
from nesting.cli.panels import panels
from nesting.cli.plan import plan
from nesting.cli.range import app as range_app
from nesting.cli.report import report

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


for command in (demo, check, panels, plan, draw, report):
    app.command()(command)

app.add_typer(range_app, name="range")
