"""The independent check of every answer: `verify` names the first rule that a plan breaks.

Nothing here is shared with the engines: turning, rounding and measuring are done anew, so an error in
an engine cannot hide itself. Only the fields of the problem and of the answer are read.

All tolerances of the check are the constants below; every measure is compared in mm.
"""

from __future__ import annotations

import math
from bisect import bisect_left, insort
from collections import Counter
from collections.abc import Sequence
from typing import NoReturn, TypeAlias

import shapely

from nesting.packing.cut_rules import check_block_order, check_tree, needed_stages
from nesting.packing.faults import NOISE, check_whole, fault, mm
from nesting.packing.long_rules import check_long_blocks, check_part, part_price
from nesting.packing.lying import AXES, Lying, Room, Shape, check_finite, round_up
from nesting.packing.problem import (
    GRID,
    Bar,
    Block,
    BlockProblem,
    Kerfs,
    LinearProblem,
    Piece,
    Problem,
    RackProblem,
    RollProblem,
    Sheet,
    SheetProblem,
    Skins,
    Trim,
)
from nesting.packing.rack_rules import OUTLINE_DEPTH, check_flaws, check_place, check_rolls, rack_cost
from nesting.packing.recipe_rules import check_whole_slab, glue_cost, glued_copies, part_piece
from nesting.packing.solution import Answer, Glued, Layout, Part, Placement

__all__ = ["verify"]

VALUE_NOISE = 1e-9
"""Float noise of a sum of lengths or costs, as a share of the sum, on top of `NOISE`."""

STANDS = ("flat", "side", "end")
"""How a slab may lie in a block; without leave, only as the first."""

Pose: TypeAlias = tuple[str, float, bool, str, Part | Glued | None]
"""Key, turn, mirroring, standing and part of a placement."""

BAR_WIDTH = 1.0
"""Bars and what is cut from them are treated as rectangles of this width, mm."""

OUTLINES_AT_ONCE = 256
"""Outlines compared with all others in one go; bounds the memory a wildly wrong layout can take."""


def verify(problem: Problem, answer: Answer) -> None:
    """Check an answer against its problem, rule by rule.

    Checked are: keys, repeats and stock counts; the usable area; places on rolls and their flaws; turns
    and mirroring; that pieces keep their gap (of rectangles: in x or in y); the cut tree, its kerfs and
    its stages; that the parts of a joined or glued piece are allowed and make it up; that exactly the wanted
    quantities are placed or missing with a reason; the value and the bound.

    Parameters
    ----------
    problem
        What was asked.
    answer
        What an engine answered, complete or with `missing`.

    Raises
    ------
    LayoutError
        Naming the first fault with the layout (counted from 1), the pieces and the measures in mm.

    Notes
    -----
    In a problem with outlines the gap of a free layout is the true distance between outlines, to
    within 0.01 mm. Rectangles alone are compared to within 1e-6 mm, by a sweep along x that keeps the
    pieces it crosses in order of y (the idea of Shamos and Hoey 1976, "Geometric intersection
    problems", 17th Symposium on Foundations of Computer Science: 208-215), so its work is n log n.
    """
    pieces = {piece.key: piece for piece in problem.pieces}
    shapes: dict[Pose, Shape] = {}
    for number, layout in enumerate(answer.layouts, start=1):
        where = f"Layout {number}"
        room = _room(problem, layout, where)
        lying = [_lying(placement, pieces, shapes, where) for placement in layout.placements]
        if not lying:
            fault(where, "holds no pieces")
        for piece in lying:
            _check_inside(piece, room, where)
        _check_pieces_apart(problem, layout, lying, room, where)
        if isinstance(problem, RackProblem):
            roll = next(roll for roll in problem.rolls if roll.key == layout.stock_key)
            flat = [(piece.key, piece.low[:2], piece.high[:2], piece.shape.outline) for piece in lying]
            check_flaws(problem, layout, roll, flat, where)
    if isinstance(problem, RackProblem):
        check_rolls(problem, answer)
    if isinstance(problem, BlockProblem):
        check_long_blocks(problem, answer)
    _check_stock(problem, answer)
    _check_quantities(pieces, answer)
    _check_value(problem, answer)


def _stock(problem: Problem) -> dict[str, Sheet | Block | Bar]:
    """Sheets, blocks or bars by key; nothing for rolls."""
    if isinstance(problem, RollProblem | RackProblem):
        return {}
    if isinstance(problem, SheetProblem):
        return {sheet.key: sheet for sheet in problem.sheets}
    if isinstance(problem, BlockProblem):
        return {block.key: block for block in problem.blocks}
    return {bar.key: bar for bar in problem.bars}


def _room(problem: Problem, layout: Layout, where: str) -> Room:
    """Usable area of the stock a layout is cut from, after checking its key, repeats and length."""
    check_whole(layout.repeats, "repeats", where)
    check_finite([layout.length], "the length", where)
    if isinstance(problem, RollProblem):
        if layout.stock_key != "roll":
            fault(where, f"is cut from {layout.stock_key!r}, but a roll problem has only 'roll'")
        longest = problem.max_marker_length
        if longest is not None and layout.length > longest + NOISE:
            fault(where, f"is {mm(layout.length)} mm long; a marker may be at most {mm(longest)} mm")
        return Room((0.0, 0.0, 0.0), (layout.length, problem.width, 0.0))
    if isinstance(problem, RackProblem):
        roll = check_place(problem, layout, where)
        return Room((0.0, 0.0, 0.0), (layout.length, roll.width, 0.0))
    item = _stock(problem).get(layout.stock_key)
    if item is None:
        fault(where, f"is cut from {layout.stock_key!r}, which is not in stock")
    long = isinstance(item, Block) and item.cut_to is not None
    if not long and abs(layout.length - item.length) > NOISE:
        fault(where, f"is {mm(layout.length)} mm long, but {item.key!r} is {mm(item.length)} mm")
    if isinstance(item, Bar):
        return Room((0.0, 0.0, 0.0), (item.length, BAR_WIDTH, 0.0))
    if isinstance(item, Block):
        assert isinstance(problem, BlockProblem)
        skins = problem.trim if item.trim is None else item.trim
        assert isinstance(skins, Skins)  # a number has become Skins when problem and block were made
        across = (item.width - skins.y1, item.height - skins.z1)
        if long:
            # A part is measured from its own end: the end skins are off.
            check_part(problem, layout, item, where)
            return Room((0.0, skins.y0, skins.z0), (layout.length, *across))
        return Room((skins.x0, skins.y0, skins.z0), (item.length - skins.x1, *across))
    assert isinstance(problem, SheetProblem) and isinstance(item, Sheet)
    rim = problem.trim if item.trim is None else item.trim
    assert isinstance(rim, Trim)  # a number has become a Trim when the problem was made
    return Room((rim.x0, rim.y0, 0.0), (item.length - rim.x1, item.width - rim.y1, 0.0))


def _lying(placement: Placement, pieces: dict[str, Piece], shapes: dict[Pose, Shape], where: str) -> Lying:
    """A placement with its measures, after checking its key, figures, turn and mirroring."""
    piece = pieces.get(placement.key)
    if piece is None:
        fault(where, f"holds {placement.key!r}, which nobody asked for")
    check_finite([placement.x, placement.y, placement.z, placement.turn], f"piece {placement.key!r}", where)
    turned = (placement.key, placement.turn, placement.mirrored, placement.stand, placement.part)
    if turned not in shapes:
        away = [abs((placement.turn - turn + 180.0) % 360.0 - 180.0) for turn in piece.turns]
        if min(away) > NOISE:
            allowed = ", ".join(mm(turn) for turn in piece.turns)
            fault(where, f"piece {piece.key!r} is turned by {mm(placement.turn)} degrees; allowed: {allowed}")
        if placement.mirrored and not piece.mirror:
            fault(where, f"piece {piece.key!r} is mirrored, which it must not be")
        if placement.stand not in (STANDS if piece.standing else STANDS[:1]):
            allowed = "flat, side and end" if piece.standing else "flat only"
            fault(where, f"piece {piece.key!r} lies {placement.stand!r}; allowed: {allowed}")
        turn = piece.turns[away.index(min(away))] % 360.0
        if isinstance(placement.part, Part):
            shapes[turned] = _part_shape(placement.part, piece, where)
        else:
            check_whole_slab(placement.part, piece, where)
            cut = part_piece(placement.part, piece, where)
            shapes[turned] = _turned(cut, turn, placement.mirrored, placement.stand)
    shape = shapes[turned]
    low = (placement.x, placement.y, placement.z)
    high = (low[0] + shape.size[0], low[1] + shape.size[1], low[2] + shape.size[2])
    return Lying(piece.key, low, high, shape)


def _part_shape(part: Part, piece: Piece, where: str) -> Shape:
    """Shape of one part of a joined piece, after checking that its lengths make up the piece."""
    name, count = f"piece {piece.key!r}", len(part.lengths)
    check_finite(part.lengths, name, where)
    if not 2 <= count <= piece.joins + 1:
        fault(where, f"{name} is joined from {count} parts; allowed joins are {piece.joins}")
    if not 0 <= part.index < count:
        fault(where, f"{name} has part {part.index} of {count}, counted from 0")
    for length in part.lengths:
        if length < piece.least - NOISE:
            fault(where, f"{name} has a part of {mm(length)} mm; the least is {mm(piece.least)} mm")
    total, seams = math.fsum(part.lengths), 2 * (count - 1)
    low = piece.length + seams * piece.seam
    high = round_up(piece.length) + seams * round_up(piece.seam)
    if not low - NOISE <= total <= high + NOISE:
        need = f"needed are {mm(low)} mm with seams"
        fault(where, f"the parts of {name} add up to {mm(total)} mm; {need}")
    return Shape((part.length, BAR_WIDTH, 0.0), ())


def _turned(piece: Piece, turn: float, mirrored: bool, stand: str) -> Shape:
    """Shape of a piece stood up or flipped in the x axis if asked, then turned by `turn` degrees.

    On its side a slab keeps its length along x, and its width is upright; on its end its thickness is along
    x and its length upright.
    """
    if not piece.points:
        along, across = piece.length, piece.width if piece.width > 0 else BAR_WIDTH
        up = piece.thickness or 0.0
        if stand == "side":
            across, up = up, across
        elif stand == "end":
            along, up = up, along
        flat = (along, across) if turn in (0.0, 180.0) else (across, along)
        return Shape((*flat, up), ())
    # A corner as a complex number: flipping is conjugation, turning is multiplication.
    right_angles = {0.0: 1 + 0j, 90.0: 1j, 180.0: -1 + 0j, 270.0: -1j}
    spin = right_angles.get(turn, complex(math.cos(math.radians(turn)), math.sin(math.radians(turn))))
    corners = [complex(x, -y if mirrored else y) * spin for x, y in piece.points]
    left = min(corner.real for corner in corners)
    low = min(corner.imag for corner in corners)
    outline = tuple((corner.real - left, corner.imag - low) for corner in corners)
    size = (max(x for x, _ in outline), max(y for _, y in outline), piece.thickness or 0.0)
    return Shape(size, outline)


def _check_inside(piece: Lying, room: Room, where: str) -> None:
    for along, axis in enumerate(AXES):
        if piece.low[along] < room.low[along] - NOISE:
            start = f"starts before {axis} {mm(room.low[along])}, where the usable area starts"
            fault(where, f"piece {piece} {start}")
        if piece.high[along] > room.high[along] + NOISE:
            reach = f"reaches to {axis} {mm(piece.high[along])}"
            fault(where, f"piece {piece} {reach}, but the usable area ends at {mm(room.high[along])}")


def _check_pieces_apart(
    problem: Problem, layout: Layout, lying: Sequence[Lying], room: Room, where: str
) -> None:
    """Check the cut tree where edge-to-edge cuts are asked, otherwise all distances."""
    if isinstance(problem, BlockProblem):
        if layout.cuts is None:
            fault(where, "edge-to-edge cuts are asked, but there is no cut tree")
        assert isinstance(problem.kerf, Kerfs)
        upright, level = problem.kerf.upright, problem.kerf.level
        check_tree(layout.cuts, lying, room, (upright, upright, level), where)
        check_block_order(layout.cuts, problem.order, where)
        return
    kerf = problem.gap if isinstance(problem, RollProblem | RackProblem) else problem.kerf
    if isinstance(problem, LinearProblem):
        if layout.cuts is not None:
            fault(where, "a bar carries no cut tree")
        _check_boxes_apart(lying, kerf, where)
        return
    stages = problem.stages
    if stages is None:
        if any(piece.points for piece in problem.pieces):
            _check_outlines_apart(lying, kerf, where)
        else:
            _check_boxes_apart(lying, kerf, where)
    elif layout.cuts is None:
        fault(where, "edge-to-edge cuts are asked, but there is no cut tree")
    if layout.cuts is None:
        return
    check_tree(layout.cuts, lying, room, (kerf, kerf, kerf), where)
    if isinstance(stages, int):
        needed = needed_stages(layout.cuts)
        if needed > stages:
            fault(where, f"needs {needed} stages of cuts, the first across x; allowed are {stages}")


# --- Distances ----------------------------------------------------------------------------------------


def _check_boxes_apart(lying: Sequence[Lying], gap: float, where: str) -> None:
    """Every two rectangles are `gap` apart in x or in y.

    Each rectangle is lengthened and widened by the gap; then none may overlap. The sweep runs along x;
    what it crosses at one time lies side by side in y, so a newcomer is compared with two neighbours.
    """
    more = gap - NOISE
    # An end comes before a start at the same x: touching is allowed.
    events = sorted(
        event
        for index, piece in enumerate(lying)
        for event in (
            (piece.low[0], 1, index),
            (max(piece.high[0] + more, math.nextafter(piece.low[0], math.inf)), 0, index),
        )
    )
    crossed: list[tuple[float, int]] = []
    for _, starts, index in events:
        piece = lying[index]
        entry = (piece.low[1], index)
        if not starts:
            del crossed[bisect_left(crossed, entry)]
            continue
        at = bisect_left(crossed, entry)
        if at > 0 and lying[crossed[at - 1][1]].high[1] + more > piece.low[1]:
            _too_close(lying[crossed[at - 1][1]], piece, gap, where)
        if at < len(crossed) and piece.high[1] + more > crossed[at][0]:
            _too_close(lying[crossed[at][1]], piece, gap, where)
        insort(crossed, entry)


def _too_close(one: Lying, other: Lying, gap: float, where: str) -> NoReturn:
    apart = max(
        max(one.low[along], other.low[along]) - min(one.high[along], other.high[along]) for along in (0, 1)
    )
    if apart < -NOISE:
        fault(where, f"pieces {one} and {other} overlap by {mm(-apart)} mm")
    fault(where, f"pieces {one} and {other} are {mm(max(apart, 0.0))} mm apart; {mm(gap)} mm are needed")


def _check_outlines_apart(lying: Sequence[Lying], gap: float, where: str) -> None:
    """Every two outlines are `gap` apart, less `OUTLINE_DEPTH` at most."""
    outlines = []
    for piece in lying:
        (length, width, _), (x, y, _) = piece.shape.size, piece.low
        corners = piece.shape.outline or ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
        shape = shapely.Polygon([(x + dx, y + dy) for dx, dy in corners])
        # Turning can make corners that nearly touch cross by float noise.
        outlines.append(shape if shape.is_valid else shapely.make_valid(shape))
    tree = shapely.STRtree(outlines)
    least = gap - OUTLINE_DEPTH
    for start in range(0, len(outlines), OUTLINES_AT_ONCE):
        some = outlines[start : start + OUTLINES_AT_ONCE]
        if least > 0:
            pairs = tree.query(some, predicate="dwithin", distance=least)
        else:
            pairs = tree.query(some, predicate="intersects")
        for one, other in sorted(zip((pairs[0] + start).tolist(), pairs[1].tolist(), strict=True)):
            if one >= other:
                continue
            both = shapely.intersection(outlines[one], outlines[other])
            # Deep means: a disc of diameter OUTLINE_DEPTH fits into what both cover.
            if both.area > 0 and not shapely.buffer(both, -OUTLINE_DEPTH / 2).is_empty:
                depth = f"overlap in {mm(both.area)} mm2"
                fault(where, f"pieces {lying[one]} and {lying[other]} {depth}")
            if least > 0:
                apart = f"are {mm(shapely.distance(outlines[one], outlines[other]))} mm apart"
                fault(where, f"pieces {lying[one]} and {lying[other]} {apart}; {mm(gap)} mm are needed")


# --- Cut trees ----------------------------------------------------------------------------------------


def _check_stock(problem: Problem, answer: Answer) -> None:
    used: Counter[str] = Counter()
    for layout in answer.layouts:
        used[layout.stock_key] += layout.repeats
    for key, item in _stock(problem).items():
        if isinstance(item, Block) and item.cut_to is not None:
            continue  # its parts are counted on the blocks that they lie on
        if item.available is not None and used[key] > item.available:
            fault("Plan", f"uses {used[key]} of {key!r}; there are {item.available}")


def _check_quantities(pieces: dict[str, Piece], answer: Answer) -> None:
    placed: Counter[str] = Counter()
    parts: dict[tuple[str, tuple[float, ...]], Counter[int]] = {}
    for layout in answer.layouts:
        for placement in layout.placements:
            if placement.part is None:
                placed[placement.key] += layout.repeats
            elif isinstance(placement.part, Part):
                alike = parts.setdefault((placement.key, placement.part.lengths), Counter())
                alike[placement.part.index] += layout.repeats
    for (key, lengths), counts in parts.items():
        if len({counts[index] for index in range(len(lengths))}) > 1:
            found = " + ".join(f"{counts[index]} x {mm(length)}" for index, length in enumerate(lengths))
            fault("Plan", f"joins {key!r} from {found} mm; there must be as many of each")
        placed[key] += counts[0]
    for (key, _), copies in glued_copies(pieces, answer).items():
        placed[key] += copies
    for key, missing in answer.missing.items():
        if key not in pieces:
            fault("Plan", f"misses {key!r}, which nobody asked for")
        check_whole(missing.quantity, f"missing quantity of {key!r}", "Plan")
        if not missing.reason.strip():
            fault("Plan", f"gives no reason why {key!r} is missing")
    for key, piece in pieces.items():
        missed = answer.missing[key].quantity if key in answer.missing else 0
        if placed[key] + missed != piece.quantity:
            wanted = f"wanted are {piece.quantity}"
            fault("Plan", f"places {placed[key]} and misses {missed} of {key!r}; {wanted}")


def _check_value(problem: Problem, answer: Answer) -> None:
    check_finite([answer.value, answer.bound], "value or bound", "Plan")
    stock = _stock(problem)
    if isinstance(problem, RollProblem):
        laid = math.fsum(layout.repeats * (layout.length + problem.end_loss) for layout in answer.layouts)
        total = laid + problem.setup * _different_markers(problem, answer)
    elif isinstance(problem, RackProblem):
        total = rack_cost(problem, answer)
    elif isinstance(problem, BlockProblem):
        blocks = {block.key: block for block in problem.blocks}
        total = math.fsum(la.repeats * part_price(problem, la, blocks[la.stock_key]) for la in answer.layouts)
        total += glue_cost(problem, answer)
    else:
        total = math.fsum(layout.repeats * stock[layout.stock_key].cost for layout in answer.layouts)
    noise = NOISE + VALUE_NOISE * total
    if abs(answer.value - total) > noise:
        fault("Plan", f"its value is given as {mm(answer.value)}, but its layouts add up to {mm(total)}")
    if not -noise <= answer.bound <= answer.value + noise:
        fault("Plan", f"its bound {mm(answer.bound)} is not between 0 and its value {mm(answer.value)}")


def _different_markers(problem: RollProblem, answer: Answer) -> int:
    """How many layouts differ in more than the names of their pieces.

    Rectangles that an engine may round up to the same size are the same shape.
    """
    pieces = {piece.key: piece for piece in problem.pieces}
    found = set()
    for layout in answer.layouts:
        marker: Counter[tuple[object, ...]] = Counter()
        for placement in layout.placements:
            piece = pieces[placement.key]
            shape: tuple[object, ...] = (piece.points, placement.turn, placement.mirrored)
            if not piece.points:
                sides = (round(round_up(piece.length) / GRID), round(round_up(piece.width) / GRID))
                shape = sides if placement.turn % 180.0 == 0.0 else sides[::-1]
            marker[(placement.x, placement.y, *shape)] += 1
        found.add(frozenset(marker.items()))
    return len(found)
