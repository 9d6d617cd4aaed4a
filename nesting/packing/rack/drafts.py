"""Plans of a rack while they are searched for, and how they are written out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.packing.columns import Cover
from nesting.packing.grid import Ints, Kinds, Ledger, mm
from nesting.packing.problem import RackProblem, RollProblem
from nesting.packing.rack.fills import Filling, Marker, draw, marker_of, taken
from nesting.packing.rack.stocks import RackGrid, Stock
from nesting.packing.roll.chunks import RollDraft, RollGrid
from nesting.packing.roll.markers import group
from nesting.packing.search import Search
from nesting.packing.solution import Layout

__all__ = ["RackDraft", "RackPlan", "joined", "layouts", "roll_grid"]


@dataclass(frozen=True, slots=True)
class RackDraft:
    """Chunks of each roll without end, fillings of windows with repeats, and the copies left out.

    `endless` and `windows` go by the index of the stock.
    """

    endless: Mapping[int, RollDraft]
    windows: tuple[tuple[int, Filling, int], ...]
    missing: Ints

    @classmethod
    def of(cls, grid: RackGrid, grids: Mapping[int, RollGrid], cover: Cover) -> RackDraft:
        """From the columns of a cover; `grids` are those of the rolls without end."""
        endless: dict[int, RollDraft] = {}
        windows = []
        for column, repeats in cover.chosen:
            stock = column.maker.stock
            if grid.stocks[stock].length is None:
                chunk = grids[stock].section_chunk(column.body)
                endless[stock] = (*endless.get(stock, ()), (chunk, repeats))
            else:
                windows.append((stock, column.body, repeats))
        return cls(endless, tuple(windows), cover.missing)

    def cost(self, grid: RackGrid, grids: Mapping[int, RollGrid]) -> float:
        """Cost of all, each stock at its weight, and what counts for the pieces left out.

        The end losses on rolls without end are reckoned; how they are joined to markers comes later.
        """
        total = float(grid.penalties @ self.missing)
        for at, draft in self.endless.items():
            total += grids[at].value(draft) * grid.rate(grid.stocks[at])
        for at, filling, repeats in self.windows:
            stock = grid.stocks[at]
            total += taken(filling, grid.end_loss) * stock.rate * stock.weight * repeats
        return total


@dataclass(frozen=True, slots=True)
class RackPlan:
    """A draft whose chunks are joined to markers."""

    endless: tuple[tuple[int, Marker, int], ...]
    windows: tuple[tuple[int, Filling, int], ...]

    def cost(self, grid: RackGrid) -> float:
        """Cost of all, each stock at its weight."""
        laid = [(at, (marker,), repeats) for at, marker, repeats in self.endless]
        return math.fsum(
            taken(filling, grid.end_loss) * grid.stocks[at].rate * grid.stocks[at].weight * repeats
            for at, filling, repeats in (*laid, *self.windows)
        )


def roll_grid(problem: RackProblem, kinds: Kinds, stock: Stock) -> RollGrid:
    """A roll without end of its own."""
    roll = problem.rolls[stock.roll]
    alone = RollProblem(
        roll.width, problem.pieces, problem.gap, problem.stages, problem.max_marker_length, problem.end_loss
    )
    return RollGrid(alone, kinds)


def joined(problem: RackProblem, kinds: Kinds, draft: RackDraft, search: Search[RackPlan]) -> RackPlan:
    """Join the chunks on rolls without end to markers."""
    grid = RackGrid(problem, kinds)
    endless: list[tuple[int, Marker, int]] = []
    for done, (at, chunks) in enumerate(sorted(draft.endless.items())):
        share = 1.0 / (len(draft.endless) - done)
        made = group(chunks, roll_grid(problem, kinds, grid.stocks[at]), search.child(share))
        endless.extend((at, marker_of(marker, grid.gap), repeats) for marker, repeats in made)
    return RackPlan(tuple(endless), draft.windows)


def layouts(problem: RackProblem, kinds: Kinds, plan: RackPlan) -> tuple[list[Layout], Ledger]:
    """Write a plan out with placements in mm."""
    grid = RackGrid(problem, kinds)
    ledger = Ledger(kinds)
    made: list[Layout] = []

    def write(stock: Stock, marker: Marker, repeats: int, start: int, number: int) -> None:
        spots, tree = draw(grid, stock, marker)
        cuts = None if problem.stages is None else tree
        key, length = problem.rolls[stock.roll].key, mm(marker.length)
        for placements, times in ledger.assign(spots, repeats):
            if stock.length is None:
                made.append(Layout(key, placements, length, times, cuts))
            else:
                made.append(Layout(key, placements, length, times, cuts, mm(start), number, times))
                number += times

    for at, marker, repeats in plan.endless:
        write(grid.stocks[at], marker, repeats, 0, 1)
    for at, filling, start, number, count in _places(grid.stocks, plan.windows):
        for marker in filling:
            write(grid.stocks[at], marker, count, start + marker.start, number)
    return made, ledger


def _places(
    stocks: Sequence[Stock], windows: Sequence[tuple[int, Filling, int]]
) -> Iterator[tuple[int, Filling, int, int, int]]:
    """Stock, filling, start of the window, first roll and number of rolls of all fillings.

    Few rolls are begun: where a roll has several such windows, all of them are used.
    """
    needed = np.zeros(len(stocks), np.int64)
    for at, _, repeats in windows:
        needed[at] += repeats
    used = np.zeros(len(stocks), np.int64)
    for at, filling, repeats in windows:
        starts = stocks[at].starts
        rolls = -(-int(needed[at]) // len(starts))
        left = repeats
        while left:
            place, number = divmod(int(used[at]), rolls)
            count = min(left, rolls - number)
            yield at, filling, starts[place], number + 1, count
            used[at] += count
            left -= count
