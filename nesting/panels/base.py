"""Covering of an upholstered base: border, non-slip top and dust cover, for one base or a split pair."""

from __future__ import annotations

from typing import Literal, TypeAlias

from nesting.model import RollMaterial
from nesting.panels.generator import Count, CutShape, Dims, Length, generator
from nesting.panels.ring import JOIN_CLEARANCE, Direction, Fitting, Ring, ring_strips
from nesting.panels.shaping import check_dims, cut

__all__ = ["Split", "base_border", "dust_cover", "non_slip_top"]

Split: TypeAlias = Literal["none", "side by side", "lengthwise"]
"""One base, two bases of half the width, or two bases of half the length."""


def _bases(dims: Dims, split: Split) -> tuple[Dims, int]:
    """Size of one base and how many there are."""
    if split == "side by side":
        return Dims(dims.width / 2.0, dims.length, dims.height), 2
    if split == "lengthwise":
        return Dims(dims.width, dims.length / 2.0, dims.height), 2
    return dims, 1


@generator("base border", materials=("roll",))
def base_border(
    dims: Dims,
    material: RollMaterial,
    *,
    turnover: Length,
    plain_seam: Length,
    staple: Length,
    split: Split = "none",
    strips: Count = 0,
    direction: Direction = "along",
    join_clearance: Length = JOIN_CLEARANCE,
) -> tuple[CutShape, ...]:
    """Border of an upholstered base, stapled under the frame and turned over its top edge.

    Height ``h + f + s + k``; length ``P + 2 s n``, each of `n` strips ``ceil(total / n)``; square
    corners, no ease. Source: arithmetic on common allowances. Marked are the fold lines at the lower and
    (with a turn-over) upper edge of the frame, and a notch at the upper edge for each corner, where the
    turned-over cloth is mitred.

    Parameters
    ----------
    dims
        Frame, with the finished height of its side (h), mm.
    material
        The base cloth.
    turnover
        Cloth turned over the top edge (f), mm; 0 where the border ends at the edge.
    plain_seam
        Take-up of the seam to the top and of each join (s), mm.
    staple
        Cloth tucked and stapled under the frame (k), mm.
    split
        Whether the bed stands on one base or two.
    strips
        How many strips one base has; 0 for the least number that the roll allows.
    direction
        Whether strips lie along the roll or across it.
    join_clearance
        Wanted distance of joins from corners, mm.

    Raises
    ------
    PanelError
        If a size is absurd or the roll leaves no room for joins.
    """
    check_dims(dims, height=True)
    base, count = _bases(dims, split)
    ring = Ring(base.width, base.length)
    height = base.height + turnover + plain_seam + staple
    folds = [staple] if staple else []
    notches = []
    if turnover:
        folds.append(staple + base.height)
        notches = [Fitting("notch", corner, height, "corner") for corner, _ in ring.corners]
    return ring_strips(
        ring,
        material,
        height=height,
        allowance=2.0 * plain_seam,
        limited_by=("height", dims.height),
        pieces=strips,
        direction=direction,
        fittings=notches,
        folds=folds,
        join_clearance=join_clearance,
        count=count,
    )


@generator("non-slip top", materials=("roll",))
def non_slip_top(
    dims: Dims,
    material: RollMaterial,
    *,
    turnover: Length,
    plain_seam: Length,
    split: Split = "none",
) -> tuple[CutShape, ...]:
    """Non-slip cloth on top of a base, sewn to the turned-over border.

    ``L - 2 f + 2 s`` by ``W - 2 f + 2 s``. Source: arithmetic on common allowances.

    Parameters
    ----------
    dims
        Frame, mm.
    material
        The non-slip cloth.
    turnover
        Cloth of the border turned over the top edge (f), mm.
    plain_seam
        Take-up of the seam on each edge (s), mm.
    split
        Whether the bed stands on one base or two.

    Raises
    ------
    PanelError
        If the turn-over leaves nothing of the top.
    """
    check_dims(dims)
    base, count = _bases(dims, split)
    added = 2.0 * plain_seam - 2.0 * turnover
    return (
        cut(
            base.length + added, base.width + added, material, limited_by=("turnover", turnover), count=count
        ),
    )


@generator("dust cover", materials=("roll",))
def dust_cover(
    dims: Dims,
    material: RollMaterial,
    *,
    cover_inset: Length,
    cover_turn_under: Length,
    split: Split = "none",
) -> tuple[CutShape, ...]:
    """Thin cloth that closes the underside of a base.

    ``L - 2 u + 2 t`` by ``W - 2 u + 2 t``. Source: arithmetic on common allowances.

    Parameters
    ----------
    dims
        Frame, mm.
    material
        The dust cover cloth.
    cover_inset
        How far the finished edge lies inside the edge of the frame (u), mm.
    cover_turn_under
        Cloth turned under at each edge (t), mm; 0 for a raw edge.
    split
        Whether the bed stands on one base or two.

    Raises
    ------
    PanelError
        If the inset leaves nothing of the cover.
    """
    check_dims(dims)
    base, count = _bases(dims, split)
    added = 2.0 * cover_turn_under - 2.0 * cover_inset
    return (
        cut(
            base.length + added,
            base.width + added,
            material,
            limited_by=("cover_inset", cover_inset),
            count=count,
        ),
    )
