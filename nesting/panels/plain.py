"""A plain rectangle for a factory's own parts."""

from __future__ import annotations

from nesting.model import Material
from nesting.panels.generator import CutShape, Dims, Length, generator
from nesting.panels.shaping import check_dims, cut

__all__ = ["plain_panel"]


@generator("plain panel", materials=("roll", "sheet", "block"))
def plain_panel(
    dims: Dims,
    material: Material,
    *,
    seam: Length = 0.0,
    thickness: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Plain rectangle of a given size, such as border backing: ``L + 2 s`` by ``W + 2 s``.

    Source: arithmetic.

    Parameters
    ----------
    dims
        Size of the part, mm; the length lies along the material.
    material
        What it is cut from.
    seam
        Added on each edge (s), mm.
    thickness
        Of the slab, mm; needed for blocks only.

    Raises
    ------
    PanelError
        If a size, or the thickness of a slab, is absurd.
    """
    check_dims(dims)
    return (
        cut(
            dims.length + 2.0 * seam,
            dims.width + 2.0 * seam,
            material,
            limited_by=("seam", seam),
            thickness=thickness,
        ),
    )
