"""The hot loops of the split search, compiled by numba: trees of cuts, refilled again and again."""

from __future__ import annotations

import numpy as np

from nesting.packing.grid import Floats, Ints
from nesting.packing.kernels import Words, compiled, next_random
from nesting.packing.sheet.nodes import (
    AXIS,
    DEPTH,
    DX,
    LEAF,
    NONE,
    OPEN,
    OUT,
    PARENT,
    PIECE,
    ROOM,
    ROOTS,
    Plan,
    Task,
    below,
    copy_plan,
    new_node,
    push,
    remove,
    tighten,
    weigh_out,
)

__all__ = ["improve", "refill"]

BLINK = 64
"""One in so many places is overlooked when a piece is placed."""

FLIP = 8
"""One in so many boxes is cut off the other way than the rule says."""

NOISE = 0.3
"""Most by which the measure of a piece is raised when pieces are sorted, as a share of it."""

MOST_SINGLE = 6
"""Most parts taken off here and there in one ruin."""

MOST_SHEETS = 3
"""Most sheets taken apart in one ruin."""


TIGHTEN = 8
"""One in so many times all sheets are tightened before they are refilled."""


# --- Placing ------------------------------------------------------------------------------------------


@compiled
def _place(task: Task, plan: Plan, node: int, copy: int, box: int, wide: bool) -> None:
    """Put a piece into the room of an inner node.

    A strip as long as the piece is cut off, or (`wide`) all of the room; the piece is then cut from it.
    """
    tree = plan.tree
    axis = tree[node, AXIS]
    along = task.dx[box] if axis == 0 else task.dy[box]
    across = task.dy[box] if axis == 0 else task.dx[box]
    cross = tree[node, DX + 1 - axis]
    if across < cross:
        size = tree[node, ROOM] if wide else along
        node = new_node(task, plan, node, 1 - axis, cross, size, NONE)
        if along < size:
            node = new_node(task, plan, node, axis, size, across, NONE)
    plan.leaf[copy] = new_node(task, plan, node, LEAF, task.dx[box], task.dy[box], copy)


@compiled
def _open_sheet(task: Task, plan: Plan, k: int, limit: float, dice: int) -> int:
    """Begin a sheet that a copy of kind `k` fits on; the first box that fits, or `NONE`."""
    spent = 0.0
    stocks = task.costs.shape[0]
    for s in range(stocks):
        spent += task.costs[s] * plan.used[s]
    for turn in range(stocks):
        s = (dice + turn) % stocks
        room = task.room[s]
        if plan.used[s] >= room[2] or spent + task.costs[s] > limit:
            continue
        for box in range(task.start[k], task.start[k + 1]):
            if task.dx[box] <= room[0] and task.dy[box] <= room[1]:
                axis = (dice // stocks) % 2 if task.either else 0
                across = room[1] if axis == 0 else room[0]
                push(plan, ROOTS, new_node(task, plan, NONE, axis, room[axis], across, s))
                plan.used[s] += 1
                return box
    return NONE


@compiled
def refill(task: Task, plan: Plan, limit: float, random: Words) -> int:
    """Give the copies that are out a place, in the order of their list; returns the work.

    A piece goes where it fits best (by one of three rules, drawn for the whole filling); where it
    fits nowhere, another sheet is begun if all sheets then cost no more than `limit`.
    """
    tree = plan.tree
    rule = next_random(random) % 4
    out = plan.sizes[OUT]
    # Room only shrinks, so a kind that found no place finds none later in the same filling.
    hopeless = np.zeros(task.weight.shape[0], np.bool_)
    stay = 0
    work = 0
    for i in range(out):
        copy = plan.lists[OUT, i]
        k = task.kind[copy]
        if hopeless[k]:
            plan.lists[OUT, stay] = copy
            stay += 1
            continue
        best = np.iinfo(np.int64).max
        best_node = NONE
        best_box = NONE
        dice = next_random(random)
        blink = dice % BLINK
        for j in range(plan.sizes[OPEN]):
            node = plan.lists[OPEN, j]
            axis = tree[node, AXIS]
            room = tree[node, ROOM]
            cross = tree[node, DX + 1 - axis]
            if room <= 0 or j % BLINK == blink:
                continue
            for box in range(task.start[k], task.start[k + 1]):
                along = room - (task.dx[box] if axis == 0 else task.dy[box])
                across = cross - (task.dy[box] if axis == 0 else task.dx[box])
                if along < 0 or across < 0:
                    continue
                if rule == 0:
                    score = room * cross
                elif rule == 1:
                    score = max(along, across)
                else:
                    score = min(along, across)
                if score < best:
                    best = score
                    best_node = node
                    best_box = box
        work += 4 + plan.sizes[OPEN]
        if best_node == NONE:
            best_box = _open_sheet(task, plan, k, limit, dice // BLINK)
            if best_box == NONE:
                hopeless[k] = True
                plan.lists[OUT, stay] = copy
                stay += 1
                continue
            best_node = plan.lists[ROOTS, plan.sizes[ROOTS] - 1]
        axis = tree[best_node, AXIS]
        room = tree[best_node, ROOM]
        cross = tree[best_node, DX + 1 - axis]
        along = task.dx[best_box] if axis == 0 else task.dy[best_box]
        across = task.dy[best_box] if axis == 0 else task.dx[best_box]
        beside = room - along - task.kerf
        above = cross - across - task.kerf
        wide = False
        if beside > 0 and above > 0 and tree[best_node, DEPTH] < task.deepest:
            # The way that leaves the largest rest.
            wide = max(room * above, beside * across) > max(beside * cross, along * above)
            if (dice // 4096) % FLIP == 0:
                wide = not wide
        _place(task, plan, best_node, copy, best_box, wide)
    plan.sizes[OUT] = stay
    return work


# --- Searching ----------------------------------------------------------------------------------------


@compiled
def _sort_out(task: Task, plan: Plan, random: Words, key: Floats) -> int:
    """Sort the copies that are out by a measure drawn at random with some noise, or by noise alone.

    Returns the work.
    """
    work = 0
    rules = task.keys.shape[0]
    rule = next_random(random) % (rules + 1)
    out = plan.lists[OUT]
    for i in range(plan.sizes[OUT]):
        noise = (next_random(random) % 1024) / 1024.0
        copy = out[i]
        value = noise if rule == rules else task.keys[rule, task.kind[copy]] * (1.0 + NOISE * noise)
        at = i
        while at > 0 and key[at - 1] < value:
            key[at] = key[at - 1]
            out[at] = out[at - 1]
            at -= 1
        work += 2 + i - at
        key[at] = value
        out[at] = copy
    return work


@compiled
def _ruin(task: Task, plan: Plan, found: Ints, random: Words) -> int:
    """Take parts off here and there, or many pieces off a few sheets; returns the work."""
    tree = plan.tree
    work = 0
    dice = next_random(random)
    if dice % 2 == 0:
        for _ in range(1 + (dice // 2) % MOST_SINGLE):
            pick = next_random(random)
            node = plan.leaf[pick % plan.leaf.shape[0]]
            if node == NONE:
                continue
            # Half of the time the piece, otherwise a box one or two levels above it.
            climb = (pick // 2**20) % 8
            while climb > 3 and tree[node, PARENT] != NONE:
                node = tree[node, PARENT]
                climb -= 2
            work += 2 + remove(task, plan, node)
        return work
    for _ in range(1 + (dice // 2) % MOST_SHEETS):
        if plan.sizes[ROOTS] == 0:
            break
        pick = next_random(random)
        root = plan.lists[ROOTS, pick % plan.sizes[ROOTS]]
        share = 1 + (pick // 2**20) % 4
        if share == 4:
            work += 2 + remove(task, plan, root)
            continue
        count = below(tree, root, found)
        work += count
        pieces = 0
        for at in range(count):
            if tree[found[at], AXIS] == LEAF:
                found[pieces] = tree[found[at], PIECE]
                pieces += 1
        for copy in found[:pieces]:
            if next_random(random) % 4 < share:
                work += 2 + remove(task, plan, plan.leaf[copy])
    return work


@compiled
def improve(
    task: Task,
    plan: Plan,
    best: Plan,
    limit: float,
    heat: float,
    most_work: int,
    random: Words,
) -> int:
    """Take pieces off and refill, again and again, so that copies of less weight are left out.

    Ruin and recreate (Schrimpf, Schneider, Stamm-Wilbrandt and Dueck 2000, Journal of Computational
    Physics 159(2): 139-171) on trees of guillotine cuts with a goal for the cost and pieces left out
    until it is reached (Gardeyn and Wauters 2022, EJOR 301(2): 432-444). Changes are accepted as in
    simulated annealing.

    Parameters
    ----------
    plan
        The plan that is changed.
    best
        Receives the plan that leaves out least so far, when it is better than what is there.
    limit
        Most that all sheets may cost.
    heat
        Temperature: the excess weight that is accepted in one of e cases.
    most_work
        The search ends after the try in which its work reaches this, or when nothing is left out.

    Returns
    -------
    work
        Elementary steps.
    """
    work = 0
    kept = Plan(
        np.empty_like(plan.tree),
        np.empty_like(plan.lists),
        np.empty_like(plan.sizes),
        np.empty_like(plan.leaf),
        np.empty_like(plan.used),
    )
    found = np.empty(plan.tree.shape[0], np.int64)
    key = np.empty(plan.leaf.shape[0])
    out = weigh_out(task, plan)
    least = weigh_out(task, best)
    while work < most_work and plan.sizes[OUT] > 0:
        copy_plan(plan, kept)
        work += 8 + plan.tree.shape[0] // 4
        work += _ruin(task, plan, found, random)
        if next_random(random) % TIGHTEN == 0:
            for at in range(plan.sizes[ROOTS]):
                work += tighten(task, plan.tree, plan.lists[ROOTS, at], found)
        work += _sort_out(task, plan, random, key)
        work += refill(task, plan, limit, random)
        new = weigh_out(task, plan)
        chance = (1 + next_random(random) % 2**16) / 2.0**16
        if new <= out - heat * np.log(chance):
            out = new
            if out < least:
                least = out
                copy_plan(plan, best)
        else:
            copy_plan(kept, plan)
    return work
