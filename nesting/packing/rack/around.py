"""Skyline fills of a window that keep clear of its flaws: the hot loops, compiled by numba.

As in `nesting.packing.kernels` every size has one gap added, and so has the room, but for flaws: they are
given as they are, and a piece needs no gap beside them.
"""

from __future__ import annotations

import numpy as np

from nesting.packing.grid import Ints
from nesting.packing.kernels import Words, compiled, next_random

__all__ = ["fill_around", "search_around"]

NOTHING = -1


@compiled
def _free(stains: Ints, x0: int, x1: int, y0: int, y1: int) -> bool:
    """Whether no flaw (columns: x0, x1, y0, y1) overlaps a rectangle."""
    for f in range(stains.shape[0]):
        if stains[f, 0] < x1 and stains[f, 1] > x0 and stains[f, 2] < y1 and stains[f, 3] > y0:
            return False
    return True


@compiled
def _joined(seg_y: Ints, seg_x: Ints, segments: int) -> int:
    """Join neighbouring segments on one level; return the new number of segments."""
    kept = 0
    for s in range(1, segments):
        if seg_x[s] != seg_x[kept]:
            kept += 1
            seg_x[kept] = seg_x[s]
            seg_y[kept] = seg_y[s]
    seg_y[kept + 1] = seg_y[segments]
    return kept + 1


@compiled
def _split(seg_y: Ints, seg_x: Ints, at: int, segments: int, y: int) -> int:
    """Split segment `at` at y, both parts on its level; return the new number of segments."""
    for s in range(segments, at, -1):
        seg_y[s + 1] = seg_y[s]
        if s < segments:
            seg_x[s + 1] = seg_x[s]
    seg_y[at + 1] = y
    seg_x[at + 1] = seg_x[at]
    return segments + 1


@compiled
def _lift(seg_y: Ints, seg_x: Ints, low: int, segments: int, stains: Ints, wall: int) -> int:
    """Lift a segment that takes nothing: the part before the next flaw beyond it, or all to its wall."""
    level = seg_x[low]
    nearest = NOTHING
    for f in range(stains.shape[0]):
        if stains[f, 1] <= level or stains[f, 2] >= seg_y[low + 1] or stains[f, 3] <= seg_y[low]:
            continue
        if nearest == NOTHING or stains[f, 0] < stains[nearest, 0]:
            nearest = f
    if nearest == NOTHING or stains[nearest, 0] >= wall:
        seg_x[low] = wall
        return int(_joined(seg_y, seg_x, segments))
    if stains[nearest, 3] < seg_y[low + 1]:
        segments = _split(seg_y, seg_x, low, segments, stains[nearest, 3])
    if stains[nearest, 2] > seg_y[low]:
        segments = _split(seg_y, seg_x, low, segments, stains[nearest, 2])
        low += 1
    seg_x[low] = stains[nearest, 1]
    return int(_joined(seg_y, seg_x, segments))


@compiled
def fill_around(
    width: int,
    target: int,
    gap: int,
    stains: Ints,
    order: Ints,
    kind: Ints,
    copies: Ints,
    start: Ints,
    dx: Ints,
    dy: Ints,
    worth: Ints,
    out: Ints,
) -> tuple[int, int, int, int]:
    """Fill a window from a list of entries in order of preference, clear of flaws.

    The skyline rule of `nesting.packing.kernels.fill_marker` (Wei, Oon, Zhu and Lim 2011, EJOR 215(2):
    337-346) with fewer grades of fit. A piece is tried at both ends of the lowest segment. Where nothing
    can be placed because of a flaw, only the part of the segment that lies before the flaw is lifted, to
    behind it.

    Parameters
    ----------
    width, target
        Room across and along, one gap added.
    gap
        The gap that is part of every size.
    stains
        One row for each flaw: x0, x1, y0, y1.
    order, kind, copies, start, dx, dy
        Entries and boxes, as for `fill_marker`.
    worth
        What a copy of each kind counts for.
    out
        ``(4, copies)`` array that receives kind, option, x, y.

    Returns
    -------
    placed, worth, top, work
        As `fill_marker`.
    """
    entries = order.shape[0]
    pieces = out.shape[1]
    most = pieces + 3 + 2 * stains.shape[0] * (pieces + 1)
    seg_y = np.empty(most, np.int64)
    seg_x = np.empty(most, np.int64)
    left = np.empty(entries, np.int64)
    for e in range(entries):
        left[e] = copies[order[e]]
    segments = 1
    seg_y[0] = 0
    seg_x[0] = 0
    seg_y[1] = width
    placed = 0
    total = 0
    top = 0
    work = 0
    while placed < pieces:
        work += 8 + segments
        low = 0
        for s in range(1, segments):
            if seg_x[s] < seg_x[low]:
                low = s
        level = seg_x[low]
        if level >= target:
            break
        room = seg_y[low + 1] - seg_y[low]
        before = seg_x[low - 1] if low > 0 else target
        after = seg_x[low + 1] if low < segments - 1 else target
        best_score = -1
        best_entry = NOTHING
        best_option = NOTHING
        best_y = 0
        for e in range(entries):
            if left[e] == 0:
                continue
            work += 1
            t = kind[order[e]]
            for o in range(start[t], start[t + 1]):
                if dy[o] > room or dx[o] > target - level:
                    continue
                score = 2 if dy[o] == room else 0
                if level + dx[o] == before or level + dx[o] == after:
                    score += 1
                if score <= best_score:
                    continue
                # Beside the taller wall first, so that the gap that stays open is the easier one.
                for side in range(2):
                    y = seg_y[low]
                    if (before >= after) == (side == 1):
                        y = seg_y[low + 1] - dy[o]
                    work += stains.shape[0]
                    if _free(stains, level, level + dx[o] - gap, y, y + dy[o] - gap):
                        best_score = score
                        best_entry = e
                        best_option = o
                        best_y = y
                        break
            if best_score == 3:
                break
        if best_entry == NOTHING:
            segments = _lift(seg_y, seg_x, low, segments, stains, min(before, after))
            continue
        out[0, placed] = kind[order[best_entry]]
        out[1, placed] = best_option
        out[2, placed] = level
        out[3, placed] = best_y
        placed += 1
        total += worth[kind[order[best_entry]]]
        left[best_entry] -= 1
        end = level + dx[best_option]
        top = max(top, end)
        if dy[best_option] < room:
            if best_y == seg_y[low]:
                segments = _split(seg_y, seg_x, low, segments, best_y + dy[best_option])
            else:
                segments = _split(seg_y, seg_x, low, segments, best_y)
                low += 1
        seg_x[low] = end
        segments = _joined(seg_y, seg_x, segments)
    return placed, total, top, work


@compiled
def search_around(
    width: int,
    target: int,
    gap: int,
    stains: Ints,
    goal: int,
    tries: int,
    most_work: int,
    order: Ints,
    kind: Ints,
    copies: Ints,
    start: Ints,
    dx: Ints,
    dy: Ints,
    worth: Ints,
    random: Words,
    out: Ints,
) -> tuple[int, int, int, int]:
    """Search for an order of entries that fills a window better, by swaps that are kept when they help.

    Parameters
    ----------
    goal
        Worth at which everything is placed and the search ends.
    tries, most_work
        Most fillings to try, and the work at which the search ends.
    order
        Entries, most preferred first; on return in the best order found.
    random
        State of `next_random`.
    out
        Receives the best placements: kind, option, x, y.

    Returns
    -------
    placed, worth, top, work
        As `fill_around`, of the best filling; `work` is that of all tries.
    """
    entries = order.shape[0]
    new = np.empty_like(out)
    best_placed = 0
    best_worth = -1
    best_top = 0
    work = 0
    for tried in range(tries):
        if work >= most_work or best_worth == goal or (tried > 0 and entries < 2):
            break
        a = 0
        b = 0
        if tried > 0:
            a = next_random(random) % entries
            b = next_random(random) % entries
            order[a], order[b] = order[b], order[a]
        placed, filled, top, effort = fill_around(
            width, target, gap, stains, order, kind, copies, start, dx, dy, worth, new
        )
        work += effort
        if filled > best_worth or (filled == best_worth and top <= best_top):
            best_placed, best_worth, best_top = placed, filled, top
            out[:, :placed] = new[:, :placed]
        else:
            order[a], order[b] = order[b], order[a]
    return best_placed, best_worth, best_top, work
