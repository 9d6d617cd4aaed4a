"""Of plans that cost the same, the one whose emptiest block leaves the largest rest in one piece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np

from nesting.packing.block.grid import BlockGrid
from nesting.packing.block.levels import Way
from nesting.packing.block.saw import SawMaker
from nesting.packing.columns import Column, Cover
from nesting.packing.grid import Ints
from nesting.packing.search import Search, Stop
from nesting.packing.solution import Axis, CutNode
from nesting.packing.trees import Corner, Extent

__all__ = ["enlarge_rest", "largest_rest"]

MOST_WORK = 20_000_000
"""Most work spent on the rest: about a quarter of a second."""

TRIES = 6
"""Ways tried of packing the slabs of a block for each kind of rest."""

HALVINGS = 7
"""How often the range of what a block could be shortened to is halved."""


def enlarge_rest(grid: BlockGrid, ways: Sequence[Way], search: Search[Cover]) -> None:
    """Pack the emptiest block of the draft of `search` anew, so that it leaves a larger rest.

    Slit first, the rest is a slab of full footprint off the top; sawn first, a part of full height off an
    end or a side. Every other block stays as it is, and so does the cost.
    """
    cover = search.draft
    if cover is None or cover.missing.any() or not cover.chosen:
        return
    room = {way.stock.index: way.stock.volume for way in ways}
    emptiest = max(
        range(len(cover.chosen)),
        key=lambda at: (
            room[cover.chosen[at][0].maker.stock] - float(grid.volume @ cover.chosen[at][0].counts)
        ),
    )
    column, _ = cover.chosen[emptiest]
    way = next(way for way in ways if way.stock.index == column.maker.stock)
    best, largest = column, largest_rest(grid, column)
    work = search.child()
    if work.effort_limit is None or work.effort_limit > MOST_WORK:
        work.effort_limit = MOST_WORK
    with suppress(Stop):
        for made in _packed(grid, way, column, largest, work):
            rest = largest_rest(grid, made)
            if rest > largest:
                best, largest = made, rest
    if best is not column:
        kept = [(item, times - (at == emptiest)) for at, (item, times) in enumerate(cover.chosen)]
        chosen = [(item, times) for item, times in kept if times]
        # In the place of the old draft: it costs as much.
        search.draft = Cover((*chosen, (best, 1)), cover.missing)


def largest_rest(grid: BlockGrid, column: Column) -> float:
    """Volume of the largest part of a block that holds nothing, in mm3."""

    def place(box: int, corner: Corner, extent: Extent) -> CutNode:
        del box
        return CutNode(*corner[:2], *extent[:2], piece=0, z=corner[2], height=extent[2])

    largest = 0.0
    stack = [column.maker.tree(column.body, place)]  # type: ignore[attr-defined]
    while stack:
        node = stack.pop()
        stack.extend(node.parts)
        if node.axis is None and node.piece is None:
            largest = max(largest, node.length * node.width * node.height)
    return largest


def _packed(
    grid: BlockGrid, way: Way, column: Column, largest: float, search: Search[Any]
) -> Iterator[Column]:
    """Other blocks of the same slabs."""
    rng = np.random.default_rng(search.seed)
    for _ in range(TRIES):
        values = grid.volume * np.exp(rng.normal(0.0, 0.1, grid.volume.size))
        if way.slit is not None:
            made = way.slit.fewest(values, column.counts, search)
            if made is not None:
                yield made
    if way.saw is not None:
        for axis, values in product(("x", "y"), (grid.volume, grid.volume**0.5)):
            yield from _shortened(grid, way, column.counts, axis, values, search)  # type: ignore[arg-type]


def _shortened(
    grid: BlockGrid, way: Way, counts: Ints, axis: Axis, values: Any, search: Search[Any]
) -> Iterator[Column]:
    """Blocks sawn first of which ever less is used along an axis."""
    along = ("x", "y").index(axis)
    extent = way.stock.extent
    # It takes the volume at least, and what holds all of it can be made no longer than that.
    low = int(float(grid.volume @ counts) / (way.stock.volume / extent[along]))
    high = extent[along]
    for _ in range(HALVINGS):
        if high - low < extent[along] // 100:
            return
        middle = (low + high) // 2
        part = replace(way.stock, extent=_with(extent, along, middle))
        made = SawMaker(grid, part, way.stock, (axis,)).fill(values, counts, search)
        if made is not None and (made.counts == counts).all():
            high = middle
            yield made
        else:
            low = middle


def _with(extent: Extent, along: int, size: int) -> Extent:
    length, width, height = (size if at == along else old for at, old in enumerate(extent))
    return length, width, height
