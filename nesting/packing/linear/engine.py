"""`LinearProblem` in and layouts out: keys and millimetres around `pack_bars` and `search_joined`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nesting.packing.grid import Kinds, Ledger, Remainder, mm
from nesting.packing.linear.join_search import search_joined
from nesting.packing.linear.joined import Cut, JoinPlan, JoinTask, Want
from nesting.packing.linear.pack import pack_bars
from nesting.packing.linear.task import BarPlan, StockBar
from nesting.packing.problem import GRID, LinearProblem, Piece, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import Layout, Part, Placement

__all__ = ["layouts", "misfits", "search_bars"]


def misfits(problem: LinearProblem) -> Mapping[str, str]:
    """Lengths that no bar has, with the reason in plain words."""
    longest = max(bar.length for bar in problem.bars)
    reasons = {
        piece.key: (
            f"is {piece.length:.1f} mm long, the longest bar is {longest:.1f} mm: "
            f"{piece.length - longest:.1f} mm too long"
        )
        for piece in problem.pieces
        if piece.length > longest + GRID / 1e3
    }
    for piece in problem.pieces:
        if piece.key in reasons and piece.joins:
            if _want(piece).fewest_parts(grid_down(longest)) is None:
                reasons[piece.key] += f", also with {piece.joins} join(s)"
            else:
                del reasons[piece.key]
    return reasons


def search_bars(problem: LinearProblem, kinds: Kinds, search: Search[Any]) -> None:
    """Search for the cheapest bars; plans and bounds go to `search`.

    Drafts are a `BarPlan`, or a `JoinPlan` where some piece may be joined.
    """
    if _joins(problem):
        search_joined(_join_task(problem), search)
        return
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


def layouts(problem: LinearProblem, kinds: Kinds, draft: BarPlan | JoinPlan) -> tuple[list[Layout], Ledger]:
    """Write a draft out as bars with placements in mm."""
    if isinstance(draft, JoinPlan):
        return _joined_layouts(problem, draft)
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


def _joins(problem: LinearProblem) -> bool:
    return any(piece.joins for piece in problem.pieces)


def _want(piece: Piece) -> Want:
    """A piece in grid steps; a part is longer than its two seams there too."""
    seam = grid_up(piece.seam)
    least = max(grid_up(piece.least), 2 * seam + 1)
    return Want(grid_up(piece.length), piece.quantity, piece.joins, least, seam)


def _join_task(problem: LinearProblem) -> JoinTask:
    bars = tuple(StockBar(grid_down(bar.length), bar.cost, bar.available) for bar in problem.bars)
    return JoinTask(bars, tuple(_want(piece) for piece in problem.pieces), grid_up(problem.kerf))


def _joined_layouts(problem: LinearProblem, draft: JoinPlan) -> tuple[list[Layout], Ledger]:
    kerf = grid_up(problem.kerf)
    made: list[Layout] = []
    for (k, cuts), repeats in sorted(draft.bars.items(), key=lambda item: (-item[1], item[0])):
        x, placements = 0, []
        for cut in cuts:
            placements.append(_placement(problem, cut, x))
            _, lengths, part = cut
            x += lengths[part] + kerf
        bar = problem.bars[k]
        made.append(Layout(bar.key, tuple(placements), bar.length, repeats))
    short = zip(problem.pieces, draft.short, strict=True)
    return made, Remainder({piece.key: count for piece, count in short if count})


def _placement(problem: LinearProblem, cut: Cut, x: int) -> Placement:
    piece, lengths, index = cut
    part = Part(tuple(mm(length) for length in lengths), index) if len(lengths) > 1 else None
    return Placement(problem.pieces[piece].key, mm(x), 0.0, part=part)
