"""Reading a tree of cuts: its lines in plan, its order, its levels and columns, and what is left over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nesting.model import BlockMaterial, CutNode, Layout, Material, Point, RollMaterial, SheetMaterial
from nesting.remnants import worth_keeping
from nesting.sawcuts import SawPlan

__all__ = [
    "Cut",
    "columns",
    "cut_lines",
    "first_cuts",
    "leaves",
    "level_cuts",
    "levels",
    "piece_order",
    "remnant_leaves",
    "saw_lines",
    "usable_box",
    "with_skin",
]

SAME = 1e-6  # mm; places closer than this are one


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight cut, seen in plan.

    Parameters
    ----------
    start, end
        Ends of its middle line, mm.
    at
        Where it begins, mm from the origin along the axis it is set out on: its side nearer to the
        origin, so that a stop set to this measure leaves the part before it at its full size.
    stage
        1 for the first cuts of the tree, 2 for the cuts of the parts they leave, and so on.
    number
        In the order of work, from a saw plan; 0 where first cuts are only counted.
    """

    start: Point
    end: Point
    at: float
    stage: int
    number: int = 0


def leaves(node: CutNode) -> Iterator[CutNode]:
    """The parts that are not cut any further, in cutting order."""
    if not node.parts:
        yield node
    for part in node.parts:
        yield from leaves(part)


def piece_order(layout: Layout) -> list[int]:
    """Indices of a layout's placements in the order in which a cutter meets them.

    With a tree of cuts it is the order of the tree; otherwise from the start of the material
    onwards: x, then y, and level by level in a block. Pieces that a tree fails to mention come last.
    """
    places = layout.placements
    plain = sorted(range(len(places)), key=lambda i: (places[i].z, places[i].x, places[i].y, i))
    if layout.cuts is None:
        return plain
    order = [at for leaf in leaves(layout.cuts) for at in (leaf.piece, leaf.pair) if at is not None]
    return order + sorted(set(plain) - set(order))


def cut_lines(node: CutNode, stage: int = 1) -> Iterator[Cut]:
    """All cuts along x and y of a tree, outer cuts before inner ones. Cuts along z are not seen in plan."""
    for before, after in zip(node.parts, node.parts[1:], strict=False):
        if node.axis == "x":
            at = before.x + before.length
            middle = (at + after.x) / 2.0
            yield Cut((middle, node.y), (middle, node.y + node.width), at, stage)
        elif node.axis == "y":
            at = before.y + before.width
            middle = (at + after.y) / 2.0
            yield Cut((node.x, middle), (node.x + node.length, middle), at, stage)
    for part in node.parts:
        yield from cut_lines(part, stage if node.axis == "z" else stage + 1)


def first_cuts(node: CutNode) -> tuple[Cut, ...]:
    """The cuts of the first stage, in rising order."""
    return tuple(cut for cut in cut_lines(node) if cut.stage == 1)


def levels(layout: Layout, height: float) -> tuple[CutNode, ...]:
    """The sheets that a slit-first block is slit into, from the bottom, those left over included.

    A block without a tree gets one level for each height at which pieces begin.
    """
    root = layout.cuts
    if root is not None:
        return root.parts if root.axis == "z" else (root,)
    starts = sorted({place.z for place in layout.placements})
    tops = [*starts[1:], height]
    return tuple(
        CutNode(0.0, 0.0, layout.length, 0.0, z=low, height=top - low)
        for low, top in zip(starts, tops, strict=True)
    )


def columns(node: CutNode) -> Iterator[CutNode]:
    """The columns a saw-first block is divided into, in cutting order, those left over included."""
    if node.axis == "z" or not node.parts:
        yield node
        return
    for part in node.parts:
        yield from columns(part)


def saw_lines(plan: SawPlan, box: CutNode, nouns: tuple[str, str]) -> Iterator[Cut]:
    """The upright cuts of a saw plan inside a box of the block, in the order of work.

    Parameters
    ----------
    box
        A sheet, or the whole block.
    nouns
        Which kinds of parts are seen: those whose cuts are of stage 1, then those of stage 2.
    """
    parts = {part.name: part for part in plan.parts}
    for cut in plan.cuts:
        noun = cut.part.partition(" ")[0]
        if cut.axis in ("z", None) or noun not in nouns:
            continue
        part, stage = parts[cut.part], 1 + nouns.index(noun)
        for x, y, z in part.lows:
            if not box.z - SAME < z < box.z + box.height - SAME:
                continue
            right, back = x + part.size[0], y + part.size[1]
            at = (x if cut.axis == "x" else y) + cut.measure
            middle = at + plan.kerfs[0] / 2.0
            if cut.axis == "x":
                yield Cut((middle, y), (middle, back), cut.measure, stage, cut.number)
            else:
                yield Cut((x, middle), (right, middle), cut.measure, stage, cut.number)


def level_cuts(plan: SawPlan, name: str) -> dict[float, int]:
    """Numbers of the level cuts of a part, by the height above its bottom at which they begin, mm."""
    return {cut.measure: cut.number for cut in plan.cuts if cut.part == name and cut.axis == "z"}


def usable_box(material: Material, length: float) -> tuple[float, float, float, float]:
    """Least x, least y, length and width that pieces may take, mm, in the frame of the placements."""
    if isinstance(material, RollMaterial):
        return 0.0, 0.0, length, material.usable_width
    rim = material.trim if isinstance(material, SheetMaterial) else material.skins
    return rim.x0, rim.y0, material.length - rim.x0 - rim.x1, material.width - rim.y0 - rim.y1


def with_skin(material: BlockMaterial) -> tuple[float, float]:
    """Lowest and highest z that slabs may take, mm."""
    return material.skins.z0, material.height - material.skins.z1


def remnant_leaves(material: Material, node: CutNode | None) -> tuple[CutNode, ...]:
    """The leftover parts of a sheet or block that are worth keeping by the material's own limits."""
    if node is None or isinstance(material, RollMaterial):
        return ()
    return tuple(
        leaf
        for leaf in leaves(node)
        if leaf.piece is None and worth_keeping(material, leaf.length, leaf.width, leaf.height)
    )
