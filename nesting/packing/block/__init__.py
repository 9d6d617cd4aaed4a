"""Foam blocks: slit first or saw first, chosen block by block. The one entry is `search_blocks`.

*Slit first*: the block is slit at given heights into full sheets of one thickness each, and every
sheet is cut edge to edge. *Saw first*: the footprint is cut edge to edge into columns, and every
column is split at given heights; a column may hold slabs smaller than itself, which are then trimmed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from nesting.packing import kernels
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import Column, Cover, Covering, Floats
from nesting.packing.grid import Ints, Kinds, Ledger
from nesting.packing.guillotine import CELLS_A_STEP, Pattern, Region
from nesting.packing.problem import GRID, Block, BlockProblem, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import Axis, CutNode, Layout
from nesting.packing.trees import Corner, Extent, Fill, divide, piece_in, sections_tree

__all__ = ["layouts", "misfits", "search_blocks"]

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class SlitSheet:
    """One sheet of a slit block: thickness, first cut, and its pattern of boxes."""

    height: int
    first: Axis
    pattern: Pattern


@dataclass(frozen=True, slots=True)
class Slit:
    """Sheets from the bottom up."""

    sheets: tuple[SlitSheet, ...]


@dataclass(frozen=True, slots=True)
class Saw:
    """A pattern of columns; `stacks` lists the boxes of each column from the bottom up.

    The pattern's boxes are footprints; a footprint has the number of the box that it equals. Stacks
    come in the order in which the pattern lists its footprints.
    """

    first: Axis
    pattern: Pattern
    stacks: tuple[tuple[int, ...], ...]


class BlockGrid:
    """A block problem on the grid."""

    def __init__(self, problem: BlockProblem, kinds: Kinds) -> None:
        self.kinds = kinds
        self.kerf = grid_up(problem.kerf)
        self.start, self.dx, self.dy = kinds.flat()
        self.owner = np.repeat(np.arange(len(kinds)), np.diff(self.start))
        self.height = np.array([kind.height for kind in kinds], np.int64)
        self.volume = np.array([kind.area * kind.height for kind in kinds], np.float64)
        self.demand = kinds.quantities
        self.stocks = [Stock(problem, block, self) for block in problem.blocks]


class Stock:
    """One block size on the grid, with what is cut from it."""

    def __init__(self, problem: BlockProblem, block: Block, grid: BlockGrid) -> None:
        skins = problem.skins
        self.cost = block.cost
        self.corner = (grid_up(skins.x0), grid_up(skins.y0), grid_up(skins.z0))
        self.extent = (
            max(0, grid_down(block.length - skins.x1) - self.corner[0]),
            max(0, grid_down(block.width - skins.y1) - self.corner[1]),
            max(0, grid_down(block.height - skins.z1) - self.corner[2]),
        )
        self.volume = float(self.extent[0]) * self.extent[1] * self.extent[2]
        self.makers: list[SlitMaker | SawMaker] = []
        if problem.order != "saw first":
            self.makers.append(SlitMaker(grid, self.extent))
        if problem.order != "slit first":
            self.makers.append(SawMaker(grid, self.extent))


Place = Callable[[int, Corner, Extent], CutNode]
"""Places a box at the low corner of a room, and returns the node of that room."""


class Footprint:
    """The block's plan view, cut edge to edge with the first cut either way."""

    def __init__(
        self, extent: Extent, dx: Ints, dy: Ints, owner: Ints, kerf: int, allowed: Bools | None = None
    ) -> None:
        self._sizes: dict[Axis, tuple[Ints, Ints]] = {"x": (dx, dy), "y": (dy, dx)}
        self._kerf = kerf
        length, width, _ = extent
        self._regions: dict[Axis, Region] = {
            "x": Region(length, width, dx, dy, owner, kerf, 3, allowed),
            "y": Region(width, length, dy, dx, owner, kerf, 3, allowed),
        }
        self.work = sum(region.work for region in self._regions.values())

    def pattern(self, values: Floats, limits: Ints) -> tuple[Axis, Pattern, Ints, float]:
        """The more valuable of the two patterns, its counts and its value."""
        made = [(first, *region.pattern(values, limits)) for first, region in self._regions.items()]
        return max(made, key=lambda item: item[3])

    def best_value(self, values: Floats) -> float:
        """Upper bound on the value of any pattern."""
        return max(region.best_value(values) for region in self._regions.values())

    def only(self, first: Axis, pattern: Pattern, counts: Ints) -> Pattern:
        """The pattern with only so many copies of each kind."""
        return self._regions[first].only_of(pattern, counts)

    def tree(self, first: Axis, pattern: Pattern, place: Place) -> Fill:
        """Makes the cut tree of a pattern in whatever room it is given."""
        dx, dy = self._sizes[first]
        return lambda c, e: sections_tree(c, e, pattern.sections, dx, dy, self._kerf, place, first=first)


def _stack(sizes: Ints, values: Floats, limits: Ints, room: int, kerf: int) -> list[int]:
    """Indices, with repetition, of the sizes that fill a height with the most value."""
    best = np.zeros(room + kerf + 1)
    take = np.zeros((sizes.size, room + kerf + 1), np.int32)
    kernels.knapsack(sizes + kerf, values, limits, room + kerf, best, take)
    at = room + kerf
    chosen: list[int] = []
    for i in range(sizes.size - 1, -1, -1):
        copies = int(take[i, at])
        chosen.extend([i] * copies)
        at -= copies * int(sizes[i] + kerf)
    return chosen


class SlitMaker:
    """Makes slit-first patterns for one block size."""

    def __init__(self, grid: BlockGrid, extent: Extent) -> None:
        self._grid = grid
        self._room = extent[2]
        self._heights = np.array([h for h in np.unique(grid.height) if h <= self._room], np.int64)
        of_box = grid.height[grid.owner]
        self._plans = [
            Footprint(extent, grid.dx, grid.dy, grid.owner, grid.kerf, of_box == height)
            for height in self._heights
        ]
        self.work = sum(plan.work for plan in self._plans) + self._heights.size * self._room // CELLS_A_STEP

    def make(self, values: Floats, limits: Ints) -> tuple[Slit, Ints]:
        """A valuable pattern within the limits, and its counts."""
        left = limits.copy()
        sheets: list[SlitSheet] = []
        room = self._room
        while room > 0 and self._heights.size:
            made = [plan.pattern(values, left) for plan in self._plans]
            most = np.array([_times(left, counts) for _, _, counts, _ in made], np.int64)
            worth = np.array([value for *_, value in made])
            chosen = _stack(self._heights, worth, most, room, self._grid.kerf)
            for i in chosen:
                first, pattern, counts, _ = made[i]
                sheets.append(SlitSheet(int(self._heights[i]), first, pattern))
                left -= counts
                room -= int(self._heights[i]) + self._grid.kerf
            if not chosen:
                break
        # Thick sheets at the bottom: the block stands firmest, and the soft thin ones come off first.
        sheets.sort(key=lambda sheet: -sheet.height)
        return Slit(tuple(sheets)), limits - left

    def best_value(self, values: Floats) -> float:
        """Upper bound on the value of any slit-first pattern."""
        worth = np.array([plan.best_value(values) for plan in self._plans])
        many = np.full(worth.size, self._room, np.int64)
        return float(sum(worth[i] for i in _stack(self._heights, worth, many, self._room, self._grid.kerf)))

    def only(self, body: Slit, counts: Ints) -> Slit:
        """The pattern with only so many copies of each kind."""
        left = counts.copy()
        sheets = []
        for sheet in body.sheets:
            held = np.bincount(self._grid.owner[list(sheet.pattern.boxes)], minlength=left.size)
            use = np.minimum(held, left)
            if use.any():
                left -= use
                sheets.append(replace(sheet, pattern=self._plan(sheet).only(sheet.first, sheet.pattern, use)))
        return Slit(tuple(sheets))

    def tree(self, body: Slit, corner: Corner, extent: Extent, place: Place) -> CutNode:
        """The cut tree: heights first, then each sheet."""
        parts = [(s.height, self._plan(s).tree(s.first, s.pattern, place)) for s in body.sheets]
        return divide(corner, extent, "z", parts, self._grid.kerf)

    def _plan(self, sheet: SlitSheet) -> Footprint:
        return self._plans[int(np.searchsorted(self._heights, sheet.height))]


class SawMaker:
    """Makes saw-first patterns for one block size.

    The columns' footprints are those of the slabs; a column takes every slab that is no larger.
    """

    def __init__(self, grid: BlockGrid, extent: Extent) -> None:
        self._grid = grid
        self._room = extent[2]
        low_enough = grid.height[grid.owner] <= self._room
        sizes = sorted(
            {(int(x), int(y)) for x, y in zip(grid.dx[low_enough], grid.dy[low_enough], strict=True)}
        )
        self._fx = np.array([x for x, _ in sizes], np.int64)
        self._fy = np.array([y for _, y in sizes], np.int64)
        self._plan = Footprint(extent, self._fx, self._fy, np.arange(len(sizes)), grid.kerf)
        self._holds = [self._boxes_within(x, y) for x, y in sizes]
        self.work = self._plan.work + sum(boxes.size for boxes in self._holds) * self._room // CELLS_A_STEP

    def _boxes_within(self, x: int, y: int) -> Ints:
        """One box of each kind that lies within a footprint."""
        grid = self._grid
        inside = np.flatnonzero((grid.dx <= x) & (grid.dy <= y) & (grid.height[grid.owner] <= self._room))
        _, firsts = np.unique(grid.owner[inside], return_index=True)
        return inside[firsts]

    def _column(self, footprint: int, values: Floats, limits: Ints) -> tuple[list[int], Ints]:
        """The best stack of boxes in a footprint, and its counts."""
        grid = self._grid
        boxes = self._holds[footprint]
        owner = grid.owner[boxes]
        chosen = _stack(grid.height[owner], values[owner], limits[owner], self._room, grid.kerf)
        stack = [int(boxes[i]) for i in chosen]
        # Large slabs at the bottom, so that none overhangs.
        stack.sort(
            key=lambda box: (-int(grid.dx[box] * grid.dy[box]), -int(grid.height[grid.owner[box]]), box)
        )
        return stack, np.bincount(grid.owner[stack], minlength=limits.size).astype(np.int64)

    def make(self, values: Floats, limits: Ints) -> tuple[Saw, Ints]:
        """A valuable pattern within the limits, and its counts."""
        left = limits.copy()
        columns = [self._column(f, values, left) for f in range(self._fx.size)]
        worth = np.array([float(values @ counts) for _, counts in columns])
        most = np.array([_times(left, counts) for _, counts in columns], np.int64)
        first, pattern, _, _ = self._plan.pattern(worth, most)
        stacks = []
        for footprint in pattern.boxes:
            stack, counts = columns[footprint]
            if (counts > left).any():
                stack, counts = self._column(footprint, values, left)
            stacks.append(tuple(stack))
            left -= counts
        return Saw(first, pattern, tuple(stacks)), limits - left

    def best_value(self, values: Floats) -> float:
        """Upper bound on the value of any saw-first pattern."""
        many = np.full(values.size, self._room, np.int64)
        worth = np.array([float(values @ self._column(f, values, many)[1]) for f in range(self._fx.size)])
        return self._plan.best_value(worth)

    def only(self, body: Saw, counts: Ints) -> Saw:
        """The pattern with only so many copies of each kind; the columns stay where they are."""
        left = counts.copy()
        stacks = []
        for stack in body.stacks:
            kept = []
            for box in stack:
                kind = self._grid.owner[box]
                if left[kind] > 0:
                    left[kind] -= 1
                    kept.append(box)
            stacks.append(tuple(kept))
        return Saw(body.first, body.pattern, tuple(stacks))

    def tree(self, body: Saw, corner: Corner, extent: Extent, place: Place) -> CutNode:
        """The cut tree: columns first, then the heights in each."""
        grid = self._grid
        stacks = iter(body.stacks)

        def column(footprint: int, c: Corner, e: Extent) -> CutNode:
            del footprint
            parts = [
                (int(grid.height[grid.owner[box]]), lambda c2, e2, box=box: place(box, c2, e2))
                for box in next(stacks)
            ]
            return divide(c, e, "z", parts, grid.kerf)

        return self._plan.tree(body.first, body.pattern, column)(corner, extent)


def _times(left: Ints, counts: Ints) -> int:
    """How often `left` holds `counts`; 0 for nothing."""
    used = counts > 0
    return int((left[used] // counts[used]).min()) if used.any() else 0


def misfits(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that fit no block in any allowed turn, with the reason in plain words."""
    skins = problem.skins
    rooms = [
        (
            block.length - skins.x0 - skins.x1,
            block.width - skins.y0 - skins.y1,
            block.height - skins.z0 - skins.z1,
        )
        for block in problem.blocks
    ]
    slack = GRID / 1e3
    reasons = {}
    for piece in problem.pieces:
        sizes = [(*piece.box(turn), piece.thickness or 0.0) for turn in piece.turns]
        if not any(
            all(side <= room + slack for side, room in zip(size, within, strict=True))
            for size in sizes
            for within in rooms
        ):
            largest = max(rooms, key=lambda room: room[0] * room[1] * room[2])
            reasons[piece.key] = (
                f"measures {piece.length:.1f} x {piece.width:.1f} x {piece.thickness:.1f} mm and fits no "
                f"block lying flat; the largest trimmed block is "
                f"{largest[0]:.1f} x {largest[1]:.1f} x {largest[2]:.1f} mm"
            )
    return reasons


def search_blocks(problem: BlockProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of slabs that each fit some block; plans and bounds go to `search`."""
    grid = BlockGrid(problem, kinds)
    costs = [stock.cost for stock in grid.stocks]
    available = [block.available for block in problem.blocks]
    usable = [s for s, stock in enumerate(grid.stocks) if stock.volume > 0 and available[s] != 0]
    search.prove(
        stock_bound(
            float(grid.volume @ grid.demand),
            [grid.stocks[s].volume for s in usable],
            [costs[s] for s in usable],
            [available[s] for s in usable],
        )
    )
    longest = max(max(stock.extent) for stock in grid.stocks)
    plenty = np.full(grid.demand.size, longest + 1, np.int64)

    def columns(values: Floats, limits: Ints, index: int) -> list[Column]:
        stock = grid.stocks[index]
        made = []
        for maker in stock.makers:
            search.spend(2 * maker.work)
            body, counts = maker.make(values, limits)
            if counts.any():
                made.append(Column(index, stock.cost, counts, body))
        return made

    def price(duals: Floats) -> list[Column]:
        return [column for index in usable for column in columns(duals, plenty, index)]

    def ratio(duals: Floats, stock_duals: Floats) -> float | None:
        makers = [(index, maker) for index in usable for maker in grid.stocks[index].makers]
        return max(
            maker.best_value(duals) / (grid.stocks[index].cost - stock_duals[index])
            for index, maker in makers
        )

    def fill(values: Floats, left: Ints, index: int) -> Column | None:
        made = columns(values, left, index)
        return max(made, key=lambda column: float(values @ column.counts)) if made else None

    def trim(column: Column, counts: Ints) -> Column:
        return replace(column, counts=counts, body=_maker(grid, column).only(column.body, counts))

    Covering(
        grid.demand,
        available,
        price,
        ratio,
        fill,
        trim=trim,
        areas=grid.volume,
        round_bound=rounded_cost(costs),
    ).run(search)


def _maker(grid: BlockGrid, column: Column) -> Any:
    """The maker of a column's body."""
    wanted = SlitMaker if isinstance(column.body, Slit) else SawMaker
    return next(maker for maker in grid.stocks[column.stock].makers if isinstance(maker, wanted))


def layouts(problem: BlockProblem, kinds: Kinds, draft: Cover) -> tuple[list[Layout], Ledger]:
    """Write a draft out as blocks with placements in mm."""
    grid = BlockGrid(problem, kinds)
    ledger = Ledger(kinds)
    made = []
    for column, repeats in draft.chosen:
        block, stock = problem.blocks[column.stock], grid.stocks[column.stock]
        spots: list[tuple[int, int, int, int, int]] = []

        def place(box: int, corner: Corner, extent: Extent, spots: list[Any] = spots) -> CutNode:
            kind = int(grid.owner[box])
            spots.append((kind, box - int(grid.start[kind]), *corner))
            size = (int(grid.dx[box]), int(grid.dy[box]), int(grid.height[kind]))
            return piece_in(corner, extent, size, len(spots) - 1, grid.kerf)

        cuts = _maker(grid, column).tree(column.body, stock.corner, stock.extent, place)
        made.extend(
            Layout(block.key, placements, block.length, times, cuts)
            for placements, times in ledger.assign(spots, repeats)
        )
    return made, ledger
