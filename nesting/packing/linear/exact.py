"""Whole numbers over all patterns that can matter: what settles whether a cheaper plan exists.

The patterns come from `listing`, so a program over them finds the best plan within a target or shows
that there is none. It is solved by SCIP (Achterberg 2009, "SCIP: solving constraint integer programs",
Mathematical Programming Computation 1(1): 1-41). SCIP works in floating point with a tolerance of 1e-6;
all figures here are small whole numbers, and what its bounds may be off by is allowed for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from ortools.linear_solver import pywraplp

from nesting.packing.linear.listing import list_patterns
from nesting.packing.linear.relax import Dual
from nesting.packing.linear.task import Pattern, Task
from nesting.packing.search import Search

__all__ = ["Settled", "cover", "settle"]

BOUND_NOISE, BOUND_SHARE = 1e-3, 1e-7
"""What a bound told as a float may be beyond a whole number: fixed, and as a share."""

NODE_STEPS, ENTRY_STEPS = 40_000, 200
"""Elementary steps reckoned for one node of the search tree, and for each piece in a pattern there."""

ROOT_NODES = 10
"""Nodes that preparing the program costs as much as."""

SETTINGS = """
misc/catchctrlc = FALSE
separating/maxrounds = 0
separating/maxroundsroot = 0
heuristics/locks/freq = -1
branching/pscost/priority = 1000000
limits/totalnodes = {nodes}
"""
"""Measured on such programs: cuts, trial branchings and the heuristic of locks cost several times what they
save."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What came of the question for a plan within a target.

    Parameters
    ----------
    plan
        The plan found, None if there is none.
    bound
        Proven lower bound on the cost of a plan, in whole units.
    """

    plan: Counter[Pattern] | None
    bound: int


def settle(
    task: Task, dual: Dual, bound: int, known: int, most: int, nodes: int, search: Search[Any]
) -> Settled:
    """Look for a plan that costs less than a known one, and prove it where there is none.

    Where the patterns for all such plans are too many, only plans much nearer to the bound are sought.

    Parameters
    ----------
    task, dual
        The problem, and prices that prove as much as possible.
    bound, known
        Proven lower bound on the cost of a plan, and cost of a plan, in whole units.
    most, nodes
        Most patterns to be listed, and most nodes of the search tree.
    search
        Pays for the work.
    """
    target = known - 1
    while bound <= target:
        if search.used_up:
            break
        patterns, work = list_patterns(task, dual.least(target), dual.values, most)
        search.spend(work)
        if patterns is not None:
            short = dual.may_be_short(task, target).tolist()
            found = cover(task, patterns, short, (bound, target), nodes, search)
            # Patterns beyond the target were left out, so the bound cannot pass it by more than a unit.
            return Settled(found.plan, min(found.bound, target + 1))
        if target == bound:
            break
        target = (bound + target) // 2
    return Settled(None, bound)


def cover(
    task: Task,
    patterns: Iterable[Pattern],
    short: Collection[int],
    costs: tuple[int, int],
    nodes: int,
    search: Search[Any],
) -> Settled:
    """Cheapest plan over given patterns.

    Parameters
    ----------
    task, patterns
        The problem, and the patterns allowed.
    short
        Pieces that may be left out.
    costs
        Proven lower bound on the cost of a plan, and the most that a plan may cost.
    nodes
        Most nodes of the search tree.
    search
        Pays for the work. Its time limit is kept, and no node is opened that its effort does not allow.

    Returns
    -------
    Settled
        Its bound holds for plans over these patterns; where there is none it is one more than a plan
        may cost.
    """
    low, high = costs
    solver = pywraplp.Solver.CreateSolver("SCIP")
    infinity = solver.infinity()
    rows = [solver.Constraint(float(wanted), infinity) for wanted in task.demand]
    bars = {
        k: solver.Constraint(0.0, float(limit))
        for k, limit in enumerate(task.limits)
        if limit < task.demand.sum()
    }
    total = solver.Constraint(float(low), float(high))
    objective = solver.Objective()

    def column(most: int, cost: int, entries: Iterable[tuple[int, int]]) -> pywraplp.Variable:
        variable = solver.IntVar(0.0, float(most), "")
        total.SetCoefficient(variable, float(cost))
        if low < high:
            objective.SetCoefficient(variable, float(cost))
        for i, count in entries:
            rows[i].SetCoefficient(variable, float(count))
        return variable

    columns = {}
    entries = 0
    for pattern in patterns:
        held = [(i, count) for i, count in enumerate(pattern.counts) if count]
        entries += len(held)
        most = min(int(task.limits[pattern.bar]), max(-(-int(task.demand[i]) // count) for i, count in held))
        columns[pattern] = column(most, int(task.costs[pattern.bar]), held)
        if pattern.bar in bars:
            bars[pattern.bar].SetCoefficient(columns[pattern], 1.0)
    for i in short:
        column(int(task.demand[i]), int(task.shortfall_costs[i]), [(i, 1)])
    steps = NODE_STEPS + ENTRY_STEPS * entries
    if search.effort_left < math.inf:
        nodes = min(nodes, int(search.effort_left) // steps - ROOT_NODES)
    if nodes < 1 or search.used_up:
        return Settled(None, low)
    solver.SetSolverSpecificParametersAsString(SETTINGS.format(nodes=nodes))
    if search.seconds_left < math.inf:
        solver.SetTimeLimit(max(1, int(1e3 * search.seconds_left)))
    status = solver.Solve()
    search.spend(steps * (ROOT_NODES + int(solver.nodes())))
    if status == pywraplp.Solver.INFEASIBLE:
        return Settled(None, high + 1)
    if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
        return Settled(None, low)
    plan = Counter({p: times for p, c in columns.items() if (times := round(c.solution_value())) > 0})
    if low < high and status == pywraplp.Solver.OPTIMAL:
        value = objective.Value()
        low = max(low, math.ceil(value - BOUND_NOISE - BOUND_SHARE * value))
    return Settled(plan, low)
