"""Racks: rolls of several widths, with and without end, whole or flawed. The entry is `search_rack`.

Which piece is cut from which roll is decided by covering the demand with sections of the rolls without
end and with fillings of whole windows of the others (column generation, `nesting.packing.columns`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress

from nesting.packing.bars import NOISE, bar_cost_bound
from nesting.packing.grid import Kinds
from nesting.packing.problem import RackProblem
from nesting.packing.profiles import profiles_of
from nesting.packing.rack.bounds import area_cost_bound
from nesting.packing.rack.core import cover_and_improve, first_plan
from nesting.packing.rack.drafts import RackDraft, RackPlan, joined, layouts, roll_grid
from nesting.packing.rack.ease import ease, lay, limit_chunks, limit_to_rests, settled
from nesting.packing.rack.stocks import RackGrid, misfits
from nesting.packing.roll.chunks import RollGrid
from nesting.packing.roll.markers import MARKER_SHARE
from nesting.packing.search import Search, Stop
from nesting.packing.solution import Layout

__all__ = ["budget_share", "finish", "layouts", "misfits", "search_rack", "worth"]

BOUND_SHARE = 0.25
"""Share of the budget for the bar relaxation."""

EASED_SHARE = 0.9
"""Share of the rest for a search in which rolls there are plenty of have no end; if all its plans can be laid
on the rolls, the last tenth goes on from them, otherwise it has to do."""


def budget_share(problem: RackProblem) -> float:
    """Share of the budget that joining chunks to markers may take; none where nothing is to be joined."""
    endless = any(roll.length is None for roll in problem.rolls)
    return MARKER_SHARE if endless and (problem.max_marker_length or problem.end_loss) else 0.0


def worth(problem: RackProblem, layouts: Sequence[Layout]) -> float:
    """Cost of all the length that is used."""
    costs = {roll.key: roll.cost / 1000.0 for roll in problem.rolls}
    return math.fsum(
        costs[layout.stock_key] * (layout.length + problem.end_loss) * layout.repeats for layout in layouts
    )


def finish(problem: RackProblem, kinds: Kinds, draft: RackDraft, search: Search[RackPlan]) -> RackPlan:
    """Lay chunks of rolls without end on rests where that costs nothing, and join the others to markers."""
    grid = RackGrid(problem, kinds)
    rests = settled(grid, draft)
    if problem.end_loss == 0 or len(rests.windows) == len(draft.windows):
        return joined(problem, kinds, rests, search)
    # On rests markers may come out shorter, and more of them lose more ends.
    plans = [joined(problem, kinds, either, search.child(0.5)) for either in (rests, draft)]
    return min(plans, key=lambda plan: plan.cost(grid))


def search_rack(problem: RackProblem, kinds: Kinds, search: Search[RackDraft]) -> None:
    """Search for cheap plans of pieces that each fit some roll; plans and bounds go to `search`."""
    grid = RackGrid(problem, kinds)
    if not grid.stocks:
        search.offer(0.0, RackDraft({}, (), grid.demand), short=int(grid.demand.sum()))
        return
    grids = {stock.index: roll_grid(problem, kinds, stock) for stock in grid.stocks if stock.length is None}
    limit_to_rests(grid, grids)
    first_plan(problem, grid, grids, search)
    search.prove(area_cost_bound(grid))
    budget = search.child(BOUND_SHARE)
    search.prove(bar_cost_bound(profiles_of(problem.pieces), grid.rooms(), grid.gap, budget) * (1 - NOISE))
    eased = ease(problem, grid)
    if eased is None or not _search_eased(eased, grid, grids, kinds, search):
        cover_and_improve(problem, grid, grids, search)


def _search_eased(
    eased: RackProblem, grid: RackGrid, grids: Mapping[int, RollGrid], kinds: Kinds, search: Search[RackDraft]
) -> bool:
    """Search for plans as if some rolls had no end; tell whether the best can be laid on the true rolls."""
    loose = RackGrid(eased, kinds)
    rolls = {stock.index: roll_grid(eased, kinds, stock) for stock in loose.stocks if stock.length is None}
    limit_chunks(grid, loose, rolls)

    def pass_on(_: float, draft: RackDraft) -> None:
        laid = lay(grid, loose, draft)
        if laid is not None:
            search.offer(laid.cost(grid, grids), laid, short=int(laid.missing.sum()))

    inner: Search[RackDraft] = search.child(EASED_SHARE, pass_on)
    try:
        with suppress(Stop):
            cover_and_improve(eased, loose, rolls, inner)
    finally:
        # With fewer limits a plan can only be cheaper.
        search.prove(inner.bound)
    return inner.draft is not None and lay(grid, loose, inner.draft) is not None
