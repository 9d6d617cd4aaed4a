"""Cutting sheets anew: some or all sheets of a plan are taken apart, and their pieces go onto cheaper ones.

This is what makes plans of few sheets good, and the last sheets of plans of many; the bulk of a large
order is for patterns (`nesting.packing.columns`). The search has a goal: the sheets may cost less than
before, whatever has no place is left out, and that is to become nothing.
"""

from __future__ import annotations

import numpy as np

from nesting.packing.bounds import stock_bound
from nesting.packing.columns import Cover
from nesting.packing.search import Search
from nesting.packing.sheet import kernels, nodes
from nesting.packing.sheet.cutter import Choice, Cutter
from nesting.packing.sheet.squeeze import squeeze

__all__ = ["CHUNK", "recut"]

CHUNK = 500_000
"""Work between two looks at the budget: about a hundredth of a second."""

CYCLE = 20_000_000
"""Work in which the temperature falls once from the highest to the lowest; then it starts again."""

HOTTEST, COLDEST = 0.05, 0.005
"""Temperatures, as shares of the mean weight of a piece."""

ROUND = 40_000_000
"""Work on one choice of sheets of a plan that is too large to be cut anew as a whole."""

PATIENCE = 1e10
"""Work without a better plan after which the search ends, over the number of sheets in the plan: one
sheet of five is worth a longer search than one of five hundred. It is one round at least."""


def recut(cutter: Cutter, search: Search[Cover], deepest: int | None = None) -> None:
    """Improve the draft of `search` until the search is over or patience is at an end.

    With `deepest` new cuts are made in no more than so many stages.
    """
    rng = np.random.default_rng(search.seed)
    idle = 0
    shake = None
    while not search.over and search.draft is not None:
        plan = search.draft
        patience = max(ROUND, PATIENCE / max(1, sum(times for _, times in plan.chosen)))
        if idle >= patience:
            return
        most = patience - idle if cutter.whole else min(ROUND, patience - idle)
        work, better = _recut(cutter, cutter.choose(plan, shake), deepest, most, search)
        idle = 0 if better else idle + work
        shake = None if better else rng


def _recut(
    cutter: Cutter, choice: Choice, deepest: int | None, most: float, search: Search[Cover]
) -> tuple[int, bool]:
    """Search for a better way to cut a choice; the work, and whether one was found."""
    task = cutter.task(choice, deepest)
    complete = not choice.missing
    cost = choice.cost
    least = stock_bound(
        float(cutter.grid.area.astype(np.float64) @ choice.counts),
        [float(room[0]) * room[1] for room in task.room],
        task.costs.tolist(),
        task.room[:, 2].tolist(),
    )
    plan = cutter.load(choice, task)
    best = nodes.Plan.empty(task.kind.size, task.costs.size)
    heat = float(task.weight[task.kind].mean()) if task.kind.size else 0.0
    work = 0
    since = 0
    found = False
    while work < most and not search.over:
        limit = np.inf
        if complete:
            limit = cost - 2 * search.tolerance
            if least > limit:
                # Hopeless, and found out in no time: as much as a round, so that rounds come to an end.
                return max(work, ROUND), found
            _cheapen(task, plan, limit)
        if since == 0:
            nodes.copy_plan(plan, best)
        fall = (COLDEST / HOTTEST) ** (since % CYCLE / CYCLE)
        done = kernels.improve(task, plan, best, limit, heat * HOTTEST * fall, CHUNK, search.random)
        search.spend(done)
        work += done
        since += done
        if best.sizes[nodes.OUT] < (1 if complete else choice.missing):
            cover = cutter.cover(choice, task, best)
            found = search.offer(cover.cost, cover, short=int(cover.missing.sum())) or found
            if not complete:
                return work, found
            cost = float(task.costs @ best.used)
            since = 0
        elif complete and squeeze(cutter, choice, task, plan, search):
            return work, True
    return work, found


def _cheapen(task: nodes.Task, plan: nodes.Plan, limit: float) -> None:
    """Take the emptiest sheets away until the others cost no more than `limit`."""
    while float(task.costs @ plan.used) > limit:
        held: dict[int, float] = {}
        for copy, leaf in enumerate(plan.leaf.tolist()):
            root = leaf
            while root != nodes.NONE and plan.tree[root, nodes.PARENT] != nodes.NONE:
                root = int(plan.tree[root, nodes.PARENT])
            if root != nodes.NONE:
                held[root] = held.get(root, 0.0) + float(task.weight[task.kind[copy]])
        costs = {root: float(task.costs[plan.tree[root, nodes.PIECE]]) for root in held}
        nodes.remove(task, plan, min(held, key=lambda root: held[root] / costs[root]))
