"""The linear relaxation of a covering problem, over the columns seen so far."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing.columns import MANY, WORTH, Column, Task

__all__ = ["Master"]


class Master:
    """The linear relaxation over the columns seen so far.

    Attributes
    ----------
    columns, uses
        All columns, and how often the last solution uses each.
    duals, charges
        Value of a copy of each kind, and price of the limit on each stock (both 0 or more).
    """

    def __init__(self, task: Task) -> None:
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.Objective().SetMinimization()
        self._rows = [self._solver.Constraint(float(need), self._solver.infinity()) for need in task.demand]
        self._limits = [
            self._solver.Constraint(-self._solver.infinity(), float(count)) if count < MANY else None
            for count in task.available
        ]
        self._variables: list[Any] = []
        self._seen: set[tuple[int, float, bytes]] = set()
        if task.shortfall is not None:
            for row, cost in zip(self._rows, task.shortfall.tolist(), strict=True):
                left_out = self._solver.NumVar(0.0, self._solver.infinity(), "")
                self._solver.Objective().SetCoefficient(left_out, cost)
                row.SetCoefficient(left_out, 1.0)
        self.columns: list[Column] = []
        self.uses = np.zeros(0)
        self.duals = np.zeros(task.demand.size)
        self.charges = np.zeros(len(task.available))

    def add(self, columns: Iterable[Column]) -> None:
        """Add columns; those that do the same as one seen before are left out."""
        for column in columns:
            if column.signature in self._seen:
                continue
            self._seen.add(column.signature)
            variable = self._solver.NumVar(0.0, self._solver.infinity(), "")
            self._solver.Objective().SetCoefficient(variable, column.cost)
            for kind in np.flatnonzero(column.counts).tolist():
                self._rows[kind].SetCoefficient(variable, float(column.counts[kind]))
            limit = self._limits[column.maker.stock]
            if limit is not None:
                limit.SetCoefficient(variable, float(column.takes))
            self._variables.append(variable)
            self.columns.append(column)
            self.uses = np.append(self.uses, 0.0)

    def solve(self) -> bool:
        """Solve anew; whether that worked. Otherwise the last solution stands."""
        if self._solver.Solve() != pywraplp.Solver.OPTIMAL:
            return False
        self.duals = np.maximum([row.dual_value() for row in self._rows], 0.0)
        self.charges = np.maximum([-limit.dual_value() if limit else 0.0 for limit in self._limits], 0.0)
        self.uses = np.array([variable.solution_value() for variable in self._variables])
        return True

    def gains_by(self, column: Column) -> bool:
        """Whether a new column would lower the value of the relaxation."""
        price = float(self.charges[column.maker.stock]) * column.takes + column.cost * (1 + WORTH)
        return float(self.duals @ column.counts) > price and column.signature not in self._seen

    @property
    def value(self) -> float:
        """Cost of the last solution, as far as columns go."""
        return float(sum(use * column.cost for use, column in zip(self.uses, self.columns, strict=True)))

    @property
    def work(self) -> int:
        """Elementary steps reckoned for one solution."""
        return len(self._rows) * len(self._variables)

    def nearest(self, most: int) -> list[Column]:
        """The columns, no more than `most`, that are worth most of their cost by the duals."""
        reduced = [
            column.cost
            + float(self.charges[column.maker.stock]) * column.takes
            - float(self.duals @ column.counts)
            for column in self.columns
        ]
        return [self.columns[at] for at in np.argsort(reduced, kind="stable")[:most].tolist()]
