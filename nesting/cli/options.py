"""Arguments and options that several commands share, said once."""

from __future__ import annotations

import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from nesting.cli.completion import materials

__all__ = [
    "SEARCH",
    "DateOrder",
    "DateOrderOption",
    "EffortOption",
    "FirstWeekOption",
    "Group",
    "GroupOption",
    "JsonOption",
    "LedgerOption",
    "MaterialsOption",
    "OrdersArgument",
    "OutputOption",
    "Paper",
    "PaperOption",
    "RangeArgument",
    "SecondsOption",
    "SeedOption",
    "StockOption",
    "Units",
    "UnitsOption",
    "WhoOption",
    "WorkersOption",
]


class Paper(StrEnum):
    """Paper for printed maps: ISO 216 sizes, and 8.5 x 11 and 11 x 17 in."""

    A4 = "A4"
    A3 = "A3"
    A1 = "A1"
    LETTER = "Letter"
    TABLOID = "Tabloid"


class Units(StrEnum):
    """Units of what people read; files for machines are in mm."""

    MM = "mm"
    INCH = "inch"


class DateOrder(StrEnum):
    """How dates such as 03/04/2026 are meant."""

    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"


class Group(StrEnum):
    """Where pieces go when they are cut."""

    PRODUCT = "product"
    ORDER = "order"


SEARCH = "How long to search"

RangeArgument: TypeAlias = Annotated[Path, typer.Argument(metavar="RANGE", help="Range file (TOML).")]
OrdersArgument: TypeAlias = Annotated[
    Path, typer.Argument(metavar="ORDERS", help="Order book (CSV or XLSX).")
]
OutputOption: TypeAlias = Annotated[
    Path, typer.Option("--output", "-o", metavar="DIR", help="Folder to write into.")
]
PaperOption: TypeAlias = Annotated[
    Paper | None,
    typer.Option(help="Paper for the printed maps; else that of the range file.", case_sensitive=False),
]
UnitsOption: TypeAlias = Annotated[
    Units | None,
    typer.Option(help="Units of maps, lists and tables; else those of the range file.", case_sensitive=False),
]
MaterialsOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--material", "-m", help="Only this material; may be repeated.", autocompletion=materials),
]
FirstWeekOption: TypeAlias = Annotated[
    datetime.datetime | None,
    typer.Option(
        "--from", formats=["%Y-%m-%d"], metavar="DATE", help="A day in the first week, e.g. 2026-12-07."
    ),
]
DateOrderOption: TypeAlias = Annotated[
    DateOrder | None,
    typer.Option(help="How dates such as 03/04/2026 are meant, where the file leaves it open."),
]
GroupOption: TypeAlias = Annotated[
    Group, typer.Option(help="Whether pieces go to the pile of their product or to their order.")
]
JsonOption: TypeAlias = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON, for other programs.")
]
StockOption: TypeAlias = Annotated[
    str | None,
    typer.Option(
        "--stock",
        metavar="FILE-OR-URL",
        help="What is on the shelf: a stock list (CSV or XLSX), or a ledger (its file, or a database URL).",
    ),
]
EffortOption: TypeAlias = Annotated[
    float,
    typer.Option(
        min=0,
        rich_help_panel=SEARCH,
        help="Work per material, in millions of steps: the same plan on every machine.",
    ),
]
SecondsOption: TypeAlias = Annotated[
    float | None, typer.Option(min=0, rich_help_panel=SEARCH, help="Ceiling in seconds per material.")
]
SeedOption: TypeAlias = Annotated[
    int, typer.Option(min=0, rich_help_panel=SEARCH, help="Start of the search; another seed, another try.")
]
WorkersOption: TypeAlias = Annotated[
    int, typer.Option(min=1, max=64, rich_help_panel=SEARCH, help="Materials planned and drawn side by side.")
]
LedgerOption: TypeAlias = Annotated[
    str | None,
    typer.Option(
        metavar="PLACE",
        envvar="NESTING_LEDGER",
        show_envvar=True,
        help="Stock ledger: a file, or postgresql://USER@HOST/DATABASE. Default: stock.db here.",
    ),
]
WhoOption: TypeAlias = Annotated[
    str | None,
    typer.Option(envvar="NESTING_WHO", help="Who does this, for the history. Default: the computer's user."),
]
