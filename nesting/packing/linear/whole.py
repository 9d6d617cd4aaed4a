"""From the relaxation to whole numbers of bars: greedy filling and diving."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from nesting.packing.linear.exact import settle
from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.relax import Relaxation, relax
from nesting.packing.linear.task import Ints, Pattern, Task
from nesting.packing.search import Search

__all__ = ["Draft", "dive", "fill_greedily", "first_fit"]

SHARE_NOISE = 1e-6
"""Float noise of how often the relaxation uses a pattern."""

FILL_STEPS, PIECE_STEPS = 5_000, 150
"""Elementary steps reckoned for filling one bar, and for each piece to choose from."""

FILL_STATES = 2_000
"""States kept in filling one bar: a good fill will do there, for better plans come from dives."""

REST_PATTERNS = 3_000
"""Most patterns of the rest of a dive for which the rest is settled."""

REST_NODES = 30
"""Nodes of the search tree spent on that."""

Fill = Callable[[int, Task], Ints]
"""Chooses what to cut from the bar of the given index, within the demand of the task."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A plan in whole numbers.

    Parameters
    ----------
    bars
        How many bars are cut in each way.
    short
        How many of each piece are left out.
    cost
        Cost of the bars and of what is left out, in whole units.
    """

    bars: Counter[Pattern]
    short: Ints
    cost: int

    @classmethod
    def of(cls, task: Task, bars: Counter[Pattern]) -> Draft:
        """Make a plan for the demand of `task` from bars that may yield more than is wanted.

        Bars that yield nothing wanted are left out; a bar cut short is changed for the cheapest that
        still holds the rest.
        """
        left, spare = task.demand.copy(), task.limits.copy()
        for pattern, times in bars.items():
            spare[pattern.bar] -= times
        cheapest_first = np.argsort(task.costs, kind="stable").tolist()
        trimmed: Counter[Pattern] = Counter()
        for pattern, times in sorted(
            bars.items(), key=lambda item: (-item[0].bar, item[0].counts), reverse=True
        ):
            more = times
            while more > 0:
                counts = np.minimum(pattern.array, left)
                if not counts.any():
                    break
                often = min(more, _times(counts, left))
                used = counts @ task.sizes
                for k in cheapest_first:
                    if k == pattern.bar or (task.rooms[k] >= used and spare[k] >= often):
                        break
                spare[pattern.bar] += often
                spare[k] -= often
                trimmed[Pattern.of(k, counts)] += often
                left -= counts * often
                more -= often
        cost = sum(int(task.costs[pattern.bar]) * times for pattern, times in trimmed.items())
        return cls(trimmed, left, cost + int(left @ task.shortfall_costs))


def _times(counts: Ints, left: Ints) -> int:
    """How often a pattern can be cut before some piece runs out."""
    used = counts > 0
    return int((left[used] // counts[used]).min())


def _fill(task: Task, fill: Fill) -> Counter[Pattern]:
    """Cut bar after bar, each time the one that holds most for its cost, until nothing more fits."""
    bars: Counter[Pattern] = Counter()
    left = task.rest(task.demand.copy(), task.limits.copy())
    while left.demand.any():
        best: tuple[float, int, Ints] | None = None
        for k in np.flatnonzero(left.limits > 0).tolist():
            counts = fill(k, left)
            rate = float(counts @ task.sizes) / float(task.costs[k])
            if rate > 0 and (best is None or rate > best[0]):
                best = (rate, k, counts)
        if best is None:
            break
        _, k, counts = best
        times = min(_times(counts, left.demand), int(left.limits[k]))
        bars[Pattern.of(k, counts)] += times
        left.demand[:] -= counts * times
        left.limits[k] -= times
    return bars


def _longest_first(k: int, left: Task) -> Ints:
    room = int(left.rooms[k])
    counts = np.zeros(left.sizes.size, np.int64)
    for i in np.argsort(-left.sizes, kind="stable").tolist():
        counts[i] = min(int(left.demand[i]), room // int(left.sizes[i]))
        room -= int(counts[i] * left.sizes[i])
    return counts


def first_fit(task: Task) -> Counter[Pattern]:
    """First fit decreasing: each bar takes the longest piece that still fits, again and again."""
    return _fill(task, _longest_first)


def fill_greedily(task: Task, values: Ints, search: Search[Any]) -> Counter[Pattern]:
    """Cut bar after bar, each filled with the most valuable pieces left; first fit once time is up."""
    # A piece of no value still wants its place, if nothing better does.
    worth = np.maximum(values, 1)

    def fill(k: int, left: Task) -> Ints:
        if search.used_up:
            return _longest_first(k, left)
        search.spend(FILL_STEPS + PIECE_STEPS * left.sizes.size)
        found = best_fills(int(left.rooms[k]), left.sizes, worth, left.demand, most_states=FILL_STATES)
        return found.counts[0] if found.counts else np.zeros(left.sizes.size, np.int64)

    return _fill(task, fill)


def dive(
    task: Task,
    relaxation: Relaxation,
    best: int,
    search: Search[Any],
    ranks: Sequence[int] = (),
    *,
    thorough: bool = False,
) -> Iterator[Counter[Pattern]]:
    """Fix some bars, relax the rest anew, and so on; yield complete plans, one after each step.

    Parameters
    ----------
    task, relaxation
        The problem, and its relaxation to start from.
    best
        Cost of the best plan known: a dive that cannot undercut it ends.
    search
        Pays for the work, and ends the dive when used up.
    ranks
        Which pattern each of the first choices between fractions takes (0: the one nearest to a whole
        bar), so that dives differ: a search by discrepancies (Harvey and Ginsberg 1995, "Limited
        discrepancy search", IJCAI-95: 607-613).
    thorough
        Whether to end the dive by settling the rest, once few patterns are left for it, instead of
        completing the plan at every step.
    """
    fixed: Counter[Pattern] = Counter()
    rest, spent = task, 0
    ahead = list(ranks)
    while True:
        known = _useful(relaxation, best - spent - 1) if thorough else relaxation.patterns
        take, chose = _take(rest, relaxation, ahead[0] if ahead else 0)
        if not take:
            return
        if chose:
            del ahead[:1]
        demand, limits = rest.demand.copy(), rest.limits.copy()
        for pattern, times in take.items():
            fixed[pattern] += times
            spent += int(task.costs[pattern.bar]) * times
            demand -= pattern.array * times
            limits[pattern.bar] -= times
        rest = task.rest(demand, limits)
        if not (thorough and demand.any()):
            yield fixed + fill_greedily(rest, relaxation.values, search)
        if search.used_up or not demand.any():
            return
        trimmed = dict.fromkeys(Pattern.of(p.bar, np.minimum(p.array, demand)) for p in known)
        relaxation = relax(
            rest, [p for p in trimmed if any(p.counts)], search, enough=best - spent, converge=thorough
        )
        if spent + relaxation.bound >= best:
            return
        if thorough:
            end = settle(
                rest, relaxation.dual, relaxation.bound, best - spent, REST_PATTERNS, REST_NODES, search
            )
            if end.plan is not None:
                yield fixed + end.plan
            if end.plan is not None or spent + end.bound >= best:
                return


def _useful(relaxation: Relaxation, target: int) -> list[Pattern]:
    """Patterns that a plan of that cost can use; the others only make the relaxation of the rest larger."""
    patterns = relaxation.patterns
    values = np.array([pattern.counts for pattern in patterns], np.int64) @ relaxation.dual.values
    least = relaxation.dual.least(target)
    worth = zip(patterns, values.tolist(), relaxation.shares, strict=True)
    return [pattern for pattern, value, share in worth if share > 0 or value >= least[pattern.bar]]


def _take(rest: Task, relaxation: Relaxation, rank: int) -> tuple[Counter[Pattern], bool]:
    """Whole bars of the relaxation or, where there are none, one fraction made whole (then True)."""
    left, limits = rest.demand.copy(), rest.limits.copy()
    whole: Counter[Pattern] = Counter()
    fractions = []
    shares = zip(relaxation.shares, relaxation.patterns, strict=True)
    for share, pattern in sorted(shares, key=lambda pair: (-pair[0], pair[1].bar, pair[1].counts)):
        if share < SHARE_NOISE:
            break
        most = min(_times(pattern.array, left), int(limits[pattern.bar]))
        times = min(int(share + SHARE_NOISE), most)
        if times:
            whole[pattern] = times
            left -= pattern.array * times
            limits[pattern.bar] -= times
        elif most:
            fractions.append(pattern)
    if whole or not fractions:
        return whole, False
    return Counter({fractions[min(rank, len(fractions) - 1)]: 1}), True
