"""What fillings by the skyline rule share: what is worth placing, and where it came to lie."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from nesting.packing.grid import Floats, Ints

__all__ = ["FlatSpot", "Wanted", "kept", "spots_of", "wanted"]

WORTH_STEPS = 1e6
"""Whole numbers in which a filling counts the value of the most valuable kind."""

FlatSpot: TypeAlias = tuple[int, int, int, int]
"""Kind, box within the kind, x and y of its low corner, in grid steps."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be placed in one filling.

    Parameters
    ----------
    kinds, most
        The kinds of value, and how many copies of each are worth a try.
    worth
        What a copy of each kind (of all there are) counts for, in whole numbers.
    """

    kinds: Ints
    most: Ints
    worth: Ints

    @property
    def copies(self) -> int:
        """Copies of all kinds."""
        return int(self.most.sum())

    @property
    def goal(self) -> int:
        """Worth of all copies."""
        return int((self.worth[self.kinds] * self.most).sum())


def wanted(values: Floats, left: Ints, area: Ints, room: int) -> Wanted | None:
    """What is worth placing in a room of so much area, from the copies that are left; None: nothing."""
    kinds = np.flatnonzero((left > 0) & (values > 0))
    if kinds.size == 0:
        return None
    # No room holds more copies of a kind than its area allows, and the rest only slows the search.
    most = np.minimum(left, room // np.maximum(area, 1) + 1)[kinds]
    return Wanted(kinds, most, np.maximum((values * WORTH_STEPS / values.max()).astype(np.int64), 1))


def spots_of(out: Ints, start: Ints) -> tuple[FlatSpot, ...]:
    """The placements that a kernel wrote down: kind, option, x and y in rows, a column each."""
    return tuple((int(k), int(b - start[k]), int(x), int(y)) for k, b, x, y in out.T)


def kept(spots: Iterable[FlatSpot], left: Ints) -> tuple[FlatSpot, ...]:
    """The spots for which copies are left, which are used up."""
    found = []
    for spot in spots:
        if left[spot[0]] > 0:
            left[spot[0]] -= 1
            found.append(spot)
    return tuple(found)
