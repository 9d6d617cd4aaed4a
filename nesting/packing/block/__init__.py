"""Foam blocks: slit first or saw first, chosen block by block. The one entry is `search_blocks`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import cast

from nesting.packing.block.grid import BlockGrid, part_cost, stocks_of
from nesting.packing.block.lengths import joined_layouts, spots_of
from nesting.packing.block.long import LongMaker, long_of
from nesting.packing.block.makers import BlockMaker
from nesting.packing.block.pairs import Pairing, with_pair
from nesting.packing.block.saw import SawMaker
from nesting.packing.block.slit import SlitMaker
from nesting.packing.block.wide_search import search_wide
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import Column, Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds, Ledger, Spot, mm, too_large
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search
from nesting.packing.solution import CutNode, Layout, Placement
from nesting.packing.trees import Corner, Extent, piece_in

__all__ = ["layouts", "misfits", "search_blocks", "worth"]


def misfits(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that fit no block in any allowed turn, with the reason in plain words."""
    return too_large(problem.pieces, [stock.extent for stock in stocks_of(problem)], "block")


def search_blocks(problem: BlockProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of slabs that each fit some block; plans and bounds go to `search`."""
    if any(block.cut_to is not None for block in problem.blocks) or any(p.points for p in problem.pieces):
        search_wide(problem, kinds, search)
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
    makers: list[Maker] = []
    for stock in usable:
        if problem.order != "saw first":
            makers.append(SlitMaker(grid, stock))
        if problem.order != "slit first":
            makers.append(SawMaker(grid, stock))
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
    pairing = Pairing.of(problem, kinds)
    ledger = Ledger(kinds)
    made: list[Layout] = []
    for column, repeats in draft.chosen:
        if isinstance(column.maker, LongMaker):
            continue
        block = problem.blocks[column.maker.stock]
        written = _Written(pairing, column)
        made.extend(
            Layout(block.key, written.turned(placements), block.length, times, written.cuts)
            for placements, times in ledger.assign(written.spots, repeats)
        )
    longs = [long_of(problem, stock) for stock in stocks_of(problem) if problem.blocks[stock.index].cut_to]
    for long in longs:
        for spot in spots_of(problem, long, draft):
            written = _Written(pairing, spot.column)
            number = spot.number
            for placements, times in ledger.assign(written.spots, spot.count):
                made.append(
                    Layout(
                        problem.blocks[long.index].key,
                        written.turned(placements),
                        mm(spot.column.body.length),
                        times,
                        written.cuts,
                        start=spot.start,
                        stock_number=number,
                        stock_count=times,
                    )
                )
                number += times
    return joined_layouts(made, problem.kerfs.upright), ledger


class _Written:
    """A pattern written out.

    Attributes
    ----------
    spots
        Its boxes where they lie, copy by copy.
    cuts
        Its tree of cuts; the leaves are numbered as the spots are.
    """

    def __init__(self, pairing: Pairing, column: Column) -> None:
        self._pairing = pairing
        self._turns: dict[int, float] = {}
        self.spots: list[Spot] = []
        self.cuts = cast(BlockMaker, column.maker).tree(column.body, self._place)

    def turned(self, placements: Sequence[Placement]) -> tuple[Placement, ...]:
        """Placements of the spots, those of pairs turned as they lie in their box."""
        return tuple(
            replace(placement, turn=self._turns.get(at, placement.turn))
            for at, placement in enumerate(placements)
        )

    def _place(self, box: int, corner: Corner, extent: Extent) -> CutNode:
        """Write a box down, and trim its room down to it."""
        grid = self._pairing.grid
        pair = self._pairing.boxes.get(box)
        at = len(self.spots)
        size = (int(grid.dx[box]), int(grid.dy[box]), int(grid.dz[box]))
        if pair is None:
            kind = int(grid.owner[box])
            self.spots.append((kind, box - int(grid.start[kind]), *corner))
            return piece_in(corner, extent, size, at, grid.kerfs)
        kind = int(self._pairing.owner[int(grid.owner[box]) - self._pairing.singles])
        for turn, (x, y) in zip(pair.turns, pair.places, strict=True):
            self._turns[len(self.spots)] = turn
            self.spots.append((kind, 0, corner[0] + x, corner[1] + y, corner[2]))
        return with_pair(piece_in(corner, extent, size, at, grid.kerfs), at, at + 1)
