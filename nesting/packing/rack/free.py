"""Free placement in windows, around their flaws: a maker of skyline fills."""

from __future__ import annotations

from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.columns import Column, Reserved
from nesting.packing.grid import Floats, Ints
from nesting.packing.rack.around import search_around
from nesting.packing.rack.fills import Filling, Marker, taken
from nesting.packing.rack.shared import Memory
from nesting.packing.rack.stocks import RackGrid, Stain, Stock
from nesting.packing.search import Search
from nesting.packing.skyline import FlatSpot, kept, spots_of, wanted

__all__ = ["FreeWindowMaker", "free_marker"]

TRIES = 60
"""Orders tried for one fill."""

SHORTENINGS = 7
"""Targets tried to shorten a marker that holds all that is left."""

MOST_FILL_WORK = 5_000_000
"""Work after which a fill is not tried again: about a tenth of a second."""


class FreeWindowMaker(Reserved):
    """Fills whole windows by skyline search, marker by marker, each kind counting with its value.

    Proves nothing. A column costs the markers it makes.
    """

    def __init__(self, grid: RackGrid, stock: Stock) -> None:
        self.stock = stock.index
        self._grid, self._stock = grid, stock
        self._memory = Memory()

    def _column(self, filling: Filling) -> Column | None:
        spots = [kind for marker in filling for kind, *_ in marker.spots]
        if not spots:
            return None
        counts = np.bincount(spots, minlength=self._grid.demand.size).astype(np.int64)
        cost = taken(filling, self._grid.end_loss) * self._stock.rate * self._stock.weight
        return Column(self, cost, counts, filling)

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """The best of some fillings with the copies that are left."""
        return self._memory.column(values, left, lambda: self._filling(values, left, search))

    def _filling(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """Marker by marker until the window is full."""
        grid, stock = self._grid, self._stock
        longest = grid.longest_on(stock)
        assert stock.length is not None and longest is not None
        rest = left.copy()
        markers: list[Marker] = []
        start = 0
        while (room := min(longest, stock.length - grid.end_loss - start)) > 0:
            marker = free_marker(grid, stock, start, room, values, rest, search)
            if marker is None:
                break
            markers.append(marker)
            np.subtract.at(rest, [kind for kind, *_ in marker.spots], 1)
            start = marker.start + marker.length + grid.apart
        return self._column(tuple(markers))

    def trim(self, column: Column, counts: Ints) -> Column:
        """The filling with only the given counts; the others leave their places empty."""
        left = counts.copy()
        markers = []
        for marker in column.body:
            spots = kept(marker.spots, left)
            if spots:
                markers.append(_marker(self._grid, marker.start, spots))
        trimmed = self._column(tuple(markers))
        assert trimmed is not None, "something is left of a trimmed filling"
        return trimmed


def _marker(grid: RackGrid, start: int, spots: tuple[FlatSpot, ...]) -> Marker:
    """The marker of some spots, no longer than they reach and begun where the first one lies."""
    first = min(x for _, _, x, _ in spots)
    end = max(x + int(grid.dx[grid.start[kind] + box]) for kind, box, x, _ in spots)
    moved = tuple((kind, box, x - first, y) for kind, box, x, y in spots)
    return Marker(start + first, end - first, (), moved)


def free_marker(
    grid: RackGrid, stock: Stock, start: int, room: int, values: Floats, left: Ints, search: Search[Any]
) -> Marker | None:
    """A well filled marker at one place of a window; None when nothing fits there.

    Parameters
    ----------
    start, room
        Where in the window it may begin, and how long it may be, in grid steps.
    values, left
        Value of a copy of each kind, and copies that may be used.
    """
    stains = _seen_from(stock.stains, start, room)
    want = wanted(values, left, grid.area, room * stock.width)
    if want is None:
        return None
    goal = want.goal
    order = np.argsort(-values[want.kinds], kind="stable").astype(np.int64)
    out = np.empty((4, want.copies), np.int64)

    def fill(target: int) -> tuple[int, int, int]:
        boxes: Any = (
            want.kinds,
            want.most,
            grid.start,
            grid.dx + grid.gap,
            grid.dy + grid.gap,
            want.worth,
            search.random,
            out,
        )
        size = (stock.width + grid.gap, target + grid.gap)
        if stains.size:
            placed, total, top, work = search_around(
                *size, grid.gap, stains, goal, TRIES, MOST_FILL_WORK, order, *boxes
            )
        else:
            placed, total, top, work, _ = kernels.search_order(
                *size, goal, TRIES, MOST_FILL_WORK, order, *boxes
            )
        search.spend_or_stop(work)
        return placed, total, top

    placed, total, top = fill(room)
    if placed == 0:
        return None
    best = out[:, :placed].copy()
    if total == goal:
        # All is placed: how short can it be?
        area = int((grid.area[want.kinds] * want.most).sum())
        low, high = -(-area // stock.width), top - grid.gap - 1
        for _ in range(SHORTENINGS):
            if low > high:
                break
            target = (low + high) // 2
            placed, total, top = fill(target)
            if total == goal:
                best = out[:, :placed].copy()
                high = top - grid.gap - 1
            else:
                low = target + 1
    return _marker(grid, start, spots_of(best, grid.start))


def _seen_from(stains: tuple[Stain, ...], start: int, room: int) -> Ints:
    """Flaws as rows of x0, x1, y0, y1, x from the start of a marker; those beyond its room are left out."""
    rows = [
        (stain.x0 - start, stain.x1 - start, stain.y0, stain.y1)
        for stain in stains
        if stain.x0 < start + room and stain.x1 > start
    ]
    return np.array(rows, np.int64).reshape(-1, 4)
