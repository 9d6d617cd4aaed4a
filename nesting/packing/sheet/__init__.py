"""Sheets: patterns chosen by column generation, and sheets cut anew with a goal for their cost.

The one entry is `search_sheets`. Orders of few pieces are cut anew as a whole; of large ones patterns
make the bulk, and the last sheets are cut anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress

import numpy as np

from nesting.packing.bounds import rounded_cost, sheet_count_bound, stock_bound
from nesting.packing.columns import Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds, Ledger, too_large
from nesting.packing.problem import SheetProblem, Stages
from nesting.packing.search import Search, Stop
from nesting.packing.sheet.cutter import Cutter
from nesting.packing.sheet.depth import DeepMaker
from nesting.packing.sheet.makers import Cascade, FreeMaker, SheetGrid, StagedMaker, Stock, stocks_of
from nesting.packing.sheet.offcut import enlarge_offcut
from nesting.packing.sheet.recut import recut
from nesting.packing.sheet.splits import SplitMaker
from nesting.packing.solution import Axis, Layout

__all__ = ["layouts", "misfits", "search_sheets"]

FEW_SHARE, SOME_SHARE, MANY_SHARE = 0.15, 0.4, 0.6
"""Shares of the budget that patterns get: where the order has few pieces, few of each kind, and where it
has many."""

FEW = 3
"""Most pieces of a kind, on average, that are few."""

SIMPLE_SHARE = 0.15
"""Share of that for patterns of two stages alone, which are soon found where kinds are few."""

SIMPLE_KINDS = 100
"""Most kinds that are few."""

NARROW_SHARE = 0.1
"""Share of what is left for cutting anew in each smaller number of stages."""

OFFCUT_SHARE = 0.1
"""Share of what is left that is kept for the largest rest."""


def misfits(problem: SheetProblem) -> Mapping[str, str]:
    """Pieces that fit no sheet in any allowed turn, with the reason in plain words."""
    return too_large(problem.pieces, [stock.extent[:2] for stock in stocks_of(problem)], "sheet")


def search_sheets(problem: SheetProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of pieces that each fit some sheet; plans and bounds go to `search`."""
    grid = SheetGrid(problem, kinds)
    available = [sheet.available for sheet in problem.sheets]
    usable = [
        stock for stock in stocks_of(problem) if min(stock.extent[:2]) > 0 and available[stock.index] != 0
    ]
    if not usable:
        search.offer(0.0, Cover((), grid.demand), short=int(grid.demand.sum()))
        return
    costs = [stock.cost for stock in usable]
    search.prove(
        stock_bound(
            float(grid.area.astype(np.float64) @ grid.demand),
            [float(stock.extent[0]) * stock.extent[1] for stock in usable],
            costs,
            [available[stock.index] for stock in usable],
        )
    )
    # Outlines may interlock, so only rectangles are sure to take all of their box.
    solid = np.where([kind.solid for kind in kinds], grid.demand, 0)
    sheets = sheet_count_bound(
        grid.start,
        grid.dx + grid.kerf,
        grid.dy + grid.kerf,
        solid,
        max(stock.extent[0] for stock in usable) + grid.kerf,
        max(stock.extent[1] for stock in usable) + grid.kerf,
    )
    search.prove(sheets * min(costs))
    cutter = Cutter(grid, usable, available, problem.stages)
    few = grid.demand.mean() <= FEW
    patterns = search.onward((FEW_SHARE if few else SOME_SHARE) if cutter.whole else MANY_SHARE)
    with suppress(Stop):
        if problem.stages != 2 and not few and len(kinds) <= SIMPLE_KINDS:
            # What it proves holds for two stages only, and stays with the child.
            _covering(problem, grid, usable, 2).run(patterns.onward(SIMPLE_SHARE))
    if not patterns.used_up or search.draft is None:
        with suppress(Stop):
            _covering(problem, grid, usable, problem.stages).run(patterns)
        search.prove(patterns.bound)
    again = search.onward(1 - OFFCUT_SHARE)
    for stages in cutter.narrower:
        recut(cutter, again.onward(NARROW_SHARE), stages)
    recut(cutter, again)
    enlarge_offcut(cutter, search)


def _covering(problem: SheetProblem, grid: SheetGrid, usable: Sequence[Stock], stages: Stages) -> Covering:
    """The choice of patterns of so many stages."""
    areas = np.maximum(grid.area, 1).astype(np.float64)
    available = [sheet.available for sheet in problem.sheets]
    makers: list[Maker] = []
    for stock in usable:
        limited = available[stock.index] is not None
        makers.append(Cascade(stock.index, _levels(grid, stock, stages), areas, limited=limited))
    costs = [stock.cost for stock in usable]
    return Covering(
        grid.demand,
        available,
        makers,
        areas=areas,
        round_bound=rounded_cost(costs),
        dearest=max(costs),
    )


def _levels(grid: SheetGrid, stock: Stock, stages: Stages) -> list[list[Maker]]:
    """Ways of cutting a sheet, from the simplest to the widest that is allowed."""
    # Without a limit on stages the first cut may as well go the other way.
    firsts: tuple[Axis, ...] = ("x",) if stages in (2, 3) else ("x", "y")
    levels: list[list[Maker]] = [[StagedMaker(grid, stock, first, 2) for first in firsts]]
    if stages != 2:
        levels.append([StagedMaker(grid, stock, first, 3) for first in firsts])
    if stages not in (2, 3):
        levels.append([DeepMaker(grid, stock, proves=stages == "any")])
    return levels


def layouts(problem: SheetProblem, kinds: Kinds, draft: Cover) -> tuple[list[Layout], Ledger]:
    """Write a draft out as sheets with placements in mm."""
    ledger = Ledger(kinds)
    made: list[Layout] = []
    for column, repeats in draft.chosen:
        assert isinstance(column.maker, StagedMaker | FreeMaker | SplitMaker)
        sheet = problem.sheets[column.maker.stock]
        spots, tree = column.maker.draw(column.body)
        cuts = None if problem.stages is None else tree
        made.extend(
            Layout(sheet.key, placements, sheet.length, times, cuts)
            for placements, times in ledger.assign(spots, repeats)
        )
    return made, ledger
