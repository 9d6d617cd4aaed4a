"""Firm foam pieces that hold up the corners of a mattress or base."""

from __future__ import annotations

import math
from typing import Literal

from nesting.model import BlockMaterial, Mark, Material
from nesting.panels.generator import Count, CutShape, Dims, Length, PanelError, generator
from nesting.panels.geometry import quarter_round
from nesting.panels.shaping import check_dims, cut

__all__ = ["corner_support"]


@generator("corner support", materials=("roll", "sheet", "block"))
def corner_support(
    dims: Dims,
    material: Material,
    *,
    corner_leg: Length,
    shape: Literal["square", "triangle", "quarter round"] = "square",
    supports: Count = 4,
    thickness: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Corner supports: squares, right-angled triangles or quarter rounds with legs b.

    From a block all are sawn from square slabs: two triangles come from one slab, cut along the marked
    diagonal, so half as many slabs are cut as triangles are wanted over all orders, and their side is
    ``b + kerf / sqrt 2`` (the cut takes that much from both legs). Source: arithmetic; legs of 100 to 200
    and four supports are common practice.

    Parameters
    ----------
    dims
        Finished mattress or base, mm.
    material
        The foam.
    corner_leg
        Leg, or radius of the quarter round (b), mm.
    shape
        Seen from above.
    supports
        How many one bed has.
    thickness
        Height of the support, mm; needed for blocks only.

    Raises
    ------
    PanelError
        If there is no support, or two of them do not fit along the shorter side.
    """
    check_dims(dims)
    most = min(dims.width, dims.length) / 2.0
    if not 0 < corner_leg <= most:
        raise PanelError("corner_leg", corner_leg, f"above 0 to {most:g} mm", "Give a shorter leg.")
    if supports < 1:
        raise PanelError("supports", supports, "1 or more", "Give the number, or leave the panel out.")
    side, per_slab, note = corner_leg, 1, ""
    outline: tuple[tuple[float, float], ...] = ()
    marks: tuple[Mark, ...] = ()
    if isinstance(material, BlockMaterial):
        if shape == "triangle":
            side = corner_leg + material.kerf / math.sqrt(2.0)
            per_slab = 2
            marks = (Mark("seam", ((side, 0.0), (0.0, side)), "saw"),)
            note = "Saw into two triangles along the marked diagonal."
        elif shape == "quarter round":
            note = f"Round one corner to radius {corner_leg:g}."
    elif shape == "triangle":
        outline = ((0.0, 0.0), (side, 0.0), (0.0, side))
    elif shape == "quarter round":
        outline = quarter_round(side)
    return (
        cut(
            side,
            side,
            material,
            limited_by=("corner_leg", corner_leg),
            outline=outline,
            thickness=thickness,
            count=supports,
            marks=marks,
            note=note,
            per_slab=per_slab,
        ),
    )
