"""Where the material goes: pieces, losses by cause, remnants. Every account adds up.

Loss factors multiply and are reckoned on what is really consumed, as in marker making (common
practice): efficiency is piece area over marker area on the usable width, utilisation is piece area
over all cloth taken from the roll.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import assert_never

from nesting.blocks import as_cut, block_of
from nesting.longblocks import kept_rest, long_blocks
from nesting.model import (
    BlockMaterial,
    CutNode,
    Demand,
    Figures,
    Layout,
    Loss,
    Material,
    Panel,
    Remnant,
    RollMaterial,
    SheetMaterial,
    StockPiece,
    StockUse,
)
from nesting.places import box_of
from nesting.remnants import worth_keeping
from nesting.reports.rolls import RollShare, roll_shares, sound_stretches
from nesting.shelf import own_material, worth_of

__all__ = ["account", "remnants_of"]

ROUNDING = 1e-9
"""Amounts closer to 0 than this (m2 or m3) are float noise."""


@dataclass(frozen=True, slots=True)
class _Placed:
    """What all layouts hold together, m2 or m3."""

    pieces: float
    """True size of the pieces."""
    boxes: float
    """Their bounding boxes."""
    count: int


def _placed(demands: Sequence[Demand], layouts: Sequence[Layout], *, solid: bool) -> _Placed:
    panel_of = {demand.key: demand.panel for demand in demands}
    pieces = boxes = 0.0
    count = 0
    for layout in layouts:
        for placement in layout.placements:
            panel = panel_of[placement.key]
            length, width = box_of(panel, placement.turn)
            height = (panel.thickness or 0.0) / 1e3 if solid else 1.0
            pieces += panel.area * height * layout.repeats
            boxes += length * width / 1e6 * height * layout.repeats
        boxes += _shared(panel_of, layout) * layout.repeats
        count += len(layout.placements) * layout.repeats
    return _Placed(pieces, boxes, count)


def _shared(panel_of: Mapping[str, Panel], layout: Layout) -> float:
    """What boxes that two pieces share have more than the boxes of the two, m3: below 0 as a rule."""
    more = 0.0
    for leaf in _leaves(layout.cuts) if layout.cuts else ():
        if leaf.piece is None or leaf.pair is None:
            continue
        more += leaf.length * leaf.width * leaf.height / 1e9
        for at in (leaf.piece, leaf.pair):
            panel = panel_of[layout.placements[at].key]
            length, width = box_of(panel, layout.placements[at].turn)
            more -= length * width / 1e6 * (panel.thickness or 0.0) / 1e3
    return more


def account(
    material: Material,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    stock: Sequence[StockUse],
    *,
    value: float,
    bound: float,
    shelf: Sequence[StockPiece] = (),
) -> Figures:
    """Add up one material's plan.

    Parameters
    ----------
    stock
        The rolls that the layouts are cut from; of sheets and blocks, which are opened whole, those from the
        shelf.
    value, bound
        What the solver minimised, and its proven bound.
    shelf
        The pieces from the shelf that `stock` refers to.
    """
    pieces = {piece.id: piece for piece in shelf}
    if isinstance(material, RollMaterial):
        shares = roll_shares(material, demands, layouts, stock, pieces)
        return _roll_account(material, demands, layouts, shares, value, bound)
    if isinstance(material, SheetMaterial):
        opened = _opened_sheets(material, layouts, stock, pieces)
        return _stock_account(material, demands, layouts, list(opened), value, bound)
    if isinstance(material, BlockMaterial):
        if material.cut_to is not None:
            return _long_account(material, demands, layouts, value, bound, shelf)
        opened = _opened_blocks(material, layouts, shelf)
        return _stock_account(material, demands, layouts, list(opened), value, bound)
    assert_never(material)


def _gap(value: float, bound: float) -> float:
    return (value - bound) / value if value > 0 else 0.0


def _losses(**amounts: float) -> tuple[Loss, ...]:
    """Named losses (underscores for spaces) without those that are nothing."""
    return tuple(
        Loss(cause.replace("_", " "), amount) for cause, amount in amounts.items() if amount > ROUNDING
    )


def _roll_account(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    rolls: Sequence[RollShare],
    value: float,
    bound: float,
) -> Figures:
    placed = _placed(demands, layouts, solid=False)
    marker = sum(roll.markers * roll.usable for roll in rolls)
    # Sound stretches between flaws go back on the shelf, as roll ends do.
    taken = [(roll, roll.used - roll.kept + roll.short_end) for roll in rolls]
    consumed = sum(length * roll.width for roll, length in taken)
    kerf = sum(_kerf(layout.cuts) * layout.repeats for layout in layouts if layout.cuts) / 1e6
    flawed = sum(roll.flaws_in_markers for roll in rolls)
    flaws_skipped = sum(roll.flaws_skipped for roll in rolls)
    skipped = sum(roll.skipped * roll.usable for roll in rolls) - flaws_skipped
    losses = _losses(
        edge_trim=sum((roll.used - roll.kept) * (roll.width - roll.usable) for roll in rolls),
        ends_of_plies=sum(roll.ends * roll.usable for roll in rolls),
        cut_width=kerf,
        flaws=flawed + flaws_skipped,
        skipped_for_flaws=skipped,
        around_shaped_pieces=placed.boxes - placed.pieces,
        between_pieces=marker - placed.boxes - kerf - flawed,
        roll_ends_too_short=sum(roll.short_end * roll.width for roll in rolls),
    )
    return Figures(
        unit="m2",
        stock_count=len(rolls),
        roll_length=sum(length for _, length in taken),
        consumed=consumed,
        pieces=placed.pieces,
        losses=losses,
        remnants=0.0,
        efficiency=placed.pieces / marker if marker else 0.0,
        utilisation=placed.pieces / consumed if consumed else 0.0,
        bound=bound,
        value=value,
        gap=_gap(value, bound),
        cost=sum(length * roll.rate for roll, length in taken) * material.price,
        mass=consumed * material.mass,
        piece_count=placed.count,
    )


@dataclass(frozen=True, slots=True)
class _Opened:
    """Sheets or blocks that are opened: the material with their own measures, the cost of one, how many."""

    own: SheetMaterial | BlockMaterial
    cost: float
    count: int

    @property
    def raw(self) -> float:
        """Area or volume of one, mm2 or mm3."""
        return self.own.length * self.own.width * self._heights[0]

    @property
    def usable(self) -> float:
        """The same without its trims or skins."""
        rim = self.own.trim if isinstance(self.own, SheetMaterial) else self.own.skins
        flat = (self.own.length - rim.x0 - rim.x1) * (self.own.width - rim.y0 - rim.y1)
        return flat * self._heights[1]

    @property
    def _heights(self) -> tuple[float, float]:
        if isinstance(self.own, SheetMaterial):
            return 1.0, 1.0
        return self.own.height, self.own.height - self.own.skins.z0 - self.own.skins.z1


def _opened_blocks(
    material: BlockMaterial, layouts: Sequence[Layout], shelf: Sequence[StockPiece]
) -> Iterator[_Opened]:
    """Every layout on the block it is really cut from, whichever size or rest that is."""
    for layout in layouts:
        block = block_of(material, layout.stock_key, shelf)
        yield _Opened(block.material, block.cost, layout.repeats)


def _opened_sheets(
    material: SheetMaterial,
    layouts: Sequence[Layout],
    stock: Sequence[StockUse],
    shelf: Mapping[str, StockPiece],
) -> Iterator[_Opened]:
    """All that is opened, piece by piece from the shelf, and what is new."""
    new = sum(layout.repeats for layout in layouts)
    for use in stock:
        piece = shelf[use.piece]
        own = own_material(material, piece)
        assert isinstance(own, SheetMaterial)
        new -= 1
        share = own.length * own.width / (material.length * material.width)
        yield _Opened(own, material.price * share * worth_of(piece, material), 1)
    yield _Opened(material, material.price, new)


def _stock_account(
    material: SheetMaterial | BlockMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    opened: Sequence[_Opened],
    value: float,
    bound: float,
) -> Figures:
    solid = isinstance(material, BlockMaterial)
    scale = 1e9 if solid else 1e6
    placed = _placed(demands, layouts, solid=solid)
    count = sum(item.count for item in opened)
    raw = sum(item.raw * item.count for item in opened) / scale
    usable = sum(item.usable * item.count for item in opened) / scale
    kerf = sum(_kerf(layout.cuts) * layout.repeats for layout in layouts if layout.cuts) / scale
    kept = sum(
        remnant.length * remnant.width * (remnant.height if solid else 1.0) * remnant.quantity
        for remnant in _left_over(material, layouts)
    )
    kept /= scale
    trimmed: Mapping[str, float] = {"skins" if solid else "edge_trim": raw - usable}
    losses = _losses(
        **trimmed,
        cut_width=kerf,
        around_shaped_pieces=placed.boxes - placed.pieces,
        between_pieces=usable - placed.boxes - kerf - kept,
    )
    return Figures(
        unit="m3" if solid else "m2",
        stock_count=count,
        roll_length=0.0,
        consumed=raw,
        pieces=placed.pieces,
        losses=losses,
        remnants=kept,
        efficiency=placed.pieces / usable if count else 0.0,
        utilisation=placed.pieces / raw if count else 0.0,
        bound=bound,
        value=value,
        gap=_gap(value, bound),
        cost=sum(item.cost * item.count for item in opened),
        mass=raw * (material.density if isinstance(material, BlockMaterial) else material.mass),
        piece_count=placed.count,
    )


def _long_account(
    material: BlockMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    value: float,
    bound: float,
    shelf: Sequence[StockPiece],
) -> Figures:
    """Of long blocks only the length that is taken counts; what is left is worth keeping or is not."""
    placed = _placed(demands, layouts, solid=True)
    skins = usable = inside = saws = ends = consumed = cost = 0.0
    count = 0
    for layout in layouts:
        block = block_of(material, layout.stock_key, shelf)
        part = _Opened(as_cut(block.material, layout), 0.0, layout.repeats)
        usable += part.usable * part.count / 1e9
        skins += (part.raw - part.usable) * part.count / 1e9
        inside += (_kerf(layout.cuts) if layout.cuts else 0.0) * layout.repeats / 1e9
        if block.material.cut_to is None:  # a rest from the shelf that is short enough as it is
            consumed += block.volume * layout.repeats
            cost += block.cost * layout.repeats
            count += layout.repeats
    for long in long_blocks(material, layouts, shelf):
        own = long.material
        face = own.width * own.height / 1e9 * long.count
        rest = kept_rest(own, long)
        between = sum(after.start - before.end for before, after in pairwise(long.parts))
        tail = own.length - rest - long.end
        # Beyond the last part comes its saw cut, then what is kept, or what is lost.
        last = tail if rest else 0.0
        skin = 0.0 if rest else min(tail, own.skins.x1)
        saws += (between + last) * face
        skins += (long.parts[0].start + skin) * face
        ends += (tail - last - skin) * face
        taken = (own.length - rest) * face
        consumed += taken
        cost += taken * block_of(material, long.key, shelf).rate
        count += long.count
    kept = sum(
        remnant.length * remnant.width * remnant.height * remnant.quantity / 1e9
        for remnant in _left_over(material, layouts)
    )
    return Figures(
        unit="m3",
        stock_count=count,
        roll_length=0.0,
        consumed=consumed,
        pieces=placed.pieces,
        losses=_losses(
            skins=skins,
            cut_width=inside + saws,
            block_ends_too_short=ends,
            around_shaped_pieces=placed.boxes - placed.pieces,
            between_pieces=usable - placed.boxes - inside - kept,
        ),
        remnants=kept,
        efficiency=placed.pieces / usable if usable else 0.0,
        utilisation=placed.pieces / consumed if consumed else 0.0,
        bound=bound,
        value=value,
        gap=_gap(value, bound),
        cost=cost,
        mass=consumed * material.density,
        piece_count=placed.count,
    )


def remnants_of(
    material: Material,
    layouts: Sequence[Layout],
    stock: Sequence[StockUse],
    demands: Sequence[Demand] = (),
    shelf: Sequence[StockPiece] = (),
) -> tuple[Remnant, ...]:
    """Rests worth keeping by the material's own limits, the largest first.

    On rolls these are the roll ends, as wide as can be cut, and sound stretches that were left between
    flaws; on sheets and blocks the left-over leaves of the cut trees, and the ends of long blocks, which keep
    their skins.
    """
    if isinstance(material, RollMaterial):
        return tuple(_roll_remnants(material, layouts, stock, demands, {piece.id: piece for piece in shelf}))
    found = [*_left_over(material, layouts)]
    if isinstance(material, BlockMaterial):
        found += [
            Remnant(
                source=f"end of {block.name}",
                length=rest,
                width=block.material.width,
                height=block.material.height,
                quantity=block.count,
            )
            for block in long_blocks(material, layouts, shelf)
            if (rest := kept_rest(block.material, block))
        ]
    return tuple(sorted(found, key=lambda r: -r.length * r.width * (r.height or 1.0)))


def _left_over(material: SheetMaterial | BlockMaterial, layouts: Sequence[Layout]) -> Iterator[Remnant]:
    """Left-over leaves of the cut trees that are worth keeping."""
    word = "block layout" if isinstance(material, BlockMaterial) else "sheet layout"
    for number, layout in enumerate(layouts, start=1):
        alike: dict[tuple[float, float, float], int] = {}
        for leaf in _leaves(layout.cuts) if layout.cuts else ():
            if leaf.piece is None and worth_keeping(material, leaf.length, leaf.width, leaf.height):
                size = (leaf.length, leaf.width, leaf.height)
                alike[size] = alike.get(size, 0) + 1
        for (length, width, height), count in alike.items():
            yield Remnant(
                source=f"{word} {number}",
                length=length,
                width=width,
                height=height,
                quantity=count * layout.repeats,
            )


def _roll_remnants(
    material: RollMaterial,
    layouts: Sequence[Layout],
    stock: Sequence[StockUse],
    demands: Sequence[Demand],
    shelf: Mapping[str, StockPiece],
) -> Iterator[Remnant]:
    for roll in stock:
        piece = shelf.get(roll.piece)
        width = piece.width if piece else material.usable_width
        if roll.rest >= material.min_remnant:
            yield Remnant(source=roll.name, length=roll.rest, width=width)
        for low, high in sound_stretches(material, demands, layouts, roll, piece):
            source = f"{roll.name}, from {low:.0f} mm to {high:.0f} mm"
            yield Remnant(source=source, length=high - low, width=width)


def _leaves(node: CutNode) -> Iterator[CutNode]:
    if not node.parts:
        yield node
    for part in node.parts:
        yield from _leaves(part)


def _kerf(node: CutNode) -> float:
    """Area (mm2) or volume (mm3) that the cuts of a tree turn into dust or gaps."""
    if not node.parts:
        return 0.0
    extents = {"x": node.length, "y": node.width, "z": node.height}
    assert node.axis is not None
    filled = sum({"x": p.length, "y": p.width, "z": p.height}[node.axis] for p in node.parts)
    face = math.prod(
        extent for axis, extent in extents.items() if axis != node.axis and (axis != "z" or node.height > 0)
    )
    return (extents[node.axis] - filled) * face + sum(_kerf(part) for part in node.parts)
