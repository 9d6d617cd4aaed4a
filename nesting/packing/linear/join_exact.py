"""Joined borders exactly: one model over single bars and single copies, for few of both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from ortools.sat.python import cp_model

from nesting.packing.cpsat import STEPS_A_SECOND, ask
from nesting.packing.linear.joined import Cut, JoinPlan, JoinTask
from nesting.packing.linear.task import whole_costs
from nesting.packing.search import Search

__all__ = ["settle_joined"]

MOST_PLACES = 600
"""Most pairs of a part and a bar for which the model is worth its while."""

WORK = 10.0
"""What CP-SAT may spend, in its own deterministic seconds."""

BOUND_NOISE = 1e-6
"""What a bound told as a float may be beyond a whole number."""


def settle_joined(
    task: JoinTask, known: JoinPlan, bound: float, search: Search[Any]
) -> tuple[JoinPlan | None, float]:
    """Look for a plan cheaper than a known complete one, and raise the bound where there is none.

    Parameters
    ----------
    task
        Bars and pieces; every piece can be made.
    known, bound
        A complete plan, and a proven lower bound on the cost of any.
    search
        Pays for the work.

    Returns
    -------
    tuple
        The cheaper plan, None if none was found; and the bound now proven.
    """
    unit, costs = whole_costs([bar.cost for bar in task.bars])
    target = sum(costs[k] * times for (k, _), times in known.bars.items()) - 1
    none_cheaper = max(bound, min(known.cost, float((target + 1) * unit)))
    parts = sum((want.joins + 1) * want.quantity for want in task.wants)
    effort = min(WORK, search.effort_left / STEPS_A_SECOND)
    if parts > MOST_PLACES or effort < WORK / 100:
        return None, bound
    single = [
        k
        for k, bar in enumerate(task.bars)
        for _ in range(
            min(
                target // max(1, costs[k]),
                parts,
                parts if bar.available is None else bar.available,
            )
        )
    ]
    copies = [i for i, want in enumerate(task.wants) for _ in range(want.quantity)]
    if parts * len(single) > MOST_PLACES:
        return None, bound
    if not single:
        return None, none_cheaper
    model = cp_model.CpModel()
    opened = [model.new_bool_var("") for _ in single]
    loads: list[list[Any]] = [[] for _ in single]
    slots = [_copy(model, task, i, single, loads) for i in copies]
    first_bars = [sum(j * here for j, here in enumerate(places[0][1])) for places in slots]
    for c in range(1, len(copies)):
        # Copies alike are told apart by the bar that their longest part is on.
        if copies[c - 1] == copies[c]:
            model.add(first_bars[c - 1] <= first_bars[c])
    for j, k in enumerate(single):
        model.add(sum(loads[j]) <= (task.bars[k].length + task.kerf) * opened[j])
        if j and single[j - 1] == k:
            model.add(opened[j] <= opened[j - 1])
    cost = cp_model.LinearExpr.weighted_sum(opened, [costs[k] for k in single])
    model.add(cost >= math.ceil(float(bound / unit) - BOUND_NOISE))
    model.add(cost <= target)
    model.minimize(cost)
    solver, status = ask(model, effort, search)
    if status == cp_model.INFEASIBLE:
        return None, none_cheaper
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, bound
    bars: list[list[Cut]] = [[] for _ in single]
    for i, places in zip(copies, slots, strict=True):
        cut = [(solver.value(length), at) for length, at in places if solver.value(length)]
        lengths = tuple(length for length, _ in cut)
        for part, (_, at) in enumerate(cut):
            bars[next(j for j, here in enumerate(at) if solver.value(here))].append((i, lengths, part))
    plan = JoinPlan.of(task, zip(single, bars, strict=True), [0] * len(task.wants))
    lower = math.ceil(solver.best_objective_bound - BOUND_NOISE)
    return plan, max(bound, min(plan.cost, float(lower * unit)))


def _copy(
    model: cp_model.CpModel, task: JoinTask, piece: int, single: Sequence[int], loads: list[list[Any]]
) -> list[tuple[Any, list[Any]]]:
    """One copy: for each of its parts the length as cut (0: none), and which bar it is on."""
    want = task.wants[piece]
    made: list[tuple[Any, list[Any]]] = []
    used = [model.new_bool_var("") for _ in range(want.joins + 1)]
    model.add(used[0] == 1)
    for part, there in enumerate(used):
        lengths = []
        at = [model.new_bool_var("") for _ in single]
        for j, here in enumerate(at):
            length = model.new_int_var(0, task.bars[single[j]].length, "")
            model.add(length <= task.bars[single[j]].length * here)
            loads[j] += [length, task.kerf * here]
            lengths.append(length)
        model.add(sum(at) == there)
        whole = model.new_int_var(0, max(task.longest, 1), "")
        model.add(whole == sum(lengths))
        if part:
            model.add_implication(there, used[part - 1])
            model.add(whole <= made[-1][0])
        if want.joins:
            # Where there is a second part, there is a least length for all.
            model.add(whole >= want.least * there).only_enforce_if(used[1])
        made.append((whole, at))
    seams = sum(used) - 1
    model.add(sum(whole for whole, _ in made) == want.length + 2 * want.seam * seams)
    return made
