"""The hot loops of the split search, compiled by numba: sheets as trees of cuts, taken apart and refilled.

A sheet is a tree. An inner node is a box that is cut along its `AXIS`; its parts lie one behind the
other, each from edge to edge across, and what they and the kerfs leave is one `ROOM` at the far end:
parts may change places, so all that is free in a node counts as one. A leaf is a piece, and just as
large. Lengths are whole grid steps.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nesting.packing.grid import Floats, Ints
from nesting.packing.kernels import Words, compiled, next_random

__all__ = [
    "AXIS",
    "DX",
    "FIRST",
    "LEAF",
    "NEXT",
    "NONE",
    "OUT",
    "PARENT",
    "PIECE",
    "ROOTS",
    "Plan",
    "Task",
    "copy_plan",
    "deep_values",
    "improve",
    "largest_rest",
    "new_node",
    "push",
    "refill",
    "remove",
    "tighten_all",
    "weigh_out",
]

NONE = -1

PARENT, FIRST, NEXT, BEFORE, DX, DY, AXIS, ROOM, PIECE, DEPTH, AT = range(11)
"""Fields of a node. `ROOM` is less one kerf for each part, so it is minus one kerf in a node that is
full. `PIECE` is the copy in a leaf and the stock in a root; `AT` is the node's place in the list `OPEN`."""

FIELDS = AT + 1

LEAF = 2
"""In place of an axis: a piece. Inner nodes have 0 (cuts at given x) or 1 (cuts at given y)."""

SPARE, OPEN, ROOTS, OUT = range(4)
"""Rows of the lists: rows of the table that are free, nodes whose room may be used, roots of the sheets
in use, and copies that have no place."""

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


class Plan(NamedTuple):
    """Sheets being cut, as arrays that the loops change in place.

    Parameters
    ----------
    tree
        A row of fields for each node.
    lists, sizes
        The four lists and how many entries each holds.
    leaf
        The node of each copy; `NONE` when it has no place.
    used
        Sheets of each stock in use.
    """

    tree: Ints
    lists: Ints
    sizes: Ints
    leaf: Ints
    used: Ints

    @classmethod
    def empty(cls, copies: int, stocks: int) -> Plan:
        """All copies without a place. Each placed copy needs three nodes at most, and its sheet one."""
        nodes = 4 * copies + 1
        lists = np.zeros((4, nodes), np.int64)
        lists[SPARE] = np.arange(nodes)
        lists[OUT, :copies] = np.arange(copies)
        return cls(
            np.zeros((nodes, FIELDS), np.int64),
            lists,
            np.array([nodes, 0, 0, copies], np.int64),
            np.full(copies, NONE, np.int64),
            np.zeros(stocks, np.int64),
        )


class Task(NamedTuple):
    """What is to be cut, and from what.

    Parameters
    ----------
    kind
        Kind of each copy.
    start, dx, dy
        Boxes of each kind, as in `nesting.packing.grid.Grid`.
    keys
        Measures by which copies are sorted, a row each, by kind.
    weight
        What it costs to leave out one copy of each kind.
    room
        Length, width and number of each stock, a row each.
    costs
        Cost of one sheet of each stock.
    kerf
        Width of a cut.
    deepest
        Stages of cuts; more only to trim a box down to its one piece.
    either
        Whether the first cut may be at given y.
    """

    kind: Ints
    start: Ints
    dx: Ints
    dy: Ints
    keys: Floats
    weight: Floats
    room: Ints
    costs: Floats
    kerf: int
    deepest: int
    either: bool


@compiled
def copy_plan(source: Plan, target: Plan) -> None:
    """Make `target` the same as `source`; both have the same room."""
    target.tree[:] = source.tree
    target.lists[:] = source.lists
    target.sizes[:] = source.sizes
    target.leaf[:] = source.leaf
    target.used[:] = source.used


@compiled
def weigh_out(task: Task, plan: Plan) -> float:
    """What all copies without a place weigh."""
    total = 0.0
    for i in range(plan.sizes[OUT]):
        total += task.weight[task.kind[plan.lists[OUT, i]]]
    return total


# --- Trees --------------------------------------------------------------------------------------------


@compiled
def push(plan: Plan, which: int, item: int) -> None:
    plan.lists[which, plan.sizes[which]] = item
    plan.sizes[which] += 1


@compiled
def new_node(task: Task, plan: Plan, parent: int, axis: int, along: int, across: int, piece: int) -> int:
    """A node that is the first part of `parent`, or a root (which is not yet listed as one).

    `along` is its extent along `axis`, that of a leaf along x. It is taken off the room of the parent.
    """
    plan.sizes[SPARE] -= 1
    node = plan.lists[SPARE, plan.sizes[SPARE]]
    row = plan.tree[node]
    row[PARENT] = parent
    row[FIRST] = NONE
    row[NEXT] = NONE
    row[BEFORE] = NONE
    row[DX] = across if axis == 1 else along
    row[DY] = along if axis == 1 else across
    row[AXIS] = axis
    row[ROOM] = along
    row[PIECE] = piece
    row[DEPTH] = 1
    row[AT] = NONE
    if parent != NONE:
        above = plan.tree[parent]
        row[DEPTH] = above[DEPTH] + 1
        row[NEXT] = above[FIRST]
        if row[NEXT] != NONE:
            plan.tree[row[NEXT], BEFORE] = node
        above[FIRST] = node
        above[ROOM] -= row[DX + above[AXIS]] + task.kerf
    if axis != LEAF and row[DEPTH] <= task.deepest:
        row[AT] = plan.sizes[OPEN]
        push(plan, OPEN, node)
    return int(node)


@compiled
def _give_back(plan: Plan, node: int) -> int:
    """Free a node and all below it; its pieces are out then. Returns the number of nodes."""
    # The free end of the list serves as the queue: all of them go there anyway.
    at = plan.sizes[SPARE]
    before = at
    push(plan, SPARE, node)
    while at < plan.sizes[SPARE]:
        row = plan.tree[plan.lists[SPARE, at]]
        at += 1
        if row[AXIS] == LEAF:
            plan.leaf[row[PIECE]] = NONE
            push(plan, OUT, row[PIECE])
            continue
        if row[AT] != NONE:
            plan.sizes[OPEN] -= 1
            last = plan.lists[OPEN, plan.sizes[OPEN]]
            plan.lists[OPEN, row[AT]] = last
            plan.tree[last, AT] = row[AT]
        part = row[FIRST]
        while part != NONE:
            push(plan, SPARE, part)
            part = plan.tree[part, NEXT]
    return int(at - before)


@compiled
def remove(task: Task, plan: Plan, node: int) -> int:
    """Take a node off its sheet, and nodes above it that would be empty; returns the nodes freed."""
    tree = plan.tree
    parent = tree[node, PARENT]
    while parent != NONE and tree[node, BEFORE] == NONE and tree[node, NEXT] == NONE:
        node = parent
        parent = tree[node, PARENT]
    if parent == NONE:
        plan.used[tree[node, PIECE]] -= 1
        for at in range(plan.sizes[ROOTS]):
            if plan.lists[ROOTS, at] == node:
                plan.sizes[ROOTS] -= 1
                plan.lists[ROOTS, at] = plan.lists[ROOTS, plan.sizes[ROOTS]]
                break
    else:
        before = tree[node, BEFORE]
        after = tree[node, NEXT]
        if before == NONE:
            tree[parent, FIRST] = after
        else:
            tree[before, NEXT] = after
        if after != NONE:
            tree[after, BEFORE] = before
        tree[parent, ROOM] += tree[node, DX + tree[parent, AXIS]] + task.kerf
    return int(_give_back(plan, node))


@compiled
def _below(tree: Ints, root: int, found: Ints) -> int:
    """List a node and all below it, a node before its parts; returns their number."""
    found[0] = root
    count = 1
    at = 0
    while at < count:
        part = tree[found[at], FIRST]
        at += 1
        while part != NONE:
            found[count] = part
            count += 1
            part = tree[part, NEXT]
    return count


@compiled
def _tighten(task: Task, tree: Ints, root: int, found: Ints) -> int:
    """Narrow every box of a sheet to what it holds, so that free room gathers near the root."""
    count = _below(tree, root, found)
    for at in range(count - 1, 0, -1):
        node = found[at]
        axis = tree[node, AXIS]
        if axis == LEAF:
            continue
        across = tree[node, DX + 1 - axis]
        off = across
        part = tree[node, FIRST]
        while part != NONE and off > 0:
            # Of an inner part its room is free, and the kerf of the cut that now parts it off.
            off = 0 if tree[part, AXIS] == LEAF else min(off, tree[part, ROOM] + task.kerf)
            part = tree[part, NEXT]
        if off == 0:
            continue
        tree[node, DX + 1 - axis] -= off
        tree[tree[node, PARENT], ROOM] += off
        part = tree[node, FIRST]
        while part != NONE:
            tree[part, DX + 1 - axis] -= off
            tree[part, ROOM] -= off
            part = tree[part, NEXT]
    return count


@compiled
def tighten_all(task: Task, plan: Plan) -> None:
    """Narrow every box of every sheet to what it holds."""
    found = np.empty(plan.tree.shape[0], np.int64)
    for root in plan.lists[ROOTS, : plan.sizes[ROOTS]]:
        _tighten(task, plan.tree, root, found)


@compiled
def largest_rest(plan: Plan) -> float:
    """Area of the largest room of a box whose room may be used."""
    largest = 0.0
    for node in plan.lists[OPEN, : plan.sizes[OPEN]]:
        row = plan.tree[node]
        largest = max(largest, float(row[ROOM]) * row[DX + 1 - row[AXIS]])
    return largest


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
        count = _below(tree, root, found)
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
                work += _tighten(task, plan.tree, plan.lists[ROOTS, at], found)
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


# --- Free copies --------------------------------------------------------------------------------------


@compiled
def deep_values(
    x: Ints,
    y: Ints,
    last_x: Ints,
    last_y: Ints,
    need_x: Ints,
    need_y: Ints,
    values: Floats,
    best: Floats,
    way: Ints,
) -> int:
    """Best value of each rectangle from the origin to a point, cut edge to edge at any depth.

    Parameters
    ----------
    x, y
        Points along both sides, from 0 on.
    last_x, last_y
        For each distance the last point that is not beyond it.
    need_x, need_y, values
        The first points at which each box has room, and its value.
    best, way
        Zeros, ``(points, points)``; receive the values and how they are reached: 0 for nothing, ``b + 1``
        for box ``b``, ``-2 p`` for a cut at point ``p`` of x and ``-2 p - 1`` for one of y.

    Returns
    -------
    cells
        Cells of the table looked at.
    """
    for box in range(values.shape[0]):
        if values[box] > best[need_x[box], need_y[box]]:
            best[need_x[box], need_y[box]] = values[box]
            way[need_x[box], need_y[box]] = box + 1
    cells = 0
    for i in range(1, x.shape[0]):
        for j in range(1, y.shape[0]):
            top = best[i, j]
            how = way[i, j]
            if best[i - 1, j] > top:
                top = best[i - 1, j]
                how = way[i - 1, j]
            if best[i, j - 1] > top:
                top = best[i, j - 1]
                how = way[i, j - 1]
            at = 1
            while 2 * x[at] <= x[i]:
                worth = best[at, j] + best[last_x[x[i] - x[at]], j]
                if worth > top:
                    top = worth
                    how = -2 * at
                at += 1
            cells += at
            at = 1
            while 2 * y[at] <= y[j]:
                worth = best[i, at] + best[i, last_y[y[j] - y[at]]]
                if worth > top:
                    top = worth
                    how = -2 * at - 1
                at += 1
            cells += at
            best[i, j] = top
            way[i, j] = how
    return cells
