"""The most valuable fill of one bar: the bounded knapsack, in exact integers.

Dynamic programming over the sums that pieces can really reach, not over every step of the bar, so that
a bar of a million steps costs no more than one of a thousand. Of two reachable states the one that is
no shorter and no more valuable is dropped (dominance), and so is every state that even a fractional
fill of its rest cannot lift above the best fill known (Dantzig 1957, "Discrete-variable extremum
problems", Operations Research 5(2): 266-277). On combining both see Kellerer, Pferschy and Pisinger
(2004), *Knapsack Problems*, Springer (from memory, unverified).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.packing.linear.task import Ints

__all__ = ["Filled", "best_fill"]

MOST_STATES = 50_000
"""States kept at a time; beyond it the least promising go, and `Filled.upper` tells what they may hide."""

RATIO_BITS = 64
"""Binary digits of a ratio value / size: two different ratios of sizes below 10^8 differ in these."""


@dataclass(frozen=True, slots=True)
class Filled:
    """A fill of one bar.

    Parameters
    ----------
    counts
        How many of each piece.
    value
        Their value.
    upper
        No fill is worth more than this; equal to `value` unless nothing better than the given floor
        exists or states had to be dropped.
    """

    counts: Ints
    value: int
    upper: int


@dataclass(frozen=True, slots=True)
class _Chunks:
    """Pieces bundled by 1, 2, 4, ... so that every count up to the limit is a choice of bundles.

    Best value per size first. `sum_size` and `sum_value` are those of all chunks before each one.
    """

    piece: Ints
    copies: Ints
    size: Ints
    value: Ints
    sum_size: Ints
    sum_value: Ints

    @classmethod
    def of(cls, room: int, sizes: Ints, values: Ints, most: Ints) -> _Chunks:
        """Bundle what fits into `room` and is worth something."""
        useful = [i for i in range(sizes.size) if values[i] > 0 and most[i] > 0 and sizes[i] <= room]
        useful.sort(key=lambda i: (-((int(values[i]) << RATIO_BITS) // int(sizes[i])), -int(sizes[i]), i))
        piece: list[int] = []
        copies: list[int] = []
        for i in useful:
            left = min(int(most[i]), room // int(sizes[i]))
            bundles = []
            while left > 0:
                bundles.append(min(left, 1 << len(bundles)))
                left -= bundles[-1]
            # Large bundles first: the fractional fill is then soon a whole one.
            copies += sorted(bundles, reverse=True)
            piece += [i] * len(bundles)
        index, times = np.array(piece, np.int64), np.array(copies, np.int64)
        size, value = sizes[index] * times, values[index] * times
        zero = np.zeros(1, np.int64)
        sums = (np.concatenate([zero, np.cumsum(size)]), np.concatenate([zero, np.cumsum(value)]))
        return cls(index, times, size, value, *sums)

    def rest_value(self, first: int, room: Ints) -> Ints:
        """Most that chunks from `first` on can add in each room when the last one may be a fraction."""
        reach = self.sum_size[first] + room
        whole = np.searchsorted(self.sum_size, reach, side="right") - 1
        last = np.minimum(whole, self.size.size - 1)
        # Beyond the last chunk nothing can be added.
        part = np.where(whole < self.size.size, reach - self.sum_size[whole], 0)
        return self.sum_value[whole] - self.sum_value[first] + part * self.value[last] // self.size[last]


def best_fill(
    room: int, sizes: Ints, values: Ints, most: Ints, *, floor: int = 0, most_states: int = MOST_STATES
) -> Filled:
    """Fill a bar with pieces of the greatest total value.

    Parameters
    ----------
    room
        Length of the bar, in steps, at most 10^8.
    sizes, values, most
        Of each piece: length, value (at most about 10^10) and number there are.
    floor
        Only fills worth more than this are wanted. When there is none, an empty fill is returned with
        ``upper == floor`` as the proof.
    most_states
        States kept at a time.

    Returns
    -------
    Filled
        Ties are broken the same way every time.
    """
    empty = np.zeros(sizes.size, np.int64)
    chunks = _Chunks.of(room, sizes, values, most)
    if not chunks.piece.size:
        return Filled(empty, 0, floor)
    greedy = _greedy(room, chunks, empty)
    best, found = floor, Filled(empty, 0, floor)
    if int(greedy @ values) > floor:
        best = int(greedy @ values)
        found = Filled(greedy, best, best)
    hidden = 0
    end: tuple[int, int, int] | None = None  # steps, size and value of the best state found
    size, value = np.zeros(1, np.int64), np.zeros(1, np.int64)
    history: list[tuple[Ints, Ints]] = []
    for step in range(chunks.piece.size):
        history.append((size, value))
        size, value = _with_chunk(size, value, int(chunks.size[step]), int(chunks.value[step]), room)
        if int(value[-1]) > best:
            best = int(value[-1])
            end = (step + 1, int(size[-1]), best)
        if step + 1 == chunks.piece.size:
            break
        upper = value + chunks.rest_value(step + 1, room - size)
        keep = upper > best
        if not keep.any():
            break
        if int(keep.sum()) > most_states:
            keep = np.zeros(size.size, bool)
            order = np.argsort(-upper, kind="stable")
            keep[order[:most_states]] = True
            hidden = max(hidden, int(upper[order[most_states]]))
        size, value = size[keep], value[keep]
    if end is not None:
        found = Filled(_trace(chunks, history, end, empty), best, best)
    return Filled(found.counts, found.value, max(best, hidden))


def _greedy(room: int, chunks: _Chunks, empty: Ints) -> Ints:
    counts = empty.copy()
    for piece, copies, size in zip(chunks.piece, chunks.copies, chunks.size, strict=True):
        if size <= room:
            counts[piece] += copies
            room -= int(size)
    return counts


def _with_chunk(size: Ints, value: Ints, more: int, worth: int, room: int) -> tuple[Ints, Ints]:
    """States with and without one more chunk, shortest first, dominated ones dropped."""
    fits = int(np.searchsorted(size, room - more, side="right"))
    all_sizes = np.concatenate([size, size[:fits] + more])
    all_values = np.concatenate([value, value[:fits] + worth])
    order = np.argsort(all_sizes, kind="stable")
    all_sizes, all_values = all_sizes[order], all_values[order]
    keep = np.ones(all_sizes.size, bool)
    keep[1:] = all_values[1:] > np.maximum.accumulate(all_values)[:-1]
    all_sizes, all_values = all_sizes[keep], all_values[keep]
    # Of two states of one size the later one is worth more.
    keep = np.append(all_sizes[:-1] != all_sizes[1:], True)
    return all_sizes[keep], all_values[keep]


def _trace(chunks: _Chunks, history: list[tuple[Ints, Ints]], end: tuple[int, int, int], empty: Ints) -> Ints:
    """Counts behind a state, by asking before each step whether it was already there."""
    counts = empty.copy()
    steps, size, value = end
    for step in range(steps - 1, -1, -1):
        sizes, values = history[step]
        at = int(np.searchsorted(sizes, size))
        if at < sizes.size and sizes[at] == size and values[at] == value:
            continue
        counts[chunks.piece[step]] += chunks.copies[step]
        size -= int(chunks.size[step])
        value -= int(chunks.value[step])
    return counts
