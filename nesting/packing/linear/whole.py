"""From the relaxation to whole numbers of bars: greedy filling, diving, and CP-SAT over the patterns."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from ortools.sat.python import cp_model

from nesting.packing.linear.knapsack import best_fill
from nesting.packing.linear.relax import Relaxation, relax
from nesting.packing.linear.task import Ints, Pattern, Task

__all__ = ["Draft", "dive", "fill_greedily", "first_fit", "recombine"]

Fill = Callable[[int, Task], Ints]
"""Chooses what to cut from the bar of the given index, within the demand of the task."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A plan in whole numbers: bars per pattern, pieces left out, and the cost of both in whole units."""

    bars: Counter[Pattern]
    short: Ints
    cost: int

    @classmethod
    def of(cls, task: Task, bars: Counter[Pattern]) -> Draft:
        """Make a plan for the demand of `task` from bars that may yield more than is wanted."""
        trimmed: Counter[Pattern] = Counter()
        left = task.demand.copy()
        for pattern, times in sorted(bars.items(), key=lambda item: (item[0].bar, item[0].counts), reverse=True):
            counts = np.array(pattern.counts, np.int64)
            while times > 0:
                fits = np.minimum(counts, left)
                used = fits > 0
                if not used.any():
                    break  # these bars are not needed at all
                whole = int((left[used] // fits[used]).min())
                often = min(times, whole)
                trimmed[Pattern(pattern.bar, tuple(fits.tolist()))] += often
                left -= fits * often
                times -= often
        cost = sum(int(task.costs[pattern.bar]) * times for pattern, times in trimmed.items())
        return cls(trimmed, left, cost + int(left @ task.shortfall_costs))


def _fill(task: Task, fill: Fill) -> Counter[Pattern]:
    """Cut bar after bar, each time the one that holds most for its cost, until nothing more fits."""
    bars: Counter[Pattern] = Counter()
    task = task.rest(task.demand.copy(), task.limits.copy())
    while task.demand.any():
        best: tuple[float, int, Ints] | None = None
        for k in range(task.rooms.size):
            if task.limits[k] > 0:
                counts = fill(k, task)
                rate = float(counts @ task.sizes) / float(task.costs[k])
                if rate > 0 and (best is None or rate > best[0]):
                    best = (rate, k, counts)
        if best is None:
            break
        _, k, counts = best
        used = counts > 0
        times = min(int((task.demand[used] // counts[used]).min()), int(task.limits[k]))
        bars[Pattern(k, tuple(counts.tolist()))] += times
        task.demand[:] -= counts * times
        task.limits[k] -= times
    return bars


def first_fit(task: Task) -> Counter[Pattern]:
    """First fit decreasing: each bar takes the longest piece that still fits, again and again."""

    def fill(k: int, left: Task) -> Ints:
        room = int(left.rooms[k])
        counts = np.zeros(left.sizes.size, np.int64)
        for i in np.argsort(-left.sizes, kind="stable"):
            counts[i] = min(int(left.demand[i]), room // int(left.sizes[i]))
            room -= int(counts[i] * left.sizes[i])
        return counts

    return _fill(task, fill)


def fill_greedily(task: Task, values: Ints) -> Counter[Pattern]:
    """Cut bar after bar, each filled with the pieces of the greatest value that are left."""
    # A piece of no value still wants its place, if nothing better does.
    worth = np.maximum(values, 1)

    def fill(k: int, left: Task) -> Ints:
        return best_fill(int(left.rooms[k]), left.sizes, worth, left.demand).counts

    return _fill(task, fill)


def dive(
    task: Task, relaxation: Relaxation, best: int, stop: Callable[[], bool]
) -> Iterable[tuple[Counter[Pattern], tuple[Pattern, ...]]]:
    """Fix patterns, relax the rest anew, and so on; yield a complete plan after each step.

    With each plan come the patterns known by then. Diving on a relaxation whose patterns are generated
    anew for the rest is described by Vanderbeck and Wolsey and others for many such problems (from
    memory, unverified).
    """
    fixed: Counter[Pattern] = Counter()
    rest = task
    spent = 0
    while rest.demand.any():
        take = _take(rest, relaxation)
        if not take:
            return
        for pattern, times in take.items():
            fixed[pattern] += times
            spent += int(task.costs[pattern.bar]) * times
            demand = np.maximum(rest.demand - np.array(pattern.counts, np.int64) * times, 0)
            limits = rest.limits.copy()
            limits[pattern.bar] -= times
            rest = rest.rest(demand, limits)
        yield fixed + fill_greedily(rest, relaxation.values), relaxation.patterns
        if stop() or not rest.demand.any():
            return
        usable = [_within(pattern, rest) for pattern in relaxation.patterns]
        known = list(dict.fromkeys(pattern for pattern in usable if any(pattern.counts)))
        relaxation = relax(rest, known, stop, enough=best - spent)
        if spent + relaxation.bound >= best:
            return


def _within(pattern: Pattern, rest: Task) -> Pattern:
    """The pattern without what is no longer wanted."""
    return Pattern(pattern.bar, tuple(min(c, int(d)) for c, d in zip(pattern.counts, rest.demand, strict=True)))


def _take(rest: Task, relaxation: Relaxation) -> Counter[Pattern]:
    """Whole parts of the relaxation; where there are none, the pattern nearest to one bar."""
    take: Counter[Pattern] = Counter()
    left, limits = rest.demand.copy(), rest.limits.copy()
    ranked = sorted(
        zip(relaxation.shares, relaxation.patterns, strict=True), key=lambda pair: (-pair[0], pair[1].counts)
    )
    for share, pattern in ranked:
        counts = np.array(pattern.counts, np.int64)
        used = counts > 0
        if share < 1e-6:
            break
        most = min(int((left[used] // counts[used]).min()), int(limits[pattern.bar]))
        times = min(int(share + 1e-6), most)
        if times == 0 and not take:
            times = min(1, most)
        if times:
            take[pattern] += times
            left -= counts * times
            limits[pattern.bar] -= times
    return take


CP_WORK = 2.0
"""Work CP-SAT may spend, in its own deterministic seconds."""

POLL = 0.05
"""How often the clock is looked at while CP-SAT runs, s."""


def recombine(
    task: Task, patterns: Iterable[Pattern], start: Counter[Pattern], bound: int, stop: Callable[[], bool]
) -> Counter[Pattern]:
    """Best whole numbers over known patterns, by CP-SAT, starting from a known plan."""
    known = list(dict.fromkeys([*start, *patterns]))
    model = cp_model.CpModel()
    most = [int(task.limits[pattern.bar]) for pattern in known]
    times = [model.new_int_var(0, limit, "") for limit in most]
    short = [model.new_int_var(0, int(wanted), "") for wanted in task.demand]
    for i, wanted in enumerate(task.demand):
        holds = [(column, pattern.counts[i]) for column, pattern in zip(times, known, strict=True) if pattern.counts[i]]
        model.add(sum(count * column for column, count in holds) + short[i] >= int(wanted))
    for k, limit in enumerate(task.limits):
        if limit < task.demand.sum():
            model.add(sum(c for c, pattern in zip(times, known, strict=True) if pattern.bar == k) <= int(limit))
    cost = sum(int(task.costs[pattern.bar]) * column for column, pattern in zip(times, known, strict=True))
    cost += sum(int(dear) * column for column, dear in zip(short, task.shortfall_costs, strict=True))
    model.add(cost >= bound)
    model.minimize(cost)
    for column, pattern in zip(times, known, strict=True):
        model.add_hint(column, start[pattern])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = CP_WORK
    status = _solve(solver, model, stop)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return start
    return Counter({pattern: solver.value(c) for c, pattern in zip(times, known, strict=True) if solver.value(c)})


def _solve(solver: cp_model.CpSolver, model: cp_model.CpModel, stop: Callable[[], bool]) -> cp_model.CpSolverStatus:
    """Run CP-SAT, and end it when `stop` says so."""
    done = threading.Event()

    def watch() -> None:
        while not done.wait(POLL):
            if stop():
                solver.stop_search()
                return

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        return solver.solve(model)
    finally:
        done.set()
        watcher.join()
