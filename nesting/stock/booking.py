"""Booking what was really cut: stock gets shorter, rests come back to the shelf, demand is met."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.model import BlockMaterial, Demand, Layout, MaterialPlan, OrderShare, Plan, RollMaterial
from nesting.reading.findings import listed
from nesting.reading.units import show
from nesting.stock import tables
from nesting.stock.bookings import Booking, booked_plies, bookings_of, consumed, good_pieces, load
from nesting.stock.fates import Cut, Fates
from nesting.stock.fitting import check_sizes
from nesting.stock.ledger import Ledger
from nesting.stock.measures import show_flaws
from nesting.stock.plies import (
    Share,
    counted,
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


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a booking, or undoing one, changed: the pieces of stock as they are now, and new remnants.

    `kind` is that of the material: ``"roll"``, ``"sheet"`` or ``"block"``. `notes` are sentences for the
    person at the table, about what may have been overlooked.
    """

    kind: str
    bookings: tuple[Booking, ...]
    pieces: tuple[Held, ...]
    remnants: tuple[Held, ...]
    notes: tuple[str, ...] = ()


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
        _check_known(work, cut, portions)
        _check_rests(part, cut, portions)
        work.kept_for(number, part.material.key)  # locked first, as they may be released in the end
        there = {held.id.casefold(): held for held in work.take_there(p.piece for p in portions if p.piece)}
        fates = Fates(layout, plies, cut)
        batch = 0
        changed: dict[str, Held] = {}
        remnants: list[Held] = []
        notes: list[str] = []
        for portion in portions:
            held = there.get(portion.piece.casefold())
            used = portion.planned if cut.length_used is None else cut.length_used
            id_ = held.id if held else ""
            batch = _write(work, cut, part, portion, id_, used, fates.take(portion.plies), batch)
            booked[cut.layout, id_] += portion.plies
            if held is None:
                continue
            _check_piece(held, part, number)
            notes += _notes(held, part, used)
            if used and (held.kind == "roll" or held.piece.length > used + SLACK):
                kept_for = number if unbooked(part, booked, id_) else ""
                least = _least_rest(part)
                changed[id_] = work.cut_off(held, used, least=least, kept_for=kept_for)
            else:
                changed[id_] = work.use_up(held)
            rests = ply_rests(part, layout) if cut.rests is None else cut.rests
            remnants += [_remnant(work, held, rest, used) for rest in rests]
        for held in work.kept_for(number, part.material.key):
            if not unbooked(part, booked, held.id):
                changed[held.id] = work.release(held)
        made = tuple(booking for booking in load(work.connection, number) if booking.batch == batch)
    return Outcome(part.material.kind, made, tuple(changed.values()), tuple(remnants), tuple(notes))


def _least_rest(part: MaterialPlan) -> float:
    """Shortest rest of a roll or long block that is worth keeping, mm."""
    material = part.material
    if isinstance(material, RollMaterial):
        return material.min_remnant
    return material.min_remnant_length + (material.skins.x1 if isinstance(material, BlockMaterial) else 0.0)


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
            f"{what}: all {counted(part.material.kind, layout.repeats)} are booked. If more were cut, say "
            "how many with --plies and add --beyond-plan; if the last booking was wrong, undo it with --undo."
        )
    if plies < 1:
        raise StockError(f"{what}: {counted(part.material.kind, plies)} cannot be booked; say 1 or more.")
    if plies > left and not cut.beyond:
        raise StockError(
            f"{what}: {counted(part.material.kind, plies)} would be more than the {max(0, left)} not booked "
            "yet. If they were really cut, add --beyond-plan."
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
    lengthwise = ply_length(part, layout) > 0
    if cut.length_used is not None:
        _check_length(part, cut, plies, layout)
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
    if lengthwise and len(cut.pieces) > 1:
        raise StockError("Book each roll or long block by itself: name one piece, and its plies.")
    if not lengthwise and len(cut.pieces) != plies:
        raise StockError(
            f"{counted(part.material.kind, plies)} need a piece each; {len(cut.pieces)} are named."
        )
    if not lengthwise:
        return tuple(Share(piece, 1, 0.0) for piece in cut.pieces)
    (piece,) = cut.pieces
    known = {use.piece.casefold(): use.piece for use in part.stock if use.piece}
    piece = known.get(piece.casefold(), piece)
    return (Share(piece, plies, planned_length(part, cut.layout, plies, piece, booked, used)),)


def _check_rests(part: MaterialPlan, cut: Cut, portions: Sequence[Share]) -> None:
    """Refuse rests of which nobody could say what they were cut from."""
    one = len(portions) == 1 and (portions[0].plies == 1 or isinstance(part.material, RollMaterial))
    if cut.rests and not (one and portions[0].piece):
        raise StockError(
            "Rests can be told of one piece of the ledger at a time: book each roll, sheet or block "
            "by itself, with --piece."
        )


def _check_length(part: MaterialPlan, cut: Cut, plies: int, layout: Layout) -> None:
    """Refuse a length that cannot be true."""
    each = ply_length(part, layout)
    if not each or cut.length_used is None:
        raise StockError(f"{part.material.name} is no roll or long block: there is no length to say.")
    ends = 2 * part.material.end_loss if isinstance(part.material, RollMaterial) else each - layout.length
    least = plies * (each - ends)
    if cut.length_used < least * (1 - STRETCH) and not cut.not_cut:
        raise StockError(
            f"{counted(part.material.kind, plies)} of layout {cut.layout} take {show(least)} mm without the "
            f"ends; {show(cut.length_used)} mm do not hold them. If some was left uncut, add --not-cut."
        )


def _check_known(work: Work, cut: Cut, portions: Sequence[Share]) -> None:
    """Refuse to book on pieces of the plan that the ledger never had; a stock list may have named them."""
    ids = [portion.piece for portion in portions if portion.piece]
    known = work.taken(ids)
    unknown = [id_ for id_ in ids if id_.casefold() not in known]
    if unknown and not cut.pieces:
        raise StockError(
            f"The plan was made for {listed(unknown)}, which the ledger does not have. Say with --piece what "
            "was cut, or add --demand-only to book the pieces and leave stock alone."
        )


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
        "note": work.why,
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


def _notes(held: Held, part: MaterialPlan, used: float) -> list[str]:
    """What should be looked at when a roll was taken that the plan does not know."""
    material = part.material
    if not isinstance(material, RollMaterial) or any(use.piece == held.id for use in part.stock):
        return []
    notes = []
    if held.piece.width < material.usable_width - SLACK:
        notes.append(
            f"{held.id} is {show(held.piece.width)} mm wide, but this layout is planned for "
            f"{show(material.usable_width)} mm: see that no piece is short, or book it as damaged."
        )
    flaws = tuple(flaw for flaw in held.piece.flaws if flaw.x0 < used)
    if flaws:
        notes.append(
            f"{held.id} had flaws in what was cut ({show_flaws(flaws)} from its beginning): book pieces "
            "that lay on them as damaged, and say the length that was really used."
        )
    return notes


def _remnant(work: Work, parent: Held, size: tuple[float, float, float], used: float) -> Held:
    """A rest with an id of its own; it must have been in its parent, or in what was used of a roll (mm)."""
    inside = (used if parent.kind == "roll" else parent.piece.length, parent.piece.width, parent.piece.height)
    for own, most in zip(sorted(size), sorted(inside), strict=True):
        if own > most + SLACK:
            raise StockError(
                f"A rest of {' x '.join(show(side) for side in size if side)} mm does not come out of "
                f"{parent.id}, of which {' x '.join(show(side) for side in inside if side)} mm were cut."
            )
    made = work.add_remnant(parent, *size)
    faults = [f"{fault.field}: {fault.allowed}" for fault in check_sizes(made.piece, made.kind)]
    if faults:
        raise StockError(f"No such rest can be: {'; '.join(faults)}.")
    return made


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
