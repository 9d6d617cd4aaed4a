"""The cuts of a foam block in the order of work, as data.

The plan is read off the layout's tree of cuts. First the skins come off, those along the first cuts of the
tree last, so that they and the first cuts are one run of the same machine. Then every part is cut up before
the next one (depth first). Parts that are alike, such as ten sheets of one pattern, are cut alike, each for
itself or as a pile: they share a name, and their cuts are listed once.

A run is all cuts of one part along one direction. What a run cuts off stays where it is until the run is
over, so all measures of a run are read from one face of the part, and each holds all skins, parts and saw
cuts before it. The measure is that of the near side of the blade: a stop set to it leaves what lies before
the blade at its full size. With a skin thinner than the blade the measure may be below 0: the blade then
stands out of the foam.

A box that outlines are cut out of is a part whose only cut follows the lines marked on it, once the box is
free. A slab that stands in the block keeps the size it has there: its name says how it stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from nesting.blocks import as_cut, layout_block
from nesting.errors import LayoutError
from nesting.handout import Handed, Handout, orders_text, pile_of
from nesting.marked import marked_box
from nesting.model import BlockMaterial, CutNode, Demand, Layout, MaterialPlan, Placement, Point
from nesting.packing.problem import GRID, grid_up, turned_points
from nesting.packing.solution import Axis
from nesting.remnants import worth_keeping
from nesting.sawcuts import BLOCK, MARKED, Fate, Freed, Grouping, SawCut, SawPart, SawPlan, Side, Triple

__all__ = ["ODDMENTS", "letters", "saw_plan", "saw_plans"]

STANDS = {"flat": "", "side": ", on its side", "end": ", on its end"}
"""How a slab lies in the block, after its name."""

AXES: tuple[Axis, Axis, Axis] = ("x", "y", "z")
NEAR_FACES = ("left end", "front side", "bottom")
FAR_FACES = ("right end", "back side", "top")

NOISE = 1e-6
"""Lengths closer than this are equal, mm."""

ODDMENTS = {"remnant": "stock", "scrap": "rebond", "skin": "rebond (skin)"}
"""Where what is no piece goes. Skin is kept apart: rebonders may grade it lower."""


def letters(index: int) -> str:
    """A, B, ... Z, AA, AB, ... for 0, 1, ..."""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def saw_plans(material_plan: MaterialPlan, group: Grouping = "product") -> tuple[SawPlan, ...]:
    """The saw plans of all layouts of a material, which must be foam blocks with trees of cuts.

    Parameters
    ----------
    group
        Whether pieces go to the pile of their product, or to their orders, earliest due first. Orders
        are handed out in the order of the layouts.

    Raises
    ------
    LayoutError
        As for `saw_plan`.
    """
    handout = Handout(material_plan.demands) if group == "order" else None
    return tuple(
        saw_plan(layout_block(material_plan, index).material, layout, material_plan.demands, handout)
        for index, layout in enumerate(material_plan.layouts)
    )


def saw_plan(
    material: BlockMaterial, layout: Layout, demands: Sequence[Demand], handout: Handout | None = None
) -> SawPlan:
    """The cuts of one block in the order of work; of a long block, those of the part.

    Parameters
    ----------
    material
        With the measures of the layout's own block (see `nesting.blocks.block_of`); gives the raw size, the
        saw cut and the size of a useful rest.
    layout
        Its tree of cuts is followed.
    demands
        Of the whole material: their order numbers the pieces as on the maps.
    handout
        Pieces go to the orders that it names; without it, to the pile of their product.

    Raises
    ------
    LayoutError
        When the layout has no tree of cuts, or refers to a piece that is not among the demands.
    """
    if layout.cuts is None:
        raise LayoutError(f"A block of {material.key!r} has no tree of cuts to follow.")
    known = {demand.key for demand in demands}
    for placement in layout.placements:
        if placement.key not in known:
            raise LayoutError(f"A block of {material.key!r} holds {placement.key!r}, which is not wanted.")
    return _Planner(as_cut(material, layout), layout, demands, handout).plan(layout.cuts)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """What lies between two cuts of a box: from where, how long along the cuts' axis; no node: a rest."""

    low: float
    size: float
    node: CutNode | None

    @property
    def high(self) -> float:
        return self.low + self.size


@dataclass(slots=True)
class _Kind:
    """Parts that are cut alike: their name, the tree of one of them, and the low corners of all."""

    name: str
    node: CutNode
    lows: list[Triple] = field(default_factory=list)


def _low(node: CutNode) -> Triple:
    return (node.x, node.y, node.z)


def _size(node: CutNode) -> Triple:
    return (node.length, node.width, node.height)


def _holds(node: CutNode) -> bool:
    return node.piece is not None or any(_holds(part) for part in node.parts)


def _with(triple: Triple, along: int, value: float) -> Triple:
    x, y, z = (value if axis == along else old for axis, old in enumerate(triple))
    return x, y, z


def _mm(value: float) -> float:
    """Without the noise of sums; four decimals are kept for raw sizes that are off the grid."""
    return round(value, 4) + 0.0


class _Planner:
    def __init__(
        self, material: BlockMaterial, layout: Layout, demands: Sequence[Demand], handout: Handout | None
    ) -> None:
        self._material, self._layout, self._handout = material, layout, handout
        self._demands = {demand.key: (number, demand) for number, demand in enumerate(demands, start=1)}
        upright, level = (grid_up(kerf) * GRID for kerf in (material.kerfs.upright, material.kerfs.level))
        self._kerfs: Triple = (upright, upright, level)
        self._cuts: list[SawCut] = []
        self._parts: list[SawPart] = []

    def plan(self, root: CutNode) -> SawPlan:
        raw = (self._material.length, self._material.width, self._material.height)
        low, size = _low(root), _size(root)
        skins = [
            _mm(skin) for along in range(3) for skin in (low[along], raw[along] - low[along] - size[along])
        ]
        self._parts.append(SawPart(name=BLOCK, size=raw, lows=((0.0, 0.0, 0.0),)))
        root = self._core(root)
        first = None if root.axis is None else AXES.index(root.axis)
        # The skins along the first cuts come last: they are one run with those cuts.
        left: Triple = raw
        for along in sorted(range(3), key=lambda along: (along == first, AXES[along] != "z")):
            left = self._skin(along, left, skins[2 * along], skins[2 * along + 1])
        if root.axis is None and not self._outlined(root):
            self._free_whole(root)
        else:
            self._cut_up(_Kind(BLOCK, root, [low]), (0.0, 0.0, 0.0), "")
        return SawPlan(
            size=raw,
            kerfs=(_mm(self._kerfs[0]), _mm(self._kerfs[1]), _mm(self._kerfs[2])),
            skins=(skins[0], skins[1], skins[2], skins[3], skins[4], skins[5]),
            repeats=self._layout.repeats,
            cuts=self._linked(),
            parts=tuple(self._parts),
        )

    def _skin(self, along: int, left: Triple, low: float, high: float) -> Triple:
        """Take the skins off both faces in one direction; returns the size of what is left."""
        sides: tuple[tuple[Side, float, float, str], ...] = (
            ("near", low, low - self._kerfs[along], NEAR_FACES[along]),
            ("far", high, left[along] - high, FAR_FACES[along]),
        )
        for side, skin, measure, face in sides:
            if skin <= NOISE:
                continue
            thick = skin - self._kerfs[along]
            size = _with(left, along, _mm(thick))
            name, goes_to = f"skin, {face}", ODDMENTS["skin"]
            freed = Freed(side=side, fate="skin", name=name, size=size, goes_to=goes_to)
            self._cut(BLOCK, 1, along, measure, (freed,) if thick > NOISE else ())
            left = _with(left, along, _mm(left[along] - skin))
        return left

    def _free_whole(self, root: CutNode) -> None:
        """A block that is one piece once its skins are off: the last of these cuts frees it."""
        if self._cuts and root.piece is not None:
            last = self._cuts[-1]
            near = last.measure < _low(root)[AXES.index(last.axis)]
            freed = self._piece(root, 1, "far" if near else "near")
            self._cuts[-1] = replace(last, frees=(*last.frees, freed))

    def _cut(self, part: str, copies: int, along: int, measure: float, frees: tuple[Freed, ...]) -> None:
        self._cuts.append(
            SawCut(
                number=len(self._cuts) + 1,
                machine="slitter" if AXES[along] == "z" else "vertical saw",
                part=part,
                copies=copies,
                axis=AXES[along],
                face=NEAR_FACES[along],
                measure=_mm(measure),
                frees=frees,
            )
        )

    def _cut_up(self, kind: _Kind, face: Triple, prefix: str) -> None:
        """Cut all parts of a kind, then all that comes off them. `face` is where they are measured from."""
        node = kind.node
        if node.axis is None:
            self._cut_out(kind)
            return
        along = AXES.index(node.axis)
        end = _low(node)[along] + _size(node)[along]
        copies = len(kind.lows)
        stretches = self._stretches(node)
        kinds: dict[object, _Kind] = {}
        order: dict[object, int] = {}
        for place, stretch in enumerate(stretches):
            if end - stretch.high <= NOISE:
                break  # it was freed by the cut before it
            frees = [self._freed(kind, stretch, along, "near", kinds, order, prefix)]
            if place + 2 == len(stretches) and end - stretches[-1].high <= NOISE:
                frees.append(self._freed(kind, stretches[-1], along, "far", kinds, order, prefix))
            self._cut(kind.name, copies, along, stretch.high - face[along], tuple(frees))
        for child in kinds.values():
            size = _size(child.node)
            self._parts.append(SawPart(name=child.name, size=size, lows=tuple(child.lows)))
            self._cut_up(child, _low(child.node), f"{child.name.split()[1]}.")

    def _freed(
        self,
        kind: _Kind,
        stretch: _Stretch,
        along: int,
        side: Side,
        kinds: dict[object, _Kind],
        order: dict[object, int],
        prefix: str,
    ) -> Freed:
        node = stretch.node
        if node is None:
            size = _with(_size(kind.node), along, _mm(stretch.size))
            fate: Fate = "remnant" if worth_keeping(self._material, *size) else "scrap"
            return Freed(side=side, fate=fate, name="rest", size=size, goes_to=ODDMENTS[fate])
        alike = self._alike(node)
        index = order.setdefault(alike, len(order))  # pieces count as well: sheets have letters on the maps
        if node.piece is not None and not self._outlined(node):
            return self._piece(node, len(kind.lows), side)
        if alike not in kinds:
            tail = str(index + 1) if prefix else letters(index)
            kinds[alike] = _Kind(f"{_noun(kind, node)} {prefix}{tail}", node)
        group = kinds[alike]
        shift = [inner - outer for inner, outer in zip(_low(node), _low(kind.node), strict=True)]
        for low in kind.lows:
            x, y, z = (_mm(at + by) for at, by in zip(low, shift, strict=True))
            group.lows.append((x, y, z))
        return Freed(side=side, fate="part", name=group.name, size=_size(node), goes_to="")

    def _piece(self, node: CutNode, copies: int, side: Side) -> Freed:
        assert node.piece is not None
        key = self._layout.placements[node.piece].key
        number, demand = self._demands[key]
        name = f"no. {number} {demand.panel.code}{STANDS[self._layout.placements[node.piece].stand]}"
        goes_to, handed = self._goes_to(demand, copies)
        return Freed(
            side=side, fate="piece", name=name, size=_size(node), goes_to=goes_to, key=key, handed=handed
        )

    def _goes_to(self, demand: Demand, copies: int) -> tuple[str, tuple[Handed, ...]]:
        """The pile or the orders that so many pieces a block belong to."""
        if self._handout is None:
            return pile_of(demand), ()
        handed = self._handout.hand(demand.key, copies * self._layout.repeats)
        return orders_text(handed), handed

    # --- Outlines ---------------------------------------------------------------------------------------

    def _inside(self, node: CutNode) -> list[Placement]:
        """The pieces of a leaf: one, or two that share it."""
        return [self._layout.placements[at] for at in (node.piece, node.pair) if at is not None]

    def _outlined(self, node: CutNode) -> bool:
        """Whether a leaf is a box that outlines are cut out of."""
        return any(self._demands[place.key][1].panel.outline for place in self._inside(node))

    def _cut_out(self, kind: _Kind) -> None:
        """Cut the outlines out of boxes that are alike, along the lines marked on them."""
        node, copies = kind.node, len(kind.lows)
        outlines: list[list[Point]] = []
        frees: list[Freed] = []
        for place in self._inside(node):
            number, demand = self._demands[place.key]
            turned = turned_points(demand.panel.outline, place.turn, place.mirrored)
            outline: list[Point] = [(x + place.x - node.x, y + place.y - node.y) for x, y in turned]
            size = (max(x for x, _ in turned), max(y for _, y in turned), node.height)
            side: Side = "far" if outlines else "near"
            outlines.append(outline)
            goes_to, handed = self._goes_to(demand, copies)
            frees.append(
                Freed(
                    side=side,
                    fate="piece",
                    name=f"no. {number} {demand.panel.code}",
                    size=(_mm(size[0]), _mm(size[1]), _mm(size[2])),
                    goes_to=goes_to,
                    key=place.key,
                    handed=handed,
                    share=demand.panel.area * 1e6 / (size[0] * size[1]),
                )
            )
        marked = marked_box(outlines, node.length, node.width, self._kerfs[0])
        if marked.offcuts:
            share = marked.offcuts / (node.length * node.width)
            size = _size(node)
            goes_to = ODDMENTS["scrap"]
            frees.append(
                Freed(side="far", fate="scrap", name="offcuts", size=size, goes_to=goes_to, share=share)
            )
        self._cuts.append(
            SawCut(
                number=len(self._cuts) + 1,
                machine="vertical saw" if marked.straight else "contour cutter",
                part=kind.name,
                copies=copies,
                axis=None,
                face=MARKED,
                measure=0.0,
                frees=tuple(frees),
                lines=tuple(tuple((_mm(x), _mm(y)) for x, y in line) for line in marked.lines),
            )
        )

    def _alike(self, node: CutNode) -> object:
        """Parts with the same are cut alike: their size, and which pieces lie where in them."""
        pieces = set()
        stack = [node]
        while stack:
            part = stack.pop()
            stack += part.parts
            for placement in self._inside(part):
                place = (placement.x, placement.y, placement.z)
                at = tuple(round(a - b, 4) for a, b in zip(place, _low(node), strict=True))
                pieces.add((placement.key, placement.turn, placement.stand, at))
        return tuple(round(side, 4) for side in _size(node)), frozenset(pieces)

    def _stretches(self, node: CutNode) -> list[_Stretch]:
        """What the cuts of a box leave. Scrap beside scrap is one: a cut between them has no effect."""
        along = AXES.index(node.axis) if node.axis else 0
        found: list[_Stretch] = []
        scrap_before = False
        for part in node.parts:
            low, size = _low(part)[along], _size(part)[along]
            if _holds(part):
                found.append(_Stretch(low, size, self._core(part)))
                scrap_before = False
                continue
            scrap = not worth_keeping(self._material, *_size(part))
            if scrap and scrap_before:
                low = found.pop().low
                size = _low(part)[along] + size - low
            found.append(_Stretch(low, size, None))
            scrap_before = scrap
        return found

    def _core(self, node: CutNode) -> CutNode:
        """The first part that is cut or is a piece: a part that fills its whole box needs no cut."""
        while node.axis is not None:
            stretches = self._stretches(node)
            along = AXES.index(node.axis)
            whole = len(stretches) == 1 and _size(node)[along] - stretches[0].size <= NOISE
            if not whole or stretches[0].node is None:
                break
            node = stretches[0].node
        return node

    def _linked(self) -> tuple[SawCut, ...]:
        """The cuts, with the number of the next cut where a part goes."""
        first: dict[str, int] = {}
        for cut in self._cuts:
            first.setdefault(cut.part, cut.number)
        return tuple(
            replace(
                cut,
                frees=tuple(
                    replace(freed, goes_to=f"cut {first[freed.name]}") if freed.fate == "part" else freed
                    for freed in cut.frees
                ),
            )
            for cut in self._cuts
        )


def _noun(kind: _Kind, node: CutNode) -> str:
    """What a part is called: by how it was cut off, and whether it stands to be slit."""
    if node.piece is not None:
        return "box"
    if kind.node.axis == "z":
        return "sheet" if kind.name == BLOCK else "slab"
    if kind.name == BLOCK or kind.name.startswith("section"):
        return "column" if node.axis == "z" else "section"
    return "strip"
