"""Covering a demand with repeated patterns at least cost: column generation and rounding.

The linear relaxation is solved by column generation (Gilmore and Gomory 1961, Operations Research 9(6):
849-859) with GLOP; its duals also give a proven bound (Farley 1990, Operations Research 38(5):
922-923). Whole numbers come from the rounded-down solution plus a sequential fill of the rest, and
from CP-SAT over all columns seen; the better one wins.

Engines give what knows geometry: a `Maker` for each way of cutting each stock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from nesting.packing.grid import Floats, Ints
from nesting.packing.search import Search, Stop

__all__ = ["Column", "Cover", "Covering", "Maker", "densest"]

ROUNDS = 400
"""Most pricing rounds."""

RELAXED_SHARE = 0.6
"""Share of the budget for the relaxation; the rest is for whole numbers."""

WORTH = 1e-7
"""Least relative saving for which a column is added."""

SHAKES = 40
"""Most fills of the rest with shaken values."""

WHOLE_WORK = 2.0
"""Most work CP-SAT may spend on whole numbers, in its own deterministic seconds."""

WHOLE_SHARE = 0.5
"""Largest share of what is left that CP-SAT may spend."""

STEPS_A_SECOND = 2e8
"""Elementary steps reckoned for one deterministic second of CP-SAT."""

COST_STEPS = 1_000_000
"""Whole numbers that CP-SAT sees in place of the largest cost."""

LARGER = 0.01
"""Share by which it costs more to leave out the largest kind than the smallest: of two plans that leave
out as many, the one with the larger pieces placed is better."""

MANY = 2**40
"""Stands for stock without limit."""


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """A pattern: who made it, what one costs, how many copies of each kind it holds.

    `body` is whatever its maker needs to draw it.
    """

    maker: Maker
    cost: float
    counts: Ints
    body: Any

    @property
    def signature(self) -> tuple[int, float, bytes]:
        """Equal for columns that do the same."""
        return self.maker.stock, self.cost, self.counts.tobytes()


class Maker(Protocol):
    """Makes patterns for one stock in one way of cutting.

    Values and counts are by kind. Methods that take a search spend their work on it and may raise
    `Stop`.
    """

    @property
    def stock(self) -> int:
        """Index of the stock that the patterns are cut from."""

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once, within the copies that are left; None when nothing fits."""

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left; None when nothing of value fits."""

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """Patterns that are valuable for their cost when copies are free."""

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Upper bound on value over cost plus charge of all allowed patterns; None: none can be proved."""

    def trim(self, column: Column, counts: Ints) -> Column:
        """The column with only the given counts (no more than it has)."""


@dataclass(frozen=True, slots=True)
class Cover:
    """A plan: columns with repeats, and copies of each kind that found no stock."""

    chosen: tuple[tuple[Column, int], ...]
    missing: Ints

    @property
    def cost(self) -> float:
        """Cost of all columns."""
        return float(sum(column.cost * repeats for column, repeats in self.chosen))


def densest(columns: Iterable[Column | None], values: Floats) -> Column | None:
    """The column with the least cost per value; None when there is none."""
    return min(
        (column for column in columns if column is not None and column.counts.any()),
        key=lambda column: column.cost / float(values @ column.counts),
        default=None,
    )


class Covering:
    """Searches for the cheapest way to cover a demand.

    Parameters
    ----------
    demand
        Copies wanted of each kind.
    available
        How many there are of each stock; None: no limit.
    makers
        The ways of cutting, for stock that is available.
    areas
        A natural value of each kind, above 0, to start from.
    round_bound
        Lifts a bound to the next cost that is possible at all.
    dearest
        Cost of the dearest stock; needed where some stock is limited.
    """

    def __init__(
        self,
        demand: Ints,
        available: Sequence[int | None],
        makers: Sequence[Maker],
        *,
        areas: Floats,
        round_bound: Callable[[float], float],
        dearest: float = 0.0,
    ) -> None:
        self.demand = demand
        self.available = [MANY if limit is None else limit for limit in available]
        self.makers = makers
        self.areas = areas
        self.round_bound = round_bound
        # What leaving out one copy costs: more than a plan can gain by it.
        self.shortfall = dearest * (1.0 + LARGER * areas / areas.max())
        self.limited = any(limit < MANY for limit in self.available)

    def run(self, search: Search[Cover]) -> None:
        """Offer plans and bounds to `search` until it is over or nothing more helps.

        Raises
        ------
        Stop
            When the budget is used up.
        """
        start = self._finish([], self.areas)
        _offer(search, start)
        search.spend_or_stop(0)
        better = self._finish([], self.areas, search)
        _offer(search, better)
        if search.over or not better.chosen:
            return
        master = _Master(self.demand, self.available, self.shortfall if self.limited else None)
        master.add(column for plan in (start, better) for column, _ in plan.chosen)
        self._relax(master, search)
        if search.over:
            return
        # A kind with dual 0 comes along for nothing; it still wants to be placed.
        values = master.duals + 1e-6 * self.areas * max(master.duals.max(), 1e-9) / self.areas.max()
        floor = np.floor(master.uses + 1e-7)
        _offer(search, self._finish(_times(master.columns, floor), values, search))
        if not search.over:
            _offer(search, self._whole(master.columns, search))
        # The last few patterns decide: fill the rest again with the values shaken.
        rng = np.random.default_rng(search.seed)
        for shake in range(SHAKES):
            if search.over:
                return
            noise = np.exp(rng.normal(0.0, 0.03 + 0.01 * shake, values.size))
            kept = floor if shake % 2 == 0 else np.floor(floor * rng.random(floor.size) ** 0.2)
            _offer(search, self._finish(_times(master.columns, kept), values * noise, search))

    def _finish(
        self, kept: list[tuple[Column, int]], values: Floats, search: Search[Cover] | None = None
    ) -> Cover:
        """Keep some columns and fill the rest of the demand, the cheapest pattern per value first.

        Without a search the patterns are quick ones.
        """
        chosen = self._without_surplus(kept)
        left = self.demand - self._covered(chosen)
        stock = list(self.available)
        for column, repeats in chosen:
            stock[column.maker.stock] -= repeats
        while left.any():
            usable = [maker for maker in self.makers if stock[maker.stock] > 0]
            if search is None:
                made = [maker.quick(left) for maker in usable]
            else:
                made = [maker.fill(values, left, search) for maker in usable]
            best = densest(made, values)
            if best is None:
                break
            used = best.counts > 0
            repeats = min(int((left[used] // best.counts[used]).min()), stock[best.maker.stock])
            assert repeats > 0, "a pattern holds more than was left"
            chosen.append((best, repeats))
            stock[best.maker.stock] -= repeats
            left = left - best.counts * repeats
        return Cover(tuple(chosen), left)

    def _without_surplus(self, chosen: list[tuple[Column, int]]) -> list[tuple[Column, int]]:
        """Take off copies beyond the demand, pattern by pattern."""
        surplus = np.maximum(self._covered(chosen) - self.demand, 0)
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
                    result.append((column.maker.trim(column, column.counts - off), times))
                surplus = surplus - off * times
                rest -= times
            if rest:
                result.append((column, rest))
        return result

    def _covered(self, chosen: Sequence[tuple[Column, int]]) -> Ints:
        total = np.zeros(self.demand.size, np.int64)
        for column, repeats in chosen:
            total += column.counts * repeats
        return total

    def _relax(self, master: _Master, search: Search[Cover]) -> None:
        """Generate columns for the relaxation, and prove what its duals prove."""
        budget = search.child(RELAXED_SHARE)
        with suppress(Stop):
            for _ in range(ROUNDS):
                if not master.solve():
                    break
                budget.spend_or_stop(master.work)
                fresh = [
                    column
                    for maker in self.makers
                    for column in maker.price(master.duals, budget)
                    if master.gains_by(column)
                ]
                if not fresh:
                    break
                master.add(fresh)
        master.solve()
        if not search.over:
            self._prove(master.duals, master.charges, search)

    def _prove(self, duals: Floats, charges: Floats, search: Search[Cover]) -> None:
        """Farley's bound: duals scaled until no pattern is worth more than it costs."""
        worst = 1.0
        for maker in self.makers:
            ratio = maker.ratio(duals, float(charges[maker.stock]), search)
            if ratio is None:
                return
            worst = max(worst, ratio)
        paid = sum(
            float(charge) * count
            for charge, count in zip(charges, self.available, strict=True)
            if count < MANY
        )
        search.prove(self.round_bound(float(duals @ self.demand) / worst - paid))

    def _whole(self, columns: list[Column], search: Search[Cover]) -> Cover:
        """Best whole numbers of the columns seen, by CP-SAT within a fixed amount of work."""
        model = cp_model.CpModel()
        counts = np.array([column.counts for column in columns])
        uses = []
        for held, column in zip(counts, columns, strict=True):
            most = int(np.ceil(self.demand[held > 0] / held[held > 0]).max())
            uses.append(model.new_int_var(0, min(most, self.available[column.maker.stock]), ""))
        scale = COST_STEPS / max(column.cost for column in columns)
        costs = [round(column.cost * scale) * use for column, use in zip(columns, uses, strict=True)]
        for kind, need in enumerate(self.demand.tolist()):
            covered = [int(counts[j, kind]) * uses[j] for j in np.flatnonzero(counts[:, kind])]
            if self.limited:
                short = model.new_int_var(0, need, "")
                covered.append(1 * short)
                costs.append(round(float(self.shortfall[kind]) * scale) * short)
            model.add(sum(covered) >= need)
        for stock, limit in enumerate(self.available):
            if limit < MANY:
                model.add(
                    sum(use for use, column in zip(uses, columns, strict=True) if column.maker.stock == stock)
                    <= limit
                )
        model.minimize(sum(costs))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = search.seed % 2**31
        # An interrupt from the keyboard must end the whole search, not this part of it.
        solver.parameters.catch_sigint_signal = False
        solver.parameters.max_deterministic_time = min(
            WHOLE_WORK, WHOLE_SHARE * search.effort_left / STEPS_A_SECOND
        )
        if search.seconds_left < float("inf"):
            solver.parameters.max_time_in_seconds = WHOLE_SHARE * search.seconds_left
        status = solver.solve(model)
        search.spend(int(solver.response_proto.deterministic_time * STEPS_A_SECOND))
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Cover((), self.demand)
        chosen = self._without_surplus(
            [
                (column, times)
                for column, use in zip(columns, uses, strict=True)
                if (times := solver.value(use))
            ]
        )
        return Cover(tuple(chosen), self.demand - self._covered(chosen))


class _Master:
    """The linear relaxation over the columns seen so far.

    Parameters
    ----------
    demand, available
        As in `Covering`, with `MANY` for no limit.
    shortfall
        Cost of leaving out one copy of each kind; None: nothing may be left out.

    Attributes
    ----------
    columns, uses
        All columns, and how often the last solution uses each.
    duals, charges
        Value of a copy of each kind, and price of the limit on each stock (both 0 or more).
    """

    def __init__(self, demand: Ints, available: Sequence[int], shortfall: Floats | None) -> None:
        self._solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver.Objective().SetMinimization()
        self._rows = [self._solver.Constraint(float(need), self._solver.infinity()) for need in demand]
        self._limits = [
            self._solver.Constraint(-self._solver.infinity(), float(count)) if count < MANY else None
            for count in available
        ]
        self._variables: list[Any] = []
        self._seen: set[tuple[int, float, bytes]] = set()
        if shortfall is not None:
            for row, cost in zip(self._rows, shortfall.tolist(), strict=True):
                left_out = self._solver.NumVar(0.0, self._solver.infinity(), "")
                self._solver.Objective().SetCoefficient(left_out, cost)
                row.SetCoefficient(left_out, 1.0)
        self.columns: list[Column] = []
        self.uses = np.zeros(0)
        self.duals = np.zeros(demand.size)
        self.charges = np.zeros(len(available))

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
                limit.SetCoefficient(variable, 1.0)
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
        price = float(self.charges[column.maker.stock]) + column.cost * (1 + WORTH)
        return float(self.duals @ column.counts) > price and column.signature not in self._seen

    @property
    def work(self) -> int:
        """Elementary steps reckoned for one solution."""
        return len(self._rows) * len(self._variables)


def _offer(search: Search[Cover], plan: Cover) -> None:
    search.offer(plan.cost, plan, short=int(plan.missing.sum()))


def _times(columns: Sequence[Column], repeats: Floats) -> list[tuple[Column, int]]:
    return [(column, int(times)) for column, times in zip(columns, repeats, strict=True) if times >= 1]
