"""What the makers of a rack share: values of sections, and the fillings they made last."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import numpy as np

from nesting.packing.columns import Column
from nesting.packing.grid import Bools, Floats, Ints
from nesting.packing.guillotine import Region
from nesting.packing.rack.stocks import RackGrid
from nesting.packing.search import Search

__all__ = ["Bench", "Memory"]


class Memory:
    """Keeps the last filling of a maker, which is as good as a new one for as long as its pieces last.

    While a demand is filled up step by step every maker is asked again and again, and only what one of
    them offers is taken.
    """

    def __init__(self) -> None:
        self._values = b""
        self._left = np.zeros(0, np.int64)
        self._column: Column | None = None

    def column(self, values: Floats, left: Ints, make: Callable[[], Column | None]) -> Column | None:
        """The last column, if it was made for these values and at least these copies; else a new one."""
        known = self._column
        if (
            known is not None
            and self._values == values.tobytes()
            and (left <= self._left).all()
            and (known.counts <= left).all()
        ):
            return known
        self._column = make()
        self._values, self._left = values.tobytes(), left.copy()
        return self._column


class Bench:
    """Regions, and the values last found on each, shared by all windows that are alike across.

    Parameters
    ----------
    grid
        The problem.
    stages
        As for sections.
    """

    def __init__(self, grid: RackGrid, stages: Literal[2, 3]) -> None:
        self._grid, self.stages = grid, stages
        self._regions: dict[tuple[int, int, bytes], Region] = {}
        self._last: dict[Region, tuple[bytes, Floats]] = {}

    def region(self, length: int, width: int, allowed: Bools) -> Region:
        """The region of a band, for slices no longer than `length`."""
        key = (length, width, allowed.tobytes())
        if key not in self._regions:
            grid = self._grid
            self._regions[key] = Region(
                length, width, grid.dx, grid.dy, grid.owner, grid.gap, self.stages, allowed
            )
        return self._regions[key]

    def values(
        self, region: Region, lengths: Ints, values: Floats, left: Ints, search: Search[Any]
    ) -> Floats:
        """Best value of a section for each length in coarse steps."""
        key = lengths.tobytes() + values.tobytes() + left.tobytes()
        known = self._last.get(region)
        if known is None or known[0] != key:
            known = (key, region.value_sections(lengths, values, left, search))
            self._last[region] = known
        return known[1]
