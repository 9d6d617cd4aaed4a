"""The value objects that all rooms share. All of them are frozen.

Lengths are millimetres, areas square metres, volumes cubic metres, masses kilograms. x runs along the
roll, sheet or block (length), y across it (width), z up a block (thickness).

The limits on fields are written once, as `Annotated` constraints, and enforced by pydantic wherever
values come from a file (range files and saved plans).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, ClassVar, Literal, TypeAlias, get_args

from annotated_types import Ge, Le

from nesting.materials import (
    BlockMaterial,
    BlockSize,
    LongMeasure,
    Material,
    Measure,
    Name,
    RollMaterial,
    SheetMaterial,
    Size,
)
from nesting.packing.problem import Flaw, Kerfs, Point
from nesting.packing.solution import CutNode, Layout, Missing, Placement

__all__ = [
    "BlockMaterial",
    "BlockSize",
    "CutNode",
    "Demand",
    "Figures",
    "Flaw",
    "Glue",
    "GluedLayer",
    "GluedPart",
    "Kerfs",
    "Layout",
    "Loss",
    "Mark",
    "Material",
    "MaterialPlan",
    "Missing",
    "OpenDemand",
    "OrderShare",
    "Panel",
    "Placement",
    "Plan",
    "Point",
    "Remnant",
    "RollMaterial",
    "SheetMaterial",
    "Size",
    "StockPiece",
    "StockUse",
    "Workshop",
]

Units: TypeAlias = Literal["mm", "inch"]
PaperName: TypeAlias = Literal["A4", "A3", "A1", "Letter", "Tabloid"]


@dataclass(frozen=True, slots=True)
class Mark:
    """Something drawn on a panel that is not cut out: a notch, a hole, a place for a handle.

    Parameters
    ----------
    kind
        ``"notch"`` at the edge, ``"drill"`` a hole centre, ``"handle"``, ``"vent"``, ``"label"`` a
        fitting's place, ``"fold"``, ``"seam"`` or ``"slat"`` a line, ``"grain"`` the grain line.
    points
        One point, or the two ends of a line; mm in the panel's own frame.
    text
        Short words printed beside it; may be empty.
    """

    kind: Literal["notch", "drill", "handle", "vent", "label", "fold", "seam", "slat", "grain"]
    points: tuple[Point, ...]
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glue:
    """How a slab of foam may be glued up where it is not cut in one piece.

    Parameters
    ----------
    laminations
        Thicknesses of the slabs that make it up, from the bottom, mm; each way by itself.
    line
        Joints run ``"across"`` the bed, measured from the head end, or ``"along"`` it, measured from the
        left side.
    joints
        Most joints in one slab.
    spans
        From and to of the stretches in which joints may lie, mm.
    least
        Smallest piece between two joints, mm.
    cost
        Money for one joint.
    whole
        Whether it may be cut in one piece as well.
    note
        All this in words, with what must be heeded.
    """

    laminations: tuple[tuple[float, ...], ...] = ()
    line: Literal["across", "along"] = "across"
    joints: int = 0
    spans: tuple[tuple[float, float], ...] = ()
    least: float = 0.0
    cost: float = 0.0
    whole: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One cut part of one model and size.

    Parameters
    ----------
    code
        Short label that fits on a cut map, unique within a model: ``"TP"``.
    name
        Full name: ``"Top panel"``.
    material
        Key of the material.
    length, width
        Cut size of the bounding box, mm, x and y as laid on the material with turn 0.
    thickness
        Slab thickness, mm; None except for foam from blocks.
    outline
        Counter-clockwise outline with the lower left of its box at (0, 0), arcs already flattened;
        empty for an exact rectangle.
    pieces
        How many one finished unit needs.
    per_slab
        How many of them one cut slab makes, when it is split or sawn up afterwards.
    turns
        Allowed turns, degrees.
    mirror
        Whether it may be flipped over.
    standing
        Whether a slab may stand on its side or its end in the block, because grain does not matter to it.
    marks
        Marks in the panel's frame.
    note
        A remark for the cutter.
    glue
        How a slab may be glued up; None: it must be in one piece.
    """

    code: str
    name: str
    material: str
    length: float
    width: float
    thickness: float | None = None
    outline: tuple[Point, ...] = ()
    pieces: int = 1
    per_slab: int = 1
    turns: tuple[float, ...] = (0.0,)
    mirror: bool = False
    marks: tuple[Mark, ...] = ()
    note: str = ""
    glue: Glue | None = None

    @property
    def remarks(self) -> str:
        """The note, and how it may be glued up."""
        return "; ".join(filter(None, (self.note, self.glue.note if self.glue is not None else "")))

    standing: bool = False

    @property
    def area(self) -> float:
        """True area of one piece, m2 (shoelace formula for outlines)."""
        if not self.outline:
            return self.length * self.width / 1e6
        nexts = self.outline[1:] + self.outline[:1]
        twice = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(self.outline, nexts, strict=True))
        return abs(twice) / 2e6

    @property
    def volume(self) -> float:
        """Volume of one slab, m3; 0 for flat panels."""
        return self.area * (self.thickness or 0.0) / 1e3


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderShare:
    """How many pieces of a demand belong to one order line."""

    order: str
    due: str
    """ISO date."""
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """How many of one panel are wanted, and for which orders (earliest due first)."""

    key: str
    """Names the piece in layouts; unique within its material."""
    panel: Panel
    model: str
    size: str
    quantity: int
    """Pieces to cut: slabs, where one makes several parts."""
    orders: tuple[OrderShare, ...] = ()
    spare: int = 0
    """Parts over when the slabs are split."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GluedPart:
    """The pieces of one size that a glued layer is made of."""

    key: str
    """The demand they are cut for."""
    length: float
    width: float
    thickness: float
    places: tuple[int, ...]
    """Which parts of the layer they are, from 1: from the bottom, the head end or the left side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GluedLayer:
    """So many copies of a slab that are glued up in the same way.

    Parameters
    ----------
    name
        By which maps and lists call it: ``"G1"``.
    panel
        The slab, when it is glued.
    model, size
        What it belongs to.
    copies
        How many are glued so.
    line
        ``"layers"`` for slabs on one another; otherwise as in `Glue`.
    joints
        Where joints lie, mm: from the bottom, the head end or the left side.
    parts
        What they are glued from.
    orders
        Which orders they are for.
    """

    name: str
    panel: Panel
    model: str
    size: str
    copies: int
    line: Literal["layers", "across", "along"]
    joints: tuple[float, ...]
    parts: tuple[GluedPart, ...]
    orders: tuple[OrderShare, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenDemand:
    """Pieces that were wanted but need not be all in the plan, and why they are not."""

    demand: Demand
    """With the pieces that are open alone."""
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPiece:
    """One real roll, sheet or block on the shelf, whole or a rest of earlier cutting.

    Parameters
    ----------
    id
        By which people find it; unique in a store.
    material
        Key of the material.
    length, width, height
        As measured, mm. On rolls the width is the least usable width. `height` is 0 except for foam: a
        sheet slit from a block is a piece as high as it is thick.
    remnant
        A rest: it has no trims, edges and skins any more (foam that is larger than its block without skins
        still has those), and is worth `remnant_value` of its price.
    lot
        Dye lot, shade or batch; pieces of one visible product never mix lots.
    flaws
        Where a roll must not be used, mm from its beginning and from its right-hand usable edge.
    place
        Where it stands.
    """

    id: Name
    material: Name
    length: LongMeasure
    width: Measure
    height: Annotated[float, Ge(0), Le(10_000)] = 0.0
    remnant: bool = False
    lot: str = ""
    flaws: tuple[Flaw, ...] = ()
    place: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockUse:
    """One roll opened: which layouts are cut from it, how often, and what is left.

    Of sheets and blocks, which are opened whole, only those from the shelf are listed.
    """

    name: str
    cuts: tuple[tuple[int, int], ...]
    """Pairs of (index of the layout, how many plies of it), in cutting order."""
    used: float
    """Length used, mm, end losses included: where on the roll the last ply ends."""
    rest: float
    """Length left on the roll, mm."""
    piece: str = ""
    """Id of the stock piece, where the roll is a real one from the shelf."""
    starts: tuple[float, ...] = ()
    """Where on a roll the first ply of each of the `cuts` begins, mm, its end loss first; the others follow
    it. Empty: not told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remnant:
    """A rest worth keeping: size in mm, from which layout (or roll), how many alike."""

    source: str
    length: float
    width: float
    height: float = 0.0
    quantity: int = 1


@dataclass(frozen=True, slots=True)
class Loss:
    """One cause of loss and how much of the consumed material it takes (m2 or m3)."""

    cause: str
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """The numbers people check by hand. Amounts are m2 for flat material and m3 for blocks.

    ``pieces + sum(losses) + remnants == consumed``.
    """

    unit: Literal["m2", "m3"]
    stock_count: int
    """Rolls, sheets or blocks opened."""
    roll_length: float
    """Length taken from rolls, m, end losses included; 0 for sheets and blocks."""
    consumed: float
    """Material taken: roll length times full width, or whole sheets or blocks."""
    pieces: float
    """True area or volume of the pieces."""
    losses: tuple[Loss, ...]
    remnants: float
    """Rests worth keeping."""
    efficiency: float
    """Pieces over marker area on the usable width, or over usable sheet area or block volume; 0 to 1."""
    utilisation: float
    """Pieces over consumed material; 0 to 1."""
    bound: float
    """Proven least amount, in the unit of `value`."""
    value: float
    """What the solver minimised: mm of roll, or money."""
    gap: float
    """Share of `value` not proven necessary; 0 to 1."""
    cost: float
    """Money for what is consumed."""
    mass: float
    """kg of what is consumed."""
    piece_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialPlan:
    """The plan of one material."""

    material: Annotated[Material, {"discriminator": "kind"}]
    demands: tuple[Demand, ...]
    layouts: tuple[Layout, ...]
    missing: Mapping[str, Missing]
    stock: tuple[StockUse, ...]
    remnants: tuple[Remnant, ...]
    figures: Figures
    stopped: str
    effort: int
    notes: tuple[str, ...] = ()
    glued: tuple[GluedLayer, ...] = ()
    """Slabs that are glued up; their parts are among the demands."""
    shelf: tuple[StockPiece, ...] = ()
    """The pieces from the shelf that `stock` refers to, as they were measured."""
    open: tuple[OpenDemand, ...] = ()
    """What is left for later on purpose."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """How a workshop writes what its people read; files for machines stay in mm.

    Parameters
    ----------
    units
        ``"mm"``, or ``"inch"`` for inches, yards, square and cubic feet and pounds.
    paper
        What maps are printed on, lying.
    decimal
        Decimal sign of printed numbers and lists.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    units: Units = "mm"
    paper: PaperName = "A3"
    decimal: Literal[".", ","] = "."

    def changed(self, units: str | None = None, paper: str | None = None) -> Workshop:
        """A copy with other units or on other paper; None leaves them as they are.

        Raises
        ------
        ValueError
            When there are no such units, or there is no such paper.
        """
        wanted: dict[str, Any] = {"units": units, "paper": paper}
        wanted = {name: str(value) for name, value in wanted.items() if value is not None}
        for name, value in wanted.items():
            allowed = get_args({"units": Units, "paper": PaperName}[name])
            if value not in allowed:
                raise ValueError(f"{name} = {value!r}: allowed are {', '.join(allowed)}.")
        return replace(self, **wanted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole plan and what made it."""

    range_name: str
    range_file: str
    orders_file: str
    """File names without folders: a printed plan says nothing about somebody's disk."""
    currency: str
    made: str
    """ISO date on which it was made."""
    version: str
    seed: int
    first_due: str
    last_due: str
    beds: int
    materials: tuple[MaterialPlan, ...]
    notes: tuple[str, ...] = field(default=())
    number: str = ""
    """Tells plans apart: eight figures and letters that follow from the content."""
    workshop: Workshop = field(default_factory=Workshop)
    """How its maps and lists are written; says nothing about what is cut."""
