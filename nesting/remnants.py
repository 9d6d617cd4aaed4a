"""Which rests of sheets and blocks are worth keeping."""

from __future__ import annotations

from nesting.model import BlockMaterial, SheetMaterial

__all__ = ["worth_keeping"]


def worth_keeping(
    material: SheetMaterial | BlockMaterial, length: float, width: float, height: float
) -> bool:
    """Whether a rest of this size, mm, is as large as the material's smallest useful rest.

    It may be turned about the upright axis; the height only counts for blocks.
    """
    long, short = max(length, width), min(length, width)
    if long < material.min_remnant_length or short < material.min_remnant_width:
        return False
    return isinstance(material, SheetMaterial) or height >= material.min_remnant_height
