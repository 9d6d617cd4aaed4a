"""Where cuts are free: pieces that straight cuts leave out are laid beside those on a sheet after all."""

from __future__ import annotations

from contextlib import suppress

import numpy as np

from nesting.packing.columns import Column, Cover
from nesting.packing.grid import Floats, Ints
from nesting.packing.search import Search, Stop
from nesting.packing.sheet import nodes
from nesting.packing.sheet.cutter import Choice, Cutter

__all__ = ["squeeze"]

MOST_OUT = 3
"""Most pieces left out with which it is worth a try."""

MOST_SHEETS = 6
"""Most sheets that are tried for one piece, those with most room first."""


def squeeze(
    cutter: Cutter, choice: Choice, task: nodes.Task, plan: nodes.Plan, search: Search[Cover]
) -> bool:
    """Offer the plan with all pieces on its sheets, some of them placed freely; whether there is one.

    A piece that is out and the pieces of one sheet are placed anew together by the skyline search.
    """
    out = plan.lists[nodes.OUT, : plan.sizes[nodes.OUT]].tolist()
    if not cutter.free_makers or not 0 < len(out) <= MOST_OUT:
        return False
    held: dict[int, Ints] = {}
    for root in plan.lists[nodes.ROOTS, : plan.sizes[nodes.ROOTS]].tolist():
        found = np.empty(plan.tree.shape[0], np.int64)
        rows = plan.tree[found[: nodes.below(plan.tree, root, found)]]
        kinds = task.kind[rows[rows[:, nodes.AXIS] == nodes.LEAF, nodes.PIECE]]
        held[root] = np.bincount(kinds, minlength=cutter.grid.demand.size).astype(np.int64)
    area = np.maximum(cutter.grid.area, 1).astype(np.float64)
    instead: dict[int, Column] = {}
    with suppress(Stop):
        for copy in sorted(out, key=lambda copy: -area[task.kind[copy]]):
            if not _lay(cutter, int(task.kind[copy]), plan, held, area, instead, search):
                return False
        cover = cutter.cover(choice, task, plan, instead)
        return search.offer(cover.cost, cover, short=int(cover.missing.sum()))
    return False


def _lay(
    cutter: Cutter,
    kind: int,
    plan: nodes.Plan,
    held: dict[int, Ints],
    area: Floats,
    instead: dict[int, Column],
    search: Search[Cover],
) -> bool:
    """Find a sheet that takes a copy of a kind besides what it holds, which is noted."""
    room = {}
    for root, counts in held.items():
        row = plan.tree[root]
        room[root] = float(row[nodes.DX]) * row[nodes.DX + 1] - float(area @ counts) - area[kind]
    for root in sorted(room, key=lambda root: -room[root])[:MOST_SHEETS]:
        if room[root] < 0:
            return False
        counts = held[root].copy()
        counts[kind] += 1
        column = cutter.free_makers[plan.tree[root, nodes.PIECE]].fill(area, counts, search)
        if column is not None and (column.counts == counts).all():
            held[root], instead[root] = counts, column
            return True
    return False
