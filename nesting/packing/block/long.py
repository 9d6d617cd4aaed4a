"""Long blocks as stock: which parts they may be cut to, and what a part costs.

A long block is cut to length first; each part is then slit or sawn as a block is. What is paid is the
length taken, one saw cut with every part, so parts of any length are stock without number (or with a
limit on their length together), and the covering chooses their patterns. Only lengths that are sums of
sides of slabs, one saw cut between them, need to be looked at: in any other part everything can be pushed
towards its left end until the part is as long as such a sum (normal patterns, Herz 1972, IBM Journal of
Research and Development 16(5): 462-469). Of these a few are used to make patterns; every pattern is then
cut off where its last slab ends.

The bound speaks of all lengths. The sums are taken in groups; a group cannot hold more value than its
longest part, nor cost less than its shortest, and the group that is worst is halved until it has one
length or is no worse than what is proved anyway.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.packing.block.grid import BlockGrid, Stock, part_cost
from nesting.packing.block.makers import BlockMaker, Ways
from nesting.packing.columns import WORTH, Column, densest
from nesting.packing.grid import Floats, Ints, mm
from nesting.packing.problem import BlockProblem, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import CutNode
from nesting.packing.trees import Corner, Extent, Place

__all__ = ["Long", "LongMaker", "LongPart", "long_of", "sums_of"]

FIRST_LENGTHS = 8
"""Most lengths that patterns are made for at first."""

MOST_LENGTHS = 20
"""Most lengths that patterns are made for."""

FILL_LENGTHS = 2
"""Lengths that are tried when the copies that are left are filled in: those that did best before."""

PRICED = 2
"""So many lengths with patterns that gain are enough for one round of pricing."""

MOST_PROOFS, MOST_LOOKS = 80, 8
"""Most lengths whose value is bounded for a proof, and when further lengths are looked for."""

PROOF_SHARE = 0.3
"""Share of the budget left that one proof may use up; a bound from few lengths is weaker, but true."""

LEARNT = 3
"""Most lengths that are taken up at once."""

LEARNING = 0.7
"""How much of what a length was worth before counts, when lengths are ranked."""


@dataclass(frozen=True, slots=True)
class Long:
    """A long block on the grid.

    Parameters
    ----------
    index
        Of the block in the problem.
    first, room
        Where its usable length begins, and how long that is, in grid steps.
    most
        Longest part, in grid steps.
    kerf
        Saw cut, in grid steps.
    cost, usable, saw
        Of the whole block; its usable length and the saw cut as given, mm.
    corner, extent
        Of the usable room of the longest part.
    """

    index: int
    first: int
    room: int
    most: int
    kerf: int
    cost: float
    usable: float
    saw: float
    corner: Corner
    extent: Extent

    def price(self, length: int) -> float:
        """What a part costs; its length in grid steps."""
        return part_cost(self.cost, mm(length), self.usable, self.saw)

    def stock(self, length: int, index: int) -> Stock:
        """A part as stock of its own."""
        return Stock(index, self.price(length), self.corner, (length, *self.extent[1:]))


def long_of(problem: BlockProblem, stock: Stock) -> Long:
    """The long block that `stock` is the longest part of."""
    block = problem.blocks[stock.index]
    skins = problem.skins_of(block)
    first = grid_up(skins.x0)
    return Long(
        index=stock.index,
        first=first,
        room=grid_down(block.length - skins.x1) - first,
        most=stock.extent[0],
        kerf=grid_up(problem.kerfs.upright),
        cost=block.cost,
        usable=block.length - skins.x0 - skins.x1,
        saw=problem.kerfs.upright,
        corner=stock.corner,
        extent=stock.extent,
    )


def sums_of(sizes: Iterable[int], kerf: int, most: int) -> Ints:
    """All sums of sizes with a kerf between each two of them, up to `most`, rising."""
    room = most + kerf
    reached, within = 1, (1 << (room + 1)) - 1
    for size in sorted(set(sizes)):
        step = size + kerf
        while step <= room:
            reached |= (reached << step) & within
            step *= 2
    bits = np.frombuffer(reached.to_bytes(room // 8 + 1, "little"), np.uint8)
    found = np.flatnonzero(np.unpackbits(bits, bitorder="little"))
    return (found[found > 0] - kerf).astype(np.int64)


@dataclass(frozen=True, slots=True)
class LongPart:
    """A pattern of a part: who made it for a part as long or longer, and how long the part is cut."""

    maker: BlockMaker
    body: Any
    length: int


class LongMaker:
    """Makes parts of a long block with their patterns.

    Parameters
    ----------
    ways
        Makes the makers of a part that is taken as a block.
    stock
        Index of what limits the parts.
    room
        Longest part, in grid steps; None: as long as the machines take.
    """

    def __init__(
        self, grid: BlockGrid, long: Long, ways: Ways, stock: int | None = None, room: int | None = None
    ) -> None:
        self.long = long
        self.stock = long.index if stock is None else stock
        self._grid, self._ways = grid, ways
        self._most = long.most if room is None else min(room, long.most)
        fits = (grid.dy <= long.extent[1]) & (grid.dz <= long.extent[2])
        self._sums = sums_of(grid.dx[fits].tolist(), long.kerf, self._most)
        self._makers: dict[int, list[BlockMaker]] = {}
        self._scores: dict[int, float] = dict.fromkeys(self._first_lengths(fits), 0.0)

    @property
    def empty(self) -> bool:
        """No slab fits."""
        return self._sums.size == 0

    def _first_lengths(self, fits: Any) -> list[int]:
        """As many copies as fit of each side of a slab, the sides of most foam first, and the longest sum."""
        if self.empty:
            return []
        grid, weight = self._grid, {int(self._sums[-1]): np.inf}
        foam = grid.volume * grid.demand
        for size, kind in zip(grid.dx[fits].tolist(), grid.owner[fits].tolist(), strict=True):
            times = (self._most + self.long.kerf) // (size + self.long.kerf)
            if times:
                length = times * (size + self.long.kerf) - self.long.kerf
                weight[length] = weight.get(length, 0.0) + float(foam[kind])
        return sorted(weight, key=lambda length: -weight[length])[:FIRST_LENGTHS]

    def _of(self, length: int) -> list[BlockMaker]:
        """The makers of a part of a length, in grid steps."""
        if length not in self._makers:
            self._makers[length] = self._ways(self.long.stock(length, self.stock))
        return self._makers[length]

    # --- Patterns ---------------------------------------------------------------------------------------

    def _cut(self, column: Column | None, maker: BlockMaker) -> Column | None:
        """The column of a part that ends where the last slab of its pattern ends."""
        if column is None:
            return None
        far = 0

        def place(box: int, corner: Corner, extent: Extent) -> CutNode:
            nonlocal far
            del extent
            far = max(far, corner[0] + int(self._grid.dx[box]))
            return CutNode(0, 0, 0, 0)

        maker.tree(column.body, place)
        body = LongPart(maker, column.body, far)
        return Column(self, self.long.price(far), column.counts, body, far + self.long.kerf)

    def _ranked(self, most: int) -> list[int]:
        """Lengths that did best so far."""
        return sorted(self._scores, key=lambda length: -self._scores[length])[:most]

    def _learn(self, length: int, made: list[Column], values: Floats) -> None:
        worth = max((float(values @ column.counts) / column.cost for column in made), default=0.0)
        self._scores[length] = LEARNING * self._scores[length] + (1.0 - LEARNING) * worth

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once."""
        tried = list(self._scores)[:FILL_LENGTHS]
        made = [self._cut(maker.quick(left), maker) for length in tried for maker in self._of(length)]
        return densest(made, self._grid.volume[: left.size])

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left."""
        found = []
        for length in self._ranked(FILL_LENGTHS):
            made = [self._cut(maker.fill(values, left, search), maker) for maker in self._of(length)]
            kept = [column for column in made if column is not None]
            self._learn(length, kept, values)
            found += kept
        return densest(found, values)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable patterns of parts when copies are free; more lengths when these are no better."""
        made: list[Column] = []
        gaining = 0
        for length in self._ranked(MOST_LENGTHS):
            priced = self._priced(length, values, search)
            made += priced
            gaining += any(values @ column.counts > column.cost * (1 + WORTH) for column in priced)
            if gaining == PRICED:
                return made
        if not gaining:
            for length in self._look(values, search):
                self._scores[length] = 0.0
                made += self._priced(length, values, search)
        return made

    def _look(self, values: Floats, search: Search[Any]) -> list[int]:
        """Lengths for which no patterns have been made yet, and that may be worth more than they cost."""
        if len(self._scores) >= MOST_LENGTHS:
            return []
        valued: dict[int, float] = {}
        self._worst(values, 0.0, search, MOST_LOOKS, valued)
        worth = {length: value / self.long.price(length) for length, value in valued.items()}
        fresh = [length for length in worth if length not in self._scores and worth[length] > 1.0 + WORTH]
        return sorted(fresh, key=lambda length: -worth[length])[:LEARNT]

    def _priced(self, length: int, values: Floats, search: Search[Any]) -> list[Column]:
        made = []
        for maker in self._of(length):
            cut = (self._cut(column, maker) for column in maker.price(values, search))
            made += [column for column in cut if column is not None]
        self._learn(length, made, values)
        return made

    def trim(self, column: Column, counts: Ints) -> Column:
        """The part with only the given counts, and shorter where that leaves its end free."""
        part = column.body
        whole = Column(part.maker, column.cost, column.counts, part.body)
        trimmed = self._cut(part.maker.trim(whole, counts), part.maker)
        assert trimmed is not None
        return trimmed

    def tree(self, body: LongPart, place: Place) -> CutNode:
        """The cut tree of a part."""
        return _cut_off(body.maker.tree(body.body, place), mm(body.length))

    # --- Bounds -----------------------------------------------------------------------------------------

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Upper bound on value over cost plus charge of a part of any length; None: no proof."""
        return self._worst(values, charge, search)

    def _worst(
        self,
        values: Floats,
        charge: float,
        search: Search[Any],
        most: int = MOST_PROOFS,
        valued: dict[int, float] | None = None,
    ) -> float | None:
        """The bound of `ratio` after at most so many lengths, whose values are put into `valued`."""
        sums = self._sums

        def least(at: int) -> float:
            length = int(sums[at])
            return self.long.price(length) + charge * (length + self.long.kerf)

        valued = {} if valued is None else valued
        best = self._value(int(sums[-1]), values, search)
        if best is None:
            return None
        valued[int(sums[-1])] = best
        groups: list[tuple[float, int, int, float]] = [(-best / least(0), 0, int(sums.size) - 1, best)]
        begun, enough = search.effort, PROOF_SHARE * search.effort_left
        stop = search.seconds_left * (1.0 - PROOF_SHARE)
        for _ in range(most):
            if search.effort - begun > enough or search.seconds_left < stop:
                break
            worst, first, last, best = groups[0]
            if first == last or -worst <= 1.0:
                break
            heapq.heappop(groups)
            middle = (first + last) // 2
            lower = self._value(int(sums[middle]), values, search)
            if lower is None:
                return None
            valued[int(sums[middle])] = lower
            heapq.heappush(groups, (-best / least(middle + 1), middle + 1, last, best))
            heapq.heappush(groups, (-lower / least(first), first, middle, lower))
        return -groups[0][0]

    def _value(self, length: int, values: Floats, search: Search[Any]) -> float | None:
        """Upper bound on the value of a part of a length, in whatever way it is cut; None: no proof."""
        best = 0.0
        for maker in self._of(length):
            ratio = maker.ratio(values, 0.0, search)
            if ratio is None:
                return None
            best = max(best, ratio * self.long.price(length))
        return best


def _cut_off(node: CutNode, end: float) -> CutNode:
    """A tree without what lies beyond `end` along x, where no piece is."""
    length = min(node.length, round(end - node.x, 1))
    if length == node.length:
        return node
    parts = tuple(_cut_off(part, end) for part in node.parts if part.x < end)
    if node.axis == "x" and len(parts) == 1 and parts[0].length == length:
        return parts[0]
    if not parts:
        return replace(node, length=length, axis=None, parts=())
    return replace(node, length=length, parts=parts)
