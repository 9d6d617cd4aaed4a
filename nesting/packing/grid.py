"""A problem in whole grid steps, equal pieces merged: what all engines start from.

Pieces that are alike to the solver (same boxes in the same turns) become one `Kind`; when the layouts
are written out again, the copies are handed back to the keys they came from.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from nesting.packing.problem import GRID, Piece, grid_up
from nesting.packing.solution import Placement, Stand, stood

__all__ = [
    "Bools",
    "Box",
    "Floats",
    "Grid",
    "Ints",
    "Kind",
    "Kinds",
    "Ledger",
    "Pose",
    "Remainder",
    "Spot",
    "boxes_of",
    "mm",
    "too_large",
]

Ints: TypeAlias = npt.NDArray[np.int64]
Floats: TypeAlias = npt.NDArray[np.float64]
Bools: TypeAlias = npt.NDArray[np.bool_]

Spot: TypeAlias = tuple[int, int, int, int, int]
"""A place in a layout: kind, box within the kind, and x, y, z of its low corner, in grid steps."""

STEPS = round(1 / GRID)
"""Grid steps in one millimetre."""


def mm(steps: float) -> float:
    """Grid steps to millimetres, free of float noise."""
    return round(steps * GRID, 1)


class Box(NamedTuple):
    """The bounding box of a kind in one of its poses, in grid steps; flat pieces have no height."""

    dx: int
    dy: int
    dz: int = 0


class Pose(NamedTuple):
    """How a piece has to lie to have a certain box: turn in degrees, mirroring, and how a slab stands."""

    turn: float
    mirrored: bool = False
    stand: Stand = "flat"


@dataclass(frozen=True, slots=True)
class Kind:
    """Pieces alike to the solver.

    Parameters
    ----------
    boxes
        Distinct boxes, one per useful pose.
    quantity
        Copies wanted, over all pieces merged here.
    area
        Area of one copy in square grid steps: the box of a rectangle; the least true area among
        outlines, rounded down, so that every area bound stays true.
    solid
        Whether the pieces are rectangles; outlines leave part of their box empty.
    members
        The pieces merged here, each with the pose that gives each box.
    """

    boxes: tuple[Box, ...]
    quantity: int
    area: int
    solid: bool
    members: tuple[tuple[Piece, tuple[Pose, ...]], ...]

    @property
    def volume(self) -> int:
        """Volume of one copy of a slab, in cubic grid steps: no more than the true one of an outline."""
        return self.area * self.boxes[0].dz


STANDS: tuple[Stand, ...] = ("flat", "side", "end")


def boxes_of(piece: Piece) -> dict[Box, Pose]:
    """Distinct boxes of a piece, each with the first pose that gives it."""
    found: dict[Box, Pose] = {}
    thick = grid_up(piece.thickness) if piece.thickness is not None else 0
    if not piece.points:
        for stand in STANDS if piece.standing else STANDS[:1]:
            along, across, up = map(int, stood(grid_up(piece.length), grid_up(piece.width), thick, stand))
            for turn in piece.turns:
                box = Box(along, across, up) if turn % 180.0 == 0.0 else Box(across, along, up)
                found.setdefault(box, Pose(turn, stand=stand))
        return found
    for mirrored in (False, True) if piece.mirror else (False,):
        for turn in piece.turns:
            length, width = piece.box(turn, mirrored)
            found.setdefault(Box(grid_up(length), grid_up(width), thick), Pose(turn, mirrored))
    return found


class Kinds(tuple[Kind, ...]):
    """All kinds of a problem, in the order in which the first piece of each is listed."""

    @classmethod
    def of(cls, pieces: Iterable[Piece]) -> Kinds:
        """Merge pieces that are alike."""
        groups: dict[object, list[tuple[Piece, dict[Box, Pose]]]] = {}
        for piece in pieces:
            boxes = boxes_of(piece)
            # Two slabs of one outline may share a box, so unlike outlines are not alike.
            outline = (piece.points, frozenset(piece.turns)) if piece.thickness and piece.points else ()
            groups.setdefault((frozenset(boxes), outline), []).append((piece, boxes))
        kinds = []
        for group in groups.values():
            order = tuple(group[0][1])
            box_area = order[0].dx * order[0].dy
            kinds.append(
                Kind(
                    boxes=order,
                    quantity=sum(piece.quantity for piece, _ in group),
                    area=min(math.floor(p.area * STEPS**2) if p.points else box_area for p, _ in group),
                    solid=not any(piece.points for piece, _ in group),
                    members=tuple((piece, tuple(boxes[box] for box in order)) for piece, boxes in group),
                )
            )
        return cls(kinds)

    @property
    def quantities(self) -> Ints:
        """Copies wanted of each kind."""
        return np.array([kind.quantity for kind in self], np.int64)


def too_large(pieces: Iterable[Piece], rooms: Sequence[tuple[int, ...]], what: str) -> Mapping[str, str]:
    """Pieces that fit into none of the rooms in any allowed turn.

    Parameters
    ----------
    pieces
        Flat pieces or slabs.
    rooms
        Usable length and width (and height) of the stock on offer, in grid steps.
    what
        The word for the stock: ``"sheet"`` or ``"block"``.

    Returns
    -------
    mapping
        From the key of each such piece to the reason, in plain words.
    """
    largest = max(rooms, key=math.prod)
    reasons = {}
    for piece in pieces:
        sizes = [box[: len(largest)] for box in boxes_of(piece)]
        if not any(
            all(side <= extent for side, extent in zip(size, room, strict=True))
            for size in sizes
            for room in rooms
        ):
            reasons[piece.key] = (
                f"measures {_measures(sizes[0])} mm and fits no {what} in an allowed turn; "
                f"the largest usable {what} is {_measures(largest)} mm"
            )
    return reasons


def _measures(size: Sequence[int]) -> str:
    return " x ".join(f"{mm(side):.1f}" for side in size)


class Grid:
    """Kinds with all their boxes in flat arrays, as the kernels take them.

    Attributes
    ----------
    kinds
        The kinds.
    start, dx, dy
        Boxes are listed kind by kind; those of kind ``k`` are ``start[k]:start[k + 1]``.
    owner
        The kind of each box.
    area, demand
        Area of one copy and copies wanted, of each kind.
    """

    def __init__(self, kinds: Kinds) -> None:
        self.kinds = kinds
        numbers = [len(kind.boxes) for kind in kinds]
        self.start: Ints = np.concatenate([[0], np.cumsum(numbers)]).astype(np.int64)
        self.dx: Ints = np.array([box.dx for kind in kinds for box in kind.boxes], np.int64)
        self.dy: Ints = np.array([box.dy for kind in kinds for box in kind.boxes], np.int64)
        self.owner: Ints = np.repeat(np.arange(len(kinds)), numbers)
        self.area: Ints = np.array([kind.area for kind in kinds], np.int64)
        self.demand = kinds.quantities


class Ledger:
    """Hands the copies of each kind back to the pieces they came from, first listed first.

    A layout that is repeated must use the same piece at the same place in every repeat, so the ledger
    splits the repeats wherever a piece runs out.
    """

    def __init__(self, kinds: Kinds) -> None:
        self._kinds = kinds
        self._left = [[piece.quantity for piece, _ in kind.members] for kind in kinds]

    def assign(self, spots: Sequence[Spot], repeats: int) -> Iterator[tuple[tuple[Placement, ...], int]]:
        """Yield placements with repeats for the spots of one layout."""
        needs = Counter(kind for kind, *_ in spots)
        while repeats > 0:
            shares: dict[int, list[int]] = {}
            times = repeats
            for kind, needed in needs.items():
                shares[kind], lasting = self._share(kind, needed, repeats)
                times = min(times, lasting)
            queues: dict[int, Iterator[int]] = {}
            for kind, share in shares.items():
                queues[kind] = iter([member for member, count in enumerate(share) for _ in range(count)])
                self._left[kind] = [
                    have - use * times for have, use in zip(self._left[kind], share, strict=True)
                ]
            placements = []
            for kind, box, x, y, z in spots:
                piece, poses = self._kinds[kind].members[next(queues[kind])]
                pose = poses[box]
                placements.append(
                    Placement(piece.key, mm(x), mm(y), pose.turn, pose.mirrored, mm(z), stand=pose.stand)
                )
            yield tuple(placements), times
            repeats -= times

    def _share(self, kind: int, needed: int, repeats: int) -> tuple[list[int], int]:
        """How many copies each member gives to one repeat, and for how many repeats that lasts."""
        left = self._left[kind]
        # First try a split that lasts for all repeats; otherwise take what is there, first listed first.
        usable = [count // repeats for count in left]
        if sum(usable) < needed:
            usable = left
        share = []
        for count in usable:
            share.append(min(count, needed))
            needed -= share[-1]
        assert needed == 0, "more copies placed than wanted"
        return share, min(have // use for have, use in zip(left, share, strict=True) if use)

    def left_over(self) -> dict[str, int]:
        """Copies not handed out, by key."""
        return {
            piece.key: left
            for kind, rest in zip(self._kinds, self._left, strict=True)
            for (piece, _), left in zip(kind.members, rest, strict=True)
            if left
        }


class Remainder(Ledger):
    """Tells what a plan leaves out, for engines that hand out copies themselves."""

    def __init__(self, left: Mapping[str, int]) -> None:
        self._missing = dict(left)

    def left_over(self) -> dict[str, int]:
        """Copies not placed, by key."""
        return self._missing
