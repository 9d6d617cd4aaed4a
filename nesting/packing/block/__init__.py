"""Foam blocks: slit first or saw first, chosen block by block. The one entry is `search_blocks`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import cast

from nesting.packing.block.grid import BlockGrid, part_cost, stocks_of
from nesting.packing.block.lengths import joined_layouts, spots_of
from nesting.packing.block.long import LongMaker, long_of
from nesting.packing.block.long_search import search_long
from nesting.packing.block.makers import BlockMaker, ways_of
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import Column, Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds, Ledger, Spot, mm, too_large
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search
from nesting.packing.solution import CutNode, Layout
from nesting.packing.trees import Corner, Extent, Place, piece_in

__all__ = ["layouts", "misfits", "search_blocks", "worth"]


def misfits(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that fit no block in any allowed turn, with the reason in plain words."""
    return too_large(problem.pieces, [stock.extent for stock in stocks_of(problem)], "block")


def search_blocks(problem: BlockProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of slabs that each fit some block; plans and bounds go to `search`."""
    if any(block.cut_to is not None for block in problem.blocks):
        search_long(problem, kinds, search)
        return
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
    ways = ways_of(problem, grid)
    makers: list[Maker] = [maker for stock in usable for maker in ways(stock)]
    Covering(
        grid.demand,
        available,
        makers,
        areas=grid.volume,
        round_bound=rounded_cost(costs),
        dearest=max(costs),
    ).run(search)


def worth(problem: BlockProblem, made: Sequence[Layout]) -> float:
    """Cost of the blocks that are opened, and of what is taken from long ones."""
    blocks = {block.key: block for block in problem.blocks}

    def cost(layout: Layout) -> float:
        block = blocks[layout.stock_key]
        if block.cut_to is None:
            return block.cost
        skins = problem.skins_of(block)
        usable = block.length - skins.x0 - skins.x1
        return part_cost(block.cost, layout.length, usable, problem.kerfs.upright)

    return math.fsum(cost(layout) * layout.repeats for layout in made)


def layouts(problem: BlockProblem, kinds: Kinds, draft: Cover) -> tuple[list[Layout], Ledger]:
    """Write a draft out as blocks with placements in mm."""
    grid = BlockGrid(problem, kinds)
    ledger = Ledger(kinds)
    made: list[Layout] = []
    for column, repeats in draft.chosen:
        if isinstance(column.maker, LongMaker):
            continue
        block = problem.blocks[column.maker.stock]
        spots, cuts = _written(grid, column)
        made.extend(
            Layout(block.key, placements, block.length, times, cuts)
            for placements, times in ledger.assign(spots, repeats)
        )
    longs = [long_of(problem, stock) for stock in stocks_of(problem) if problem.blocks[stock.index].cut_to]
    for long in longs:
        for spot in spots_of(problem, long, draft):
            spots, cuts = _written(grid, spot.column)
            number = spot.number
            for placements, times in ledger.assign(spots, spot.count):
                made.append(
                    Layout(
                        problem.blocks[long.index].key,
                        placements,
                        mm(spot.column.body.length),
                        times,
                        cuts,
                        start=spot.start,
                        stock_number=number,
                        stock_count=times,
                    )
                )
                number += times
    return joined_layouts(made, problem.kerfs.upright), ledger


def _written(grid: BlockGrid, column: Column) -> tuple[list[Spot], CutNode]:
    """The boxes of a pattern where they lie, and its tree of cuts."""
    spots: list[Spot] = []
    maker = cast(BlockMaker, column.maker)
    return spots, maker.tree(column.body, _placer(grid, spots))


def _placer(grid: BlockGrid, spots: list[Spot]) -> Place:
    """Writes each box down in `spots` and trims its room down to it."""

    def place(box: int, corner: Corner, extent: Extent) -> CutNode:
        kind = int(grid.owner[box])
        spots.append((kind, box - int(grid.start[kind]), *corner))
        size = (int(grid.dx[box]), int(grid.dy[box]), int(grid.dz[box]))
        return piece_in(corner, extent, size, len(spots) - 1, grid.kerfs)

    return place
