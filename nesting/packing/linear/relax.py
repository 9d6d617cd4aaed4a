"""The linear relaxation over all patterns, and the lower bound it proves.

Column generation after Gilmore and Gomory (1961), "A linear programming approach to the cutting-stock
problem", Operations Research 9(6): 849-859, with several bars of limited number as in their section on
multiple stock lengths. Patterns never hold more of a piece than is wanted, which makes the bound
stronger than the original's.

The solver works in floating point, the bound does not: piece values are rounded down to integers, the
best fill of every bar under them is found exactly, and the dual bound follows in fractions (Farley
1990, "A note on bounding a class of linear programming problems", Operations Research 38(5): 922-923,
here with a Lagrangian term for bars of limited number).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.task import Ints, Pattern, Task

__all__ = ["Relaxation", "material_bound", "relax"]

VALUE_STEPS = 10**9
"""Integer value of a fill worth the dearest bar; sets how finely piece values are rounded."""

PATTERNS_A_ROUND = 20
"""Patterns added per bar and pricing round: the search for them costs more than solving with them."""

LP_NOISE = 1e-8
"""Float noise of the value of a linear program, as a share of it."""

ROUNDS = 5_000
"""Most pricing rounds: far beyond any real run, a guard against cycling."""


@dataclass(frozen=True, slots=True)
class Relaxation:
    """What the relaxation tells.

    Parameters
    ----------
    bound
        Proven lower bound on the cost of a plan, in whole cost units.
    patterns, shares
        All patterns known, and how often the relaxation uses each.
    values
        Integer value of each piece.
    """

    bound: int
    patterns: tuple[Pattern, ...]
    shares: tuple[float, ...]
    values: Ints


class _Master:
    """The linear program over the patterns known so far, with a dear way out for every piece."""

    def __init__(self, task: Task, patterns: Iterable[Pattern]) -> None:
        self.task = task
        self.scale = float(task.costs.max())
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.solver.Objective().SetMinimization()
        infinity = self.solver.infinity()
        self.pieces = [self.solver.Constraint(float(wanted), infinity) for wanted in task.demand]
        # Where there are as many bars as pieces the limit never matters.
        limited = [k for k, limit in enumerate(task.limits) if limit < task.demand.sum()]
        self.bars = {k: self.solver.Constraint(-infinity, float(task.limits[k])) for k in limited}
        for row, cost in zip(self.pieces, task.shortfall_costs, strict=True):
            self._column(float(cost), {row: 1})
        self.patterns: list[Pattern] = []
        self.columns: list[pywraplp.Variable] = []
        self.known: set[Pattern] = set()
        for pattern in patterns:
            self.add(pattern)

    def _column(self, cost: float, entries: dict[pywraplp.Constraint, int]) -> pywraplp.Variable:
        column = self.solver.NumVar(0.0, self.solver.infinity(), "")
        self.solver.Objective().SetCoefficient(column, cost / self.scale)
        for row, count in entries.items():
            row.SetCoefficient(column, float(count))
        return column

    def add(self, pattern: Pattern) -> bool:
        """Add a pattern; tell whether it was new."""
        if pattern in self.known:
            return False
        entries = {self.pieces[i]: count for i, count in enumerate(pattern.counts) if count}
        if pattern.bar in self.bars:
            entries[self.bars[pattern.bar]] = 1
        self.known.add(pattern)
        self.patterns.append(pattern)
        self.columns.append(self._column(float(self.task.costs[pattern.bar]), entries))
        return True

    def solve(self) -> bool:
        return bool(self.solver.Solve() == pywraplp.Solver.OPTIMAL)

    def duals(self) -> tuple[list[float], list[float]]:
        """Value of a piece (0 or more) and of one more bar (0 or less), as shares of the dearest bar."""
        pieces = [max(0.0, row.dual_value()) for row in self.pieces]
        bars = [0.0] * self.task.rooms.size
        for k, row in self.bars.items():
            bars[k] = min(0.0, row.dual_value())
        return pieces, bars


def relax(
    task: Task, patterns: Sequence[Pattern], stop: Callable[[], bool], enough: int | None = None
) -> Relaxation:
    """Solve the relaxation by column generation.

    Parameters
    ----------
    task
        Bars and pieces.
    patterns
        Patterns to start from.
    stop
        Ends the search early; the bound proven so far stands.
    enough
        A bound at which the search may end: no plan is wanted that costs more.

    Notes
    -----
    It also ends once rounding the bound up gives what rounding the value up would.
    """
    master = _Master(task, patterns)
    bound = material_bound(task)
    values = task.sizes.copy()
    shares = [0.0] * len(master.columns)
    for _ in range(ROUNDS):
        if not master.solve():
            break
        value = master.solver.Objective().Value() * master.scale
        shares = [column.solution_value() for column in master.columns]
        pieces, bars = master.duals()
        values = np.array([math.floor(share * VALUE_STEPS) for share in pieces], np.int64)
        uppers, grew = [], False
        for k, room in enumerate(task.rooms):
            if task.limits[k] == 0:
                uppers.append(0)
                continue
            price = math.floor((int(task.costs[k]) / master.scale - bars[k]) * VALUE_STEPS)
            found = best_fills(
                int(room), task.sizes, values, task.demand, floor=price, fills=PATTERNS_A_ROUND
            )
            uppers.append(found.upper)
            for counts in found.counts:
                grew |= master.add(Pattern.of(k, counts))
        bound = max(bound, _dual_bound(task, values, uppers))
        if not grew or bound >= value - LP_NOISE * max(1.0, value) or stop():
            break
        if enough is not None and bound >= enough:
            break
    shares += [0.0] * (len(master.patterns) - len(shares))
    return Relaxation(bound, tuple(master.patterns), tuple(shares), values)


def _dual_bound(task: Task, values: Ints, uppers: Sequence[int]) -> int:
    """Lower bound on the cost of a plan, from any piece values and the most that each bar can hold.

    Let f be a share from 0 to 1 of the values. All pieces together are worth f * (values . demand), and
    a bar k holds at most f * uppers[k]; so a plan costs at least f * (values . demand) less, for every
    bar there is, what it may hold beyond its own cost. The best f makes one bar come out even. No value
    may exceed what leaving out the piece costs, so plans with shortfall are bounded too.
    """
    step = Fraction(int(task.costs.max()), VALUE_STEPS)
    most = [math.floor(int(cost) / step) for cost in task.shortfall_costs]
    worth = sum(min(int(v), top) * int(d) for v, top, d in zip(values, most, task.demand, strict=True))
    bars = [
        (int(cost), upper * step, int(limit))
        for cost, upper, limit in zip(task.costs, uppers, task.limits, strict=True)
        if limit > 0 and upper > 0
    ]

    def at(share: Fraction) -> Fraction:
        over = sum(limit * max(Fraction(0), share * upper - cost) for cost, upper, limit in bars)
        return share * worth * step - over

    # The bound is concave in the share: walk up the kinks while it rises.
    best = Fraction(0)
    for share in sorted({min(Fraction(1), cost / upper) for cost, upper, _ in bars} | {Fraction(1)}):
        found = at(share)
        if found < best:
            break
        best = found
    return math.ceil(best)


def material_bound(task: Task) -> int:
    """Cost of as much material as all pieces are long, at the lowest price per length there is.

    Leaving pieces out counts as one way to get their length.
    """
    need = sum(int(s) * int(d) for s, d in zip(task.sizes, task.demand, strict=True))
    bars, left_out = task.limits > 0, task.demand > 0
    offers = [
        *zip(task.costs[bars].tolist(), task.rooms[bars].tolist(), strict=True),
        *zip(task.shortfall_costs[left_out].tolist(), task.sizes[left_out].tolist(), strict=True),
    ]
    return math.ceil(need * min(Fraction(cost, length) for cost, length in offers))
