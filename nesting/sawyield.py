"""What becomes of foam blocks: pieces, stock, scrap, skin and dust, in m3, kg and money.

The account of every block adds up to the raw block. Yield is good volume over the block as bought (common
practice); what scrap fetches for rebond stands on a line of its own and never makes the yield better.

**What a bed costs.** The blocks of a material cost what was paid for them (rests from the shelf: their
worth), less the worth of the rests that go back on the shelf. That sum is shared out over the pieces by
their volume, so that each bears the same share of skins, saw cuts, trims and scrap: a layer costs its volume
times the sum over the volume of all pieces. A bed costs the sum of its layers of this material. Credit for
rebond is not taken off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

from nesting.blocks import OwnBlock, block_of, layout_block, rest_rate
from nesting.longblocks import kept_rest, long_blocks, saw_width
from nesting.model import BlockMaterial, Demand, MaterialPlan
from nesting.sawcuts import Fate, SawPlan
from nesting.sawplan import saw_plans

__all__ = [
    "COST_RULE",
    "BedCost",
    "BlockYield",
    "FoamYield",
    "LayerCost",
    "SawYield",
    "block_yield",
    "foam_yield",
    "saw_yield",
]

COST_RULE = (
    "Cost of a layer: cost of the blocks less the worth of the rests kept, shared out by the volume of the "
    "pieces, which so bear skins, saw cuts, trims and scrap alike. Rebond is not taken off."
)
"""The rule as it is printed beside the figures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SawYield:
    """Volumes of one block, or of several, m3.

    Parameters
    ----------
    pieces
        The pieces, outlines at their true size.
    remnants
        Rests worth keeping.
    scrap
        Clean rests for rebond: trims, and what is around shaped pieces.
    skins
        Skins for rebond, which may be graded lower.
    dust
        What the blade takes, thin rests included.
    """

    pieces: float
    remnants: float
    scrap: float
    skins: float
    dust: float

    @property
    def raw(self) -> float:
        """The whole block, m3."""
        return self.pieces + self.remnants + self.scrap + self.skins + self.dust

    @property
    def shares(self) -> tuple[float, float, float, float, float]:
        """Pieces, remnants, scrap, skins and dust as shares of the raw block, 0 to 1."""
        raw = self.raw
        return (
            self.pieces / raw,
            self.remnants / raw,
            self.scrap / raw,
            self.skins / raw,
            self.dust / raw,
        )


def saw_yield(plan: SawPlan) -> SawYield:
    """Add up what the cuts of a plan free, for one block."""
    raw = math.prod(plan.size)

    def freed(fate: Fate) -> float:
        return math.fsum(
            cut.copies * freed.volume for cut in plan.cuts for freed in cut.frees if freed.fate == fate
        )

    # A block that needs no cut is itself the piece.
    pieces = freed("piece") if plan.cuts else raw
    remnants, scrap, skins = freed("remnant"), freed("scrap"), freed("skin")
    dust = raw - pieces - remnants - scrap - skins
    return SawYield(
        pieces=pieces / 1e9,
        remnants=remnants / 1e9,
        scrap=scrap / 1e9,
        skins=skins / 1e9,
        dust=max(0.0, dust) / 1e9,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockYield:
    """One block layout: the block, how many are cut so, and what becomes of one of them.

    Of long blocks the layouts have parts; what is lost between and beyond these has entries of its own, whose
    `layout` is None. A long block counts with the length that is taken from it.

    Parameters
    ----------
    layout
        Its number, from 1.
    name
        ``"K1"``, ``"remnant B-7"``; ``"long block 2, between and beyond its parts"``.
    """

    layout: int | None
    name: str
    block: OwnBlock
    repeats: int
    volumes: SawYield

    @property
    def cost(self) -> float:
        """What one of them is reckoned at."""
        return self.volumes.raw * self.block.rate

    @property
    def worth(self) -> float:
        """Worth of the rests of one block that are kept."""
        return self.volumes.remnants * rest_rate(self.block.material)

    @property
    def rebond(self) -> tuple[float, float]:
        """Clean scrap and skins of one block, kg."""
        density = self.block.material.density
        return self.volumes.scrap * density, self.volumes.skins * density

    @property
    def credit(self) -> float:
        """What its scrap and skins fetch for rebond: kg x price x (1 - contamination) (common practice)."""
        foam = self.block.material
        skin_price = foam.rebond_price if foam.rebond_skin_price is None else foam.rebond_skin_price
        scrap, skins = self.rebond
        return (scrap * foam.rebond_price + skins * skin_price) * (1.0 - foam.rebond_contamination)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerCost:
    """What one piece costs: volume in m3 and money, its share of the losses included."""

    demand: Demand
    volume: float
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BedCost:
    """What all pieces of one material in one bed cost: model and size, volume in m3, and money."""

    model: str
    size: str
    volume: float
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoamYield:
    """The account of a foam material.

    Parameters
    ----------
    blocks
        In the order of the layouts.
    volumes
        Of all blocks.
    cost
        Of all blocks, rests from the shelf at their worth.
    rests
        Worth of the rests that are kept.
    """

    material: BlockMaterial
    blocks: tuple[BlockYield, ...]
    volumes: SawYield
    cost: float
    rests: float
    layers: tuple[LayerCost, ...]
    beds: tuple[BedCost, ...]

    @property
    def net(self) -> float:
        """Cost of the blocks less the worth of the rests: what the pieces bear."""
        return self.cost - self.rests

    @property
    def rate(self) -> float:
        """What a m3 of good pieces costs."""
        return self.net / self.volumes.pieces if self.volumes.pieces else 0.0

    def mass(self, volume: float) -> float:
        """Of so many m3, kg."""
        return volume * self.material.density

    @property
    def rebond(self) -> tuple[float, float]:
        """Clean scrap and skins for rebond, kg."""
        return self.mass(self.volumes.scrap), self.mass(self.volumes.skins)

    @property
    def credit(self) -> float:
        """What all scrap and skins fetch for rebond."""
        return math.fsum(each.credit * each.repeats for each in self.blocks)


def block_yield(material_plan: MaterialPlan, index: int, plan: SawPlan) -> BlockYield:
    """The account of block layout `index`, whose saw plan is `plan`."""
    block = layout_block(material_plan, index)
    return BlockYield(
        layout=index + 1, name=block.name, block=block, repeats=plan.repeats, volumes=saw_yield(plan)
    )


def _between_parts(material_plan: MaterialPlan) -> Iterator[BlockYield]:
    """What long blocks lose when they are cut to length: end skins, saw cuts, and ends that are too short."""
    material = material_plan.material
    assert isinstance(material, BlockMaterial)
    for long in long_blocks(material, material_plan.layouts, material_plan.shelf):
        own = long.material
        face = own.width * own.height / 1e9
        left, tail = long.parts[0].start, own.length - long.end
        saw = saw_width(own)
        dust = sum(min(saw, after.start - before.end) for before, after in pairwise(long.parts))
        dust += min(saw, left) + min(saw, tail)
        clean = max(0.0, left - saw)
        beyond = max(0.0, tail - saw)
        skin = scrap = 0.0
        if not kept_rest(own, long):
            skin = min(beyond, own.skins.x1)
            scrap = beyond - skin
        yield BlockYield(
            layout=None,
            name=f"{long.name}, between and beyond its parts",
            block=block_of(material, long.key, material_plan.shelf),
            repeats=long.count,
            volumes=SawYield(
                pieces=0.0,
                remnants=0.0,
                scrap=scrap * face,
                skins=(clean + skin) * face,
                dust=dust * face,
            ),
        )


def foam_yield(material_plan: MaterialPlan) -> FoamYield:
    """The account of the plan of a foam, whose layouts must have trees of cuts.

    Raises
    ------
    LayoutError
        When a layout has none.
    """
    material = material_plan.material
    assert isinstance(material, BlockMaterial)
    blocks = tuple(
        block_yield(material_plan, index, plan) for index, plan in enumerate(saw_plans(material_plan))
    ) + tuple(_between_parts(material_plan))
    total = SawYield(
        **{
            part.name: math.fsum(getattr(each.volumes, part.name) * each.repeats for each in blocks)
            for part in fields(SawYield)
        }
    )
    cost = math.fsum(each.cost * each.repeats for each in blocks)
    rests = total.remnants * rest_rate(material)
    rate = (cost - rests) / total.pieces if total.pieces else 0.0
    layers = tuple(
        LayerCost(demand=demand, volume=demand.panel.volume, cost=demand.panel.volume * rate)
        for demand in material_plan.demands
    )
    return FoamYield(
        material=material,
        blocks=blocks,
        volumes=total,
        cost=cost,
        rests=rests,
        layers=layers,
        beds=_beds(layers),
    )


def _beds(layers: Sequence[LayerCost]) -> tuple[BedCost, ...]:
    """The layers of each model and size, as many of each as one bed needs."""
    sums: dict[tuple[str, str], tuple[float, float]] = {}
    for layer in layers:
        bed = (layer.demand.model, layer.demand.size)
        volume, cost = sums.get(bed, (0.0, 0.0))
        times = layer.demand.panel.pieces
        sums[bed] = (volume + times * layer.volume, cost + times * layer.cost)
    return tuple(
        BedCost(model=model, size=size, volume=volume, cost=cost)
        for (model, size), (volume, cost) in sums.items()
    )
