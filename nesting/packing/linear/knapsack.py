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

    def rest_value(self, first: int, room: Ints) -> Ints:
        """Most that chunks from `first` on can add in each room when the last one may be a fraction."""
        reach = self.sum_size[first] + room
        whole = np.searchsorted(self.sum_size, reach, side="right") - 1
        last = np.minimum(whole, len(self) - 1)
        # Beyond the last chunk nothing can be added.
        part = np.where(whole < len(self), reach - self.sum_size[whole], 0)
        # By single copies, whose values are small enough for the product.
        added: Ints = part * self.one_value[last] // self.one_size[last]
        worth: Ints = self.sum_value[whole] - self.sum_value[first] + added
        return worth

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
        For tests.

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
            size, value = _merged(
                size, value, size[:fits] + chunks.size[step], value[:fits] + chunks.value[step]
            )
        if step + 1 == len(chunks):
            break
        upper = value + chunks.rest_value(step + 1, room - size)
        keep = upper > best
        if not keep.any():
            break
        if int(keep.sum()) > most_states:
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


def _merged(size: Ints, value: Ints, more_size: Ints, more_value: Ints) -> tuple[Ints, Ints]:
    """Both sets of states together, shortest first, dominated ones dropped."""
    size, value = np.concatenate([size, more_size]), np.concatenate([value, more_value])
    order = np.argsort(size, kind="stable")
    size, value = size[order], value[order]
    keep = np.ones(size.size, bool)
    keep[1:] = value[1:] > np.maximum.accumulate(value)[:-1]
    size, value = size[keep], value[keep]
    # Of two states of one size the later one is worth more.
    last = np.ones(size.size, bool)
    last[:-1] = size[:-1] != size[1:]
    return size[last], value[last]


def _reached(states: tuple[Ints, Ints], state: tuple[int, int]) -> bool:
    """Whether a state (size, value) is among others."""
    at = int(np.searchsorted(states[0], state[0]))
    return at < states[0].size and (int(states[0][at]), int(states[1][at])) == state
