"""The hot loops, compiled by numba. Plain arrays of integers in and out, no objects.

Lengths are whole grid steps (0.1 mm or a common multiple of it). A *kind* is a set of pieces with the
same boxes; it has one or more *options* (boxes `dx` along x by `dy` across) listed in flat arrays,
those of kind ``k`` at ``start[k]:start[k + 1]``. An *entry* is one or more copies of a kind that share a
place in an order of preference.
"""

from __future__ import annotations

import numpy as np
from numba import njit  # type: ignore[import-untyped]

__all__ = ["fill_marker", "fill_widths", "knapsack", "next_random", "search_order", "unbounded"]

NOTHING = np.int64(-1)


@njit(cache=True, nogil=True)
def next_random(state: np.ndarray) -> np.int64:
    """Next non-negative pseudo-random integer; `state` is one uint64, changed in place.

    Marsaglia (2003), "Xorshift RNGs", Journal of Statistical Software 8(14): the triple 13, 7, 17.
    A generator of our own state keeps results the same on every machine and in every thread.
    """
    word = state[0]
    word ^= word << np.uint64(13)
    word ^= word >> np.uint64(7)
    word ^= word << np.uint64(17)
    state[0] = word
    return np.int64(word >> np.uint64(1))


@njit(cache=True, nogil=True)
def fill_marker(
    width,
    target,
    order,
    kind,
    copies,
    start,
    dx,
    dy,
    area,
    out_entry,
    out_option,
    out_x,
    out_y,
    seg_y,
    seg_x,
    after,
):
    """Fill a stretch of roll, `width` by `target`, from a list of entries in order of preference.

    Skyline placement with a fit score, after Wei, Oon, Zhu and Lim (2011), "A skyline heuristic for
    the 2D rectangular packing and strip packing problems", EJOR 215(2): 337-346. The lowest segment
    of the skyline takes the entry that fits its width and its walls best; ties go to the entry that
    comes first in `order`. A segment that can take nothing is lifted to its lower neighbour.

    Parameters
    ----------
    order
        The entries, most preferred first.
    kind, copies
        Kind and number of copies of each entry.
    out_entry, out_option, out_x, out_y
        Receive the placements; long enough for all copies.
    seg_y, seg_x, after
        Work space: skyline (two more than the number of copies) and a linked list (entries + 1).

    Returns
    -------
    placed, area, top, work
        Number of placements, their total area, the x of the last edge, and entries looked at.
    """
    entries = order.shape[0]
    # `after` links the entries that still have copies; slot `entries` is the head.
    left = np.empty(entries, np.int64)
    previous_live = entries
    narrowest = width + 1
    for e in range(entries):
        left[e] = copies[order[e]]
        if left[e] > 0:
            after[previous_live] = e
            previous_live = e
            t = kind[order[e]]
            for o in range(start[t], start[t + 1]):
                narrowest = min(narrowest, dy[o])
    after[previous_live] = NOTHING

    segments = 1
    seg_y[0] = 0
    seg_x[0] = 0
    seg_y[1] = width
    placed = 0
    total = np.int64(0)
    top = np.int64(0)
    work = np.int64(0)
    while after[entries] != NOTHING:
        # What a step costs besides looking at entries, so that work goes with time.
        work += 8 + segments
        low = 0
        for s in range(1, segments):
            if seg_x[s] < seg_x[low]:
                low = s
        level = seg_x[low]
        if level >= target:
            break
        room = seg_y[low + 1] - seg_y[low]
        wall_before = seg_x[low - 1] if low > 0 else target
        wall_after = seg_x[low + 1] if low < segments - 1 else target

        best_score = -1
        best_entry = NOTHING
        best_before = NOTHING
        best_option = NOTHING
        if room >= narrowest:
            depth = target - level
            rise_before = wall_before - level
            rise_after = wall_after - level
            tall = max(rise_before, rise_after)
            short = min(rise_before, rise_after)
            before = entries
            e = after[entries]
            while e != NOTHING:
                work += 1
                t = kind[order[e]]
                for o in range(start[t], start[t + 1]):
                    if dy[o] > room or dx[o] > depth:
                        continue
                    if dy[o] == room:
                        if dx[o] == tall:
                            score = 7 if tall == short else 6
                        elif dx[o] == short:
                            score = 5
                        elif dx[o] < short:
                            score = 4
                        else:
                            score = 3
                    elif dx[o] == tall:
                        score = 2
                    elif dx[o] == short:
                        score = 1
                    else:
                        score = 0
                    if score > best_score:
                        best_score = score
                        best_entry = e
                        best_before = before
                        best_option = o
                if best_score == 7:
                    break
                before = e
                e = after[e]

        if best_entry == NOTHING:
            seg_x[low] = min(wall_before, wall_after)
            segments = _tidy(seg_y, seg_x, low, segments)
            continue

        piece_dx = dx[best_option]
        piece_dy = dy[best_option]
        # Beside the taller wall, so that the gap that stays open is the easier one; beside the short
        # wall when the edges come out flush there.
        beside_before = wall_before >= wall_after
        if best_score == 1:
            beside_before = not beside_before
        y = seg_y[low] if beside_before else seg_y[low + 1] - piece_dy
        out_entry[placed] = order[best_entry]
        out_option[placed] = best_option
        out_x[placed] = level
        out_y[placed] = y
        placed += 1
        total += area[kind[order[best_entry]]]
        top = max(top, level + piece_dx)
        left[best_entry] -= 1
        if left[best_entry] == 0:
            after[best_before] = after[best_entry]

        if piece_dy == room:
            seg_x[low] = level + piece_dx
            segments = _tidy(seg_y, seg_x, low, segments)
        elif beside_before:
            for s in range(segments, low, -1):
                seg_y[s + 1] = seg_y[s]
                if s < segments:
                    seg_x[s + 1] = seg_x[s]
            segments += 1
            seg_y[low + 1] = y + piece_dy
            seg_x[low + 1] = level
            seg_x[low] = level + piece_dx
            segments = _tidy(seg_y, seg_x, low, segments)
        else:
            for s in range(segments, low, -1):
                seg_y[s + 1] = seg_y[s]
                if s < segments:
                    seg_x[s + 1] = seg_x[s]
            segments += 1
            seg_y[low + 1] = y
            seg_x[low + 1] = level + piece_dx
            segments = _tidy(seg_y, seg_x, low + 1, segments)
    return placed, total, top, work


@njit(cache=True, nogil=True)
def _tidy(seg_y, seg_x, at, segments):
    """Join segment `at` with neighbours at the same level; return the new number of segments."""
    if at + 1 < segments and seg_x[at + 1] == seg_x[at]:
        for s in range(at + 1, segments):
            seg_y[s] = seg_y[s + 1]
            if s + 1 < segments:
                seg_x[s] = seg_x[s + 1]
        segments -= 1
    if at > 0 and seg_x[at - 1] == seg_x[at]:
        for s in range(at, segments):
            seg_y[s] = seg_y[s + 1]
            if s + 1 < segments:
                seg_x[s] = seg_x[s + 1]
        segments -= 1
    return segments


@njit(cache=True, nogil=True)
def search_order(width, target, goal, tries, order, kind, copies, start, dx, dy, area, random, out):
    """Search for an order of entries that fills a stretch of roll better.

    Random swaps, kept when the filled area does not shrink (and, at equal area, the length does not
    grow): the randomised local search of Wei et al. (2011), section 4.

    Parameters
    ----------
    goal
        Area at which everything is placed and the search ends.
    tries
        Most fillings to try, at least 1.
    order
        Entries, most preferred first; on return in the best order found.
    random
        State of `next_random`.
    out
        ``(4, copies)`` array that receives the best placements: kind, option, x, y.

    Returns
    -------
    placed, area, top, work
        As `fill_marker`, of the best filling; `work` is that of all tries.
    """
    entries = order.shape[0]
    pieces = out.shape[1]
    seg_y = np.empty(pieces + 3, np.int64)
    seg_x = np.empty(pieces + 3, np.int64)
    after = np.empty(entries + 1, np.int64)
    new = np.empty((4, pieces), np.int64)
    best_placed = 0
    best_area = np.int64(-1)
    best_top = np.int64(0)
    work = np.int64(0)
    for trial in range(tries):
        a = 0
        b = 0
        if trial > 0:
            if entries < 2:
                break
            a = next_random(random) % entries
            b = next_random(random) % entries
            if kind[order[a]] == kind[order[b]]:
                work += 1
                continue
            order[a], order[b] = order[b], order[a]
        placed, filled, top, effort = fill_marker(
            width,
            target,
            order,
            kind,
            copies,
            start,
            dx,
            dy,
            area,
            new[0],
            new[1],
            new[2],
            new[3],
            seg_y,
            seg_x,
            after,
        )
        work += effort
        if filled > best_area or (filled == best_area and top <= best_top):
            best_area = filled
            best_placed = placed
            best_top = top
            for p in range(placed):
                out[0, p] = kind[new[0, p]]
                out[1, p] = new[1, p]
                out[2, p] = new[2, p]
                out[3, p] = new[3, p]
            if best_area == goal:
                break
        elif trial > 0:
            order[a], order[b] = order[b], order[a]
    return best_placed, best_area, best_top, work


@njit(cache=True, nogil=True)
def knapsack(sizes, values, limits, capacity, best, take):
    """Bounded knapsack by dynamic programming over the whole capacity.

    Parameters
    ----------
    sizes, values, limits
        Size (>= 1), value and most copies of each item; items of value <= 0 or limit 0 are not taken.
    best
        ``capacity + 1`` floats, receives the best value within each capacity.
    take
        ``(items, capacity + 1)`` integers, receives how many copies of each item the best choice among
        the items up to it takes; trace back from the last item.
    """
    for c in range(capacity + 1):
        best[c] = 0.0
    for i in range(sizes.shape[0]):
        size = sizes[i]
        value = values[i]
        limit = limits[i]
        row = take[i]
        for c in range(capacity + 1):
            row[c] = 0
        if value <= 0.0 or limit <= 0 or size > capacity:
            continue
        if limit >= capacity // size:
            for c in range(size, capacity + 1):
                if best[c - size] + value > best[c]:
                    best[c] = best[c - size] + value
                    row[c] = row[c - size] + 1
        else:
            # Downwards, so that smaller capacities still hold the best without this item.
            for c in range(capacity, size - 1, -1):
                for copies in range(1, min(limit, c // size) + 1):
                    worth = best[c - copies * size] + copies * value
                    if worth > best[c]:
                        best[c] = worth
                        row[c] = copies


@njit(cache=True, nogil=True)
def unbounded(sizes, values, capacity):
    """Best value of any number of copies of each item within `capacity`; sizes rise."""
    best = np.zeros(capacity + 1)
    for i in range(sizes.shape[0]):
        size = sizes[i]
        value = values[i]
        if value <= 0.0:
            continue
        for c in range(size, capacity + 1):
            best[c] = max(best[c], best[c - size] + value)
    return best[capacity]


@njit(cache=True, nogil=True)
def fill_widths(lengths, stacks, stages, box_dx, box_dy, values, limits, kerf, width, section_value):
    """Best value of a section across the material, for each of the given section lengths.

    A section of two stages holds boxes side by side across `width`; one of three stages holds strips
    side by side, each a stack of boxes along x no wider than the strip.

    Parameters
    ----------
    lengths
        Section lengths to value, rising.
    stacks
        Distinct strip widths (the distinct `box_dy`), rising.
    stages
        2 or 3.
    box_dx, box_dy, values, limits
        The boxes (all turns), their values and most copies of each in one strip.
    section_value
        Receives one value per section length; limits hold per strip only, so this is an upper bound
        when a limit binds.
    """
    boxes = box_dx.shape[0]
    longest = lengths[-1] + kerf
    strips = stacks.shape[0]
    table = np.zeros((strips, lengths.shape[0]))
    if stages == 2:
        for s in range(strips):
            for b in range(boxes):
                if box_dy[b] == stacks[s] and limits[b] > 0:
                    for k in range(lengths.shape[0]):
                        if box_dx[b] <= lengths[k] and values[b] > table[s, k]:
                            table[s, k] = values[b]
    else:
        best = np.zeros(longest + 1)
        # Strips in order of width: a wider strip may hold all that a narrower one may, so that one
        # table serves all of them.
        for s in range(strips):
            for b in range(boxes):
                if box_dy[b] != stacks[s] or limits[b] <= 0 or values[b] <= 0.0:
                    continue
                size = box_dx[b] + kerf
                if limits[b] >= longest // size:
                    for c in range(size, longest + 1):
                        best[c] = max(best[c], best[c - size] + values[b])
                else:
                    for c in range(longest, size - 1, -1):
                        for copies in range(1, min(limits[b], c // size) + 1):
                            worth = best[c - copies * size] + copies * values[b]
                            best[c] = max(best[c], worth)
            for k in range(lengths.shape[0]):
                table[s, k] = best[lengths[k] + kerf]
    across = np.zeros(width + kerf + 1)
    for k in range(lengths.shape[0]):
        for c in range(width + kerf + 1):
            across[c] = 0.0
        for s in range(strips):
            value = table[s, k]
            if value <= 0.0:
                continue
            size = stacks[s] + kerf
            for c in range(size, width + kerf + 1):
                across[c] = max(across[c], across[c - size] + value)
        section_value[k] = across[width + kerf]
