"""Chunks: full-width stretches of roll, the building stones of all roll plans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from nesting.packing.grid import Grid, Ints, Kinds
from nesting.packing.guillotine import Section
from nesting.packing.problem import RollProblem, grid_down, grid_up

__all__ = ["Chunk", "FlatSpot", "RollDraft", "RollGrid", "group"]

FlatSpot: TypeAlias = tuple[int, int, int, int]
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

    spots: tuple[FlatSpot, ...]
    length: int
    section: Section | None = None

    def counts(self, kinds: int) -> Ints:
        """Copies of each kind."""
        return np.bincount([kind for kind, *_ in self.spots], minlength=kinds).astype(np.int64)


RollDraft: TypeAlias = tuple[tuple[Chunk, int], ...]
"""Chunks with repeats."""


class RollGrid(Grid):
    """A roll problem on the grid: gap, width and longest marker (None: no limit), in grid steps."""

    def __init__(self, problem: RollProblem, kinds: Kinds) -> None:
        super().__init__(kinds)
        self.gap = grid_up(problem.gap)
        self.width = grid_down(problem.width)
        self.longest = grid_down(problem.max_marker_length) if problem.max_marker_length is not None else None

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
    order = sorted(draft, key=lambda item: -item[0].length)
    chunks = [chunk for chunk, _ in order]
    left = [repeats for _, repeats in order]
    markers = []
    first, last = 0, len(chunks)
    while first < last:
        room = longest
        used: list[tuple[int, int]] = []
        for at in range(first, last):
            times = min(left[at], (room + gap) // (chunks[at].length + gap))
            if times:
                used.append((at, times))
                room -= times * (chunks[at].length + gap)
        repeats = min(left[at] // times for at, times in used)
        marker = [chunks[at] for at, times in used for _ in range(times)]
        markers.append((tuple(marker), repeats))
        for at, times in used:
            left[at] -= times * repeats
        while first < last and left[first] == 0:
            first += 1
    return markers
