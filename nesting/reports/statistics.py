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
    StockUse,
)
from nesting.remnants import worth_keeping

__all__ = ["account", "box_of", "remnants_of"]

ROUNDING = 1e-9
"""Amounts closer to 0 than this (m2 or m3) are float noise."""


def box_of(panel: Panel, turn: float) -> tuple[float, float]:
    """Length and width of a panel's box after turning, mm."""
    quarter = turn % 180.0
    if quarter == 0.0:
        return panel.length, panel.width
    if quarter == 90.0:
        return panel.width, panel.length
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    points = panel.outline or ((0, 0), (panel.length, 0), (panel.length, panel.width), (0, panel.width))
    xs = [x * cos - y * sin for x, y in points]
    ys = [x * sin + y * cos for x, y in points]
    return max(xs) - min(xs), max(ys) - min(ys)


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
) -> Figures:
    """Add up one material's plan.

    Parameters
    ----------
    stock
        The rolls that the layouts are cut from; empty for sheets and blocks, which are opened whole.
    value, bound
        What the solver minimised, and its proven bound.
    """
    if isinstance(material, RollMaterial):
        return _roll_account(material, demands, layouts, stock, value, bound)
    if isinstance(material, SheetMaterial | BlockMaterial):
        return _stock_account(material, demands, layouts, value, bound)
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
    stock: Sequence[StockUse],
    value: float,
    bound: float,
) -> Figures:
    placed = _placed(demands, layouts, solid=False)
    usable = material.usable_width / 1e3
    width = material.width / 1e3
    short_ends = sum(roll.rest for roll in stock if roll.rest < material.min_remnant) / 1e3
    used = sum(roll.used for roll in stock) / 1e3
    ends = sum(2 * material.end_loss * times for roll in stock for _, times in roll.cuts) / 1e3
    marker = (used - ends) * usable
    consumed = (used + short_ends) * width
    kerf = sum(_kerf(layout.cuts) * layout.repeats for layout in layouts if layout.cuts) / 1e6
    losses = _losses(
        edge_trim=used * (width - usable),
        ends_of_plies=ends * usable,
        cut_width=kerf,
        around_shaped_pieces=placed.boxes - placed.pieces,
        between_pieces=marker - placed.boxes - kerf,
        roll_ends_too_short=short_ends * width,
    )
    return Figures(
        unit="m2",
        stock_count=len(stock),
        roll_length=used + short_ends,
        consumed=consumed,
        pieces=placed.pieces,
        losses=losses,
        remnants=0.0,
        efficiency=placed.pieces / marker if marker else 0.0,
        utilisation=placed.pieces / consumed if consumed else 0.0,
        bound=bound,
        value=value,
        gap=_gap(value, bound),
        cost=(used + short_ends) * material.price,
        mass=consumed * material.mass,
        piece_count=placed.count,
    )


def _stock_account(
    material: SheetMaterial | BlockMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    value: float,
    bound: float,
) -> Figures:
    if isinstance(material, BlockMaterial) and material.cut_to is not None:
        return _long_account(material, demands, layouts, value, bound)
    solid = isinstance(material, BlockMaterial)
    placed = _placed(demands, layouts, solid=solid)
    opened = sum(layout.repeats for layout in layouts)
    if isinstance(material, BlockMaterial):
        scale = 1e9
        raw = material.length * material.width * material.height / scale
        skins = material.skins
        usable = (
            (material.length - skins.x0 - skins.x1)
            * (material.width - skins.y0 - skins.y1)
            * (material.height - skins.z0 - skins.z1)
            / scale
        )
        price, mass = raw * material.price, raw * material.density
    else:
        scale = 1e6
        raw = material.length * material.width / scale
        trim = material.trim
        usable = (material.length - trim.x0 - trim.x1) * (material.width - trim.y0 - trim.y1) / scale
        price, mass = material.price, raw * material.mass
    kerf = sum(_kerf(layout.cuts) * layout.repeats for layout in layouts if layout.cuts) / scale
    kept = sum(
        remnant.length * remnant.width * (remnant.height if solid else 1.0) * remnant.quantity
        for remnant in remnants_of(material, layouts, ())
    )
    kept /= scale
    trimmed: Mapping[str, float] = {"skins" if solid else "edge_trim": opened * (raw - usable)}
    losses = _losses(
        **trimmed,
        cut_width=kerf,
        around_shaped_pieces=placed.boxes - placed.pieces,
        between_pieces=opened * usable - placed.boxes - kerf - kept,
    )
    return Figures(
        unit="m3" if solid else "m2",
        stock_count=opened,
        roll_length=0.0,
        consumed=opened * raw,
        pieces=placed.pieces,
        losses=losses,
        remnants=kept,
        efficiency=placed.pieces / (opened * usable) if opened else 0.0,
        utilisation=placed.pieces / (opened * raw) if opened else 0.0,
        bound=bound,
        value=value,
        gap=_gap(value, bound),
        cost=opened * price,
        mass=opened * mass,
        piece_count=placed.count,
    )


def _long_account(
    material: BlockMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    value: float,
    bound: float,
) -> Figures:
    """Of long blocks only the length that is taken counts; what is left is worth keeping or is not."""
    placed = _placed(demands, layouts, solid=True)
    face = material.width * material.height / 1e6
    blocks = long_blocks(material, layouts)
    rests = [kept_rest(material, block) for block in blocks]
    taken = sum((material.length - rest) * block.count for block, rest in zip(blocks, rests, strict=True))
    skins = usable = inside = saws = ends = 0.0
    for layout in layouts:
        rim = material.skins
        across = (material.width - rim.y0 - rim.y1) * (material.height - rim.z0 - rim.z1) / 1e6
        raw, inner = (layout.length * section / 1e3 for section in (face, across))
        usable += inner * layout.repeats
        skins += (raw - inner) * layout.repeats
        inside += (_kerf(layout.cuts) if layout.cuts else 0.0) * layout.repeats / 1e9
    for block, rest in zip(blocks, rests, strict=True):
        between = sum(after.start - before.end for before, after in pairwise(block.parts))
        tail = material.length - rest - block.end
        # Beyond the last part comes its saw cut, then what is kept, or what is lost.
        last = tail if rest else 0.0
        skin = 0.0 if rest else min(tail, material.skins.x1)
        saws += (between + last) * block.count * face / 1e3
        skins += (block.parts[0].start + skin) * block.count * face / 1e3
        ends += (tail - last - skin) * block.count * face / 1e3
    kept = sum(
        remnant.length * remnant.width * remnant.height * remnant.quantity / 1e9
        for remnant in _left_over(material, layouts)
    )
    consumed = taken * face / 1e3
    return Figures(
        unit="m3",
        stock_count=sum(block.count for block in blocks),
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
        cost=consumed * material.price,
        mass=consumed * material.density,
        piece_count=placed.count,
    )


def remnants_of(
    material: Material, layouts: Sequence[Layout], stock: Sequence[StockUse]
) -> tuple[Remnant, ...]:
    """Rests worth keeping by the material's own limits, the largest first.

    On rolls these are the roll ends; on sheets and blocks the left-over leaves of the cut trees, and the ends
    of long blocks, which keep their skins.
    """
    if isinstance(material, RollMaterial):
        return tuple(
            Remnant(source=roll.name, length=roll.rest, width=material.width)
            for roll in stock
            if roll.rest >= material.min_remnant
        )
    found = [*_left_over(material, layouts)]
    if isinstance(material, BlockMaterial):
        found += [
            Remnant(
                source=f"end of {block.name}",
                length=rest,
                width=material.width,
                height=material.height,
                quantity=block.count,
            )
            for block in long_blocks(material, layouts)
            if (rest := kept_rest(material, block))
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
