"""Round the edge of a mattress: border strips, flange strips and the tape that binds the seam."""

from __future__ import annotations

from typing import Annotated, Literal

from nesting.model import RollMaterial
from nesting.panels.generator import Count, CutShape, Dims, Flag, Length, Limit, PanelError, Rate, generator
from nesting.panels.ring import JOIN_CLEARANCE, Direction, Fitting, Ring, ring_strips
from nesting.panels.shaping import check_dims, cut

__all__ = ["flange", "mattress_border", "tape_edge"]

HANDLE_PLACES = (1 / 4, 3 / 4)
"""Handles along a long side, as shares of the bed length (common practice)."""

VENT_PLACES = (3 / 8, 5 / 8)
"""Vents along a long side, between the handles (our own choice)."""

VENT_TO_HANDLE = 100.0
"""Least distance between a vent and a handle, mm (common practice)."""


@generator("mattress border", materials=("roll",))
def mattress_border(
    dims: Dims,
    material: RollMaterial,
    *,
    seam: Length,
    ease: Rate,
    border_crown: Length,
    join_seam: Length,
    lap: Length,
    corner_radius: Length = 0.0,
    crowned_faces: Annotated[int, Limit(0, 2)] = 2,
    join: Literal["seamed", "lapped"] = "seamed",
    strips: Count = 0,
    direction: Direction = "along",
    join_clearance: Length = JOIN_CLEARANCE,
    handles: Flag = False,
    vents: Flag = False,
    label: Flag = False,
) -> tuple[CutShape, ...]:
    """Border strips round a mattress, with the places of handles, vents and label.

    Height ``(H - m hc) + 2 s`` with `m` crowned faces. Length seamed ``P (1 + e) + 2 j n``, lapped
    ``P (1 + e) + v n``; each of `n` strips ``ceil(total / n)``; `P` is the perimeter with rounded
    corners. Source: arithmetic on common allowances. The strips are placed round the bed so that joins
    keep clear of corners and fittings and off the foot end; where that is impossible the best place is
    taken and a remark says how near a join comes.

    Parameters
    ----------
    dims
        Finished mattress, its height included, mm.
    material
        The border cloth.
    seam
        Take-up of the tape edge on each long edge (s), mm.
    ease
        Share added to the perimeter, below 0 for stretch cloth (e).
    border_crown
        Height taken by each crowned face (hc), mm.
    join_seam
        Seam at each end of a strip, for seamed joins (j), mm.
    lap
        Overlap of a lapped join (v), mm.
    corner_radius
        Of the finished mattress (r), mm.
    crowned_faces
        How many of the two faces are crowned.
    join
        Whether strips are seamed end to end or lapped.
    strips
        How many strips; 0 for the least number that the roll allows.
    direction
        Whether strips lie along the roll or across it.
    join_clearance
        Wanted distance of joins from corners, mm.
    handles
        Mark four handles, at 1/4 and 3/4 of the long sides, mid-height.
    vents
        Mark four vents, two on each long side between the handles, mid-height.
    label
        Mark the label at the lower edge in the middle of the foot end.

    Raises
    ------
    PanelError
        If no height is left, the corners do not fit, the roll leaves no room for joins, or vents would
        come too near to handles.
    """
    check_dims(dims, height=True)
    height = dims.height - crowned_faces * border_crown + 2.0 * seam
    if not height > 2.0 * seam:
        most = dims.height / crowned_faces
        raise PanelError(
            "border_crown", border_crown, f"less than {most:g} mm for this height", "Give less crown."
        )
    ring = Ring(dims.width, dims.length, corner_radius)
    return ring_strips(
        ring,
        material,
        height=height,
        allowance=2.0 * join_seam if join == "seamed" else lap,
        limited_by=("border_crown", border_crown),
        ease=ease,
        pieces=strips,
        direction=direction,
        fittings=_fittings(ring, height, handles, vents, label),
        join_clearance=join_clearance,
    )


def _fittings(ring: Ring, height: float, handles: bool, vents: bool, label: bool) -> list[Fitting]:
    middle = height / 2.0
    found: list[Fitting] = []
    if handles:
        found += [
            Fitting("handle", place, middle, "handle")
            for share in HANDLE_PLACES
            for place in ring.along_sides(share)
        ]
    if vents:
        between = (VENT_PLACES[0] - HANDLE_PLACES[0]) * ring.length
        if handles and between < VENT_TO_HANDLE:
            raise PanelError(
                "vents",
                vents,
                f"false on this length: {between:g} mm from the handles, at least {VENT_TO_HANDLE:g} wanted",
                "Leave the vents or the handles off this size.",
            )
        found += [
            Fitting("vent", place, middle, "vent")
            for share in VENT_PLACES
            for place in ring.along_sides(share)
        ]
    if label:
        found.append(Fitting("label", ring.perimeter / 2.0, 0.0, "label"))
    return found


@generator("flange", materials=("roll",))
def flange(
    dims: Dims,
    material: RollMaterial,
    *,
    flange_width: Length,
    lap: Length,
    corner_radius: Length = 0.0,
    strips: Count = 0,
    direction: Direction = "along",
) -> tuple[CutShape, ...]:
    """Flange strips, sewn under the rim of a panel and clipped to the rim of the spring unit.

    Total length ``P + v n``, each of `n` strips ``ceil(total / n)``; both long edges stay raw. Strips
    120 to 180 wide, sewn 30 to 60 in from the panel edge, are common practice. Joins may fall anywhere.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The flange cloth.
    flange_width
        Cut width of the strip, mm.
    lap
        Overlap where strips meet (v), mm.
    corner_radius
        Of the finished mattress (r), mm.
    strips
        How many strips; 0 for the least number that the roll allows.
    direction
        Whether strips lie along the roll or across it.

    Raises
    ------
    PanelError
        If the corners do not fit, or the roll leaves no room for joins.
    """
    check_dims(dims)
    return ring_strips(
        Ring(dims.width, dims.length, corner_radius),
        material,
        height=flange_width,
        allowance=lap,
        limited_by=("flange_width", flange_width),
        pieces=strips,
        direction=direction,
        join_clearance=None,
    )


@generator("tape edge", materials=("roll",))
def tape_edge(
    dims: Dims,
    material: RollMaterial,
    *,
    lap: Length,
    corner_radius: Length = 0.0,
    edges: Count = 2,
) -> tuple[CutShape, ...]:
    """Binding tape for the seams between panels and border, one length for each edge.

    Each length is ``P + v``, rounded up to the whole mm; a tight top has 2 edges, a pillow top usually
    3 (common practice). Waste at the machine, 2 to 4 % by common practice, is not added here.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        A roll as wide as the tape, cut to length only.
    lap
        Overlap where the tape closes (v), mm.
    corner_radius
        Of the finished mattress (r), mm.
    edges
        How many edges are taped.

    Raises
    ------
    PanelError
        If the corners do not fit or no edge is taped.
    """
    check_dims(dims)
    if edges < 1:
        raise PanelError(
            "edges", edges, "1 or more", "Give the number of taped edges, or leave the tape out."
        )
    length = Ring(dims.width, dims.length, corner_radius).perimeter + lap
    return (cut(length, material.usable_width, material, limited_by=("lap", lap), count=edges),)
