"""The one way in: a problem and a budget go in, an answer comes out that `verify` can check."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from nesting.errors import ProblemError
from nesting.packing import block, rack, roll, sheet
from nesting.packing.grid import Kinds, Ledger
from nesting.packing.linear import engine as linear
from nesting.packing.problem import (
    GRID,
    Bar,
    BlockProblem,
    LinearProblem,
    Problem,
    RackProblem,
    RollProblem,
    Sheet,
    SheetProblem,
)
from nesting.packing.roll import markers
from nesting.packing.search import Progress, Report, Search, Stop
from nesting.packing.solution import DECIMALS, Answer, Layout, Missing

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
    worth
        What layouts cost, in the unit of the answer.
    unit
        Millimetres or money in one unit of the search's values.
    floor
        Turns a bound on the search's value into one on the answer's; they are the same but for losses
        that the search does not count.
    finish
        What is still to be done with the best draft; the result is what `layouts` takes.
    finish_share
        Share of the budget that is kept for it.
    """

    misfits: Callable[[Any], Mapping[str, str]]
    search: Callable[[Any, Kinds, Search[Any]], None]
    layouts: Callable[[Any, Kinds, Any], tuple[list[Layout], Ledger]]
    worth: Callable[[Any, Sequence[Layout]], float]
    unit: float = 1.0
    floor: Callable[[Any, float], float] = lambda problem, bound: bound
    finish: Callable[[Any, Kinds, Any, Search[Any]], Any] = lambda problem, kinds, draft, search: draft
    finish_share: Callable[[Any], float] = lambda problem: 0.0


def _opened(
    stock: Callable[[Any], Sequence[Sheet | Bar]],
) -> Callable[[Any, Sequence[Layout]], float]:
    """The cost of whole pieces of stock."""

    def worth(problem: Any, layouts: Sequence[Layout]) -> float:
        costs = {item.key: item.cost for item in stock(problem)}
        return math.fsum(costs[layout.stock_key] * layout.repeats for layout in layouts)

    return worth


ENGINES: Mapping[type, Engine] = {
    RollProblem: Engine(
        misfits=roll.misfits,
        search=roll.search_roll,
        layouts=roll.layouts,
        worth=markers.worth,
        unit=GRID,
        floor=markers.floor,
        finish=markers.markers_of,
        finish_share=markers.budget_share,
    ),
    SheetProblem: Engine(
        misfits=sheet.misfits,
        search=sheet.search_sheets,
        layouts=sheet.layouts,
        worth=_opened(lambda problem: problem.sheets),
    ),
    BlockProblem: Engine(
        misfits=block.misfits,
        search=block.search_blocks,
        layouts=block.layouts,
        worth=block.worth,
    ),
    LinearProblem: Engine(
        misfits=linear.misfits,
        search=linear.search_bars,
        layouts=linear.layouts,
        worth=_opened(lambda problem: problem.bars),
    ),
    RackProblem: Engine(
        misfits=rack.misfits,
        search=rack.search_rack,
        layouts=rack.layouts,
        worth=rack.worth,
        finish=rack.finish,
        finish_share=rack.budget_share,
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
    _check_budget(time_limit, effort, seed, workers)
    engine = ENGINES.get(type(problem))
    if engine is None:
        raise ProblemError(f"A roll, rack, sheet, block or linear problem is needed, got {problem!r}.")
    share = engine.finish_share(problem)
    search: Search[Any] = Search(
        seed=seed,
        time_limit=None if time_limit is None else time_limit * (1.0 - share),
        effort_limit=None if effort is None else int(effort * EFFORT_UNIT * (1.0 - share)),
        progress=_in_units(progress, engine.unit),
    )
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
    try:
        with suppress(Stop):
            engine.search(problem, kinds, search)
    except KeyboardInterrupt:
        search.interrupted = True

    layouts: list[Layout] = []
    left_over = {piece.key: piece.quantity for piece in pieces}
    reason = "the search was stopped before it found a place"
    if search.draft is not None:
        layouts, ledger = engine.layouts(problem, kinds, _finished(engine, problem, kinds, search, share))
        left_over = ledger.left_over()
        reason = "the stock on hand is used up"
    missing |= {key: Missing(quantity, reason) for key, quantity in left_over.items()}
    value = engine.worth(problem, layouts)
    # A bound on all that was asked says nothing about a plan that places less.
    bound = 0.0 if left_over else min(engine.floor(problem, search.bound * engine.unit), value)
    stopped = search.stopped
    if stopped == "proved" and not left_over and value > bound + 10**-DECIMALS:
        # The search is through, but what it does not count may leave something to gain.
        stopped = "effort"
    return Answer(
        layouts=tuple(layouts),
        value=round(value, DECIMALS),
        bound=round(bound, DECIMALS),
        missing=missing,
        stopped=stopped,
        effort=math.ceil(search.effort / EFFORT_UNIT),
        seed=seed,
        notes=_notes(problem),
    )


def _notes(problem: Problem) -> tuple[str, ...]:
    """What a person should know of how the pieces were placed."""
    shaped = any(piece.points for piece in problem.pieces)
    if not isinstance(problem, BlockProblem):
        return ("Shaped pieces are placed by their bounding rectangle.",) if shaped else ()
    notes = []
    if shaped:
        notes.append("Shaped slabs are cut from boxes; two of one shape share a box where that saves foam.")
    if block.glues_nothing(problem):
        notes.append(
            "Nothing is glued up here, though it is allowed: that is not planned yet for long blocks and "
            "beside shaped slabs."
        )
    return tuple(notes)


def _finished(engine: Engine, problem: Problem, kinds: Kinds, search: Search[Any], share: float) -> Any:
    """The best draft of a search after the last step of its engine, which has the rest of the budget."""
    rest: Search[Any] = Search(seed=search.seed, effort_limit=0)
    if not search.interrupted:
        rest = Search(
            seed=search.seed,
            time_limit=_rest(search.time_limit, search.seconds_left, share),
            effort_limit=_rest(search.effort_limit, search.effort_left, share),
            progress=_unchanged(search),
        )
    try:
        draft = engine.finish(problem, kinds, search.draft, rest)
    except KeyboardInterrupt:
        search.interrupted = True
        draft = engine.finish(problem, kinds, search.draft, Search(seed=search.seed, effort_limit=0))
    search.effort += rest.effort
    return draft


def _rest(limit: float | None, left: float, share: float) -> Any:
    """What was kept of a budget whose larger part was `limit`, and what is left of that."""
    return None if limit is None else max(type(limit)(0), type(limit)(limit / (1.0 - share) * share + left))


def _unchanged(search: Search[Any]) -> Progress | None:
    """Reports that the search stands where it stood."""
    progress = search.progress
    if progress is None:
        return None
    return lambda report: progress(Report(search.value, search.bound, search.effort + report.effort))


def _check_budget(time_limit: float | None, effort: float | None, seed: int, workers: int) -> None:
    """Refuse a budget that makes no sense."""
    if time_limit is None and effort is None:
        raise ProblemError("Give a time_limit, an effort, or both: a search without either may never end.")
    for name, limit in (("time_limit", time_limit), ("effort", effort)):
        if limit is not None and not 0 <= limit < math.inf:
            raise ProblemError(f"{name} must be 0 or more, got {limit!r}.")
    for name, number, least in (("seed", seed, 0), ("workers", workers, 1)):
        if isinstance(number, bool) or not isinstance(number, int) or number < least:
            raise ProblemError(f"{name} must be a whole number, {least} or more, got {number!r}.")


def _in_units(progress: Progress | None, unit: float) -> Progress | None:
    """Reports in millimetres or money instead of the search's own units."""
    if progress is None:
        return None
    return lambda report: progress(Report(report.value * unit, report.bound * unit, report.effort))
