"""Trees of cuts in flat arrays: whatever is done to them they stay trees of cuts, and nothing is lost."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.packing.sheet import kernels, nodes
from nesting.packing.sheet.depth import deep_values
from nesting.packing.sheet.nodes import Plan, Task

few = settings(max_examples=40, deadline=None, derandomize=True)

sizes = st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9)), min_size=1, max_size=12)


def task_of(
    pieces: list[tuple[int, int]], room: tuple[int, int], kerf: int, deepest: int, *, turning: bool = False
) -> Task:
    """One copy of each piece, any number of sheets of 1 each."""
    boxes = [[(a, b), (b, a)] if turning else [(a, b)] for a, b in pieces]
    flat = np.array([box for turned in boxes for box in turned], np.int64)
    area = np.array([a * b for a, b in pieces], np.float64)
    return Task(
        kind=np.arange(len(pieces)),
        start=np.arange(len(pieces) + 1) * (2 if turning else 1),
        dx=flat[:, 0].copy(),
        dy=flat[:, 1].copy(),
        keys=area[None, :],
        weight=area,
        room=np.array([[*room, 99]], np.int64),
        costs=np.ones(1),
        kerf=kerf,
        deepest=deepest,
        either=deepest > 3,
    )


def state(seed: int) -> np.ndarray:
    return np.array([seed * 2 + 1], np.uint64)


def check(task: Task, plan: Plan) -> None:
    """Parts, kerfs and room add up in every box; leaves are pieces; lists agree with the trees."""
    tree = plan.tree
    placed = []
    open_nodes = []
    roots = plan.lists[nodes.ROOTS, : plan.sizes[nodes.ROOTS]].tolist()
    count = 0
    stack = [(root, nodes.NONE) for root in roots]
    while stack:
        node, parent = stack.pop()
        count += 1
        row = tree[node]
        assert row[nodes.PARENT] == parent
        extent = (int(row[nodes.DX]), int(row[nodes.DX + 1]))
        if row[nodes.AXIS] == nodes.LEAF:
            copy = int(row[nodes.PIECE])
            boxes = range(task.start[task.kind[copy]], task.start[task.kind[copy] + 1])
            assert extent in [(task.dx[box], task.dy[box]) for box in boxes]
            assert plan.leaf[copy] == node
            placed.append(copy)
            continue
        axis = int(row[nodes.AXIS])
        if parent == nodes.NONE:
            assert extent == tuple(task.room[row[nodes.PIECE], :2])
            assert row[nodes.DEPTH] == 1
        else:
            assert axis == 1 - tree[parent, nodes.AXIS]
            assert row[nodes.DEPTH] == tree[parent, nodes.DEPTH] + 1
        if row[nodes.DEPTH] <= task.deepest:
            open_nodes.append(node)
        taken = 0
        part = int(row[nodes.FIRST])
        assert part != nodes.NONE, "an empty box"
        parts = 0
        while part != nodes.NONE:
            assert tree[part, nodes.DX + 1 - axis] == extent[1 - axis]
            taken += int(tree[part, nodes.DX + axis]) + task.kerf
            stack.append((part, node))
            part = int(tree[part, nodes.NEXT])
            parts += 1
        if row[nodes.DEPTH] > task.deepest:
            assert parts == 1, "a box beyond the last stage holds one piece"
        assert row[nodes.ROOM] == extent[axis] - taken >= -task.kerf
    out = plan.lists[nodes.OUT, : plan.sizes[nodes.OUT]].tolist()
    assert sorted(placed + out) == list(range(task.kind.size))
    assert all(plan.leaf[copy] == nodes.NONE for copy in out)
    assert sorted(open_nodes) == sorted(plan.lists[nodes.OPEN, : plan.sizes[nodes.OPEN]].tolist())
    assert count + plan.sizes[0] == tree.shape[0]
    assert plan.used.sum() == len(roots)


@few
@given(
    sizes,
    st.integers(9, 14),
    st.integers(9, 14),
    st.integers(0, 2),
    st.sampled_from([2, 3, 99]),
    st.booleans(),
    st.lists(st.integers(0, 400), max_size=8),
)
def test_trees_stay_trees_whatever_is_taken_off(pieces, length, width, kerf, deepest, turning, picks) -> None:
    """Refill, remove some node, tighten, refill: after each step everything adds up."""
    task = task_of(pieces, (length, width), kerf, deepest, turning=turning)
    plan = Plan.empty(len(pieces), 1)
    random = state(len(pieces))
    kernels.refill(task, plan, np.inf, random)
    check(task, plan)
    assert plan.sizes[nodes.OUT] == 0
    for pick in picks:
        node = int(plan.leaf[pick % len(pieces)])
        if node == nodes.NONE:
            continue
        for _ in range(pick // 100):
            above = int(plan.tree[node, nodes.PARENT])
            node = node if above == nodes.NONE else above
        nodes.remove(task, plan, node)
        check(task, plan)
        if pick % 3 == 0:
            nodes.tighten_all(task, plan)
            check(task, plan)
        if pick % 2 == 0:
            kernels.refill(task, plan, np.inf, random)
            check(task, plan)


@few
@given(sizes, st.integers(0, 2), st.sampled_from([2, 3, 99]), st.integers(1, 3), st.integers(0, 9))
def test_a_search_never_spends_more_than_its_limit_nor_gets_worse(
    pieces, kerf, deepest, sheets, seed
) -> None:
    """What is left out never weighs more than at the start, and the sheets stay within the limit."""
    task = task_of(pieces, (10, 9), kerf, deepest)
    plan, best = Plan.empty(len(pieces), 1), Plan.empty(len(pieces), 1)
    kernels.refill(task, plan, float(sheets), state(seed))
    nodes.copy_plan(plan, best)
    before = nodes.weigh_out(task, best)
    kernels.improve(task, plan, best, float(sheets), 2.0, 20_000, state(seed + 1))
    for made in (plan, best):
        check(task, made)
        assert task.costs @ made.used <= sheets
    assert nodes.weigh_out(task, best) <= before
    assert nodes.weigh_out(task, best) <= nodes.weigh_out(task, plan)


@few
@given(sizes, st.integers(0, 2), st.sampled_from([2, 3, 99]))
def test_tightening_makes_no_rest_smaller_in_all(pieces, kerf, deepest) -> None:
    """Free room near the root is never less than before: what was free below moves up."""
    task = task_of(pieces, (14, 13), kerf, deepest)
    plan = Plan.empty(len(pieces), 1)
    kernels.refill(task, plan, np.inf, state(3))
    roots = plan.lists[nodes.ROOTS, : plan.sizes[nodes.ROOTS]]
    before = plan.tree[roots, nodes.ROOM].copy()
    nodes.tighten_all(task, plan)
    assert (plan.tree[roots, nodes.ROOM] >= before).all()
    again = plan.tree.copy()
    nodes.tighten_all(task, plan)
    assert (plan.tree == again).all()


@few
@given(
    st.lists(st.tuples(st.integers(1, 6), st.integers(1, 6), st.integers(1, 20)), min_size=1, max_size=4),
    st.integers(6, 12),
    st.integers(6, 12),
)
@pytest.mark.parametrize("loop", [deep_values.py_func, deep_values], ids=["python", "compiled"])
def test_values_of_any_depth_agree_with_trying_every_cut(loop: Any, boxes, length, width) -> None:
    """Every whole number is a point here; the reference divides rectangles at every whole number."""
    x, y = np.arange(length + 1), np.arange(width + 1)
    best, way = np.zeros((x.size, y.size)), np.zeros((x.size, y.size), np.int64)
    dx, dy, worth = (np.array(column) for column in zip(*boxes, strict=True))
    loop(x, y, x, y, dx, dy, worth.astype(np.float64), best, way)

    @cache
    def value(a: int, b: int) -> int:
        fits = [w for dx, dy, w in boxes if dx <= a and dy <= b]
        across = [value(cut, b) + value(a - cut, b) for cut in range(1, a)]
        along = [value(a, cut) + value(a, b - cut) for cut in range(1, b)]
        return max([0, *fits, *across, *along])

    assert all(best[a, b] == value(a, b) for a in range(1, length + 1) for b in range(1, width + 1))
