"""From patterns to cut trees and the spots of their boxes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nesting.packing.grid import Ints, mm
from nesting.packing.guillotine import Section
from nesting.packing.solution import Axis, CutNode

__all__ = ["Corner", "Extent", "Fill", "divide", "piece_in", "sections_tree"]

Corner = tuple[int, int, int]
Extent = tuple[int, int, int]
Fill = Callable[[Corner, Extent], CutNode]
"""Makes the node of a box with the given low corner and extent, in grid steps."""

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

    A single part that fills the whole box needs no cut and replaces it.
    """
    along = _AXES.index(axis)
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


def piece_in(corner: Corner, extent: Extent, box: Extent, piece: int, kerf: int) -> CutNode:
    """Trim a box down to the piece in its low corner: first along x, then along y."""
    for along, axis in enumerate(_AXES):
        if box[along] < extent[along]:
            return divide(
                corner, extent, axis, [(box[along], lambda c, e: piece_in(c, e, box, piece, kerf))], kerf
            )
    return _node(corner, extent, piece=piece)


def sections_tree(
    corner: Corner,
    extent: Extent,
    sections: Sequence[Section],
    dx: Ints,
    dy: Ints,
    kerf: int,
    fill: Callable[[int, Corner, Extent], CutNode],
    *,
    first: Axis = "x",
) -> CutNode:
    """Tree of a staged pattern; `fill(box, corner, extent)` makes the node of the place of each box.

    With ``first="y"`` the pattern is laid with its x along y: sections across, strips along x.
    """
    other: Axis = "y" if first == "x" else "x"

    def strip_fill(boxes: Sequence[int]) -> Fill:
        return lambda c, e: divide(
            c, e, first, [(int(dx[box]), lambda c2, e2, box=box: fill(box, c2, e2)) for box in boxes], kerf
        )

    def section_fill(section: Section) -> Fill:
        return lambda c, e: divide(
            c, e, other, [(strip.width, strip_fill(strip.boxes)) for strip in section.strips], kerf
        )

    return divide(corner, extent, first, [(s.length, section_fill(s)) for s in sections], kerf)


def _moved(triple: tuple[int, int, int], along: int, value: int) -> tuple[int, int, int]:
    return (
        value if along == 0 else triple[0],
        value if along == 1 else triple[1],
        value if along == 2 else triple[2],
    )
