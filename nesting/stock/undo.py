"""Taking back the last booking of a plan."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import RowMapping, select

from nesting.model import Plan
from nesting.stock import tables
from nesting.stock.booking import Outcome
from nesting.stock.bookings import load
from nesting.stock.ledger import Ledger
from nesting.stock.plies import find_part, plan_number
from nesting.stock.records import Held, from_snapshot
from nesting.stock.store import StockError
from nesting.stock.work import Work

__all__ = ["undo_last"]


def undo_last(plan: Plan, ledger: Ledger, why: str = "") -> Outcome:
    """Take back the last booking of a plan, with all that it did to stock. The history keeps both.

    Raises
    ------
    StockError
        When nothing is booked, or a piece that it changed has been changed since.
    """
    number = plan_number(plan)
    with ledger.work(plan=number, why=why) as work:
        work.lock_plan(number)
        bookings = load(work.connection, number)
        if not bookings:
            raise StockError(f"Nothing is booked of plan {number}, so there is nothing to undo.")
        batch = tuple(booking for booking in bookings if booking.batch == bookings[-1].batch)
        numbers = [booking.number for booking in batch]
        restored = _undo_pieces(work, numbers)
        table = tables.bookings
        values = {"undone": work.at, "undone_by": work.who}
        work.connection.execute(table.update().where(table.c.number.in_(numbers)).values(**values))
    return Outcome(find_part(plan, batch[0].material).material.kind, batch, tuple(restored), ())


def _undo_pieces(work: Work, numbers: Sequence[int]) -> list[Held]:
    """Put every piece that these bookings touched back to what it was before them."""
    table = tables.history
    query = select(table).where(table.c.booking.in_(numbers)).order_by(table.c.number)
    touched: dict[str, list[RowMapping]] = {}
    for row in work.connection.execute(query).mappings():
        touched.setdefault(row["piece"], []).append(row)
    restored = []
    for now in work.take(touched):
        entries = touched[now.id]
        before, after = from_snapshot(entries[0]["before"]), from_snapshot(entries[-1]["after"])
        told = f"booking {', '.join(map(str, numbers))} undone"
        if now != after:
            if {entry["what"] for entry in entries} == {"released"}:
                continue  # others may have taken what this plan had let go
            raise StockError(
                f"{now.id} has been changed since that booking, so it cannot be undone: see "
                f"'nesting stock show {now.id}', and put right by hand what is wrong."
            )
        if before is None:
            work.remove(now, "taken out", told)
        else:
            restored.append(work.change(now, before, "booking undone", told))
    return restored
