"""A block problem on the grid, and the plan view that both ways of cutting start from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from nesting.packing.grid import Bools, Floats, Grid, Ints, Kinds, mm
from nesting.packing.guillotine import Pattern, Region
from nesting.packing.problem import BlockProblem, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import Axis
from nesting.packing.trees import Corner, Extent, Fill, Place, sections_tree

__all__ = ["BlockGrid", "Footprint", "Stock", "lasting", "part_cost", "stocks_of"]


@dataclass(frozen=True, slots=True)
class Stock:
    """One block size on the grid: its usable room, after skins; of a long block that of the longest part."""

    index: int
    cost: float
    corner: Corner
    extent: Extent

    @property
    def volume(self) -> float:
        """Usable volume, in cubic grid steps."""
        return float(self.extent[0]) * self.extent[1] * self.extent[2]


def part_cost(cost: float, length: float, usable: float, kerf: float) -> float:
    """What a part of a long block costs.

    Parameters
    ----------
    cost
        Of the whole block.
    length, usable, kerf
        Of the part, of the block between its end skins, and of the saw cut, mm.

    Returns
    -------
    float
        ``cost x (length + kerf) / (usable + kerf)``: parts that fill the block, with the saw cuts between
        them, cost the whole of it.
    """
    return cost * (length + kerf) / (usable + kerf)


def stocks_of(problem: BlockProblem) -> list[Stock]:
    """All blocks on the grid; without extent where the skins take all of one.

    A long block is there as its longest part, in the part's own frame.
    """
    stocks = []
    for index, block in enumerate(problem.blocks):
        skins = problem.skins_of(block)
        corner = (grid_up(skins.x0), grid_up(skins.y0), grid_up(skins.z0))
        extent = (
            max(0, grid_down(block.length - skins.x1) - corner[0]),
            max(0, grid_down(block.width - skins.y1) - corner[1]),
            max(0, grid_down(block.height - skins.z1) - corner[2]),
        )
        cost = block.cost
        if block.cut_to is not None:
            extent = (min(extent[0], grid_down(block.cut_to)), *extent[1:])
            corner = (0, *corner[1:])
            usable = block.length - skins.x0 - skins.x1
            cost = part_cost(cost, mm(extent[0]), usable, problem.kerfs.upright) if extent[0] else cost
        stocks.append(Stock(index, cost, corner, extent))
    return stocks


class BlockGrid(Grid):
    """A block problem on the grid.

    Attributes
    ----------
    level, upright
        Width of the slitter's and of the saw's cuts, in grid steps.
    dz
        Height of each box, in grid steps.
    volume
        Of a slab of each kind, in cubic grid steps.
    """

    def __init__(self, problem: BlockProblem, kinds: Kinds) -> None:
        super().__init__(kinds)
        self.level, self.upright = grid_up(problem.kerfs.level), grid_up(problem.kerfs.upright)
        self.dz: Ints = np.array([box.dz for kind in kinds for box in kind.boxes], np.int64)
        self.volume: Floats = np.array([float(kind.volume) for kind in kinds])

    @property
    def kerfs(self) -> tuple[int, int, int]:
        """Width of the cuts set out along x, y and z, in grid steps."""
        return self.upright, self.upright, self.level


class Footprint:
    """The block's plan view, cut edge to edge in three stages, the first of them along one of `firsts`."""

    def __init__(
        self,
        extent: Extent,
        dx: Ints,
        dy: Ints,
        owner: Ints,
        kerf: int,
        allowed: Bools | None = None,
        firsts: Sequence[Axis] = ("x", "y"),
    ) -> None:
        self._sizes: dict[Axis, tuple[Ints, Ints]] = {"x": (dx, dy), "y": (dy, dx)}
        self._kerf = kerf
        length, width, _ = extent
        regions: dict[Axis, Region] = {
            "x": Region(length, width, dx, dy, owner, kerf, 3, allowed),
            "y": Region(width, length, dy, dx, owner, kerf, 3, allowed),
        }
        self._regions = {first: regions[first] for first in firsts}

    def quick(self, areas: Floats, limits: Ints) -> tuple[Axis, Pattern, Ints]:
        """The fuller of two quick patterns, and its counts."""
        made = [(first, *region.quick_pattern(limits)) for first, region in self._regions.items()]
        return max(made, key=lambda item: float(areas @ item[2]))

    def pattern(self, values: Floats, limits: Ints, search: Search[Any]) -> tuple[Axis, Pattern, Ints]:
        """The more valuable of the two patterns, and its counts."""
        made = [(first, *region.pattern(values, limits, search)) for first, region in self._regions.items()]
        first, pattern, counts, _ = max(made, key=lambda item: item[3])
        return first, pattern, counts

    def best_value(self, values: Floats, limits: Ints, search: Search[Any]) -> float | None:
        """Upper bound on the value of any pattern within the limits; None: no proof."""
        best = 0.0
        for region in self._regions.values():
            value = region.best_value(values, search, limits)
            if value is None:
                return None
            best = max(best, value)
        return best

    def only(self, first: Axis, pattern: Pattern, counts: Ints) -> Pattern:
        """The pattern with only so many copies of each kind."""
        return self._regions[first].only_of(pattern, counts)

    def tree(self, first: Axis, pattern: Pattern, place: Place) -> Fill:
        """Makes the cut tree of a pattern in whatever room it is given."""
        dx, dy = self._sizes[first]
        return partial(
            sections_tree,
            sections=pattern.sections,
            dx=dx,
            dy=dy,
            kerf=self._kerf,
            place=place,
            first=first,
        )


def lasting(left: Ints, counts: Ints) -> int:
    """How often `left` holds `counts`; 0 for nothing."""
    used = counts > 0
    return int((left[used] // counts[used]).min()) if used.any() else 0
