"""All patterns that a plan below a given cost can use.

Every pattern of a plan costs something beyond what its pieces are worth under a dual solution: its
reduced cost. Over a whole plan these add up to exactly what the plan costs beyond the dual bound, and
none is negative; so where a plan within a target is sought, a pattern whose reduced cost exceeds the gap
from bound to target is in none of them (reduced-cost fixing: Dantzig, Fulkerson and Johnson 1954,
"Solution of a large-scale traveling-salesman problem", Operations Research 2(4): 393-410; on cutting
stock de Lima, Iori and Miyazawa 2023, "Exact solution of network flow models with strong relaxations",
Mathematical Programming 197: 813-846, from memory). Where the gap is a small part of one bar, a few
hundred patterns are left of many millions.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from nesting.packing.kernels import compiled
from nesting.packing.linear.task import Ints, Pattern, Task

__all__ = ["list_patterns"]

TABLE_STEPS = 20_000_000
"""Most steps spent on the table of what rooms may hold; longer bars get a coarser one."""

STEPS_A_PATTERN = 2_000
"""Steps that the listing may take for each pattern that may be listed."""


def list_patterns(
    task: Task, least: Sequence[int], values: Ints, most: int
) -> tuple[list[Pattern] | None, int]:
    """Patterns of at least a given value that hold something and that no further piece fits into.

    A plan over these alone is as cheap as any with patterns of that value, for a bar may always yield
    more than is wanted.

    Parameters
    ----------
    task
        Bars and pieces; no pattern holds more of a piece than is wanted.
    least
        Least value of a pattern, for each bar.
    values
        Integer value of each piece, 0 or more.
    most
        Most patterns listed.

    Returns
    -------
    tuple
        The patterns, None when there are more (or finding out would take too long); and the work done
        in elementary steps.
    """
    order = np.argsort(-task.sizes, kind="stable")
    order = order[task.demand[order] > 0]
    sizes, worth, wanted = task.sizes[order], values[order], task.demand[order]
    listed: list[Pattern] = []
    work = 0
    if not order.size:
        return listed, work
    for k in np.flatnonzero(task.limits > 0).tolist():
        room = int(task.rooms[k])
        copies = np.minimum(wanted, room // sizes)
        grain = 1 + room * int(copies.sum()) // TABLE_STEPS
        rows, steps = _fills(
            sizes, worth, copies, room, int(least[k]), grain, most - len(listed), most * STEPS_A_PATTERN
        )
        work += int(steps) + room // grain * int(copies.sum())
        if steps < 0 or len(rows) > most - len(listed):
            return None, work
        # A bar that nothing goes on is no pattern.
        rows = rows[rows.any(axis=1)]
        counts = np.zeros((len(rows), task.sizes.size), np.int64)
        counts[:, order] = rows
        listed += [Pattern.of(k, row) for row in counts]
    return listed, work


@compiled
def _fills(
    sizes: Ints, values: Ints, copies: Ints, room: int, least: int, grain: int, most: int, most_steps: int
) -> tuple[npt.NDArray[np.int64], int]:
    """Fills of one bar that are worth at least `least` and leave no room for a further piece.

    There is at least one piece; they come longest first. `grain` coarsens the table of what a room may
    hold at most: lengths are rounded down to multiples of it there, so that it promises too much rather
    than too little. Returns one fill more than `most` where there are more, and ``-steps`` where
    `most_steps` did not suffice.
    """
    pieces = sizes.size
    table = np.zeros((pieces + 1, room // grain + 1), np.int64)
    for i in range(pieces - 1, -1, -1):
        table[i] = table[i + 1]
        for count in range(1, copies[i] + 1):
            size = count * sizes[i] // grain
            for at in range(size, table.shape[1]):
                value = table[i + 1, at - size] + count * values[i]
                table[i, at] = max(table[i, at], value)
    found = np.zeros((most + 1, pieces), np.int64)
    listed = 0
    chosen = np.zeros(pieces, np.int64)
    left = np.zeros(pieces + 1, np.int64)
    value_of = np.zeros(pieces + 1, np.int64)
    left[0] = room
    steps = 0
    i = 0
    # At each level the count falls from the most that fits; -1 stands for all counts tried.
    chosen[0] = min(copies[0], room // sizes[0])
    while i >= 0:
        steps += 1
        if steps > most_steps:
            return found[:listed], -steps
        if i == pieces:
            full = True
            for j in range(pieces):
                if chosen[j] < copies[j] and sizes[j] <= left[i]:
                    full = False
                    break
            if full:
                found[listed] = chosen
                listed += 1
                if listed > most:
                    return found, steps
            i -= 1
            chosen[i] -= 1
            continue
        if chosen[i] < 0:
            i -= 1
            if i >= 0:
                chosen[i] -= 1
            continue
        left[i + 1] = left[i] - chosen[i] * sizes[i]
        value_of[i + 1] = value_of[i] + chosen[i] * values[i]
        if value_of[i + 1] + table[i + 1, left[i + 1] // grain] < least:
            chosen[i] -= 1
            continue
        i += 1
        if i < pieces:
            chosen[i] = min(copies[i], left[i] // sizes[i])
    return found[:listed], steps
