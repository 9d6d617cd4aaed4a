"""What the layouts of a plan are cut from, where that is a real piece from the shelf and not a new one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from nesting.materials import NO_TRIM
from nesting.model import Material, MaterialPlan, RollMaterial, SheetMaterial, StockPiece, StockUse

__all__ = ["alike", "as_new", "from_shelf", "own_material", "shelf_key", "width_share", "worth_of"]


def shelf_key(piece: StockPiece) -> str:
    """Key of a piece in a packing problem; never that of new material, whatever people call their pieces."""
    return f"shelf {piece.id}"


def alike(stock: Iterable[StockPiece]) -> dict[str, tuple[StockPiece, ...]]:
    """Pieces of one material by the key of the first of those that are as good as each other.

    They have the same measures, and no flaws; whatever has flaws is like no other.
    """
    groups: dict[object, list[StockPiece]] = {}
    for piece in stock:
        measures = (piece.length, piece.width, piece.height, piece.remnant)
        groups.setdefault(piece.id if piece.flaws else measures, []).append(piece)
    return {shelf_key(group[0]): tuple(group) for group in groups.values()}


def as_new(piece: StockPiece, material: Material) -> bool:
    """Whether a piece is like what one buys: whole, of the nominal size, without flaws."""
    if piece.remnant or piece.flaws:
        return False
    if isinstance(material, RollMaterial):
        return piece.width == material.usable_width and piece.length == material.roll_length
    same = (piece.length, piece.width) == (material.length, material.width)
    return same and (isinstance(material, SheetMaterial) or piece.height == material.height)


def worth_of(piece: StockPiece, material: Material) -> float:
    """Worth of so much of a piece as of new material, as a share of the latter's price."""
    return material.remnant_value if piece.remnant else 1.0


def width_share(piece: StockPiece, material: RollMaterial) -> float:
    """Usable width of a roll as a share of the usual one: what its metre is reckoned at."""
    return piece.width / material.usable_width


def own_material(material: Material, piece: StockPiece | None) -> Material:
    """The material with the measures of one piece in the place of the nominal ones.

    A rest has no trims and edges any more: its whole size is usable. The full width of a roll that is no
    rest is the nominal one; what is measured is its usable width.
    """
    if piece is None:
        return material
    if isinstance(material, RollMaterial):
        full = piece.width if piece.remnant else max(material.width, piece.width)
        return replace(material, width=full, measured_width=piece.width, roll_length=piece.length)
    if isinstance(material, SheetMaterial):
        trim = NO_TRIM if piece.remnant else material.trim
        return replace(material, length=piece.length, width=piece.width, trim=trim)
    return material


def from_shelf(plan: MaterialPlan, index: int) -> StockPiece | None:
    """A piece from the shelf that layout `index` is cut from; None when all of it is new.

    Where there are several they are alike as far as the layout goes: as wide, and with the same flaws
    below it.
    """
    return _first(plan.stock, plan.shelf, index)


def _first(stock: Sequence[StockUse], shelf: Iterable[StockPiece], index: int) -> StockPiece | None:
    pieces = {piece.id: piece for piece in shelf}
    used = (use.piece for use in stock if use.piece and any(at == index for at, _ in use.cuts))
    return next((pieces[piece] for piece in used), None)
