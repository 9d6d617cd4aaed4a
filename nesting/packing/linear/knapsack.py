"""The most valuable fills of one bar: the bounded knapsack, in exact integers.

Two forms of one dynamic program. In a short bar every step of its length is a state, in a row of an
array. In a long bar only the sums that pieces can really reach are, so that a bar of a million steps
costs no more than one of ten thousand: of two states the one that is no shorter and no more valuable is
dropped (dominance), and so is every state that even a fractional fill of its rest cannot lift above the
best fill known (Dantzig 1957, "Discrete-variable extremum problems", Operations Research 5(2): 266-277).
On combining both see Kellerer, Pferschy and Pisinger (2004), *Knapsack Problems*, Springer (from
memory, unverified).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.packing.kernels import compiled
from nesting.packing.linear.task import Ints

__all__ = ["DENSE_ROOM", "MOST_STATES", "Fills", "best_fills"]

DENSE_ROOM = 50_000
"""Longest bar, in steps, for which every step is a state; measured to be where the two forms break even."""

DENSE_CELLS = 50_000_000
"""Most cells (bytes) of its table."""

MOST_STATES = 50_000
"""States kept at a time; beyond it the least promising go, and `Fills.upper` tells what they may hide."""

RATIO_BITS = 64
"""Binary digits of a ratio value / size: two different ratios of sizes up to 10^8 differ in these."""


@dataclass(frozen=True, slots=True)
class Fills:
    """Good fills of one bar.

    Parameters
    ----------
    counts
        How many of each piece, the most valuable fill first; empty when none beats the floor.
    upper
        No fill is worth more than this. It is the value of the first fill, or the floor when there is
        none, unless states had to be dropped.
    """

    counts: tuple[Ints, ...]
    upper: int


@dataclass(frozen=True, slots=True)
class _Chunks:
    """Pieces bundled by 1, 2, 4, ... so that every count up to the limit is a choice of bundles.

    Best value per size first. `one_size` and `one_value` are those of a single copy, `sum_size` and
    `sum_value` those of all chunks before each one.
    """

    piece: Ints
    copies: Ints
    size: Ints
    value: Ints
    one_size: Ints
    one_value: Ints
    sum_size: Ints
    sum_value: Ints

    @classmethod
    def of(cls, room: int, sizes: Ints, values: Ints, most: Ints) -> _Chunks:
        """Bundle what fits into `room` and is worth something."""
        useful = np.flatnonzero((values > 0) & (most > 0) & (sizes <= room)).tolist()
        useful.sort(key=lambda i: (-((int(values[i]) << RATIO_BITS) // int(sizes[i])), -int(sizes[i]), i))
        piece: list[int] = []
        copies: list[int] = []
        for i in useful:
            left = min(int(most[i]), room // int(sizes[i]))
            bundles: list[int] = []
            while left > 0:
                bundles.append(min(left, 1 << len(bundles)))
                left -= bundles[-1]
            # Large bundles first: good fills are then met early.
            copies += sorted(bundles, reverse=True)
            piece += [i] * len(bundles)
        index, times = np.array(piece, np.int64), np.array(copies, np.int64)
        one_size, one_value = sizes[index], values[index]
        size, value = one_size * times, one_value * times
        sums = (np.append(0, np.cumsum(size)), np.append(0, np.cumsum(value)))
        return cls(index, times, size, value, one_size, one_value, *sums)

    def __len__(self) -> int:
        return self.piece.size

    def counts(self, chosen: list[int], pieces: int) -> Ints:
        """Copies of each piece in the chosen chunks."""
        found = np.zeros(pieces, np.int64)
        np.add.at(found, self.piece[chosen], self.copies[chosen])
        return found


def best_fills(
    room: int,
    sizes: Ints,
    values: Ints,
    most: Ints,
    *,
    floor: int = 0,
    fills: int = 1,
    dense_room: int = DENSE_ROOM,
    most_states: int = MOST_STATES,
) -> Fills:
    """Fill a bar with pieces of the greatest total value, in several ways if asked.

    Parameters
    ----------
    room
        Length of the bar, in steps, at most 10^8.
    sizes, values, most
        Of each piece: length, value (at most about 10^10) and number there are.
    floor
        Only fills worth more than this are wanted.
    fills
        Most fills returned. They differ in the last of their chunks (that of least value per size), so
        they are varied, and cost no extra search.
    dense_room, most_states
        Longest room for which every step is a state, and states kept where it is longer.

    Returns
    -------
    Fills
        The same for the same input, every time.
    """
    chunks = _Chunks.of(room, sizes, values, most)
    if not len(chunks):
        return Fills((), floor)
    if room <= dense_room and room * len(chunks) <= DENSE_CELLS:
        chosen, upper = _dense(room, chunks, floor, fills)
    else:
        chosen, upper = _sparse(room, chunks, floor, fills, most_states)
    return Fills(tuple(chunks.counts(some, sizes.size) for some in chosen), max(upper, floor))


def _dense(room: int, chunks: _Chunks, floor: int, fills: int) -> tuple[list[list[int]], int]:
    """Chunks of the best fills, and the value of the best; one state for every step of the bar."""
    best = np.zeros(room + 1, np.int64)
    taken = np.zeros((len(chunks), room + 1), bool)
    ends = []
    for step, (size, value) in enumerate(zip(chunks.size.tolist(), chunks.value.tolist(), strict=True)):
        with_it = best[: room + 1 - size] + value
        if with_it[-1] > floor:
            ends.append((int(with_it[-1]), step))
        np.greater(with_it, best[size:], out=taken[step, size:])
        np.maximum(with_it, best[size:], out=best[size:])
    chosen = []
    for _, last in sorted(ends, reverse=True)[:fills]:
        some, left = [last], room - int(chunks.size[last])
        for step in range(last - 1, -1, -1):
            if taken[step, left]:
                some.append(step)
                left -= int(chunks.size[step])
        chosen.append(some)
    return chosen, int(best[-1])


def _sparse(
    room: int, chunks: _Chunks, floor: int, fills: int, most_states: int
) -> tuple[list[list[int]], int]:
    """The same with the reachable states only; where some had to be dropped, what they might be worth."""
    greedy = _greedy(room, chunks)
    best = max(floor, int(chunks.value[greedy].sum()))
    hidden = 0
    size, value = np.zeros(1, np.int64), np.zeros(1, np.int64)
    history: list[tuple[Ints, Ints]] = []
    ends = []
    for step in range(len(chunks)):
        history.append((size, value))
        fits = int(np.searchsorted(size, room - chunks.size[step], side="right"))
        if fits:
            with_it = int(value[fits - 1] + chunks.value[step])
            if with_it > floor:
                ends.append((with_it, step, int(size[fits - 1]), int(value[fits - 1])))
            best = max(best, with_it)
            more_size, more_value = size[:fits] + chunks.size[step], value[:fits] + chunks.value[step]
            size, value = _merged(size, value, more_size, more_value)
        if step + 1 == len(chunks):
            break
        size, value, upper = _promising(
            size,
            value,
            room,
            step + 1,
            best,
            chunks.sum_size,
            chunks.sum_value,
            chunks.one_size,
            chunks.one_value,
        )
        if not size.size:
            break
        if size.size > most_states:
            order = np.argsort(-upper, kind="stable")
            keep = np.zeros(size.size, bool)
            keep[order[:most_states]] = True
            hidden = max(hidden, int(upper[order[most_states]]))
            size, value = size[keep], value[keep]
    chosen = []
    for _, last, at, worth in sorted(ends, reverse=True)[:fills]:
        some, state = [last], (at, worth)
        for step in range(last - 1, -1, -1):
            if not _reached(history[step], state):
                some.append(step)
                state = (state[0] - int(chunks.size[step]), state[1] - int(chunks.value[step]))
        chosen.append(some)
    # The greedy fill has set the mark for all others, so it may be the only one that reaches it.
    if chunks.value[greedy].sum() > floor and (not ends or max(ends)[0] < chunks.value[greedy].sum()):
        chosen = [greedy, *chosen][:fills]
    return chosen, max(best, hidden)


def _greedy(room: int, chunks: _Chunks) -> list[int]:
    chosen = []
    for step, size in enumerate(chunks.size.tolist()):
        if size <= room:
            chosen.append(step)
            room -= size
    return chosen


@compiled
def _merged(size: Ints, value: Ints, more_size: Ints, more_value: Ints) -> tuple[Ints, Ints]:
    """Both sets of states together, shortest first, dominated ones dropped; each set is so already."""
    total = size.size + more_size.size
    sizes, values = np.empty(total, np.int64), np.empty(total, np.int64)
    count, i, j, highest = 0, 0, 0, -1
    while i < size.size or j < more_size.size:
        # Of two states of one size the one worth more comes first; the other is then dominated.
        first = j >= more_size.size
        if not first and i < size.size:
            first = size[i] < more_size[j] or (size[i] == more_size[j] and value[i] >= more_value[j])
        if first:
            at, worth = size[i], value[i]
            i += 1
        else:
            at, worth = more_size[j], more_value[j]
            j += 1
        if worth > highest:
            sizes[count], values[count] = at, worth
            highest = worth
            count += 1
    return sizes[:count], values[:count]


@compiled
def _promising(
    size: Ints,
    value: Ints,
    room: int,
    first: int,
    best: int,
    sum_size: Ints,
    sum_value: Ints,
    one_size: Ints,
    one_value: Ints,
) -> tuple[Ints, Ints, Ints]:
    """States that chunks from `first` on may lift above `best` when the last one may be a fraction.

    With each comes the most it may be worth. The chunks are those of `_Chunks`, best value per size first.
    """
    sizes, values, uppers = np.empty_like(size), np.empty_like(size), np.empty_like(size)
    count = 0
    whole = one_size.size
    # Longer states leave less room, so the chunk that is cut lies ever nearer to the first.
    for i in range(size.size):
        reach = sum_size[first] + room - size[i]
        while sum_size[whole] > reach:
            whole -= 1
        upper = value[i] + sum_value[whole] - sum_value[first]
        if whole < one_size.size:
            # By single copies, whose values are small enough for the product.
            upper += (reach - sum_size[whole]) * one_value[whole] // one_size[whole]
        if upper > best:
            sizes[count], values[count], uppers[count] = size[i], value[i], upper
            count += 1
    return sizes[:count], values[:count], uppers[:count]


def _reached(states: tuple[Ints, Ints], state: tuple[int, int]) -> bool:
    """Whether a state (size, value) is among others."""
    at = int(np.searchsorted(states[0], state[0]))
    return at < states[0].size and (int(states[0][at]), int(states[1][at])) == state
