"""The hot loops, compiled by numba. Plain arrays of integers in and out, no objects.

Lengths are whole grid steps (0.1 mm or a common multiple of it). A *kind* is a set of pieces with the
same boxes; it has one or more *options* (boxes `dx` along x by `dy` across) listed in flat arrays,
those of kind ``k`` at ``start[k]:start[k + 1]``. An *entry* is one or more copies of a kind that share a
place in an order of preference.

In the knapsacks a kerf is no figure of its own: it is part of every size, and one more kerf is part of
the room.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias, TypeVar, cast

import numba
import numpy as np
import numpy.typing as npt

from nesting.packing.grid import Floats, Ints

__all__ = [
    "best_fill",
    "fill_marker",
    "fill_widths",
    "knapsack",
    "next_random",
    "search_order",
    "sums",
    "unbounded",
    "unpack",
    "within_limits",
]

Words: TypeAlias = npt.NDArray[np.uint64]
Counts: TypeAlias = npt.NDArray[np.int32]

Loop = TypeVar("Loop", bound=Callable[..., object])

NOTHING = -1


def compiled(loop: Loop) -> Loop:
    """Compile a function once and for all; it runs outside the interpreter lock.

    The plain function stays at hand as ``.py_func``.
    """
    return cast(Loop, numba.njit(cache=True, nogil=True)(loop))


@compiled
def next_random(state: Words) -> int:
    """Next non-negative pseudo-random integer; `state` is one uint64, changed in place.

    Marsaglia (2003), "Xorshift RNGs", Journal of Statistical Software 8(14): the triple 13, 7, 17.
    A generator of our own state keeps results the same on every machine and in every thread.
    """
    word = state[0]
    word ^= word << np.uint64(13)
    word ^= word >> np.uint64(7)
    word ^= word << np.uint64(17)
    state[0] = word
    return int(word >> np.uint64(1))


# --- Placing ------------------------------------------------------------------------------------------


@compiled
def fill_marker(
    width: int,
    target: int,
    order: Ints,
    kind: Ints,
    copies: Ints,
    start: Ints,
    dx: Ints,
    dy: Ints,
    area: Ints,
    out_entry: Ints,
    out_option: Ints,
    out_x: Ints,
    out_y: Ints,
    seg_y: Ints,
    seg_x: Ints,
    after: Ints,
    fit: int = 0,
) -> tuple[int, int, int, int]:
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
    area
        What a copy of each kind counts for.
    out_entry, out_option, out_x, out_y
        Receive the placements; long enough for all copies.
    seg_y, seg_x, after
        Work space: skyline (three more than the number of copies) and a linked list (entries + 1).
    fit
        How much the fit counts against the order: 0, all of it; 1, only boxes that fill the segment up
        to the taller wall come before others; 2, nothing, the first that fits is taken. By the last rule
        every packing without waste can be reached, by the first most good ones much sooner.

    Returns
    -------
    placed, area, top, work
        Number of placements, their total area, the x of the last edge, and entries looked at.
    """
    entries = order.shape[0]
    # `after` links the entries that still have copies; slot `entries` is the head.
    left = np.empty(entries, np.int64)
    last_live = entries
    narrowest = width + 1
    for e in range(entries):
        left[e] = copies[order[e]]
        if left[e] > 0:
            after[last_live] = e
            last_live = e
            t = kind[order[e]]
            for o in range(start[t], start[t + 1]):
                narrowest = min(narrowest, dy[o])
    after[last_live] = NOTHING

    segments = 1
    seg_y[0] = 0
    seg_x[0] = 0
    seg_y[1] = width
    placed = 0
    total = 0
    top = 0
    work = 0
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
            e = int(after[entries])
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
                    if fit == 2:
                        score = 0
                    elif fit == 1:
                        score = 7 if score >= 6 else 0
                    if score > best_score:
                        best_score = score
                        best_entry = e
                        best_before = before
                        best_option = o
                if best_score == 7 or (fit == 2 and best_score == 0):
                    break
                before = e
                e = int(after[e])

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
            continue
        for s in range(segments, low, -1):
            seg_y[s + 1] = seg_y[s]
            if s < segments:
                seg_x[s + 1] = seg_x[s]
        segments += 1
        # The piece takes the half of the split segment that lies at its wall.
        taken = low if beside_before else low + 1
        seg_y[low + 1] = y + piece_dy if beside_before else y
        seg_x[low + 1] = level
        seg_x[taken] = level + piece_dx
        segments = _tidy(seg_y, seg_x, taken, segments)
    return placed, total, top, work


@compiled
def _tidy(seg_y: Ints, seg_x: Ints, at: int, segments: int) -> int:
    """Join segment `at` with neighbours at the same level; return the new number of segments."""
    for first in (at + 1, at):
        if 0 < first < segments and seg_x[first - 1] == seg_x[first]:
            for s in range(first, segments):
                seg_y[s] = seg_y[s + 1]
                if s + 1 < segments:
                    seg_x[s] = seg_x[s + 1]
            segments -= 1
    return segments


@compiled
def search_order(
    width: int,
    target: int,
    goal: int,
    tries: int,
    most_work: int,
    order: Ints,
    kind: Ints,
    copies: Ints,
    start: Ints,
    dx: Ints,
    dy: Ints,
    area: Ints,
    random: Words,
    out: Ints,
    fit: int = 0,
) -> tuple[int, int, int, int, int]:
    """Search for an order of entries that fills a stretch of roll better.

    Random swaps, kept when the filled area does not shrink (and, at equal area, the length does not
    grow): the randomised local search of Wei et al. (2011), section 4.

    Parameters
    ----------
    goal
        Area at which everything is placed and the search ends.
    tries
        Most fillings to try, at least 1.
    most_work
        The search ends after the try in which its work reaches this.
    order
        Entries, most preferred first; on return in the best order found.
    random
        State of `next_random`.
    out
        ``(4, copies)`` array that receives the best placements: kind, option, x, y.
    fit
        As for `fill_marker`.

    Returns
    -------
    placed, area, top, work, tried
        The first three as `fill_marker`, of the best filling; `work` is that of all tries, `tried` their
        number (all of `tries` when there is nothing to swap).
    """
    entries = order.shape[0]
    pieces = out.shape[1]
    seg_y = np.empty(pieces + 3, np.int64)
    seg_x = np.empty(pieces + 3, np.int64)
    after = np.empty(entries + 1, np.int64)
    new = np.empty((4, pieces), np.int64)
    best_placed = 0
    best_area = -1
    best_top = 0
    work = 0
    tried = 0
    while tried < tries and work < most_work and best_area != goal:
        tried += 1
        a = 0
        b = 0
        if tried > 1:
            if entries < 2:
                tried = tries
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
            fit,
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
        elif tried > 1:
            order[a], order[b] = order[b], order[a]
    return best_placed, best_area, best_top, work, tried


# --- Knapsacks ----------------------------------------------------------------------------------------


@compiled
def _add(best: Floats, size: int, value: float, limit: int) -> int:
    """Let up to `limit` copies of an item into a knapsack table; return the cells looked at."""
    capacity = best.shape[0] - 1
    if value <= 0.0 or limit <= 0 or size > capacity:
        return 0
    if limit >= capacity // size:
        for c in range(size, capacity + 1):
            best[c] = max(best[c], best[c - size] + value)
        return int(capacity - size)
    # Downwards, so that smaller capacities still hold the best without this item.
    for c in range(capacity, size - 1, -1):
        for copies in range(1, min(limit, c // size) + 1):
            best[c] = max(best[c], best[c - copies * size] + copies * value)
    return int((capacity - size) * limit)


@compiled
def _spare(best: Floats, size: int, value: float) -> bool:
    """Whether items without limits that are in the table already make one more needless.

    What they reach within the size of the new one, copies of them reach wherever it would be used.
    """
    return bool(size < best.shape[0] and best[size] >= value)


@compiled
def unbounded(sizes: Ints, values: Floats, capacity: int) -> float:
    """Best value of any number of copies of each item within `capacity`; sizes >= 1."""
    best = np.zeros(capacity + 1)
    for i in range(sizes.shape[0]):
        if not _spare(best, sizes[i], values[i]):
            _add(best, sizes[i], values[i], capacity)
    return float(best[capacity])


@compiled
def knapsack(sizes: Ints, values: Floats, limits: Ints, capacity: int, take: Counts) -> Floats:
    """Bounded knapsack by dynamic programming over the whole capacity.

    Parameters
    ----------
    sizes, values, limits
        Size (>= 1), value and most copies of each item; items of value <= 0 or limit 0 are not taken.
    take
        ``(items, capacity + 1)`` zeros; receives how many copies of each item the best choice among
        the items up to it takes. `unpack` reads a choice from it.

    Returns
    -------
    array
        The best value of the items up to each one; the last is the best of all.
    """
    best = np.zeros(capacity + 1)
    reached = np.zeros(sizes.shape[0])
    unlimited = True
    for i in range(sizes.shape[0]):
        size = sizes[i]
        value = values[i]
        limit = min(limits[i], capacity // size)
        row = take[i]
        if value <= 0.0 or limit <= 0 or (unlimited and _spare(best, size, value)):
            pass
        elif limit == capacity // size:
            for c in range(size, capacity + 1):
                if best[c - size] + value > best[c]:
                    best[c] = best[c - size] + value
                    row[c] = row[c - size] + 1
        else:
            unlimited = False
            # Downwards, so that smaller capacities still hold the best without this item.
            for c in range(capacity, size - 1, -1):
                for copies in range(1, min(limit, c // size) + 1):
                    worth = best[c - copies * size] + copies * value
                    if worth > best[c]:
                        best[c] = worth
                        row[c] = copies
        reached[i] = best[capacity]
    return reached


@compiled
def reaches(sizes: Ints, values: Floats, limits: Ints, capacity: int) -> tuple[int, Floats]:
    """As `knapsack`, where no choice is read from it; the cells looked at come first."""
    best = np.zeros(capacity + 1)
    reached = np.zeros(sizes.shape[0])
    cells = 0
    unlimited = True
    for i in range(sizes.shape[0]):
        if limits[i] > 0 and not (unlimited and _spare(best, sizes[i], values[i])):
            cells += _add(best, sizes[i], values[i], limits[i])
            unlimited = unlimited and limits[i] >= capacity // sizes[i]
        reached[i] = best[capacity]
    return cells, reached


@compiled
def unpack(take: Counts, sizes: Ints, items: int, capacity: int) -> Ints:
    """Copies of each item in the best choice among the first `items`, from the table of `knapsack`."""
    counts = np.zeros(sizes.shape[0], np.int64)
    for i in range(items - 1, -1, -1):
        counts[i] = take[i, capacity]
        capacity -= counts[i] * sizes[i]
    return counts


@compiled
def within_limits(items: Ints, kind: Ints, limits: Ints) -> tuple[Ints, int]:
    """Drop items beyond the limit of their kind; those that stay, and how often the limits hold them."""
    used = np.zeros(limits.shape[0], np.int64)
    kept = np.empty_like(items)
    size = 0
    for item in items:
        if used[kind[item]] < limits[kind[item]]:
            used[kind[item]] += 1
            kept[size] = item
            size += 1
    times = NOTHING
    for item in kept[:size]:
        lasting = limits[kind[item]] // used[kind[item]]
        if times == NOTHING or lasting < times:
            times = lasting
    return kept[:size], max(times, 0)


def best_fill(sizes: Ints, values: Floats, limits: Ints, capacity: int) -> tuple[float, Ints]:
    """Best value of items within `capacity`, and the copies of each: `knapsack` and `unpack` in one."""
    if sizes.size == 0:
        return 0.0, np.zeros(0, np.int64)
    # Only multiples of what all sizes have in common can be reached.
    step = np.gcd.reduce(sizes)
    sizes, capacity = sizes // step, int(capacity // step)
    take = np.zeros((sizes.size, capacity + 1), np.int32)
    reached = knapsack(sizes, values, limits, capacity, take)
    return float(reached[-1]), unpack(take, sizes, sizes.size, capacity)


@compiled
def sums(sizes: Ints, room: int) -> Ints:
    """All sums of any number of copies of the sizes (>= 1) that are at least 1 and at most `room`."""
    reached = np.zeros(room + 1, np.bool_)
    reached[0] = True
    for size in sizes:
        for at in range(size, room + 1):
            if reached[at - size]:
                reached[at] = True
    return np.flatnonzero(reached)[1:]


@compiled
def fill_widths(
    lengths: Ints,
    widths: Ints,
    stages: int,
    box_dx: Ints,
    box_dy: Ints,
    values: Floats,
    limits: Ints,
    kerf: int,
    width: int,
    worth: Floats,
) -> int:
    """Best value of a section across the material, for each of the given section lengths.

    A section holds strips side by side across `width`. With two stages a strip holds one box, with
    three it holds boxes one behind the other along the section that are no wider than the strip.

    Parameters
    ----------
    lengths
        Section lengths to value, rising.
    widths
        Distinct strip widths (the distinct `box_dy`), rising.
    stages
        2 or 3.
    box_dx, box_dy, values, limits
        The boxes (all turns), narrow ones first, their values and most copies of each in one strip.
    worth
        Receives one value per section length; limits hold per strip only, so this is an upper bound
        when a limit binds.

    Returns
    -------
    cells
        Cells of the tables looked at.
    """
    longest = lengths[-1] + kerf
    table = np.zeros((widths.shape[0], lengths.shape[0]))
    best = np.zeros(longest + 1)
    unlimited = True
    cells = 0
    box = 0
    # Strips in order of width: a wider strip may hold all that a narrower one may, so that one table
    # serves all of them.
    for s in range(widths.shape[0]):
        while box < box_dy.shape[0] and box_dy[box] == widths[s]:
            if limits[box] > 0 and values[box] > 0.0:
                if stages == 2:
                    for k in range(lengths.shape[0]):
                        if box_dx[box] <= lengths[k]:
                            table[s, k] = max(table[s, k], values[box])
                elif not (unlimited and _spare(best, box_dx[box] + kerf, values[box])):
                    cells += _add(best, box_dx[box] + kerf, values[box], limits[box])
                    unlimited = unlimited and limits[box] >= longest // (box_dx[box] + kerf)
            box += 1
        if stages == 3:
            for k in range(lengths.shape[0]):
                table[s, k] = best[lengths[k] + kerf]
    across = np.zeros(width + kerf + 1)
    for k in range(lengths.shape[0]):
        across[:] = 0.0
        cells += width
        for s in range(widths.shape[0]):
            if not _spare(across, widths[s] + kerf, table[s, k]):
                cells += _add(across, widths[s] + kerf, table[s, k], width + kerf)
        worth[k] = across[width + kerf]
    return cells
