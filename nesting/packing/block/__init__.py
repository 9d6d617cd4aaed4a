"""Foam blocks: slit first or saw first, chosen block by block. The one entry is `search_blocks`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, cast

from nesting.packing.block.gluing import search_glued
from nesting.packing.block.grid import BlockGrid, Stock, stocks_of
from nesting.packing.block.recipes import Adapted, GluePlan, Noting, has_recipes, unmakable
from nesting.packing.block.saw import SawMaker
from nesting.packing.block.slit import SlitMaker
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import Column, Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds, Ledger, Remainder, Spot
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search
from nesting.packing.solution import CutNode, Glued, Layout
from nesting.packing.trees import Corner, Extent, Place, piece_in

__all__ = ["layouts", "misfits", "search_blocks", "worth"]


def misfits(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that no block holds, whole or in allowed parts, with the reason in plain words."""
    return unmakable(problem)


def search_blocks(problem: BlockProblem, kinds: Kinds, search: Search[Any]) -> None:
    """Search for cheap plans of slabs that can each be cut; plans and bounds go to `search`.

    Drafts are a `Cover`, or a `GluePlan` where some slab may be glued up.
    """
    if has_recipes(problem):
        search_glued(problem, search, _makers, _search_plain)
    else:
        _search_plain(problem, kinds, search)


def _search_plain(
    problem: BlockProblem, kinds: Kinds, search: Search[Any], seen: list[Column] | None = None
) -> None:
    """The same where every slab is cut in one piece; patterns that were priced are added to `seen`."""
    grid = BlockGrid(problem, kinds)
    available = [block.available for block in problem.blocks]
    usable = _usable(problem)
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
    makers = _makers(problem, kinds)
    if seen is not None:
        makers = [cast(Maker, Noting(maker, seen)) for maker in makers]
    Covering(
        grid.demand,
        available,
        makers,
        areas=grid.volume,
        round_bound=rounded_cost(costs),
        dearest=max(costs),
    ).run(search)


def _usable(problem: BlockProblem) -> list[Stock]:
    """Blocks that there are, and of which the skins leave something."""
    return [
        stock
        for stock in stocks_of(problem)
        if min(stock.extent) > 0 and problem.blocks[stock.index].available != 0
    ]


def _makers(problem: BlockProblem, kinds: Kinds) -> list[Maker]:
    """All makers of patterns of these kinds."""
    grid = BlockGrid(problem, kinds)
    makers: list[Maker] = []
    for stock in _usable(problem):
        if problem.order != "saw first":
            makers.append(SlitMaker(grid, stock))
        if problem.order != "slit first":
            makers.append(SawMaker(grid, stock))
    return makers


def worth(problem: BlockProblem, made: Sequence[Layout]) -> float:
    """Cost of all blocks opened and of all gluing."""
    costs = {block.key: block.cost for block in problem.blocks}
    pieces = {piece.key: piece for piece in problem.pieces}
    return math.fsum(
        layout.repeats
        * (
            costs[layout.stock_key]
            + math.fsum(
                pieces[placement.key].recipes[placement.part.recipe].cost
                for placement in layout.placements
                if isinstance(placement.part, Glued) and placement.part.index == 0
            )
        )
        for layout in made
    )


def layouts(problem: BlockProblem, kinds: Kinds, draft: Cover | GluePlan) -> tuple[list[Layout], Ledger]:
    """Write a draft out as blocks with placements in mm."""
    if isinstance(draft, GluePlan):
        made = draft.layouts(lambda demand, cover: layouts(problem, demand, cover)[0])
        return made, Remainder(draft.left_over())
    grid = BlockGrid(problem, kinds)
    ledger = Ledger(kinds)
    made = []
    for column, repeats in draft.chosen:
        assert isinstance(column.maker, SlitMaker | SawMaker | Adapted)
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
