"""What blocks of each size must at least be bought: a bound that knows that blocks and sheets are whole.

For any values v of the kinds, the sheets and the sawn blocks of a plan hold all that is wanted, so

    sum of W[s, h] * X[s, h]  +  sum of M[s] * S[s]  >=  v * demand,

where X[s, h] sheets of thickness h are slit from blocks of size s and S[s] blocks are sawn first, W is the
most that a sheet can be worth, and M the most that a sawn block can. The heights of the sheets must find
room in the blocks that are slit. The least cost of whole numbers that keep all such rules is a bound; rules
are added where the last answer breaks one (a cutting plane method: Kelley 1960, Journal of SIAM 8(4):
703-712; whole numbers and linear parts divided as by Benders 1962, Numerische Mathematik 4: 238-252).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.packing.block.grid import BlockGrid
from nesting.packing.block.levels import ROUNDS, Counts, Relaxation, Way, plenty
from nesting.packing.columns import Cover
from nesting.packing.cpsat import ask
from nesting.packing.grid import Floats, Ints
from nesting.packing.search import Search, Stop

__all__ = ["Floor", "raise_floor"]

STEPS = 1_000_000
"""Whole numbers that stand for the worth of all that is wanted."""

COST_STEPS = 10**9
"""Whole numbers that stand for the dearest block."""

SHARE = 0.25
"""Share of the budget for bounds."""

MOST_BLOCKS = 40
"""Most blocks for which whole numbers of them are looked at."""

SATISFIED = 1e-6
"""Volume left out, in units of the largest kind, that is no more than noise."""

WEIGHT_STEPS = 10_000
"""Whole numbers that stand for the weight that a block holds."""

MOST_STACKS = 100
"""Most stacks that weights are made for."""

WORK = 0.3
"""Most deterministic seconds for one choice of whole numbers."""


class Floor:
    """The rules found so far, and the least cost that they leave."""

    def __init__(self, grid: BlockGrid, ways: Sequence[Way], search: Search[Any]) -> None:
        self._grid, self._ways, self._search = grid, ways, search
        self._stackings: list[list[Ints]] = [[] for _ in ways]
        self._rules: list[tuple[list[Ints], Ints, int]] = []

    def add(self, values: Floats) -> bool:
        """Add the rules of some values, and of the part of them of each thickness; False: no proof."""
        grid = self._grid
        low = grid.dz[grid.start[:-1]]
        parts = [values] + [np.where(low == height, values, 0.0) for height in np.unique(low)]
        return all(self._rule(part) for part in parts if float(part @ grid.demand) > 0.0)

    def _rule(self, values: Floats) -> bool:
        whole = float(values @ self._grid.demand)
        sheets, saws = [], []
        for way in self._ways:
            worth = np.zeros(0)
            if way.slit is not None:
                found = way.slit.best_sheets(values, self._search)
                if found is None:
                    return False
                worth = found
            sheets.append(_steps(worth, whole))
            best = 0.0
            if way.saw is not None:
                value = way.saw.best_value(values, self._search)
                if value is None:
                    return False
                best = value
            saws.append(best)
        self._rules.append((sheets, _steps(np.array(saws), whole), STEPS))
        return True

    def stack(self, counts: Counts) -> bool:
        """Add a rule of heights for each block size whose blocks cannot hold the sheets, even in shares."""
        grew = False
        for at, way in enumerate(self._ways):
            sheets = counts.sheets[at]
            if way.slit is None or not sheets.any():
                continue
            prices = _stack_prices(way, self._grid.level, sheets)
            weights = np.floor(prices * WEIGHT_STEPS).astype(np.int64)
            if weights @ sheets > self._one(way, weights) * counts.slit[at]:
                self._stackings[at].append(weights)
                grew = True
        return grew

    def _one(self, way: Way, weights: Ints) -> int:
        """Most weight that one block holds, where sheets of each thickness weigh so much."""
        return round(way.stack(self._grid.level, weights.astype(np.float64))[0])

    def least(self, most: float) -> tuple[float, Counts | None]:
        """A bound below `most` on the cost by the rules so far, and the numbers that reach it, if any do."""
        ways, grid = self._ways, self._grid
        model = cp_model.CpModel()
        dearest = max(way.stock.cost for way in ways)
        scale = COST_STEPS / dearest
        weighted = cp_model.LinearExpr.weighted_sum
        slit, saw, sheets, costs = [], [], [], []
        for at, way in enumerate(ways):
            many = min(way.available, math.floor(most / way.stock.cost + 1e-9))
            slit.append(model.new_int_var(0, many if way.slit else 0, ""))
            saw.append(model.new_int_var(0, many if way.saw else 0, ""))
            model.add(slit[-1] + saw[-1] <= many)
            sizes = way.heights + grid.level
            room = way.stock.extent[2] + grid.level
            levels = [model.new_int_var(0, many * (room // size), "") for size in sizes.tolist()]
            for weights in [sizes, *self._stackings[at]] if way.slit else []:
                model.add(weighted(levels, weights.tolist()) <= self._one(way, weights) * slit[-1])
            sheets.append(levels)
            costs.append(math.floor(way.stock.cost * scale))
        for worth, saws, wanted in self._rules:
            terms = [var for levels in sheets for var in levels] + saw
            factors = [n for part in worth for n in part.tolist()] + saws.tolist()
            model.add(weighted(terms, factors) >= wanted)
        numbers = [a + b for a, b in zip(slit, saw, strict=True)]
        model.minimize(sum(n * c for n, c in zip(numbers, costs, strict=True)))
        solver, status = ask(model, WORK, self._search)
        if status == cp_model.INFEASIBLE:
            return most, None
        if status == cp_model.UNKNOWN:
            return 0.0, None
        bound = min(most, solver.best_objective_bound / scale)
        counts = Counts(
            np.array([solver.value(n) for n in slit]),
            np.array([solver.value(n) for n in saw]),
            tuple(np.array([solver.value(n) for n in levels], np.int64) for levels in sheets),
        )
        return bound, counts


def raise_floor(
    grid: BlockGrid, ways: Sequence[Way], free: Relaxation, near: Relaxation, search: Search[Cover]
) -> None:
    """Prove what whole numbers of blocks and sheets do, where there are few blocks."""
    if search.short or search.value > MOST_BLOCKS * max(way.stock.cost for way in ways):
        return
    child = search.onward(SHARE)
    with suppress(Stop):
        floor = Floor(grid, ways, child)
        for values in (free.duals, grid.volume, near.duals):
            if not floor.add(values):
                return
        _climb(floor, free, plenty(ways, grid), child)
    search.prove(child.bound)


def _climb(floor: Floor, free: Relaxation, plenty: Ints, search: Search[Cover]) -> None:
    """Add rules until the numbers of the best answer could hold all that is wanted."""
    while not search.over:
        bound, counts = floor.least(search.value)
        search.prove(bound)
        if counts is None:
            return
        grew = floor.stack(counts)
        free.fix(counts)
        free.generate(plenty, ROUNDS, search)
        if free.value > SATISFIED:
            grew = floor.add(free.duals)
        if not grew:
            return


def _stack_prices(way: Way, kerf: int, sheets: Ints) -> Floats:
    """Weights of the sheets that say best how many blocks hold them, at most 1 in a block."""
    solver = pywraplp.Solver.CreateSolver("GLOP")
    prices = [solver.NumVar(0.0, 1.0, "") for _ in sheets]
    solver.Maximize(sum(price * int(many) for price, many in zip(prices, sheets, strict=True)))
    found = np.zeros(sheets.size)
    for _ in range(MOST_STACKS):
        if solver.Solve() != pywraplp.Solver.OPTIMAL:
            break
        found = np.maximum([price.solution_value() for price in prices], 0.0)
        weight, times = way.stack(kerf, found)
        if weight <= 1.0 + SATISFIED:
            break
        solver.Add(sum(price * int(many) for price, many in zip(prices, times, strict=True)) <= 1.0)
    return found


def _steps(worth: Floats, whole: float) -> Ints:
    """Worth as a share of the whole, in steps, rounded up; no more than the whole counts."""
    return np.minimum(np.ceil(worth / whole * STEPS * (1 + 1e-9) + 1e-6), STEPS).astype(np.int64)
