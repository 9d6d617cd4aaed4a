"""Between plans of repeated patterns and the trees of the split search: what is taken apart, and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nesting.packing.columns import LARGER, MANY, Column, Cover
from nesting.packing.grid import STEPS, Ints, Spot
from nesting.packing.problem import Stages
from nesting.packing.sheet import nodes
from nesting.packing.sheet.makers import FreeMaker, SheetGrid, StagedMaker, Stock
from nesting.packing.sheet.splits import SplitMaker, part_of
from nesting.packing.solution import CutNode

__all__ = ["Choice", "Cutter"]

MOST_COPIES = 400
"""Most pieces that are cut anew at once."""

ANY_DEPTH = 2**30
"""Stages of cuts where they are not limited."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A part of a plan that is to be cut anew.

    Parameters
    ----------
    kept
        The sheets that stay.
    opened
        The sheets that are taken apart.
    short
        Copies of each kind that stay missing.
    counts
        Copies of each kind that are to be cut: those on the opened sheets, and some that are missing.
    """

    kept: tuple[tuple[Column, int], ...]
    opened: tuple[tuple[Column, int], ...]
    short: Ints
    counts: Ints

    @property
    def cost(self) -> float:
        """What the opened sheets cost."""
        return float(sum(column.cost * times for column, times in self.opened))

    @property
    def missing(self) -> int:
        """How many of the copies have no place now."""
        placed = sum(int(column.counts.sum()) * times for column, times in self.opened)
        return int(self.counts.sum()) - placed


class Cutter:
    """Prepares parts of plans for the split search, and reads its results.

    Parameters
    ----------
    grid
        The pieces.
    stocks
        Sheets that may be used.
    available
        How many there are of each sheet of the problem; None: no limit.
    stages
        As in the problem; free placement is cut like ``"any"``.

    Attributes
    ----------
    grid, costs
        The pieces, and the cost of each stock.
    free_makers
        The makers of free patterns, one for each stock; none where cuts are straight.
    """

    def __init__(
        self, grid: SheetGrid, stocks: Sequence[Stock], available: Sequence[int | None], stages: Stages
    ) -> None:
        self.grid = grid
        self.costs = np.array([stock.cost for stock in stocks])
        self._at = {stock.index: at for at, stock in enumerate(stocks)}
        self._makers = [SplitMaker(grid, stock) for stock in stocks]
        limits = [MANY if (most := available[s.index]) is None else most for s in stocks]
        self._rooms = np.array(
            [[*stock.extent[:2], limit] for stock, limit in zip(stocks, limits, strict=True)], np.int64
        )
        self.free_makers = [FreeMaker(grid, stock) for stock in stocks] if stages is None else []
        self._deepest = stages if isinstance(stages, int) else ANY_DEPTH
        self._either = stages not in (2, 3)

    @property
    def whole(self) -> bool:
        """Whether the whole demand can be cut anew at once."""
        return int(self.grid.demand.sum()) <= MOST_COPIES

    @property
    def narrower(self) -> list[int]:
        """Numbers of stages that are fewer than allowed."""
        return [stages for stages in (2, 3) if stages < self._deepest]

    def choose(
        self,
        plan: Cover,
        shake: np.random.Generator | None = None,
        *,
        free: bool = True,
        most: int = MOST_COPIES,
    ) -> Choice:
        """The emptiest sheets of a plan, up to so many pieces.

        With `shake` some that are fuller may take their place; without `free` sheets that are no tree
        of cuts stay.
        """
        area = self.grid.area.astype(np.float64)
        fills = {
            at: float(area @ column.counts) / column.cost * (1.0 if shake is None else shake.random())
            for at, (column, _) in enumerate(plan.chosen)
            if free or not isinstance(column.maker, FreeMaker)
        }
        # Half of the room is for what is missing, and half for what may make way for it.
        before = np.cumsum(plan.missing) - plan.missing
        counts = np.clip(most // 2 - before, 0, plan.missing)
        short = plan.missing - counts
        kept = [times for _, times in plan.chosen]
        for at in sorted(fills, key=lambda at: fills[at]):
            column, times = plan.chosen[at]
            taken = min(times, (most - int(counts.sum())) // int(column.counts.sum()))
            if taken > 0:
                kept[at] -= taken
                counts = counts + taken * column.counts
        columns = [column for column, _ in plan.chosen]
        opened = [times - stay for (_, times), stay in zip(plan.chosen, kept, strict=True)]
        return Choice(_some(columns, kept), _some(columns, opened), short, counts)

    def task(self, choice: Choice, deepest: int | None = None) -> nodes.Task:
        """The choice for the kernels, to be cut in no more than `deepest` stages if that is given.

        Where copies are missing, all count nearly alike.
        """
        grid = self.grid
        rooms = self._rooms.copy()
        for column, times in choice.kept:
            rooms[self._at[column.maker.stock], 2] -= times
        area = np.maximum(grid.area, 1).astype(np.float64)
        weight = area / area.max()
        if choice.missing:
            weight = 1.0 + LARGER * weight
        dx, dy = grid.dx[grid.start[:-1]], grid.dy[grid.start[:-1]]
        return nodes.Task(
            np.repeat(np.arange(grid.demand.size), choice.counts),
            grid.start,
            grid.dx,
            grid.dy,
            np.array([grid.area, np.maximum(dx, dy), dx, dy], np.float64),
            weight,
            rooms,
            self.costs,
            grid.kerf,
            self._deepest if deepest is None else deepest,
            self._either,
        )

    def load(self, choice: Choice, task: nodes.Task) -> nodes.Plan:
        """The opened sheets as they are cut now; what is on sheets that are no tree of cuts is out."""
        plan = nodes.Plan.empty(task.kind.size, self.costs.size)
        ends = np.cumsum(choice.counts)
        copies = [iter(range(end - count, end)) for count, end in zip(choice.counts, ends, strict=True)]
        for column, times in choice.opened:
            assert isinstance(column.maker, StagedMaker | SplitMaker | FreeMaker)
            spots, tree = column.maker.draw(column.body)
            for _ in range(times if tree is not None else 0):
                assert tree is not None
                named = [(spot, next(copies[spot[0]])) for spot in spots]
                self._plant(task, plan, self._at[column.maker.stock], tree, named)
        out = np.flatnonzero(plan.leaf == nodes.NONE)
        plan.lists[nodes.OUT, : out.size] = out
        plan.sizes[nodes.OUT] = out.size
        return plan

    def _plant(
        self,
        task: nodes.Task,
        plan: nodes.Plan,
        stock: int,
        tree: CutNode,
        named: Sequence[tuple[Spot, int]],
    ) -> None:
        """Add one sheet, cut like the tree; `named` gives the copy for each piece of it."""

        def grow(node: int, axis: int, box: CutNode) -> None:
            if box.piece is not None:
                (kind, turn, *_), copy = named[box.piece]
                at = int(task.start[kind]) + turn
                plan.leaf[copy] = nodes.new_node(task, plan, node, nodes.LEAF, task.dx[at], task.dy[at], copy)
            elif box.axis == "xy"[axis]:
                # A box within a box that is cut the same way: one set of cuts does both.
                for part in box.parts:
                    grow(node, axis, part)
            elif box.axis is not None:
                extent = (round(box.length * STEPS), round(box.width * STEPS))
                below = nodes.new_node(task, plan, node, 1 - axis, extent[1 - axis], extent[axis], nodes.NONE)
                for part in box.parts:
                    grow(below, 1 - axis, part)

        axis = 1 if self._either and tree.axis == "y" else 0
        extent = task.room[stock]
        root = nodes.new_node(task, plan, nodes.NONE, axis, extent[axis], extent[1 - axis], stock)
        nodes.push(plan, nodes.ROOTS, root)
        plan.used[stock] += 1
        grow(root, axis, tree)

    def cover(
        self, choice: Choice, task: nodes.Task, plan: nodes.Plan, instead: Mapping[int, Column] | None = None
    ) -> Cover:
        """The whole plan, with the new sheets in it.

        Sheets with the same pieces are all cut like one of them, an old one if there is one, so that
        layouts repeat. Only for the roots in `instead` the pattern is given.
        """
        given = instead or {}
        times: dict[Column, int] = {}
        for column, repeats in choice.kept:
            times[column] = times.get(column, 0) + repeats
        known = {column.signature: column for column, _ in (*choice.opened, *choice.kept)}
        left = choice.counts
        for root in plan.lists[nodes.ROOTS, : plan.sizes[nodes.ROOTS]].tolist():
            column = given.get(root) or self.column(task, plan, root)
            if root not in given:
                column = known.setdefault(column.signature, column)
            times[column] = times.get(column, 0) + 1
            left = left - column.counts
        return Cover(tuple(times.items()), choice.short + left)

    def column(self, task: nodes.Task, plan: nodes.Plan, root: int) -> Column:
        """The pattern of one sheet."""
        return self._makers[int(plan.tree[root, nodes.PIECE])].column(part_of(task, plan.tree, root))


def _some(columns: Sequence[Column], times: Sequence[int]) -> tuple[tuple[Column, int], ...]:
    return tuple((column, count) for column, count in zip(columns, times, strict=True) if count)
