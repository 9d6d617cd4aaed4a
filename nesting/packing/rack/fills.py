"""What is cut from one stretch of roll: markers, as slices from edge to edge or as free spots."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias

from nesting.packing.grid import Spot
from nesting.packing.guillotine import Section, Strip
from nesting.packing.rack.stocks import RackGrid, Stock
from nesting.packing.roll.chunks import Chunk
from nesting.packing.skyline import FlatSpot
from nesting.packing.solution import CutNode
from nesting.packing.trees import Corner, Extent, Fill, divide, piece_in

__all__ = ["Filling", "Marker", "Rows", "Slice", "draw", "marker_of", "taken"]


@dataclass(frozen=True, slots=True)
class Slice:
    """Sections side by side, between flaws: each with the y it begins at.

    `x` and `length` are in grid steps from the start of the window; `mask` names the flaws that the
    sections lie beside.
    """

    x: int
    length: int
    bands: tuple[tuple[int, Section], ...]
    mask: int = 0


@dataclass(frozen=True, slots=True)
class Marker:
    """What is laid at once.

    Parameters
    ----------
    start, length
        Where it begins in its window, and its length, in grid steps.
    slices
        Slices one gap apart, their x from the start of the marker; empty where placement is free.
    spots
        For free placement: kind, box within the kind, x and y from the start of the marker.
    """

    start: int
    length: int
    slices: tuple[Slice, ...] = ()
    spots: tuple[FlatSpot, ...] = ()


Filling: TypeAlias = tuple[Marker, ...]
"""The markers on one window, in order."""


def taken(filling: Filling, end_loss: int) -> int:
    """Roll that the markers of a window take, end losses included, in grid steps."""
    return sum(marker.length + end_loss for marker in filling)


class Rows:
    """Slices laid one behind another on a window; joined to markers as far as may be."""

    def __init__(self, grid: RackGrid, stock: Stock) -> None:
        assert stock.length is not None
        self._grid, self._stock = grid, stock
        self._longest = grid.longest_on(stock)
        self._room = stock.length - grid.end_loss
        self._markers: list[list[Slice]] = []
        self._end: int | None = None

    @property
    def next(self) -> int:
        """Where a new marker may begin at the earliest."""
        return 0 if self._end is None else self._end + self._grid.apart

    @property
    def left(self) -> int:
        """Room for one more marker, end loss aside."""
        return self._room - self.next

    def add(self, x: int, length: int, bands: tuple[tuple[int, Section], ...], mask: int) -> bool:
        """Lay a slice behind the others, at `x` or before; whether it found room.

        It keeps clear of all flaws but those in `mask`, which its bands lie beside.
        """
        starts = [(self.next, True)]
        if x > self.next:
            starts.append((x, True))
        if self._end is not None and self._longest is not None:
            joint = self._end + self._grid.gap
            if joint + length - self._markers[-1][0].x <= self._longest:
                starts.insert(0, (joint, False))
        for start, new in starts:
            if start + length > self._room or self._stock.mask(start, length) & ~mask:
                continue
            if new:
                self._markers.append([])
            self._markers[-1].append(Slice(start, length, bands, mask))
            self._end = start + length
            return True
        return False

    @property
    def filling(self) -> Filling:
        """The markers so far."""
        return tuple(_joined(slices) for slices in self._markers)


def _joined(slices: list[Slice]) -> Marker:
    start = slices[0].x
    moved = tuple(Slice(part.x - start, part.length, part.bands, part.mask) for part in slices)
    return Marker(start, moved[-1].x + moved[-1].length, moved)


def marker_of(chunks: tuple[Chunk, ...], gap: int) -> Marker:
    """The marker of some chunks in a row, one gap apart."""
    x = -gap
    slices: list[Slice] = []
    spots: list[FlatSpot] = []
    for chunk in chunks:
        x += gap
        if chunk.section is not None:
            slices.append(Slice(x, chunk.length, ((0, chunk.section),)))
        spots.extend((kind, box, at + x, y) for kind, box, at, y in chunk.spots)
        x += chunk.length
    staged = len(slices) == len(chunks)
    return Marker(0, x, tuple(slices), ()) if staged else Marker(0, x, (), tuple(spots))


def draw(grid: RackGrid, stock: Stock, marker: Marker) -> tuple[list[Spot], CutNode | None]:
    """Where the pieces of a marker lie, and its tree of cuts (None for free spots)."""
    if not marker.slices:
        return [(kind, box, x, y, 0) for kind, box, x, y in marker.spots], None
    spots: list[Spot] = []

    def place(box: int, corner: Corner, extent: Extent) -> CutNode:
        kind = int(grid.owner[box])
        spots.append((kind, box - int(grid.start[kind]), *corner))
        size = (int(grid.dx[box]), int(grid.dy[box]), 0)
        return piece_in(corner, extent, size, len(spots) - 1, (grid.gap,) * 3)

    def strip_fill(strip: Strip) -> Fill:
        parts = [(int(grid.dx[box]), partial(place, box)) for box in strip.boxes]
        return partial(divide, axis="x", parts=parts, kerf=grid.gap)

    def slice_fill(part: Slice) -> Fill:
        parts = [
            (
                width,
                partial(divide, axis="y", parts=(), kerf=grid.gap) if strip is None else strip_fill(strip),
            )
            for width, strip in _across(part, grid.gap)
        ]
        return partial(divide, axis="y", parts=parts, kerf=grid.gap)

    parts: list[tuple[int, Callable[[Corner, Extent], CutNode]]] = [
        (part.length, slice_fill(part)) for part in marker.slices
    ]
    tree = divide((0, 0, 0), (marker.length, stock.width, 0), "x", parts, grid.gap)
    return spots, tree


def _across(part: Slice, kerf: int) -> Iterator[tuple[int, Strip | None]]:
    """Widths of what lies side by side in a slice: strips, and left-overs (None) before its bands."""
    end = -kerf
    for y, section in part.bands:
        if y > end + kerf:
            yield y - kerf - (end + kerf), None
        end = y - kerf
        for strip in section.strips:
            yield strip.width, strip
            end += kerf + strip.width
