"""Long blocks as they are cut to length: which parts lie where, and what is left of each block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.blocks import block_of
from nesting.model import BlockMaterial, Layout, StockPiece
from nesting.packing.problem import GRID, grid_up
from nesting.remnants import worth_keeping

__all__ = [
    "LengthCut",
    "LongBlock",
    "LongPart",
    "kept_rest",
    "length_cuts",
    "long_blocks",
    "saw_width",
]

NOISE = 1e-6
"""Lengths closer than this are equal, mm."""


@dataclass(frozen=True, slots=True)
class LongPart:
    """A part of a long block: index of the layout that it is cut by, and where it lies, mm."""

    layout: int
    start: float
    length: float

    @property
    def end(self) -> float:
        """Where it ends, mm from the raw left end."""
        return round(self.start + self.length, 4)


@dataclass(frozen=True, slots=True)
class LongBlock:
    """Blocks that are cut alike.

    Parameters
    ----------
    key
        Which block they are.
    material
        The foam with the measures of these blocks.
    first, count
        Number of the first of them, from 1, and how many there are.
    parts
        From the left end on.
    """

    key: str
    material: BlockMaterial
    first: int
    count: int
    parts: tuple[LongPart, ...]

    @property
    def name(self) -> str:
        """The blocks in words: ``"long block 3"`` or ``"long blocks 3 to 7"``."""
        last = self.first + self.count - 1
        return f"long block {last}" if self.count == 1 else f"long blocks {self.first} to {last}"

    @property
    def end(self) -> float:
        """Where the last part ends, mm from the raw left end."""
        return self.parts[-1].end


@dataclass(frozen=True, slots=True)
class LengthCut:
    """One cut across a long block.

    Parameters
    ----------
    measure
        From the raw left end to the near side of the blade, mm.
    length
        Of what comes off before the blade, mm.
    layout
        Index of the layout that the part is cut by; None for the skin of the left end.
    """

    measure: float
    length: float
    layout: int | None = None


def saw_width(material: BlockMaterial) -> float:
    """Width of a cut across a long block, mm, on the grid."""
    return round(grid_up(material.kerfs.upright) * GRID, 4)


def long_blocks(
    material: BlockMaterial, layouts: Sequence[Layout], shelf: Sequence[StockPiece] = ()
) -> tuple[LongBlock, ...]:
    """The long blocks of a plan in the order of their numbers; none where blocks are cut as they are.

    `shelf` holds the pieces from the shelf that the plan uses: one may be short enough to be cut as it is.
    """
    saw = saw_width(material)
    found: list[LongBlock] = []
    for key in dict.fromkeys(layout.stock_key for layout in layouts):
        own = block_of(material, key, shelf).material
        if own.cut_to is None:
            continue
        mine = [(at, layout) for at, layout in enumerate(layouts) if layout.stock_key == key]
        stops = sorted(
            {la.stock_number for _, la in mine} | {la.stock_number + la.stock_count for _, la in mine}
        )
        for first, after in pairwise(stops):
            parts = [
                LongPart(at, round(layout.start + copy * (layout.length + saw), 4), layout.length)
                for at, layout in mine
                if layout.stock_number <= first < layout.stock_number + layout.stock_count
                for copy in range(layout.repeats // layout.stock_count)
            ]
            if parts:
                parts.sort(key=lambda part: part.start)
                found.append(LongBlock(key, own, first, after - first, tuple(parts)))
    return tuple(found)


def kept_rest(material: BlockMaterial, block: LongBlock) -> float:
    """Length of what is left of a long block where that is worth keeping, mm; otherwise 0.

    The rest keeps the skins of its sides and of the right end.
    """
    rest = round(material.length - block.end - saw_width(material), 4)
    useful = rest - material.skins.x1
    return rest if worth_keeping(material, useful, material.width, material.height) else 0.0


def length_cuts(material: BlockMaterial, block: LongBlock) -> tuple[LengthCut, ...]:
    """The cuts across a long block from its left end on; every measure is read from that end.

    A skin thinner than the blade is cut with the blade standing out of the foam: its measure is below 0.
    """
    saw = saw_width(material)
    cuts: list[LengthCut] = []
    if block.parts[0].start > NOISE:
        measure = round(block.parts[0].start - saw, 4)
        cuts.append(LengthCut(measure, max(0.0, measure)))
    for part in block.parts:
        if material.length - part.end > NOISE:
            cuts.append(LengthCut(part.end, part.length, part.layout))
    return tuple(cuts)
