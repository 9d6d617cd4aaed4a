"""The faces of a mattress: quilted top and bottom panels."""

from __future__ import annotations

from nesting.model import RollMaterial
from nesting.panels.generator import CutShape, Dims, Flag, Length, generator
from nesting.panels.geometry import rounded_rectangle
from nesting.panels.shaping import check_dims, check_radius, cut, midpoints

__all__ = ["face", "quilted_panel"]


def face(
    dims: Dims,
    material: RollMaterial,
    *,
    grow: float,
    corner_radius: float,
    centre_notches: bool,
    limited_by: tuple[str, float],
) -> tuple[CutShape, ...]:
    """One flat panel, bed length along the roll, larger than its finished size by `grow` all round.

    The cut corner is the offset curve of the finished one: its radius is ``r + grow``, and 0 stays 0
    because a square corner is cut square. Source: arithmetic.
    """
    check_dims(dims)
    check_radius(corner_radius, dims.width, dims.length)
    length, width = dims.length + 2.0 * grow, dims.width + 2.0 * grow
    outline = rounded_rectangle(length, width, corner_radius + grow) if corner_radius else ()
    marks = midpoints(length, width) if centre_notches else ()
    return (cut(length, width, material, limited_by=limited_by, outline=outline, marks=marks),)


@generator("quilted panel", materials=("roll",))
def quilted_panel(
    dims: Dims,
    material: RollMaterial,
    *,
    seam: Length,
    crown: Length,
    corner_radius: Length = 0.0,
    centre_notches: Flag = False,
) -> tuple[CutShape, ...]:
    """Top or bottom panel of a mattress, sewn or taped to the border all round.

    ``length = (L + 2 s + 2 c) / (1 - qL)``, ``width = (W + 2 s + 2 c) / (1 - qW)``, each rounded up to
    the whole mm; qL and qW are the contraction of the cloth when it is quilted after cutting. Cut corner
    radius ``r + s + c``. Source: arithmetic on common allowances.

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
    corner_radius
        Of the finished mattress (r), mm.
    centre_notches
        Whether the middle of each side is notched.

    Raises
    ------
    PanelError
        If the radius is more than half the shorter side, or a size is absurd.
    """
    return face(
        dims,
        material,
        grow=seam + crown,
        corner_radius=corner_radius,
        centre_notches=centre_notches,
        limited_by=("seam", seam),
    )
