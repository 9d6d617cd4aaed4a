"""Lower bounds on the cost of a rack that hold for any layout."""

from __future__ import annotations

import math

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing.bars import NOISE
from nesting.packing.rack.stocks import RackGrid

__all__ = ["area_cost_bound"]


def area_cost_bound(grid: RackGrid) -> float:
    """Least cost of roll whose area holds that of all pieces, each on a roll that it fits.

    A transport problem between the sets of rolls that kinds fit and the rolls. Proved by its duals: any
    value per area of each set, 0 or more, that no roll gives more cheaply than it costs, once the rolls of
    limited length have been charged for the difference.

    Returns
    -------
    float
        In the unit of the rates; 0 where the rolls are too short for all.
    """
    rooms = grid.rooms()
    fits = np.array([grid.fitting(stock) for stock in grid.stocks])
    kinds = np.logical_or.reduceat(fits, grid.start[:-1], axis=1)
    needs: dict[tuple[bool, ...], float] = {}
    for kind, (area, copies) in enumerate(zip(grid.area.tolist(), grid.demand.tolist(), strict=True)):
        usable = tuple(kinds[:, kind].tolist())
        needs[usable] = needs.get(usable, 0.0) + float(area) * copies
    solver = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    solver.Objective().SetMinimization()
    largest = max(needs.values())
    rows = [solver.Constraint(need / largest, infinity) for need in needs.values()]
    for at, room in enumerate(rooms):
        end = None
        if room.length is not None:
            end = solver.Constraint(-infinity, room.length * room.width / largest)
        for usable, row in zip(needs, rows, strict=True):
            if usable[at]:
                share = solver.NumVar(0.0, infinity, "")
                solver.Objective().SetCoefficient(share, room.rate / room.width)
                row.SetCoefficient(share, 1.0)
                if end is not None:
                    end.SetCoefficient(share, 1.0)
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return 0.0
    values = [max(0.0, row.dual_value()) for row in rows]
    bound = math.fsum(value * need for value, need in zip(values, needs.values(), strict=True))
    for at, room in enumerate(rooms):
        most = max((v for v, usable in zip(values, needs, strict=True) if usable[at]), default=0.0)
        over = most * room.width - room.rate
        if room.length is not None:
            bound -= max(0.0, over) * room.length
        elif over > 0:
            # Float noise; the value that a roll without end allows is less by that much.
            bound *= room.rate / (most * room.width)
    return max(0.0, bound * (1 - NOISE))
