"""Which slabs are glued up from parts: chosen so that blocks and gluing together cost least.

The relaxation has, besides the patterns, a column for every way to make a piece: it costs the gluing,
gives one copy of the piece and takes one of each part (the conversions of one cut size into others in
Gilmore and Gomory 1961, Operations Research 9(6): 849-859, run the other way). Farley's bound (1990,
Operations Research 38(5): 922-923) holds with them: with what a copy of each kind is worth by the scaled
duals, a piece is worth no more than the cheapest way to make it. So the bound holds for every choice.

Whole numbers come from the relaxation, rounded; from CP-SAT over patterns and ways together; and for every
choice of ways the plain search of blocks plans what is then to be cut. Of plans of one cost the one with
fewest joints and recipes is taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from nesting.packing.block.glue_whole import best_ways
from nesting.packing.block.grid import stocks_of
from nesting.packing.block.recipes import GluePlan, Ways, Widened
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import LARGER, MANY, Column, Cover, Maker, Task
from nesting.packing.grid import Floats, Ints, Kinds
from nesting.packing.master import Master
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search, Stop

__all__ = ["search_glued"]

FIRST_SHARE = 0.4
"""Share of the budget for the plan with the fewest joints."""

RELAXED_SHARE = 0.5
"""Share of what is left then for the relaxation."""

PLAIN_SHARE = 0.3
"""Share of what is left for planning the blocks of one choice of ways."""

LAST_SHARE = 0.85
"""Share of the budget before joints are made fewer at the same cost."""

SMOOTH = 0.5
"""Weight of the best prices so far against the duals."""

ROUNDS = 300
"""Most pricing rounds."""

MIXES = (1.0, 0.7, 0.4, 0.2)
"""Shares of the gluing of the relaxation that are tried."""

CHOICES = 5
"""Most choices of ways by CP-SAT."""

JOINT = 1e-5
"""Preference against a joint in the relaxation, in blocks of the dearest kind."""

MOST_COLUMNS = 600
"""Most patterns among which CP-SAT chooses."""


@dataclass(frozen=True, slots=True, eq=False)
class Prices:
    """What a copy of each kind is worth, and what a piece of each stock costs beyond its cost."""

    values: Floats
    charges: Floats

    def towards(self, other: Prices, share: float) -> Prices:
        """Prices between these and others."""
        rest = 1.0 - share
        return Prices(rest * self.values + share * other.values, rest * self.charges + share * other.charges)

    def ratio(self, column: Column) -> float:
        """Worth of a pattern over its cost and charge."""
        cost = column.cost + float(self.charges[column.maker.stock])
        return float(self.values @ column.counts) / cost


class Makers(Protocol):
    """Gives all makers of patterns for some kinds."""

    def __call__(self, problem: BlockProblem, kinds: Kinds) -> list[Maker]: ...


Plain = Callable[[BlockProblem, Kinds, Search[Any], list[Column]], None]
"""The search of blocks for a plain demand; it notes the patterns it prices."""


def search_glued(problem: BlockProblem, search: Search[GluePlan], makers: Makers, plain: Plain) -> None:
    """Search for cheap plans of slabs, some of which may be glued up; plans and bounds go to `search`.

    Parameters
    ----------
    problem
        Every piece can be made in some way.
    search
        Takes drafts, whose value is the cost of blocks and gluing, and bounds.
    makers, plain
        How blocks are cut where nothing is glued.
    """
    gluing = _Gluing(problem, Ways(problem), search, makers, plain)
    gluing.prove_volume()
    copies = gluing.ways.simplest()
    gluing.plan(copies, FIRST_SHARE)
    if search.over:
        return
    with suppress(Stop):
        gluing.choose(search.child(LAST_SHARE))
    gluing.spare_joints()


class _Gluing:
    """One search: the ways, the patterns seen so far, the best plan."""

    def __init__(
        self, problem: BlockProblem, ways: Ways, search: Search[GluePlan], makers: Makers, plain: Plain
    ) -> None:
        self._problem, self._search = problem, search
        self._makers, self._plain = makers, plain
        self._best: GluePlan | None = None
        limits = [block.available for block in problem.blocks]
        self._available = tuple(MANY if limit is None else limit for limit in limits)
        self._dearest = max(block.cost for block in problem.blocks)
        self.ways = ways
        self.areas: Floats = np.array([float(kind.volume) for kind in ways.kinds])
        shortfall = self._dearest * (1.0 + LARGER * self.areas / self.areas.max())
        nothing = np.zeros(len(ways.kinds), np.int64)
        self.task = Task(nothing, self._available, shortfall if min(self._available) < MANY else None)
        self.pool: dict[tuple[int, float, bytes], Column] = {}
        self.tried: set[bytes] = set()

    # --- Bounds -----------------------------------------------------------------------------------------

    def prove_volume(self) -> None:
        """A first bound: every piece in the way that takes least volume, and the cheapest gluing."""
        stocks = [
            stock for stock in stocks_of(self._problem) if self._available[stock.index] and stock.volume
        ]
        if not stocks:
            return
        volume, glue = self.ways.need @ self.areas, np.array([way.cost for way in self.ways.ways])
        total = gluing = 0.0
        for piece, wanted in enumerate(self.ways.wanted.tolist()):
            mine = self.ways.of_piece(piece)
            total += wanted * float(volume[mine].min())
            gluing += wanted * float(glue[mine].min())
        limits = [block.available for block in self._problem.blocks]
        blocks = stock_bound(
            total,
            [stock.volume for stock in stocks],
            [stock.cost for stock in stocks],
            [limits[stock.index] for stock in stocks],
        )
        self._search.prove(blocks + gluing)

    def _bound(self, prices: Prices, worst: float) -> float:
        """Farley's bound over all ways, when no pattern is worth more than `worst` times its cost."""
        paid = sum(
            float(charge) * count
            for charge, count in zip(prices.charges, self._available, strict=True)
            if count < MANY
        )
        worth = self.ways.cheapest(prices.values / max(1.0, worst))
        return float(worth @ self.ways.wanted) - paid

    def _prove(self, prices: Prices, makers: Sequence[Maker], search: Search[Any]) -> None:
        """Prove Farley's bound, if all makers can tell what their best pattern is worth."""
        worst = 1.0
        for maker in makers:
            ratio = maker.ratio(prices.values, float(prices.charges[maker.stock]), search)
            if ratio is None:
                return
            worst = max(worst, ratio)
        bound = self._bound(prices, worst)
        if not any(way.cost for way in self.ways.ways):
            bound = rounded_cost([block.cost for block in self._problem.blocks])(bound)
        self._search.prove(bound)

    # --- Choosing ---------------------------------------------------------------------------------------

    def choose(self, search: Search[Any]) -> None:
        """Solve the relaxation, choose ways by it, and plan the blocks of each choice.

        Raises
        ------
        Stop
            When the budget is used up.
        """
        makers = self._makers(self._problem, self.ways.kinds)
        master, prices = self._relaxed(makers, search.child(RELAXED_SHARE))
        self._prove(prices, makers, search)
        if search.used_up or self._search.proved:
            return
        self._keep(master.nearest(MOST_COLUMNS))
        # Fewer copies glued than the relaxation would glue may do as well.
        simplest = self.ways.simplest()
        for mix in MIXES:
            self._try(self.ways.rounded(mix * master.shares + (1.0 - mix) * simplest), search)
        for _ in range(CHOICES):
            found = best_ways(self.ways, self.pool.values(), self._available, self._best, search)
            if found is None:
                break
            self._offer(found)
            if not self._try(found.copies, search):
                break
        if self._best is not None and not search.over:
            self.plan(self._best.copies, 1.0, search)

    def _try(self, copies: Ints, search: Search[Any]) -> bool:
        """Plan the blocks of one choice of ways, unless that was done or all is over."""
        if copies.tobytes() in self.tried or search.used_up or self._search.proved:
            return False
        self.plan(copies, PLAIN_SHARE, search)
        return True

    def _relaxed(self, makers: Sequence[Maker], search: Search[Any]) -> tuple[_WayMaster, Prices]:
        """The relaxation of all ways, and the prices that promise the best bound.

        Patterns are priced half-way between the duals and the best prices so far, which needs far fewer
        rounds than the duals alone, for these leap about (Wentges 1997, International Transactions in
        Operational Research 4(2): 151-162).
        """
        master = _WayMaster(self.task, self.ways, JOINT * self._dearest)
        master.add(self.pool.values())
        # Every kind needs a pattern to begin with.
        left = np.array([kind.quantity for kind in self.ways.kinds], np.int64)
        while left.any():
            made = [column for maker in makers if (column := maker.quick(left)) is not None]
            if not made:
                break
            master.add(made)
            left[np.any([column.counts > 0 for column in made], axis=0)] = 0
        best, centre = -math.inf, None
        smooth = SMOOTH
        with suppress(Stop):
            for _ in range(ROUNDS):
                if not master.solve():
                    break
                search.spend_or_stop(master.work)
                prices = duals = Prices(master.duals, master.charges)
                if centre is not None and smooth:
                    prices = duals.towards(centre, smooth)
                made = [column for maker in makers for column in maker.price(prices.values, search)]
                bound = self._bound(prices, max((prices.ratio(column) for column in made), default=1.0))
                if bound > best:
                    best, centre = bound, prices
                fresh = [column for column in made if master.gains_by(column)]
                master.add(fresh)
                if not fresh and not smooth:
                    break
                smooth = SMOOTH if fresh else 0.0
        master.solve()
        return master, centre or Prices(master.duals, master.charges)

    def plan(self, copies: Ints, share: float, search: Search[Any] | None = None) -> None:
        """Plan the blocks of one choice of ways with a share of what a search has left."""
        search = search or self._search
        glue = self.ways.cost(copies)

        def take(value: float, cover: Cover) -> None:
            del value
            wide = widened.cover(cover)
            self._keep(column for column, _ in wide.chosen)
            self._offer(GluePlan.of(self.ways, copies, wide, self.areas))

        widened = Widened(self.ways.demand(copies))
        self.tried.add(copies.tobytes())
        child = search.child(share, take)
        # What is proved for every choice is proved for this one.
        child.prove(self._search.bound - glue)
        seen: list[Column] = []
        with suppress(Stop):
            self._plain(self._problem, widened.needed, child, seen)
        self._keep(map(widened.column, seen))

    def _keep(self, columns: Any) -> None:
        for column in columns:
            self.pool.setdefault(column.signature, column)

    def _offer(self, plan: GluePlan) -> None:
        """Hand a plan up; of plans as good as the best, the one with least trouble is taken."""
        search = self._search
        before = self._best
        if search.offer(plan.cost, plan, plan.short):
            self._best = plan
        elif (
            before is not None
            and plan.short == before.short
            and plan.cost <= before.cost + search.tolerance
            and plan.trouble < before.trouble
        ):
            # It is as cheap and less trouble to glue, which the search does not know of.
            search.draft = self._best = plan

    def spare_joints(self) -> None:
        """Look for fewer joints and recipes at the cost of the best plan."""
        best = self._best
        if best is not None and best.trouble > self.ways.trouble(self.ways.simplest()):
            found = best_ways(
                self.ways, self.pool.values(), self._available, best, self._search, cheaper=False
            )
            if found is not None:
                self._offer(found)


class _WayMaster(Master):
    """The relaxation with a column for every way to make a piece.

    Attributes
    ----------
    shares
        Copies made in each way by the last solution.
    """

    def __init__(self, task: Task, ways: Ways, joint: float) -> None:
        super().__init__(task)
        infinity = self._solver.infinity()
        wanted = [self._solver.Constraint(float(count), infinity) for count in ways.wanted]
        self._copies: list[Any] = []
        for way in ways.ways:
            copy = self._solver.NumVar(0.0, infinity, "")
            self._solver.Objective().SetCoefficient(copy, way.cost + joint * way.joints)
            wanted[way.piece].SetCoefficient(copy, 1.0)
            for kind in np.flatnonzero(way.need).tolist():
                self._rows[kind].SetCoefficient(copy, -float(way.need[kind]))
            self._copies.append(copy)
        self.shares: Floats = np.zeros(len(ways.ways))

    def solve(self) -> bool:
        """Solve anew; whether that worked."""
        if not super().solve():
            return False
        self.shares = np.array([copy.solution_value() for copy in self._copies])
        return True
