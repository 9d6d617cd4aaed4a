"""What the verifier checks of two outlines that share a leaf of a block's cut tree.

As the rest of the verifier it shares nothing with the engines.
"""

from __future__ import annotations

import shapely

from nesting.packing.faults import NOISE, fault, mm
from nesting.packing.lying import AXES, Lying, round_up
from nesting.packing.rack_rules import OUTLINE_DEPTH
from nesting.packing.solution import CutNode

__all__ = ["check_pair"]

SAME = 1e-4
"""Corners closer than this, mm, are the same."""


def check_pair(node: CutNode, one: Lying, other: Lying, saw: float, where: str) -> None:
    """Two copies of one outline fill the leaf, the second turned by 180 degrees, a saw cut apart."""
    both = f"pieces {one} and {other}"
    if not one.shape.outline or not other.shape.outline:
        fault(where, f"{both} share a box, which only pieces with an outline may")
    if not _opposite(one, other):
        fault(where, f"{both} share a box, but are not one outline turned by 180 degrees")
    if abs(one.low[2] - other.low[2]) > NOISE or abs(one.high[2] - other.high[2]) > NOISE:
        fault(where, f"{both} share a box, but not their heights")
    low, size = (node.x, node.y, node.z), (node.length, node.width, node.height)
    for along, axis in enumerate(AXES):
        first = min(one.low[along], other.low[along])
        last = max(one.high[along], other.high[along])
        if abs(low[along] - first) > NOISE:
            fault(where, f"{both} start at {axis} {mm(first)}, their box at {mm(low[along])}")
        if not last - first - NOISE <= size[along] <= round_up(last - first) + NOISE:
            fault(where, f"{both} measure {mm(last - first)} mm along {axis}, their box {mm(size[along])}")
    first_shape, other_shape = (
        shapely.Polygon([(x + piece.low[0], y + piece.low[1]) for x, y in piece.shape.outline])
        for piece in (one, other)
    )
    overlap = shapely.intersection(first_shape, other_shape)
    if overlap.area > 0 and not shapely.buffer(overlap, -OUTLINE_DEPTH / 2).is_empty:
        fault(where, f"{both} overlap in {mm(overlap.area)} mm2")
    apart = shapely.distance(first_shape, other_shape)
    if apart < saw - OUTLINE_DEPTH:
        fault(where, f"{both} are {mm(apart)} mm apart; the saw cut is {mm(saw)} mm")


def _opposite(one: Lying, other: Lying) -> bool:
    """Whether one outline turned by 180 degrees is the other, corner by corner."""
    (length, width, _), (other_length, other_width, _) = one.shape.size, other.shape.size
    if abs(length - other_length) > SAME or abs(width - other_width) > SAME:
        return False
    left = list(other.shape.outline)
    for x, y in one.shape.outline:
        for corner in left:
            if abs(length - x - corner[0]) <= SAME and abs(width - y - corner[1]) <= SAME:
                left.remove(corner)
                break
        else:
            return False
    return not left
