"""Lower bounds: values that no plan can beat, whatever its layout.

All of them hold with turning and without the guillotine rule, in whole grid steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing import kernels
from nesting.packing.grid import Ints

__all__ = ["area_bound", "bar_bound", "longest_bound", "rounded_cost", "row_bound", "stock_bound"]

FINEST = 40_000
"""Most grid steps across the roll for which the bar relaxation is solved."""

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


def bar_bound(start: Ints, dx: Ints, dy: Ints, demand: Ints, width: int, gap: int) -> int:
    """Length by the bar relaxation: pieces may be sawn across into slices of any thickness.

    Every cross-section of a marker is a set of pieces side by side, so the marker is at least as long
    as the cheapest mix of cross-sections that shows each piece for its whole length. Solved by column
    generation with a knapsack over the width; Farley's bound makes every round a proof, converged or
    not. The relaxation is that of Scheithauer (1999), "LP-based bounds for the container and
    multi-container loading problem", ITOR 6(2): 199-213, in two dimensions.
    """
    usable = dy <= width
    sizes = dy + gap
    step = int(np.gcd.reduce(np.concatenate([sizes[usable], [0]]))) or 1
    capacity = (width + gap) // step
    if capacity > FINEST:
        return 0
    owner = np.repeat(np.arange(demand.size), np.diff(start))
    boxes = np.flatnonzero(usable & (demand[owner] > 0))
    sizes = sizes[boxes] // step
    copies = demand[owner[boxes]]

    # min sum x_p   s.t.  sum_p a_bp x_p >= dx_b y_b for every box b,  sum_b y_b >= demand for every kind
    solver = pywraplp.Solver.CreateSolver("GLOP")
    rows = [solver.Constraint(0.0, solver.infinity()) for _ in boxes]
    kinds = {int(k): solver.Constraint(float(demand[k]), solver.infinity()) for k in np.unique(owner[boxes])}
    solver.Objective().SetMinimization()
    for row, box in zip(rows, boxes, strict=True):
        turned = solver.NumVar(0.0, solver.infinity(), "")
        row.SetCoefficient(turned, -float(dx[box]))
        kinds[int(owner[box])].SetCoefficient(turned, 1.0)

    def add(counts: Ints) -> None:
        use = solver.NumVar(0.0, solver.infinity(), "")
        solver.Objective().SetCoefficient(use, 1.0)
        for row, count in zip(rows, counts, strict=True):
            if count:
                row.SetCoefficient(use, float(count))

    for at, size in enumerate(sizes):
        alone = np.zeros(boxes.size, np.int64)
        alone[at] = min(int(copies[at]), capacity // int(size))
        add(alone)
    best = np.zeros(capacity + 1)
    take = np.zeros((boxes.size, capacity + 1), np.int32)
    bound = 0.0
    for _ in range(ROUNDS):
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            break
        values = np.maximum([row.dual_value() for row in rows], 0.0)
        kernels.knapsack(sizes, values, np.full(boxes.size, capacity, np.int64), capacity, best, take)
        worth = float(best[capacity])
        # Scaled so that no cross-section is worth more than its length, the duals are feasible; the
        # least value of a kind over its turns is then its price.
        scaled = values / max(1.0, worth)
        bound = max(
            bound,
            sum(
                float(demand[k]) * min(float(scaled[b] * dx[boxes[b]]) for b in np.flatnonzero(owner[boxes] == k))
                for k in kinds
            ),
        )
        if worth <= 1.0 + 1e-9:
            break
        counts = np.zeros(boxes.size, np.int64)
        at = capacity
        for b in range(boxes.size - 1, -1, -1):
            counts[b] = take[b, at]
            at -= int(counts[b] * sizes[b])
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


def rounded_cost(costs: Sequence[float]) -> Callable[[float], float]:
    """Lifts a bound on cost to the next possible one: whole purchases, where all cost the same."""
    if len(set(costs)) > 1:
        return lambda bound: bound
    return lambda bound: math.ceil(bound / costs[0] - 1e-7) * costs[0]
