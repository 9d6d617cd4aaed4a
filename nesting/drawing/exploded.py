"""A block in parallel projection, its sheets or columns drawn apart: where what lies, at a glance.

The projection is oblique (cabinet kind): x to the right, z up, y away at a slant and shortened. Cuts from
face to face divide a box cleanly, so parts drawn from far to near, left to right and bottom to top never
hide what was wrongly drawn before them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from nesting.drawing.cuts import leaves
from nesting.drawing.lettering import text_width
from nesting.drawing.pieces import PlacedPiece
from nesting.drawing.scene import (
    STYLES,
    WHITE,
    Hatch,
    Layer,
    Polygon,
    Style,
    Text,
    crossings,
    extent,
    piece_style,
)
from nesting.drawing.sketch import Box, Sketch, arrow, overlap, spread, text_box
from nesting.model import BlockMaterial, CutNode, Point
from nesting.remnants import worth_keeping
from nesting.sawcuts import SawPlan

__all__ = ["draw_exploded", "draw_frame"]

SLANT = (0.45, 0.32)
"""How far one mm along y moves to the right and up."""

LIFT, MOST_LIFT = 0.26, 1.2
"""Distance of unlike sheets over the block's width; the most of all distances over its height."""

SPREAD = 0.08
"""Distance of unlike columns over the block's length or width."""

LEADER = 3.0
"""Length of the lines to the names of sheets, over the height of the letters."""

AXES = ("x", "y", "z")
RIM = 0.18  # mm, lines around faces

Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class _Solid:
    """A piece or rest, moved apart from the others, and which of its faces are seen: front, right, top."""

    node: CutNode
    low: Triple
    seen: tuple[bool, bool, bool]

    def faces(self) -> Iterator[tuple[str, tuple[Point, ...]]]:
        """Name and outline of the faces that are seen."""
        (x, y, z), node = self.low, self.node
        right, back, top = x + node.length, y + node.width, z + node.height
        corners = (
            ("front", ((x, y, z), (right, y, z), (right, y, top), (x, y, top))),
            ("right", ((right, y, z), (right, back, z), (right, back, top), (right, y, top))),
            ("top", ((x, y, top), (right, y, top), (right, back, top), (x, back, top))),
        )
        for (name, outline), shown in zip(corners, self.seen, strict=True):
            if shown:
                yield name, tuple(_flat(*corner) for corner in outline)


def _flat(x: float, y: float, z: float) -> Point:
    return x + SLANT[0] * y, z + SLANT[1] * y


class _Explosion:
    """Moves the parts of a block apart."""

    def __init__(self, plan: SawPlan, root: CutNode, pieces: Sequence[PlacedPiece]) -> None:
        self.plan, self.root, self.pieces = plan, root, pieces
        kinds = [self._alike(part) for part in root.parts]
        unlike = sum(one != other for one, other in pairwise(kinds))
        length, width, height = plan.size
        lift = min(LIFT * width, MOST_LIFT * height / max(1, unlike))
        self.apart = {"x": SPREAD * length, "y": SPREAD * width, "z": lift}

    def _alike(self, node: CutNode) -> object:
        inside = [leaf for leaf in leaves(node) if leaf.piece is not None]
        spots = frozenset(
            (
                _numbers(leaf, self.pieces),
                round(leaf.x - node.x, 4),
                round(leaf.y - node.y, 4),
                round(leaf.z - node.z, 4),
            )
            for leaf in inside
        )
        return round(node.length, 4), round(node.width, 4), round(node.height, 4), spots

    def solids(self) -> Iterator[_Solid]:
        """All pieces and rests, the hindmost first."""
        yield from self._solids(self.root, (0.0, 0.0, 0.0), (True, True, True))

    def _solids(self, node: CutNode, moved: Triple, seen: tuple[bool, bool, bool]) -> Iterator[_Solid]:
        if not any(leaf.piece is not None for leaf in leaves(node)) or node.axis is None:
            x, y, z = (at + by for at, by in zip((node.x, node.y, node.z), moved, strict=True))
            yield _Solid(node, (x, y, z), seen)
            return
        along = AXES.index(node.axis)
        # Level parts come apart in a slit block, upright ones in a block that is sawn first.
        opens = node is self.root or (self.root.axis != "z" and node.axis != "z")
        gaps = [
            self.apart[node.axis] if opens and self._alike(a) != self._alike(b) else 0.0
            for a, b in pairwise(node.parts)
        ]
        shown = []
        far = 0.0
        for place, part in enumerate(node.parts):
            front, right, top = seen
            first, last = place == 0, place + 1 == len(node.parts)
            if along == 0:
                right = (last and right) or (not last and gaps[place] > 0)
            elif along == 1:
                front = (first and front) or (not first and gaps[place - 1] > 0)
            else:
                top = (last and top) or (not last and gaps[place] > 0)
            by = tuple(at + (far if axis == along else 0.0) for axis, at in enumerate(moved))
            shown.append((part, (by[0], by[1], by[2]), (front, right, top)))
            far += 0.0 if last else gaps[place]
        for part, by, faces in reversed(shown) if along == 1 else shown:
            yield from self._solids(part, by, faces)


def draw_exploded(
    sketch: Sketch,
    box: Box,
    material: BlockMaterial,
    plan: SawPlan,
    root: CutNode,
    pieces: Sequence[PlacedPiece],
    least: float,
) -> None:
    """Draw the block without its skins into `box`, as large as fits; not to a round scale.

    Parameters
    ----------
    root
        The layout's tree of cuts.
    pieces
        Those of the layout, in the order of its placements; pieces show their number, sheets and columns
        the name they have in the saw plan.
    least
        Height of the letters, mm.
    """
    solids = list(_Explosion(plan, root, pieces).solids())
    left, low, right, high = extent(point for solid in solids for _, face in solid.faces() for point in face)
    names = {
        low: part.name.partition(" ")[2]
        for part in plan.parts
        if part.name.startswith("column")
        for low in part.lows
    }
    beside = _sheet_names(plan, root, solids)
    margin = max((text_width(words, least) for words, _ in beside), default=0.0)
    margin += (LEADER + 1.0) * least if beside else 0.0
    scale = max((right - left) / (box.width - margin), (high - low) / box.height)

    def placed(point: Point) -> Point:
        return box.left + (point[0] - left) / scale, box.high + (point[1] - high) / scale

    drawn: list[tuple[Point, ...]] = []
    wanted: list[tuple[int, str]] = []
    for solid in solids:
        style, layer = _style(material, solid.node, pieces)
        column = names.get((round(solid.node.x, 4), round(solid.node.y, 4), root.z), "")
        for name, face in solid.faces():
            outline = tuple(placed(point) for point in face)
            hatch = style.hatch if name == "top" else Hatch.NONE
            sketch.add(Polygon(outline, layer, replace(style, width=RIM, hatch=hatch)))
            if name == "top" and column:
                wanted.append((len(drawn), column))
            elif name != "right" and solid.node.piece is not None:
                wanted.append((len(drawn), _numbers(solid.node, pieces)))
            drawn.append(outline)
    _label_faces(sketch, drawn, wanted, least)
    feet = [placed(foot) for _, foot in beside]
    # A page that is too full for all names squeezes them; the side view names every sheet as well.
    bottom = box.high - (high - low) / scale
    spots = spread([y for _, y in feet], 1.8 * least, bottom, box.high - least)
    edge = max((x for x, _ in feet), default=0.0)
    for (words, _), (x, y), spot in zip(beside, feet, spots, strict=True):
        at = edge + LEADER * least
        sketch.line((x, y), (at - 0.6 * least, spot), layer=Layer.DIMENSIONS)
        sketch.add(Text(at, spot - least / 2.0, words, least))


def _style(material: BlockMaterial, node: CutNode, pieces: Sequence[PlacedPiece]) -> tuple[Style, Layer]:
    if node.piece is not None:
        return piece_style(pieces[node.piece].kind), Layer.PIECES
    if worth_keeping(material, node.length, node.width, node.height):
        return STYLES[Layer.REMNANTS], Layer.REMNANTS
    return STYLES[Layer.TRIM], Layer.TRIM


def _numbers(leaf: CutNode, pieces: Sequence[PlacedPiece]) -> str:
    """Position number of the piece in a leaf, or of the two that share it."""
    return " + ".join(str(pieces[at].number) for at in (leaf.piece, leaf.pair) if at is not None)


def _sheet_names(plan: SawPlan, root: CutNode, solids: Sequence[_Solid]) -> list[tuple[str, Point]]:
    """Words and foot of the name of every pack of alike sheets, from the bottom."""
    if root.axis != "z":
        return []
    found = []
    for part in plan.parts:
        if not part.name.startswith("sheet"):
            continue
        lows = {low[2] for low in part.lows}
        mine = [solid for solid in solids if round(solid.node.z, 4) in lows]
        bottom = min(solid.low[2] for solid in mine)
        top = max(solid.low[2] + solid.node.height for solid in mine)
        words = part.name if len(lows) == 1 else f"{len(lows)} x {part.name}"
        back = root.y + root.width  # the rightmost edge: nothing drawn is beyond it
        found.append((words, _flat(root.x + root.length, back, (bottom + top) / 2.0)))
    return sorted(found, key=lambda item: item[1][1])


def _label_faces(
    sketch: Sketch, drawn: Sequence[tuple[Point, ...]], wanted: Sequence[tuple[int, str]], least: float
) -> None:
    """Words in the middle of faces that hold them and that nothing drawn later hides there."""
    taken: list[Box] = []
    spans = [Box(*extent(outline)) for outline in drawn]
    for place, words in wanted:
        outline = drawn[place]
        x = sum(point[0] for point in outline) / len(outline)
        y = sum(point[1] for point in outline) / len(outline)
        text = Text(x, y - least / 2.0, words, least, "middle", bold=True)
        box, rim = text_box(text), 0.25 * least
        room = Box(box.left - rim, box.low - rim, box.right + rim, box.high + rim)
        corners = [(px, py) for px in (room.left, x, room.right) for py in (room.low, room.high)]
        if not all(_inside(outline, corner) for corner in corners):
            continue
        later = [drawn[at] for at in range(place + 1, len(drawn)) if overlap(spans[at], room)]
        if any(_inside(outline, corner) for outline in later for corner in corners):
            continue
        if not any(overlap(room, other) for other in taken):
            sketch.rect(room, Layer.MARKS, Style(width=0.0, fill=WHITE))
            sketch.add(text)
            taken.append(room)


def _inside(outline: Sequence[Point], point: Point) -> bool:
    return sum(stop < point[0] for stop in crossings(outline, point[1])) % 2 == 1


def draw_frame(sketch: Sketch, x: float, y: float, least: float) -> None:
    """The three directions in which measures run, with (x, y) as their corner."""
    length = 9.0 * least
    slant = (x + 2.0 * SLANT[0] * length, y + 2.0 * SLANT[1] * length)
    for end in ((x + length, y), slant, (x, y + length)):
        sketch.add(*arrow((x, y), end, 1.2 * least))
    gap = 0.6 * least
    sketch.add(
        Text(x + length + gap, y - least / 2.0, "from the left end (length)", least),
        Text(slant[0] + gap, slant[1] - least / 2.0, "from the front side (width)", least),
        Text(x, y + length + gap, "from the bottom (thickness)", least),
    )
