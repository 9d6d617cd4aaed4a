"""Sheets as trees of cuts in flat arrays, and the compiled loops that take them apart.

A sheet is a tree. An inner node is a box that is cut along its `AXIS`; its parts lie one behind the
other, each from edge to edge across, and what they and the kerfs leave is one `ROOM` at the far end:
parts may change places, so all that is free in a node counts as one. A leaf is a piece, and just as
large. Lengths are whole grid steps.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nesting.packing.grid import Floats, Ints
from nesting.packing.kernels import compiled

__all__ = [
    "AXIS",
    "DEPTH",
    "DX",
    "FIRST",
    "LEAF",
    "NEXT",
    "NONE",
    "OPEN",
    "OUT",
    "PARENT",
    "PIECE",
    "ROOM",
    "ROOTS",
    "Plan",
    "Task",
    "below",
    "copy_plan",
    "largest_rest",
    "new_node",
    "push",
    "remove",
    "tighten",
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
def below(tree: Ints, root: int, found: Ints) -> int:
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
def tighten(task: Task, tree: Ints, root: int, found: Ints) -> int:
    """Narrow every box of a sheet to what it holds, so that free room gathers near the root."""
    count = below(tree, root, found)
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
        tighten(task, plan.tree, root, found)


@compiled
def largest_rest(plan: Plan) -> tuple[float, int]:
    """Area of the largest room of a box whose room may be used, and the root of its sheet."""
    largest = 0.0
    root = NONE
    for node in plan.lists[OPEN, : plan.sizes[OPEN]]:
        row = plan.tree[node]
        area = float(row[ROOM]) * row[DX + 1 - row[AXIS]]
        if area > largest:
            largest = area
            root = node
    while root != NONE and plan.tree[root, PARENT] != NONE:
        root = plan.tree[root, PARENT]
    return largest, root
