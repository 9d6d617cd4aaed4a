"""Slit first: level cuts through the whole block, then every sheet is cut edge to edge."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.block.grid import BlockGrid, Footprint, Stock, lasting
from nesting.packing.columns import Column
from nesting.packing.grid import Bools, Floats, Ints
from nesting.packing.guillotine import Pattern
from nesting.packing.search import Search
from nesting.packing.solution import Axis, CutNode
from nesting.packing.trees import Place, divide

__all__ = ["SlitMaker"]


TINY = 1e-12
"""Stands for no value where one divides by it."""


@dataclass(frozen=True, slots=True)
class SlitSheet:
    """One sheet of a slit block: thickness, first cut, and its pattern of boxes."""

    height: int
    first: Axis
    pattern: Pattern


Slit = tuple[SlitSheet, ...]
"""The sheets of a block, from the bottom up."""


class SlitMaker:
    """Makes slit-first patterns for one block size. Every sheet holds slabs of one thickness."""

    def __init__(self, grid: BlockGrid, stock: Stock) -> None:
        self.stock = stock.index
        self._grid, self._stock = grid, stock
        self._room = stock.extent[2]
        self._heights = np.array([h for h in np.unique(grid.dz) if h <= self._room], np.int64)
        self._kinds = [np.unique(grid.owner[grid.dz == height]) for height in self._heights]
        self._plans = [
            Footprint(stock.extent, grid.dx, grid.dy, grid.owner, grid.upright, grid.dz == height)
            for height in self._heights
        ]

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once."""
        return self._make(left, lambda plan, limits: plan.quick(self._grid.volume, limits), self._grid.volume)

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left."""
        return self._make(left, lambda plan, limits: plan.pattern(values, limits, search), values)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable pattern when copies are free."""
        column = self.fill(values, self._grid.demand, search)
        return [] if column is None else [column]

    @property
    def heights(self) -> Ints:
        """Thicknesses of the sheets, in grid steps."""
        return self._heights

    def sheets(
        self, values: Floats, limits: Ints, search: Search[Any], wanted: Bools | None = None
    ) -> list[tuple[int, tuple[SlitSheet, Ints]]]:
        """A good sheet of each thickness (of those wanted) that holds anything, with its counts."""
        made = []
        for level, plan in enumerate(self._plans):
            if wanted is None or wanted[level]:
                first, body, counts = plan.pattern(values, limits, search)
                if counts.any():
                    made.append((level, (SlitSheet(int(self._heights[level]), first, body), counts)))
        return made

    def block(self, sheets: Sequence[SlitSheet], counts: Ints) -> Column:
        """The block of some sheets that its height holds, with their counts."""
        # Thick sheets at the bottom: the block stands firmest, and the soft thin ones come off first.
        ordered = sorted(sheets, key=lambda sheet: -sheet.height)
        return Column(self, self._stock.cost, counts, tuple(ordered))

    def fewest(self, values: Floats, counts: Ints, search: Search[Any]) -> Column | None:
        """A low block that holds just the counts, the best sheets first; None when it came out too high."""
        left = counts.copy()
        sheets: list[SlitSheet] = []
        for at, plan in enumerate(self._plans):
            while left[self._kinds[at]].any():
                first, body, use = plan.pattern(values, left, search)
                if not use.any():
                    break
                sheets.append(SlitSheet(int(self._heights[at]), first, body))
                left -= use
        high = sum(sheet.height + self._grid.level for sheet in sheets) - self._grid.level
        return None if left.any() or high > self._room else self.block(sheets, counts)

    def _make(
        self,
        limits: Ints,
        pattern: Callable[[Footprint, Ints], tuple[Axis, Pattern, Ints]],
        values: Floats,
    ) -> Column | None:
        """Stack sheets of the patterns that are made for each thickness, as long as any fits."""
        left = limits.copy()
        sheets: list[SlitSheet] = []
        room = self._room
        made: list[tuple[Axis, Pattern, Ints] | None] = [None] * len(self._plans)
        most = np.zeros(len(self._plans), np.int64)
        worth = np.zeros(len(self._plans))
        while room > 0:
            for at, plan in enumerate(self._plans):
                found = made[at]
                if self._heights[at] > room or not left[self._kinds[at]].any():
                    most[at] = 0
                    continue
                # A pattern stays the best of its thickness as long as the copies last for it.
                if found is None or not lasting(left, found[2]):
                    found = made[at] = pattern(plan, left)
                most[at], worth[at] = lasting(left, found[2]), float(values @ found[2])
            _, times = self._stack(worth, most, room)
            if not times.any():
                break
            for at in np.flatnonzero(times).tolist():
                found = made[at]
                assert found is not None
                first, body, counts = found
                # Slabs that may stand are in patterns of several heights, which share their copies.
                repeats = min(int(times[at]), lasting(left, counts))
                sheets.extend([SlitSheet(int(self._heights[at]), first, body)] * repeats)
                left -= counts * repeats
                room -= int(self._heights[at] + self._grid.level) * repeats
        return self.block(sheets, limits - left) if sheets else None

    def _stack(self, worth: Floats, most: Ints, room: int) -> tuple[float, Ints]:
        """How many sheets of each thickness fill a height with the most value."""
        kerf = self._grid.level
        return kernels.best_fill(self._heights + kerf, worth, most, room + kerf)

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value of any slit-first pattern over its cost; None: no proof."""
        best = self.best_value(values, search)
        return None if best is None else best / (self._stock.cost + charge)

    def best_value(self, values: Floats, search: Search[Any]) -> float | None:
        """Upper bound on the value of a pattern that holds no more than is wanted; None: no proof."""
        worth = self.best_sheets(values, search)
        if worth is None:
            return None
        # So many full sheets hold all slabs of a thickness but for a rest, which is worth one sheet of less.
        full = np.floor(self._wanted(values) / np.maximum(worth, TINY))
        rest = np.clip(self._wanted(values) - full * worth, 0.0, worth)
        full = np.minimum(full, self._room).astype(np.int64)
        sizes = np.tile(self._heights + self._grid.level, 2)
        best, _ = kernels.best_fill(
            sizes,
            np.concatenate([worth, rest]),
            np.concatenate([full, np.ones_like(full)]),
            self._room + self._grid.level,
        )
        return best

    def best_sheets(self, values: Floats, search: Search[Any]) -> Floats | None:
        """Upper bounds on the value of a sheet of each thickness; None: no proof."""
        limits = self._grid.demand
        worth = [plan.best_value(values, limits, search) for plan in self._plans]
        known = [value for value in worth if value is not None]
        return np.minimum(known, self._wanted(values)) if len(known) == len(worth) else None

    def _wanted(self, values: Floats) -> Floats:
        """Value of all slabs that can be cut from sheets of each thickness."""
        grid = self._grid
        return np.array([float(values[held] @ grid.demand[held]) for held in self._kinds])

    def trim(self, column: Column, counts: Ints) -> Column:
        """The pattern with only the given counts; sheets that hold nothing are left out."""
        left = counts.copy()
        sheets = []
        for sheet in column.body:
            held = np.bincount(self._grid.owner[list(sheet.pattern.boxes)], minlength=left.size)
            use = np.minimum(held, left)
            if use.any():
                left -= use
                sheets.append(replace(sheet, pattern=self._plan(sheet).only(sheet.first, sheet.pattern, use)))
        return Column(self, column.cost, counts, tuple(sheets))

    def tree(self, body: Slit, place: Place) -> CutNode:
        """The cut tree: heights first, then each sheet."""
        parts = [(sheet.height, self._plan(sheet).tree(sheet.first, sheet.pattern, place)) for sheet in body]
        return divide(self._stock.corner, self._stock.extent, "z", parts, self._grid.level)

    def _plan(self, sheet: SlitSheet) -> Footprint:
        return self._plans[int(np.searchsorted(self._heights, sheet.height))]
