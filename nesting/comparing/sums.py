"""The arithmetic of widths: at which room another combination fits, and where that changes a plan."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from nesting.model import BlockMaterial, Demand, Material, Panel, RollMaterial
from nesting.packing.problem import GRID, grid_down, grid_up
from nesting.packing.solution import Stand, stood
from nesting.places import box_of

__all__ = ["between", "extent_of", "falls", "sizes_of", "stepped", "sums"]

_Found = TypeVar("_Found")


STANDS: tuple[Stand, ...] = ("flat", "side", "end")


def extent_of(panel: Panel, turn: float, stand: Stand = "flat") -> tuple[float, float, float]:
    """What a piece measures along, across and up, mm, as it lies; up is 0 but in blocks."""
    if panel.thickness is None:
        return (*box_of(panel, turn), 0.0)
    along, across, up = stood(panel.length, panel.width, panel.thickness, stand)
    return (across, along, up) if turn % 180.0 == 90.0 else (along, across, up)


def sizes_of(demands: Iterable[Demand], axis: str) -> set[float]:
    """What pieces may measure along ``"length"``, ``"width"`` or ``"height"`` of the material, mm."""
    side = ("length", "width", "height").index(axis)
    return {
        extent
        for panel in (demand.panel for demand in demands)
        for turn in panel.turns
        for stand in (STANDS if panel.standing else STANDS[:1])
        if (extent := extent_of(panel, turn, stand)[side]) > 0
    }


def between(material: Material, axis: str) -> float:
    """What two pieces beside each other in a direction lose between them, mm."""
    if isinstance(material, RollMaterial):
        return material.gap
    if isinstance(material, BlockMaterial):
        return material.kerfs.level if axis == "height" else material.kerfs.upright
    return material.kerf


def sums(sizes: Iterable[float], lost: float, low: float, high: float) -> list[float]:
    """The rooms from `low` to `high` at which one more combination of pieces fits, mm, rising.

    Parameters
    ----------
    sizes
        What single pieces measure, mm; each may be used any number of times.
    lost
        Lost between two pieces, mm.

    Examples
    --------
    Two pieces of 900 and one of 280 with a cut of 3 between them; three of 700:

    >>> sums([900, 280, 700], 3.0, 2080.0, 2110.0)
    [2086.0, 2106.0]
    """
    cut = grid_up(lost)
    most = grid_down(high) + cut
    # Bit p says that pieces, each with one cut, can take exactly p steps.
    reached, mask = 1, (1 << (most + 1)) - 1
    for size in sizes:
        step = grid_up(size) + cut
        while step <= most:
            reached |= (reached << step) & mask
            step *= 2
    least = max(1, grid_up(low) + cut)
    return [round((place - cut) * GRID, 1) for place in range(least, most + 1) if reached >> place & 1]


def stepped(places: Iterable[float], step: float) -> list[float]:
    """Places rounded up to whole steps, mm, each once and rising."""
    return sorted({round(math.ceil(place / step - 1e-6) * step, 4) for place in places})


def falls(
    places: Sequence[float], at: Callable[[float], _Found], differ: Callable[[_Found, _Found], bool]
) -> list[float]:
    """Those of `places` at which what is found differs from the place before: by halving.

    Where both ends of a stretch are alike, nothing between them is looked at.
    """
    found: list[float] = []
    if len(places) < 2:
        return found
    stretches = [(0, len(places) - 1)]
    while stretches:
        first, last = stretches.pop()
        if not differ(at(places[first]), at(places[last])):
            continue
        if last - first == 1:
            found.append(places[last])
            continue
        middle = (first + last) // 2
        stretches += [(first, middle), (middle, last)]
    return sorted(found)
