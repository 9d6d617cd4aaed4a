"""The one way in: a problem and a budget go in, a verified-ready answer comes out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from nesting.errors import ProblemError
from nesting.packing import block, roll, sheet
from nesting.packing.grid import Kinds, Ledger
from nesting.packing.linear import engine as linear
from nesting.packing.problem import (
    GRID,
    Bar,
    Block,
    BlockProblem,
    LinearProblem,
    Problem,
    RollProblem,
    Sheet,
    SheetProblem,
)
from nesting.packing.search import Progress, Report, Search
from nesting.packing.solution import Answer, Layout, Missing

__all__ = ["EFFORT_UNIT", "solve"]

EFFORT_UNIT = 1_000_000
"""Elementary steps of the kernels in one unit of effort."""


@dataclass(frozen=True, slots=True)
class Engine:
    """The parts every engine has.

    Parameters
    ----------
    misfits
        Pieces that cannot be cut at all, with the reason.
    search
        Offers drafts and bounds to a `Search`.
    layouts
        Writes a draft out; the ledger tells which copies found no place.
    unit
        Millimetres or money in one unit of the search's values.
    stock
        What is opened, with costs; empty for rolls.
    """

    misfits: Callable[[Any], Mapping[str, str]]
    search: Callable[[Any, Kinds, Search[Any]], None]
    layouts: Callable[[Any, Kinds, Any], tuple[list[Layout], Ledger]]
    unit: float
    stock: Callable[[Any], tuple[Sheet | Block | Bar, ...]]


ENGINES: Mapping[type, Engine] = {
    RollProblem: Engine(roll.misfits, roll.search_roll, roll.layouts, GRID, lambda problem: ()),
    BlockProblem: Engine(
        block.misfits, block.search_blocks, block.layouts, 1.0, lambda problem: problem.blocks
    ),
    SheetProblem: Engine(
        sheet.misfits, sheet.search_sheets, sheet.layouts, 1.0, lambda problem: problem.sheets
    ),
    LinearProblem: Engine(
        linear.misfits, linear.search_bars, linear.layouts, 1.0, lambda problem: problem.bars
    ),
}


def solve(
    problem: Problem,
    *,
    time_limit: float | None = 10.0,
    effort: float | None = None,
    seed: int = 0,
    workers: int = 1,
    progress: Progress | None = None,
) -> Answer:
    """Find a plan that uses little material, and a bound on how little would do.

    Parameters
    ----------
    problem
        What is asked.
    time_limit
        Ceiling in seconds; None for no ceiling. The search ends earlier when the bound proves the plan
        or when `effort` is used up.
    effort
        Ceiling on work, in millions of elementary steps. The same on every machine: with
        ``time_limit=None`` the answer depends only on problem, effort and seed.
    seed
        Start of the pseudo-random search, 0 or more.
    workers
        Cores that may be used. One problem is searched on one core at present, so that the answer does
        not depend on this number.
    progress
        Called a few times a second with a `Report`; it may raise KeyboardInterrupt to stop the search.

    Returns
    -------
    Answer
        With the best plan found. KeyboardInterrupt ends the search, not the call. Pieces that cannot
        be cut are in `missing`, with the reason.

    Raises
    ------
    ProblemError
        For a budget that makes no sense.
    """
    if time_limit is None and effort is None:
        raise ProblemError("Give a time_limit, an effort, or both: a search without either may never end.")
    for name, limit in (("time_limit", time_limit), ("effort", effort), ("seed", seed)):
        if limit is not None and not 0 <= limit < math.inf:
            raise ProblemError(f"{name} must be 0 or more, got {limit!r}.")
    if workers < 1:
        raise ProblemError(f"workers must be at least 1, got {workers!r}.")
    engine = ENGINES[type(problem)]

    reasons = engine.misfits(problem)
    missing = {
        piece.key: Missing(piece.quantity, reasons[piece.key])
        for piece in problem.pieces
        if piece.key in reasons
    }
    pieces = tuple(piece for piece in problem.pieces if piece.key not in reasons)
    notes = ()
    if any(piece.points for piece in pieces):
        notes = ("Shaped pieces are placed by their bounding rectangle.",)
    if not pieces:
        return Answer(
            layouts=(), value=0.0, bound=0.0, missing=missing, stopped="proved", seed=seed, notes=notes
        )

    problem = replace(problem, pieces=pieces)
    kinds = Kinds.of(pieces)
    search: Search[Any] = Search(
        seed=seed,
        time_limit=time_limit,
        effort_limit=None if effort is None else int(effort * EFFORT_UNIT),
        progress=_in_units(progress, engine.unit),
    )
    try:
        engine.search(problem, kinds, search)
    except KeyboardInterrupt:
        search.interrupted = True
    if search.draft is None:
        why = "the search was stopped before it found a place"
        missing |= {piece.key: Missing(piece.quantity, why) for piece in pieces}
        layouts: list[Layout] = []
    else:
        layouts, ledger = engine.layouts(problem, kinds, search.draft)
        missing |= {
            key: Missing(left, "the stock on hand is used up") for key, left in ledger.left_over().items()
        }
    costs = {item.key: item.cost for item in engine.stock(problem)}
    value = math.fsum(
        (costs[layout.stock_key] if costs else layout.length) * layout.repeats for layout in layouts
    )
    # A bound on all that was asked says nothing about a plan that places less.
    bound = search.bound * engine.unit if not search.short and search.draft is not None else 0.0
    return Answer(
        layouts=tuple(layouts),
        value=round(value, 6),
        bound=min(round(bound, 6), round(value, 6)),
        missing=missing,
        stopped=search.stopped,
        effort=math.ceil(search.effort / EFFORT_UNIT),
        seed=seed,
        notes=notes,
    )


def _in_units(progress: Progress | None, unit: float) -> Progress | None:
    if progress is None:
        return None
    return lambda report: progress(Report(report.value * unit, report.bound * unit, report.effort))
