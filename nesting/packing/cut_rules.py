"""The rules that a tree of cuts must keep: boxes that add up, kerfs, stages, the order of a block's cuts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TypeAlias

from nesting.packing.faults import NOISE, fault, mm
from nesting.packing.lying import AXES, Lying, Room, Triple, check_finite, point, round_up
from nesting.packing.pair_rules import check_pair
from nesting.packing.pieces import GRID
from nesting.packing.solution import CutNode

__all__ = ["check_block_order", "check_tree", "needed_stages"]

FACE_SLACK = 2 * GRID
"""How far short of the usable area the root of a cut tree may lie on each face, mm: stock is rounded
down to the grid, and trims are rounded up."""

FREE_TRIMS = 2
"""Directions in which the last cuts may trim a box down to its one piece without counting as a stage."""

FOOTPRINT_STAGES = 3
"""Stages allowed in one slit sheet, or in dividing the footprint of a block into columns."""

IsEnd: TypeAlias = Callable[[CutNode], bool]
"""Whether a node of a cut tree is what the stages lead to: a piece, or a column that is then split."""


def _low(node: CutNode) -> Triple:
    return (node.x, node.y, node.z)


def _size(node: CutNode) -> Triple:
    return (node.length, node.width, node.height)


def check_tree(root: CutNode, lying: Sequence[Lying], room: Room, kerfs: Triple, where: str) -> None:
    """The tree starts from the usable area, its parts fill it, and its leaves are the pieces.

    `kerfs` are those of cuts set out along x, y and z. Only in blocks a leaf may be a pair.
    """
    for node in _nodes(root):
        check_finite([*_low(node), *_size(node)], "the cut tree", where)
        if node.pair is not None and (node.piece is None or not node.height > 0):
            fault(where, f"the box at {point(_low(node))} has a second piece, which only slabs in a box have")
    for low, size, first, last, axis in zip(_low(root), _size(root), room.low, room.high, AXES, strict=True):
        early, late = low - first, last - (low + size)
        if not (-NOISE <= early <= FACE_SLACK + NOISE and -NOISE <= late <= FACE_SLACK + NOISE):
            found = f"{axis} {mm(low)} to {mm(low + size)}"
            fault(where, f"the cut tree covers {found}; the usable area is {mm(first)} to {mm(last)}")
    found_at: dict[int, CutNode] = {}
    for node in _nodes(root):
        if node.axis is not None:
            if node.piece is not None or not node.parts:
                fault(where, f"the box at {point(_low(node))} is cut, so it needs parts and is no piece")
            _check_parts(node, kerfs, where)
        elif node.parts:
            fault(where, f"the box at {point(_low(node))} has parts, but no direction of cut")
        elif node.piece is not None:
            if not 0 <= node.piece < len(lying):
                fault(where, f"the cut tree names piece number {node.piece} of {len(lying)}")
            if node.piece in found_at:
                fault(where, f"piece {lying[node.piece]} is in the cut tree twice")
            found_at[node.piece] = node
            if node.pair is None:
                _check_leaf(node, lying[node.piece], where)
                continue
            if not 0 <= node.pair < len(lying):
                fault(where, f"the cut tree names piece number {node.pair} of {len(lying)}")
            if node.pair in found_at:
                fault(where, f"piece {lying[node.pair]} is in the cut tree twice")
            found_at[node.pair] = node
            check_pair(node, lying[node.piece], lying[node.pair], kerfs[0], where)
    for index, piece in enumerate(lying):
        if index not in found_at:
            fault(where, f"piece {piece} is not in the cut tree")


def _nodes(root: CutNode) -> Iterator[CutNode]:
    """All nodes of a tree, a node before its parts; no recursion, for trees may be deep."""
    stack = [root]
    while stack:
        node = stack.pop()
        yield node
        stack.extend(reversed(node.parts))


def _check_parts(node: CutNode, kerfs: Triple, where: str) -> None:
    """Parts have the full extent of the box across the cuts, and fill it along them but for the kerfs."""
    if node.axis is None or node.axis not in AXES:
        fault(where, f"cuts along {node.axis!r}; allowed are x, y and z")
    cut = AXES.index(node.axis)
    box = f"the box at {point(_low(node))}"
    kerf = kerfs[cut]
    widest = round_up(kerf)
    end = _low(node)[cut]
    for count, part in enumerate(node.parts):
        for along, axis in enumerate(AXES):
            shift = abs(_low(part)[along] - _low(node)[along])
            short = abs(_size(part)[along] - _size(node)[along])
            if along != cut and max(shift, short) > NOISE:
                found = f"part {count + 1} of {box} measures {mm(_size(part)[along])} along {axis}"
                fault(where, f"{found}, not from edge to edge of {mm(_size(node)[along])}")
        if not _size(part)[cut] > NOISE:
            fault(where, f"part {count + 1} of {box} has no size along {node.axis}")
        apart = _low(part)[cut] - end
        if count == 0 and abs(apart) > NOISE:
            start = f"starts at {node.axis} {mm(end)}, its first part at {mm(end + apart)}"
            fault(where, f"{box} {start}")
        if count > 0 and not kerf - NOISE <= apart <= widest + NOISE:
            found = f"parts {count} and {count + 1} of {box} are {mm(apart)} mm apart along {node.axis}"
            fault(where, f"{found}; the kerf is {mm(kerf)} mm")
        end = _low(part)[cut] + _size(part)[cut]
    rest = _low(node)[cut] + _size(node)[cut] - end
    # A rest no thicker than the blade goes with the last cut.
    if not -NOISE <= rest <= widest + NOISE:
        far = mm(end + rest)
        fault(where, f"the parts of {box} end at {node.axis} {mm(end)}, but the box ends at {far}")


def _check_leaf(node: CutNode, piece: Lying, where: str) -> None:
    """A leaf lies where its piece lies and has its size, rounded up to the grid at most."""
    for along, axis in enumerate(AXES):
        if abs(_low(node)[along] - piece.low[along]) > NOISE:
            found = f"piece {piece} has its place in the cut tree at {axis} {mm(_low(node)[along])}"
            fault(where, found)
        size, leaf = piece.shape.size[along], _size(node)[along]
        if not size - NOISE <= leaf <= round_up(size) + NOISE:
            found = f"piece {piece} measures {mm(size)} along {axis}"
            fault(where, f"{found}, but its leaf of the cut tree {mm(leaf)}")


# --- Stages of cuts -----------------------------------------------------------------------------------


def _is_piece(node: CutNode) -> bool:
    return node.piece is not None


def _is_piece_or_split(node: CutNode) -> bool:
    return node.piece is not None or node.axis == "z"


def _only_trims(node: CutNode, is_end: IsEnd) -> bool:
    """Whether the cuts of a box only take left-overs off one end (a piece or column), in few directions."""
    directions = 0
    axis = None
    while not is_end(node):
        kept = [part for part in node.parts if part.axis is not None or part.piece is not None]
        if len(kept) != 1:
            return False
        directions += node.axis != axis
        axis = node.axis
        node = kept[0]
    return directions <= FREE_TRIMS


def needed_stages(root: CutNode) -> int:
    """Stages of cuts that free all pieces, the first of them set out along x."""
    return _stages(root, "x", _is_piece)


def _stages(root: CutNode, first: str | None, is_end: IsEnd) -> int:
    """Stages a tree needs: how often cuts change direction from its root on, last trims aside.

    With `first` the first stage has that direction, and stays empty when the root is cut otherwise.
    """
    most = 0
    stack = [(root, first, 0 if first is None else 1)]
    while stack:
        node, axis, used = stack.pop()
        if node.axis is None or _only_trims(node, is_end):
            most = max(most, used)
            continue
        used += node.axis != axis
        stack.extend((part, node.axis, used) for part in node.parts)
    return most


def _split(root: CutNode) -> list[CutNode]:
    """What level cuts (at given z), and nothing else, make of a box."""
    parts, stack = [], [root]
    while stack:
        node = stack.pop()
        if node.axis == "z":
            stack.extend(node.parts)
        else:
            parts.append(node)
    return parts


def check_block_order(root: CutNode, order: str, where: str) -> None:
    """The cuts of a block come in the order asked for, or in either for ``"best"``."""
    faults = []
    for name, check in (("slit first", _slit_first_fault), ("saw first", _saw_first_fault)):
        if order in (name, "best"):
            found = check(root)
            if found is None:
                return
            faults.append(f"not {name}: {found}")
    fault(where, "; ".join(faults))


def _slit_first_fault(root: CutNode) -> str | None:
    """Level cuts through the whole block, then each sheet edge to edge in few stages."""
    for sheet in _split(root):
        at = f"the sheet at z {mm(sheet.z)}"
        if any(node.axis == "z" for node in _nodes(sheet)):
            return f"{at} is slit again after it was sawn"
        needed = _stages(sheet, None, _is_piece)
        if needed > FOOTPRINT_STAGES:
            return f"{at} needs {needed} stages of cuts; allowed are {FOOTPRINT_STAGES}"
    return None


def _saw_first_fault(root: CutNode) -> str | None:
    """Upright cuts through the whole block in few stages, then each column level, then only trims."""
    needed = _stages(root, None, _is_piece_or_split)
    if needed > FOOTPRINT_STAGES:
        return f"the columns need {needed} stages of cuts; allowed are {FOOTPRINT_STAGES}"
    stack = [root]
    while stack:
        node = stack.pop()
        if node.axis != "z":
            stack.extend(node.parts)
            continue
        for slab in _split(node):
            level = any(below.axis == "z" for below in _nodes(slab))
            if slab.axis is not None and (level or not _only_trims(slab, _is_piece)):
                return f"the slab at {point(_low(slab))} is divided further after its column was split"
    return None


# --- The whole plan -----------------------------------------------------------------------------------
