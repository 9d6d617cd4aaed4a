"""`pack_bars`: the cheapest bars for given lengths, from a quick plan to a proven one."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from nesting.packing.linear.exact import cover, settle
from nesting.packing.linear.relax import material_bound, relax
from nesting.packing.linear.task import (
    BarPattern,
    BarPlan,
    Ints,
    Pattern,
    StockBar,
    Stopped,
    Task,
    check,
    whole_costs,
)
from nesting.packing.linear.whole import Draft, dive, fill_greedily, first_fit
from nesting.packing.search import Search

__all__ = ["pack_bars"]

DIVES = 40
"""Most dives; each starts from the same relaxation and decides differently somewhere near its start."""

DIVE_DEPTH = 3
"""First decisions of a dive that may differ from the most obvious one."""

FEW_PATTERNS, MANY_PATTERNS = 1_000, 10_000
"""Patterns of all better plans so many that the question whether there is one is settled at once, and so
many that it is settled at all, after a few dives."""

FIRST_DIVES = 4
"""How many dives that is."""

MOST_NODES = 5_000
"""Nodes of the search tree spent on settling it."""

KNOWN_NODES = 50
"""Nodes of the search tree spent on the patterns met so far."""

TOO_LONG = "longer than every bar"
RUN_OUT = "the bars that are long enough run out"


def pack_bars(
    bars: Sequence[StockBar],
    lengths: Sequence[int],
    demand: Sequence[int],
    kerf: int = 0,
    search: Search[Any] | None = None,
) -> BarPlan:
    """Cut pieces from bars of least total cost (multiple stock-size cutting stock in one dimension).

    A first fit decreasing plan comes first, so there is a complete plan at once; then the linear
    relaxation with its bound and a dive from it. Then the patterns of all plans better than the best
    are listed, and where they are few the question is settled over them; where they are many, further
    dives end by settling what they leave. The search ends when a plan meets the bound.

    Parameters
    ----------
    bars
        Stock on offer; lengths in grid steps.
    lengths, demand
        Of each piece: length in grid steps and quantity. Pieces of equal length are better merged by
        the caller, but need not be.
    kerf
        Lost between two pieces, grid steps; none beyond the last.
    search
        Pays for the work; when it is used up, the best plan so far is returned. None: no limit.

    Returns
    -------
    BarPlan
        The same for the same input, unless a time limit ends the search. Where bars run out, pieces are left
        out, shorter ones rather than longer; leaving one out counts for more than ten bars.

    Raises
    ------
    ProblemError
        When a figure makes no sense, naming the bar or piece by its index.

    Examples
    --------
    Three pieces of 1785 in a bar of 5400 with a kerf of 10: 3 x 1785 + 2 x 10 = 5375.

    >>> plan = pack_bars([StockBar(5400)], [1785], [7], kerf=10)
    >>> plan.cost, plan.bound, plan.stopped
    (3.0, 3.0, 'proved')
    """
    check(bars, lengths, demand, kerf)
    search = search or Search()
    unit, costs = whole_costs([bar.cost for bar in bars])
    sizes, wanted = np.array(lengths, np.int64), np.array(demand, np.int64)
    longest = max((bar.length for bar in bars if bar.available != 0), default=0)
    fits = sizes <= longest
    missing = {
        i: (demand[i], TOO_LONG if lengths[i] > max(bar.length for bar in bars) else RUN_OUT)
        for i in np.flatnonzero(~fits & (wanted > 0)).tolist()
    }
    kept = np.flatnonzero(fits & (wanted > 0))
    if not kept.size:
        return BarPlan((), 0.0, 0.0, missing, "proved")
    task = Task.of(bars, costs, sizes[kept], wanted[kept], kerf)
    draft, bound = _search(task, Counter(), search)
    if draft.short.any():
        # What is placed is settled; now place that as cheaply as possible, with a bound of its own.
        for i, count in zip(kept.tolist(), draft.short.tolist(), strict=True):
            if count:
                missing[i] = (count, RUN_OUT)
        task = task.rest(task.demand - draft.short, task.limits)
        draft, bound = _search(task, draft.bars, search)
    cost = math.fsum(bars[pattern.bar].cost * times for pattern, times in draft.bars.items())
    lower = min(float(bound * unit), cost)
    stopped: Stopped = "proved" if math.isclose(lower, cost) else "time" if search.out_of_time else "effort"
    return BarPlan(_written(draft, kept, len(lengths)), cost, lower, missing, stopped)


def _written(draft: Draft, kept: Ints, pieces: int) -> tuple[BarPattern, ...]:
    """The bars with counts for all pieces, those cut most often first."""
    patterns = []
    for pattern, times in sorted(
        draft.bars.items(), key=lambda item: (-item[1], item[0].bar, item[0].counts)
    ):
        counts = np.zeros(pieces, np.int64)
        counts[kept] = pattern.counts
        patterns.append(BarPattern(pattern.bar, tuple(counts.tolist()), times))
    return tuple(patterns)


def _search(task: Task, start: Counter[Pattern], search: Search[Any]) -> tuple[Draft, int]:
    """Best plan found for a task, and the bound proven on its cost (both in whole cost units)."""
    best = min(Draft.of(task, start), Draft.of(task, first_fit(task)), key=lambda draft: draft.cost)
    bound = material_bound(task)

    def offer(bars: Counter[Pattern] | None) -> bool:
        """Keep a plan if it is better; tell whether the search is over."""
        nonlocal best
        if bars is not None:
            best = min(best, Draft.of(task, bars), key=lambda draft: draft.cost)
        return best.cost <= bound or search.used_up

    if offer(None) or offer(fill_greedily(task, task.sizes, search)):
        return best, bound
    relaxation = relax(task, list(best.bars), search)
    bound = max(bound, relaxation.bound)
    if offer(None):
        return best, bound
    known = dict.fromkeys(relaxation.patterns)
    for plan in dive(task, relaxation, best.cost, search):
        known |= dict.fromkeys(plan)
        if offer(plan):
            return best, bound
    relaxation = relax(task, list(known), search, converge=True)
    bound = max(bound, relaxation.bound)
    if offer(None):
        return best, bound

    def settled(most: int) -> bool:
        """Settle whether there is a better plan, if few patterns can be in it; tell whether all is over."""
        nonlocal bound
        found = settle(task, relaxation.dual, bound, best.cost, most, MOST_NODES, search)
        bound = found.bound
        return offer(found.plan)

    if settled(FEW_PATTERNS):
        return best, bound
    for number, ranks in enumerate(itertools.islice(_discrepancies(), DIVES)):
        if number == FIRST_DIVES and settled(MANY_PATTERNS):
            break
        for plan in dive(task, relaxation, best.cost, search, ranks, thorough=True):
            known |= dict.fromkeys(plan)
            if offer(plan):
                return best, bound
        if number == 0:
            short = np.flatnonzero(best.short).tolist()
            if offer(cover(task, known, short, (bound, best.cost - 1), KNOWN_NODES, search).plan):
                break
    return best, bound


def _discrepancies() -> Iterator[tuple[int, ...]]:
    """Ranks for the first decisions of one dive after another.

    Small deviations come first, and early ones before late ones, for the first decisions are made on
    the least knowledge: a deviation counts as its rank times its place.
    """
    for total in itertools.count():
        for ranks in itertools.product(range(total, -1, -1), repeat=DIVE_DEPTH):
            if sum(rank * place for place, rank in enumerate(ranks, start=1)) == total:
                yield ranks
