"""`pack_bars`: the cheapest bars for given lengths, from quick plan to proven one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np

from nesting.packing.linear.relax import material_bound, relax
from nesting.packing.linear.task import BarPattern, BarPlan, Ints, Pattern, StockBar, Stopped, Task, check, whole_costs
from nesting.packing.linear.whole import Draft, dive, fill_greedily, first_fit, recombine

__all__ = ["pack_bars"]


def pack_bars(
    bars: Sequence[StockBar],
    lengths: Sequence[int],
    demand: Sequence[int],
    kerf: int = 0,
    stop: Callable[[], bool] = lambda: False,
) -> BarPlan:
    """todo"""
    check(bars, lengths, demand, kerf)
    unit, costs = whole_costs([bar.cost for bar in bars])
    longest = max((bar.length for bar in bars if bar.available != 0), default=0)
    size = np.array(lengths, np.int64)
    wanted = np.array(demand, np.int64)
    fits = size <= longest
    task = Task.of(bars, costs, size, np.where(fits, wanted, 0), kerf)
    draft, bound, stopped = _solve(task, stop)
    return draft, bound, stopped


def _solve(task: Task, stop):
    best = Draft.of(task, first_fit(task))
    bound = material_bound(task)
    def offer(b):
        nonlocal best
        d = Draft.of(task, b)
        if d.cost < best.cost: best = d
    offer(fill_greedily(task, task.sizes))
    if best.cost <= bound or stop(): return best, bound, ''
    r = relax(task, list(best.bars), stop)
    bound = max(bound, r.bound)
    pool = dict.fromkeys(r.patterns)
    print('LP', r.value, bound, best.cost, len(r.patterns), time.time()-T0)
    if best.cost <= bound or stop(): return best, bound, ''
    for plan, known in dive(task, r, best.cost, stop):
        offer(plan); pool.update(dict.fromkeys(plan)); pool.update(dict.fromkeys(known))
        if best.cost <= bound: break
    print('dive', best.cost, len(pool), time.time()-T0)
    if best.cost <= bound or stop(): return best, bound, ''
    offer(recombine(task, pool, best.bars, bound, stop))
    print('cp', best.cost, time.time()-T0)
    return best, bound, ''
import time
T0=time.time()
