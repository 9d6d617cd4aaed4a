"""Sheets as trees of cuts of any depth: how they are kept, drawn and taken apart.

`SplitMaker` stands beside the makers of staged and free patterns; its patterns come from the search in
`nesting.packing.sheet.kernels`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.packing.columns import Column, Reserved
from nesting.packing.grid import Ints, Spot
from nesting.packing.sheet import nodes
from nesting.packing.sheet.makers import SheetGrid, Stock
from nesting.packing.solution import Axis, CutNode
from nesting.packing.trees import Corner, Extent, Fill, divide, piece_in

__all__ = ["Part", "SplitMaker", "part_of"]

_AXES: tuple[Axis, Axis] = ("x", "y")


@dataclass(frozen=True, slots=True, order=True)
class Part:
    """A piece, or a box that is cut into parts.

    Parameters
    ----------
    size
        Extent along the cuts that part it off, in grid steps; 0 for a whole sheet.
    box
        Number of the box of a piece; -1 for what is cut.
    axis
        0: the cuts are at given x. 1: at given y.
    parts
        What is cut from it, the largest first; the rest lies at the far end.
    """

    size: int
    box: int
    axis: int
    parts: tuple[Part, ...]

    def boxes(self) -> list[int]:
        """Boxes of all pieces."""
        found, stack = [], [self]
        while stack:
            part = stack.pop()
            if part.parts:
                stack.extend(part.parts)
            else:
                found.append(part.box)
        return found


class SplitMaker(Reserved):
    """Draws sheets that are trees of cuts. Makes no patterns by itself.

    The body of its columns is the `Part` that is the whole sheet.
    """

    def __init__(self, grid: SheetGrid, stock: Stock) -> None:
        self.stock = stock.index
        self._grid, self._stock = grid, stock

    def column(self, root: Part) -> Column:
        """The pattern of a whole sheet."""
        kinds = self._grid.owner[root.boxes()]
        counts = np.bincount(kinds, minlength=self._grid.demand.size).astype(np.int64)
        return Column(self, self._stock.cost, counts, root)

    def trim(self, column: Column, counts: Ints) -> Column:
        """The sheet with only the given counts; the others leave their places empty."""
        left = counts.copy()

        def kept(part: Part) -> Part | None:
            if not part.parts:
                kind = self._grid.owner[part.box]
                left[kind] -= 1
                return part if left[kind] >= 0 else None
            parts = tuple(below for old in part.parts if (below := kept(old)) is not None)
            return Part(part.size, part.box, part.axis, parts) if parts else None

        root = kept(column.body)
        assert root is not None, "a pattern without pieces"
        return self.column(root)

    def draw(self, root: Part) -> tuple[list[Spot], CutNode]:
        """Where the pieces lie, and the tree of cuts."""
        grid = self._grid
        spots: list[Spot] = []

        def fill_of(part: Part) -> Fill:
            def fill(corner: Corner, extent: Extent) -> CutNode:
                if part.parts:
                    parts = [(below.size, fill_of(below)) for below in part.parts]
                    return divide(corner, extent, _AXES[part.axis], parts, grid.kerf)
                kind = int(grid.owner[part.box])
                spots.append((kind, part.box - int(grid.start[kind]), *corner))
                size = (int(grid.dx[part.box]), int(grid.dy[part.box]), 0)
                return piece_in(corner, extent, size, len(spots) - 1, (grid.kerf,) * 3)

            return fill

        tree = fill_of(root)(self._stock.corner, self._stock.extent)
        return spots, tree


def part_of(task: nodes.Task, tree: Ints, node: int, size: int = 0) -> Part:
    """What a node of the trees of a plan is, and all below it; `size` as in `Part`."""
    row = tree[node]
    if row[nodes.AXIS] == nodes.LEAF:
        return Part(size, _box_of(task, row), 0, ())
    axis = int(row[nodes.AXIS])
    parts = []
    below = int(row[nodes.FIRST])
    while below != nodes.NONE:
        parts.append(part_of(task, tree, below, int(tree[below, nodes.DX + axis])))
        below = int(tree[below, nodes.NEXT])
    return Part(size, nodes.NONE, axis, tuple(sorted(parts, reverse=True)))


def _box_of(task: nodes.Task, row: Ints) -> int:
    """The box that a leaf shows: among those of its kind the one of its size."""
    kind = task.kind[row[nodes.PIECE]]
    boxes = np.arange(task.start[kind], task.start[kind + 1])
    same = (task.dx[boxes] == row[nodes.DX]) & (task.dy[boxes] == row[nodes.DX + 1])
    return int(boxes[same][0])
