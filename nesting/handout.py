"""Which orders the pieces of a plan belong to, handed out as they are cut."""

from __future__ import annotations

from collections.abc import Iterable

from nesting.model import Demand

__all__ = ["EXTRA", "Handout"]

EXTRA = "extra"
"""Pieces beyond what any order asks for."""


class Handout:
    """Hands the pieces of each demand to its orders, earliest due first, as they are cut."""

    def __init__(self, demands: Iterable[Demand]) -> None:
        self.waiting = {
            demand.key: [(share.order, share.pieces) for share in sorted(demand.orders, key=lambda s: s.due)]
            for demand in demands
        }

    def take(self, key: str, count: int) -> str:
        """The orders that the next `count` pieces belong to: ``"A-17 x2; A-19 x4"``."""
        taken: dict[str, int] = {}
        queue = self.waiting[key]
        while count and queue:
            order, left = queue.pop(0)
            part = min(count, left)
            taken[order] = taken.get(order, 0) + part
            count -= part
            if left > part:
                queue.insert(0, (order, left - part))
        if count:
            taken[EXTRA] = taken.get(EXTRA, 0) + count
        return "; ".join(f"{order} x{pieces}" for order, pieces in taken.items())
