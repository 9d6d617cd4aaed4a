"""What is done to pieces within one transaction; every change leaves an entry in the history."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice
from typing import NoReturn

from sqlalchemy import Connection, Table, func, select
from sqlalchemy.dialects import postgresql, sqlite

from nesting.model import Flaw
from nesting.reading.findings import listed, near
from nesting.reading.units import show
from nesting.stock import tables
from nesting.stock.records import DONE, Held, from_row, snapshot, to_row
from nesting.stock.store import StockError, now, tidy

__all__ = ["MAX_WHY", "PREFIXES", "REMNANT_PREFIX", "SLACK", "Work", "flaws_after", "reserved_for_another"]

PREFIXES = {"roll": "R", "sheet": "S", "block": "B"}
REMNANT_PREFIX = "X"
MAX_NUMBERED = 1_000_000
"""Tries at a free number; far beyond any store."""

AT_ONCE = 1_000
"""Ids asked for in one question: databases limit its length."""

MAX_WHY = 400
"""Most characters of a reason or remark."""
MAX_PLAN = 40
"""Most characters of the number of a plan."""

SLACK = 0.05
"""How much longer than a roll a cut may be told to be, mm: half of the grid that everything is planned on."""


class Work:
    """One transaction under way.

    Parameters
    ----------
    connection
        Within a writing transaction.
    who
        Who makes the changes.
    plan, why
        Written to every entry of the history: the plan that the changes are made for, and the reason.
    """

    def __init__(self, connection: Connection, who: str, *, plan: str = "", why: str = "") -> None:
        self.connection, self.who, self.plan, self.why = connection, who, plan, tidy(why, MAX_WHY)
        self.at = now()
        self.booking: int | None = None

    # What is there

    def take(self, ids: Iterable[str]) -> list[Held]:
        """The pieces of these ids, in this order and each once, locked until the transaction ends.

        Raises
        ------
        StockError
            When there is no such piece; likely ones are named.
        """
        wanted = list({id_.casefold(): id_ for id_ in ids}.values())
        folded = sorted(id_.casefold() for id_ in wanted)
        table = tables.pieces
        # Always in one order, so that two people who want the same pieces do not wait for each other.
        query = select(table).where(table.c.folded.in_(folded)).order_by(table.c.folded).with_for_update()
        rows = {row["folded"]: row for row in self.connection.execute(query).mappings()}
        missing = [id_ for id_ in wanted if id_.casefold() not in rows]
        if missing:
            self.missing(missing)
        kept = self._plans([row["id"] for row in rows.values()])
        return [from_row(rows[id_.casefold()], kept.get(rows[id_.casefold()]["id"], "")) for id_ in wanted]

    def missing(self, ids: Sequence[str]) -> NoReturn:
        """Say that there are no such pieces, and which may be meant."""
        known = self.connection.execute(select(tables.pieces.c.id)).scalars()
        hint = near(ids[0], known) or "'nesting stock list' shows all. "
        raise StockError(f"There is no piece {listed(ids)} in the ledger. {hint}".strip())

    def take_there(self, ids: Iterable[str]) -> list[Held]:
        """As `take`, but only pieces that are still there.

        Raises
        ------
        StockError
            When one is used up or written off, too.
        """
        found = self.take(ids)
        for held in found:
            if held.state in DONE:
                raise StockError(
                    f"{held.id} is {held.state}; nothing more can be done with it. "
                    "If it is there after all, take it in again under a new id."
                )
        return found

    def _plans(self, ids: Sequence[str]) -> dict[str, str]:
        table = tables.reservations
        query = select(table.c.piece, table.c.plan).where(table.c.piece.in_(ids))
        return {row.piece: row.plan for row in self.connection.execute(query)}

    def taken(self, ids: Iterable[str]) -> set[str]:
        """Which of these ids, without case, are in the ledger."""
        column = tables.pieces.c.folded
        wanted = iter([id_.casefold() for id_ in ids])
        found: set[str] = set()
        while some := list(islice(wanted, AT_ONCE)):
            found.update(self.connection.execute(select(column).where(column.in_(some))).scalars())
        return found

    # Changes

    def enter(self, what: str, before: Held | None, after: Held | None, why: str = "") -> int:
        """Write an entry into the history; returns its number."""
        held = after or before
        assert held is not None
        result = self.connection.execute(
            tables.history.insert().values(
                at=self.at,
                who=self.who,
                piece=held.id,
                what=what,
                before=snapshot(before),
                after=snapshot(after),
                why="; ".join(filter(None, (self.why, why)))[:MAX_WHY],
                plan=self.plan,
                booking=self.booking,
            )
        )
        assert result.inserted_primary_key is not None
        return int(result.inserted_primary_key[0])

    def add(self, held: Held, what: str) -> Held:
        """Put a new piece into the ledger."""
        number = self.enter(what, None, held)
        self.connection.execute(tables.pieces.insert().values(**to_row(held), added=number))
        return held

    def change(self, before: Held, after: Held, what: str, why: str = "") -> Held:
        """Change a piece that `take` returned, its reservation included."""
        row = to_row(after)
        table = tables.pieces
        result = self.connection.execute(table.update().where(table.c.id == before.id).values(**row))
        assert result.rowcount == 1, "the piece is locked, so it must be there"
        if before.plan != after.plan:
            kept = tables.reservations
            self.connection.execute(kept.delete().where(kept.c.piece == before.id))
            if after.plan:
                values = {"piece": after.id, "plan": after.plan, "since": self.at, "who": self.who}
                self.connection.execute(kept.insert().values(**values))
        self.enter(what, before, after, why)
        return after

    def remove(self, held: Held, what: str, why: str = "") -> None:
        """Take a piece out again as if it had never been; the history keeps it."""
        kept, table = tables.reservations, tables.pieces
        self.connection.execute(kept.delete().where(kept.c.piece == held.id))
        self.connection.execute(table.delete().where(table.c.id == held.id))
        self.enter(what, held, None, why)

    def next_id(self, kind: str, *, remnant: bool) -> str:
        """A new id such as ``R-0001``: R for rolls, S for sheets, B for blocks, X for remnants."""
        prefix = REMNANT_PREFIX if remnant else PREFIXES[kind]
        table = tables.numbers
        query = select(table.c.last).where(table.c.prefix == prefix).with_for_update()
        last = self.connection.execute(query).scalar_one_or_none()
        if last is None:
            _insert_or_leave(self.connection, table, prefix=prefix, last=0)
            last = int(self.connection.execute(query).scalar_one())
        for number in range(last + 1, last + MAX_NUMBERED):
            id_ = f"{prefix}-{number:04d}"
            if not self._known(id_):
                values = {"last": number}
                self.connection.execute(table.update().where(table.c.prefix == prefix).values(**values))
                return id_
        raise StockError(f"No number is free for a new id that begins with {prefix}-.")

    def _known(self, id_: str) -> bool:
        """Whether an id is, or ever was, in use: labels of old pieces may still be about."""
        query = (
            select(func.count()).select_from(tables.pieces).where(tables.pieces.c.folded == id_.casefold())
        )
        past = select(func.count()).select_from(tables.history).where(tables.history.c.piece == id_)
        return bool(self.connection.execute(query).scalar_one() or self.connection.execute(past).scalar_one())

    def kept_for(self, plan: str, material: str | None = None) -> list[Held]:
        """What is reserved for a plan, locked; of one material, when it is given."""
        kept, pieces = tables.reservations, tables.pieces
        query = select(kept.c.piece).join(pieces, pieces.c.id == kept.c.piece).where(kept.c.plan == plan)
        if material is not None:
            query = query.where(pieces.c.material == material)
        found = self.take(self.connection.execute(query).scalars().all())
        return [held for held in found if held.plan == plan]  # others may have been quicker

    def lock_plan(self, number: str) -> None:
        """Hold others off from booking the same plan until the transaction ends."""
        _insert_or_leave(self.connection, tables.plans, number=number, since=self.at)
        query = select(tables.plans).where(tables.plans.c.number == number).with_for_update()
        self.connection.execute(query).one()

    # What people do to pieces

    def reserve(self, held: Held, plan: str) -> Held:
        """Keep a piece for a plan.

        Raises
        ------
        StockError
            When it is kept for another plan, or the number can be none.
        """
        if not plan or len(plan) > MAX_PLAN or plan != tidy(plan, MAX_PLAN):
            raise StockError(
                f"{plan!r} is no number of a plan. Give the number that is printed on its maps, at most "
                f"{MAX_PLAN} characters."
            )
        if held.plan and held.plan != plan:
            raise reserved_for_another(held)
        if held.plan == plan:
            return held
        return self.change(held, replace(held, state="reserved", plan=plan), "reserved")

    def release(self, held: Held) -> Held:
        """Let others have a piece again; nothing happens to one that is not reserved."""
        if held.state != "reserved":
            return held
        return self.change(held, replace(held, state="free", plan=""), "released")

    def cut_off(self, held: Held, length: float, *, least: float, kept_for: str) -> Held:
        """Cut a length off the beginning of a roll or long block.

        Parameters
        ----------
        length
            What was used, mm.
        least
            Shortest rest that is worth keeping, mm; a shorter one ends the roll.
        kept_for
            Number of the plan that still has cuts to make from it: it then stays reserved, however short.

        Raises
        ------
        StockError
            When it is a sheet, or shorter than that.
        """
        if held.kind == "sheet":
            raise StockError(f"{held.id} is a sheet: lengths are only cut off rolls and long blocks.")
        if length > held.piece.length + SLACK:
            raise StockError(
                f"{held.id} is {show(held.piece.length)} mm long by the ledger, so {show(length)} mm cannot "
                "come off it. Say what was used, or put its length right first with "
                f"'nesting stock correct {held.id}'."
            )
        rest = max(0.0, held.piece.length - length)
        ended = rest <= SLACK or (rest < least and not kept_for)
        after = replace(
            held.with_piece(length=rest, flaws=flaws_after(held.piece.flaws, length, rest)),
            state="used up" if ended else "reserved" if kept_for else "free",
            plan="" if ended else kept_for,
        )
        told = f"{show(length)} mm cut off, {show(rest)} mm left"
        if ended and rest > SLACK:
            told += f", too short to keep (least {show(least)} mm)"
        return self.change(held, after, "used up" if ended else "cut", told)

    def use_up(self, held: Held) -> Held:
        """A sheet or block is cut up, or the last of a roll used."""
        return self.change(held, replace(held, state="used up", plan=""), "used up")

    def add_remnant(self, parent: Held, length: float, width: float, height: float) -> Held:
        """Put a rest of a piece on the shelf, under an id of its own."""
        piece = replace(
            parent.piece,
            id=self.next_id(parent.kind, remnant=True),
            length=length,
            width=width,
            height=height,
            remnant=True,
            flaws=(),
        )
        held = Held(piece=piece, kind=parent.kind, source=parent.id)
        return self.add(held, "remnant made")


def reserved_for_another(held: Held) -> StockError:
    """The error for a piece that is kept for a plan."""
    return StockError(
        f"{held.id} is reserved for plan {held.plan}. "
        f"Release it first with 'nesting stock release {held.id}'."
    )


def flaws_after(flaws: Sequence[Flaw], length: float, rest: float) -> tuple[Flaw, ...]:
    """Where the flaws of a roll are once `length` mm has come off its beginning and `rest` mm is left."""
    return tuple(
        replace(flaw, x0=max(0.0, flaw.x0 - length), x1=min(rest, flaw.x1 - length))
        for flaw in flaws
        if flaw.x1 - length > SLACK and max(0.0, flaw.x0 - length) < min(rest, flaw.x1 - length)
    )


def _insert_or_leave(connection: Connection, table: Table, **values: object) -> None:
    """Insert a row unless its key is there already, also when somebody else is just inserting it."""
    insert = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    connection.execute(insert(table).values(**values).on_conflict_do_nothing())
