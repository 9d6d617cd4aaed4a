"""Who makes the patterns of one block, in the order of cuts that is asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeAlias

from nesting.packing.block.grid import BlockGrid, Stock
from nesting.packing.block.saw import SawMaker
from nesting.packing.block.slit import SlitMaker
from nesting.packing.columns import Maker
from nesting.packing.problem import BlockProblem
from nesting.packing.solution import CutNode
from nesting.packing.trees import Place

__all__ = ["BlockMaker", "Ways", "ways_of"]


class BlockMaker(Maker, Protocol):
    """A maker whose patterns can be written out as trees of cuts."""

    def tree(self, body: Any, place: Place) -> CutNode:
        """The tree of a pattern; `place` makes the leaf of each box."""


Ways: TypeAlias = Callable[[Stock], list[BlockMaker]]
"""Makes the makers of a stock: one for each way of cutting it."""


def ways_of(problem: BlockProblem, grid: BlockGrid) -> Ways:
    """The ways of cutting that the problem allows."""

    def ways(stock: Stock) -> list[BlockMaker]:
        makers: list[BlockMaker] = []
        if problem.order != "saw first":
            makers.append(SlitMaker(grid, stock))
        if problem.order != "slit first":
            makers.append(SawMaker(grid, stock))
        return makers

    return ways
