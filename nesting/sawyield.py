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
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

from nesting.blocks import OwnBlock, layout_block, rest_rate
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
        True volume of the pieces.
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


def saw_yield(plan: SawPlan, volumes: Mapping[str, float] | None = None) -> SawYield:
    """Add up what the cuts of a plan free, for one block.

    Parameters
    ----------
    volumes
        True volume of one piece by the key of its demand, m3, where that is less than its box.
    """
    raw = math.prod(plan.size)

    def freed(fate: Fate) -> float:
        return math.fsum(
            cut.copies * math.prod(freed.size)
            for cut in plan.cuts
            for freed in cut.frees
            if freed.fate == fate
        )

    # A block that needs no cut is itself the piece.
    pieces = freed("piece") if plan.cuts else raw
    remnants, scrap, skins = freed("remnant"), freed("scrap"), freed("skin")
    dust = max(0.0, raw - pieces - remnants - scrap - skins)
    around = math.fsum(
        cut.copies * max(0.0, math.prod(freed.size) - 1e9 * volumes.get(freed.key or "", math.inf))
        for cut in plan.cuts
        for freed in cut.frees
        if volumes and freed.fate == "piece"
    )
    return SawYield(
        pieces=(pieces - around) / 1e9,
        remnants=remnants / 1e9,
        scrap=(scrap + around) / 1e9,
        skins=skins / 1e9,
        dust=dust / 1e9,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockYield:
    """One block layout: the block, how many are cut so, and what becomes of one of them."""

    block: OwnBlock
    repeats: int
    volumes: SawYield

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
    true = {demand.key: demand.panel.volume for demand in material_plan.demands}
    return BlockYield(
        block=layout_block(material_plan, index), repeats=plan.repeats, volumes=saw_yield(plan, true)
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
    )
    total = SawYield(
        **{
            part.name: math.fsum(getattr(each.volumes, part.name) * each.repeats for each in blocks)
            for part in fields(SawYield)
        }
    )
    cost = math.fsum(each.block.cost * each.repeats for each in blocks)
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
