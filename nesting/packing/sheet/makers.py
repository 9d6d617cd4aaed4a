"""The ways of cutting a sheet: staged patterns, the first cut either way, free placement; and their order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.columns import WORTH, Column, Maker, Reserved, densest
from nesting.packing.grid import Floats, Grid, Ints, Kinds, Spot
from nesting.packing.guillotine import Pattern, Region
from nesting.packing.problem import SheetProblem, Stages, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.skyline import FlatSpot, kept, spots_of, wanted
from nesting.packing.solution import Axis, CutNode
from nesting.packing.trees import Corner, Extent, piece_in, sections_tree

__all__ = ["Cascade", "FreeMaker", "SheetGrid", "StagedMaker", "Stock", "stocks_of"]

FREE_TRIES = 60
"""Orders tried for one skyline fill of a sheet."""

MOST_FILL_WORK = 5_000_000
"""Work after which a skyline fill is not tried again: about a tenth of a second."""

MOST_LOOSE = 60
"""Most copies that have a place each in the order, and that are also laid with less regard to fit."""


@dataclass(frozen=True, slots=True)
class Stock:
    """One sheet size on the grid: its usable area, after trims."""

    index: int
    cost: float
    corner: Corner
    extent: Extent


def stocks_of(problem: SheetProblem) -> list[Stock]:
    """All sheets on the grid; without extent where the trims take all of one."""
    return [_stock_of(problem, index) for index in range(len(problem.sheets))]


def _stock_of(problem: SheetProblem, index: int) -> Stock:
    sheet = problem.sheets[index]
    rims = problem.rims_of(sheet)
    low_x, low_y = grid_up(rims.x0), grid_up(rims.y0)
    length = max(0, grid_down(sheet.length - rims.x1) - low_x)
    width = max(0, grid_down(sheet.width - rims.y1) - low_y)
    return Stock(index, sheet.cost, (low_x, low_y, 0), (length, width, 0))


class SheetGrid(Grid):
    """A sheet problem on the grid, with the kerf in grid steps."""

    def __init__(self, problem: SheetProblem, kinds: Kinds) -> None:
        super().__init__(kinds)
        self.kerf = grid_up(problem.kerf)


class StagedMaker:
    """Makes staged patterns whose first cuts are set out along `first`."""

    def __init__(self, grid: SheetGrid, stock: Stock, first: Axis, stages: Stages) -> None:
        self.stock = stock.index
        self._grid, self._stock, self._first = grid, stock, first
        length, width, _ = stock.extent
        self._along, self._across = grid.dx, grid.dy
        if first == "y":
            length, width = width, length
            self._along, self._across = grid.dy, grid.dx
        self._region = Region(
            length, width, self._along, self._across, grid.owner, grid.kerf, 2 if stages == 2 else 3
        )
        # Only a bound over all patterns that are allowed is a proof.
        self._proves = stages in (2, 3)

    def _column(self, pattern: Pattern, counts: Ints) -> Column | None:
        return Column(self, self._stock.cost, counts, pattern) if counts.any() else None

    def quick(self, left: Ints) -> Column | None:
        """A fair pattern at once."""
        return self._column(*self._region.quick_pattern(left))

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good pattern within the copies that are left."""
        pattern, counts, _ = self._region.pattern(values, left, search)
        return self._column(pattern, counts)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable pattern when copies are free."""
        column = self.fill(values, np.full(values.size, max(self._stock.extent) + 1, np.int64), search)
        return [] if column is None else [column]

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value of any allowed pattern over its cost; None where others are allowed too."""
        if not self._proves:
            return None
        best = self._region.best_value(values, search)
        return None if best is None else best / (self._stock.cost + charge)

    def trim(self, column: Column, counts: Ints) -> Column:
        """The pattern with only the given counts, closed up."""
        return Column(self, column.cost, counts, self._region.only_of(column.body, counts))

    def draw(self, pattern: Pattern) -> tuple[list[Spot], CutNode]:
        """Where the pieces of a pattern lie, and its tree of cuts."""
        grid = self._grid
        spots: list[Spot] = []

        def place(box: int, corner: Corner, extent: Extent) -> CutNode:
            kind = int(grid.owner[box])
            spots.append((kind, box - int(grid.start[kind]), *corner))
            size = (int(grid.dx[box]), int(grid.dy[box]), 0)
            return piece_in(corner, extent, size, len(spots) - 1, (grid.kerf,) * 3)

        tree = sections_tree(
            self._stock.corner,
            self._stock.extent,
            pattern.sections,
            self._along,
            self._across,
            grid.kerf,
            place,
            first=self._first,
        )
        return spots, tree


class FreeMaker(Reserved):
    """Fills a sheet by skyline search, each kind counting with its value. Proves nothing.

    The body of its columns lists kind, box within the kind, and x and y from the usable corner.
    """

    def __init__(self, grid: SheetGrid, stock: Stock) -> None:
        self.stock = stock.index
        self._grid, self._stock = grid, stock

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """The best of some fillings with the copies that are left."""
        grid = self._grid
        length, width, _ = self._stock.extent
        want = wanted(values, left, grid.area, length * width)
        if want is None:
            return None
        few = want.copies <= MOST_LOOSE
        # Few copies have a place each in the order; of many those of a kind share one.
        entries, copies = want.kinds, want.most
        if few:
            entries, copies = np.repeat(entries, copies), np.ones(want.copies, np.int64)
        best = -1
        spots: tuple[FlatSpot, ...] = ()
        for fit in (0, 1, 2) if few else (0,):
            out = np.empty((4, want.copies), np.int64)
            placed, filled, _, work, _ = kernels.search_order(
                width + grid.kerf,
                length + grid.kerf,
                want.goal,
                FREE_TRIES,
                MOST_FILL_WORK,
                np.argsort(-values[entries], kind="stable").astype(np.int64),
                entries,
                copies,
                grid.start,
                grid.dx + grid.kerf,
                grid.dy + grid.kerf,
                want.worth,
                search.random,
                out,
                fit,
            )
            search.spend_or_stop(work)
            if filled > best:
                best = filled
                spots = spots_of(out[:, :placed], grid.start)
            if best == want.goal:
                break
        return self._column(spots) if spots else None

    def _column(self, spots: tuple[FlatSpot, ...]) -> Column:
        counts = np.bincount([kind for kind, *_ in spots], minlength=self._grid.demand.size)
        return Column(self, self._stock.cost, counts.astype(np.int64), spots)

    def trim(self, column: Column, counts: Ints) -> Column:
        """The filling with only the given counts; the others leave their places empty."""
        return self._column(kept(column.body, counts.copy()))

    def draw(self, spots: tuple[FlatSpot, ...]) -> tuple[list[Spot], None]:
        """Where the pieces lie; there is no tree of cuts."""
        x0, y0, _ = self._stock.corner
        return [(kind, box, x + x0, y + y0, 0) for kind, box, x, y in spots], None


class Cascade:
    """Several ways of cutting one stock, the simplest first: what a simple way can do it does.

    Columns belong to the makers that made them. As every way is allowed where a wider one is, a plan
    of the widest is no worse than one of the simplest.

    Parameters
    ----------
    stock
        Index of the stock.
    levels
        Makers of patterns, in levels from the quickest to the slowest; the last level allows all that
        the others do.
    areas
        A natural value of each kind.
    limited
        Whether the stock is limited: then a pattern must be worth more than its cost, by an amount not
        known here, and no level can be left out.
    """

    def __init__(
        self, stock: int, levels: Sequence[Sequence[Maker]], areas: Floats, *, limited: bool
    ) -> None:
        self.stock = stock
        self._levels, self._areas, self._limited = levels, areas, limited

    def quick(self, left: Ints) -> Column | None:
        """The best of the fair patterns of two stages, or three where they are allowed."""
        level = self._levels[min(1, len(self._levels) - 1)]
        return densest([maker.quick(left) for maker in level], self._areas)

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """The best pattern of the first level: quick, for a few sheets of a plan only."""
        return densest([maker.fill(values, left, search) for maker in self._levels[0]], values)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """Patterns of the first level that has some worth more than they cost."""
        made: list[Column] = []
        for level in self._levels:
            made += [column for maker in level for column in maker.price(values, search)]
            if not self._limited and any(
                float(values @ column.counts) > column.cost * (1 + WORTH) for column in made
            ):
                break
        return made

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """That of the last level."""
        ratios = [maker.ratio(values, charge, search) for maker in self._levels[-1]]
        proved = [ratio for ratio in ratios if ratio is not None]
        return max(proved) if len(proved) == len(ratios) else None

    def trim(self, column: Column, counts: Ints) -> Column:
        """The pattern with only the given counts, closed up by its own maker."""
        return column.maker.trim(column, counts)
