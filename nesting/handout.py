"""Which orders the pieces of a plan belong to, handed out as they are cut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nesting.model import Demand, OrderShare

__all__ = ["EXTRA", "Handed", "Handout", "orders_text", "pile_of"]

EXTRA = "extra"
"""Pieces beyond what any order asks for."""


@dataclass(frozen=True, slots=True)
class Handed:
    """Pieces that follow each other and belong to one order line.

    Parameters
    ----------
    order
        Order number, or `EXTRA`.
    due
        ISO date; empty for extra pieces.
    first
        Which of the order line's pieces of this panel the first of them is, from 1.
    count
        How many.
    of
        How many pieces of this panel the order line needs; 0 for extra pieces.
    """

    order: str
    due: str
    first: int
    count: int
    of: int


class Handout:
    """Hands the pieces of each demand to its orders, earliest due first, as they are cut."""

    def __init__(self, demands: Iterable[Demand]) -> None:
        self._shares: dict[str, list[OrderShare]] = {
            demand.key: sorted(demand.orders, key=lambda share: (share.due, share.order))
            for demand in demands
        }
        self._given = dict.fromkeys(self._shares, 0)

    def ahead(self, key: str, count: int) -> tuple[Handed, ...]:
        """What the next `count` pieces will be for; nothing is handed out yet."""
        handed = []
        start = self._given[key]
        end = start + count
        before = 0
        for share in self._shares[key]:
            low, high = max(start, before), min(end, before + share.pieces)
            if low < high:
                handed.append(Handed(share.order, share.due, low - before + 1, high - low, share.pieces))
            before += share.pieces
        low = max(start, before)
        if low < end:
            handed.append(Handed(EXTRA, "", low - before + 1, end - low, 0))
        return tuple(handed)

    def hand(self, key: str, count: int) -> tuple[Handed, ...]:
        """Hand out the next `count` pieces."""
        handed = self.ahead(key, count)
        self._given[key] += count
        return handed

    def take(self, key: str, count: int) -> str:
        """The orders that the next `count` pieces belong to: ``"A-17 x2; A-19 x4"``."""
        return orders_text(self.hand(key, count))


def pile_of(demand: Demand) -> str:
    """The pile on which the pieces of a product gather: ``"pile Aster 90x200 CO"``."""
    return f"pile {demand.model} {demand.size} {demand.panel.code}"


def orders_text(handed: Sequence[Handed]) -> str:
    """Orders and how many pieces each gets: ``"A-17 x2; A-19 x4"``."""
    counts: dict[str, int] = {}
    for part in handed:
        counts[part.order] = counts.get(part.order, 0) + part.count
    return "; ".join(f"{order} x{count}" for order, count in counts.items())
