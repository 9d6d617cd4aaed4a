"""The check of what stock is issued: every ply lies on a real roll, clear of its end, its flaws and others.

It measures anew what `nesting.spreading` has laid out, and shares none of its reckoning.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from nesting.errors import LayoutError
from nesting.model import Demand, Layout, Material, RollMaterial, StockPiece, StockUse
from nesting.places import extents
from nesting.shelf import own_material

__all__ = ["verify_issue"]

NOISE = 1e-6
"""mm."""


def verify_issue(
    material: Material,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    uses: Sequence[StockUse],
    stock: Sequence[StockPiece],
    wanted: Counter[str],
) -> None:
    """Check the stock that layouts are cut from.

    Parameters
    ----------
    wanted
        How many of each piece the answer cuts.

    Raises
    ------
    LayoutError
        Naming the first fault.
    """
    cut: Counter[str] = Counter()
    for layout in layouts:
        for placement in layout.placements:
            cut[placement.key] += layout.repeats
    if cut != wanted:
        raise LayoutError(f"{material.key}: {cut} are cut in the place of {wanted}.")
    pieces = {piece.id: piece for piece in stock}
    names = Counter(use.piece for use in uses if use.piece)
    for name, times in names.items():
        if times > 1 or name not in pieces:
            raise LayoutError(f"{material.key}: {name!r} is issued {times} times; it is there once at most.")
    plies: Counter[int] = Counter()
    for use in uses:
        for index, count in use.cuts:
            plies[index] += count
        if isinstance(material, RollMaterial):
            _check_roll(material, demands, layouts, use, pieces.get(use.piece))
    for index, layout in enumerate(layouts):
        listed = isinstance(material, RollMaterial)
        if plies[index] > layout.repeats or (listed and plies[index] < layout.repeats):
            found = f"{plies[index]} of layout {index + 1} are issued"
            raise LayoutError(f"{material.key}: {found}; it is cut {layout.repeats} times.")


def _check_roll(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    use: StockUse,
    piece: StockPiece | None,
) -> None:
    """The plies of one roll follow one another on its length, and no piece lies on a flaw."""
    own = own_material(material, piece)
    assert isinstance(own, RollMaterial)
    where = f"{material.key}, roll {use.name!r}"
    if abs(use.used + use.rest - own.roll_length) > 10 * NOISE or use.rest < -NOISE:
        raise LayoutError(f"{where}: {use.used} are used and {use.rest} left of {own.roll_length} mm.")
    if not use.starts:
        return
    end = 0.0
    for (index, count), start in zip(use.cuts, use.starts, strict=True):
        boxes = extents(demands, layouts[index])
        lay = max(box[2] for box in boxes) if material.process == "lengths" else layouts[index].length
        step = max(lay + 2 * material.end_loss, lay + material.gap)
        for ply in range(count):
            begin = start + ply * step
            if begin < end - NOISE:
                raise LayoutError(f"{where}: a ply begins at {begin}, before the end of another at {end}.")
            end = begin + lay + 2 * material.end_loss
            for x0, y0, x1, y1 in boxes if piece is not None and material.process != "lengths" else ():
                assert piece is not None
                if y1 > piece.width + NOISE:
                    raise LayoutError(f"{where}: a piece reaches to {y1} of {piece.width} mm across.")
                for flaw in piece.flaws:
                    top = piece.width if flaw.y1 is None else flaw.y1
                    left, right = begin + material.end_loss + x0, begin + material.end_loss + x1
                    along = min(right, flaw.x1) - max(left, flaw.x0)
                    across = min(y1, top) - max(y0, flaw.y0)
                    if along > NOISE and across > NOISE:
                        raise LayoutError(f"{where}: a piece lies on the flaw from {flaw.x0} to {flaw.x1}.")
    if end > use.used + NOISE:
        raise LayoutError(f"{where}: the last ply ends at {end}, but {use.used} are used.")
