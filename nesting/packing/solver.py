"""The one way in: a problem and a budget go in, an answer comes out that `verify` can check."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from contextlib import suppress
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
from nesting.packing.search import Progress, Report, Search, Stop
from nesting.packing.solution import Answer, Layout, Missing

__all__ = ["EFFORT_UNIT", "solve"]

EFFORT_UNIT = 1_000_000
"""Elementary steps of the kernels in one unit of effort."""

DECIMALS = 6
"""Decimals of values and bounds; beyond is float noise."""


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
    RollProblem: Engine(
        misfits=roll.misfits,
        search=roll.search_roll,
        layouts=roll.layouts,
        unit=GRID,
        stock=lambda problem: (),
    ),
    SheetProblem: Engine(
        misfits=sheet.misfits,
        search=sheet.search_sheets,
        layouts=sheet.layouts,
        unit=1.0,
        stock=lambda problem: problem.sheets,
    ),
    BlockProblem: Engine(
        misfits=block.misfits,
        search=block.search_blocks,
        layouts=block.layouts,
        unit=1.0,
        stock=lambda problem: problem.blocks,
    ),
    LinearProblem: Engine(
        misfits=linear.misfits,
        search=linear.search_bars,
        layouts=linear.layouts,
        unit=1.0,
        stock=lambda problem: problem.bars,
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
        or when `effort` is used up. However short, a first complete plan is made.
    effort
        Ceiling on work, in millions of elementary steps. The same on every machine: with
        ``time_limit=None`` the answer depends only on problem, effort and seed.
    seed
        Start of the pseudo-random search, a whole number, 0 or more.
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
        For a budget that makes no sense, or something that is no packing problem.

    Notes
    -----
    Pieces are rounded up and room is rounded down to whole steps of `GRID` before anything is decided;
    value and bound speak of the rounded pieces.
    """
    search: Search[Any] = _search(time_limit, effort, seed, workers)
    engine = ENGINES.get(type(problem))
    if engine is None:
        raise ProblemError(f"A roll, sheet, block or linear problem is needed, got {problem!r}.")

    reasons = engine.misfits(problem)
    missing = {
        piece.key: Missing(piece.quantity, reasons[piece.key])
        for piece in problem.pieces
        if piece.key in reasons
    }
    pieces = tuple(piece for piece in problem.pieces if piece.key not in reasons)
    if not pieces:
        return Answer(layouts=(), value=0.0, bound=0.0, missing=missing, stopped="proved", seed=seed)

    problem = replace(problem, pieces=pieces)
    kinds = Kinds.of(pieces)
    search.progress = _in_units(progress, engine.unit)
    try:
        with suppress(Stop):
            engine.search(problem, kinds, search)
    except KeyboardInterrupt:
        search.interrupted = True

    layouts: list[Layout] = []
    left_over = {piece.key: piece.quantity for piece in pieces}
    reason = "the search was stopped before it found a place"
    if search.draft is not None:
        layouts, ledger = engine.layouts(problem, kinds, search.draft)
        left_over = ledger.left_over()
        reason = "the stock on hand is used up"
    missing |= {key: Missing(quantity, reason) for key, quantity in left_over.items()}
    costs = {item.key: item.cost for item in engine.stock(problem)}
    value = math.fsum(
        (costs[layout.stock_key] if costs else layout.length) * layout.repeats for layout in layouts
    )
    # A bound on all that was asked says nothing about a plan that places less.
    bound = search.bound * engine.unit if not left_over else 0.0
    return Answer(
        layouts=tuple(layouts),
        value=round(value, DECIMALS),
        bound=round(min(bound, value), DECIMALS),
        missing=missing,
        stopped=search.stopped,
        effort=math.ceil(search.effort / EFFORT_UNIT),
        seed=seed,
        notes=(
            ("Shaped pieces are placed by their bounding rectangle.",)
            if any(piece.points for piece in pieces)
            else ()
        ),
    )


def _search(time_limit: float | None, effort: float | None, seed: int, workers: int) -> Search[Any]:
    """A search with the given budget; its clock starts here."""
    if time_limit is None and effort is None:
        raise ProblemError("Give a time_limit, an effort, or both: a search without either may never end.")
    for name, limit in (("time_limit", time_limit), ("effort", effort)):
        if limit is not None and not 0 <= limit < math.inf:
            raise ProblemError(f"{name} must be 0 or more, got {limit!r}.")
    for name, number, least in (("seed", seed, 0), ("workers", workers, 1)):
        if isinstance(number, bool) or not isinstance(number, int) or number < least:
            raise ProblemError(f"{name} must be a whole number, {least} or more, got {number!r}.")
    return Search(
        seed=seed,
        time_limit=time_limit,
        effort_limit=None if effort is None else int(effort * EFFORT_UNIT),
    )


def _in_units(progress: Progress | None, unit: float) -> Progress | None:
    """Reports in millimetres or money instead of the search's own units."""
    if progress is None:
        return None
    return lambda report: progress(Report(report.value * unit, report.bound * unit, report.effort))
