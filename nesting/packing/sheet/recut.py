"""Cutting sheets anew: some or all sheets of a plan are taken apart, and their pieces go onto cheaper ones.

This is what makes plans of few sheets good, and the last sheets of plans of many; the bulk of a large
order is for patterns (`nesting.packing.columns`). The search has a goal: the sheets may cost less than
before, whatever has no place is left out, and that is to become nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.packing.bounds import stock_bound
from nesting.packing.columns import LARGER, MANY, Column, Cover
from nesting.packing.grid import Ints
from nesting.packing.problem import Stages
from nesting.packing.search import Search
from nesting.packing.sheet import kernels
from nesting.packing.sheet.makers import SheetGrid, Stock
from nesting.packing.sheet.splits import SplitMaker, columns_of

__all__ = ["Recut"]

MOST_COPIES = 400
"""Most pieces that are cut anew at once."""

CHUNK = 500_000
"""Work between two looks at the budget: about a hundredth of a second."""

CYCLE = 20_000_000
"""Work in which the temperature falls once from the highest to the lowest; then it starts again."""

HOTTEST, COLDEST = 0.05, 0.005
"""Temperatures, as shares of the mean weight of a piece."""

ROUND = 40_000_000
"""Work on one choice of sheets of a plan that is too large to be cut anew as a whole."""

PATIENCE = 3e9
"""Work without a better plan after which the search ends, over the number of sheets in the plan: one
sheet of five is worth a longer search than one of five hundred."""

ANY_DEPTH = 2**30
"""Stages of cuts where they are not limited."""


@dataclass(frozen=True, slots=True)
class _Choice:
    """A part of a plan that is to be cut anew.

    Parameters
    ----------
    kept
        The sheets that stay.
    short
        Copies of each kind that stay missing.
    counts
        Copies of each kind that are to be cut.
    missing
        How many of them have no place now.
    cost
        What the others cost now.
    """

    kept: tuple[tuple[Column, int], ...]
    short: Ints
    counts: Ints
    missing: int
    cost: float


class Recut:
    """Cuts sheets of a plan anew.

    Parameters
    ----------
    grid
        The pieces.
    stocks
        Sheets that may be used.
    available
        How many there are of each sheet of the problem; None: no limit.
    stages
        As in the problem; free placement is cut like ``"any"``.
    """

    def __init__(
        self, grid: SheetGrid, stocks: Sequence[Stock], available: Sequence[int | None], stages: Stages
    ) -> None:
        self._grid, self._stocks = grid, stocks
        self._available = [MANY if (most := available[s.index]) is None else most for s in stocks]
        self._makers = [SplitMaker(grid, stock) for stock in stocks]
        self._rooms = np.array([[*s.extent[:2], 0] for s in stocks], np.int64)
        self._costs = np.array([stock.cost for stock in stocks])
        self._deepest = stages if isinstance(stages, int) else ANY_DEPTH
        self._either = stages not in (2, 3)
        first = grid.start[:-1]
        dx, dy = grid.dx[first], grid.dy[first]
        self._keys = np.array([grid.area, np.maximum(dx, dy), dx, dy], np.float64)

    @property
    def whole(self) -> bool:
        """Whether the whole demand can be cut anew at once."""
        return int(self._grid.demand.sum()) <= MOST_COPIES

    def run(self, search: Search[Cover]) -> None:
        """Improve the draft of `search` until the search is over or patience is at an end."""
        rng = np.random.default_rng(search.seed)
        idle = 0
        turns = 0
        while not search.over and search.draft is not None:
            plan = search.draft
            sheets = sum(times for _, times in plan.chosen)
            patience = PATIENCE / max(sheets, 1)
            if idle >= patience:
                return
            most = patience - idle if self.whole else min(ROUND, patience - idle)
            work, better = self._recut(self._choose(plan, rng, turns), most, search)
            idle = 0 if better else idle + work
            turns += 1

    def _choose(self, plan: Cover, rng: np.random.Generator, turn: int) -> _Choice:
        """The emptiest sheets, at later turns some others in their place, up to `MOST_COPIES` pieces."""
        area = self._grid.area.astype(np.float64)
        fills = {
            at: float(area @ column.counts) / column.cost * (rng.random() if turn else 1.0)
            for at, (column, _) in enumerate(plan.chosen)
        }
        kept = [times for _, times in plan.chosen]
        # Half of the room is for what is missing, and half for what may make way for it.
        before = np.cumsum(plan.missing) - plan.missing
        counts = np.clip(MOST_COPIES // 2 - before, 0, plan.missing)
        missing, short = int(counts.sum()), plan.missing - counts
        cost = 0.0
        for at in sorted(fills, key=lambda at: fills[at]):
            column, times = plan.chosen[at]
            taken = min(times, (MOST_COPIES - int(counts.sum())) // int(column.counts.sum()))
            if taken <= 0:
                continue
            kept[at] -= taken
            counts += taken * column.counts
            cost += taken * column.cost
        staying = tuple(
            (column, times) for (column, _), times in zip(plan.chosen, kept, strict=True) if times
        )
        return _Choice(staying, short, counts, missing, cost)

    def _task(self, choice: _Choice, *, complete: bool) -> kernels.Task:
        """The choice for the kernels; when it cannot be complete, every piece counts nearly alike."""
        grid = self._grid
        rooms = self._rooms.copy()
        left = {stock.index: most for stock, most in zip(self._stocks, self._available, strict=True)}
        for column, times in choice.kept:
            left[column.maker.stock] -= times
        rooms[:, 2] = [left[stock.index] for stock in self._stocks]
        area = np.maximum(grid.area, 1).astype(np.float64)
        return kernels.Task(
            np.repeat(np.arange(grid.demand.size), choice.counts),
            grid.start,
            grid.dx,
            grid.dy,
            self._keys,
            area / area.max() if complete else 1.0 + LARGER * area / area.max(),
            rooms,
            self._costs,
            grid.kerf,
            self._deepest,
            self._either,
        )

    def _recut(self, choice: _Choice, most: float, search: Search[Cover]) -> tuple[int, bool]:
        """Search for a better way to cut a choice; the work, and whether one was found."""
        complete = choice.missing == 0
        task = self._task(choice, complete=complete)
        if task.kind.size == 0:
            return ROUND, False
        plan = kernels.Plan.empty(task.kind.size, len(self._stocks))
        best = kernels.Plan.empty(task.kind.size, len(self._stocks))
        heat = float(task.weight[task.kind].mean())
        cost = choice.cost
        area = float(self._grid.area.astype(np.float64) @ choice.counts)
        rooms = [float(room[0]) * room[1] for room in task.room]
        least = stock_bound(area, rooms, self._costs.tolist(), task.room[:, 2].tolist())
        work = 0
        since = 0
        found = False
        while work < most and not search.over:
            limit = cost - 2 * search.tolerance if complete else np.inf
            if complete and least > limit:
                return (work if found else ROUND), found
            share = since % CYCLE / CYCLE
            done = kernels.improve(
                task,
                plan,
                best,
                limit,
                heat * HOTTEST * (COLDEST / HOTTEST) ** share,
                CHUNK,
                search.random,
            )
            search.spend(done)
            work += done
            since += done
            short = int(best.sizes[kernels.OUT])
            if short == 0 or (not complete and short < choice.missing):
                found = self._offer(choice, task, best, search) or found
                if not complete:
                    return work, found
                cost = float(self._costs @ plan.used)
                since = 0
                self._cheapen(task, plan, cost - 2 * search.tolerance)
                kernels.copy_plan(plan, best)
        return work, found

    def _cheapen(self, task: kernels.Task, plan: kernels.Plan, limit: float) -> None:
        """Take the emptiest sheets away until the others cost no more than `limit`."""
        while float(self._costs @ plan.used) > limit:
            held: dict[int, float] = {}
            for copy, leaf in enumerate(plan.leaf.tolist()):
                root = leaf
                while root != kernels.NONE and plan.tree[root, kernels.PARENT] != kernels.NONE:
                    root = int(plan.tree[root, kernels.PARENT])
                if root != kernels.NONE:
                    held[root] = held.get(root, 0.0) + float(task.weight[task.kind[copy]])
            cost = {root: float(self._costs[plan.tree[root, kernels.PIECE]]) for root in held}
            kernels.remove(task, plan, min(held, key=lambda root: held[root] / cost[root]))

    def _offer(self, choice: _Choice, task: kernels.Task, plan: kernels.Plan, search: Search[Cover]) -> bool:
        """Offer the plan with the new sheets in it."""
        out = task.kind[plan.lists[kernels.OUT, : plan.sizes[kernels.OUT]]]
        missing = np.bincount(out, minlength=self._grid.demand.size).astype(np.int64)
        missing += choice.short
        cover = Cover((*choice.kept, *columns_of(task, plan, self._makers)), missing)
        return search.offer(cover.cost, cover, short=int(missing.sum()))
