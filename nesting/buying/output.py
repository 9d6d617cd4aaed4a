"""The folder of a buying plan, whole or not at all."""

from __future__ import annotations

from pathlib import Path

from nesting.buying.pages import pages
from nesting.buying.told import buying_json, lists
from nesting.buying.week import BuyingPlan
from nesting.buying.workbook import workbook
from nesting.measures import shown_for
from nesting.output import check_folder, whole_folder

__all__ = ["check_buying_folder", "write_buying"]

MARK, WHAT = "buying.json", "a buying plan"


def check_buying_folder(folder: Path) -> None:
    """Refuse a folder that cannot be written, before any work is done; see `nesting.output.check_folder`."""
    check_folder(folder, MARK, WHAT)


def write_buying(plan: BuyingPlan, folder: Path) -> None:
    """Write ``buying.xlsx``, its tables as CSV, and ``buying.json``; an earlier plan there is replaced.

    Raises
    ------
    NestingError
        When the folder holds anything else or cannot be written.
    """
    with shown_for(plan.workshop):
        book = workbook(pages(plan))
    with whole_folder(folder, MARK, WHAT) as part:
        (part / "buying.xlsx").write_bytes(book)
        for name, text in lists(plan).items():
            (part / name).write_text(text, encoding="utf-8-sig")
        (part / MARK).write_text(buying_json(plan), encoding="utf-8")
