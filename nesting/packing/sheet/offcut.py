"""Of plans that cost the same, the one that leaves the largest rest in one piece."""

from __future__ import annotations

import numpy as np

from nesting.packing.columns import Cover
from nesting.packing.grid import Ints
from nesting.packing.search import Search
from nesting.packing.sheet import kernels, nodes
from nesting.packing.sheet.cutter import Choice, Cutter
from nesting.packing.sheet.recut import CHUNK

__all__ = ["enlarge_offcut"]

MOST_COPIES = 80
"""Most pieces that make way for the rest: few, so that layouts still repeat."""

MOST_WORK = 12_000_000
"""Most work spent on the rest: about a quarter of a second."""

TRY = 2 * CHUNK
"""Work on one size of the rest."""

GROWTH, LEAST_GROWTH = 0.5, 0.01
"""Share by which the rest is to grow at first, and the least that is tried."""

HEAT = 0.02
"""Temperature, as a share of the mean weight of a piece."""


def enlarge_offcut(cutter: Cutter, search: Search[Cover]) -> None:
    """Put a plan with a larger rest, at the same cost, in the place of the draft of `search`.

    The rest is cut like one more piece, with an area that grows as long as a way is found: strips of
    full length or width, and corners. Sheets that are no tree of cuts stay as they are.
    """
    cover = search.draft
    if cover is None or cover.missing.any():
        return
    choice = cutter.choose(cover, free=False, most=MOST_COPIES)
    if not choice.opened:
        return
    task = _with_rest(cutter.task(choice))
    plan = cutter.load(choice, task)
    start, _ = nodes.largest_rest(plan)
    largest = start
    spare = nodes.Plan.empty(task.kind.size, task.costs.size)
    best = nodes.Plan.empty(task.kind.size, task.costs.size)
    heat = HEAT * float(task.weight[task.kind[:-1]].mean())
    rooms = task.room[plan.used > 0, :2]
    sheet = rooms[np.argmax(rooms.prod(axis=1))]
    most = float(np.maximum(cutter.grid.area, 1).max())
    rng = np.random.default_rng(search.seed)
    growth = GROWTH
    failed = work = 0
    while growth >= LEAST_GROWTH and work < MOST_WORK and not search.used_up:
        area = max(largest * (1.0 + growth), LEAST_GROWTH * float(sheet.prod()))
        size = _size(area, sheet, failed, rng)
        failed += 1
        if size is not None:
            task.dx[-1], task.dy[-1] = size
            task.weight[-1] = float(size[0]) * size[1] / most
            nodes.copy_plan(plan, spare)
            nodes.copy_plan(plan, best)
            done = kernels.improve(task, spare, best, choice.cost, heat, TRY, search.random)
            work += done
            search.spend(done)
            if not best.sizes[nodes.OUT]:
                nodes.remove(task, best, best.leaf[-1])
                nodes.copy_plan(best, plan)
                nodes.tighten_all(task, plan)
                largest, _ = nodes.largest_rest(plan)
                growth, failed = growth * 1.5, 0
        if failed == 3:
            growth, failed = growth / 2, 0
    if largest > start:
        _keep(cutter, choice, task, plan, search)


def _with_rest(task: nodes.Task) -> nodes.Task:
    """The task with one more kind and copy: the rest."""
    last = task.start.size - 1
    return task._replace(
        kind=np.append(task.kind, last),
        start=np.append(task.start, task.dx.size + 1),
        dx=np.append(task.dx, 1),
        dy=np.append(task.dy, 1),
        keys=np.hstack([task.keys, np.full((task.keys.shape[0], 1), task.keys.max())]),
        weight=np.append(task.weight, 0.0),
    )


def _size(area: float, sheet: Ints, shape: int, rng: np.random.Generator) -> tuple[int, int] | None:
    """A rest of the area: a strip across, one along, or a corner; None when the sheet is too small."""
    length, width = int(sheet[0]), int(sheet[1])
    if shape == 0:
        size = (int(np.ceil(area / width)), width)
    elif shape == 1:
        size = (length, int(np.ceil(area / length)))
    else:
        dx = int(length * rng.uniform(0.3, 1.0))
        size = (dx, int(np.ceil(area / max(dx, 1))))
    return size if 0 < size[0] <= length and 0 < size[1] <= width else None


def _keep(cutter: Cutter, choice: Choice, task: nodes.Task, plan: nodes.Plan, search: Search[Cover]) -> None:
    """Make the plan the draft: at the same cost, or cheaper where the rest had a sheet for itself."""
    plan.sizes[nodes.OUT] = 0
    _, special = nodes.largest_rest(plan)
    cover = cutter.cover(choice, task, plan, {special: cutter.column(task, plan, special)})
    if not search.offer(cover.cost, cover):
        search.draft = cover
