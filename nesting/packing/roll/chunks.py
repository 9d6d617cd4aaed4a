"""Chunks: full-width stretches of roll, the building stones of all roll plans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from nesting.packing.grid import Grid, Ints, Kinds
from nesting.packing.guillotine import Section, Strip
from nesting.packing.problem import RollProblem, grid_down, grid_up
from nesting.packing.skyline import FlatSpot

__all__ = ["Chunk", "RollDraft", "RollGrid"]


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

    spots: tuple[FlatSpot, ...]
    length: int
    section: Section | None = None

    def counts(self, kinds: int) -> Ints:
        """Copies of each kind."""
        return np.bincount([kind for kind, *_ in self.spots], minlength=kinds).astype(np.int64)


RollDraft: TypeAlias = tuple[tuple[Chunk, int], ...]
"""Chunks with repeats."""


class RollGrid(Grid):
    """A roll problem on the grid: gap, width, longest marker (None: no limit), losses, in grid steps."""

    def __init__(self, problem: RollProblem, kinds: Kinds) -> None:
        super().__init__(kinds)
        self.problem = problem
        self.gap = grid_up(problem.gap)
        self.width = grid_down(problem.width)
        self.longest = grid_down(problem.max_marker_length) if problem.max_marker_length is not None else None
        self.end_loss, self.setup = grid_up(problem.end_loss), grid_up(problem.setup)

    def fits(self, box: int) -> bool:
        """Whether a box lies within the width and the longest marker."""
        return bool(self.dy[box] <= self.width and (self.longest is None or self.dx[box] <= self.longest))

    def value(self, draft: RollDraft) -> float:
        """Length of all chunks in one row, in grid steps."""
        return float(sum((chunk.length + self.gap) * repeats for chunk, repeats in draft) - self.gap)

    def part(self, numbers: Ints) -> RollGrid:
        """The same roll for some of the kinds, which are numbered anew in the order given."""
        return RollGrid(self.problem, Kinds(self.kinds[number] for number in numbers.tolist()))

    def restored(self, section: Section, part: RollGrid, numbers: Ints) -> Section:
        """A section of a part, with the boxes as they are numbered here."""
        owner = part.owner
        boxes = np.arange(owner.size) - part.start[owner] + self.start[numbers[owner]]
        strips = (Strip(tuple(boxes[list(strip.boxes)].tolist()), strip.width) for strip in section.strips)
        return Section(tuple(strips), section.length)

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
