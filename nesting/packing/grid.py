"""A problem in whole grid steps, equal pieces merged: what all engines start from.

Pieces that are alike to the solver (same boxes in the same turns) become one `Kind`; when the layouts
are written out again, the copies are handed back to the keys they came from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nesting.packing.problem import GRID, Piece, grid_up
from nesting.packing.solution import Placement

__all__ = ["Box", "Ints", "Kind", "Kinds", "Ledger", "mm"]

Ints = npt.NDArray[np.int64]


def mm(steps: float) -> float:
    """Grid steps to millimetres, free of float noise."""
    return round(steps * GRID, 1)


@dataclass(frozen=True, slots=True)
class Box:
    """The bounding box of a kind in one of its turns, in grid steps."""

    dx: int
    dy: int


@dataclass(frozen=True, slots=True)
class Kind:
    """Pieces alike to the solver.

    Parameters
    ----------
    boxes
        Distinct boxes, one per useful turn.
    quantity
        Copies wanted, over all pieces merged here.
    area
        True area of one copy, in square grid steps, rounded up to whole steps.
    height
        Thickness in grid steps; 0 for flat pieces.
    solid
        Whether the pieces are rectangles; outlines leave part of their box empty.
    members
        The pieces merged here, each with the turn and mirroring that gives each box.
    """

    boxes: tuple[Box, ...]
    quantity: int
    area: int
    height: int
    solid: bool
    members: tuple[tuple[Piece, tuple[tuple[float, bool], ...]], ...]


def _boxes(piece: Piece) -> dict[Box, tuple[float, bool]]:
    found: dict[Box, tuple[float, bool]] = {}
    for mirrored in (False, True) if piece.mirror else (False,):
        for turn in piece.turns:
            length, width = piece.box(turn, mirrored)
            found.setdefault(Box(grid_up(length), grid_up(width)), (turn, mirrored))
    return found


class Kinds(tuple[Kind, ...]):
    """All kinds of a problem, in the order in which their first piece is listed."""

    @classmethod
    def of(cls, pieces: Iterable[Piece]) -> Kinds:
        """Merge `pieces` that are alike."""
        merged: dict[tuple[frozenset[Box], int], list[tuple[Piece, dict[Box, tuple[float, bool]]]]] = {}
        for piece in pieces:
            boxes = _boxes(piece)
            height = grid_up(piece.thickness) if piece.thickness is not None else 0
            merged.setdefault((frozenset(boxes), height), []).append((piece, boxes))
        kinds = []
        for (_, height), group in merged.items():
            order = tuple(group[0][1])
            members = tuple((piece, tuple(boxes[box] for box in order)) for piece, boxes in group)
            quantity = sum(piece.quantity for piece, _ in group)
            box_area = order[0].dx * order[0].dy
            # Merged outlines may differ in area; the least of them keeps every area bound true.
            area = min(math.floor(p.area / GRID**2) if p.points else box_area for p, _ in group)
            solid = not any(piece.points for piece, _ in group)
            kinds.append(Kind(order, quantity, area, height, solid, members))
        return cls(kinds)

    def flat(self, gap: int = 0) -> tuple[Ints, Ints, Ints]:
        """Arrays `start`, `dx`, `dy` as the kernels take them, every box widened by `gap`."""
        start = np.zeros(len(self) + 1, np.int64)
        start[1:] = np.cumsum([len(kind.boxes) for kind in self])
        dx = np.array([box.dx + gap for kind in self for box in kind.boxes], np.int64)
        dy = np.array([box.dy + gap for kind in self for box in kind.boxes], np.int64)
        return start, dx, dy

    @property
    def quantities(self) -> Ints:
        """Copies wanted of each kind."""
        return np.array([kind.quantity for kind in self], np.int64)


class Ledger:
    """Hands the copies of each kind back to the pieces they came from, first listed first.

    A layout that is repeated must use the same piece at the same place in every repeat, so the ledger
    splits the repeats wherever a piece runs out.
    """

    def __init__(self, kinds: Kinds) -> None:
        self._kinds = kinds
        self._left = [[piece.quantity for piece, _ in kind.members] for kind in kinds]

    def assign(
        self, spots: Sequence[tuple[int, int, int, int, int]], repeats: int
    ) -> Iterable[tuple[tuple[Placement, ...], int]]:
        """Yield placements with repeats for spots ``(kind, box, x, y, z)`` in grid steps."""
        per_kind: dict[int, int] = {}
        for kind, *_ in spots:
            per_kind[kind] = per_kind.get(kind, 0) + 1
        while repeats > 0:
            shares: dict[int, list[int]] = {}
            times = repeats
            for kind, needed in per_kind.items():
                shares[kind], possible = self._share(kind, needed, repeats)
                times = min(times, possible)
            queues: dict[int, list[int]] = {}
            for kind, share in shares.items():
                queues[kind] = [member for member, count in enumerate(share) for _ in range(count)]
                for member, count in enumerate(share):
                    self._left[kind][member] -= count * times
            placements = []
            for kind, box, x, y, z in spots:
                piece, turns = self._kinds[kind].members[queues[kind].pop(0)]
                turn, mirrored = turns[box]
                placements.append(Placement(piece.key, mm(x), mm(y), turn, mirrored, mm(z)))
            yield tuple(placements), times
            repeats -= times

    def _share(self, kind: int, needed: int, repeats: int) -> tuple[list[int], int]:
        """How many copies each member gives to one repeat, and for how many repeats that lasts."""
        left = self._left[kind]
        # First try a split that lasts for all repeats; otherwise take what is there, once.
        lasting = [count // repeats for count in left]
        if sum(lasting) < needed:
            lasting, repeats = list(left), 1
        share = []
        for count in lasting:
            share.append(min(count, needed))
            needed -= share[-1]
        assert needed == 0, "more copies placed than wanted"
        return share, min(
            (have // use for have, use in zip(left, share, strict=True) if use), default=repeats
        )

    def left_over(self) -> dict[str, int]:
        """Copies not handed out, by key."""
        return {
            piece.key: left
            for kind, rest in zip(self._kinds, self._left, strict=True)
            for (piece, _), left in zip(kind.members, rest, strict=True)
            if left
        }
