"""Rolls: free placement and guillotine sections. The one entry is `search_roll`."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from nesting.packing.bounds import area_bound, bar_bound, longest_bound, row_bound
from nesting.packing.grid import Kinds, Ledger, mm
from nesting.packing.problem import GRID, RollProblem
from nesting.packing.profiles import profiles_of
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid, group
from nesting.packing.roll.free import renest, strip_plan
from nesting.packing.roll.sections import section_plan
from nesting.packing.search import Search
from nesting.packing.solution import CutNode, Layout
from nesting.packing.trees import piece_in, sections_tree

__all__ = ["layouts", "misfits", "search_roll"]

MOST_IN_ONE = 1_500
"""Most pieces for which one stretch with all of them is searched."""

MOST_KINDS = 250
"""Most kinds for which sections are tried under free placement."""


def misfits(problem: RollProblem) -> Mapping[str, str]:
    """Pieces that fit the roll in no allowed turn, with the reason in plain words."""
    reasons = {}
    for piece in problem.pieces:
        boxes = [piece.box(turn) for turn in piece.turns]
        narrow = [box for box in boxes if box[1] <= problem.width + GRID / 1e3]
        if not narrow:
            least = min(width for _, width in boxes)
            reasons[piece.key] = (
                f"needs {least:.1f} mm across the roll, usable width is {problem.width:.1f} mm: "
                f"{least - problem.width:.1f} mm too wide"
            )
        elif problem.max_marker_length is not None:
            least = min(length for length, _ in narrow)
            if least > problem.max_marker_length + GRID / 1e3:
                reasons[piece.key] = (
                    f"needs {least:.1f} mm along the roll, the longest marker is "
                    f"{problem.max_marker_length:.1f} mm: {least - problem.max_marker_length:.1f} mm too long"
                )
    return reasons


def search_roll(problem: RollProblem, kinds: Kinds, search: Search[RollDraft]) -> None:
    """Search for short plans of pieces that all fit; plans and bounds go to `search` (grid steps)."""
    grid = RollGrid(problem, kinds)
    search.prove(area_bound(grid.area, grid.demand, grid.width))
    search.prove(longest_bound(grid.start, grid.dx, grid.dy, grid.width))
    # Outlines may interlock, so only rectangles add up where no two lie side by side.
    solid = np.where([kind.solid for kind in kinds], grid.demand, 0)
    search.prove(row_bound(grid.start, grid.dx, grid.dy, solid, grid.width))
    search.prove(bar_bound(profiles_of(problem.pieces), grid.width, grid.gap))
    if grid.gap == 0 and all(kind.solid for kind in kinds):
        # Pushed together, every length is a sum of box lengths: a multiple of their common divisor.
        step = int(np.gcd.reduce(grid.dx))
        search.prove(-(-search.bound // step) * step)
    if problem.stages is not None:
        section_plan(grid, 2 if problem.stages == 2 else 3, search)
        return
    copies = int(grid.demand.sum())
    repeats = grid.longest is not None or copies >= 3 * grid.demand.size
    if repeats and grid.demand.size <= MOST_KINDS:
        section_plan(grid, 3, search, share=0.3)
    if search.draft is None or (copies <= MOST_IN_ONE and not search.over):
        strip_plan(grid, search, share=0.3 if repeats else 1.0)
    if search.draft is not None and repeats:
        renest(grid, search)


def layouts(problem: RollProblem, kinds: Kinds, draft: RollDraft) -> tuple[list[Layout], Ledger]:
    """Write a draft out as markers with placements in mm."""
    grid = RollGrid(problem, kinds)
    ledger = Ledger(kinds)
    made = []
    for chunks, repeats in group(draft, grid.longest, grid.gap):
        spots = []
        length = -grid.gap
        for chunk in chunks:
            length += grid.gap
            spots.extend((kind, box, x + length, y, 0) for kind, box, x, y in chunk.spots)
            length += chunk.length
        cuts = _tree(grid, chunks, length) if problem.stages is not None else None
        made.extend(
            Layout("roll", placements, mm(length), times, cuts)
            for placements, times in ledger.assign(spots, repeats)
        )
    return made, ledger


def _tree(grid: RollGrid, chunks: tuple[Chunk, ...], length: int) -> CutNode:
    sections = [chunk.section for chunk in chunks if chunk.section is not None]
    numbers = iter(range(sum(len(chunk.spots) for chunk in chunks)))
    return sections_tree(
        (0, 0, 0),
        (length, grid.width, 0),
        sections,
        grid.dx,
        grid.dy,
        grid.gap,
        lambda box, corner, extent: piece_in(
            corner, extent, (int(grid.dx[box]), int(grid.dy[box]), 0), next(numbers), grid.gap
        ),
    )
