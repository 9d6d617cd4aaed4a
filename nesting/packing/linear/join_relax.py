"""The linear relaxation where pieces may be joined, and the lower bound it proves.

A copy is whole, or it is poured: as long as all its parts, seams and kerfs included, and spread over bars
at will. A bar holds whole pieces and, if what they leave is no shorter than the shortest part, any amount
poured that fits, in one part. Rows of the linear program are counted in grid steps of poured length, so
that a whole copy is worth what it would take if it were poured, though it takes less. A second row for
each joinable piece keeps the poured parts few: as many as its joins allow, on an average.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from nesting.packing.linear.joined import JoinTask
from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.relax import Master, dual_of
from nesting.packing.linear.task import Ints, Pattern, Task, whole_costs
from nesting.packing.search import Search

__all__ = ["JoinRelaxation", "relax_joined"]

LARGEST = 10**17
"""Longest bar times the integer value of a fill worth the dearest bar: keeps products in 64 bits."""

DEAREST = 16
"""Most that a piece is worth, in bars of the dearest kind, for the same reason."""

FILLS = 5
"""Patterns added per bar, kind of rest and pricing round."""

ROUNDS = 2_000
"""Most pricing rounds: a guard against cycling."""

LP_NOISE = 1e-8
"""Float noise of the value of a linear program, as a share of it."""

ROUND_STEPS, PIECE_STEPS = 20_000, 1_500
"""Elementary steps reckoned for one round, and for each piece, bar and kind of rest in it."""


@dataclass(frozen=True, slots=True)
class JoinRelaxation:
    """What the relaxation tells.

    Parameters
    ----------
    bound
        Proven lower bound on the cost of a plan that places all pieces.
    bars
        Index of the bar, whole pieces on it, and how often it is used so.
    """

    bound: float
    bars: tuple[tuple[int, tuple[int, ...], float], ...]


def relax_joined(task: JoinTask, search: Search[Any]) -> JoinRelaxation:
    """Solve the relaxation by column generation, as `relax` does without joins.

    Parameters
    ----------
    task
        Bars and pieces; every piece can be made.
    search
        Pays for the work and ends it early when used up; the bound proven so far stands.
    """
    unit, costs = whole_costs([bar.cost for bar in task.bars])
    wants, kerf = task.wants, task.kerf
    poured = np.array([want.poured(task.longest, kerf) for want in wants], np.int64)
    demand = np.array([want.quantity for want in wants], np.int64)
    sizes = np.array([want.length + kerf for want in wants], np.int64)
    rooms = np.array([bar.length + kerf for bar in task.bars], np.int64)
    steps = LARGEST // int(rooms.max())
    most = int((demand * (1 + np.array([want.joins for want in wants]))).sum())
    limits = np.array([most if b.available is None else min(b.available, most) for b in task.bars], np.int64)
    kinds = [i for i, want in enumerate(wants) if want.joins]
    none = np.zeros(len(kinds), np.int64)
    rows = Task(
        rooms,
        np.array(costs, np.int64),
        limits,
        np.append(poured, none + 1),
        np.append(demand * poured, none),
    )
    highest = DEAREST * steps // np.append(poured, poured[kinds])
    master = Master(rows, [])
    wholes: dict[Pattern, tuple[int, ...]] = {}
    shares: list[float] = []
    bound = 0
    for _ in range(ROUNDS):
        if not master.solve():
            break
        search.spend(ROUND_STEPS + PIECE_STEPS * len(wants) * rooms.size * (1 + len(kinds)))
        value = master.solver.Objective().Value() * master.scale
        prices, charges = master.duals()
        shares = [column.solution_value() for column in master.columns]
        rates = np.array([math.floor(price * steps) for price in prices], np.int64)
        rates = np.minimum(rates, highest)
        uppers, grew = [], False
        for k, room in enumerate(rooms.tolist()):
            floor = math.floor((costs[k] / master.scale - charges[k]) * steps)
            upper = floor if limits[k] else 0
            for place, kind in enumerate((None, *kinds) if limits[k] else (), start=len(wants) - 1):
                few = 0 if kind is None else int(rates[place])
                found, counts = _price(task, room, kind, few, rates, (sizes, poured, demand), floor)
                upper = max(upper, found)
                for whole in counts:
                    held = np.append(whole * poured, none)
                    if kind is not None:
                        rest = room - int(whole @ sizes)
                        held[kind] += rest
                        held[place] = rest * (wants[kind].joins + 1) - poured[kind]
                    pattern = Pattern.of(k, held)
                    grew |= master.add(pattern)
                    wholes[pattern] = tuple(whole.tolist())
            uppers.append(upper)
        bound = max(bound, math.ceil(dual_of(rows, rates, uppers, steps).bound))
        if not grew or bound >= value - LP_NOISE * max(1.0, value) or search.used_up:
            break
    known = zip(master.patterns, shares, strict=False)
    return JoinRelaxation(
        float(bound * unit), tuple((p.bar, wholes[p], share) for p, share in known if share > 0)
    )


def _price(
    task: JoinTask,
    room: int,
    kind: int | None,
    few: int,
    rates: Ints,
    arrays: tuple[Ints, Ints, Ints],
    floor: int,
) -> tuple[int, list[Ints]]:
    """Upper value of fills whose rest is poured of one kind (None: not at all), and the best of them.

    `few` is the dual price of the row that keeps poured parts few.
    """
    sizes, poured, demand = arrays
    worth, rest, free, base = rates[: sizes.size] * poured, 0, room, 0
    if kind is not None:
        want = task.wants[kind]
        rest = int(rates[kind]) + few * (want.joins + 1)
        base = rest * room - few * int(poured[kind])
        free = room - min(want.least, want.length) - task.kerf
        worth = worth - rest * sizes
    if free < 0:
        return 0, []
    found = best_fills(free, sizes, np.maximum(worth, 0), demand, floor=max(0, floor - base), fills=FILLS)
    counts = list(found.counts)
    if base > floor:
        counts.append(np.zeros_like(sizes))
    return base + found.upper, counts
