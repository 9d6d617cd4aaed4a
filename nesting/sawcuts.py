"""The cuts of a foam block as values: what a saw plan consists of."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

from nesting.handout import Handed
from nesting.model import Point
from nesting.packing.solution import Axis

__all__ = [
    "AWKWARD",
    "BLOCK",
    "MARKED",
    "Fate",
    "Freed",
    "Grouping",
    "Machine",
    "SawCut",
    "SawPart",
    "SawPlan",
    "Side",
    "Triple",
]

Grouping: TypeAlias = Literal["product", "order"]
"""Whether pieces go to the pile of their product, or to their orders."""

Fate: TypeAlias = Literal["piece", "part", "remnant", "scrap", "skin"]
Side: TypeAlias = Literal["near", "far"]
Machine: TypeAlias = Literal["slitter", "vertical saw", "contour cutter"]
Triple: TypeAlias = tuple[float, float, float]

BLOCK = "block"
"""Name of the part that everything is cut from."""

MARKED = "marked line"
"""In place of the face that a cut is measured from, where it follows lines marked on the part."""

AWKWARD = 100.0
"""Sides below this, mm, are awkward at a saw and want a push aid (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Freed:
    """What a cut frees on one of its sides, from each of the parts that are cut alike.

    Parameters
    ----------
    side
        Whether it lies between the face measured from and the blade, or beyond the blade.
    fate
        A piece that is wanted; a part that is cut up further; a rest worth keeping; scrap; skin.
    name
        ``"no. 4 CO"`` for a piece (its number as on the maps), the part's name, ``"rest"`` or
        ``"skin, left end"``.
    size
        Extent along x, y and z, mm; of an outline or the offcuts around it, of the box they are in.
    goes_to
        The product's pile or its orders, ``"stock"``, ``"rebond"``, or the cut that follows:
        ``"cut 12"``.
    key
        Of a piece: which demand it is for.
    handed
        Of a piece: the orders that it goes to, where pieces are grouped by order.
    share
        How much of the box that `size` gives is foam: less than 1 for outlines and offcuts around them.
    """

    side: Side
    fate: Fate
    name: str
    size: Triple
    goes_to: str
    key: str | None = None
    handed: tuple[Handed, ...] = ()
    share: float = 1.0

    @property
    def volume(self) -> float:
        """Foam in it, mm3."""
        return math.prod(self.size) * self.share

    def mass(self, density: float) -> float:
        """Of one of them, kg, at a density in kg per m3."""
        return self.volume * density / 1e9

    @property
    def awkward(self) -> bool:
        """Whether a side in plan is so short that a hand would come too near to the blade."""
        return min(self.size[:2]) < AWKWARD


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One cut.

    Parameters
    ----------
    number
        In the order of work, from 1.
    machine
        The slitter for level cuts, the vertical saw for upright ones, the contour cutter for curves.
    part
        What is on the table: ``"block"`` or the name of a part.
    copies
        How many parts of that name one block has: each is cut so.
    axis
        The direction in which the measure runs; None for a cut along marked lines.
    face
        Where it is measured from: a face of the part as it was when the run began. `MARKED` for a cut along
        marked lines.
    measure
        From there to the near side of the blade, mm; 0 along marked lines.
    lines
        The marked lines, seen from above, mm from the part's left end and front side; each begins and ends
        at a face of the part.
    frees
        What comes off; nothing where the blade takes all that is beyond it.
    """

    number: int
    machine: Machine
    part: str
    copies: int
    axis: Axis | None
    face: str
    measure: float
    frees: tuple[Freed, ...]
    lines: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SawPart:
    """A part that is cut up: its name, its size, and the low corner of each copy in the raw block, mm."""

    name: str
    size: Triple
    lows: tuple[Triple, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawPlan:
    """How one block, or a part of a long one, is cut.

    Parameters
    ----------
    size
        Of the raw block, mm; of a part of a long block, as it comes off that.
    kerfs
        Width of the cuts set out along x, y and z, mm, on the grid.
    skins
        What comes off each face, its saw cut included, mm: left, right, front, back, bottom, top.
    repeats
        How many blocks are cut so.
    parts
        All parts that are cut up, the block first, in the order of work.
    """

    size: Triple
    kerfs: Triple
    skins: tuple[float, float, float, float, float, float]
    repeats: int
    cuts: tuple[SawCut, ...]
    parts: tuple[SawPart, ...]
