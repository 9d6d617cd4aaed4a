"""Firm foam pieces that hold up the corners of a mattress or base."""

from __future__ import annotations

from typing import Literal

from nesting.model import BlockMaterial, Material
from nesting.panels.generator import Count, CutShape, Dims, Flag, Length, PanelError, generator
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
    standing: Flag = False,
) -> tuple[CutShape, ...]:
    """Corner supports: squares, right-angled triangles or quarter rounds with legs b.

    From a block triangles are sawn, and quarter rounds cut on a contour cutter, from boxes; two of them may
    share a box. Source: arithmetic; legs of 100 to 200 and four supports are common practice.

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
    standing
        Whether square supports may stand on a side or end in the block: their grain does not matter.

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
    note = ""
    outline: tuple[tuple[float, float], ...] = ()
    if shape == "triangle":
        outline = ((0.0, 0.0), (corner_leg, 0.0), (0.0, corner_leg))
        note = "Saw the long side along the marked line."
    elif shape == "quarter round":
        outline = quarter_round(corner_leg)
        note = f"Cut the arc, radius {corner_leg:g}, on a contour cutter. No hot wire on polyurethane."
    return (
        cut(
            corner_leg,
            corner_leg,
            material,
            limited_by=("corner_leg", corner_leg),
            outline=outline,
            thickness=thickness,
            count=supports,
            note=note if isinstance(material, BlockMaterial) else "",
            standing=standing,
        ),
    )
