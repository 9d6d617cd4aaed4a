"""One lot to a product: which order lines are cut from which dye lot.

What is seen on a bed must match: the panels and borders of one product never come from two lots, nor does
some of it lie along the cloth and some across (common practice for quilted cloth and ticking).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Protocol

from nesting.model import Demand, Missing, OrderShare, RollMaterial, StockPiece
from nesting.packing import Answer

__all__ = [
    "Cut",
    "Product",
    "by_lot",
    "nothing_cut",
    "one_way_each",
    "products",
    "share_of",
    "split_products",
]

TRIES = 8
"""How often a lot is planned, with fewer products each time, until all it was given fits."""

TRY_SHARE = 0.3
"""Share of the budget for each such try."""


@dataclass(frozen=True, slots=True)
class Cut:
    """What is cut from some of the stock."""

    demands: tuple[Demand, ...]
    answer: Answer
    stock: tuple[StockPiece, ...] = ()
    new: bool = True


class Cutter(Protocol):
    """Solves one part of a material."""

    def __call__(
        self, demands: tuple[Demand, ...], stock: Sequence[StockPiece], *, new: bool, share: float = 1.0
    ) -> Cut:
        """The verified answer, found with a share of the budget."""
        ...


class Product(NamedTuple):
    """What must match: the beds of one order line."""

    due: str
    order: str
    model: str
    size: str

    def __str__(self) -> str:
        return f"{self.order} ({self.model} {self.size})"


def nothing_cut(demands: tuple[Demand, ...], reason: str) -> Cut:
    """An answer in which all is missing for one reason."""
    missing = {demand.key: Missing(demand.quantity, reason) for demand in demands}
    return Cut(demands, Answer(layouts=(), value=0.0, bound=0.0, missing=missing, stopped="proved"))


def products(demands: Iterable[Demand]) -> dict[Product, float]:
    """All products, earliest due first, with the area of the boxes of their pieces, m2.

    What no order asks for is one product.
    """
    areas: dict[Product, float] = {}
    for demand in demands:
        for share in _shares(demand):
            product = _product(demand, share)
            areas[product] = areas.get(product, 0.0) + share.pieces * _box(demand)
    return dict(sorted(areas.items()))


def _box(demand: Demand) -> float:
    """Area of the box of one piece, m2."""
    return demand.panel.length * demand.panel.width / 1e6


def _product(demand: Demand, share: OrderShare) -> Product:
    return Product(share.due, share.order, demand.model, demand.size)


def _shares(demand: Demand) -> list[OrderShare]:
    """The order shares of a demand, and one for what no order asks for."""
    spare = demand.quantity - sum(share.pieces for share in demand.orders)
    return [*demand.orders, *([OrderShare(order="", due="", pieces=spare)] if spare > 0 else [])]


def split_products(cut: Iterable[Demand], left: Iterable[Demand], roll: StockPiece) -> tuple[str, ...]:
    """A note of the products that are only partly cut from one roll; none where all are whole."""
    both = sorted(set(products(cut)) & set(products(left)))
    if not both:
        return ()
    lot = f"lot {roll.lot}" if roll.lot else f"the lot of {roll.id}"
    return (f"Cut from {lot}, too, what is left open of {', '.join(map(str, both))}: one lot to a product.",)


def share_of(demands: Iterable[Demand], chosen: Iterable[Product], suffix: str = "") -> tuple[Demand, ...]:
    """The demands of some products alone; `suffix` is added to their keys."""
    wanted = set(chosen)
    found = []
    for demand in demands:
        shares = [share for share in _shares(demand) if _product(demand, share) in wanted]
        if shares:
            found.append(
                replace(
                    demand,
                    key=demand.key + suffix,
                    quantity=sum(share.pieces for share in shares),
                    orders=tuple(share for share in shares if share.order or share.due),
                )
            )
    return tuple(found)


def one_way_each(demands: Sequence[Demand], width: float) -> tuple[Demand, ...]:
    """The demands with turns such that all pieces of a product lie the same way.

    Along the roll if all of them go into `width` mm like that, otherwise all across if that is allowed.
    """
    ways: dict[tuple[str, str], bool] = {}
    for product in {(demand.model, demand.size) for demand in demands}:
        own = [demand for demand in demands if (demand.model, demand.size) == product]
        along = all(_turns(demand, 0) and demand.panel.width <= width for demand in own)
        across = all(_turns(demand, 90) and demand.panel.length <= width for demand in own)
        ways[product] = across and not along
    turned = []
    for demand in demands:
        turns = _turns(demand, 90 if ways[demand.model, demand.size] else 0) or demand.panel.turns
        turned.append(replace(demand, panel=replace(demand.panel, turns=turns)))
    return tuple(turned)


def _turns(demand: Demand, way: float) -> tuple[float, ...]:
    return tuple(turn for turn in demand.panel.turns if turn % 180.0 == way)


def by_lot(
    material: RollMaterial,
    demands: Sequence[Demand],
    stock: Sequence[StockPiece],
    cut: Cutter,
    *,
    new: bool,
) -> tuple[list[Cut], tuple[str, ...]]:
    """Plan a material lot by lot, and say what comes from which.

    The smallest lots come first, so that they are used up; each takes whole products, earliest due first,
    as many as fit. The rest is for new material, which must be ordered as one lot.

    Parameters
    ----------
    cut
        Solves the part of one lot.

    Returns
    -------
    tuple
        The parts, and notes for people.
    """
    widest = max([material.usable_width if new else 0.0, *(piece.width for piece in stock)])
    demands = one_way_each(demands, widest)
    waiting = products(demands)
    lots: dict[str, list[StockPiece]] = {}
    for piece in stock:
        lots.setdefault(f"lot {piece.lot}" if piece.lot else f"{piece.id}, lot not told", []).append(piece)
    cuts: list[Cut] = []
    notes = []
    for name, pieces in sorted(lots.items(), key=lambda item: (_area(item[1]), item[0])):
        chosen, done = _fill(demands, waiting, name, pieces, cut)
        if done is not None:
            cuts.append(done)
            notes.append(f"From {name}: {', '.join(map(str, chosen))}.")
            for product in chosen:
                del waiting[product]
    if waiting or not cuts:
        suffix = ", new lot" if cuts else ""
        left = share_of(demands, waiting, suffix)
        if new:
            cuts.append(cut(left, (), new=True))
            if lots:
                notes.append(f"From new rolls, to be ordered as one lot: {', '.join(map(str, waiting))}.")
        else:
            reason = "no single lot on the shelf has enough for all of its product"
            cuts.append(nothing_cut(left, reason if lots else "nothing of it is on the shelf"))
    if notes:
        notes.insert(0, "Each product of an order is cut from one lot, and its pieces lie the same way.")
    return cuts, tuple(notes)


def _area(pieces: Sequence[StockPiece]) -> float:
    """Usable area, m2, flaws not taken off."""
    return sum(piece.length * piece.width for piece in pieces) / 1e6


def _fill(
    demands: Sequence[Demand],
    waiting: dict[Product, float],
    name: str,
    pieces: Sequence[StockPiece],
    cut: Cutter,
) -> tuple[list[Product], Cut | None]:
    """Products that are cut from one lot, and how; none if nothing fits."""
    room = _area(pieces)
    chosen: list[Product] = []
    for product, area in waiting.items():
        if area <= room:
            chosen.append(product)
            room -= area
    for _ in range(TRIES):
        if not chosen:
            break
        part = share_of(demands, chosen, f", {name}")
        done = cut(part, pieces, new=False, share=TRY_SHARE)
        if not done.answer.missing:
            return chosen, done
        out = 0.0
        short: set[Product] = set()
        for demand in part:
            if demand.key in done.answer.missing:
                out += done.answer.missing[demand.key].quantity * _box(demand)
                short |= {_product(demand, share) for share in _shares(demand)}
        # The latest of those that lack something make way, at least as much as found no room.
        for product in sorted(short, reverse=True):
            chosen.remove(product)
            out -= waiting[product]
            if out <= 0:
                break
    return [], None
