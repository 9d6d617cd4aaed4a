"""What was booked of a plan: which layouts were cut, from what, and what became of the pieces."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import Connection, select

from nesting.stock import tables
from nesting.stock.ledger import Ledger

__all__ = ["BookedPieces", "Booking", "booked_plies", "bookings_of", "consumed", "good_pieces", "load"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BookedPieces:
    """What became of the pieces of one demand; `planned` less good and damaged were not cut."""

    key: str
    planned: int
    good: int
    damaged: int

    @property
    def not_cut(self) -> int:
        """Pieces of the plies that were left uncut."""
        return self.planned - self.good - self.damaged


@dataclass(frozen=True, slots=True, kw_only=True)
class Booking:
    """Plies of one layout that were cut from one piece.

    Parameters
    ----------
    batch
        Number of the first of the bookings that were made with it; they are undone together.
    layout
        Number of the layout, from 1, as it is printed.
    planned_length, length_used
        Of roll, mm, end losses included; 0 for sheets and blocks.
    piece
        Id in the ledger; empty when none was named.
    undone
        When it was undone; None while it counts.
    """

    number: int
    batch: int
    plan: str
    material: str
    layout: int
    plies: int
    planned_length: float
    length_used: float
    piece: str
    at: str
    who: str
    note: str
    undone: str | None
    undone_by: str | None
    pieces: tuple[BookedPieces, ...]


def load(connection: Connection, plan: str, *, undone: bool = False) -> tuple[Booking, ...]:
    """The bookings of a plan, the first one first; those that were undone only when asked for."""
    table, pieces = tables.bookings, tables.booked_pieces
    query = select(table).where(table.c.plan == plan).order_by(table.c.number)
    if not undone:
        query = query.where(table.c.undone.is_(None))
    rows = connection.execute(query).mappings().all()
    inside = select(table.c.number).where(table.c.plan == plan)
    found: dict[int, list[BookedPieces]] = defaultdict(list)
    for row in connection.execute(
        select(pieces).where(pieces.c.booking.in_(inside)).order_by(pieces.c.booking, pieces.c.key)
    ):
        found[row.booking].append(
            BookedPieces(key=row.key, planned=row.planned, good=row.good, damaged=row.damaged)
        )
    return tuple(Booking(**row, pieces=tuple(found[row["number"]])) for row in rows)


def bookings_of(ledger: Ledger, plan: str, *, undone: bool = False) -> tuple[Booking, ...]:
    """As `load`, in a transaction of its own."""
    with ledger.store.reading() as connection:
        return load(connection, plan, undone=undone)


def booked_plies(bookings: Iterable[Booking], material: str) -> Counter[tuple[int, str]]:
    """Plies by layout and piece, of one material."""
    plies: Counter[tuple[int, str]] = Counter()
    for booking in bookings:
        if booking.material == material:
            plies[booking.layout, booking.piece] += booking.plies
    return plies


def consumed(bookings: Iterable[Booking]) -> dict[str, float]:
    """Length of roll used, mm, by piece."""
    lengths: dict[str, float] = defaultdict(float)
    for booking in bookings:
        lengths[booking.piece] += booking.length_used
    return lengths


def good_pieces(bookings: Iterable[Booking], material: str) -> Counter[str]:
    """Good pieces by the key of their demand, of one material."""
    good: Counter[str] = Counter()
    for booking in bookings:
        if booking.material == material:
            for pieces in booking.pieces:
                good[pieces.key] += pieces.good
    return good
