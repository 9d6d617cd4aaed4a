"""Booking what was really cut: stock gets shorter, rests come back to the shelf, demand is met."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from sqlalchemy import select

from nesting.model import Demand, Layout, MaterialPlan, OrderShare, Plan, RollMaterial
from nesting.reading.findings import listed, near
from nesting.reading.units import show
from nesting.stock import tables
from nesting.stock.bookings import Booking, booked_plies, bookings_of, consumed, good_pieces, load
from nesting.stock.fitting import check_sizes
from nesting.stock.ledger import Ledger
from nesting.stock.plies import (
    Share,
    contents,
    find_layout,
    find_part,
    plan_number,
    planned_length,
    ply_length,
    ply_rests,
    shares,
    unbooked,
)
from nesting.stock.records import Held
from nesting.stock.store import StockError
from nesting.stock.work import SLACK, Work, reserved_for_another

__all__ = ["Cut", "Outcome", "book", "open_demands", "still_to_cut"]


STRETCH = 0.02
"""Share by which cloth may measure shorter than its markers; our own choice, for cloth that gives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What the person at the table says of a cut.

    Parameters
    ----------
    layout
        Number of the layout, from 1, as it is printed.
    material
        Key or name; None where the plan has but one.
    plies
        How many plies, sheets or blocks; None: all that are not booked yet.
    length_used
        Length of roll that was really used, mm, ends included; None: as planned.
    damaged, not_cut
        Pieces that were spoilt, or left uncut, by the key of their demand or the code of their panel.
    pieces
        Ids in the ledger: the roll, or each of the sheets or blocks; empty: as planned.
    rests
        Length, width and height, mm, of the rests of the sheet or block that go back to the shelf; None:
        those of the plan that are worth keeping.
    beyond
        Whether more plies than planned may be booked.
    demand_only
        Whether the pieces of stock that the plan names are left alone, because they are not in the ledger.
    note
        A remark.
    """

    layout: int
    material: str | None = None
    plies: int | None = None
    length_used: float | None = None
    damaged: Mapping[str, int] | None = None
    not_cut: Mapping[str, int] | None = None
    pieces: tuple[str, ...] = ()
    rests: tuple[tuple[float, float, float], ...] | None = None
    beyond: bool = False
    demand_only: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a booking, or undoing one, changed: the pieces of stock as they are now, and new remnants.

    `kind` is that of the material: ``"roll"``, ``"sheet"`` or ``"block"``.
    """

    kind: str
    bookings: tuple[Booking, ...]
    pieces: tuple[Held, ...]
    remnants: tuple[Held, ...]


def book(plan: Plan, ledger: Ledger, cut: Cut) -> Outcome:
    """Book a cut; all of it, or nothing when something cannot be true.

    A roll gets shorter, and is used up when what is left is shorter than the least rest of its material and
    the plan cuts nothing more from it. A sheet or block is used up, and its rests get ids of their own.
    Damaged and uncut pieces stay wanted. What the plan needs no more is released.

    Raises
    ------
    StockError
        When the plan has no such layout, all its plies are booked, a piece is not there, of another
        material, reserved for another plan or too short, or the numbers contradict each other.
    """
    number = plan_number(plan)
    part = find_part(plan, cut.material)
    layout = find_layout(part, cut.layout)
    with ledger.work(plan=number, why=cut.note) as work:
        work.lock_plan(number)
        before = load(work.connection, number)
        booked = booked_plies(before, part.material.key)
        plies = _plies(part, cut, layout, sum(n for (at, _), n in booked.items() if at == cut.layout))
        portions = _portions(part, cut, layout, plies, booked, consumed(before))
        there = {held.id.casefold(): held for held in work.take_there(p.piece for p in portions if p.piece)}
        fates = _Fates(layout, plies, cut)
        batch = 0
        changed: dict[str, Held] = {}
        remnants: list[Held] = []
        for portion in portions:
            held = there.get(portion.piece.casefold())
            used = portion.planned if cut.length_used is None else cut.length_used
            id_ = held.id if held else ""
            batch = _write(work, cut, part, portion, id_, used, fates.take(portion.plies), batch)
            booked[cut.layout, id_] += portion.plies
            if held is None:
                continue
            _check_piece(held, part, number)
            if isinstance(part.material, RollMaterial):
                kept_for = number if unbooked(part, booked, id_) else ""
                least = part.material.min_remnant
                changed[id_] = work.cut_off(held, used, least=least, kept_for=kept_for)
            else:
                changed[id_] = work.use_up(held)
                rests = ply_rests(part, layout) if cut.rests is None else cut.rests
                remnants += [_remnant(work, held, rest) for rest in rests]
        for held in _kept(work, number, part):
            if not unbooked(part, booked, held.id):
                changed[held.id] = work.release(held)
        made = tuple(booking for booking in load(work.connection, number) if booking.batch == batch)
    return Outcome(part.material.kind, made, tuple(changed.values()), tuple(remnants))


def _plies(part: MaterialPlan, cut: Cut, layout: Layout, done: int) -> int:
    """How many plies are booked."""
    left = layout.repeats - done
    roll = isinstance(part.material, RollMaterial)
    plies = cut.plies
    if plies is None:
        plies = len(cut.pieces) if cut.pieces and not roll else left
    what = f"Layout {cut.layout} of {part.material.name}"
    if plies < 1 and cut.plies is None:
        raise StockError(
            f"{what}: all {layout.repeats} plies are booked. If more were cut, say how many with --plies and "
            "add --beyond-plan; if the last booking was wrong, undo it with --undo."
        )
    if plies < 1:
        raise StockError(f"{what}: {plies} plies cannot be booked; say 1 or more.")
    if plies > left and not cut.beyond:
        raise StockError(
            f"{what}: {plies} plies are more than the {max(0, left)} that are not booked yet. "
            "If they were really cut, add --beyond-plan."
        )
    return plies


def _portions(
    part: MaterialPlan,
    cut: Cut,
    layout: Layout,
    plies: int,
    booked: Mapping[tuple[int, str], int],
    used: Mapping[str, float],
) -> tuple[Share, ...]:
    """Which pieces the plies come from: those that are named, or those of the plan."""
    roll = isinstance(part.material, RollMaterial)
    if cut.length_used is not None:
        _check_length(part, cut, plies, ply_length(part, layout))
    if cut.rests is not None and cut.rests and (roll or plies != 1):
        raise StockError("Rests can be told of one sheet or block at a time: book each by itself.")
    if not cut.pieces:
        if cut.demand_only:
            return (Share("", plies, plies * ply_length(part, layout)),)
        portions = shares(part, cut.layout, plies, booked, used)
        if len(portions) > 1 and cut.length_used is not None:
            names = listed(portion.piece or "a new roll" for portion in portions)
            raise StockError(
                f"By the plan these plies come from {names}. Book each roll by itself, with --piece, "
                "--plies and --length-used."
            )
        return portions
    twice = [id_ for id_, count in Counter(id_.casefold() for id_ in cut.pieces).items() if count > 1]
    if twice:
        raise StockError(f"{listed(twice)} is named twice.")
    if roll and len(cut.pieces) > 1:
        raise StockError("Book each roll by itself: name one piece, and its plies.")
    if not roll and len(cut.pieces) != plies:
        raise StockError(f"{plies} plies need {plies} pieces; {len(cut.pieces)} are named.")
    if not roll:
        return tuple(Share(piece, 1, 0.0) for piece in cut.pieces)
    (piece,) = cut.pieces
    known = {use.piece.casefold(): use.piece for use in part.stock if use.piece}
    piece = known.get(piece.casefold(), piece)
    return (Share(piece, plies, planned_length(part, cut.layout, plies, piece, booked, used)),)


def _check_length(part: MaterialPlan, cut: Cut, plies: int, each: float) -> None:
    """Refuse a length that cannot be true."""
    if not isinstance(part.material, RollMaterial) or cut.length_used is None:
        raise StockError(f"{part.material.name} is no roll: there is no length to say.")
    least = plies * (each - 2 * part.material.end_loss)
    if cut.length_used < least * (1 - STRETCH) and not cut.not_cut:
        raise StockError(
            f"{plies} plies of layout {cut.layout} are {show(least)} mm long without their ends; "
            f"{show(cut.length_used)} mm do not hold them. If something was left uncut, say so with "
            "--not-cut."
        )


class _Fates:
    """Hands out what was damaged or not cut over the portions of a booking."""

    def __init__(self, layout: Layout, plies: int, cut: Cut) -> None:
        self.per_ply = contents(layout)
        self.damaged = self._by_key(cut.damaged or {}, "damaged")
        self.not_cut = self._by_key(cut.not_cut or {}, "not cut")
        for key, count in (self.damaged + self.not_cut).items():
            if count > self.per_ply[key] * plies:
                raise StockError(
                    f"{count} pieces of {key!r} cannot be damaged or not cut: {plies} plies of layout "
                    f"{cut.layout} hold {self.per_ply[key] * plies}."
                )

    def _by_key(self, counts: Mapping[str, int], what: str) -> Counter[str]:
        found: Counter[str] = Counter()
        for text, count in counts.items():
            if count < 1:
                raise StockError(f"{text!r}: {count} pieces {what}; say 1 or more.")
            found[self._key(text)] += count
        return found

    def _key(self, text: str) -> str:
        """The demand that is meant: its key, or its beginning where only one key begins so."""
        wanted = text.casefold().strip()
        for key in self.per_ply:
            if key.casefold() == wanted:
                return key
        begun = [key for key in self.per_ply if key.casefold().startswith(f"{wanted} ")]
        if len(begun) == 1:
            return begun[0]
        hint = f"It could be {listed(begun)}: write which." if begun else near(text, self.per_ply)
        raise StockError(
            f"The layout has no piece {text!r}. {hint}" + ("" if begun else f"It has {listed(self.per_ply)}.")
        )

    def take(self, plies: int) -> list[dict[str, object]]:
        """Rows of the table of booked pieces for the next plies, without the number of the booking."""
        rows: list[dict[str, object]] = []
        for key, count in self.per_ply.items():
            planned = count * plies
            damaged = min(planned, self.damaged[key])
            not_cut = min(planned - damaged, self.not_cut[key])
            self.damaged[key] -= damaged
            self.not_cut[key] -= not_cut
            good = planned - damaged - not_cut
            rows.append({"key": key, "planned": planned, "good": good, "damaged": damaged})
        return rows


def _write(
    work: Work,
    cut: Cut,
    part: MaterialPlan,
    portion: Share,
    piece: str,
    used: float,
    rows: list[dict[str, object]],
    batch: int,
) -> int:
    """Write one booking; returns the number of the batch, which the first one begins."""
    table = tables.bookings
    values = {
        "batch": batch,
        "plan": work.plan,
        "material": part.material.key,
        "layout": cut.layout,
        "plies": portion.plies,
        "planned_length": portion.planned,
        "length_used": used,
        "piece": piece,
        "at": work.at,
        "who": work.who,
        "note": cut.note[:400],
    }
    key = work.connection.execute(table.insert().values(**values)).inserted_primary_key
    assert key is not None
    work.booking = int(key[0])
    if not batch:
        batch = work.booking
        work.connection.execute(table.update().where(table.c.number == batch).values(batch=batch))
    work.connection.execute(tables.booked_pieces.insert(), [{**row, "booking": work.booking} for row in rows])
    return batch


def _check_piece(held: Held, part: MaterialPlan, plan: str) -> None:
    if held.piece.material != part.material.key:
        raise StockError(
            f"{held.id} is {held.piece.material!r}, but this layout is cut from {part.material.key!r}."
        )
    if held.kind != part.material.kind:
        raise StockError(f"{held.id} is a {held.kind}, but {part.material.name} is a {part.material.kind}.")
    if held.plan not in ("", plan):
        raise reserved_for_another(held)


def _remnant(work: Work, parent: Held, size: tuple[float, float, float]) -> Held:
    """A rest with an id of its own; it must have been in its parent."""
    inside = (parent.piece.length, parent.piece.width, parent.piece.height)
    for own, most in zip(sorted(size), sorted(inside), strict=True):
        if own > most + SLACK:
            raise StockError(
                f"A rest of {' x '.join(show(side) for side in size if side)} mm does not come out of "
                f"{parent.id}, which is {' x '.join(show(side) for side in inside if side)} mm."
            )
    made = work.add_remnant(parent, *size)
    faults = [f"{fault.field}: {fault.allowed}" for fault in check_sizes(made.piece, made.kind)]
    if faults:
        raise StockError(f"No such rest can be: {'; '.join(faults)}.")
    return made


def _kept(work: Work, plan: str, part: MaterialPlan) -> list[Held]:
    """What is still reserved for a plan, of one material."""
    kept, pieces = tables.reservations, tables.pieces
    query = (
        select(kept.c.piece)
        .join(pieces, pieces.c.id == kept.c.piece)
        .where(kept.c.plan == plan, pieces.c.material == part.material.key)
    )
    return work.take(work.connection.execute(query).scalars().all())


def still_to_cut(plan: Plan, ledger: Ledger) -> dict[str, dict[str, int]]:
    """How many pieces are still wanted, by material and key of the demand; met demands are left out.

    What is wanted by the plan less the good pieces that are booked. Damaged pieces are wanted again, and so
    is what the plan could not place.
    """
    return {
        material: {demand.key: demand.quantity for demand in demands}
        for material, demands in open_demands(plan, ledger).items()
    }


def open_demands(plan: Plan, ledger: Ledger | None) -> dict[str, tuple[Demand, ...]]:
    """The demands of a plan that are not met yet, with the orders that still wait, by key of the material.

    Good pieces go to the orders that are due first. Without a ledger nothing is booked.
    """
    bookings = bookings_of(ledger, plan_number(plan)) if ledger else ()
    found = {}
    for part in plan.materials:
        good = good_pieces(bookings, part.material.key)
        open_ = []
        for demand in part.demands:
            met = min(good[demand.key], demand.quantity)
            good[demand.key] -= met
            if met < demand.quantity:
                open_.append(replace(demand, quantity=demand.quantity - met, orders=_waiting(demand, met)))
        if open_:
            found[part.material.key] = tuple(open_)
    return found


def _waiting(demand: Demand, met: int) -> tuple[OrderShare, ...]:
    """The shares of orders that still wait when so many pieces are there, the earliest due ones met first."""
    waiting = []
    for share in sorted(demand.orders, key=lambda share: share.due):
        given = min(met, share.pieces)
        met -= given
        if given < share.pieces:
            waiting.append(replace(share, pieces=share.pieces - given))
    return tuple(waiting)
