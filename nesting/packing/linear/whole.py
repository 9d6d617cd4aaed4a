"""From the relaxation to whole numbers of bars: greedy filling, diving, and CP-SAT over the patterns."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.relax import Relaxation, relax
from nesting.packing.linear.task import Ints, Pattern, Task

__all__ = ["Draft", "dive", "every_pattern", "fill_greedily", "first_fit", "recombine"]

SHARE_NOISE = 1e-6
"""Float noise of how often the relaxation uses a pattern."""

BOUND_NOISE, BOUND_SHARE = 1e-3, 1e-12
"""What CP-SAT's bound, which it tells as a float, may be beyond a whole number: fixed, and as a share."""

LOOKS_A_PATTERN = 20
"""Steps that listing all patterns may take for each pattern that may be listed."""

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


def fill_greedily(task: Task, values: Ints, stop: Callable[[], bool]) -> Counter[Pattern]:
    """Cut bar after bar, each filled with the most valuable pieces left; first fit once time is up."""
    # A piece of no value still wants its place, if nothing better does.
    worth = np.maximum(values, 1)

    def fill(k: int, left: Task) -> Ints:
        if stop():
            return _longest_first(k, left)
        found = best_fills(int(left.rooms[k]), left.sizes, worth, left.demand)
        return found.counts[0] if found.counts else np.zeros(left.sizes.size, np.int64)

    return _fill(task, fill)


def dive(
    task: Task, relaxation: Relaxation, best: int, stop: Callable[[], bool], ranks: Sequence[int] = ()
) -> Iterator[Counter[Pattern]]:
    """Fix some bars, relax the rest anew, and so on; yield a complete plan after each step.

    Parameters
    ----------
    task, relaxation
        The problem, and its relaxation to start from.
    best
        Cost of the best plan known: a dive that cannot undercut it ends.
    stop
        Ends the dive.
    ranks
        Which pattern each of the first choices between fractions takes (0: the one nearest to a whole
        bar), so that dives differ: a search by discrepancies (Harvey and Ginsberg 1995, "Limited
        discrepancy search", IJCAI-95: 607-613).
    """
    fixed: Counter[Pattern] = Counter()
    rest, spent = task, 0
    ahead = list(ranks)
    while True:
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
        yield fixed + fill_greedily(rest, relaxation.values, stop)
        if stop() or not demand.any():
            return
        trimmed = dict.fromkeys(Pattern.of(p.bar, np.minimum(p.array, demand)) for p in relaxation.patterns)
        relaxation = relax(rest, [p for p in trimmed if any(p.counts)], stop, enough=best - spent)
        if spent + relaxation.bound >= best:
            return


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


def every_pattern(task: Task, most: int) -> list[Pattern] | None:
    """All patterns that no further piece fits into; None when there are more than `most`.

    A plan over these alone is as cheap as any, for a bar may always yield more than is wanted.
    """
    found: list[Pattern] = []
    sizes, demand = task.sizes.tolist(), task.demand.tolist()
    order = sorted((i for i, wanted in enumerate(demand) if wanted), key=lambda i: -sizes[i])
    looks = most * LOOKS_A_PATTERN
    for k in np.flatnonzero(task.limits > 0).tolist():
        # Depth first: counts of the first pieces in `order`, and the room they leave.
        stack: list[tuple[tuple[int, ...], int]] = [((), int(task.rooms[k]))]
        while stack:
            looks -= 1
            chosen, room = stack.pop()
            if len(chosen) < len(order):
                i = order[len(chosen)]
                fits = min(demand[i], room // sizes[i])
                stack.extend(((*chosen, count), room - count * sizes[i]) for count in range(fits + 1))
            elif all(sizes[i] > room or count == demand[i] for i, count in zip(order, chosen, strict=True)):
                counts = [0] * len(sizes)
                for i, count in zip(order, chosen, strict=True):
                    counts[i] = count
                found.append(Pattern(k, tuple(counts)))
            if looks < 0 or len(found) > most:
                return None
    return found


def recombine(
    task: Task, patterns: Iterable[Pattern], start: Counter[Pattern], bound: int, work: float
) -> tuple[Counter[Pattern], int]:
    """Best whole numbers over given patterns, by CP-SAT, starting from a known plan.

    Parameters
    ----------
    task, patterns, start
        The problem, the patterns besides those of `start`, and a complete plan.
    bound
        Proven lower bound on the cost.
    work
        What CP-SAT may spend, in its own deterministic seconds (the same on every machine; a few
        seconds of time each).

    Returns
    -------
    tuple
        The best plan, and the proven lower bound on the cost of plans over these patterns.
    """
    known = list(dict.fromkeys([*start, *patterns]))
    model = cp_model.CpModel()
    times = [model.new_int_var(0, int(task.limits[pattern.bar]), "") for pattern in known]
    short = [model.new_int_var(0, int(wanted), "") for wanted in task.demand]
    sum_of = cp_model.LinearExpr.weighted_sum
    for i, wanted in enumerate(task.demand.tolist()):
        holding = [c for c, pattern in enumerate(known) if pattern.counts[i]]
        held = sum_of([times[c] for c in holding], [known[c].counts[i] for c in holding])
        model.add(held + short[i] >= wanted)
    for k, limit in enumerate(task.limits.tolist()):
        model.add(sum(times[c] for c, pattern in enumerate(known) if pattern.bar == k) <= limit)
    costs = [int(task.costs[pattern.bar]) for pattern in known]
    cost = sum_of([*times, *short], [*costs, *task.shortfall_costs.tolist()])
    model.add(cost >= bound)
    model.minimize(cost)
    for column, pattern in zip(times, known, strict=True):
        model.add_hint(column, start[pattern])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = work
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return start, bound
    found = Counter({p: solver.value(c) for c, p in zip(times, known, strict=True) if solver.value(c)})
    lower = solver.best_objective_bound
    return found, max(bound, math.ceil(lower - BOUND_NOISE - BOUND_SHARE * lower))
