"""Lower bounds: values that no plan can beat, whatever its layout.

All of them hold with turning and without the guillotine rule, in whole grid steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing import kernels
from nesting.packing.grid import Ints
from nesting.packing.profiles import Profile
from nesting.packing.raster import Floats

__all__ = ["area_bound", "bar_bound", "longest_bound", "rounded_cost", "row_bound", "sheet_count_bound", "stock_bound"]

FINEST = 40_000
"""Most grid steps across the roll for which the bar relaxation is solved."""

MOST_PARTS = 12
"""Largest k of the functions u^(k)."""

MOST_ENDS = 40
"""Most thresholds of the other dual feasible functions."""

ROUNDS = 300
"""Most pricing rounds of the bar relaxation."""


def area_bound(area: Ints, demand: Ints, width: int) -> int:
    """Length of roll that holds the area of all pieces."""
    return -(-int((area * demand).sum()) // width)


def longest_bound(start: Ints, dx: Ints, dy: Ints, width: int) -> int:
    """Length of the longest piece, each in its shortest turn that fits the width."""
    longest = 0
    for first, last in zip(start[:-1], start[1:], strict=True):
        usable = dy[first:last] <= width
        if usable.any():
            longest = max(longest, int(dx[first:last][usable].min()))
    return longest


def row_bound(start: Ints, dx: Ints, dy: Ints, demand: Ints, width: int) -> int:
    """Length of the row of rectangles of which no two fit side by side.

    Two rectangles that take more than half the width in every turn never lie side by side, so their
    lengths add up (Martello, Monaci and Vigo 2003, INFORMS Journal on Computing 15(3): 310-319).
    """
    row = 0
    for kind, (first, last) in enumerate(zip(start[:-1], start[1:], strict=True)):
        usable = dy[first:last] <= width
        if usable.any() and int(dy[first:last][usable].min()) * 2 > width:
            row += int(dx[first:last][usable].min()) * int(demand[kind])
    return row


def bar_bound(profiles: Sequence[Profile], width: int, gap: int) -> int:
    """Length by the bar relaxation: pieces may be sawn across into slices of any thickness.

    Every cross-section of a marker shows pieces side by side, so the marker is at least as long as the
    cheapest mix of cross-sections that shows each piece for its whole length. Solved by column
    generation with a knapsack over the width; Farley's bound makes every round a proof, converged or
    not. The relaxation is that of Scheithauer (1999), "LP-based bounds for the container and
    multi-container loading problem", ITOR 6(2): 199-213, in two dimensions.

    Parameters
    ----------
    profiles
        The pieces as bars.
    width, gap
        Room across, and the distance kept between pieces, in grid steps.
    """
    profiles = [
        replace(profile, turns=tuple(bars for bars in profile.turns if all(wide <= width for _, wide in bars)))
        for profile in profiles
    ]
    profiles = [profile for profile in profiles if profile.turns]
    widths = sorted({wide for profile in profiles for bars in profile.turns for _, wide in bars})
    if not widths:
        return 0
    sizes = np.array(widths, np.int64) + gap
    step = int(np.gcd.reduce(sizes))
    capacity = (width + gap) // step
    if capacity > FINEST:
        return 0
    sizes //= step
    row_of = {wide: row for row, wide in enumerate(widths)}
    # lengths[i][j][r]: how long a piece of profile i in turn j shows bars of width r.
    lengths = [np.zeros((len(profile.turns), len(widths))) for profile in profiles]
    for shown, profile in zip(lengths, profiles, strict=True):
        for turn, bars in enumerate(profile.turns):
            for length, wide in bars:
                shown[turn, row_of[wide]] += length

    # min sum x_p   s.t.  sum_p a_rp x_p >= sum_ij lengths_ijr y_ij for every width r,
    #                     sum_j y_ij >= quantity_i for every profile i
    solver = pywraplp.Solver.CreateSolver("GLOP")
    rows = [solver.Constraint(0.0, solver.infinity()) for _ in widths]
    solver.Objective().SetMinimization()
    for shown, profile in zip(lengths, profiles, strict=True):
        wanted = solver.Constraint(float(profile.quantity), solver.infinity())
        for bars_shown in shown:
            turned = solver.NumVar(0.0, solver.infinity(), "")
            wanted.SetCoefficient(turned, 1.0)
            for row in np.flatnonzero(bars_shown):
                rows[row].SetCoefficient(turned, -float(bars_shown[row]))

    def add(counts: Ints) -> None:
        use = solver.NumVar(0.0, solver.infinity(), "")
        solver.Objective().SetCoefficient(use, 1.0)
        for row in np.flatnonzero(counts):
            rows[row].SetCoefficient(use, float(counts[row]))

    for row, size in enumerate(sizes):
        alone = np.zeros(sizes.size, np.int64)
        alone[row] = capacity // int(size)
        add(alone)
    best = np.zeros(capacity + 1)
    take = np.zeros((sizes.size, capacity + 1), np.int32)
    many = np.full(sizes.size, capacity, np.int64)
    bound = 0.0
    for _ in range(ROUNDS):
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            break
        values = np.maximum([row.dual_value() for row in rows], 0.0)
        kernels.knapsack(sizes, values, many, capacity, best, take)
        worth = float(best[capacity])
        # Scaled so that no cross-section is worth more than its length, the duals are feasible; a
        # piece is then worth its least value over its turns.
        scaled = values / max(1.0, worth)
        total = sum(
            profile.quantity * float((shown @ scaled).min())
            for shown, profile in zip(lengths, profiles, strict=True)
        )
        bound = max(bound, total)
        if worth <= 1.0 + 1e-9:
            break
        counts = np.zeros(sizes.size, np.int64)
        at = capacity
        for row in range(sizes.size - 1, -1, -1):
            counts[row] = take[row, at]
            at -= int(counts[row] * sizes[row])
        add(counts)
    return math.ceil(bound * (1 - 1e-9) - 1e-6)


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
    for kind, (first, last) in enumerate(pairwise(start.tolist())):
        boxes = [box for box in range(first, last) if usable[box]]
        if demand[kind] and boxes:
            areas = np.stack([np.outer(along[:, box], across[:, box]) for box in boxes])
            total += float(demand[kind]) * areas.min(axis=0)
    return math.ceil(float(total.max()) * (1 - 1e-12) - 1e-6)


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
    """Lifts a bound on cost to the next possible one: whole purchases, where all cost the same."""
    if len(set(costs)) > 1:
        return lambda bound: bound
    return lambda bound: math.ceil(bound / costs[0] - 1e-7) * costs[0]
