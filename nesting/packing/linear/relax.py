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
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.task import Ints, Pattern, Task
from nesting.packing.search import Search

__all__ = ["Dual", "Master", "Relaxation", "dual_of", "material_bound", "relax"]

VALUE_STEPS = 10**9
"""Integer value of a fill worth the dearest bar; sets how finely piece values are rounded."""

PATTERNS_A_ROUND = 20
"""Patterns added per bar and pricing round: the search for them costs more than solving with them."""

LP_NOISE = 1e-8
"""Float noise of the value of a linear program, as a share of it."""

ROUNDS = 5_000
"""Most pricing rounds: far beyond any real run, a guard against cycling."""

ROUND_STEPS, PIECE_STEPS = 20_000, 1_500
"""Elementary steps reckoned for one round, and for each piece and bar in it."""


@dataclass(frozen=True, slots=True, eq=False)
class Dual:
    """Prices of pieces and bars, and the bound they prove, in exact fractions.

    With a share f of the values, a bar is charged f times what the most valuable fill of it is worth, or
    its cost where that is more. The cost of a plan is the bound, and beyond it for every bar the charge
    less f times the value of what it yields (or more), and for every piece left out its cost less f
    times its value.

    Parameters
    ----------
    bound
        Lower bound on the cost of a plan, in cost units.
    values
        Integer value of each piece, no more than leaving it out costs.
    worth
        Cost units in one of value: f included.
    charges
        Of each bar, in cost units.
    """

    bound: Fraction
    values: Ints
    worth: Fraction
    charges: tuple[Fraction, ...]

    def least(self, target: int) -> list[int]:
        """Least value of a pattern of each bar that a plan of cost `target` or less can use."""
        gap = target - self.bound
        if not self.worth:
            return [0] * len(self.charges)
        return [max(0, math.ceil((charge - gap) / self.worth)) for charge in self.charges]

    def may_be_short(self, task: Task, target: int) -> Ints:
        """Pieces that a plan of cost `target` or less can leave out."""
        gap = target - self.bound
        pairs = zip(task.shortfall_costs.tolist(), self.values.tolist(), strict=True)
        return np.flatnonzero([cost - self.worth * value <= gap for cost, value in pairs])


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
        Integer value of each piece, at the end.
    dual
        The prices that prove most.
    """

    bound: int
    patterns: tuple[Pattern, ...]
    shares: tuple[float, ...]
    values: Ints
    dual: Dual


class Master:
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
    task: Task,
    patterns: Sequence[Pattern],
    search: Search[Any],
    *,
    enough: int | None = None,
    converge: bool = False,
) -> Relaxation:
    """Solve the relaxation by column generation.

    Parameters
    ----------
    task
        Bars and pieces.
    patterns
        Patterns to start from.
    search
        Pays for the work, and ends it early when used up; the bound proven so far stands.
    enough
        A bound at which the work may end: no plan is wanted that costs more.
    converge
        Whether to go on when rounding the bound up gives what rounding the value up would. The prices
        then prove as much as any can.
    """
    master = Master(task, patterns)
    bound = material_bound(task)
    values = task.sizes.copy()
    dual = Dual(Fraction(0), np.zeros_like(values), Fraction(0), tuple(Fraction(int(c)) for c in task.costs))
    shares = [0.0] * len(master.columns)
    open_bars = int((task.limits > 0).sum())
    for _ in range(ROUNDS):
        if not master.solve():
            break
        search.spend(ROUND_STEPS + PIECE_STEPS * task.sizes.size * open_bars)
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
        dual = max(dual, dual_of(task, values, uppers), key=lambda dual: dual.bound)
        bound = max(bound, math.ceil(dual.bound))
        proven = dual.bound if converge else bound
        if not grew or proven >= value - LP_NOISE * max(1.0, value) or search.used_up:
            break
        if enough is not None and bound >= enough:
            break
    shares += [0.0] * (len(master.patterns) - len(shares))
    return Relaxation(bound, tuple(master.patterns), tuple(shares), values, dual)


def dual_of(task: Task, values: Ints, uppers: Sequence[int], steps: int = VALUE_STEPS) -> Dual:
    """The share of given piece values that proves most, given the most that each bar can hold.

    `steps` is the integer value of a fill worth the dearest bar.

    Let f be a share from 0 to 1 of the values. All pieces together are worth f * (values . demand), and
    a bar k holds at most f * uppers[k]; so a plan costs at least f * (values . demand) less, for every
    bar there is, what it may hold beyond its own cost. The best f makes one bar come out even. No value
    may exceed what leaving out the piece costs, so plans with shortfall are bounded too.
    """
    step = Fraction(int(task.costs.max()), steps)
    values = np.minimum(values, [math.floor(int(cost) / step) for cost in task.shortfall_costs])
    worth = sum(int(v) * int(d) for v, d in zip(values, task.demand, strict=True))
    bars = [
        (int(cost), upper * step, int(limit))
        for cost, upper, limit in zip(task.costs, uppers, task.limits, strict=True)
    ]
    used = [(cost, upper, limit) for cost, upper, limit in bars if limit > 0 and upper > 0]

    def at(share: Fraction) -> Fraction:
        over = sum(limit * max(Fraction(0), share * upper - cost) for cost, upper, limit in used)
        return share * worth * step - over

    # The bound is concave in the share: walk up the kinks while it rises.
    best, best_share = Fraction(0), Fraction(0)
    for share in sorted({min(Fraction(1), cost / upper) for cost, upper, _ in used} | {Fraction(1)}):
        found = at(share)
        if found < best:
            break
        best, best_share = found, share
    charges = tuple(max(Fraction(cost), best_share * upper) for cost, upper, _ in bars)
    return Dual(best, values, best_share * step, charges)


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
