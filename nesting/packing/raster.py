"""Boxes and room on a grid coarse enough for dynamic programs.

The grid step is the common divisor of all sizes where that is coarse enough; then nothing is lost.
Otherwise it is a multiple, and there are two ways to round: sizes up keeps every pattern possible; sizes
down keeps every bound true.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from nesting.packing import kernels
from nesting.packing.grid import Ints

__all__ = ["Raster", "raster"]

FINEST = 5_000
"""Most steps along one side, unless more are asked for."""


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
    finest: int = FINEST,
) -> Raster:
    """Put a region on a coarse grid; all boxes fit it.

    Parameters
    ----------
    bold
        Round sizes down, for bounds. Otherwise up, for patterns.
    finest
        Most steps along the longer side.
    """
    step = max(1, int(np.gcd.reduce(np.concatenate([dx, dy, [kerf]]))))
    step *= max(1, -(-max(length, width) // (step * finest)))
    # Whatever lies in a row has whole steps, also when its sizes were rounded down: so has the room.
    # A room narrower than a step is one step, and so is the one box that it holds.
    room_x, room_y = max(1, length // step), max(1, width // step)
    if bold:
        small_x, small_y, cut = np.maximum(dx // step, 1), np.maximum(dy // step, 1), kerf // step
    else:
        # A box that fits must not be rounded out of the room: alone in it, it still fits.
        small_x, small_y = np.minimum(-(-dx // step), room_x), np.minimum(-(-dy // step), room_y)
        cut = -(-kerf // step)
    lengths = np.unique(small_x)
    if stages == 3:
        lengths = kernels.sums(lengths + cut, room_x + cut) - cut
    return Raster(step, room_x, room_y, small_x, small_y, owner, cut, stages, np.unique(small_y), lengths)
