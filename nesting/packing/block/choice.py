"""Whole numbers of sheets, stacks and sawn blocks, and blocks made of them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing.block.levels import Relaxation, Sheet, Stack, Way
from nesting.packing.columns import MANY, Column, Task
from nesting.packing.grid import Ints
from nesting.packing.search import Search


def choose(
    ways: Sequence[Way],
    task: Task,
    pool: Relaxation,
    below: float,
    nodes: int,
    search: Search[Any],
) -> tuple[list[tuple[Sheet, int]], list[tuple[Stack, int]], list[tuple[Column, int]]] | None:
    solver = pywraplp.Solver.CreateSolver("SCIP")
    ample = solver.infinity()
    cover = [solver.Constraint(float(need), ample) for need in task.demand]
    total = solver.Constraint(0.0, below * (1 - 1e-7))
    objective = solver.Objective()
    objective.SetMinimization()
    rows = [[solver.Constraint(0.0, ample) for _ in way.heights] for way in ways]
    limits = [solver.Constraint(0.0, float(way.available)) if way.available < MANY else None for way in ways]
    at_way = {way.stock.index: at for at, way in enumerate(ways)}
    made = []
    many = float(task.demand.sum())
    for item in (*pool.sheets, *pool.stacks, *pool.columns):
        use = solver.IntVar(0.0, many, "")
        made.append(use)
        if not isinstance(item, Stack):
            for kind in np.flatnonzero(item.counts).tolist():
                cover[kind].SetCoefficient(use, float(item.counts[kind]))
        if isinstance(item, Sheet):
            rows[item.way][item.level].SetCoefficient(use, -1.0)
            continue
        at = item.way if isinstance(item, Stack) else at_way[item.maker.stock]
        if isinstance(item, Stack):
            for level in np.flatnonzero(item.counts).tolist():
                rows[at][level].SetCoefficient(use, float(item.counts[level]))
        limit = limits[at]
        if limit is not None:
            limit.SetCoefficient(use, 1.0)
        cost = ways[at].stock.cost
        total.SetCoefficient(use, cost)
        objective.SetCoefficient(use, cost)
    solver.SetSolverSpecificParametersAsString(f"limits/nodes = {nodes}\nrandomization/randomseedshift = {search.seed % 1000}\n")
    if search.seconds_left < math.inf:
        solver.SetTimeLimit(max(1, int(1e3 * search.seconds_left)))
    status = solver.Solve()
    print('     scip',status,'nodes',solver.nodes(),'iters',solver.iterations(), 'bound %.3f'%objective.BestBound(), 'val', objective.Value() if status in(0,1) else None)
    search.spend(int(solver.iterations()) * len(made)*10)
    if status not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
        return None
    times = [round(use.solution_value()) for use in made]
    first, second = len(pool.sheets), len(pool.sheets) + len(pool.stacks)
    return (
        [(item, n) for item, n in zip(pool.sheets, times[:first], strict=True) if n],
        [(item, n) for item, n in zip(pool.stacks, times[first:second], strict=True) if n],
        [(item, n) for item, n in zip(pool.columns, times[second:], strict=True) if n],
    )


def stacked(
    ways: Sequence[Way], sheets: Sequence[tuple[Sheet, int]], stacks: Sequence[tuple[Stack, int]]
) -> list[tuple[Column, int]]:
    """Put sheets into stacks, the same ones together as long as there are any."""
    made: list[tuple[Column, int]] = []
    left = [times for _, times in sheets]
    for stack, repeats in stacks:
        slit = ways[stack.way].slit
        assert slit is not None
        while repeats:
            taken: Counter[int] = Counter()
            for level, need in enumerate(stack.counts.tolist()):
                for index, (sheet, _) in enumerate(sheets):
                    if need and sheet.way == stack.way and sheet.level == level and left[index]:
                        use = min(need, left[index])
                        taken[index] += use
                        need -= use
            if not taken:
                break
            times = min([repeats, *[left[index] // use for index, use in taken.items()]])
            chosen = [sheets[index][0] for index, use in taken.items() for _ in range(use)]
            counts = np.sum([sheet.counts for sheet in chosen], axis=0)
            made.append((slit.block([sheet.body for sheet in chosen], counts), times))
            for index, use in taken.items():
                left[index] -= use * times
            repeats -= times
    return made
