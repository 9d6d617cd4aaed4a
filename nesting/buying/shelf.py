"""What stands on the shelf, as a buyer counts it: whole pieces by size, rests only where a part fits."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.model import BlockMaterial, Flaw, Material, Panel, RollMaterial, SheetMaterial, StockPiece
from nesting.shelf import as_new

__all__ = ["counted", "fits", "is_rest", "is_stretch", "worth_at_most"]

ROOM = 1e-6
"""mm; smaller differences are none."""


def is_rest(material: Material, piece: StockPiece) -> bool:
    """Whether a piece counts only where a part fits: a remnant, or a sheet or block of another size.

    A whole roll is counted by its length.
    """
    if isinstance(material, RollMaterial):
        return piece.remnant
    return not as_new(piece, material)


def is_stretch(piece: StockPiece) -> bool:
    """Whether flaws cut it into stretches."""
    return bool(piece.flaws)


def counted(material: Material, piece: StockPiece) -> float:
    """What a whole piece stands for: metres of roll of the usual width without its flaws, or 1.

    A narrower roll counts by its share of the usual width, as plans on real rolls reckon it.
    """
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
    whole = material.length * material.width
    own = piece.length * piece.width
    if isinstance(material, BlockMaterial):
        whole, own = whole * material.height, own * (piece.height or material.height)
    # A whole sheet or block can be saved by less: the last one of a plan is seldom full.
    return max(1.0, own / whole)


def fits(material: Material, panel: Panel, piece: StockPiece) -> bool:
    """Whether a part can be cut from a piece at all: in a turn it may have, clear of trims and flaws.

    Shaped parts are taken for their bounding boxes. Which parts of one product come from one dye lot is left
    to the plan.
    """
    lengthwise, across = panel.length, panel.width
    if isinstance(material, RollMaterial) and material.process == "lengths":
        across = 0.0
    turned = any(turn % 180.0 for turn in panel.turns)
    sides = [(lengthwise, across), *([(across, lengthwise)] if turned else [])]
    return any(
        length <= room + ROOM and width <= high + ROOM
        for length, width in sides
        for room, high in _rooms(material, panel, piece)
    )


def _rooms(material: Material, panel: Panel, piece: StockPiece) -> Iterator[tuple[float, float]]:
    """Sound rectangles of a piece, length x width; those beside a flaw are not tried."""
    if isinstance(material, RollMaterial):
        at = material.end_loss
        for flaw in [*sorted(piece.flaws, key=lambda flaw: flaw.x0), Flaw(piece.length, piece.length + 1.0)]:
            yield min(flaw.x0, piece.length) - at - material.end_loss, piece.width
            at = max(at, flaw.x1 + material.end_loss)
    elif isinstance(material, SheetMaterial):
        rim = material.trim
        lost = (0.0, 0.0) if piece.remnant else (rim.x0 + rim.x1, rim.y0 + rim.y1)
        yield piece.length - lost[0], piece.width - lost[1]
    else:
        skins = material.skins
        height = (piece.height or material.height) - (0.0 if piece.remnant else skins.z0 + skins.z1)
        if (panel.thickness or 0.0) <= height + ROOM:
            lost = (0.0, 0.0) if piece.remnant else (skins.x0 + skins.x1, skins.y0 + skins.y1)
            yield piece.length - lost[0], piece.width - lost[1]
