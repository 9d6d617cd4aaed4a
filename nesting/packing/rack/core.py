"""Covering the demand of a rack, and improving what was found: the search itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Literal

import numpy as np

from nesting.packing.bars import NOISE
from nesting.packing.columns import Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.problem import RackProblem
from nesting.packing.rack.drafts import RackDraft
from nesting.packing.rack.ease import dominated
from nesting.packing.rack.endless import EndlessMaker
from nesting.packing.rack.free import FreeWindowMaker
from nesting.packing.rack.improve import Repairer, reassign, renest_endless
from nesting.packing.rack.makers import WindowMaker
from nesting.packing.rack.shared import Bench
from nesting.packing.rack.stocks import RackGrid
from nesting.packing.roll.chunks import RollGrid
from nesting.packing.roll.sections import SectionMaker
from nesting.packing.search import Search, Stop

__all__ = ["cover_and_improve", "first_plan"]

FIRST_SHARE = 0.35
"""Share of the budget for covering the whole demand with patterns of two stages, where more are allowed."""

FIRST_WORK = 8_000_000
"""Elementary steps that it gets in any case, as far as there are so many ..."""

MOST_FIRST = 0.8
"""... and as long as that is not more than this share."""

COVER_SHARE = 0.75
"""Share of what is then left for covering it with all that is allowed."""

FREE_SHARE = 0.7
"""The same where free placement follows."""

REASSIGN_SHARE = 0.8
"""Share of what is then left for cutting parts of it anew, where free placement follows."""


def cover_and_improve(
    problem: RackProblem, grid: RackGrid, grids: Mapping[int, RollGrid], search: Search[RackDraft]
) -> None:
    """Offer plans and bounds to `search` until its budget is used up or nothing more helps.

    Parameters
    ----------
    problem, grid
        The problem.
    grids
        The rolls without end by the index of their stock.
    """
    # Patterns of two stages are found in a fraction of the work, and where more are allowed they are
    # allowed as well; but then they prove nothing.
    ways = {stages: _makers(problem, grid, grids, stages) for stages in _ways(problem)}
    free = problem.stages is None and bool(grids)
    last = FREE_SHARE if free else COVER_SHARE
    for stages, makers in ways.items():
        share = last
        if stages != _ways(problem)[-1]:
            share = max(FIRST_SHARE, min(MOST_FIRST, FIRST_WORK / max(1.0, search.effort_left)))
        inner = _cover(grid, grids, makers, search, share)
        if len(ways) == 1:
            search.prove(inner.bound)
    if search.over:
        return
    repairer = Repairer(
        grid, grids, list(ways.values()), np.random.default_rng(search.seed), free=problem.stages is None
    )
    reassign(grid, grids, repairer, search.onward(REASSIGN_SHARE if free else 1.0))
    if free:
        renest_endless(grids, grid, search)


def first_plan(
    problem: RackProblem, grid: RackGrid, grids: Mapping[int, RollGrid], search: Search[RackDraft]
) -> None:
    """Offer a fair plan at once."""
    _cover(grid, grids, _makers(problem, grid, grids, 2), search, 0.0)


def _ways(problem: RackProblem) -> tuple[Literal[2, 3], ...]:
    """Numbers of stages of the patterns to be tried one after another."""
    return (2,) if problem.stages == 2 else (2, 3)


def _cover(
    grid: RackGrid,
    grids: Mapping[int, RollGrid],
    makers: Sequence[Maker],
    search: Search[RackDraft],
    share: float,
) -> Search[Cover]:
    """Cover the whole demand with a share of the budget; return the search, for its bound."""

    def pass_on(_: float, cover: Cover) -> None:
        draft = RackDraft.of(grid, grids, cover)
        search.offer(draft.cost(grid, grids), draft, short=int(draft.missing.sum()))

    inner: Search[Cover] = search.child(share, pass_on)
    with suppress(Stop):
        Covering(
            grid.demand,
            [stock.available for stock in grid.stocks],
            makers,
            areas=np.maximum(grid.area, 1).astype(np.float64),
            round_bound=lambda bound: bound * (1 - NOISE),
            dearest=grid.dearest,
        ).run(inner)
    return inner


def _makers(
    problem: RackProblem, grid: RackGrid, grids: Mapping[int, RollGrid], stages: Literal[2, 3]
) -> list[Maker]:
    """The ways of cutting all stocks, but for those that a roll without end is as good as."""
    spare = dominated(grid)
    fits = np.array([grid.fitting(stock) for stock in grid.stocks])
    endless = [at for at, stock in enumerate(grid.stocks) if stock.length is None]
    # Of each kind some box fits some roll without end: there it may always be cut.
    anywhere = np.logical_or.reduceat(fits[endless].any(axis=0), grid.start[:-1])
    bench = Bench(grid, stages)
    made: list[Maker] = []
    for stock in grid.stocks:
        if stock.index in spare:
            continue
        if stock.length is None:
            sections = SectionMaker(grids[stock.index], stages)
            made.append(EndlessMaker(stock, grid.rate(stock), sections))
        else:
            made.append(WindowMaker(grid, stock, bench, elsewhere=bool(anywhere.all())))
            if problem.stages is None and stages == 3:
                made.append(FreeWindowMaker(grid, stock))
    return made
