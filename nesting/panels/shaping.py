"""From a size in finished millimetres to a shape that is cut from a given material.

Said once for all generators: how contraction is added, how sizes are rounded, what a slab needs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from nesting.model import BlockMaterial, Mark, Material, Point, RollMaterial
from nesting.panels.generator import CutShape, Dims, PanelError

__all__ = [
    "SMALLEST_PART",
    "check_dims",
    "check_radius",
    "check_size",
    "contraction",
    "cut",
    "merged",
    "midpoints",
    "positive",
    "tenths",
    "whole_mm_up",
]

SMALLEST_PART = 1.0
"""A part shorter or narrower than this is taken for a slip of the figures, mm (our own choice)."""

_NOISE = 1e-6
"""Floating-point noise that must not push a size up to the next whole mm."""


def whole_mm_up(value: float) -> float:
    """Cloth is cut to the next whole mm: too large by a hair can be trimmed, too small cannot."""
    return float(math.ceil(value - _NOISE))


def tenths(value: float) -> float:
    """Boards and foam are sawn to a stop: sizes are kept to the nearest 0.1 mm."""
    return round(value, 1)


def contraction(material: Material) -> tuple[float, float]:
    """Share lost along and across the material when it is quilted after cutting; 0 unless a roll."""
    if isinstance(material, RollMaterial):
        return material.contraction_along, material.contraction_across
    return 0.0, 0.0


def positive(parameter: str, value: float) -> float:
    """Return `value` when it is a usable measure.

    Raises
    ------
    PanelError
        If it is below `SMALLEST_PART` or not a finite number.
    """
    if not SMALLEST_PART <= value < math.inf:
        raise PanelError(parameter, value, f"at least {SMALLEST_PART:g} mm", f"Give the {parameter} in mm.")
    return value


def check_dims(dims: Dims, *, height: bool = False) -> None:
    """Check the finished width and length, and the height where a part depends on it.

    Raises
    ------
    PanelError
        If one is below `SMALLEST_PART` or not a finite number.
    """
    positive("width", dims.width)
    positive("length", dims.length)
    if height:
        positive("height", dims.height)


def check_radius(radius: float, width: float, length: float) -> None:
    """Check that four corners of this radius fit a finished width and length, mm.

    Raises
    ------
    PanelError
        If the radius is negative or more than half the shorter side.
    """
    most = min(width, length) / 2.0
    if not 0 <= radius <= most:
        raise PanelError(
            "corner_radius", radius, f"0 to {most:g} mm, half the shorter side", "Give a smaller radius."
        )


def check_size(length: float, width: float, limited_by: tuple[str, float]) -> None:
    """Check that allowances have left something to cut.

    Parameters
    ----------
    length, width
        What is left, mm.
    limited_by
        Name and value of the parameter to blame.

    Raises
    ------
    PanelError
        If one is below `SMALLEST_PART` or not a finite number.
    """
    if not (SMALLEST_PART <= length < math.inf and SMALLEST_PART <= width < math.inf):
        parameter, value = limited_by
        raise PanelError(
            parameter,
            value,
            f"values that leave a part; these give {length:.1f} x {width:.1f} mm",
            f"Check {parameter} against the size of the bed.",
        )


def cut(
    length: float,
    width: float,
    material: Material,
    *,
    limited_by: tuple[str, float],
    outline: Sequence[Point] = (),
    thickness: float = 0.0,
    count: int = 1,
    suffix: str = "",
    title: str = "",
    marks: Iterable[Mark] = (),
    note: str = "",
    per_slab: int = 1,
    standing: bool = False,
) -> CutShape:
    """Shape to cut so that a part of this size results.

    On rolls both directions are divided by ``1 - q``, `q` being the contraction of the cloth in that
    direction (source: arithmetic; never a percentage added), and rounded up to the whole mm. On sheets
    and blocks sizes are kept to 0.1 mm. Outline and marks are stretched with the box.

    Parameters
    ----------
    length, width
        Size wanted along and across the material, allowances included, mm.
    material
        What it is cut from.
    limited_by
        Name and value of the parameter to blame when nothing is left.
    outline
        Outline in a box of `length` by `width`; empty for a rectangle.
    thickness
        Of the slab, mm; used for blocks, where it must be above 0.
    count, suffix, title, note, per_slab
        As in `CutShape`.
    marks
        Marks in the same box as the outline.
    standing
        Whether a slab may stand on its side or end in the block: it has no outline then, and its grain does
        not matter (sheets for sleeping surfaces stay level; common practice).

    Raises
    ------
    PanelError
        If length, width or (for blocks) thickness is below `SMALLEST_PART`, or something is to stand that
        cannot.
    """
    if standing and (outline or not isinstance(material, BlockMaterial)):
        raise PanelError(
            "standing", True, "true for plain slabs from a block only", "Take the line out, or write false."
        )
    check_size(length, width, limited_by)
    lost_along, lost_across = contraction(material)
    rounded = whole_mm_up if isinstance(material, RollMaterial) else tenths
    cut_length, cut_width = rounded(length / (1.0 - lost_along)), rounded(width / (1.0 - lost_across))
    stretch_x, stretch_y = cut_length / length, cut_width / width
    return CutShape(
        length=cut_length,
        width=cut_width,
        thickness=tenths(positive("thickness", thickness)) if isinstance(material, BlockMaterial) else None,
        outline=tuple((round(x * stretch_x, 6), round(y * stretch_y, 6)) for x, y in outline),
        count=count,
        suffix=suffix,
        title=title,
        # Marks are drawn, not cut: tenths are enough and make equal parts compare equal.
        marks=tuple(
            replace(
                mark, points=tuple((tenths(x * stretch_x), tenths(y * stretch_y)) for x, y in mark.points)
            )
            for mark in marks
        ),
        note=note,
        per_slab=per_slab,
        standing=standing,
    )


def midpoints(length: float, width: float) -> tuple[Mark, ...]:
    """Notches at the middle of each side of a box, mm, by which panels are centred when sewing."""
    middles = ((length / 2.0, 0.0), (length, width / 2.0), (length / 2.0, width), (0.0, width / 2.0))
    return tuple(Mark("notch", (point,)) for point in middles)


def merged(shapes: Iterable[CutShape], title: str) -> tuple[CutShape, ...]:
    """Equal shapes counted together; those that differ are numbered ``-1``, ``-2`` in order.

    Parameters
    ----------
    shapes
        Without suffix and title; counts are added up.
    title
        What one of them is called: ``"strip"``.
    """
    counts: dict[CutShape, int] = {}
    for shape in shapes:
        alike = replace(shape, count=1)
        counts[alike] = counts.get(alike, 0) + shape.count
    if len(counts) == 1:
        return tuple(replace(shape, count=count) for shape, count in counts.items())
    return tuple(
        replace(shape, count=count, suffix=f"-{number}", title=f"{title} {number}")
        for number, (shape, count) in enumerate(counts.items(), start=1)
    )
