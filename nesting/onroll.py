"""The best use of one roll: which pieces are cut from it, and which stay open for another.

What is due first comes first. The pieces stand in a row, bed by bed in the order of their due dates; as
many from its beginning as the roll takes are cut, and what room is then left is filled with pieces from
further on.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.lots import Product, one_way_each, products
from nesting.model import Demand, OpenDemand, OrderShare, RollMaterial, StockPiece
from nesting.packing import Answer, RollProblem, solve
from nesting.packing.problem import Problem
from nesting.requests import NEW_ROLL, problem_for
from nesting.shelf import shelf_key

__all__ = ["Chosen", "choose", "on_roll", "problem_on"]

TRY_SHARE = 0.1
"""Share of the budget for trying whether some pieces fit."""

FULL = 1.0 + 1e-9
"""Area of the roll beyond which nobody need try; a perfect fit is allowed for."""

LEAST_EFFORT = 1.0
"""Work for a try that is made after the person asked to stop."""

MOST_FILLS = 24
"""Most tries to fill what room is left."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is cut from a roll.

    Parameters
    ----------
    demands
        The pieces that are cut.
    answer
        How they were found to fit; None when nothing fits.
    open
        What stays for another roll, with the reason.
    beds
        Beds of which at least a piece is cut.
    """

    demands: tuple[Demand, ...]
    answer: Answer | None
    open: tuple[OpenDemand, ...]
    beds: int


@dataclass(frozen=True, slots=True)
class _Item:
    """Pieces that are cut together or not at all: those of a bed, or a single one."""

    product: Product
    bed: int
    counts: tuple[tuple[str, int], ...]
    area: float


def problem_on(material: RollMaterial, demands: Sequence[Demand], roll: StockPiece) -> Problem:
    """The problem of cutting pieces from one roll.

    A roll without flaws is treated as if it had no end, so that markers are found that are laid in many
    plies; whether it is long enough is then asked of the answer.
    """
    if roll.flaws or material.process == "lengths":
        return problem_for(material, demands, (roll,), new=False)
    own = replace(material, measured_width=roll.width, width=max(material.width, roll.width))
    return problem_for(replace(own, roll_length=roll.length), demands)


def fits_on(material: RollMaterial, answer: Answer, problem: Problem, roll: StockPiece) -> bool:
    """Whether an answer places all pieces, and on the length that there is."""
    if answer.missing:
        return False
    if not isinstance(problem, RollProblem):
        return True
    apart = max(0.0, material.gap - 2 * material.end_loss)
    plies = sum(layout.repeats for layout in answer.layouts)
    ends = (2 * material.end_loss + apart) * plies - apart
    return answer.length + ends <= roll.length + 1e-6


def on_roll(answer: Answer, roll: StockPiece) -> Answer:
    """An answer whose layouts are cut from a roll from the shelf, whatever the problem called it."""
    laid = tuple(
        replace(layout, stock_key=shelf_key(roll)) if layout.stock_key == NEW_ROLL else layout
        for layout in answer.layouts
    )
    return replace(answer, layouts=laid)


def choose(
    material: RollMaterial,
    demands: Sequence[Demand],
    roll: StockPiece,
    *,
    effort: float,
    seed: int = 0,
    seconds: float | None = None,
    whole_beds: bool = False,
) -> Chosen:
    """Choose what is cut from one roll, and cut it.

    Parameters
    ----------
    effort, seed, seconds
        As for `solve`, for the final answer; each try gets a tenth.
    whole_beds
        Cut all pieces of a bed that are of this material, or none.
    """
    meant = tuple(demands)
    if material.one_lot:
        demands = one_way_each(demands, roll.width)
        whole_beds = True
    chooser = _Chooser(material, tuple(demands), roll, effort, seed, seconds)
    misfits = chooser.misfits()
    able = tuple(demand for demand in demands if demand.key not in misfits)
    if whole_beds:
        spoilt = {(d.model, d.size) for d in demands if d.key in misfits}
        able = tuple(demand for demand in able if (demand.model, demand.size) not in spoilt)
    items = list(_items(able, whole_beds=whole_beds))
    kept = chooser.first(items)
    kept = chooser.fill(items, kept)
    answer = chooser.best(kept)
    cut = {demand.key: demand for demand in chooser.demands_of(kept)}
    able_keys = {demand.key for demand in able}
    left_open = []
    for demand in meant:
        left = _without(demand, cut.get(demand.key))
        if left is not None:
            reason = misfits.get(demand.key) or f"no room left on {roll.id}"
            if demand.key not in misfits and demand.key not in able_keys:
                reason = f"another piece of its bed does not fit {roll.id}"
            left_open.append(OpenDemand(demand=left, reason=reason))
    beds = len({(item.product, item.bed) for item in kept})
    return Chosen(tuple(cut.values()), answer, tuple(left_open), beds)


def _without(demand: Demand, cut: Demand | None) -> Demand | None:
    """A demand less what is cut of it; None when nothing is left."""
    if cut is None:
        return demand
    if cut.quantity == demand.quantity:
        return None
    done = {(share.due, share.order): share.pieces for share in cut.orders}
    shares = (
        replace(share, pieces=share.pieces - done.get((share.due, share.order), 0)) for share in demand.orders
    )
    orders = tuple(share for share in shares if share.pieces)
    return replace(demand, quantity=demand.quantity - cut.quantity, orders=orders)


class _Chooser:
    """Tries of one roll."""

    def __init__(
        self,
        material: RollMaterial,
        demands: tuple[Demand, ...],
        roll: StockPiece,
        effort: float,
        seed: int,
        seconds: float | None,
    ) -> None:
        self.material, self.demands, self.roll = material, demands, roll
        self.effort, self.seed, self.seconds = effort, seed, seconds
        self.stopped = False
        self._answers: dict[tuple[tuple[str, int], ...], Answer | None] = {}
        flawed = sum(
            (min(flaw.x1, roll.length) - flaw.x0) * roll.width
            for flaw in roll.flaws
            if flaw.y1 is None and flaw.x0 < roll.length
        )
        self.area = roll.length * roll.width - flawed

    def demands_of(self, items: Sequence[_Item]) -> tuple[Demand, ...]:
        """The demands with no more than the pieces of some items, each for its own order."""
        shares: dict[str, Counter[tuple[str, str]]] = {}
        for item in items:
            for key, count in item.counts:
                shares.setdefault(key, Counter())[item.product.due, item.product.order] += count
        return tuple(
            replace(
                demand,
                quantity=shares[demand.key].total(),
                orders=tuple(
                    OrderShare(order=order, due=due, pieces=pieces)
                    for (due, order), pieces in sorted(shares[demand.key].items())
                    if order or due
                ),
            )
            for demand in self.demands
            if demand.key in shares
        )

    def misfits(self) -> dict[str, str]:
        """Pieces that this roll cannot hold, with the reason."""
        ones = tuple(replace(demand, quantity=1) for demand in self.demands)
        if not ones:
            return {}
        found = {}
        for one in ones:
            problem = problem_on(self.material, (one,), self.roll)
            answer = solve(problem, time_limit=None, effort=0.05)
            if not fits_on(self.material, answer, problem, self.roll):
                reason = next((missing.reason for missing in answer.missing.values()), "")
                found[one.key] = reason or f"too long for {self.roll.id}"
        return found

    def tried(self, items: Sequence[_Item]) -> Answer | None:
        """An answer in which all the items lie on the roll; None when none was found."""
        if sum(item.area for item in items) > self.area * FULL:
            return None
        key = tuple(sorted(_total(items).items()))
        if key not in self._answers:
            self._answers[key] = self._solved(items, TRY_SHARE)
        return self._answers[key]

    def _solved(self, items: Sequence[_Item], share: float) -> Answer | None:
        problem = problem_on(self.material, self.demands_of(items), self.roll)
        # Once stopped, what has not begun still gets the quickest answer.
        effort = min(self.effort * share, LEAST_EFFORT) if self.stopped else self.effort * share
        answer = solve(
            problem,
            time_limit=None if self.seconds is None else self.seconds * share,
            effort=effort,
            seed=self.seed,
        )
        self.stopped = self.stopped or answer.stopped == "interrupted"
        return answer if fits_on(self.material, answer, problem, self.roll) else None

    def first(self, items: Sequence[_Item]) -> list[_Item]:
        """As many items from the beginning as the roll takes, found by halving."""
        low, high = 0, 0
        area = 0.0
        for item in items:
            area += item.area
            if area > self.area * FULL:
                break
            high += 1
        probe = high
        while low < high:
            if self.tried(items[:probe]) is not None:
                low = probe
            else:
                high = probe - 1
            # The least that does not fit is rarely far from all that the area allows.
            probe = max(low + 1, math.ceil((low + 3 * high) / 4)) if high - low > 3 else (low + high + 1) // 2
        return list(items[:low])

    def fill(self, items: Sequence[_Item], kept: list[_Item]) -> list[_Item]:
        """Some more items from further on, the first due first, where there is room for them."""
        tries = 0
        waiting = items[len(kept) :]
        alike: dict[object, list[_Item]] = {}
        for item in waiting:
            alike.setdefault(item.counts, []).append(item)
        for group in alike.values():
            room = self.area * FULL - sum(item.area for item in kept)
            most = min(len(group), int(room / group[0].area))
            while most > 0 and tries < MOST_FILLS and not self.stopped:
                tries += 1
                if self.tried([*kept, *group[:most]]) is not None:
                    kept = [*kept, *group[:most]]
                    break
                most //= 2
        return kept

    def best(self, kept: Sequence[_Item]) -> Answer | None:
        """The shortest way that is found to cut all that was chosen."""
        if not kept:
            return None
        fallback = self.tried(kept)
        final = None if self.stopped else self._solved(kept, 1.0)
        if final is None or (fallback is not None and fallback.value < final.value):
            final = fallback
        return replace(final, stopped="interrupted") if final is not None and self.stopped else final


def _total(items: Sequence[_Item]) -> Counter[str]:
    counts: Counter[str] = Counter()
    for item in items:
        for key, count in item.counts:
            counts[key] += count
    return counts


def _items(demands: Sequence[Demand], *, whole_beds: bool) -> Iterator[_Item]:
    """All pieces, the earliest due first: bed by bed, and within a bed one by one unless it stays whole."""
    for product in products(demands):
        own = [
            (demand, demand.quantity - sum(share.pieces for share in demand.orders))
            if not product.order and not product.due
            else (
                demand,
                sum(s.pieces for s in demand.orders if (s.due, s.order) == (product.due, product.order)),
            )
            for demand in demands
            if (demand.model, demand.size) == (product.model, product.size)
        ]
        beds = max(math.ceil(pieces / demand.panel.pieces) for demand, pieces in own)
        for bed in range(beds):
            counts = []
            for demand, pieces in own:
                count = min(demand.panel.pieces, pieces - bed * demand.panel.pieces)
                if count > 0:
                    counts.append((demand, count))
            if whole_beds:
                area = sum(demand.panel.length * demand.panel.width * count for demand, count in counts)
                yield _Item(product, bed, tuple((demand.key, count) for demand, count in counts), area)
                continue
            # The large ones first: small ones still find room later.
            for demand, count in sorted(counts, key=lambda pair: -pair[0].panel.area):
                area = demand.panel.length * demand.panel.width
                for _ in range(count):
                    yield _Item(product, bed, ((demand.key, 1),), area)
