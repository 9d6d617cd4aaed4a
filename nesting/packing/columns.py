"""Patterns as columns of a covering problem, and who makes them.

Engines give what knows geometry: a `Maker` for each way of cutting each stock. `covering.py` chooses
among what the makers make.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from nesting.packing.grid import Floats, Ints
from nesting.packing.search import Search

__all__ = [
    "LARGER",
    "MANY",
    "WORTH",
    "Column",
    "Cover",
    "Maker",
    "Reserved",
    "Task",
    "covered",
    "densest",
    "without_surplus",
]

MANY = 2**40
"""Stands for stock without limit."""

WORTH = 1e-7
"""Least relative saving for which a column is added."""

LARGER = 0.01
"""Share by which it costs more to leave out the largest kind than the smallest: of two plans that leave
out as many, the one with the larger pieces placed is better."""


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """A pattern: who made it, what one costs, how many copies of each kind it holds.

    `body` is whatever its maker needs to draw it. `takes` is how much of the limit on its stock one takes.
    """

    maker: Maker
    cost: float
    counts: Ints
    body: Any
    takes: int = 1

    @property
    def signature(self) -> tuple[int, float, bytes]:
        """Equal for columns that do the same."""
        return self.maker.stock, self.cost, self.counts.tobytes()


class Maker(Protocol):
    """Makes patterns for one stock in one way of cutting.

    Values and counts are by kind. Methods that take a search spend their work on it and may raise
    `Stop`.
    """

    @property
    def stock(self) -> int:
        """Index of the stock that the patterns are cut from."""

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once, within the copies that are left; None when nothing fits."""

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left; None when nothing of value fits."""

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """Patterns that are valuable for their cost when copies are free."""

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Upper bound on value over cost plus charge of all allowed patterns; None: none can be proved."""

    def trim(self, column: Column, counts: Ints) -> Column:
        """The column with only the given counts (no more than it has)."""


class Reserved:
    """The parts of a `Maker` that makes patterns only when it is asked in its own way. Proves nothing."""

    def quick(self, left: Ints) -> Column | None:
        """Nothing: other makers have patterns at once."""
        del left
        return None

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """Nothing, unless a maker knows better."""
        del values, left, search
        return None

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """Nothing: patterns of free copies are made by others."""
        del values, search
        return []

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """No proof."""
        del values, charge, search
        return None


@dataclass(frozen=True, slots=True)
class Cover:
    """A plan: columns with repeats, and copies of each kind that found no stock."""

    chosen: tuple[tuple[Column, int], ...]
    missing: Ints

    @property
    def cost(self) -> float:
        """Cost of all columns."""
        return float(sum(column.cost * repeats for column, repeats in self.chosen))


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What is to be covered, and from what.

    Parameters
    ----------
    demand
        Copies wanted of each kind.
    available
        How many there are of each stock (of a long block, how much of its length); `MANY`: no limit.
    shortfall
        Cost of leaving out one copy of each kind; None: nothing may be left out.
    """

    demand: Ints
    available: tuple[int, ...]
    shortfall: Floats | None


def covered(chosen: Sequence[tuple[Column, int]], kinds: int) -> Ints:
    """Copies of each kind that columns with repeats hold together."""
    total = np.zeros(kinds, np.int64)
    for column, repeats in chosen:
        total += column.counts * repeats
    return total


def densest(columns: Iterable[Column | None], values: Floats) -> Column | None:
    """The column with the least cost per value; None when there is none."""
    return min(
        (column for column in columns if column is not None and column.counts.any()),
        key=lambda column: column.cost / float(values @ column.counts),
        default=None,
    )


def without_surplus(
    chosen: Sequence[tuple[Column, int]], demand: Ints, areas: Floats
) -> list[tuple[Column, int]]:
    """Take off copies beyond the demand, pattern by pattern; `areas` is a natural value of each kind."""
    surplus = np.maximum(covered(chosen, demand.size) - demand, 0)
    if not surplus.any():
        return list(chosen)
    result: list[tuple[Column, int]] = []
    # The emptiest patterns first: they may vanish altogether.
    for column, repeats in sorted(chosen, key=lambda item: float(areas @ item[0].counts) / item[0].cost):
        rest = repeats
        while rest:
            off = np.minimum(column.counts, surplus)
            if not off.any():
                break
            cut = off > 0
            times = min(rest, int((surplus[cut] // off[cut]).min()))
            if (off < column.counts).any():
                result.append((column.maker.trim(column, column.counts - off), times))
            surplus = surplus - off * times
            rest -= times
        if rest:
            result.append((column, rest))
    return result
