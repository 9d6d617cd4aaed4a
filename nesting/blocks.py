"""The foam block that a layout is cut from: one of the sizes bought, or a piece from the shelf.

A layout names its block by its `stock_key`. Everything that draws, lists or counts a layout asks `block_of`
for the measures, skins and price of that very block.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from nesting.errors import LayoutError
from nesting.materials import NO_SKINS
from nesting.model import BlockMaterial, BlockSize, Layout, MaterialPlan, StockPiece, StockUse
from nesting.packing.problem import Block, Skins
from nesting.shelf import alike, shelf_key, worth_of

__all__ = [
    "ONE_SIZE",
    "SHELF",
    "OwnBlock",
    "as_cut",
    "block_of",
    "block_sizes",
    "block_stock",
    "is_long",
    "issue_blocks",
    "layout_block",
    "rest_rate",
]

ONE_SIZE = "block"
"""Key of the new block of a material that is bought in one size."""

SHELF = "shelf "
"""How the keys of pieces from the shelf begin, see `nesting.shelf.shelf_key`; no size is called so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnBlock:
    """The block of a layout.

    Parameters
    ----------
    material
        The foam with the measures, skins and price of this block, and no other sizes.
    size
        Name of the size bought: ``"K1"``; empty where there is only one, and for pieces from the shelf.
    rate
        What a m3 of it is reckoned at: the price of new foam, of rests its share.
    remnant
        Whether it is a rest.
    pieces
        Ids of the pieces from the shelf that are cut so.
    new
        How many new blocks are cut so.
    """

    material: BlockMaterial
    size: str
    rate: float
    remnant: bool = False
    pieces: tuple[str, ...] = ()
    new: int = 0

    @property
    def name(self) -> str:
        """As people look for it: ``"K1"``, ``"remnants B-7, B-9"``, ``"K1: B-3 from the shelf, 2 new"``."""
        ids = ", ".join(self.pieces)
        if self.remnant:
            return f"{'remnant' if len(self.pieces) == 1 else 'remnants'} {ids}"
        if not ids:
            return self.size
        words = f"{ids} from the shelf" + (f", {self.new} new" if self.new else "")
        return f"{self.size}: {words}" if self.size else words

    @property
    def volume(self) -> float:
        """Of the raw block, m3."""
        return self.material.length * self.material.width * self.material.height / 1e9

    @property
    def cost(self) -> float:
        """What the block is reckoned at."""
        return self.volume * self.rate


def block_sizes(material: BlockMaterial) -> tuple[BlockSize, ...]:
    """The sizes in which a foam is bought, with their own skins and prices; one or several."""
    plain = BlockSize(
        name=ONE_SIZE,
        length=material.length,
        width=material.width,
        height=material.height,
        available=material.available,
    )
    return tuple(
        replace(
            size,
            skins=material.skins if size.skins is None else size.skins,
            price=material.price if size.price is None else size.price,
        )
        for size in material.sizes or (plain,)
    )


def _usual_price(material: BlockMaterial) -> float:
    """Price of a m3 of new foam by which pieces on the shelf are reckoned: that of the first size."""
    return block_sizes(material)[0].price or 0.0


def rest_rate(material: BlockMaterial) -> float:
    """What a m3 of a rest is worth, whichever block it comes from."""
    return _usual_price(material) * material.remnant_value


def block_of(material: BlockMaterial, stock_key: str, shelf: Iterable[StockPiece] = ()) -> OwnBlock:
    """The block that a layout with this `stock_key` is cut from.

    A rest has no skins any more, but where it is larger than a block without skins. A foam of one size has
    one new block, whatever its key.

    Parameters
    ----------
    shelf
        Pieces of the shelf, among them those that the plan uses.

    Raises
    ------
    LayoutError
        When there is no such size or piece.
    """
    piece = next((piece for piece in shelf if shelf_key(piece) == stock_key), None)
    if piece is not None:
        own = replace(
            material,
            length=piece.length,
            width=piece.width,
            height=piece.height,
            skins=_skins_left(material, piece) if piece.remnant else material.skins,
            price=_usual_price(material),
            available=1,
            sizes=(),
            cut_to=_cut_to(material, piece),
        )
        rate = _usual_price(material) * worth_of(piece, material)
        return OwnBlock(material=own, size="", rate=rate, remnant=piece.remnant, pieces=(piece.id,))
    sizes = {size.name: size for size in block_sizes(material)}
    size = sizes.get(stock_key)
    if size is None and not material.sizes and not stock_key.startswith(SHELF):
        size = sizes[ONE_SIZE]
    if size is None:
        raise LayoutError(f"{material.key!r}: {stock_key!r} is neither a block size nor on the shelf.")
    own = replace(
        material,
        length=size.length,
        width=size.width,
        height=size.height,
        skins=size.skins or NO_SKINS,
        price=size.price or 0.0,
        available=size.available,
        sizes=(),
    )
    return OwnBlock(material=own, size=size.name if material.sizes else "", rate=own.price, new=1)


def _skins_left(material: BlockMaterial, piece: StockPiece) -> Skins:
    """The skins that a rest must still have: it is larger than the block is without them.

    What is left of a long block has its sides, bottom and top as they were, and one end.
    """
    size = next(
        (s for s in block_sizes(material) if piece.width <= s.width and piece.height <= s.height),
        block_sizes(material)[0],
    )
    full = size.skins or NO_SKINS
    sides = piece.width > size.width - full.y0 - full.y1
    level = piece.height > size.height - full.z0 - full.z1
    ends = piece.length > size.length - full.x0 - full.x1
    long = material.cut_to is not None and sides and level
    return Skins(
        x0=full.x0 if ends else 0.0,
        x1=full.x1 if ends or long else 0.0,
        y0=full.y0 if sides else 0.0,
        y1=full.y1 if sides else 0.0,
        z0=full.z0 if level else 0.0,
        z1=full.z1 if level else 0.0,
    )


def _cut_to(material: BlockMaterial, piece: StockPiece) -> float | None:
    """Longest part that a piece from the shelf is cut to first; None where it is short enough as it is."""
    longest = material.cut_to
    return longest if longest is not None and piece.length > longest else None


def as_cut(material: BlockMaterial, layout: Layout) -> BlockMaterial:
    """The block that a layout is cut from; the part of a long one is a block without end skins."""
    if material.cut_to is None:
        return material
    skins = replace(material.skins, x0=0.0, x1=0.0)
    return replace(material, length=layout.length, cut_to=None, skins=skins)


def is_long(material_plan: MaterialPlan, index: int) -> bool:
    """Whether layout `index` is cut from a part of a long block."""
    material = material_plan.material
    if not isinstance(material, BlockMaterial):
        return False
    key = material_plan.layouts[index].stock_key
    return block_of(material, key, material_plan.shelf).material.cut_to is not None


def layout_block(material_plan: MaterialPlan, index: int) -> OwnBlock:
    """The block of layout `index` of a foam's plan, with the very pieces from the shelf that are cut so.

    Of a long block it is the part that the layout is cut from.
    """
    material, layout = material_plan.material, material_plan.layouts[index]
    assert isinstance(material, BlockMaterial)
    found = block_of(material, layout.stock_key, material_plan.shelf)
    ids = tuple(use.piece for use in material_plan.stock if any(at == index for at, _ in use.cuts))
    opened = layout.repeats if found.material.cut_to is None else layout.stock_count
    own = as_cut(found.material, layout)
    return replace(found, material=own, pieces=ids, new=opened - len(ids))


def _as_new(piece: StockPiece, material: BlockMaterial) -> str | None:
    """Name of the size that a piece on the shelf is a whole block of."""
    if piece.remnant:
        return None
    measures = (piece.length, piece.width, piece.height)
    same = (s.name for s in block_sizes(material) if (s.length, s.width, s.height) == measures)
    return next(same, None)


def _own(material: BlockMaterial, stock: Iterable[StockPiece]) -> list[StockPiece]:
    """The pieces of this foam: a grade is a material, and grades are kept apart. Flaws are of rolls only."""
    return [piece for piece in stock if piece.material == material.key and not piece.flaws]


def block_stock(
    material: BlockMaterial, stock: Sequence[StockPiece] = (), *, new: bool = True
) -> tuple[Block, ...]:
    """The blocks on offer: new ones of every size, and what is on the shelf of this foam.

    Whole blocks on the shelf that are like new ones stand for these, others cost their volume times the
    usual price, rests times `remnant_value` as well. Pieces of other materials are left out.

    Parameters
    ----------
    new
        Whether new blocks may be used; without them only what is on the shelf.
    """
    own = _own(material, stock)
    like_new = [_as_new(piece, material) for piece in own]
    blocks = []
    for size in block_sizes(material):
        there = like_new.count(size.name)
        available = there if not new else None if size.available is None else size.available + there
        volume = size.length * size.width * size.height / 1e9
        # Where foam has no price the least volume is wanted.
        cost = volume * (size.price or 1.0)
        measures = (size.length, size.width, size.height)
        blocks.append(Block(size.name, *measures, cost, available, size.skins, cut_to=material.cut_to))
    for key, pieces in alike(piece for piece in own if _as_new(piece, material) is None).items():
        found = block_of(material, key, pieces)
        cost = found.cost or found.volume * worth_of(pieces[0], material)
        foam = found.material
        measures = (foam.length, foam.width, foam.height)
        blocks.append(Block(key, *measures, cost, len(pieces), foam.skins, cut_to=foam.cut_to))
    return tuple(blocks)


def issue_blocks(
    material: BlockMaterial, layouts: Sequence[Layout], stock: Sequence[StockPiece]
) -> tuple[StockUse, ...]:
    """The pieces from the shelf that layouts are cut from; those like new go before new ones are bought."""
    waiting: dict[str, list[StockPiece]] = {}
    own = _own(material, stock)
    rest = []
    for piece in own:
        name = _as_new(piece, material)
        if name is None:
            rest.append(piece)
        else:
            waiting.setdefault(name, []).append(piece)
    waiting.update({key: list(pieces) for key, pieces in alike(rest).items()})
    uses = []
    for index, layout in enumerate(layouts):
        queue = waiting.get(layout.stock_key, [])
        if block_of(material, layout.stock_key, own).material.cut_to is not None:
            continue
        for piece in queue[: layout.repeats]:
            uses.append(
                StockUse(name=piece.id, cuts=((index, 1),), used=piece.length, rest=0.0, piece=piece.id)
            )
        del queue[: layout.repeats]
    for key in dict.fromkeys(layout.stock_key for layout in layouts):
        if block_of(material, key, own).material.cut_to is None:
            continue
        # Several layouts may lie on one long block, which has a number.
        for number, piece in enumerate(waiting.get(key, []), start=1):
            cuts = tuple(
                (index, layout.repeats // layout.stock_count)
                for index, layout in enumerate(layouts)
                if layout.stock_key == key and 0 <= number - layout.stock_number < layout.stock_count
            )
            if cuts:
                uses.append(StockUse(name=piece.id, cuts=cuts, used=piece.length, rest=0.0, piece=piece.id))
    return tuple(uses)
