"""The tables of the stock ledger, in any database that SQLAlchemy knows.

Lengths are mm. Times are text, ISO 8601 in UTC, so that they sort and read alike everywhere.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

__all__ = [
    "SCHEMA",
    "about",
    "booked_pieces",
    "bookings",
    "history",
    "metadata",
    "numbers",
    "pieces",
    "plans",
    "reservations",
]

SCHEMA = 1
"""Rises when an older program could no longer read or write the tables."""

metadata = MetaData()

about = Table(
    "stock_about",
    metadata,
    Column("key", String(40), primary_key=True),
    Column("value", String(200), nullable=False),
)
"""What made the tables, and their `SCHEMA`."""

pieces = Table(
    "stock_pieces",
    metadata,
    Column("id", String(80), primary_key=True),
    Column("folded", String(200), nullable=False, unique=True),  # the id without case: r-1 is R-1
    Column("material", String(80), nullable=False, index=True),
    Column("kind", String(10), nullable=False),
    Column("length", Float, nullable=False),
    Column("width", Float, nullable=False),
    Column("height", Float, nullable=False),
    Column("remnant", Boolean, nullable=False),
    Column("lot", String(80), nullable=False),
    Column("flaws", Text, nullable=False),  # JSON: [[x0, x1, y0, y1 or null], ...]
    Column("place", String(80), nullable=False),
    Column("state", String(20), nullable=False, index=True),
    Column("source", String(80), nullable=False),  # the piece it was cut from; empty when bought
    Column("added", Integer, nullable=False),  # number of its first entry in the history, for sorting
)
"""One row for every piece that is, or was, on the shelf."""

reservations = Table(
    "stock_reservations",
    metadata,
    Column("piece", ForeignKey("stock_pieces.id"), primary_key=True),
    Column("plan", String(40), nullable=False, index=True),
    Column("since", String(40), nullable=False),
    Column("who", String(80), nullable=False),
)
"""Which piece is kept for which plan."""

history = Table(
    "stock_history",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("at", String(40), nullable=False),
    Column("who", String(80), nullable=False),
    Column("piece", String(80), nullable=False, index=True),
    Column("what", String(40), nullable=False),
    Column("before", Text),  # JSON of the whole row; null when the piece is new
    Column("after", Text),  # JSON of the whole row; null when it was taken out again
    Column("why", String(400), nullable=False),
    Column("plan", String(40), nullable=False),
    Column("booking", Integer, index=True),
)
"""Every change, kept for ever: also of pieces that have been taken out again."""

numbers = Table(
    "stock_numbers",
    metadata,
    Column("prefix", String(10), primary_key=True),
    Column("last", Integer, nullable=False),
)
"""The last number given out to ids of each prefix."""

plans = Table(
    "stock_plans",
    metadata,
    Column("number", String(40), primary_key=True),
    Column("since", String(40), nullable=False),
)
"""Plans of which something was booked; its row is locked while a booking is made."""

bookings = Table(
    "stock_bookings",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("batch", Integer, nullable=False),  # number of the first booking made with it
    Column("plan", ForeignKey("stock_plans.number"), nullable=False, index=True),
    Column("material", String(80), nullable=False),
    Column("layout", Integer, nullable=False),  # from 1, as it is printed
    Column("plies", Integer, nullable=False),
    Column("planned_length", Float, nullable=False),  # of these plies on a roll, end losses included
    Column("length_used", Float, nullable=False),
    Column("piece", String(80), nullable=False),  # empty when no piece of the ledger was named
    Column("at", String(40), nullable=False),
    Column("who", String(80), nullable=False),
    Column("note", String(400), nullable=False),
    Column("undone", String(40)),  # when it was undone; null while it counts
    Column("undone_by", String(80)),
)
"""What was cut of a layout from one piece."""

booked_pieces = Table(
    "stock_booked_pieces",
    metadata,
    Column("booking", ForeignKey("stock_bookings.number"), primary_key=True),
    Column("key", Text, primary_key=True),  # key of the demand
    Column("planned", Integer, nullable=False),
    Column("good", Integer, nullable=False),
    Column("damaged", Integer, nullable=False),
)
"""What became of the pieces of a booking; planned less good and damaged were not cut."""

Index("stock_bookings_layout", bookings.c.plan, bookings.c.material, bookings.c.layout)
