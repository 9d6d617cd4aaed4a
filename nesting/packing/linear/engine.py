"""`LinearProblem` in and layouts out: keys and millimetres around `pack_bars`."""

from __future__ import annotations

from collections.abc import Mapping

from nesting.packing.grid import Kinds, Ledger
from nesting.packing.linear.pack import pack_bars
from nesting.packing.linear.task import BarPlan, StockBar
from nesting.packing.problem import GRID, LinearProblem, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import Layout

__all__ = ["layouts", "misfits", "search_bars"]


def misfits(problem: LinearProblem) -> Mapping[str, str]:
    """Lengths that no bar has, with the reason in plain words."""
    longest = max(bar.length for bar in problem.bars)
    return {
        piece.key: (
            f"is {piece.length:.1f} mm long, the longest bar is {longest:.1f} mm: "
            f"{piece.length - longest:.1f} mm too long"
        )
        for piece in problem.pieces
        if piece.length > longest + GRID / 1e3
    }


def search_bars(problem: LinearProblem, kinds: Kinds, search: Search[BarPlan]) -> None:
    """Search for the cheapest bars; plans and bounds go to `search`."""
    bars = [StockBar(grid_down(bar.length), bar.cost, bar.available) for bar in problem.bars]
    lengths = [kind.boxes[0].dx for kind in kinds]
    demand = kinds.quantities.tolist()

    # The quick plan first, so that there is one when the search is interrupted.
    for budget in (Search[BarPlan](effort_limit=0), search):
        plan = pack_bars(bars, lengths, demand, grid_up(problem.kerf), budget)
        search.prove(plan.bound)
        search.offer(plan.cost, plan, short=sum(count for count, _ in plan.missing.values()))
        if search.over:
            return


def layouts(problem: LinearProblem, kinds: Kinds, draft: BarPlan) -> tuple[list[Layout], Ledger]:
    """Write a draft out as bars with placements in mm."""
    ledger = Ledger(kinds)
    kerf = grid_up(problem.kerf)
    made: list[Layout] = []
    for pattern in draft.patterns:
        bar = problem.bars[pattern.bar]
        spots = []
        x = 0
        for kind, count in enumerate(pattern.counts):
            for _ in range(count):
                spots.append((kind, 0, x, 0, 0))
                x += kinds[kind].boxes[0].dx + kerf
        made.extend(
            Layout(bar.key, placements, bar.length, times)
            for placements, times in ledger.assign(spots, pattern.repeats)
        )
    return made, ledger
