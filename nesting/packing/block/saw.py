"""Saw first: the footprint is cut edge to edge into columns, and every column is split level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.block.grid import BlockGrid, Footprint, Stock
from nesting.packing.columns import Column
from nesting.packing.grid import Floats, Ints
from nesting.packing.guillotine import CELLS_A_STEP, Pattern
from nesting.packing.search import Search
from nesting.packing.solution import Axis, CutNode
from nesting.packing.trees import Corner, Extent, Place, divide

__all__ = ["SawMaker"]

TINY = 1e-12
"""Stands for no value where one divides by it."""


@dataclass(frozen=True, slots=True)
class Saw:
    """A pattern of columns; `stacks` lists the boxes of each column from the bottom up.

    The pattern's boxes are footprints, in the maker's numbering. Stacks come in the order in which the
    pattern lists its footprints.
    """

    first: Axis
    pattern: Pattern
    stacks: tuple[tuple[int, ...], ...]


class Columns:
    """What columns of some footprints (a row of x and y each) can be worth."""

    def __init__(self, grid: BlockGrid, room: int, footprints: Ints) -> None:
        self._grid = grid
        x, y = footprints.T
        self._within = (x[:, None] >= x) & (y[:, None] >= y)
        np.fill_diagonal(self._within, val=False)
        self._size = len(footprints)
        self._rows = []
        for across in np.unique(y):
            boxes = np.flatnonzero((grid.dy <= across) & (grid.dz <= room))
            boxes = boxes[np.argsort(grid.dx[boxes], kind="stable")]
            at = np.flatnonzero(y == across)
            self._rows.append((boxes, at, np.searchsorted(grid.dx[boxes], x[at], side="right")))
        sizes = np.append(grid.dz + grid.level, room + grid.level)
        self._step = int(np.gcd.reduce(sizes[:-1]))
        self._heights, self._room = sizes[:-1] // self._step, int(sizes[-1]) // self._step

    def most(self, values: Floats, limits: Ints, search: Search[Any]) -> Floats:
        """Most value of a column of each; 0 where a smaller one holds as much.

        A kind that lies in several ways has its limit in each of them.
        """
        owner = self._grid.owner
        worth = np.zeros(self._size)
        for boxes, at, upto in self._rows:
            held = owner[boxes]
            cells, reached = kernels.reaches(self._heights[boxes], values[held], limits[held], self._room)
            search.spend_or_stop(1 + cells // CELLS_A_STEP)
            worth[at] = np.append(0.0, reached)[upto]
        covered = np.where(self._within, worth, 0.0).max(axis=1, initial=0.0)
        return np.where(worth > covered, worth, 0.0)

    def total(self, counts: Ints | Floats, each: Ints | float = 1.0) -> Floats:
        """Sum, over all boxes that each holds, of the count of the kind times what each box counts for.

        A kind that lies in several ways counts each time.
        """
        total = np.zeros(self._size)
        sums = counts[self._grid.owner] * each
        for boxes, at, upto in self._rows:
            total[at] = np.append(0.0, np.cumsum(sums[boxes]))[upto]
        return total


class SawMaker:
    """Makes saw-first patterns for one block size.

    The columns' footprints are those of the slabs, and the least ones that hold two slabs of which neither
    holds the other; a column takes every slab that is no larger, which is then trimmed.

    Parameters
    ----------
    grid, stock
        The problem, and the room for the patterns.
    whole
        The block that they are cut from, where that is more than the room.
    firsts
        Which ways the first cuts may go.
    """

    def __init__(
        self,
        grid: BlockGrid,
        stock: Stock,
        whole: Stock | None = None,
        firsts: Sequence[Axis] = ("x", "y"),
    ) -> None:
        self.stock = stock.index
        self._grid, self._stock, self._whole = grid, stock, whole or stock
        self._room = stock.extent[2]
        length, width, _ = stock.extent
        fits = (grid.dz <= self._room) & (grid.dx <= length) & (grid.dy <= width)
        sizes = np.unique(np.stack([grid.dx[fits], grid.dy[fits]], axis=1), axis=0)
        self._footprints = _joint(sizes)
        self._worth = Columns(grid, self._room, self._footprints)
        dx, dy = np.ascontiguousarray(self._footprints.T)
        self._plan = Footprint(stock.extent, dx, dy, np.arange(dx.size), grid.upright, firsts=firsts)
        self._held: dict[int, Ints] = {}
        own = {(x, y) for x, y in sizes.tolist()}
        self._own = [at for at, (x, y) in enumerate(self._footprints.tolist()) if (x, y) in own]

    def _holds(self, footprint: int) -> Ints:
        """Boxes that lie within a footprint, one for each height of each kind, large and high ones first."""
        if footprint not in self._held:
            grid = self._grid
            x, y = self._footprints[footprint]
            inside = np.flatnonzero((grid.dx <= x) & (grid.dy <= y) & (grid.dz <= self._room))
            heights = np.stack([grid.owner[inside], grid.dz[inside]], axis=1)
            _, firsts = np.unique(heights, axis=0, return_index=True)
            boxes = inside[firsts]
            order = np.lexsort((boxes, -grid.dz[boxes], -grid.dx[boxes] * grid.dy[boxes]))
            self._held[footprint] = boxes[order]
        return self._held[footprint]

    def _column(self, footprint: int, values: Floats, limits: Ints) -> tuple[tuple[int, ...], Ints]:
        """The best stack of boxes in a footprint, and its counts."""
        boxes = self._holds(footprint)
        owner = self._grid.owner[boxes]
        sizes, room = self._grid.dz[boxes] + self._grid.level, self._room + self._grid.level
        _, times = kernels.best_fill(sizes, values[owner], limits[owner], room)
        return self._stacked(boxes, times, limits)

    def _quick_column(self, footprint: int, limits: Ints) -> tuple[tuple[int, ...], Ints]:
        """A fair stack of boxes in a footprint, large ones first, and its counts."""
        boxes = self._holds(footprint)
        owner = self._grid.owner[boxes]
        sizes, room = self._grid.dz[boxes] + self._grid.level, self._room + self._grid.level
        times = np.zeros(boxes.size, np.int64)
        for at in np.flatnonzero(limits[owner]):
            times[at] = min(limits[owner[at]], room // sizes[at])
            room -= int(times[at] * sizes[at])
        return self._stacked(boxes, times, limits)

    def _stacked(self, boxes: Ints, times: Ints, limits: Ints) -> tuple[tuple[int, ...], Ints]:
        # The boxes of a footprint are listed so that large slabs lie at the bottom and none overhangs.
        counts = np.zeros(limits.size, np.int64)
        stack: list[int] = []
        for box, wanted in zip(boxes.tolist(), times.tolist(), strict=True):
            # A kind that lies in several poses shares its copies among them.
            kind = self._grid.owner[box]
            taken = min(wanted, int(limits[kind] - counts[kind]))
            counts[kind] += taken
            stack += [box] * taken
        return tuple(stack), counts

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once."""
        return self._make(self._grid.volume, left, None)

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left."""
        return self._make(values, left, search)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable pattern when copies are free."""
        column = self._make(values, self._grid.demand, search)
        return [] if column is None else [column]

    def _make(self, values: Floats, limits: Ints, search: Search[Any] | None) -> Column | None:
        """Fill the footprint with the columns that are worth most; without a search, quickly."""
        # How many columns the copies that are left could fill.
        heights = self._worth.total(limits, self._grid.dz + self._grid.level)
        most = np.ceil(heights / (self._room + self._grid.level)).astype(np.int64)
        if search is None:
            worth = np.zeros(most.size)
            for footprint in self._own:
                worth[footprint] = values @ self._quick_column(footprint, limits=limits)[1]
            first, pattern, _ = self._plan.quick(worth, np.where(worth > 0.0, most, 0))
            column = self._quick_column
        else:
            worth = self._worth.most(values, limits, search)
            first, pattern, _ = self._plan.pattern(worth, most, search)
            column = partial(self._column, values=values)
        left = limits.copy()
        stacks = []
        made: dict[int, tuple[tuple[int, ...], Ints]] = {}
        for footprint in pattern.boxes:
            if footprint not in made or (made[footprint][1] > left).any():
                # The first of its footprint, or other columns have used copies of the same kinds up.
                made[footprint] = column(footprint, limits=left)
                if search is not None:
                    search.spend_or_stop(self._holds(footprint).size * self._room // CELLS_A_STEP)
            stack, counts = made[footprint]
            stacks.append(stack)
            left -= counts
        if not any(stacks):
            return None
        return Column(self, self._stock.cost, limits - left, Saw(first, pattern, tuple(stacks)))

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value of any saw-first pattern over its cost; None: no proof."""
        best = self.best_value(values, search)
        return None if best is None else best / (self._stock.cost + charge)

    def best_value(self, values: Floats, search: Search[Any]) -> float | None:
        """Upper bound on the value of a pattern that holds no more than is wanted; None: no proof."""
        demand = self._grid.demand
        worth = self._worth.most(values, demand, search)
        # Of full columns of one footprint, no more count than are worth all slabs. Those that fit it are
        # too few to say so: its columns also stand for those of larger footprints that are worth no more.
        most = np.ceil(float(values @ demand) / np.maximum(worth, TINY))
        limits = np.minimum(most, max(self._stock.extent) + 1).astype(np.int64)
        best = self._plan.best_value(worth, limits, search)
        return None if best is None else min(best, float(values @ demand))

    def trim(self, column: Column, counts: Ints) -> Column:
        """The pattern with only the given counts; the columns stay where they are."""
        left = counts.copy()
        stacks = []
        for stack in column.body.stacks:
            kept = []
            for box in stack:
                kind = self._grid.owner[box]
                if left[kind] > 0:
                    left[kind] -= 1
                    kept.append(box)
            stacks.append(tuple(kept))
        body = Saw(column.body.first, column.body.pattern, tuple(stacks))
        return Column(self, column.cost, counts, body)

    def tree(self, body: Saw, place: Place) -> CutNode:
        """The cut tree: columns first, then the heights in each."""
        grid = self._grid
        stacks = iter(body.stacks)

        def column(footprint: int, corner: Corner, extent: Extent) -> CutNode:
            del footprint
            parts = [(int(grid.dz[box]), partial(place, box)) for box in next(stacks)]
            return divide(corner, extent, "z", parts, grid.level)

        fill = self._plan.tree(body.first, body.pattern, column)
        return fill(self._whole.corner, self._whole.extent)


def _joint(sizes: Ints) -> Ints:
    """The least footprints that hold some of the sizes together, their own ones among them."""
    x, y = np.unique(sizes[:, 0]), np.unique(sizes[:, 1])
    lowest = np.array([sizes[sizes[:, 0] == side, 1].min() for side in x])
    shortest = np.array([sizes[sizes[:, 1] == side, 0].min() for side in y])
    # A slab reaches each of both sides, and neither is wider than the footprint the other way.
    held = (lowest[:, None] <= y) & (shortest <= x[:, None])
    at, to = np.nonzero(held)
    return np.stack([x[at], y[to]], axis=1)
