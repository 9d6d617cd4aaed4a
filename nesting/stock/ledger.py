"""The stock ledger: which rolls, sheets, blocks and remnants there are, and all that happened to them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from sqlalchemy import select

from nesting.catalogue import Range
from nesting.errors import Finding, InputError
from nesting.measures import MACHINES
from nesting.model import StockPiece, Workshop
from nesting.reading.findings import Findings, listed, near
from nesting.stock import tables
from nesting.stock.correction import Correction
from nesting.stock.fitting import check_sizes
from nesting.stock.listfile import ListedPiece
from nesting.stock.records import STATES, Entry, Held, State, from_row, from_snapshot
from nesting.stock.store import StockError, Store, open_store
from nesting.stock.work import Work, reserved_for_another

__all__ = ["Ledger", "free_stock", "open_ledger", "remembered"]


def open_ledger(where: str | None = None, *, who: str | None = None, create: bool = False) -> Ledger:
    """Open a ledger; see `nesting.stock.store.open_store`."""
    return Ledger(open_store(where, who=who, create=create))


def remembered(where: str | None = None) -> Workshop:
    """How the people of a ledger read measures; in mm where there is none yet."""
    try:
        with open_ledger(where) as ledger:
            return ledger.workshop()
    except StockError:
        return MACHINES


def free_stock(ledger: Ledger, material: str | None = None) -> tuple[StockPiece, ...]:
    """What may be used for a new plan, in the order in which it came."""
    return tuple(held.piece for held in ledger.pieces(material=material, states=("free",)))


class Ledger:
    """Operations on a ledger. Each is one transaction: it happens whole or not at all.

    All of them raise `StockError` when what is asked cannot be true (no such piece, not there any more,
    reserved for another plan) or the database cannot be used.
    """

    def __init__(self, store: Store) -> None:
        self.store = store

    def close(self) -> None:
        """Let go of the database."""
        self.store.close()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def work(self, *, plan: str = "", why: str = "") -> Iterator[Work]:
        """A transaction in which several things are done together."""
        with self.store.writing() as connection:
            yield Work(connection, self.store.who, plan=plan, why=why)

    # How its people read

    def workshop(self) -> Workshop:
        """How measures are written for its people: as the last range said with which stock was taken in."""
        about = tables.about.c
        with self.store.reading() as connection:
            known = {row.key: row.value for row in connection.execute(select(about.key, about.value))}
        units, decimal = known.get("units"), known.get("decimal")
        workshop = Workshop(decimal="," if decimal == "," else ".")
        return workshop.changed("inch") if units == "inch" else workshop

    def _remember(self, work: Work, workshop: Workshop) -> None:
        about = tables.about
        values = {"units": workshop.units, "decimal": workshop.decimal}
        work.connection.execute(about.delete().where(about.c.key.in_(values)))
        rows = [{"key": key, "value": value} for key, value in values.items()]
        work.connection.execute(about.insert(), rows)

    # What is there

    def pieces(
        self,
        *,
        material: str | None = None,
        states: Sequence[State] = STATES,
        ids: Sequence[str] | None = None,
        plan: str | None = None,
    ) -> tuple[Held, ...]:
        """Pieces in the order in which they came.

        Parameters
        ----------
        material
            Key of the only material wanted; None for all.
        states
            States that are wanted.
        ids
            Only these, in whatever case; unknown ones are left out.
        plan
            Only those reserved for this plan.
        """
        table, kept = tables.pieces, tables.reservations
        query = (
            select(table, kept.c.plan.label("plan"))
            .outerjoin(kept, kept.c.piece == table.c.id)
            .where(table.c.state.in_(states))
            .order_by(table.c.added)
        )
        if material is not None:
            query = query.where(table.c.material == material)
        if ids is not None:
            query = query.where(table.c.folded.in_([id_.casefold() for id_ in ids]))
        if plan is not None:
            query = query.where(kept.c.plan == plan)
        with self.store.reading() as connection:
            rows = connection.execute(query).mappings().all()
        return tuple(from_row(row, row["plan"] or "") for row in rows)

    def piece(self, id_: str) -> Held:
        """One piece.

        Raises
        ------
        StockError
            When there is none of this id; a likely one is named.
        """
        found = self.pieces(ids=[id_])
        if not found:
            with self.store.reading() as connection:
                Work(connection, self.store.who).missing([id_])
        return found[0]

    def known_material(self, text: str) -> str:
        """The material of the ledger that is meant, whatever its case.

        Raises
        ------
        StockError
            When no piece ever was of it; a likely one is named.
        """
        column = tables.pieces.c.material
        with self.store.reading() as connection:
            known = connection.execute(select(column).distinct().order_by(column)).scalars().all()
        for key in known:
            if key.casefold() == text.casefold():
                return str(key)
        raise StockError(
            f"No piece of the ledger is of the material {text!r}. {near(text, known)}"
            f"There are pieces of {listed(known)}."
        )

    def history(self, id_: str | None = None, *, plan: str | None = None) -> tuple[Entry, ...]:
        """All changes, the first one first; of one piece, or made for one plan."""
        table = tables.history
        query = select(table).order_by(table.c.number)
        if plan is not None:
            query = query.where(table.c.plan == plan)
        with self.store.reading() as connection:
            if id_ is not None:
                known = connection.execute(select(table.c.piece).distinct()).scalars()
                ids = [one for one in known if one.casefold() == id_.casefold()]
                if not ids:
                    Work(connection, self.store.who).missing([id_])
                query = query.where(table.c.piece.in_(ids))
            rows = connection.execute(query).mappings().all()
        return tuple(
            Entry(**{**row, "before": from_snapshot(row["before"]), "after": from_snapshot(row["after"])})
            for row in rows
        )

    # What people do

    def take_in(
        self, new: Sequence[ListedPiece], *, file: str = "", why: str = "", workshop: Workshop | None = None
    ) -> tuple[Held, ...]:
        """Put pieces on the shelf: all of them, or none when one cannot be.

        Parameters
        ----------
        new
            As `nesting.stock.listfile.read_listed` reads them; those that are not named get an id.
        file
            Name of the list, for messages; empty when the pieces do not come from a file.
        why
            A remark for the history.
        workshop
            How measures are to be written from now on; None leaves it as it is.

        Raises
        ------
        InputError
            When ids are in the ledger already, a finding for each.
        """
        with self.work(why=why) as work:
            known = work.taken(one.piece.id for one in new if one.named)
            findings = Findings(file or self.store.name)
            for one in new:
                if one.named and one.piece.id.casefold() in known:
                    place = f"row {one.row}, id" if file else "id"
                    remedy = "Give it another id; 'nesting stock correct' changes the piece that is there."
                    findings.add(place, one.piece.id, "an id that is not in the ledger yet", remedy)
            findings.stop_if_any()
            if workshop is not None:
                self._remember(work, workshop)
            added = []
            # The named ones first, so that no made-up id gets in their way.
            for one in sorted(new, key=lambda one: not one.named):
                piece = one.piece
                if not one.named:
                    piece = replace(piece, id=work.next_id(one.kind, remnant=piece.remnant))
                added.append((one, work.add(Held(piece=piece, kind=one.kind), "taken in")))
        places = {id(one): at for at, one in enumerate(new)}
        return tuple(held for _, held in sorted(added, key=lambda pair: places[id(pair[0])]))

    def correct(self, id_: str, correction: Correction, why: str, *, range_: Range | None = None) -> Held:
        """Put right what the ledger says of a piece.

        Parameters
        ----------
        why
            The reason; must not be empty.
        range_
            Checks the new sizes against its materials, when given.

        Raises
        ------
        InputError
            When the new sizes or flaws cannot be true, or the range does not know the material.
        """
        _needed(why, "a correction")
        with self.work(why=why) as work:
            (held,) = work.take_there([id_])
            after = held.with_piece(**correction.changes())
            material = range_.find_material(held.piece.material) if range_ else None
            faults = list(check_sizes(after.piece, held.kind, material))
            if faults:
                name = f"piece {held.id}"
                raise InputError([Finding(name, f.field, f.value, f.allowed, f.remedy) for f in faults])
            if after == held:
                return held
            return work.change(held, after, "corrected")

    def write_off(self, id_: str, why: str) -> Held:
        """Take a piece off the shelf that is spoilt, lost, sold or given away.

        Parameters
        ----------
        why
            The reason; must not be empty.
        """
        _needed(why, "writing off")
        with self.work(why=why) as work:
            (held,) = work.take_there([id_])
            if held.plan:
                raise reserved_for_another(held)
            return work.change(held, replace(held, state="written off"), "written off")

    def reserve(self, ids: Iterable[str], plan: str) -> tuple[Held, ...]:
        """Keep pieces for a plan: all of them, or none when one is kept for another."""
        with self.work(plan=plan) as work:
            return tuple(work.reserve(held, plan) for held in work.take_there(ids))

    def release(self, ids: Iterable[str] = (), *, plan: str | None = None, why: str = "") -> tuple[Held, ...]:
        """Let others have pieces again: these, and all that are kept for `plan`."""
        with self.work(plan=plan or "", why=why) as work:
            found = {held.id: held for held in work.take_there(ids)}
            if plan is not None:
                found |= {held.id: held for held in work.kept_for(plan)}
            return tuple(work.release(held) for held in found.values() if held.state == "reserved")

    def use(
        self, id_: str, *, length: float | None = None, least: float = 0.0, why: str = "", plan: str = ""
    ) -> Held:
        """Use a piece outside any plan.

        Parameters
        ----------
        length
            What was cut off a roll, mm; None: all of it, or the whole sheet or block.
        least
            Shortest rest of a roll that is worth keeping, mm.
        plan
            A plan that it may be reserved for; it stays so.
        """
        with self.work(plan=plan, why=why) as work:
            (held,) = work.take_there([id_])
            if held.plan and held.plan != plan:
                raise reserved_for_another(held)
            if length is None and held.kind != "roll":
                return work.use_up(held)
            cut = held.piece.length if length is None else length
            return work.cut_off(held, cut, least=least, kept_for=held.plan)

    def make_remnant(
        self, id_: str, *, length: float, width: float, height: float = 0.0, why: str = ""
    ) -> Held:
        """Put a rest of a piece that is used up on the shelf, under an id of its own."""
        with self.work(why=why) as work:
            (parent,) = work.take([id_])
            if parent.state != "used up":
                raise StockError(f"{parent.id} is {parent.state}: only what is used up leaves remnants.")
            made = work.add_remnant(parent, length, width, height)
            faults = [f"{f.field}: {f.allowed}" for f in check_sizes(made.piece, made.kind)]
            if faults:
                raise StockError(f"No such remnant can be: {'; '.join(faults)}.")
        return made


def _needed(why: str, what: str) -> None:
    if not why.strip():
        raise StockError(f"Say why: {what} needs a reason.")
