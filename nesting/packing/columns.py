"""Covering a demand with repeated patterns at least cost: column generation and rounding.

The linear relaxation is solved by column generation (Gilmore and Gomory 1961, Operations Research 9(6):
849-859) with GLOP; its duals also give a proven bound (Farley 1990, Operations Research 38(5):
922-923). Whole numbers come from the rounded-down solution plus a sequential fill of the rest, and
from CP-SAT over all columns seen; the better one wins.

Engines give what knows geometry: `price` finds valuable patterns when copies are free, `ratio` proves
how valuable a pattern can be, and `fill` finds a good pattern within the copies that are left.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.packing.grid import Ints
from nesting.packing.search import Search

__all__ = ["Column", "Cover", "Covering", "Fill", "Price", "Ratio"]

Floats = npt.NDArray[np.float64]

ROUNDS = 400
"""Most pricing rounds."""

WORTH = 1e-7
"""Least relative saving for which a column is added."""

SHAKES = 40
"""Most fills of the rest with shaken values."""

WHOLE_WORK = 2.0
"""Work CP-SAT may spend on whole numbers, in its own deterministic seconds."""

STEPS_A_SECOND = 2e8
"""Elementary steps reckoned for one deterministic second of CP-SAT."""


@dataclass(frozen=True, slots=True)
class Column:
    """A pattern: the stock it is cut from, what one costs, how many copies of each kind it holds."""

    stock: int
    cost: float
    counts: Ints
    body: Any
    """Whatever the engine needs to draw it."""


Price = Callable[[Floats], list[Column]]
"""Takes the dual value of each kind: valuable patterns, the most valuable of each stock among them."""

Ratio = Callable[[Floats, Floats], float | None]
"""Takes the duals of kinds and of stock limits (<= 0): an upper bound on (value of a pattern) / (its cost
less the dual of its stock) over all patterns that are allowed, or None where none can be proved."""

Fill = Callable[[Floats, Ints, int], Column | None]
"""Takes values, copies left and a stock index: a good pattern within the limits, or None."""


@dataclass(frozen=True, slots=True)
class Cover:
    """A complete plan: columns with repeats, and copies of each kind that found no stock."""

    chosen: tuple[tuple[Column, int], ...]
    missing: Ints
    cost: float


class Covering:
    """Searches for the cheapest way to cover a demand.

    Parameters
    ----------
    demand
        Copies wanted of each kind, each fitting some stock.
    available
        How many there are of each stock; None: no limit.
    price, ratio, fill
        See above.
    trim
        Makes of a column the column with only the given counts (no more than it has).
    areas
        A natural value of each kind, to start from.
    round_bound
        Lifts a bound to the next cost that is possible at all.
    """

    def __init__(
        self,
        demand: Ints,
        available: Sequence[int | None],
        price: Price,
        ratio: Ratio,
        fill: Fill,
        *,
        trim: Callable[[Column, Ints], Column],
        areas: Floats,
        round_bound: Callable[[float], float],
    ) -> None:
        self.demand = demand
        self.available = [_MANY if limit is None else limit for limit in available]
        self.price, self.ratio, self.fill, self.trim = price, ratio, fill, trim
        self.areas = areas
        self.round_bound = round_bound

    def run(self, search: Search[Cover]) -> None:
        """Offer plans and bounds to `search` until it is over or nothing more helps."""
        first = self._finish([], self.areas, search)
        _offer(search, first)
        if search.over:
            return
        if first.missing.any():
            values, columns, fractions = self.areas, [], np.zeros(0)
        else:
            duals, columns, fractions = self._relax([column for column, _ in first.chosen], search)
            # A kind with dual 0 comes along for nothing; it still wants to be placed.
            values = duals + 1e-6 * self.areas * max(float(duals.max()), 1e-9) / self.areas.max()
        if search.over:
            return
        floor = np.floor(fractions + 1e-7).astype(np.int64)
        _offer(search, self._finish(_times(columns, floor), values, search))
        if columns and not search.over:
            _offer(search, self._whole(columns, search))
        # The last few patterns decide: fill the rest again with the values shaken.
        rng = np.random.default_rng(search.seed)
        for shake in range(SHAKES):
            if search.over:
                return
            noise = np.exp(rng.normal(0.0, 0.03 + 0.01 * shake, values.size))
            kept = (
                floor if shake % 2 == 0 else np.floor(floor * rng.random(floor.size) ** 0.2).astype(np.int64)
            )
            _offer(search, self._finish(_times(columns, kept), values * noise, search))

    def _finish(self, kept: list[tuple[Column, int]], values: Floats, search: Search[Cover]) -> Cover:
        """Keep some columns and fill the rest of the demand, the cheapest pattern per value first."""
        chosen = self._without_surplus(kept)
        left = self.demand - _covered(chosen, self.demand.size)
        stock = list(self.available)
        for column, repeats in chosen:
            stock[column.stock] -= repeats
        while left.any():
            candidates = [
                column
                for index, count in enumerate(stock)
                if count > 0 and (column := self.fill(values, left, index)) is not None
            ]
            if not candidates:
                break
            best = min(candidates, key=lambda column: column.cost / float(values @ column.counts))
            used = best.counts > 0
            repeats = min(int((left[used] // best.counts[used]).min()), stock[best.stock])
            chosen.append((best, repeats))
            stock[best.stock] -= repeats
            left = left - best.counts * repeats
            if search.out_of_time and search.draft is not None:
                return Cover(tuple(chosen), left, _cost(chosen))
        return Cover(tuple(chosen), left, _cost(chosen))

    def _without_surplus(self, chosen: list[tuple[Column, int]]) -> list[tuple[Column, int]]:
        """Take off copies beyond the demand, pattern by pattern."""
        surplus = np.maximum(_covered(chosen, self.demand.size) - self.demand, 0)
        if not surplus.any():
            return list(chosen)
        result: list[tuple[Column, int]] = []
        # The emptiest patterns first: they may vanish altogether.
        for column, repeats in sorted(
            chosen, key=lambda item: float(self.areas @ item[0].counts) / item[0].cost
        ):
            rest = repeats
            while rest:
                off = np.minimum(column.counts, surplus)
                if not off.any():
                    break
                cut = off > 0
                times = min(rest, int((surplus[cut] // off[cut]).min()))
                if (off < column.counts).any():
                    result.append((self.trim(column, column.counts - off), times))
                surplus = surplus - off * times
                rest -= times
            if rest:
                result.append((column, rest))
        return result

    def _relax(self, columns: list[Column], search: Search[Cover]) -> tuple[Floats, list[Column], Floats]:
        """Column generation; returns the duals, all columns and how often each is used."""
        solver = pywraplp.Solver.CreateSolver("GLOP")
        rows = [solver.Constraint(float(need), solver.infinity()) for need in self.demand]
        limits = [
            solver.Constraint(-solver.infinity(), float(count)) if count < _MANY else None
            for count in self.available
        ]
        solver.Objective().SetMinimization()
        variables: list[pywraplp.Variable] = []

        def add(column: Column) -> None:
            variable = solver.NumVar(0.0, solver.infinity(), "")
            solver.Objective().SetCoefficient(variable, column.cost)
            for kind in np.flatnonzero(column.counts):
                rows[kind].SetCoefficient(variable, float(column.counts[kind]))
            limit = limits[column.stock]
            if limit is not None:
                limit.SetCoefficient(variable, 1.0)
            variables.append(variable)

        columns = list(columns)
        for column in columns:
            add(column)
        duals = np.zeros(self.demand.size)
        fractions = np.zeros(len(columns))
        seen = {(column.stock, column.cost, column.counts.tobytes()) for column in columns}
        for _ in range(ROUNDS):
            if solver.Solve() != pywraplp.Solver.OPTIMAL:
                break
            duals = np.maximum([row.dual_value() for row in rows], 0.0)
            stock_duals = np.array([min(limit.dual_value(), 0.0) if limit else 0.0 for limit in limits])
            fractions = np.array([variable.solution_value() for variable in variables])
            fresh = [
                column
                for column in self.price(duals)
                if (column.stock, column.cost, column.counts.tobytes()) not in seen
                and duals @ column.counts + stock_duals[column.stock] > column.cost * (1 + WORTH)
            ]
            if not fresh or search.over:
                self._prove(duals, stock_duals, search)
                break
            for column in fresh:
                seen.add((column.stock, column.cost, column.counts.tobytes()))
                columns.append(column)
                add(column)
        fractions = np.concatenate([fractions, np.zeros(len(columns) - fractions.size)])
        return duals, columns, fractions

    def _prove(self, duals: Floats, stock_duals: Floats, search: Search[Cover]) -> None:
        """Farley's bound: duals scaled until no pattern is worth more than it costs."""
        ratio = self.ratio(duals, stock_duals)
        if ratio is None:
            return
        charge = sum(
            float(dual) * count
            for dual, count in zip(stock_duals, self.available, strict=True)
            if count < _MANY
        )
        search.prove(self.round_bound(float(duals @ self.demand) / max(1.0, ratio) + charge))

    def _whole(self, columns: list[Column], search: Search[Cover]) -> Cover:
        """Best whole numbers of the columns seen, by CP-SAT within a fixed amount of work."""
        model = cp_model.CpModel()
        counts = np.array([column.counts for column in columns])
        uses = []
        for j, column in enumerate(columns):
            held = counts[j] > 0
            most = int(np.ceil(self.demand[held] / counts[j][held]).max())
            uses.append(model.new_int_var(0, min(most, self.available[column.stock]), f"x{j}"))
        for kind, need in enumerate(self.demand):
            holders = np.flatnonzero(counts[:, kind])
            model.add(sum(int(counts[j, kind]) * uses[j] for j in holders) >= int(need))
        for stock, limit in enumerate(self.available):
            if limit < _MANY:
                model.add(sum(uses[j] for j, c in enumerate(columns) if c.stock == stock) <= limit)
        scale = 1_000_000 / max(column.cost for column in columns)
        model.minimize(
            sum(round(column.cost * scale) * use for column, use in zip(columns, uses, strict=True))
        )
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = search.seed % 2**31
        solver.parameters.max_deterministic_time = WHOLE_WORK
        if search.seconds_left < float("inf"):
            solver.parameters.max_time_in_seconds = max(0.05, search.seconds_left)
        status = solver.solve(model)
        search.spend(int(solver.response_proto.deterministic_time * STEPS_A_SECOND))
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Cover((), self.demand, 0.0)
        chosen = [(column, int(solver.value(use))) for column, use in zip(columns, uses, strict=True)]
        chosen = self._without_surplus([(column, times) for column, times in chosen if times])
        return Cover(tuple(chosen), self.demand - _covered(chosen, self.demand.size), _cost(chosen))


_MANY = 2**40
"""Stands for stock without limit."""


def _offer(search: Search[Cover], plan: Cover) -> None:
    search.offer(plan.cost, plan, short=int(plan.missing.sum()))


def _covered(chosen: Sequence[tuple[Column, int]], kinds: int) -> Ints:
    total = np.zeros(kinds, np.int64)
    for column, repeats in chosen:
        total += column.counts * repeats
    return total


def _cost(chosen: Sequence[tuple[Column, int]]) -> float:
    return float(sum(column.cost * repeats for column, repeats in chosen))


def _times(columns: Sequence[Column], repeats: Ints) -> list[tuple[Column, int]]:
    return [(column, int(times)) for column, times in zip(columns, repeats, strict=True) if times]
