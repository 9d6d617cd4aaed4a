"""Borders that may be joined from several strips: what is asked and answered, and plans that pour them.

A bar is filled with whole pieces, and what is left of it takes the first part of a piece that is finished
on a later bar; so next to nothing is lost but at the very end. That is how tape is cut from rolls: the
next roll goes on where the last one ended.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from nesting.packing.linear.knapsack import best_fills
from nesting.packing.linear.task import Ints, StockBar

__all__ = ["Cut", "JoinPlan", "JoinTask", "Rest", "Want", "pour"]


@dataclass(frozen=True, slots=True)
class Want:
    """A piece that is wanted, in grid steps.

    Parameters
    ----------
    length, quantity
        Of one finished copy, and how many.
    joins
        Most seams in one copy.
    least
        Shortest part as cut.
    seam
        What each of the two ends at a seam loses.
    """

    length: int
    quantity: int
    joins: int = 0
    least: int = 0
    seam: int = 0

    def cut_length(self, parts: int) -> int:
        """Length of all parts together, as cut."""
        return self.length + 2 * self.seam * (parts - 1)

    def fewest_parts(self, longest: int) -> int | None:
        """Fewest parts it can be made of, from bars of a given length; None: it cannot be made."""
        for parts in range(1, self.joins + 2):
            longest_part = longest if parts > 1 else min(longest, self.length)
            least = self.least if parts > 1 else 0
            if parts * least <= self.cut_length(parts) <= parts * longest_part:
                return parts
        return None

    def poured(self, longest: int, kerf: int) -> int:
        """Least length of bar that a joined copy takes (one that cannot be joined: any), kerfs included."""
        parts = self.fewest_parts(longest) or 1
        if self.joins:
            parts = max(2, parts)
        return self.cut_length(parts) + parts * kerf


@dataclass(frozen=True, slots=True)
class JoinTask:
    """Bars and pieces in grid steps, and the kerf between two parts on a bar."""

    bars: tuple[StockBar, ...]
    wants: tuple[Want, ...]
    kerf: int

    @property
    def longest(self) -> int:
        """Longest bar there is; 0 without any."""
        return max((bar.length for bar in self.bars if bar.available != 0), default=0)

    @property
    def material(self) -> int:
        """Length of all pieces together, kerfs included."""
        return sum(want.quantity * (want.length + self.kerf) for want in self.wants)


Cut = tuple[int, tuple[int, ...], int]
"""A part on a bar: index of the piece, lengths of all parts of the copy, and which of them it is."""


@dataclass(frozen=True, slots=True)
class JoinPlan:
    """A plan with joins.

    Parameters
    ----------
    bars
        How often each bar is cut in each way: index of the bar, and what is cut from it, in order. Parts
        of the same number of copies alike may be swapped: any of each makes a copy.
    short
        Copies left out of each piece.
    cost
        Of all bars.
    """

    bars: Counter[tuple[int, tuple[Cut, ...]]]
    short: tuple[int, ...]
    cost: float

    @classmethod
    def of(cls, task: JoinTask, bars: Iterable[tuple[int, Sequence[Cut]]], short: Sequence[int]) -> JoinPlan:
        """Put bars alike together; bars with nothing on them are left out."""
        alike = Counter((k, tuple(sorted(cuts))) for k, cuts in bars if cuts)
        cost = math.fsum(task.bars[k].cost * times for (k, _), times in alike.items())
        return cls(alike, tuple(short), cost)

    @property
    def seams(self) -> int:
        """Seams to be sewn in all."""
        return sum(times for (_, cuts), times in self.bars.items() for _, _, part in cuts if part > 0)

    @property
    def rank(self) -> tuple[int, float, int]:
        """Less is better: copies left out, cost, seams."""
        return sum(self.short), round(self.cost, 9), self.seams


@dataclass(slots=True, eq=False)
class _Copy:
    """A copy that is being joined: the lengths cut so far, and what is still to be cut."""

    piece: int
    parts: list[int] = field(default_factory=list)
    left: int = 0


@dataclass(slots=True, eq=False)
class Rest:
    """A bar that is being filled: its index, the room left (one kerf more than is free), what is on it.

    `cuts` are settled; `parts` are those of copies that may still be begun only, by number.
    """

    bar: int
    room: int
    cuts: list[Cut]
    parts: list[tuple[_Copy, int]] = field(default_factory=list)


def pour(task: JoinTask, rests: Sequence[Rest], left: Sequence[int]) -> JoinPlan:
    """Pour copies into the rests of bars, then into new bars.

    Parameters
    ----------
    task
        Bars and pieces.
    rests
        Bars already opened, in the order in which they are filled.
    left
        Copies of each piece still to be placed.
    """
    pouring = _Pouring(task, left)
    bars = [Rest(rest.bar, rest.room, list(rest.cuts)) for rest in rests]
    spare = [math.inf if bar.available is None else bar.available for bar in task.bars]
    for rest in bars:
        spare[rest.bar] -= 1
        pouring.fill(rest)
    while pouring.need:
        k = pouring.next_bar(spare)
        if k is None:
            break
        bar = Rest(k, task.bars[k].length + task.kerf, [])
        spare[k] -= 1
        pouring.fill(bar)
        if not bar.cuts and not bar.parts:
            # Nothing of what is left goes on such a bar.
            spare[k] = 0
            continue
        bars.append(bar)
    short = pouring.left.tolist()
    unfinished = set(map(id, pouring.pending))
    for copy in pouring.pending:
        short[copy.piece] += 1
    finished: list[tuple[int, list[Cut]]] = []
    for bar in bars:
        joined = [
            (copy.piece, tuple(copy.parts), part) for copy, part in bar.parts if id(copy) not in unfinished
        ]
        finished.append((bar.bar, bar.cuts + joined))
    return JoinPlan.of(task, finished, short)


class _Pouring:
    """What is still to be placed while bars are filled one after another."""

    def __init__(self, task: JoinTask, left: Sequence[int]) -> None:
        self.task = task
        self.left: Ints = np.array(left, np.int64)
        self.sizes: Ints = np.array([want.length + task.kerf for want in task.wants], np.int64)
        self.pending: list[_Copy] = []

    @property
    def need(self) -> int:
        """Length still to be placed, kerfs included; 0: all is done."""
        rest = sum(copy.left + self.task.kerf for copy in self.pending)
        return int(self.left @ self.sizes) + rest

    def next_bar(self, spare: Sequence[float]) -> int | None:
        """The cheapest bar that holds all that is left, else the one with most length for its cost."""
        open_bars = [k for k, count in enumerate(spare) if count > 0]
        if not open_bars:
            return None
        bars, need = self.task.bars, self.need
        enough = [k for k in open_bars if bars[k].length + self.task.kerf >= need]
        if enough:
            return min(enough, key=lambda k: bars[k].cost)
        return max(open_bars, key=lambda k: (bars[k].length + self.task.kerf) / bars[k].cost)

    def fill(self, bar: Rest) -> None:
        """Finish what is begun, then cut whole pieces, and begin a copy in what is left."""
        kerf, wants = self.task.kerf, self.task.wants
        for copy in sorted(self.pending, key=lambda copy: -copy.left):
            if copy.left + kerf <= bar.room:
                self._cut(bar, copy, copy.left)
        for copy in list(self.pending):
            part = self._part(copy.piece, bar.room - kerf, copy.left, len(copy.parts))
            if part:
                self._cut(bar, copy, part)
        whole = self._whole(bar.room, self.left)
        best = (bar.room - int(whole @ self.sizes), -1, whole, 0)
        for i in np.flatnonzero(self.left).tolist():
            want = wants[i]
            if not want.joins:
                continue
            others = self.left.copy()
            others[i] -= 1
            begun = self._whole(bar.room - want.least - kerf, others)
            room = bar.room - int(begun @ self.sizes)
            part = self._part(i, room - kerf, want.length, 0)
            # A seam takes length as well, and is work: it has to save something.
            lost = room - part - kerf + 2 * want.seam + kerf
            if part and lost < best[0]:
                best = (lost, i, begun, part)
        _, begins, whole, part = best
        for i in np.flatnonzero(whole).tolist():
            bar.cuts += [(i, (wants[i].length,), 0)] * int(whole[i])
        bar.room -= int(whole @ self.sizes)
        self.left -= whole
        if begins >= 0:
            self.left[begins] -= 1
            copy = _Copy(begins, [], wants[begins].length)
            self.pending.append(copy)
            self._cut(bar, copy, part)

    def _whole(self, room: int, most: Ints) -> Ints:
        """Whole pieces that fill a room best."""
        found = best_fills(room, self.sizes, self.sizes, most) if room > 0 else None
        return found.counts[0] if found and found.counts else np.zeros_like(self.sizes)

    def _part(self, piece: int, room: int, left: int, parts: int) -> int:
        """Longest part that may be cut off where `left` is still to be cut; 0: none."""
        want = self.task.wants[piece]
        more = want.joins - parts  # parts that may follow
        if more < 1:
            return 0
        part = min(room, left + 2 * want.seam - want.least)
        rest = left + 2 * want.seam - part
        if part < want.least or rest > more * self.task.longest - 2 * want.seam * (more - 1):
            return 0
        return part

    def _cut(self, bar: Rest, copy: _Copy, part: int) -> None:
        """Cut a part of a copy from a bar; what is left of the copy has one more seam, if anything is."""
        want = self.task.wants[copy.piece]
        bar.parts.append((copy, len(copy.parts)))
        bar.room -= part + self.task.kerf
        copy.parts.append(part)
        copy.left = copy.left + 2 * want.seam - part if part < copy.left else 0
        if not copy.left:
            self.pending.remove(copy)
