"""Foam blocks: slit first or saw first, chosen block by block. The one entry is `search_blocks`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress

import numpy as np

from nesting.packing.block.floor import raise_floor
from nesting.packing.block.grid import BlockGrid, stocks_of
from nesting.packing.block.levels import ROUNDS, Relaxation, Way, plenty
from nesting.packing.block.rest import enlarge_rest
from nesting.packing.block.saw import SawMaker
from nesting.packing.block.slit import SlitMaker
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import MANY, Column, Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds, Ledger, Spot, too_large
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search, Stop
from nesting.packing.solution import CutNode, Layout
from nesting.packing.trees import Corner, Extent, Place, piece_in

__all__ = ["layouts", "misfits", "search_blocks"]

RELAXED_SHARE = 0.4
"""Most of the budget that the relaxations get."""

REST_SHARE = 0.02
"""Share of the budget that is kept for the largest rest."""


def misfits(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that fit no block in any allowed turn, with the reason in plain words."""
    return too_large(problem.pieces, [stock.extent for stock in stocks_of(problem)], "block")


def search_blocks(problem: BlockProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of slabs that each fit some block; plans and bounds go to `search`."""
    grid = BlockGrid(problem, kinds)
    available = [block.available for block in problem.blocks]
    usable = [stock for stock in stocks_of(problem) if min(stock.extent) > 0 and available[stock.index] != 0]
    if not usable:
        search.offer(0.0, Cover((), grid.demand), short=int(grid.demand.sum()))
        return
    costs = [stock.cost for stock in usable]
    search.prove(
        stock_bound(
            float(grid.volume @ grid.demand),
            [stock.volume for stock in usable],
            costs,
            [available[stock.index] for stock in usable],
        )
    )
    ways = [
        Way(
            stock,
            SlitMaker(grid, stock) if problem.order != "saw first" else None,
            SawMaker(grid, stock) if problem.order != "slit first" else None,
            MANY if (limit := available[stock.index]) is None else limit,
        )
        for stock in usable
    ]
    makers: list[Maker] = [maker for way in ways for maker in (way.slit, way.saw) if maker is not None]
    covering = Covering(
        grid.demand,
        available,
        makers,
        areas=grid.volume,
        round_bound=rounded_cost(costs),
        dearest=max(costs),
        least=min(costs),
    )
    covering.begin(search)
    with suppress(Stop):
        mostly = search.onward(1.0 - REST_SHARE)
        columns = _relaxed(grid, ways, covering, mostly)
        if not mostly.over:
            covering.run(mostly, columns)
    search.prove(mostly.bound)
    enlarge_rest(grid, ways, search)


def _relaxed(grid: BlockGrid, ways: Sequence[Way], covering: Covering, search: Search[Cover]) -> list[Column]:
    """Prove what the relaxation of sheets proves, and more where blocks are few; its blocks."""
    free, near = (Relaxation(grid, ways, covering.task, grid.volume) for _ in range(2))
    relaxing = search.onward(RELAXED_SHARE)
    with suppress(Stop):
        free.generate(plenty(ways, grid), ROUNDS, relaxing)
    if search.over:
        return []
    charges = np.zeros(len(covering.task.available))
    charges[[way.stock.index for way in ways]] = free.charges
    covering.prove(free.duals, charges, search)
    with suppress(Stop):
        near.generate(grid.demand, ROUNDS, relaxing)
        if not search.over:
            raise_floor(grid, ways, free, near, search)
        return near.blocks()
    return []


def layouts(problem: BlockProblem, kinds: Kinds, draft: Cover) -> tuple[list[Layout], Ledger]:
    """Write a draft out as blocks with placements in mm."""
    grid = BlockGrid(problem, kinds)
    ledger = Ledger(kinds)
    made: list[Layout] = []
    for column, repeats in draft.chosen:
        assert isinstance(column.maker, SlitMaker | SawMaker)
        block = problem.blocks[column.maker.stock]
        spots: list[Spot] = []
        cuts = column.maker.tree(column.body, _placer(grid, spots))
        made.extend(
            Layout(block.key, placements, block.length, times, cuts)
            for placements, times in ledger.assign(spots, repeats)
        )
    return made, ledger


def _placer(grid: BlockGrid, spots: list[Spot]) -> Place:
    """Writes each box down in `spots` and trims its room down to it."""

    def place(box: int, corner: Corner, extent: Extent) -> CutNode:
        kind = int(grid.owner[box])
        spots.append((kind, box - int(grid.start[kind]), *corner))
        size = (int(grid.dx[box]), int(grid.dy[box]), int(grid.dz[box]))
        return piece_in(corner, extent, size, len(spots) - 1, grid.kerfs)

    return place
