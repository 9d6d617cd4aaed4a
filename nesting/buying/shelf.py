"""What stands on the shelf, as a buyer counts it: whole pieces by size, rests only where a part fits."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

from nesting.blocks import block_sizes
from nesting.model import BlockMaterial, Flaw, Material, Panel, RollMaterial, SheetMaterial, StockPiece
from nesting.shelf import as_new

__all__ = ["counted", "fits", "is_rest", "is_stretch", "usual_volume", "worth_at_most"]

ROOM = 1e-6
"""mm; smaller differences are none."""


def is_rest(material: Material, piece: StockPiece) -> bool:
    """Whether a piece counts only where a part fits: a remnant, or a sheet or block of another size.

    A whole roll is counted by its length.
    """
    if isinstance(material, RollMaterial):
        return piece.remnant
    if isinstance(material, BlockMaterial):
        measures = (piece.length, piece.width, piece.height)
        bought = [(size.length, size.width, size.height) for size in block_sizes(material)]
        return piece.remnant or measures not in bought
    return not as_new(piece, material)


def is_stretch(piece: StockPiece) -> bool:
    """Whether flaws cut it into stretches."""
    return bool(piece.flaws)


def counted(material: Material, piece: StockPiece) -> float:
    """What a whole piece stands for: metres of roll of the usual width without its flaws, sheets or blocks.

    A narrower roll counts by its share of the usual width, as plans on real rolls reckon it; a block of
    another size counts by its volume.
    """
    if isinstance(material, BlockMaterial):
        return piece.length * piece.width * piece.height / 1e9 / usual_volume(material)
    if not isinstance(material, RollMaterial):
        return 1.0
    flawed = 0.0
    at = 0.0
    for flaw in sorted(piece.flaws, key=lambda flaw: flaw.x0):  # what lies in two flaws counts once
        low, high = max(flaw.x0, at), min(flaw.x1, piece.length)
        flawed += max(0.0, high - low)
        at = max(at, high)
    return (piece.length - flawed) / 1e3 * min(1.0, piece.width / material.usable_width)


def worth_at_most(material: Material, piece: StockPiece) -> float:
    """The most new material that a piece can save: metres by its share of the width, or whole new ones."""
    if isinstance(material, RollMaterial):
        return counted(material, piece)
    if isinstance(material, BlockMaterial):
        return max(1.0, counted(material, piece))
    whole = material.length * material.width
    own = piece.length * piece.width
    # A whole sheet or block can be saved by less: the last one of a plan is seldom full.
    return max(1.0, own / whole)


def usual_volume(material: BlockMaterial) -> float:
    """Volume of a block as it is bought, m3; of the first size where there are several."""
    size = block_sizes(material)[0]
    return size.length * size.width * size.height / 1e9


def fits(material: Material, panel: Panel, piece: StockPiece) -> bool:
    """Whether a part can be cut from a piece at all: in a turn it may have, clear of trims and flaws.

    Shaped parts are taken for their bounding boxes. Which parts of one product come from one dye lot is left
    to the plan.
    """
    if isinstance(material, BlockMaterial):
        return _fits_block(material, panel, piece)
    lengthwise, across = panel.length, panel.width
    if isinstance(material, RollMaterial) and material.process == "lengths":
        across = 0.0
    turned = any(turn % 180.0 for turn in panel.turns)
    sides = [(lengthwise, across), *([(across, lengthwise)] if turned else [])]
    return any(
        length <= room + ROOM and width <= high + ROOM
        for length, width in sides
        for room, high in _rooms(material, piece)
    )


def _rooms(material: RollMaterial | SheetMaterial, piece: StockPiece) -> Iterator[tuple[float, float]]:
    """Sound rectangles of a piece, length x width; those beside a flaw are not tried."""
    if isinstance(material, RollMaterial):
        at = material.end_loss
        for flaw in [*sorted(piece.flaws, key=lambda flaw: flaw.x0), Flaw(piece.length, piece.length + 1.0)]:
            yield min(flaw.x0, piece.length) - at - material.end_loss, piece.width
            at = max(at, flaw.x1 + material.end_loss)
    else:
        rim = material.trim
        lost = (0.0, 0.0) if piece.remnant else (rim.x0 + rim.x1, rim.y0 + rim.y1)
        yield piece.length - lost[0], piece.width - lost[1]


def _fits_block(material: BlockMaterial, panel: Panel, piece: StockPiece) -> bool:
    """As `fits`. Of a slab that may be glued up smaller parts may fit: that is left to the plan."""
    if panel.glue is not None:
        return True
    skins = material.skins
    lost = (skins.x0 + skins.x1, skins.y0 + skins.y1, skins.z0 + skins.z1)
    room = [
        side - (0.0 if piece.remnant else skin)
        for side, skin in zip((piece.length, piece.width, piece.height), lost, strict=True)
    ]
    flat = (panel.length, panel.width, panel.thickness or 0.0)
    turned = any(turn % 180.0 for turn in panel.turns)
    ways = {flat, *([(flat[1], flat[0], flat[2])] if turned else [])}
    if panel.standing:
        ways = {(x, y, z) for x, y, z in permutations(flat)}
    return any(all(side <= free + ROOM for side, free in zip(way, room, strict=True)) for way in ways)
