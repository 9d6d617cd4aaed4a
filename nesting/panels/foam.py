"""Foam parts of the core: slabs, convoluted pads, rails that meet at the corners, edge strips.

Foam from a block is a slab with a thickness; slabs are sawn as rectangles. From a sheet or roll of foam
the thickness is the material's own, and outlines are cut as they are.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from nesting.model import BlockMaterial, Mark, Material
from nesting.panels.generator import Cost, Count, CutShape, Dims, Flag, Length, PanelError, Rate, generator
from nesting.panels.geometry import trapezoid
from nesting.panels.gluing import joined, laminated
from nesting.panels.shaping import check_dims, cut, merged, positive, tenths

__all__ = ["convoluted_pad", "edge_support", "foam_rails", "foam_slab"]


MOST_LAYERS = 6
"""Most slabs in one lamination (own choice)."""

MOST_JOINS = 3
"""Most joints in one layer (own choice; 1 or 2 are common practice)."""


@generator("foam slab", materials=("roll", "sheet", "block"))
def foam_slab(
    dims: Dims,
    material: Material,
    *,
    foam_oversize: Length,
    thickness: Length,
    thicknesses: tuple[Length, ...] = (),
    thickness_oversize: Rate = 0.0,
    inset: Length = 0.0,
    laminate_from: tuple[Length, ...] = (),
    most_layers: Count = 3,
    laminated_only: Flag = False,
    joins: Count = 0,
    joint_line: Literal["across", "along"] = "across",
    least_piece: Length = 150.0,
    joint_from_edge: Length = 250.0,
    joint_apart: Length = 100.0,
    joint_keep_clear: tuple[tuple[Length, Length], ...] = (),
    layer: Count = 1,
    joint_cost: Cost = 0.0,
) -> tuple[CutShape, ...]:
    """Foam core or comfort layer, in one slab or glued up from several.

    ``L + o - 2 i`` by ``W + o - 2 i``, thickness ``T (1 + share)``. An oversize of 5 to 20 for a
    compression fit, comfort layers set in 0 to 5 on each side, and 0 to 5 % more thickness under a tight
    cover are common practice. Source: arithmetic.

    A slab from a block may be glued up where that saves foam, and only as the range file allows:
    `laminate_from` from thinner slabs, `joins` from pieces side by side. Pieces of 100 to 150 at least,
    one or two joints, away from shoulders, hips and edges, of one grade and batch, and subject to the
    product's fire approval, are common practice; the defaults are our own choice.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The foam.
    foam_oversize
        Oversize of the plan, total per dimension (o), mm.
    thickness
        Of the whole, after the drawing (T), mm.
    thicknesses
        Of the slabs it is laminated from, mm, adding up to `thickness`; empty for one slab.
    thickness_oversize
        Share added to each thickness.
    inset
        How much smaller the slab is on each side (i), mm.
    laminate_from
        Thicknesses of slabs that it may be laminated from instead, mm; the plan takes what costs least.
    most_layers
        Most slabs in one lamination.
    laminated_only
        It must be laminated, though it could be cut in one piece.
    joins
        Most joints in one layer.
    joint_line
        Joints across the bed, measured from the head end, or along it, measured from the left side.
    least_piece
        Smallest piece, mm.
    joint_from_edge
        No joint nearer to an end (or side), mm.
    joint_apart
        Least distance from the joint of the layer above or below, mm. Layers with joints take turns, see
        `nesting.panels.gluing`; joints that cross are not kept apart.
    joint_keep_clear
        Stretches without joints, from and to, mm, such as those of shoulders and hips.
    layer
        Which of the layers with joints it is, from 1; 0: its place among them in the model, which must then
        be listed in the order in which they lie.
    joint_cost
        Money for one joint.

    Raises
    ------
    PanelError
        If nothing is left of the slab, the thicknesses do not add up, slabs of different thickness are
        asked from one roll or sheet, or what is asked of gluing makes no sense.
    """
    check_dims(dims)
    positive("thickness", thickness)
    _check_gluing(material, thicknesses, laminate_from, joins, most_layers, laminated_only)
    if thicknesses and tenths(sum(thicknesses)) != tenths(thickness):
        raise PanelError(
            "thicknesses",
            thicknesses,
            f"slabs that add up to {thickness:g} mm; these add up to {sum(thicknesses):g}",
            "Correct the thickness or the slabs.",
        )
    if not isinstance(material, BlockMaterial) and len(set(thicknesses)) > 1:
        raise PanelError(
            "thicknesses",
            thicknesses,
            f"slabs of one thickness: {material.name!r} has no other",
            "Make a panel of its own for each material.",
        )
    slabs = [
        cut(
            dims.length + foam_oversize - 2.0 * inset,
            dims.width + foam_oversize - 2.0 * inset,
            material,
            limited_by=("inset", inset),
            thickness=layer_thickness * (1.0 + thickness_oversize),
        )
        for layer_thickness in thicknesses or (thickness,)
    ]
    if laminate_from:
        glue = laminated(
            thickness,
            laminate_from,
            most_layers,
            thickness_oversize,
            only=laminated_only,
            cost=joint_cost,
        )
        return (replace(slabs[0], glue=glue),)
    if joins:
        glue = joined(
            slabs[0].length if joint_line == "across" else slabs[0].width,
            joint_line,
            joins,
            least=positive("least_piece", least_piece),
            from_edge=joint_from_edge,
            apart=joint_apart,
            keep_clear=joint_keep_clear,
            layer=layer,
            cost=joint_cost,
        )
        return (replace(slabs[0], glue=glue),)
    return merged(slabs, "slab")


def _check_gluing(
    material: Material,
    thicknesses: tuple[float, ...],
    laminate_from: tuple[float, ...],
    joins: int,
    most_layers: int,
    laminated_only: bool,
) -> None:
    """Refuse what cannot be meant: one way of gluing at most, and foam from blocks."""
    if laminated_only and not laminate_from:
        raise PanelError("laminated_only", True, "true only with laminate_from", "Add laminate_from.")
    if laminate_from and not 2 <= most_layers <= MOST_LAYERS:
        raise PanelError("most_layers", most_layers, f"2 to {MOST_LAYERS}", "Correct the number.")
    if joins > MOST_JOINS:
        raise PanelError("joins", joins, f"0 to {MOST_JOINS}", "Allow fewer joints.")
    name, value = ("joins", joins) if joins else ("laminate_from", laminate_from)
    if not value:
        return
    if not isinstance(material, BlockMaterial):
        raise PanelError(name, value, f"foam from a block; {material.name!r} is none", "Take it out.")
    if thicknesses or (joins and laminate_from):
        raise PanelError(
            name,
            value,
            "one of thicknesses, laminate_from and joins",
            "Make a panel of its own of each layer that may have joints.",
        )


@generator("convoluted pad", materials=("block",))
def convoluted_pad(
    dims: Dims,
    material: BlockMaterial,
    *,
    foam_oversize: Length,
    thickness: Length,
    peak: Length,
    pads: Count = 2,
    inset: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Slabs from which profiled pads are split, two interlocking pads from each.

    A pad of overall thickness `a` with peaks `p` has a base ``b = a - p``; two of them fill a slab of
    ``T = 2 b + p = 2 a - p``. Half as many slabs are cut as pads are wanted over all orders. Each pad has
    half the volume of its slab. Source: arithmetic.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The foam block.
    foam_oversize
        Oversize of the plan, total per dimension, mm.
    thickness
        Overall thickness of one pad (a), mm.
    peak
        Height of its peaks (p), mm.
    pads
        How many pads one bed has.
    inset
        How much smaller the pad is on each side, mm.

    Raises
    ------
    PanelError
        If there is no pad, peaks are not lower than the pad, or nothing is left of the slab.
    """
    check_dims(dims)
    positive("thickness", thickness)
    if not 0 < peak < thickness:
        raise PanelError("peak", peak, f"above 0 and less than {thickness:g} mm", "Give lower peaks.")
    if pads < 1:
        raise PanelError("pads", pads, "1 or more", "Give the number of pads, or leave the panel out.")
    note = f"Split into two interlocking pads {thickness:g} thick, peaks {peak:g}."
    return (
        cut(
            dims.length + foam_oversize - 2.0 * inset,
            dims.width + foam_oversize - 2.0 * inset,
            material,
            limited_by=("inset", inset),
            thickness=2.0 * thickness - peak,
            count=pads,
            note=note,
            per_slab=2,
        ),
    )


@generator("foam rails", materials=("roll", "sheet", "block"))
def foam_rails(
    dims: Dims,
    material: Material,
    *,
    foam_oversize: Length,
    rail_width: Length,
    rail_height: Length,
    corners: Literal["butt", "mitred", "blocks"] = "butt",
    corner_leg: Length = 0.0,
    standing: Flag = False,
) -> tuple[CutShape, ...]:
    """Four foam rails round a spring unit or softer core.

    With ``L' = L + o`` and ``W' = W + o``: butt corners, two rails L' and two ``W' - 2 w`` long; mitred
    corners, two L' and two W' long with ends at 45 degrees; corner blocks with legs b between them, two
    ``L' - 2 b`` and two ``W' - 2 b`` long. Source: arithmetic; rails 75 to 100 wide are common practice.
    A slab from a block is sawn square and its mitres are marked.

    Parameters
    ----------
    dims
        Finished mattress, mm.
    material
        The foam.
    foam_oversize
        Oversize of the plan, total per dimension (o), mm.
    rail_width
        Width of the rails (w), mm.
    rail_height
        Height of the rails, which is the thickness of the slab, mm.
    corners
        How the rails meet.
    corner_leg
        Leg of separate corner blocks (b), mm; only with ``corners = "blocks"``.
    standing
        Whether rails may stand on their side or end in the block: their grain does not matter.

    Raises
    ------
    PanelError
        If rails or corner blocks leave no opening, or the leg does not go with the kind of corner.
    """
    check_dims(dims)
    length, width = dims.length + foam_oversize, dims.width + foam_oversize
    half = min(length, width) / 2.0
    if not 0 < rail_width < half:
        raise PanelError(
            "rail_width", rail_width, f"above 0 and less than {half:g} mm", "Give narrower rails."
        )
    if corners != "blocks" and corner_leg:
        raise PanelError("corner_leg", corner_leg, '0 unless corners = "blocks"', "Leave it out.")
    if corners == "blocks" and not rail_width <= corner_leg < half:
        raise PanelError(
            "corner_leg",
            corner_leg,
            f"from the rail width, {rail_width:g}, to less than {half:g} mm",
            "Give the leg of the corner blocks.",
        )
    off_side = 2.0 * corner_leg
    off_end = 2.0 * rail_width if corners == "butt" else 2.0 * corner_leg

    def rail(size: float, suffix: str, title: str) -> CutShape:
        outline = trapezoid(size, rail_width) if corners == "mitred" else ()
        marks: tuple[Mark, ...] = ()
        note = ""
        if outline and isinstance(material, BlockMaterial):
            right, inner_right, inner_left = outline[1], outline[2], outline[3]
            marks = tuple(
                Mark("seam", line, "mitre") for line in ((outline[0], inner_left), (right, inner_right))
            )
            outline = ()
            note = "Saw both ends to 45 degrees along the marked lines."
        return cut(
            size,
            rail_width,
            material,
            limited_by=("rail_width", rail_width),
            outline=outline,
            thickness=rail_height,
            count=2,
            suffix=suffix,
            title=title,
            marks=marks,
            note=note,
            standing=standing,
        )

    return rail(length - off_side, "-L", "side rail"), rail(width - off_end, "-W", "end rail")


@generator("edge support", materials=("roll", "sheet", "block"))
def edge_support(
    dims: Dims,
    material: Material,
    *,
    strip_width: Length,
    strip_length: Length = 0.0,
    thickness: Length = 0.0,
    strips: Count = 2,
    inset: Length = 0.0,
    standing: Flag = False,
) -> tuple[CutShape, ...]:
    """Firm foam strips along the sides of a base or mattress.

    Each is `strip_length` (or the bed length ``L``) less the inset at both ends. Source: arithmetic.

    Parameters
    ----------
    dims
        Finished base or mattress, mm.
    material
        The foam.
    strip_width
        Width of a strip, mm.
    strip_length
        Length before the inset, mm; 0 for the bed length.
    thickness
        Of the slab, mm; needed for blocks only.
    strips
        How many one bed has.
    inset
        How far a strip stays back at each end, mm.
    standing
        Whether strips may stand on their side or end in the block: their grain does not matter.

    Raises
    ------
    PanelError
        If there is no strip or nothing is left of it.
    """
    check_dims(dims)
    if strips < 1:
        raise PanelError("strips", strips, "1 or more", "Give the number of strips, or leave the panel out.")
    return (
        cut(
            (strip_length or dims.length) - 2.0 * inset,
            positive("strip_width", strip_width),
            material,
            limited_by=("inset", inset),
            thickness=thickness,
            count=strips,
            standing=standing,
        ),
    )
