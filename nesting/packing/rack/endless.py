"""Cutting rolls without end: sections of the roll engine at the rate of the roll."""

from __future__ import annotations

from typing import Any

from nesting.packing.columns import Column
from nesting.packing.grid import Floats, Ints
from nesting.packing.rack.shared import Memory
from nesting.packing.rack.stocks import Stock
from nesting.packing.roll.sections import SectionMaker
from nesting.packing.search import Search

__all__ = ["EndlessMaker"]


class EndlessMaker:
    """Sections of a roll without end; a column costs its length and a gap, at the rate of the roll."""

    def __init__(self, stock: Stock, rate: float, sections: SectionMaker) -> None:
        self.stock = stock.index
        self.rate = rate
        self._sections = sections
        self._memory = Memory()

    def _column(self, column: Column | None) -> Column | None:
        if column is None:
            return None
        return Column(self, column.cost * self.rate, column.counts, column.body)

    def quick(self, left: Ints) -> Column | None:
        """A fair section at once."""
        return self._column(self._sections.quick(left))

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good section within the copies that are left."""
        return self._memory.column(
            values, left, lambda: self._column(self._sections.fill(values, left, search))
        )

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable sections for their cost."""
        made = [self._column(column) for column in self._sections.price(values / self.rate, search)]
        return [column for column in made if column is not None]

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value per cost."""
        return self._sections.ratio(values / self.rate, charge, search)

    def trim(self, column: Column, counts: Ints) -> Column:
        """The section with only the given counts, closed up."""
        inner = Column(self._sections, column.cost / self.rate, column.counts, column.body)
        trimmed = self._sections.trim(inner, counts)
        return Column(self, trimmed.cost * self.rate, counts, trimmed.body)
