"""Chunks: full-width stretches of roll, the building stones of all roll plans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nesting.packing.grid import Ints, Kinds
from nesting.packing.guillotine import Section
from nesting.packing.problem import RollProblem, grid_down, grid_up

__all__ = ["Chunk", "RollDraft", "RollGrid", "Spot", "group"]

Spot = tuple[int, int, int, int]
"""Kind, box within the kind, x and y of its low corner, in grid steps."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Pieces on a full-width stretch of roll.

    Parameters
    ----------
    spots
        The pieces, x from the start of the chunk.
    length
        In grid steps.
    section
        The guillotine section it is, if it is one.
    """

    spots: tuple[Spot, ...]
    length: int
    section: Section | None = None

    def counts(self, kinds: int) -> Ints:
        """Copies of each kind."""
        return np.bincount([kind for kind, *_ in self.spots], minlength=kinds).astype(np.int64)


RollDraft = tuple[tuple[Chunk, int], ...]
"""Chunks with repeats."""


class RollGrid:
    """A roll problem on the grid, with all boxes in flat lists.

    Boxes are listed kind by kind; those of kind ``k`` are ``start[k]:start[k + 1]``.
    """

    def __init__(self, problem: RollProblem, kinds: Kinds) -> None:
        self.kinds = kinds
        self.gap = grid_up(problem.gap)
        self.width = grid_down(problem.width)
        self.longest = grid_down(problem.max_marker_length) if problem.max_marker_length is not None else None
        self.start, self.dx, self.dy = kinds.flat()
        self.owner = np.repeat(np.arange(len(kinds)), np.diff(self.start))
        self.area = np.array([kind.area for kind in kinds], np.int64)
        self.demand = kinds.quantities

    def fits(self, box: int) -> bool:
        """Whether a box lies within the width and the longest marker."""
        return bool(self.dy[box] <= self.width and (self.longest is None or self.dx[box] <= self.longest))

    def value(self, draft: RollDraft) -> float:
        """Length of all chunks in one row, in grid steps."""
        return float(sum((chunk.length + self.gap) * repeats for chunk, repeats in draft) - self.gap)

    def section_chunk(self, section: Section) -> Chunk:
        """The chunk of a guillotine section."""
        spots = []
        y = 0
        for strip in section.strips:
            x = 0
            for box in strip.boxes:
                kind = int(self.owner[box])
                spots.append((kind, box - int(self.start[kind]), x, y))
                x += int(self.dx[box]) + self.gap
            y += strip.width + self.gap
        return Chunk(tuple(spots), section.length, section)


def group(draft: RollDraft, longest: int | None, gap: int) -> list[tuple[tuple[Chunk, ...], int]]:
    """Join chunks to markers no longer than `longest`, few in number and often repeated.

    Without a longest length every chunk is a marker of its own. Otherwise markers are filled with the
    longest chunks first, and each is repeated as often as its chunks last.

    Returns
    -------
    list of (chunks in order, repeats)
    """
    if longest is None:
        return [((chunk,), repeats) for chunk, repeats in draft]
    left: list[tuple[Chunk, int]] = sorted(draft, key=lambda item: -item[0].length)
    markers = []
    while left:
        room = longest
        used: list[int] = []
        for chunk, repeats in left:
            times = min(repeats, (room + gap) // (chunk.length + gap))
            used.append(times)
            room -= times * (chunk.length + gap)
        repeats = min(have // use for (_, have), use in zip(left, used, strict=True) if use)
        marker: Sequence[Chunk] = [
            chunk for (chunk, _), use in zip(left, used, strict=True) for _ in range(use)
        ]
        markers.append((tuple(marker), repeats))
        left = [
            (chunk, have - use * repeats)
            for (chunk, have), use in zip(left, used, strict=True)
            if have > use * repeats
        ]
    return markers
