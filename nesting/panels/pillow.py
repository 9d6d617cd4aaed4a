"""What a pillow top adds: the pillow's own panel, its gusset ring and the yoke that joins it to the body."""

from __future__ import annotations

from typing import Literal

from nesting.model import Point, RollMaterial
from nesting.panels.faces import face
from nesting.panels.generator import Count, CutShape, Dims, Flag, Length, PanelError, Rate, generator
from nesting.panels.geometry import offset_convex, trapezoid
from nesting.panels.ring import JOIN_CLEARANCE, Direction, Ring, ring_strips
from nesting.panels.shaping import check_dims, check_radius, cut

__all__ = ["pillow_gusset", "pillow_panel", "yoke"]


def _pillow(dims: Dims, inset: float) -> Dims:
    """Finished size of a pillow that is smaller than the mattress by `inset` on each side."""
    check_dims(dims)
    most = min(dims.width, dims.length) / 2.0
    if not 0 <= inset < most:
        raise PanelError(
            "inset", inset, f"0 to less than {most:g} mm, half the shorter side", "Give less inset."
        )
    return Dims(dims.width - 2.0 * inset, dims.length - 2.0 * inset, dims.height)


@generator("pillow gusset", materials=("roll",))
def pillow_gusset(
    dims: Dims,
    material: RollMaterial,
    *,
    gusset_height: Length,
    plain_seam: Length,
    ease: Rate,
    inset: Length = 0.0,
    corner_radius: Length = 0.0,
    strips: Count = 0,
    direction: Direction = "along",
    join_clearance: Length = JOIN_CLEARANCE,
) -> tuple[CutShape, ...]:
    """Upright gusset ring that gives a pillow top its height, square ends.

    Height ``g + 2 s``; length ``P (1 + e) + 2 s n``, each of `n` pieces ``ceil(total / n)``, with plain
    seams (s) on the edges and at the joins. Source: arithmetic on common allowances.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The gusset cloth.
    gusset_height
        Finished height of the gusset (g), mm.
    plain_seam
        Take-up of a plain seam on each edge and each end (s), mm.
    ease
        Share added to the perimeter, below 0 for stretch cloth (e).
    inset
        How much smaller the pillow is than the mattress, on each side, mm.
    corner_radius
        Of the finished pillow (r), mm.
    strips
        How many strips; 0 for the least number that the roll allows.
    direction
        Whether strips lie along the roll or across it.
    join_clearance
        Wanted distance of joins from corners, mm.

    Raises
    ------
    PanelError
        If no pillow is left, the corners do not fit, or the roll leaves no room for joins.
    """
    pillow = _pillow(dims, inset)
    if not gusset_height > 0:
        raise PanelError("gusset_height", gusset_height, "above 0", "Give the finished height in mm.")
    return ring_strips(
        Ring(pillow.width, pillow.length, corner_radius),
        material,
        height=gusset_height + 2.0 * plain_seam,
        allowance=2.0 * plain_seam,
        limited_by=("gusset_height", gusset_height),
        ease=ease,
        pieces=strips,
        direction=direction,
        join_clearance=join_clearance,
    )


@generator("pillow panel", materials=("roll",))
def pillow_panel(
    dims: Dims,
    material: RollMaterial,
    *,
    seam: Length,
    crown: Length,
    inset: Length = 0.0,
    corner_radius: Length = 0.0,
    centre_notches: Flag = False,
) -> tuple[CutShape, ...]:
    """Panel of a pillow top: as a top panel, or set in from the edge of the mattress.

    ``length = (L - 2 i + 2 s + 2 c) / (1 - qL)``, ``width = (W - 2 i + 2 s + 2 c) / (1 - qW)``, each
    rounded up to the whole mm; an inset of 10 to 25 is common practice. Source: arithmetic on common
    allowances.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The ticking or quilted cloth.
    seam
        Take-up of the tape edge or overlock on each edge (s), mm.
    crown
        Extra cloth on each side to climb over the soft edge (c), mm.
    inset
        How much smaller the pillow is than the mattress, on each side (i), mm.
    corner_radius
        Of the finished pillow (r), mm.
    centre_notches
        Whether the middle of each side is notched.

    Raises
    ------
    PanelError
        If no pillow is left, or the radius is more than half its shorter side.
    """
    return face(
        _pillow(dims, inset),
        material,
        grow=seam + crown,
        corner_radius=corner_radius,
        centre_notches=centre_notches,
        limited_by=("inset", inset),
    )


@generator("yoke", materials=("roll",))
def yoke(
    dims: Dims,
    material: RollMaterial,
    *,
    plain_seam: Length,
    strip_width: Length = 0.0,
    corners: Literal["mitred", "square"] = "mitred",
    corner_radius: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Inner yoke between pillow and body: a full sheet, or a frame of four strips lying flat.

    Sheet: ``L + 2 s`` by ``W + 2 s``. Square corners: two strips ``L + 2 s`` and two ``W - 2 w + 2 s``
    long, ``w + 2 s`` wide. Mitred corners: finished strips with outer edges L and W and ends at 45
    degrees, every edge moved out by s, so the outer cut edge is ``L + 2 s (1 + sqrt 2)``. Strips 100 to
    150 wide are common practice. Source: arithmetic.

    Parameters
    ----------
    dims
        Finished mattress (or pillow) that the yoke follows, mm.
    material
        The yoke cloth.
    plain_seam
        Take-up of a plain seam on each edge (s), mm.
    strip_width
        Finished width of the strips (w), mm; 0 for a full sheet.
    corners
        How strips meet at the corners.
    corner_radius
        Of the finished outer corner, mm. Strips are trimmed to it after joining.

    Raises
    ------
    PanelError
        If strips are so wide that they meet in the middle, or the radius does not fit.
    """
    if strip_width == 0:
        return face(
            dims,
            material,
            grow=plain_seam,
            corner_radius=corner_radius,
            centre_notches=False,
            limited_by=("plain_seam", plain_seam),
        )
    check_dims(dims)
    check_radius(corner_radius, dims.width, dims.length)
    most = min(dims.width, dims.length) / 2.0
    if not 0 < strip_width < most:
        raise PanelError(
            "strip_width",
            strip_width,
            f"less than {most:g} mm, half the shorter side",
            "Give narrower strips.",
        )
    note = f"Trim outer corners to radius {corner_radius:g} after joining." if corner_radius else ""

    def strip(finished: float, suffix: str, title: str) -> CutShape:
        length, width = finished + 2.0 * plain_seam, strip_width + 2.0 * plain_seam
        outline: tuple[Point, ...] = ()
        if corners == "mitred":
            outline = offset_convex(trapezoid(finished, strip_width), plain_seam)
            length = max(x for x, _ in outline)
        return cut(
            length,
            width,
            material,
            limited_by=("strip_width", strip_width),
            outline=outline,
            count=2,
            suffix=suffix,
            title=title,
            note=note,
        )

    end = dims.width - (2.0 * strip_width if corners == "square" else 0.0)
    return strip(dims.length, "-L", "side strip"), strip(end, "-W", "end strip")
