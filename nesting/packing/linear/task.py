"""What the engine for bars is asked and what it answers, and the same in bare integers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from nesting.errors import ProblemError

__all__ = ["BarPattern", "BarPlan", "Ints", "Pattern", "StockBar", "Stopped", "Task", "check", "whole_costs"]

Ints: TypeAlias = npt.NDArray[np.int64]

Stopped: TypeAlias = Literal["proved", "effort", "time"]

LARGEST_COST = 10**9
"""Largest cost of one bar in whole cost units: keeps sums and products in 64 bits."""

LONGEST = 10**8
"""Longest bar or piece in grid steps (10 km in tenths of a millimetre), for the same reason."""

LEFT_OUT = 10
"""Bars of the dearest kind that leaving out the shortest piece counts for; the longest counts twice that."""

MOST_CHOICES = 4 * 10**8
"""Most kinds of pieces times pieces in one bar, for the same reason."""


@dataclass(frozen=True, slots=True)
class StockBar:
    """A stock length: length in grid steps, cost of one, how many there are (None: no limit)."""

    length: int
    cost: float = 1.0
    available: int | None = None


@dataclass(frozen=True, slots=True)
class BarPattern:
    """One way of cutting a bar.

    Parameters
    ----------
    bar
        Index of the bar.
    counts
        How many of each piece one bar yields.
    repeats
        How many bars are cut this way.
    """

    bar: int
    counts: tuple[int, ...]
    repeats: int


@dataclass(frozen=True, slots=True)
class BarPlan:
    """What `pack_bars` found.

    Parameters
    ----------
    patterns
        The bars to cut.
    cost
        Total cost of the bars opened.
    bound
        Proven lower bound on the cost of any plan that places the same pieces.
    missing
        By index of the piece: how many are not placed, and why.
    stopped
        ``"proved"`` when the cost meets the bound, ``"time"`` when `stop` ended the search, else
        ``"effort"``: everything the engine knows has been tried.
    """

    patterns: tuple[BarPattern, ...]
    cost: float
    bound: float
    missing: Mapping[int, tuple[int, str]]
    stopped: Stopped


@dataclass(frozen=True, slots=True)
class Pattern:
    """A bar and how many of each piece one such bar yields; the integer core's own, hashable form."""

    bar: int
    counts: tuple[int, ...]

    @classmethod
    def of(cls, bar: int, counts: Ints) -> Pattern:
        """From an array of counts."""
        return cls(bar, tuple(counts.tolist()))

    @property
    def array(self) -> Ints:
        """The counts as an array."""
        return np.array(self.counts, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """The problem in bare integers, one kerf added to every piece and to every bar.

    A piece then takes its size wherever it lies: n pieces have n - 1 kerfs between them, and with the
    one beyond the last piece just fill a bar that has been made one kerf longer.

    Parameters
    ----------
    rooms, costs, limits
        Of each bar: length, cost in whole units, and number there are; where there is no limit, the
        number of pieces, for no plan needs more bars than pieces.
    sizes, demand
        Of each piece: length and quantity. Every size fits the longest bar.
    """

    rooms: Ints
    costs: Ints
    limits: Ints
    sizes: Ints
    demand: Ints

    @classmethod
    def of(
        cls, bars: Sequence[StockBar], costs: Sequence[int], lengths: Ints, demand: Ints, kerf: int
    ) -> Task:
        """Add the kerfs and divide all lengths by what they have in common."""
        rooms = np.array([bar.length for bar in bars], np.int64) + kerf
        sizes = lengths + kerf
        step = int(np.gcd.reduce(sizes[demand > 0])) or 1
        most = int(demand.sum())
        limits = np.array([most if b.available is None else min(b.available, most) for b in bars], np.int64)
        # A bar shorter than every piece might as well not be there.
        limits[rooms < sizes[demand > 0].min()] = 0
        return cls(rooms // step, np.array(costs, np.int64), limits, sizes // step, demand)

    def rest(self, demand: Ints, limits: Ints) -> Task:
        """The same bars and pieces with other quantities."""
        return replace(self, demand=demand, limits=limits)

    @property
    def shortfall_costs(self) -> Ints:
        """What it costs to leave out one of each piece: as much as `LEFT_OUT` bars, more for longer ones."""
        dear, longest = LEFT_OUT * int(self.costs.max()), int(self.sizes.max())
        return np.array([dear + dear * int(size) // longest for size in self.sizes], np.int64)


def whole_costs(costs: Sequence[float]) -> tuple[Fraction, list[int]]:
    """The largest unit that all costs are multiples of, and the costs in that unit.

    Costs are read as the decimals they are written as (12.35 is 1235 hundredths). When the unit would
    be so small that numbers overflow, costs are rounded down to a coarser one, so that a bound stays a
    bound.
    """
    exact = [Fraction(repr(float(cost))) for cost in costs]
    below = math.lcm(*(cost.denominator for cost in exact))
    unit = Fraction(math.gcd(*(int(cost * below) for cost in exact)), below)
    if max(exact) / unit > LARGEST_COST:
        unit = max(exact) / LARGEST_COST
    return unit, [math.floor(cost / unit) for cost in exact]


def check(bars: Sequence[StockBar], lengths: Sequence[int], demand: Sequence[int], kerf: int) -> None:
    """Refuse figures the integer core cannot work with.

    Raises
    ------
    ProblemError
        Naming the bar or piece by its index.
    """
    if not bars:
        raise ProblemError("There must be at least one bar.")
    if len(lengths) != len(demand):
        raise ProblemError(
            f"There must be one quantity for each of {len(lengths)} lengths, got {len(demand)}."
        )
    for what, values in (("Bar", [bar.length for bar in bars]), ("Piece", lengths)):
        for index, length in enumerate(values):
            if not 0 < length <= LONGEST:
                raise ProblemError(f"{what} {index}: length must be 1 to {LONGEST} steps, got {length!r}.")
    for index, bar in enumerate(bars):
        if not 0 < bar.cost < math.inf:
            raise ProblemError(f"Bar {index}: cost must be above 0, got {bar.cost!r}.")
        if bar.available is not None and bar.available < 0:
            raise ProblemError(f"Bar {index}: available must be 0 or more, got {bar.available!r}.")
    for index, quantity in enumerate(demand):
        if quantity < 0:
            raise ProblemError(f"Piece {index}: quantity must be 0 or more, got {quantity!r}.")
    if not 0 <= kerf <= LONGEST:
        raise ProblemError(f"kerf must be 0 to {LONGEST} steps, got {kerf!r}.")
    if lengths and len(lengths) * (max(bar.length for bar in bars) // min(lengths)) > MOST_CHOICES:
        raise ProblemError(f"{len(lengths)} pieces are too many where the shortest is {min(lengths)} steps.")
