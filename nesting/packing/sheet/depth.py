"""Patterns of cuts of any depth: the most valuable one when copies are free.

The value of a rectangle is that of one box, or of the two rectangles that one cut makes of it: the
dynamic program of Gilmore and Gomory (1966), "The theory and computation of knapsack functions",
Operations Research 14(6): 1045-1074, on the points that sums of box sizes reach (normal patterns, Herz
1972), as in Beasley (1985), "Algorithms for unconstrained two-dimensional guillotine cutting", Journal
of the Operational Research Society 36(4): 297-306.

A kerf is part of every size, and one more kerf is part of the room. Where the points are too many the
grid is made coarser: rounded up for patterns, rounded down for proofs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.columns import Column
from nesting.packing.grid import Floats, Ints
from nesting.packing.guillotine import CELLS_A_STEP
from nesting.packing.kernels import compiled
from nesting.packing.search import Search
from nesting.packing.sheet.makers import SheetGrid, Stock
from nesting.packing.sheet.nodes import NONE
from nesting.packing.sheet.splits import Part, SplitMaker

__all__ = ["DeepMaker", "deep_values"]

MOST_POINTS = 300
"""Most points along one side."""

MOST_CELLS = 10_000_000
"""Most boxes times steps along one side in which points are sought."""


@dataclass(frozen=True, slots=True)
class _Side:
    """One side of a sheet.

    Parameters
    ----------
    points
        Where cuts are worth while, in steps from the edge: the first is 0, the last the whole room.
    last
        For each number of steps the last point that is not beyond it.
    need
        For each box the first point at which it has room.
    """

    points: Ints
    last: Ints
    need: Ints


def _side(sizes: Ints, room: int, *, bold: bool) -> _Side | None:
    """Points of one side; None when a box would be rounded away."""
    step = int(np.gcd.reduce(sizes))
    step *= -(-room * sizes.size // (step * MOST_CELLS))
    while True:
        whole = room // step
        # A box that fits must not be rounded out of the room: alone in it, it still fits.
        steps = sizes // step if bold else np.minimum(-(-sizes // step), whole)
        if steps.min() < 1:
            return None
        sums = kernels.sums(np.unique(steps), whole)
        if sums.size <= MOST_POINTS:
            break
        step *= max(2, sums.size // MOST_POINTS)
    points = np.union1d([0, whole], sums)
    last = np.searchsorted(points, np.arange(whole + 1), side="right") - 1
    return _Side(points, last, np.searchsorted(points, steps))


class DeepMaker(SplitMaker):
    """Makes the most valuable patterns of any depth; proves that none is more valuable if asked to."""

    def __init__(self, grid: SheetGrid, stock: Stock, *, proves: bool) -> None:
        super().__init__(grid, stock)
        fits = (grid.dx <= stock.extent[0]) & (grid.dy <= stock.extent[1])
        self._boxes: Ints = np.flatnonzero(fits)
        self._proves = proves

    @cached_property
    def _safe(self) -> tuple[_Side, _Side] | None:
        return self._sides(bold=False)

    @cached_property
    def _bold(self) -> tuple[_Side, _Side] | None:
        return self._sides(bold=True)

    def _sides(self, *, bold: bool) -> tuple[_Side, _Side] | None:
        grid, kerf = self._grid, self._grid.kerf
        length, width, _ = self._stock.extent
        along = _side(grid.dx[self._boxes] + kerf, length + kerf, bold=bold)
        across = _side(grid.dy[self._boxes] + kerf, width + kerf, bold=bold)
        return None if along is None or across is None else (along, across)

    def _values(self, sides: tuple[_Side, _Side], values: Floats, search: Search[Any]) -> tuple[Floats, Ints]:
        """Value and best way for each rectangle between points, as `kernels.deep_values`."""
        along, across = sides
        best = np.zeros((along.points.size, across.points.size))
        way = np.zeros(best.shape, np.int64)
        cells = deep_values(
            along.points,
            across.points,
            along.last,
            across.last,
            along.need,
            across.need,
            values[self._grid.owner[self._boxes]],
            best,
            way,
        )
        search.spend_or_stop(1 + cells // CELLS_A_STEP)
        return best, way

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable pattern when copies are free."""
        if self._boxes.size == 0 or self._safe is None:
            return []
        along, across = self._safe
        best, way = self._values(self._safe, values, search)
        if not best[-1, -1] > 0:
            return []
        grid, kerf = self._grid, self._grid.kerf

        def cut(i: int, j: int) -> tuple[Part, int, int] | None:
            """The part for a rectangle between points, and its true length and width."""
            chosen = int(way[i, j])
            if chosen == 0:
                return None
            if chosen > 0:
                box = int(self._boxes[chosen - 1])
                return Part(0, box, 0, ()), int(grid.dx[box]), int(grid.dy[box])
            axis, at = -chosen % 2, -chosen // 2
            if axis == 0:
                made = [cut(at, j), cut(int(along.last[along.points[i] - along.points[at]]), j)]
            else:
                made = [cut(i, at), cut(i, int(across.last[across.points[j] - across.points[at]]))]
            filled = [one for one in made if one is not None]
            if len(filled) < 2:
                return filled[0] if filled else None
            parts: list[Part] = []
            for part, *extent in filled:
                # What is cut the same way once more needs no box of its own.
                same = part.parts and part.axis == axis
                parts += part.parts if same else [Part(extent[axis], part.box, part.axis, part.parts)]
            lengths, widths = [one[1] for one in filled], [one[2] for one in filled]
            extents = (sum(lengths) + kerf, max(widths)) if axis == 0 else (max(lengths), sum(widths) + kerf)
            return Part(0, NONE, axis, tuple(sorted(parts, reverse=True))), *extents

        made = cut(along.points.size - 1, across.points.size - 1)
        assert made is not None, "a pattern of value holds no piece"
        root, length, _ = made
        if not root.parts:
            root = Part(0, NONE, 0, (Part(length, root.box, 0, ()),))
        return [self.column(root)]

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value of any pattern of guillotine cuts over its cost; None: no proof."""
        if not self._proves or (self._boxes.size and self._bold is None):
            return None
        if self._boxes.size == 0 or self._bold is None:
            return 0.0
        best, _ = self._values(self._bold, values, search)
        return float(best[-1, -1]) / (self._stock.cost + charge)


@compiled
def deep_values(
    x: Ints,
    y: Ints,
    last_x: Ints,
    last_y: Ints,
    need_x: Ints,
    need_y: Ints,
    values: Floats,
    best: Floats,
    way: Ints,
) -> int:
    """Best value of each rectangle from the origin to a point, cut edge to edge at any depth.

    Parameters
    ----------
    x, y
        Points along both sides, from 0 on.
    last_x, last_y
        For each distance the last point that is not beyond it.
    need_x, need_y, values
        The first points at which each box has room, and its value.
    best, way
        Zeros, ``(points, points)``; receive the values and how they are reached: 0 for nothing, ``b + 1``
        for box ``b``, ``-2 p`` for a cut at point ``p`` of x and ``-2 p - 1`` for one of y.

    Returns
    -------
    cells
        Cells of the table looked at.
    """
    for box in range(values.shape[0]):
        if values[box] > best[need_x[box], need_y[box]]:
            best[need_x[box], need_y[box]] = values[box]
            way[need_x[box], need_y[box]] = box + 1
    cells = 0
    for i in range(1, x.shape[0]):
        for j in range(1, y.shape[0]):
            top = best[i, j]
            how = way[i, j]
            if best[i - 1, j] > top:
                top = best[i - 1, j]
                how = way[i - 1, j]
            if best[i, j - 1] > top:
                top = best[i, j - 1]
                how = way[i, j - 1]
            at = 1
            while 2 * x[at] <= x[i]:
                worth = best[at, j] + best[last_x[x[i] - x[at]], j]
                if worth > top:
                    top = worth
                    how = -2 * at
                at += 1
            cells += at
            at = 1
            while 2 * y[at] <= y[j]:
                worth = best[i, at] + best[i, last_y[y[j] - y[at]]]
                if worth > top:
                    top = worth
                    how = -2 * at - 1
                at += 1
            cells += at
            best[i, j] = top
            way[i, j] = how
    return cells
