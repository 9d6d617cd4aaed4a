"""The hot loops of the rack: rows of slices along a window, and skyline fills around flaws."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from nesting.packing.grid import Floats, Ints
from nesting.packing.kernels import compiled

__all__ = ["Zones", "best_row", "zones_of"]

Zones: TypeAlias = npt.NDArray[np.int16]

FRESH = -1
SKIP = -2


@compiled
def best_row(units: Ints, gains: Floats, zones: Zones, room: int, skip: float) -> tuple[Ints, Ints, float]:
    """Slices one behind another whose gains add up to most; they need not begin at 0 nor end at `room`.

    Dynamic programming over the place where the next slice begins (Herz 1972, "Recursive computational
    procedure for two-dimensional stock cutting", IBM Journal of Research and Development 16(5):
    462-469, in one dimension), with gains that depend on the place.

    Parameters
    ----------
    units
        Length of each slice, one gap added, in steps; at least 1.
    gains
        Gain of each slice (columns) in each zone (rows); minus infinity where it is not possible.
    zones
        Zone of each slice (columns) at each place (rows); one row holds for all places.
    room
        Steps there are.
    skip
        What it costs to leave one step empty between two slices.

    Returns
    -------
    places, slices, gain
        In order.
    """
    best = np.zeros(room + 1)
    made = np.full(room + 1, FRESH)
    for place in range(room + 1):
        if place > 0 and best[place - 1] - skip > best[place]:
            best[place] = best[place - 1] - skip
            made[place] = SKIP
        row = place % zones.shape[0]
        for k in range(units.shape[0]):
            end = place + units[k]
            if end > room:
                continue
            gain = best[place] + gains[zones[row, k], k]
            if gain > best[end]:
                best[end] = gain
                made[end] = k
    last = 0
    for place in range(room + 1):
        if best[place] > best[last]:
            last = place
    places = np.empty(room + 1, np.int64)
    slices = np.empty(room + 1, np.int64)
    size = 0
    at = last
    while made[at] != FRESH:
        k = made[at]
        if k == SKIP:
            at -= 1
            continue
        at -= units[k]
        places[size] = at
        slices[size] = k
        size += 1
    return places[:size][::-1].copy(), slices[:size][::-1].copy(), float(best[last])


@compiled
def zones_of(
    stain_x0: Ints, stain_x1: Ints, start: int, unit: int, room: int, lengths: Ints
) -> tuple[Ints, Zones]:
    """Which flaws a slice of each length meets at each place of a window.

    Parameters
    ----------
    stain_x0, stain_x1
        The flaws, at most 62.
    start, unit, room
        The first place, the steps from one place to the next, and the number of places after the first.
    lengths
        Of the slices, in grid steps.

    Returns
    -------
    masks, zones
        Every set of flaws that is met, as bits; and the index of the set for each place (rows) and length.
    """
    # Small numbers: the table is large, and there are few sets.
    zones = np.empty((room + 1, lengths.shape[0]), np.int16)
    masks = np.zeros(4, np.int64)
    known = 0
    last = 0
    for place in range(room + 1):
        x = start + place * unit
        for k in range(lengths.shape[0]):
            mask = 0
            for f in range(stain_x0.shape[0]):
                if stain_x0[f] < x + lengths[k] and stain_x1[f] > x:
                    mask |= 1 << f
            if known == 0 or masks[last] != mask:
                last = 0
                while last < known and masks[last] != mask:
                    last += 1
                if last == known:
                    if known == masks.shape[0]:
                        masks = np.concatenate((masks, np.zeros(known, np.int64)))
                    masks[known] = mask
                    known += 1
            zones[place, k] = last
    return masks[:known].copy(), zones
