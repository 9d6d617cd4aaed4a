"""One roll and what is wanted of it: the inputs of a marker."""

from __future__ import annotations

import datetime
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.catalogue import Range
from nesting.errors import Finding, InputError
from nesting.model import Demand, Flaw, RollMaterial, StockPiece
from nesting.orders import demand_by_material, load_orders
from nesting.reading.findings import listed, near
from nesting.reading.units import LengthError, show
from nesting.stock.measures import FLAW_EXAMPLE, parse_flaws, read_length
from nesting.stock.shelves import is_ledger, stock_of

if TYPE_CHECKING:
    from nesting.stock.bookings import Booking

__all__ = ["UNLISTED", "find_roll", "roll_of_size", "wanted_of"]

UNLISTED = "this roll"
"""What a roll is called that nobody has given an id."""

SIZE_EXAMPLE = "2180x31000"


def find_roll(where: str, id_: str, range_: Range) -> StockPiece:
    """A free roll of a ledger, or a roll of a stock list, by its id.

    Raises
    ------
    NestingError
        When there is no such roll, or it is not free.
    """
    pieces = stock_of(where, range_)
    found = [piece for piece in pieces if piece.id.casefold() == id_.casefold()]
    if not found:
        if is_ledger(where):
            from nesting.stock.ledger import open_ledger
            from nesting.stock.store import StockError

            with open_ledger(where) as ledger:
                held = ledger.piece(id_)
            kept = f" for plan {held.plan}" if held.plan else ""
            raise StockError(f"{held.id} is {held.state}{kept}: only a free roll can be planned.")
        hint = near(id_, [piece.id for piece in pieces])
        remedy = f"{hint}Give one of the list, or another list with --stock."
        raise InputError([Finding(where, "id", id_, "the id of a roll that is listed", remedy)])
    (piece,) = found
    _check_material(piece.material, range_)
    return piece


def _check_material(key: str, range_: Range) -> RollMaterial:
    material = range_.materials.get(key)
    if isinstance(material, RollMaterial):
        return material
    rolls = [one.key for one in range_.materials.values() if isinstance(one, RollMaterial)]
    remedy = f"{near(key, rolls)}Choose another roll, or complete the range file."
    raise InputError(
        [Finding(range_.file, "materials", key, f"a material on rolls: {listed(rolls)}", remedy)]
    )


def roll_of_size(size: str, flaws: Sequence[str], material: str | None, range_: Range) -> StockPiece:
    """A roll that is not written down anywhere, from its measured size.

    Parameters
    ----------
    size
        Usable width and length: ``"2180x31000"``, in mm or with units.
    flaws
        As in a stock list: ``"12.5 m - 12.6 m"``.

    Raises
    ------
    InputError
        When something cannot be read, or a flaw lies beyond the roll.
    """
    if material is None:
        raise _refusal("--material", None, "the material of the roll", "Name it, e.g. -m ticking.")
    key = _check_material(range_.find_material(material).key, range_).key
    sides = re.split(r"\s*[x\u00d7]\s*", size.strip(), flags=re.IGNORECASE)
    if len(sides) != 2:
        remedy = "Write the usable width first, then the length."
        raise _refusal("--roll-size", size, f"width x length, e.g. {SIZE_EXAMPLE}", remedy)
    try:
        width, length = (read_length(side) for side in sides)
        found: tuple[Flaw, ...] = tuple(flaw for text in flaws for flaw in parse_flaws(text))
    except (LengthError, ValueError) as error:
        allowed = f"sizes such as {SIZE_EXAMPLE}, flaws such as {FLAW_EXAMPLE}"
        raise _refusal("--roll-size, --flaw", ", ".join((size, *flaws)), allowed, str(error)) from error
    if not 0 < width <= 10_000 or not 0 < length <= 2_000_000:
        allowed = "a width up to 10 m and a length up to 2 km"
        raise _refusal("--roll-size", size, allowed, "Write the usable width first, then the length.")
    for flaw in found:
        if flaw.x0 >= length or flaw.y0 >= width:
            place = f"{show(flaw.x0)}-{show(flaw.x1)}"
            allowed = f"a flaw within {show(length)} mm along and {show(width)} mm across"
            raise _refusal("--flaw", place, allowed, "Correct the flaw or the size.")
    return StockPiece(id=UNLISTED, material=key, length=length, width=width, flaws=found)


def wanted_of(
    range_: Range,
    material: str,
    *,
    orders: Path | None,
    plan: Path | None,
    ledger: str,
    first: datetime.date | None = None,
    last: datetime.date | None = None,
    date_order: str | None = None,
) -> tuple[tuple[Demand, ...], str]:
    """What is wanted of a material, and the name of the file that says so.

    Parameters
    ----------
    orders
        An order book; or
    plan
        A saved plan, of which what is still to be cut is taken.
    first, last
        Due dates that are left out before and after.

    Raises
    ------
    InputError
        When a file has faults, or nothing is wanted.
    """
    if orders is not None:
        book = load_orders(orders, range_, date_order=date_order).between(first, last)
        demands = demand_by_material(range_, book.lines).get(material, ())
        source = book.file
    else:
        assert plan is not None
        demands = _between(_open_rest(plan, material, ledger), first, last)
        source = plan.name
    if not demands:
        allowed = "orders that need it"
        remedy = "Choose another roll, other days, or --instead-of."
        raise InputError([Finding(source, "material", material, allowed, remedy)])
    return demands, source


def _open_rest(file: Path, material: str, where: str) -> tuple[Demand, ...]:
    """What is still to be cut of a material of a saved plan: what it left open, and what bookings lack.

    What a plan that left pieces open does cut, and is not yet booked, is taken to be on its way: it must not
    be planned twice. Of a plan that meant to cut all, whatever is not booked is still to be cut.
    """
    from nesting.planfile import read_plan
    from nesting.stock.booking import open_demands
    from nesting.stock.bookings import bookings_of
    from nesting.stock.ledger import open_ledger
    from nesting.stock.plies import contents, plan_number

    plan = read_plan(file)
    bookings: tuple[Booking, ...] = ()
    waiting = open_demands(plan, None).get(material, ())
    if is_ledger(where) and ("://" in where or Path(where).exists()):
        with open_ledger(where) as ledger:
            bookings = bookings_of(ledger, plan_number(plan))
            waiting = open_demands(plan, ledger).get(material, ())
    left: list[Demand] = []
    on_its_way: Counter[str] = Counter()
    for part in plan.materials:
        if part.material.key != material or not part.open:
            continue
        left += [item.demand for item in part.open]
        done: Counter[int] = Counter()
        for booking in bookings:
            done[booking.layout] += booking.plies if booking.material == material else 0
        for number, layout in enumerate(part.layouts, start=1):
            for key, count in contents(layout).items():
                on_its_way[key] += count * max(0, layout.repeats - done[number])
    rest = [_less(demand, on_its_way[demand.key]) for demand in waiting]
    return _added([*(demand for demand in rest if demand.quantity), *left])


def _less(demand: Demand, met: int) -> Demand:
    """A demand without so many pieces, which are for the orders that are due first."""
    quantity = max(0, demand.quantity - met)
    orders = []
    for share in sorted(demand.orders, key=lambda share: share.due):
        given = min(met, share.pieces)
        met -= given
        if given < share.pieces:
            orders.append(replace(share, pieces=share.pieces - given))
    return replace(demand, quantity=quantity, orders=tuple(orders))


def _added(demands: Sequence[Demand]) -> tuple[Demand, ...]:
    """Demands of one key put together."""
    found: dict[str, Demand] = {}
    for demand in demands:
        known = found.get(demand.key, replace(demand, quantity=0, orders=()))
        orders = sorted((*known.orders, *demand.orders), key=lambda share: (share.due, share.order))
        quantity = known.quantity + demand.quantity
        found[demand.key] = replace(known, quantity=quantity, orders=tuple(orders))
    return tuple(found.values())


def _between(
    demands: Sequence[Demand], first: datetime.date | None, last: datetime.date | None
) -> tuple[Demand, ...]:
    """The demands with only the shares due within some days."""
    low, high = (first or datetime.date.min).isoformat(), (last or datetime.date.max).isoformat()
    found = []
    for demand in demands:
        shares = tuple(share for share in demand.orders if low <= share.due <= high)
        if shares == demand.orders:
            found.append(demand)
        elif shares:
            pieces = sum(share.pieces for share in shares)
            found.append(replace(demand, orders=shares, quantity=pieces))
    return tuple(found)


def _refusal(place: str, value: object, allowed: str, remedy: str) -> InputError:
    return InputError([Finding("the command line", place, value, allowed, remedy)])
