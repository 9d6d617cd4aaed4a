"""The pieces of a layout where they lie: outlines, marks and the position numbers people refer to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.drawing.scene import extent
from nesting.errors import LayoutError
from nesting.measures import measure
from nesting.model import Demand, Layout, Mark, MaterialPlan, Placement, Point
from nesting.packing.solution import stood

__all__ = [
    "PlacedPiece",
    "box_corners",
    "is_lengths",
    "lying_size",
    "measure",
    "placed_pieces",
    "size_text",
    "stand_words",
]

EXACT_TURNS = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
"""Cosine and sine of the right angles, so that turned pieces keep their exact measures."""


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """One piece in a layout, turned and moved to its place.

    Parameters
    ----------
    number
        Position number: the same for all pieces of one demand, on all maps and lists of a material.
    kind
        Index of the panel code among the material's codes; decides colour and hatch.
    index
        Index in the layout's placements.
    demand, placement
        What it is and where it lies.
    outline, marks
        In the frame of the layout, mm.
    box
        Least x, least y, greatest x, greatest y of the outline, mm.
    cut
        Place in the cutting order from 1, where labels are to tell it; 0 otherwise.
    """

    number: int
    kind: int
    index: int
    demand: Demand
    placement: Placement
    outline: tuple[Point, ...]
    marks: tuple[Mark, ...]
    box: tuple[float, float, float, float]
    cut: int = 0


def is_lengths(material_plan: MaterialPlan) -> bool:
    """Whether the material is only cut to length (tapes and slit strips)."""
    material = material_plan.material
    return material.kind == "roll" and material.process == "lengths"


def placed_pieces(material_plan: MaterialPlan, index: int) -> tuple[PlacedPiece, ...]:
    """The pieces of layout `index`, in the order of its placements.

    Raises
    ------
    LayoutError
        When the layout refers to a piece that is not among the demands.
    """
    layout: Layout = material_plan.layouts[index]
    demands = {demand.key: (number, demand) for number, demand in enumerate(material_plan.demands, start=1)}
    codes = {code: kind for kind, code in enumerate(sorted({d.panel.code for d in material_plan.demands}))}
    pieces = []
    for place, placement in enumerate(layout.placements):
        if placement.key not in demands:
            where = f"Layout {index + 1} of {material_plan.material.key!r}"
            raise LayoutError(f"{where} places {placement.key!r}, which is not among the pieces wanted.")
        number, demand = demands[placement.key]
        outline, marks = _placed_shape(demand, placement)
        kind = codes[demand.panel.code]
        pieces.append(PlacedPiece(number, kind, place, demand, placement, outline, marks, extent(outline)))
    return tuple(pieces)


def box_corners(length: float, width: float) -> tuple[Point, ...]:
    """The rectangle from the origin to (length, width), counter-clockwise."""
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def _placed_shape(demand: Demand, placement: Placement) -> tuple[tuple[Point, ...], tuple[Mark, ...]]:
    """Outline and marks mirrored in the x axis if asked, turned, and moved together.

    The lower left corner of the outline's box comes to lie at the placement; the marks take the same
    move, wherever they lie in the panel.
    """
    panel = demand.panel
    if placement.stand != "flat":
        # Seen from above it is a box without marks: these are on a face that is upright now.
        length, width, _ = lying_size(demand, placement)
        corners = box_corners(length, width)
        return tuple((x + placement.x, y + placement.y) for x, y in corners), ()
    turn = placement.turn % 360.0
    cos, sin = EXACT_TURNS.get(turn) or (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
    flip = -1.0 if placement.mirrored else 1.0

    def turned(points: Sequence[Point]) -> list[Point]:
        return [(x * cos - flip * y * sin, x * sin + flip * y * cos) for x, y in points]

    outline = turned(panel.outline or box_corners(panel.length, panel.width))
    left, low, _, _ = extent(outline)

    def moved(points: Sequence[Point]) -> tuple[Point, ...]:
        return tuple((x - left + placement.x, y - low + placement.y) for x, y in points)

    marks = tuple(replace(mark, points=moved(turned(mark.points))) for mark in panel.marks)
    return moved(outline), marks


def lying_size(demand: Demand, placement: Placement) -> tuple[float, float, float]:
    """Extent along x, y and z of a slab as it lies, mm; its own size where it has an outline."""
    panel = demand.panel
    length, width, height = stood(panel.length, panel.width, panel.thickness or 0.0, placement.stand)
    turned = placement.turn % 180.0 != 0.0 and not panel.outline
    return (width, length, height) if turned else (length, width, height)


def stand_words(placement: Placement) -> str:
    """How a slab stands in the block: ``"on its side"``, ``"on its end"``, or nothing where it lies flat."""
    return {"side": "on its side", "end": "on its end"}.get(placement.stand, "")


def size_text(demand: Demand) -> str:
    """Cut size of a panel: length x width, and x thickness of a slab."""
    panel = demand.panel
    sides = [panel.length, panel.width] + ([] if panel.thickness is None else [panel.thickness])
    return " x ".join(measure(side) for side in sides)
