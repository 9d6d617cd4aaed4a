"""Flat fillings between cover and core: insulator pads and fibre layers."""

from __future__ import annotations

from typing import Annotated

from nesting.model import RollMaterial, SheetMaterial
from nesting.panels.generator import Count, CutShape, Dims, Length, Limit, PanelError, generator
from nesting.panels.geometry import rounded_rectangle
from nesting.panels.shaping import check_dims, check_radius, check_size, cut

__all__ = ["fibre_layer", "insulator_pad"]


@generator("insulator pad", materials=("roll", "sheet"))
def insulator_pad(
    dims: Dims,
    material: RollMaterial | SheetMaterial,
    *,
    foam_oversize: Length,
    pad_inset: Length,
    rail_width: Length = 0.0,
    spring_length: Length = 0.0,
    spring_width: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Firm pad that keeps the fillings out of a spring unit.

    Pad = spring unit ``- 2 p`` each way. Where the size of the spring unit is not given it is what the
    foam rails leave open: ``L + o - 2 w`` by ``W + o - 2 w``. Source: arithmetic on common allowances.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        Felt or board.
    foam_oversize
        Oversize of the foam, total per dimension (o), mm; not used where the spring unit is given.
    pad_inset
        How much smaller the pad is than the spring unit, on each side (p), mm.
    rail_width
        Width of the foam rails round the springs (w), mm; 0 where there are none.
    spring_length, spring_width
        Size of the spring unit, mm; 0 to work it out from the rails.

    Raises
    ------
    PanelError
        If nothing is left of the pad, or only one of length and width of the spring unit is given.
    """
    check_dims(dims)
    if (spring_length > 0) != (spring_width > 0):
        raise PanelError(
            "spring_length" if spring_width else "spring_width",
            0.0,
            "both spring_length and spring_width, or neither",
            "Give both sizes of the spring unit.",
        )
    length = spring_length or dims.length + foam_oversize - 2.0 * rail_width
    width = spring_width or dims.width + foam_oversize - 2.0 * rail_width
    limited_by = ("pad_inset", pad_inset) if min(length, width) > 0 else ("rail_width", rail_width)
    return (cut(length - 2.0 * pad_inset, width - 2.0 * pad_inset, material, limited_by=limited_by),)


@generator("fibre layer", materials=("roll", "sheet"))
def fibre_layer(
    dims: Dims,
    material: RollMaterial | SheetMaterial,
    *,
    oversize: Annotated[float, Limit(-500, 500)] = 0.0,
    layers: Count = 1,
    corner_radius: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Wadding or felt laid flat over the core: ``L + o`` by ``W + o``, as many alike as there are layers.

    Source: arithmetic.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The wadding.
    oversize
        Added to length and to width, total per dimension, mm; below 0 for a smaller layer.
    layers
        How many are laid on one bed.
    corner_radius
        Of the cut layer, mm.

    Raises
    ------
    PanelError
        If nothing is left of the layer, it has no layers, or the radius does not fit.
    """
    check_dims(dims)
    if layers < 1:
        raise PanelError("layers", layers, "1 or more", "Give the number of layers, or leave the panel out.")
    length, width = dims.length + oversize, dims.width + oversize
    check_size(length, width, ("oversize", oversize))
    check_radius(corner_radius, width, length)
    outline = rounded_rectangle(length, width, corner_radius) if corner_radius else ()
    return (cut(length, width, material, limited_by=("oversize", oversize), outline=outline, count=layers),)
