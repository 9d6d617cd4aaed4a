"""What the packing core answers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal, NamedTuple, TypeAlias

__all__ = [
    "DECIMALS",
    "Answer",
    "Axis",
    "CutNode",
    "Glued",
    "Layout",
    "Missing",
    "Part",
    "Placement",
    "Stand",
    "Status",
    "stood",
]

DECIMALS = 6
"""Decimals of values and bounds; beyond is float noise."""

Axis: TypeAlias = Literal["x", "y", "z"]

Stand: TypeAlias = Literal["flat", "side", "end"]
"""How a slab lies in a block: flat (its thickness upright), on its long side (its width upright), or on its
end (its length upright)."""


@dataclass(frozen=True, slots=True)
class Part:
    """One of the parts that a copy of a piece is joined from.

    Parts of the same piece with the same `lengths` belong together: one of each `index` makes a copy, and
    as those of one index are alike, any will do. So a plan has as many of each.

    Parameters
    ----------
    lengths
        Of all parts of the copy in the order in which they are joined, mm as cut, seam allowances
        included.
    index
        Which of them this one is, from 0.
    """

    lengths: tuple[float, ...]
    index: int

    @property
    def length(self) -> float:
        """Length of this part as cut, mm."""
        return self.lengths[self.index]


@dataclass(frozen=True, slots=True)
class Glued:
    """One of the parts that a copy of a slab is glued up from.

    One part of each `index` of a recipe makes a copy, and those of one index are alike, so any will do. A
    plan has as many of each.

    Parameters
    ----------
    recipe
        Which of the piece's recipes, from 0.
    index
        Which part of that recipe, from 0.
    """

    recipe: int
    index: int


@dataclass(frozen=True, slots=True)
class Placement:
    """One piece in a layout.

    Parameters
    ----------
    key
        The piece.
    x, y, z
        Lower left (lowest) corner of the bounding box of the turned piece, mm, from the raw corner of
        the roll area, sheet or block. `z` is 0 except in blocks; `y` is 0 on bars.
    turn
        Degrees, counter-clockwise, after mirroring.
    mirrored
        Flipped in the x axis before turning.
    part
        On bars: which part of a joined piece this is; in blocks: which part of a slab that is glued up.
        None for a whole piece.
    stand
        In blocks: how the slab lies, before it is turned; see `stood`.
    """

    key: str
    x: float
    y: float
    turn: float = 0.0
    mirrored: bool = False
    z: float = 0.0
    part: Part | Glued | None = None
    stand: Stand = "flat"


@dataclass(frozen=True, slots=True)
class CutNode:
    """A box, and how straight cuts from face to face divide it.

    Parameters
    ----------
    x, y, z
        Low corner, mm, in the same frame as the placements.
    length, width, height
        Extent along x, y and z, mm; `height` is 0 for flat material.
    axis
        The axis the cuts of this node are set out along: ``"x"`` means cuts at given x. None: a leaf.
    parts
        What the cuts leave, in rising order along `axis`. Every part has the full extent of this box
        in the other directions. Neighbours are exactly one kerf apart; together with these kerfs they
        fill the box.
    piece
        For a leaf that is a piece, its index in the layout's placements; the leaf is then exactly the
        piece's bounding box. None for a leaf that is left over.
    pair
        In blocks, for a leaf that two outlines share: the index of the second, which has the same outline,
        turned by another 180 degrees. The leaf is then exactly the bounding box of both.
    """

    x: float
    y: float
    length: float
    width: float
    axis: Axis | None = None
    parts: tuple[CutNode, ...] = ()
    piece: int | None = None
    z: float = 0.0
    height: float = 0.0
    pair: int | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """Pieces placed on one stretch of roll, one sheet, one block or one bar.

    Parameters
    ----------
    stock_key
        Which sheet, block, bar or roll of a rack; ``"roll"`` where there is but one roll.
    placements
        The pieces, in no particular order.
    length
        Length of roll this layout takes, mm; of a long block that of the part, from which x is then
        measured; the raw length of the sheet, block or bar otherwise.
    repeats
        How many times this layout is cut, in all.
    cuts
        For guillotine layouts the tree of cuts, its root being the usable area (after trims); None for
        free placement and bars.
    start
        On a roll with an end: where on the roll this layout begins, mm. Its repeats on one roll follow
        one another, one gap apart (one end loss, if that is more). On a long block: where the part begins,
        mm from the raw left end; repeats follow one another, one upright kerf apart.
    stock_number, stock_count
        On a roll with an end or a long block: the first of those of this key that it lies on, from 1, and
        on how many from there on. They are all alike, so each holds ``repeats / stock_count`` of it, at one
        place.
    """

    stock_key: str
    placements: tuple[Placement, ...]
    length: float
    repeats: int = 1
    cuts: CutNode | None = None
    start: float = 0.0
    stock_number: int = 1
    stock_count: int = 1


def stood(length: float, width: float, thickness: float, stand: Stand) -> tuple[float, float, float]:
    """Extent along x, y and z of a slab that stands so and is not turned."""
    if stand == "side":
        return length, thickness, width
    if stand == "end":
        return thickness, width, length
    return length, width, thickness


class Status(StrEnum):
    """How far the search came."""

    OPTIMAL = "optimal"
    """The value equals the proven bound."""
    FEASIBLE = "feasible"
    """All pieces are placed; the gap says how much could be left to gain."""
    INCOMPLETE = "incomplete"
    """Some pieces are in `missing`."""


class Missing(NamedTuple):
    """Pieces that could not be placed: how many and why, in plain words."""

    quantity: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What `solve` found.

    Parameters
    ----------
    layouts
        The layouts with their repeats.
    value
        What the problem makes least. For a roll, in mm: total length used (sum over layouts of length
        x repeats) + end loss x markers laid + setup x different markers. Layouts whose pieces have the
        same shapes in the same places are one marker. Otherwise the total cost of what is used. Of the
        pieces that are placed: see `missing`.
    bound
        Proven lower bound on the value of any plan that places the same pieces (without those in
        `missing`), same unit.
    missing
        Pieces that could not be placed.
    stopped
        ``"proved"``, ``"effort"``, ``"time"`` or ``"interrupted"``: what ended the search.
    effort
        Work spent, in the units of `solve`'s `effort`.
    seed
        The seed it came from.
    notes
        Plain words a person should read, such as that outlines were packed by their bounding box.
    """

    layouts: tuple[Layout, ...]
    value: float
    bound: float
    missing: Mapping[str, Missing] = field(default_factory=dict)
    stopped: Literal["proved", "effort", "time", "interrupted"] = "effort"
    effort: int = 0
    seed: int = 0
    notes: tuple[str, ...] = ()

    @property
    def length(self) -> float:
        """Total length of roll used, mm, without end losses; meaningful for roll problems."""
        return round(math.fsum(layout.length * layout.repeats for layout in self.layouts), DECIMALS)

    @property
    def cost(self) -> float:
        """Total cost of sheets, blocks or bars opened, or of roll used."""
        return self.value

    @property
    def gap(self) -> float:
        """Share of the value that is not yet proven necessary: 0.03 means 3 %."""
        return (self.value - self.bound) / self.value if self.value > 0 else 0.0

    @property
    def status(self) -> Status:
        """`Status.INCOMPLETE` when pieces are missing, `OPTIMAL` when the bound is met, else `FEASIBLE`."""
        if self.missing:
            return Status.INCOMPLETE
        return Status.OPTIMAL if self.value <= self.bound + 1e-6 else Status.FEASIBLE
