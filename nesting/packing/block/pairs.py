"""Slabs with outlines, two of a kind in one box where that saves foam.

To the makers of patterns a pair is a kind of its own, worth two copies; a wrapper round each maker turns
pairs back into copies, so that the covering sees copies alone and takes pairs or single boxes as it likes.

The bound: values are those of single copies, and a pair is worth two. Farley's bound scales the values until
no pattern is worth more than it costs. That is proved over patterns of single boxes and of boxes that lie
below every box two copies can have, wherever they lie in it (`outlines.least_boxes`), so it holds for all
pairs that the rules allow, not only for those that patterns are made with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.packing.block.grid import BlockGrid, Stock
from nesting.packing.block.makers import BlockMaker, Ways, ways_of
from nesting.packing.block.outlines import PairBox, least_boxes, pair_boxes
from nesting.packing.columns import Column
from nesting.packing.grid import Box, Floats, Ints, Kind, Kinds
from nesting.packing.problem import BlockProblem, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import CutNode
from nesting.packing.trees import Corner, Extent, Place

__all__ = ["PairMaker", "Pairing", "with_pair"]


@dataclass(frozen=True, slots=True)
class Pairing:
    """The kinds of a problem, and their pairs as kinds that follow them.

    Parameters
    ----------
    singles
        How many kinds there are without pairs.
    owner
        The kind of each kind of pairs.
    grid
        Single boxes, then boxes of pairs.
    bold
        Single boxes, then boxes that lie below all boxes of pairs: what bounds are proved with.
    boxes
        How two copies lie in a box of a pair, by its number in `grid`.
    alone
        A single box that fits into a box of a pair, by its number.
    """

    singles: int
    owner: Ints
    grid: BlockGrid
    bold: BlockGrid
    boxes: Mapping[int, PairBox]
    alone: Mapping[int, int]

    @classmethod
    def of(cls, problem: BlockProblem, kinds: Kinds) -> Pairing:
        """Find the pairs of all outlines that may be turned by 180 degrees."""
        kerf = grid_up(problem.kerfs.upright)
        owner: list[int] = []
        pairs: list[Kind] = []
        bold: list[Kind] = []
        found: list[tuple[PairBox, ...]] = []
        for at, kind in enumerate(kinds):
            piece = kind.members[0][0]
            if not piece.points or kind.quantity < 2:
                continue
            boxes = pair_boxes(piece.points, piece.turns, kerf)
            if not boxes:
                continue
            high = kind.boxes[0].dz
            below = tuple(Box(dx, dy, high) for dx, dy in least_boxes(piece.points, piece.turns, kerf))
            owner.append(at)
            found.append(boxes)
            pair = Kind(below, kind.quantity // 2, 2 * kind.area, False, ())
            bold.append(pair)
            pairs.append(replace(pair, boxes=tuple(Box(box.dx, box.dy, high) for box in boxes)))
        grid = BlockGrid(problem, Kinds((*kinds, *pairs)))
        numbered: dict[int, PairBox] = {}
        alone: dict[int, int] = {}
        for pair_at, (kind_at, boxes) in enumerate(zip(owner, found, strict=True)):
            first = int(grid.start[len(kinds) + pair_at])
            singles = range(int(grid.start[kind_at]), int(grid.start[kind_at + 1]))
            for number, box in enumerate(boxes, start=first):
                numbered[number] = box
                alone[number] = next(s for s in singles if grid.dx[s] <= box.dx and grid.dy[s] <= box.dy)
        return cls(
            len(kinds),
            np.array(owner, np.int64),
            grid,
            BlockGrid(problem, Kinds((*kinds, *bold))),
            numbered,
            alone,
        )

    @property
    def demand(self) -> Ints:
        """Copies wanted of each kind, pairs aside."""
        return self.grid.demand[: self.singles]

    @property
    def volume(self) -> Floats:
        """Volume of each kind, pairs aside, in cubic grid steps."""
        return self.grid.volume[: self.singles]

    def ways(self, problem: BlockProblem) -> Ways:
        """The ways of cutting that the problem allows, with pairs where there are outlines."""
        plain = ways_of(problem, self.grid)
        if not self.owner.size:
            return plain
        bold = ways_of(problem, self.bold)

        def ways(stock: Stock) -> list[BlockMaker]:
            both = zip(plain(stock), bold(stock), strict=True)
            return [PairMaker(self, maker, prover) for maker, prover in both]

        return ways


@dataclass(frozen=True, slots=True)
class Paired:
    """A pattern with pairs, and how many boxes of pairs of each kind hold one copy only."""

    column: Column
    halves: Ints


class PairMaker:
    """Turns the pairs in the patterns of a maker into copies.

    Parameters
    ----------
    maker
        Makes patterns of single boxes and of boxes of pairs.
    prover
        The same maker with boxes below all boxes of pairs.
    """

    def __init__(self, pairing: Pairing, maker: BlockMaker, prover: BlockMaker) -> None:
        self.stock = maker.stock
        self._pairing, self._maker, self._prover = pairing, maker, prover

    def _worth(self, values: Floats) -> Floats:
        """Values of copies, then of pairs."""
        return np.concatenate([values, 2.0 * values[self._pairing.owner]])

    def _limits(self, left: Ints) -> Ints:
        """Copies that are left, then pairs."""
        return np.concatenate([left, left[self._pairing.owner] // 2])

    def _copies(self, counts: Ints) -> Ints:
        """Copies in counts of copies and pairs."""
        copies = counts[: self._pairing.singles].copy()
        copies[self._pairing.owner] += 2 * counts[self._pairing.singles :]
        return copies

    def _told(self, column: Column | None, left: Ints | None = None) -> Column | None:
        """A pattern in copies, no more than are left."""
        if column is None:
            return None
        copies = self._copies(column.counts)
        if left is not None and (copies > left).any():
            return self._with(column, np.minimum(copies, left))
        halves = np.zeros(self._pairing.owner.size, np.int64)
        return Column(self, column.cost, copies, Paired(column, halves), column.takes)

    def _with(self, column: Column, counts: Ints) -> Column:
        """The pattern with only so many copies: pairs first, then one box of a pair with one copy in it."""
        singles, owner = self._pairing.singles, self._pairing.owner
        alone = np.minimum(column.counts[:singles], counts)
        pairs = np.minimum(column.counts[singles:], counts[owner] // 2)
        alone[owner] = np.minimum(column.counts[:singles][owner], counts[owner] - 2 * pairs)
        halves = counts[owner] - 2 * pairs - alone[owner]
        kept = np.concatenate([alone, pairs + halves])
        return Column(self, column.cost, counts, Paired(self._maker.trim(column, kept), halves), column.takes)

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once: pairs, and single boxes for what is odd."""
        limits = self._limits(left)
        limits[self._pairing.owner] -= 2 * limits[self._pairing.singles :]
        made = self._told(self._maker.quick(limits))
        # Where no pair fits any more, its copies may.
        return made if made is not None else self._told(self._maker.quick(self._limits(left)), left)

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left."""
        return self._told(self._maker.fill(self._worth(values), self._limits(left), search), left)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable pattern when copies are free."""
        told = (self._told(column) for column in self._maker.price(self._worth(values), search))
        return [column for column in told if column is not None]

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Upper bound on value over cost plus charge, wherever two copies lie in a box; None: no proof."""
        return self._prover.ratio(self._worth(values), charge, search)

    def trim(self, column: Column, counts: Ints) -> Column:
        """The pattern with only the given counts."""
        return self._with(column.body.column, counts)

    def tree(self, body: Paired, place: Place) -> CutNode:
        """The cut tree; a box of a pair that holds one copy is cut down to that."""
        pairing = self._pairing
        halves = body.halves.copy()

        def placed(box: int, corner: Corner, extent: Extent) -> CutNode:
            pair = int(pairing.grid.owner[box]) - pairing.singles
            if pair >= 0 and halves[pair]:
                halves[pair] -= 1
                box = pairing.alone[box]
            return place(box, corner, extent)

        return self._maker.tree(body.column.body, placed)


def with_pair(node: CutNode, piece: int, pair: int) -> CutNode:
    """A tree in which the leaf of a piece is shared by a second one."""
    if node.piece == piece:
        return replace(node, pair=pair)
    return replace(node, parts=tuple(with_pair(part, piece, pair) for part in node.parts))
