"""From patterns to cut trees and the spots of their boxes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TypeAlias

from nesting.packing.grid import Ints, mm
from nesting.packing.guillotine import Section, Strip
from nesting.packing.solution import Axis, CutNode

__all__ = ["Corner", "Extent", "Fill", "Place", "divide", "piece_in", "sections_tree"]

Corner: TypeAlias = tuple[int, int, int]
"""Low corner of a room: x, y, z in grid steps."""

Extent: TypeAlias = tuple[int, int, int]
"""Extent of a room along x, y, z in grid steps."""

Fill: TypeAlias = Callable[[Corner, Extent], CutNode]
"""Makes the node of a room."""

Place: TypeAlias = Callable[[int, Corner, Extent], CutNode]
"""Makes the node of a room that is meant for a box, given by its number."""

_AXES: tuple[Axis, Axis, Axis] = ("x", "y", "z")


def _node(
    corner: Corner,
    extent: Extent,
    axis: Axis | None = None,
    parts: tuple[CutNode, ...] = (),
    piece: int | None = None,
) -> CutNode:
    (x, y, z), (length, width, height) = corner, extent
    return CutNode(mm(x), mm(y), mm(length), mm(width), axis, parts, piece, mm(z), mm(height))


def divide(
    corner: Corner, extent: Extent, axis: Axis, parts: Sequence[tuple[int, Fill]], kerf: int
) -> CutNode:
    """Cut a box into parts of the given sizes along `axis`; what remains becomes a left-over leaf.

    A single part that fills the whole box needs no cut and replaces it; without parts nothing is cut.
    """
    along = _AXES.index(axis)
    if not parts:
        return _node(corner, extent)
    if len(parts) == 1 and parts[0][0] == extent[along]:
        return parts[0][1](corner, extent)
    nodes = []
    at, far = corner[along], corner[along] + extent[along]
    for size, fill in parts:
        nodes.append(fill(_moved(corner, along, at), _moved(extent, along, size)))
        at += size + kerf
    if at < far:
        # A rest thinner than the blade is dust: it is not listed.
        nodes.append(_node(_moved(corner, along, at), _moved(extent, along, far - at)))
    return _node(corner, extent, axis, tuple(nodes))


def piece_in(corner: Corner, extent: Extent, box: Extent, piece: int, kerfs: tuple[int, int, int]) -> CutNode:
    """Trim a box down to the piece in its low corner: first along x, then y, then z."""
    for along, axis in enumerate(_AXES):
        if box[along] < extent[along]:
            trimmed = partial(piece_in, box=box, piece=piece, kerfs=kerfs)
            return divide(corner, extent, axis, [(box[along], trimmed)], kerfs[along])
    return _node(corner, extent, piece=piece)


def sections_tree(
    corner: Corner,
    extent: Extent,
    sections: Sequence[Section],
    dx: Ints,
    dy: Ints,
    kerf: int,
    place: Place,
    *,
    first: Axis = "x",
) -> CutNode:
    """Tree of a staged pattern.

    With ``first="y"`` the pattern is laid with its x along y: sections across, strips along x. Places
    come in the order in which the pattern lists its boxes.
    """
    other: Axis = "y" if first == "x" else "x"

    def strip_fill(strip: Strip) -> Fill:
        parts = [(int(dx[box]), partial(place, box)) for box in strip.boxes]
        return partial(divide, axis=first, parts=parts, kerf=kerf)

    def section_fill(section: Section) -> Fill:
        parts = [(strip.width, strip_fill(strip)) for strip in section.strips]
        return partial(divide, axis=other, parts=parts, kerf=kerf)

    parts = [(section.length, section_fill(section)) for section in sections]
    return divide(corner, extent, first, parts, kerf)


def _moved(triple: Corner, along: int, value: int) -> Corner:
    x, y, z = (value if axis == along else old for axis, old in enumerate(triple))
    return x, y, z
