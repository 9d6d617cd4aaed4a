"""Foam blocks: slit first or saw first, chosen block by block. The one entry is `search_blocks`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any, cast

import numpy as np

from nesting.packing.block.floor import raise_floor
from nesting.packing.block.gluing import search_glued
from nesting.packing.block.grid import BlockGrid, Stock, part_cost, stocks_of
from nesting.packing.block.lengths import joined_layouts, spots_of
from nesting.packing.block.levels import ROUNDS, Relaxation, Way, plenty
from nesting.packing.block.long import LongMaker, long_of
from nesting.packing.block.makers import BlockMaker, ways_of
from nesting.packing.block.pairs import Pairing, with_pair
from nesting.packing.block.recipes import GluePlan, Noting, has_recipes, unmakable
from nesting.packing.block.rest import enlarge_rest
from nesting.packing.block.saw import SawMaker
from nesting.packing.block.slit import SlitMaker
from nesting.packing.block.wide_search import search_wide
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import MANY, Column, Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds, Ledger, Remainder, Spot, mm, too_large
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search, Stop
from nesting.packing.solution import CutNode, Glued, Layout, Placement
from nesting.packing.trees import Corner, Extent, piece_in

__all__ = ["glues_nothing", "layouts", "misfits", "search_blocks", "worth"]

RELAXED_SHARE = 0.4
"""Most of the budget that the relaxations get."""

REST_SHARE = 0.02
"""Share of the budget that is kept for the largest rest."""


def misfits(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that no block holds, whole or in allowed parts, with the reason in plain words."""
    if not _wide(problem):
        return unmakable(problem)
    reasons = dict(too_large(problem.pieces, [stock.extent for stock in stocks_of(problem)], "block"))
    for piece in problem.pieces:
        if not piece.whole:
            reasons[piece.key] = "must be glued up, which is not planned beside long blocks or shaped slabs"
    return reasons


def _wide(problem: BlockProblem) -> bool:
    """Whether blocks are long or slabs have outlines; then nothing is glued up as yet."""
    return any(block.cut_to is not None for block in problem.blocks) or any(p.points for p in problem.pieces)


def glues_nothing(problem: BlockProblem) -> bool:
    """Whether slabs might be glued up, but the search does not look for it."""
    return has_recipes(problem) and _wide(problem)


def search_blocks(problem: BlockProblem, kinds: Kinds, search: Search[Any]) -> None:
    """Search for cheap plans of slabs that can each be cut; plans and bounds go to `search`.

    Drafts are a `Cover`, or a `GluePlan` where some slab may be glued up.
    """
    if _wide(problem):
        search_wide(problem, kinds, search)
    elif has_recipes(problem):
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
    if seen is not None:
        makers = [cast(Maker, Noting(maker, seen)) for maker in makers]
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
        if seen is not None:
            seen += columns
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


def _usable(problem: BlockProblem) -> list[Stock]:
    """Blocks that there are, and of which the skins leave something."""
    return [
        stock
        for stock in stocks_of(problem)
        if min(stock.extent) > 0 and problem.blocks[stock.index].available != 0
    ]


def _makers(problem: BlockProblem, kinds: Kinds) -> list[Maker]:
    """All makers of patterns of these kinds."""
    ways = ways_of(problem, BlockGrid(problem, kinds))
    return [maker for stock in _usable(problem) for maker in ways(stock)]


def worth(problem: BlockProblem, made: Sequence[Layout]) -> float:
    """Cost of the blocks that are opened, of what is taken from long ones, and of all gluing."""
    blocks = {block.key: block for block in problem.blocks}
    pieces = {piece.key: piece for piece in problem.pieces}

    def glue(layout: Layout) -> float:
        return math.fsum(
            pieces[placement.key].recipes[placement.part.recipe].cost
            for placement in layout.placements
            if isinstance(placement.part, Glued) and placement.part.index == 0
        )

    def cost(layout: Layout) -> float:
        block = blocks[layout.stock_key]
        if block.cut_to is None:
            return block.cost
        skins = problem.skins_of(block)
        usable = block.length - skins.x0 - skins.x1
        return part_cost(block.cost, layout.length, usable, problem.kerfs.upright)

    return math.fsum((cost(layout) + glue(layout)) * layout.repeats for layout in made)


def layouts(problem: BlockProblem, kinds: Kinds, draft: Cover | GluePlan) -> tuple[list[Layout], Ledger]:
    """Write a draft out as blocks with placements in mm."""
    if isinstance(draft, GluePlan):
        glued = draft.layouts(lambda demand, cover: layouts(problem, demand, cover)[0])
        return glued, Remainder(draft.left_over())
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
