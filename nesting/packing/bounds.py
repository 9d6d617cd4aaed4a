"""Lower bounds: values that no plan can beat, whatever its layout.

All of them hold with turning and without the guillotine rule, in whole grid steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise, product
from operator import mul
from typing import Any

import numpy as np

from nesting.packing.bars import NOISE, BarRoom, bar_cost_bound
from nesting.packing.grid import Floats, Ints
from nesting.packing.profiles import Profile
from nesting.packing.search import Search

__all__ = [
    "area_bound",
    "bar_bound",
    "longest_bound",
    "rounded_cost",
    "row_bound",
    "sheet_count_bound",
    "stock_bound",
]

MOST_PARTS = 12
"""Largest k of the functions u^(k)."""

MOST_ENDS = 40
"""Most thresholds of the other dual feasible functions."""

MOST_SUMS = 20_000
"""Most sums of purchases that are looked at to round a bound."""

MOST_TURNED = 1_000
"""Most kinds with several turns that the bound of dual feasible functions counts."""


def area_bound(area: Ints, demand: Ints, width: int) -> int:
    """Length of roll that holds the area of all pieces."""
    # In Python's integers: a million large pieces would be too many square steps for 64 bits.
    total: int = sum(map(mul, area.tolist(), demand.tolist()))
    return -(-total // width)


def longest_bound(start: Ints, dx: Ints, dy: Ints, width: int) -> int:
    """Length of the longest piece, each in its shortest turn that fits the width."""
    shortest, _ = _least(start, dx, dy, width)
    return int(shortest.max(initial=0))


def row_bound(start: Ints, dx: Ints, dy: Ints, demand: Ints, width: int) -> int:
    """Length of the row of rectangles of which no two fit side by side.

    Two rectangles that take more than half the width in every turn never lie side by side, so their
    lengths add up (Martello, Monaci and Vigo 2003, INFORMS Journal on Computing 15(3): 310-319).
    """
    shortest, narrowest = _least(start, dx, dy, width)
    alone = 2 * narrowest > width
    return int(sum(map(mul, shortest[alone].tolist(), demand[alone].tolist())))


def _least(start: Ints, dx: Ints, dy: Ints, width: int) -> tuple[Ints, Ints]:
    """Least length and least width of each kind over the turns that fit `width`; 0 for a kind without."""
    usable = dy <= width
    none = np.iinfo(np.int64).max
    least = [np.minimum.reduceat(np.where(usable, sizes, none), start[:-1]) for sizes in (dx, dy)]
    shortest, narrowest = (np.where(sizes < none, sizes, 0) for sizes in least)
    return shortest, narrowest


def bar_bound(profiles: Sequence[Profile], width: int, gap: int, search: Search[Any]) -> int:
    """Length of one roll by the bar relaxation.

    Parameters
    ----------
    profiles
        The pieces as bars.
    width, gap
        Room across, and the distance kept between pieces, in grid steps.
    search
        Pays for the work; when its budget is used up the best bound so far stands.

    Returns
    -------
    int
        In grid steps; 0 when the problem is too large for the relaxation.
    """
    bound = bar_cost_bound(profiles, [BarRoom(width, 1.0)], gap, search)
    return math.ceil(bound * (1 - NOISE) - 1e-6)


def stock_bound(
    total: float, rooms: Sequence[float], costs: Sequence[float], available: Sequence[int | None]
) -> float:
    """Least cost of stock whose room adds up to `total`, in whole pieces where one size is on offer.

    With several sizes the cheapest room is bought first, in fractions (a continuous knapsack), which
    no whole purchase can undercut.
    """
    if len(rooms) == 1:
        return math.ceil(total / rooms[0] - 1e-9) * costs[0]
    cost = 0.0
    for room, price, limit in sorted(
        zip(rooms, costs, available, strict=True), key=lambda stock: stock[1] / stock[0]
    ):
        bought = total / room if limit is None else min(float(limit), total / room)
        cost += bought * price
        total -= bought * room
        if total <= 0:
            break
    return cost


def sheet_count_bound(start: Ints, dx: Ints, dy: Ints, demand: Ints, length: int, width: int) -> int:
    """Number of sheets of at most `length` by `width` that rectangles need, by dual feasible functions.

    Sizes are distorted so that whatever fits side by side still fits; the distorted areas then add up
    to a bound, the best over all pairs of functions along and across (Fekete and Schepers 2004,
    "A general framework for bounds for higher-dimensional orthogonal packing problems", Mathematical
    Methods of Operations Research 60: 311-329). A piece counts with its least distorted area over its
    turns, which keeps the bound true with turning.

    Parameters
    ----------
    start, dx, dy, demand
        Boxes of each kind, the cut added to them.
    length, width
        The sheet, one cut added to it.
    """
    along = _distorted(dx, length)
    across = _distorted(dy, width)
    usable = (dx <= length) & (dy <= width)
    total = np.zeros((along.shape[0], across.shape[0]))
    turns = [first + np.flatnonzero(usable[first:last]) for first, last in pairwise(start.tolist())]
    single = np.array([kind for kind, boxes in enumerate(turns) if boxes.size == 1], np.int64)
    if single.size:
        only = np.concatenate([turns[kind] for kind in single])
        total += (along[:, only] * demand[single]) @ across[:, only].T
    turned = [kind for kind, boxes in enumerate(turns) if boxes.size > 1 and demand[kind]]
    for kind in turned[:MOST_TURNED]:
        areas = along[:, turns[kind]].T[:, :, None] * across[:, turns[kind]].T[:, None, :]
        total += float(demand[kind]) * areas.min(axis=0)
    return math.ceil(float(total.max()) * (1 - NOISE) - 1e-6)


def _distorted(sizes: Ints, room: int) -> Floats:
    """Sizes as shares of the room under many dual feasible functions, a row each.

    The functions u^(k), U^(e) and phi^(e) of Fekete and Schepers (2001), "New classes of fast lower
    bounds for bin packing problems", Mathematical Programming 91: 11-31.
    """
    shares = sizes / room
    rows = [shares]
    for k in range(1, MOST_PARTS):
        parts = (k + 1) * sizes
        rows.append(np.where(parts % room == 0, shares, (parts // room) / k))
    ends = np.unique(np.concatenate([sizes, room - sizes]))
    ends = ends[(ends > 0) & (2 * ends <= room)]
    if ends.size > MOST_ENDS:
        ends = ends[np.linspace(0, ends.size - 1, MOST_ENDS).astype(np.int64)]
    for end in ends.tolist():
        rows.append(np.where(sizes > room - end, 1.0, np.where(sizes < end, 0.0, shares)))
        parts = room // end
        large = 1.0 - ((room - sizes) // end) / parts
        rows.append(np.where(2 * sizes > room, large, np.where(sizes < end, 0.0, 1.0 / parts)))
    return np.array(rows)


def rounded_cost(costs: Sequence[float]) -> Callable[[float], float]:
    """Lifts a bound on cost to the next sum that whole purchases can make.

    With many sizes or many purchases the sums lie so close that the bound stays as it is.
    """
    prices = sorted(set(costs), reverse=True)

    def rounded(bound: float) -> float:
        if bound <= 0 or math.prod(bound / price + 1 for price in prices[:-1]) > MOST_SUMS:
            return bound
        return min(_sums_from(bound, prices))

    return rounded


def _sums_from(bound: float, prices: Sequence[float]) -> Iterator[float]:
    """Sums of whole purchases that reach the bound, the least among them."""
    least = prices[-1]
    for bought in product(*(range(math.ceil(bound / price) + 1) for price in prices[:-1])):
        paid = math.fsum(map(mul, bought, prices))
        yield paid + max(0, math.ceil((bound - paid) / least - 1e-7)) * least
