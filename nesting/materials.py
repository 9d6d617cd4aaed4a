"""Sizes of beds and materials: what a range file says of them, and the limits on it.

Lengths are millimetres, masses kilograms. x runs along the roll, sheet or block (length), y across it
(width), z up a block (thickness). The limits are `Annotated` constraints, enforced by pydantic wherever
values come from a file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, TypeAlias

from annotated_types import Ge, Gt, Le, Len

from nesting.packing.problem import Kerfs, Skins, Trim

__all__ = [
    "NO_SKINS",
    "NO_TRIM",
    "BlockLength",
    "BlockMaterial",
    "BlockSize",
    "Grain",
    "LongMeasure",
    "Material",
    "Measure",
    "Money",
    "Name",
    "RollMaterial",
    "Share",
    "SheetMaterial",
    "Size",
    "Small",
    "Worth",
]

# Limits on what a file may say. Generous for a bed factory, tight enough to catch a slipped digit.
Measure: TypeAlias = Annotated[float, Gt(0), Le(10_000)]  # a piece, sheet or width: up to 10 m
Small: TypeAlias = Annotated[float, Ge(0), Le(1_000)]  # a trim, kerf or end loss: up to 1 m
LongMeasure: TypeAlias = Annotated[float, Gt(0), Le(2_000_000)]  # a roll: up to 2 km
BlockLength: TypeAlias = Annotated[float, Gt(0), Le(60_000)]  # a long block: up to 60 m
Money: TypeAlias = Annotated[float, Ge(0), Le(1_000_000)]
Share: TypeAlias = Annotated[float, Ge(0), Le(0.5)]
Worth: TypeAlias = Annotated[float, Gt(0), Le(1)]
Name: TypeAlias = Annotated[str, Len(1, 80)]

NO_TRIM = Trim()
NO_SKINS = Skins()

Grain: TypeAlias = Literal["one-way", "two-way", "any"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A finished size: width and length of the bed, mm."""

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    key: Name
    name: Name
    width: Measure
    length: Measure


@dataclass(frozen=True, slots=True, kw_only=True)
class RollMaterial:
    """Cloth, wadding, felt, tape or thin foam on a roll.

    Parameters
    ----------
    width
        Nominal (full) width, mm, as bought.
    edge_trim
        Lost on each long edge, mm. The usable width is ``width - 2 * edge_trim`` unless
        `measured_width` says otherwise.
    measured_width
        Least measured usable width, mm, when it is known.
    roll_length
        Length on one roll, mm.
    end_loss
        Lost at each end of every ply, mm.
    grain
        ``"one-way"``: no turning. ``"two-way"``: half turns. ``"any"``: quarter turns too.
    process
        ``"free knife"`` follows any outline; ``"guillotine 2"`` and ``"guillotine 3"`` cut edge to
        edge in so many stages, first across the roll; ``"lengths"`` only cuts to length (tapes and
        slit strips).
    gap
        Distance kept between pieces, mm.
    ply_limit
        Most plies in one spread.
    max_marker_length
        Length of the cutting table, mm; None when only the roll limits it.
    contraction_along, contraction_across
        Share lost when this cloth is quilted after cutting (0 when it is bought or measured quilted).
    price
        Per metre of roll.
    mass
        kg per m2.
    min_remnant
        Shortest roll end worth keeping, mm.
    remnant_value
        What a rest on the shelf is worth, as a share of the price of new material.
    one_lot
        All pieces of one product (a model and size of one order) come from one dye lot and lie the same
        way: no quarter turns beside pieces without. For what is seen, such as quilted ticking.
    fire_reference
        Free text: the approval this material was tested under. Printed, never judged.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    kind: Literal["roll"] = "roll"
    key: Name
    name: Name
    width: Measure
    roll_length: LongMeasure
    edge_trim: Small = 0.0
    measured_width: Measure | None = None
    end_loss: Small = 0.0
    grain: Grain = "two-way"
    process: Literal["free knife", "guillotine 2", "guillotine 3", "lengths"] = "free knife"
    gap: Small = 0.0
    ply_limit: Annotated[int, Ge(1), Le(500)] = 1
    max_marker_length: LongMeasure | None = None
    contraction_along: Share = 0.0
    contraction_across: Share = 0.0
    price: Money = 0.0
    mass: Annotated[float, Ge(0), Le(50)] = 0.0
    min_remnant: LongMeasure = 1000.0
    remnant_value: Worth = 0.5
    one_lot: bool = False
    fire_reference: str = ""
    note: str = ""

    @property
    def usable_width(self) -> float:
        """Width safe to cut, mm."""
        return self.measured_width if self.measured_width is not None else self.width - 2 * self.edge_trim


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMaterial:
    """Board or cut sheets.

    Parameters
    ----------
    length, width
        Raw size, mm.
    trim
        Rim lost on each edge, mm.
    kerf
        Width of a cut, mm.
    process
        As for rolls; ``"guillotine"`` cuts edge to edge in any number of stages.
    thickness
        mm, for information.
    price
        Per sheet.
    mass
        kg per m2.
    available
        How many there are; None: as many as needed.
    min_remnant_length, min_remnant_width
        Smallest offcut worth keeping, mm (its longer and shorter side).
    remnant_value
        What a rest on the shelf is worth, as a share of the price of new material.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    kind: Literal["sheet"] = "sheet"
    key: Name
    name: Name
    length: Measure
    width: Measure
    trim: Trim = NO_TRIM
    kerf: Small = 0.0
    grain: Grain = "any"
    process: Literal["free knife", "guillotine", "guillotine 2", "guillotine 3"] = "guillotine"
    thickness: Measure | None = None
    price: Money = 0.0
    mass: Annotated[float, Ge(0), Le(200)] = 0.0
    available: Annotated[int, Ge(0)] | None = None
    min_remnant_length: Measure = 500.0
    min_remnant_width: Measure = 300.0
    remnant_value: Worth = 0.5
    fire_reference: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSize:
    """One of several sizes in which a foam is bought as blocks.

    Parameters
    ----------
    name
        By which people order it: ``"K1"``.
    length, width, height
        Raw size, mm, as bought.
    skins
        Skin lost on each face, mm; None: as the material says.
    price
        Per m3 of raw block; None: as the material says.
    available
        How many there are; None: as many as needed.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    name: Name
    length: BlockLength
    width: Measure
    height: Measure
    skins: Skins | None = None
    price: Money | None = None
    available: Annotated[int, Ge(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockMaterial:
    """A foam block, from which slabs are slit and sawn.

    Whoever needs the measures of the block of a layout asks `nesting.blocks.block_of`.

    Parameters
    ----------
    length, width, height
        Raw size, mm, as bought; of the first of the `sizes` where there are several.
    cut_to
        Of a long block: the longest part that the machines take, mm. It is first cut to length, and what
        is taken from it counts, not the whole block. None: the block is cut as it is.
    skins
        Skin lost on each face, mm; of a long block the end skins once, at its ends.
    kerf
        Width of the cuts, mm: one number for all, or that of the slitter and that of the saw.
    order
        ``"slit first"``, ``"saw first"`` or ``"best"``.
    density
        kg per m3.
    price
        Per m3 of raw block.
    min_remnant_length, min_remnant_width, min_remnant_height
        Smallest rest worth keeping, mm.
    remnant_value
        What a rest on the shelf is worth, as a share of the price of new material.
    sizes
        The sizes in which it is bought; empty where there is only the one above.
    rebond_price
        What a kg of clean scrap fetches for rebond.
    rebond_skin_price
        The same for skins, which may be graded lower; None: as for clean scrap.
    rebond_contamination
        Share of the scrap that is not taken: tape, labels, glue, other grades.
    lift_limit
        Mass, kg, above which two people or a lifting aid are called for.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    kind: Literal["block"] = "block"
    key: Name
    name: Name
    length: BlockLength
    width: Measure
    height: Measure
    cut_to: Measure | None = None
    skins: Skins = NO_SKINS
    kerf: Kerfs | Small = 0.0
    order: Literal["slit first", "saw first", "best"] = "best"
    density: Annotated[float, Gt(0), Le(500)]
    price: Money = 0.0
    available: Annotated[int, Ge(0)] | None = None
    min_remnant_length: Measure = 600.0
    min_remnant_width: Measure = 300.0
    min_remnant_height: Measure = 20.0
    remnant_value: Worth = 0.5
    sizes: tuple[BlockSize, ...] = ()
    rebond_price: Money = 0.0
    rebond_skin_price: Money | None = None
    rebond_contamination: Annotated[float, Ge(0), Le(1)] = 0.0
    lift_limit: Annotated[float, Gt(0), Le(1000)] = 25.0
    fire_reference: str = ""
    note: str = ""

    @property
    def kerfs(self) -> Kerfs:
        """Width of the slitter's level cuts and of the saw's upright ones, mm."""
        return self.kerf if isinstance(self.kerf, Kerfs) else Kerfs(self.kerf, self.kerf)


Material: TypeAlias = RollMaterial | SheetMaterial | BlockMaterial
