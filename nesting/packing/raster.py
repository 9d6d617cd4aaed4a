"""Boxes and room on a grid coarse enough for dynamic programs.

The grid step is the common divisor of all sizes where that is coarse enough; then nothing is lost.
Otherwise it is a multiple, and there are two ways to round: sizes up and room down keeps every pattern
possible; sizes down and room up keeps every bound true.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from nesting.packing import kernels
from nesting.packing.grid import Ints

__all__ = ["Floats", "Raster", "raster"]

Floats = npt.NDArray[np.float64]

FINEST = 5_000
"""Most steps along one side."""

MOST_CELLS = 400_000_000
"""Largest valuation of all section lengths that is done for a proof."""


@dataclass(frozen=True, slots=True)
class Raster:
    """A region and its boxes in steps of a coarse grid; see `nesting.packing.guillotine.Region`.

    `widths` are the distinct strip widths, `lengths` the useful section lengths (normal patterns, Herz
    1972: sums of box lengths; with one box per strip a section is as long as its longest box).
    """

    step: int
    length: int
    width: int
    dx: Ints
    dy: Ints
    owner: Ints
    kerf: int
    stages: Literal[2, 3]
    widths: Ints
    lengths: Ints

    @property
    def cells(self) -> int:
        """Size of one valuation of all section lengths."""
        return self.lengths.size * self.widths.size * self.width

    def value_sections(self, lengths: Ints, values: Floats, limits: Ints) -> Floats:
        """Best value of a section of each of the lengths; limits (by kind) hold per strip."""
        worth = np.zeros(lengths.size)
        if lengths.size:
            kernels.fill_widths(
                lengths,
                self.widths,
                self.stages,
                self.dx,
                self.dy,
                values[self.owner],
                limits[self.owner],
                self.kerf,
                self.width,
                worth,
            )
        return worth


def raster(
    length: int,
    width: int,
    dx: Ints,
    dy: Ints,
    owner: Ints,
    kerf: int,
    stages: Literal[2, 3],
    *,
    bold: bool,
) -> Raster:
    """Put a region on a coarse grid; all boxes fit it.

    Parameters
    ----------
    bold
        Round sizes down and room up, for bounds, and keep the size of a valuation within
        `MOST_CELLS`. Otherwise sizes up and room down, for patterns.
    """
    step = max(1, int(np.gcd.reduce(np.concatenate([dx, dy, [kerf]]))))
    step *= max(1, -(-max(length, width) // (step * FINEST)))
    while True:
        made = _at_step(step, length, width, dx, dy, owner, kerf, stages, bold)
        if not bold or made.cells <= MOST_CELLS:
            return made
        step *= 2


def _at_step(
    step: int,
    length: int,
    width: int,
    dx: Ints,
    dy: Ints,
    owner: Ints,
    kerf: int,
    stages: Literal[2, 3],
    bold: bool,
) -> Raster:
    if bold:
        room_x, room_y = -(-length // step), -(-width // step)
        small_x, small_y, cut = np.maximum(dx // step, 1), np.maximum(dy // step, 1), kerf // step
    else:
        room_x, room_y = length // step, width // step
        # A box that fits must not be rounded out of the room: alone in it, it still fits.
        small_x, small_y = np.minimum(-(-dx // step), room_x), np.minimum(-(-dy // step), room_y)
        cut = -(-kerf // step)
    lengths = np.unique(small_x)
    if stages == 3 and lengths.size:
        reach = np.zeros(room_x + cut + 1, bool)
        reach[0] = True
        for size in (lengths + cut).tolist():
            # Any number of copies: each residue class is filled from its first reachable place on.
            for first in range(min(size, reach.size)):
                line = reach[first::size]
                np.logical_or.accumulate(line, out=line)
        lengths = (np.flatnonzero(reach)[1:] - cut).astype(np.int64)
    return Raster(
        step,
        room_x,
        room_y,
        small_x,
        small_y,
        owner,
        cut,
        stages,
        np.unique(small_y),
        lengths.astype(np.int64),
    )
