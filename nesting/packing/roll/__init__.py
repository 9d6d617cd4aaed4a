"""Rolls: free placement and guillotine sections. The one entry is `search_roll`."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from nesting.packing.bounds import area_bound, bar_bound, longest_bound, row_bound
from nesting.packing.grid import Kinds, Ledger, Spot, boxes_of, mm
from nesting.packing.problem import RollProblem, grid_down
from nesting.packing.profiles import profiles_of
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.roll.exact import close
from nesting.packing.roll.free import Strip, renest, stretches
from nesting.packing.roll.markers import Markers
from nesting.packing.roll.sections import section_plan
from nesting.packing.search import Search
from nesting.packing.solution import CutNode, Layout
from nesting.packing.trees import Corner, Extent, piece_in, sections_tree

__all__ = ["layouts", "misfits", "search_roll"]

REPEATED = 3
"""Copies per kind from which patterns are expected to repeat."""

MOST_IN_ONE = 100_000
"""Most copies that are nested on one stretch in any case."""

MOST_SINGLE = 250
"""Most kinds for which sections are tried where patterns do not repeat."""

FIRST_SHARE = 0.05
"""Share of the budget for a first search on one stretch, and for sections that will hardly be the best."""

SECTIONS_SHARE = 0.9
"""Share of what is left for sections where copies repeat."""

BOUND_SHARE = 0.5
"""Share of the budget for the bar relaxation."""


def misfits(problem: RollProblem) -> Mapping[str, str]:
    """Pieces that fit the roll in no allowed turn, with the reason in plain words."""
    width = grid_down(problem.width)
    longest = None if problem.max_marker_length is None else grid_down(problem.max_marker_length)
    reasons = {}
    for piece in problem.pieces:
        boxes = boxes_of(piece)
        narrow = [box for box in boxes if box.dy <= width]
        if not narrow:
            least = min(box.dy for box in boxes)
            reasons[piece.key] = (
                f"needs {mm(least):.1f} mm across the roll, usable width is {mm(width):.1f} mm: "
                f"{mm(least - width):.1f} mm too wide"
            )
        elif longest is not None and (least := min(box.dx for box in narrow)) > longest:
            reasons[piece.key] = (
                f"needs {mm(least):.1f} mm along the roll, the longest marker is {mm(longest):.1f} mm: "
                f"{mm(least - longest):.1f} mm too long"
            )
    return reasons


def search_roll(problem: RollProblem, kinds: Kinds, search: Search[RollDraft]) -> None:
    """Search for short plans of pieces that all fit; plans and bounds go to `search` (grid steps)."""
    grid = RollGrid(problem, kinds)
    _prove(problem, grid, search)
    if problem.stages is not None:
        # Three stages stand in for any number: there the bound of three proves nothing.
        section_plan(grid, 2 if problem.stages == 2 else 3, search, binding=problem.stages in (2, 3))
        if problem.stages != "any":
            close(grid, problem.stages, search)
        return
    strip = Strip(grid)
    in_one = stretches(grid) == 1 and int(grid.demand.sum()) <= MOST_IN_ONE
    if in_one:
        strip.improve(search, FIRST_SHARE)
    # Copies that repeat are best cut in sections that repeat; single pieces rarely are.
    repeats = grid.longest is not None or int(grid.demand.sum()) >= REPEATED * grid.demand.size
    if not search.over and (repeats or grid.demand.size <= MOST_SINGLE):
        section_plan(grid, 3, search, share=SECTIONS_SHARE if repeats else FIRST_SHARE)
    if search.draft is None:
        strip.improve(search)
    if not search.over:
        renest(grid, search)
    if not search.over and all(kind.solid for kind in kinds):
        close(grid, None, search)
    if not search.over and in_one:
        strip.improve(search)


def _prove(problem: RollProblem, grid: RollGrid, search: Search[RollDraft]) -> None:
    """Prove all bounds that hold for free placement."""
    search.prove(area_bound(grid.area, grid.demand, grid.width))
    search.prove(longest_bound(grid.start, grid.dx, grid.dy, grid.width))
    # Outlines may interlock, so only rectangles show their whole width in every cross-section.
    solid = np.array([kind.solid for kind in grid.kinds])
    search.prove(row_bound(grid.start, grid.dx, grid.dy, np.where(solid, grid.demand, 0), grid.width))
    budget = search.child(BOUND_SHARE)
    search.prove(bar_bound(profiles_of(problem.pieces), grid.width, grid.gap, budget))
    if grid.gap == 0 and solid.all():
        # Pushed together, every length is a sum of box lengths: a multiple of their common divisor.
        step = int(np.gcd.reduce(grid.dx))
        search.prove(-(-search.bound // step) * step)


def layouts(problem: RollProblem, kinds: Kinds, markers: Markers) -> tuple[list[Layout], Ledger]:
    """Write markers out with placements in mm."""
    grid = RollGrid(problem, kinds)
    ledger = Ledger(kinds)
    made: list[Layout] = []
    for chunks, repeats in markers:
        spots: list[Spot] = []
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

    def place(box: int, corner: Corner, extent: Extent) -> CutNode:
        size = (int(grid.dx[box]), int(grid.dy[box]), 0)
        return piece_in(corner, extent, size, next(numbers), (grid.gap,) * 3)

    return sections_tree((0, 0, 0), (length, grid.width, 0), sections, grid.dx, grid.dy, grid.gap, place)
