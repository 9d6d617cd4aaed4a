"""Covering a demand with repeated patterns at least cost: column generation and rounding.

The linear relaxation is solved by column generation (Gilmore and Gomory 1961, Operations Research 9(6):
849-859) with GLOP; its duals also give a proven bound (Farley 1990, Operations Research 38(5):
922-923). Whole numbers come from

- the rounded-down solution and a sequential fill of the rest, with shaken values again and again;
- CP-SAT over the columns seen, those of the fills included;
- taking a few columns out of the best plan and covering what they held by a relaxation of its own, whose
  patterns hold no more copies than are left (a destroy-and-repair search, Shaw 1998, CP-98).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from nesting.packing.columns import (
    LARGER,
    MANY,
    Column,
    Cover,
    Maker,
    Task,
    covered,
    densest,
    without_surplus,
)
from nesting.packing.grid import Floats, Ints
from nesting.packing.master import Master
from nesting.packing.search import Search, Stop
from nesting.packing.whole import best_whole

__all__ = ["Covering"]

ROUNDS = 400
"""Most pricing rounds."""

RELAXED_SHARE = 0.6
"""Share of the budget for the relaxation; the rest is for whole numbers."""

SHAKES = 20
"""Fills of the rest with shaken values in one round of the search for whole numbers."""

MENDS = 10
"""Parts of the best plan that are covered anew in one round."""

MEND_ROUNDS = 60
"""Most pricing rounds for a part of the plan."""

MEND_PIECES = 150
"""Most pieces in a part of the plan that is covered anew."""

MEND_COLUMNS = (2, 9)
"""At least so many columns (with repetition) are covered anew together, and less than so many."""

IDLE_ROUNDS = 8
"""Rounds without a gain after which the search for whole numbers ends."""

HOPE = 0.998
"""Share of a known cost that the relaxation must come below for whole numbers to have a chance."""

MOST_WHOLE = 800
"""Most columns among which CP-SAT chooses."""

WHOLE_WORK = 1.0
"""Most work CP-SAT may spend at once on whole numbers, in its own deterministic seconds."""

MEND_WORK = 0.1
"""The same for a part of the plan."""


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
    known
        Cost of a plan that is known from elsewhere. The search ends when neither the relaxation nor a
        first round of whole numbers comes below it.
    least
        Cost of the cheapest stock, where patterns are whole pieces of stock.
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
        known: float = math.inf,
        least: float = 0.0,
    ) -> None:
        limits = tuple(MANY if limit is None else limit for limit in available)
        # What leaving out one copy costs: more than a plan can gain by it.
        shortfall = dearest * (1.0 + LARGER * areas / areas.max())
        self.task = Task(demand, limits, shortfall if min(limits) < MANY else None)
        self.makers = makers
        self.areas = areas
        self.round_bound = round_bound
        self.known = known
        self.least = least
        self._columns: list[Column] = []
        """What the first plans are made of."""

    def begin(self, search: Search[Cover]) -> None:
        """Offer two first plans to `search`, the first of them at once.

        Raises
        ------
        Stop
            When the budget is used up.
        """
        start = self._finish(self.task, [], self.areas)
        _offer(search, start)
        search.spend_or_stop(0)
        better = self._finish(self.task, [], self.areas, search)
        _offer(search, better)
        self._columns = [column for plan in (start, better) for column, _ in plan.chosen]

    def run(self, search: Search[Cover], columns: Sequence[Column] = ()) -> None:
        """Offer plans and bounds to `search` until it is over or nothing more helps.

        Parameters
        ----------
        search
            Is told of plans and bounds, and pays for the work.
        columns
            Those of a relaxation that was solved elsewhere, bound and all; then none are generated here.

        Raises
        ------
        Stop
            When the budget is used up.
        """
        if not self._columns:
            self.begin(search)
        if search.over or not self._columns:
            return
        master = Master(self.task)
        master.add(self._columns)
        master.add(columns)
        if columns:
            master.solve()
        else:
            self._relax(master, search)
        if not search.over and master.value < HOPE * self.known:
            self._round(master, search)

    # --- The relaxation ---------------------------------------------------------------------------------

    def _relax(self, master: Master, search: Search[Cover]) -> None:
        """Generate columns for the relaxation, and prove what its duals prove."""
        budget = search.child(RELAXED_SHARE)
        with suppress(Stop):
            _generate(
                master,
                ROUNDS,
                lambda: [column for maker in self.makers for column in maker.price(master.duals, budget)],
                budget,
            )
        master.solve()
        if not search.over:
            self.prove(master.duals, master.charges, search)

    def prove(self, duals: Floats, charges: Floats, search: Search[Cover]) -> None:
        """Farley's bound: duals scaled until no pattern is worth more than it costs.

        Parameters
        ----------
        duals, charges
            Value of a copy of each kind, and price of the limit on each stock.
        search
            Is told of the bound, and pays for the work.
        """
        worst = 1.0
        for maker in self.makers:
            ratio = maker.ratio(duals, float(charges[maker.stock]), search)
            if ratio is None:
                return
            worst = max(worst, ratio)
        paid = sum(
            float(charge) * count
            for charge, count in zip(charges, self.task.available, strict=True)
            if count < MANY
        )
        search.prove(self.round_bound(float(duals @ self.task.demand) / worst - paid))

    # --- Whole numbers ----------------------------------------------------------------------------------

    def _round(self, master: Master, search: Search[Cover]) -> None:
        """Search for whole numbers near the relaxation until nothing is gained any more."""
        # A kind with dual 0 comes along for nothing; it still wants to be placed.
        values = master.duals + 1e-6 * self.areas * max(master.duals.max(), 1e-9) / self.areas.max()
        relaxed = list(zip(master.columns, master.uses.tolist(), strict=True))
        _offer(search, self._finish(self.task, _whole_part(relaxed), values, search))
        rng = np.random.default_rng(search.seed)
        idle = 0
        while not search.over and idle < IDLE_ROUNDS:
            before = search.short, search.value
            found = best_whole(self.task, master.nearest(MOST_WHOLE), search.draft, WHOLE_WORK, search)
            if found is not None:
                _offer(search, self._closed(self.task, found))
            for shake in range(SHAKES):
                if search.over:
                    return
                noise = np.exp(rng.normal(0.0, 0.03 + 0.01 * shake, values.size))
                kept = relaxed if shake % 2 == 0 else _thinned(relaxed, rng)
                plan = self._finish(self.task, _whole_part(kept), values * noise, search)
                master.add(column for column, _ in plan.chosen)
                _offer(search, plan)
            for _ in range(MENDS):
                if search.over:
                    return
                self._mend(master, rng, search)
            idle = 0 if (search.short, search.value) < before else idle + 1
            if search.value >= self.known:
                return

    def _mend(self, master: Master, rng: np.random.Generator, search: Search[Cover]) -> None:
        """Take a few columns out of the best plan and cover what they held anew."""
        best = search.draft
        assert best is not None, "there must be a plan to mend"
        kept, taken = _split(best, master, rng)
        rest = self.task.demand - covered(kept, self.task.demand.size)
        stock = list(self.task.available)
        for column, repeats in kept:
            stock[column.maker.stock] -= repeats * column.takes
        task = replace(self.task, demand=rest, available=tuple(stock))
        makers = [maker for maker in self.makers if stock[maker.stock] > 0]
        part = Master(task)
        part.add(column for column, _ in taken)

        def fills() -> list[Column]:
            made = [maker.fill(part.duals, rest, search) for maker in makers]
            return [column for column in made if column is not None]

        _generate(part, MEND_ROUNDS, fills, search)
        part.solve()
        master.add(part.columns)
        relaxed = list(zip(part.columns, part.uses.tolist(), strict=True))
        plan = self._finish(task, _whole_part(relaxed), part.duals + 1e-9 * self.areas, search)
        _offer(search, Cover((*kept, *plan.chosen), plan.missing))
        found = best_whole(task, part.columns, plan, MEND_WORK, search)
        if found is not None:
            plan = self._closed(task, found)
            _offer(search, Cover((*kept, *plan.chosen), plan.missing))

    def _finish(
        self,
        task: Task,
        kept: list[tuple[Column, int]],
        values: Floats,
        search: Search[Cover] | None = None,
    ) -> Cover:
        """Keep some columns and fill the rest of the demand, the cheapest pattern per value first.

        Without a search the patterns are quick ones.
        """
        chosen = without_surplus(kept, task.demand, self.areas)
        left = task.demand - covered(chosen, task.demand.size)
        stock = list(task.available)
        for column, repeats in chosen:
            stock[column.maker.stock] -= repeats * column.takes
        while left.any():
            usable = [maker for maker in self.makers if stock[maker.stock] > 0]
            if search is None:
                made = [maker.quick(left) for maker in usable]
            else:
                made = [maker.fill(values, left, search) for maker in usable]
            fits = [column for column in made if column and column.takes <= stock[column.maker.stock]]
            best = densest(fits, values)
            if best is None:
                break
            best = self._last(fits, left, best)
            used = best.counts > 0
            most = stock[best.maker.stock] // best.takes
            repeats = min(int((left[used] // best.counts[used]).min()), most)
            assert repeats > 0, "a pattern holds more than was left"
            chosen.append((best, repeats))
            stock[best.maker.stock] -= repeats * best.takes
            left = left - best.counts * repeats
        return Cover(tuple(chosen), left)

    def _last(self, fits: Sequence[Column], left: Ints, best: Column) -> Column:
        """The cheapest column that holds all that is left, where the best one and one more cost as much."""
        whole = [column for column in fits if (column.counts == left).all()]
        last = min(whole, key=lambda column: column.cost, default=best)
        return last if last.cost <= best.cost + self.least else best

    def _closed(self, task: Task, chosen: list[tuple[Column, int]]) -> Cover:
        """The plan of some columns, without what they hold beyond the demand."""
        closed = without_surplus(chosen, task.demand, self.areas)
        return Cover(tuple(closed), task.demand - covered(closed, task.demand.size))


def _generate(master: Master, rounds: int, make: Callable[[], list[Column]], search: Search[Cover]) -> None:
    """Add columns that lower the value of the relaxation until none is made.

    Raises
    ------
    Stop
        When the budget is used up.
    """
    for _ in range(rounds):
        if not master.solve():
            return
        search.spend_or_stop(master.work)
        fresh = [column for column in make() if master.gains_by(column)]
        if not fresh:
            return
        master.add(fresh)


def _split(
    plan: Cover, master: Master, rng: np.random.Generator
) -> tuple[list[tuple[Column, int]], list[tuple[Column, int]]]:
    """Divide a plan into what is kept and a few columns, wasteful ones before others, that are not."""
    columns = [column for column, _ in plan.chosen]
    repeats = np.array([times for _, times in plan.chosen])
    waste = np.array([max(column.cost - float(master.duals @ column.counts), 0.0) for column in columns])
    # No column is safe for ever: the waste may lie in the others, which then hold what this one lacks.
    weights = waste + waste.mean() + 1e-9 * sum(column.cost for column in columns)
    taken = np.zeros(repeats.size, np.int64)
    pieces = 0
    wanted = int(rng.integers(*MEND_COLUMNS))
    for at in rng.choice(repeats.size, size=4 * wanted, p=weights / weights.sum()).tolist():
        held = int(columns[at].counts.sum())
        if taken[at] < repeats[at] and pieces + held <= MEND_PIECES:
            taken[at] += 1
            pieces += held
            if taken.sum() == wanted:
                break
    return (
        [(column, int(n)) for column, n in zip(columns, repeats - taken, strict=True) if n],
        [(column, int(n)) for column, n in zip(columns, taken, strict=True) if n],
    )


def _thinned(relaxed: list[tuple[Column, float]], rng: np.random.Generator) -> list[tuple[Column, float]]:
    """The relaxed solution with a random part of every repeat taken off."""
    shares = rng.random(len(relaxed)) ** 0.2
    return [(column, use * share) for (column, use), share in zip(relaxed, shares.tolist(), strict=True)]


def _whole_part(relaxed: list[tuple[Column, float]]) -> list[tuple[Column, int]]:
    """Whole repeats of a relaxed solution, rounded down."""
    return [(column, int(use + 1e-7)) for column, use in relaxed if use + 1e-7 >= 1]


def _offer(search: Search[Cover], plan: Cover) -> None:
    search.offer(plan.cost, plan, short=int(plan.missing.sum()))
