"""Joining chunks to markers: few to lay, few different ones, in the balance that their costs ask for.

How the chunks of a draft are divided into markers is a one-dimensional cutting stock problem with a
cost for every different pattern. A greedy grouping comes first; then sequential fills that ask for
often repeated and well filled patterns (Haessler 1975, "Controlling cutting pattern changes in
one-dimensional trim problems", Operations Research 23(3): 483-493), the plan with the fewest markers
there are (`pack_bars`), CP-SAT over all patterns met (or all there are, when they are few), and CP-SAT
again on a few markers at a time (large neighbourhoods: Shaw 1998, CP-98).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from ortools.sat.python import cp_model

from nesting.packing import kernels
from nesting.packing.cpsat import ask
from nesting.packing.grid import Ints, Kinds
from nesting.packing.guillotine import CELLS_A_STEP
from nesting.packing.linear import StockBar, pack_bars
from nesting.packing.problem import GRID, RollProblem, grid_up
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.search import Search
from nesting.packing.solution import Layout

__all__ = ["Markers", "budget_share", "floor", "group", "markers_of", "worth"]

MARKER_SHARE = 0.1
"""Share of the budget kept for grouping chunks to markers."""

MOST_SPOTS = 5_000
"""Most pieces joined in one marker where nothing else limits its length."""

MOST_PATTERNS = 2_000
"""Most patterns for which all of them are listed."""

POOL_WORK = 0.5
"""Most work CP-SAT may spend on all patterns met, in its own deterministic seconds."""

PART_WORK = 0.05
"""The same for a few markers at a time."""

PARTS = (2, 5)
"""At least so many different markers are divided anew together, and less than so many."""

MOST_FAILURES = 40
"""Combinations of markers tried in a row without a gain before the search gives up."""

FEWEST_SHARE = 0.5
"""Share of the budget for the fewest markers."""

LEAST_FILLS = (0.95, 0.9, 0.8, 0.98, 1.0, 0.6, 0.0)
"""Shares of a marker that a pattern must fill in one sequential fill, each tried in turn, what is quick
and mostly good first."""

FILL_STEPS = 4_000
"""Most steps of a marker for one fill; chunks are rounded up to them."""

LARGEST = 10**12
"""Largest objective CP-SAT is given: leaves room for sums."""

Markers: TypeAlias = tuple[tuple[tuple[Chunk, ...], int], ...]
"""Markers as their chunks in order, with repeats."""

Pattern: TypeAlias = tuple[int, ...]
"""How often a marker holds each chunk."""

Plan: TypeAlias = dict[Pattern, int]
"""Patterns with repeats; together they hold every chunk exactly as often as it is wanted."""


@dataclass(frozen=True, slots=True, eq=False)
class _Task:
    """Chunks to be divided; every size and the room include one gap, in grid steps.

    `laid` and `different` are the costs of a marker laid and of a different one. They are never quite
    0, so that of two plans that cost the same the one with fewer markers is better, and then the one
    with fewer different ones.
    """

    sizes: Ints
    demand: Ints
    room: int
    laid: float
    different: float

    @classmethod
    def of(cls, sizes: Ints, demand: Ints, room: int, laid: float, different: float) -> _Task:
        """Add the tie-breakers to the costs."""
        tie = min((cost for cost in (laid, different) if cost > 0), default=1.0) / (1.0 + float(demand.sum()))
        return cls(sizes, demand, room, laid + tie, different + tie / (1.0 + float(demand.sum())))

    def cost(self, plan: Plan) -> float:
        """Cost of all markers of a plan, tie-breakers included."""
        return self.laid * sum(plan.values()) + self.different * len(plan)

    def part(self, plan: Plan) -> _Task:
        """The task of dividing anew what a plan holds."""
        held = sum(np.array(pattern, np.int64) * times for pattern, times in plan.items())
        return _Task(self.sizes, np.asarray(held, np.int64), self.room, self.laid, self.different)


def group(draft: RollDraft, grid: RollGrid, search: Search[Plan] | None = None) -> Markers:
    """Join the chunks of a draft to markers no longer than the longest.

    Least is end losses + setups, and then the number of markers, and then that of different ones. A gap
    saved between two chunks is no reason to lay a marker more. Without a longest marker, end loss and
    setup every chunk is a marker of its own; without a longest marker alone, all is one marker as far as
    it holds at most `MOST_SPOTS` pieces.

    Parameters
    ----------
    draft
        Chunks with repeats.
    grid
        Gap, longest marker, end loss and setup.
    search
        Pays for the work; None: a greedy grouping at once.
    """
    chunks = [chunk for chunk, _ in draft]
    repeats = [times for _, times in draft]
    longest = grid.longest
    if longest is None:
        if grid.end_loss == 0 and grid.setup == 0:
            return tuple(((chunk,), times) for chunk, times in draft)
        spots = sum(len(chunk.spots) * times for chunk, times in draft)
        whole = int(grid.value(draft))
        longest = whole if spots <= MOST_SPOTS else whole * MOST_SPOTS // spots
        longest = max(longest, *(chunk.length for chunk in chunks))
    task = _Task.of(
        np.array([chunk.length + grid.gap for chunk in chunks], np.int64),
        np.array(repeats, np.int64),
        longest + grid.gap,
        float(max(grid.end_loss - grid.gap, 0)),
        float(grid.setup),
    )
    plan = _greedy(task)
    if search is not None:
        search.offer(task.cost(plan), plan)
        _improve(task, search)
        assert search.draft is not None
        plan = search.draft
    order = np.argsort(-task.sizes, kind="stable").tolist()
    return tuple(
        (tuple(chunks[at] for at in order for _ in range(pattern[at])), times)
        for pattern, times in sorted(plan.items(), key=lambda item: (-item[1], item[0]))
    )


def _greedy(task: _Task) -> Plan:
    """Longest chunks first; each marker is repeated as often as its chunks last."""
    order = np.argsort(-task.sizes, kind="stable").tolist()
    left = task.demand.copy()
    plan: Plan = {}
    while left.any():
        room = task.room
        counts = np.zeros_like(left)
        for at in order:
            counts[at] = min(int(left[at]), room // int(task.sizes[at]))
            room -= int(counts[at] * task.sizes[at])
        _add(plan, counts, left)
    return plan


def _add(plan: Plan, counts: Ints, left: Ints) -> None:
    """Cut a pattern as often as what is left allows."""
    used = counts > 0
    times = int((left[used] // counts[used]).min())
    pattern = tuple(counts.tolist())
    plan[pattern] = plan.get(pattern, 0) + times
    left -= counts * times


def _improve(task: _Task, search: Search[Plan]) -> None:
    """Search for cheaper plans until the budget is used up or nothing more helps."""
    known: dict[Pattern, None] = dict.fromkeys(search.draft or ())
    area = int((task.sizes * task.demand).sum())
    search.prove(task.laid * -(-area // task.room) + task.different)
    for least in LEAST_FILLS:
        if search.over:
            return
        plan = _sequential(task, least, search)
        known |= dict.fromkeys(plan)
        search.offer(task.cost(plan), plan)
    if not search.over:
        plan = _fewest(task, search)
        known |= dict.fromkeys(plan)
        search.offer(task.cost(plan), plan)
    if search.over:
        return
    every = _every_pattern(task)
    best = search.draft
    assert best is not None
    plan, proved = _recombine(task, every or known, best, POOL_WORK, search)
    search.offer(task.cost(plan), plan)
    if every is not None and proved:
        return
    _renew(task, search)


def _sequential(task: _Task, least: float, search: Search[Plan]) -> Plan:
    """One pattern after another, each as often repeated as it can be when it is filled well enough.

    Where no pattern is filled so well, the best filled one that is cut once is taken.
    """
    left = task.demand.copy()
    plan: Plan = {}
    while left.any():
        fits = np.minimum(left, task.room // task.sizes)
        # How often a pattern may be cut that holds one, two, three ... of some chunk.
        rates = {
            int(left[at]) // count for at in np.flatnonzero(fits) for count in range(1, int(fits[at]) + 1)
        }
        best: Ints | None = None
        for times in sorted(rates, reverse=True):
            best = _fullest(task, np.minimum(fits, left // times), search)
            rest = int((task.sizes * left).sum())
            if int((task.sizes * best).sum()) >= least * min(task.room, rest) or search.used_up:
                break
        assert best is not None
        _add(plan, best, left)
    return plan


def _fullest(task: _Task, limits: Ints, search: Search[Plan]) -> Ints:
    """The pattern that fills a marker best within the limits."""
    usable = np.flatnonzero(limits)
    sizes = task.sizes[usable]
    step = int(np.gcd.reduce(sizes))
    step *= max(1, -(-task.room // (step * FILL_STEPS)))
    small, room = -(-sizes // step), task.room // step
    # A chunk that fits must not be rounded out of the room: alone in it, it still fits.
    small = np.minimum(small, room)
    _, taken = kernels.best_fill(small, sizes.astype(np.float64), limits[usable], room)
    search.spend(1 + int((small.size + limits[usable].sum()) * room) // CELLS_A_STEP)
    counts = np.zeros_like(limits)
    counts[usable] = taken
    return counts


def _fewest(task: _Task, search: Search[Plan]) -> Plan:
    """The plan with the fewest markers that is found, and the bound from it."""
    bars = pack_bars(
        [StockBar(task.room)], task.sizes.tolist(), task.demand.tolist(), 0, search.child(FEWEST_SHARE)
    )
    search.prove(task.laid * bars.bound + task.different)
    plan: Plan = {}
    for bar in bars.patterns:
        plan[bar.counts] = plan.get(bar.counts, 0) + bar.repeats
    return plan


def _every_pattern(task: _Task) -> dict[Pattern, None] | None:
    """All patterns there are, the not quite full ones as well; None when there are too many."""
    found: list[list[int]] = [[]]
    rooms = [task.room]
    for size, most in zip(task.sizes.tolist(), task.demand.tolist(), strict=True):
        longer, left = [], []
        for pattern, room in zip(found, rooms, strict=True):
            for count in range(min(most, room // size) + 1):
                longer.append([*pattern, count])
                left.append(room - count * size)
            if len(longer) > MOST_PATTERNS:
                return None
        found, rooms = longer, left
    return {tuple(pattern): None for pattern in found if any(pattern)}


def _recombine(
    task: _Task, patterns: Iterable[Pattern], start: Plan, work: float, search: Search[Plan]
) -> tuple[Plan, bool]:
    """Best plan over some patterns and those of a plan to start from, by CP-SAT; whether it is proved."""
    known = [
        pattern
        for pattern in dict.fromkeys([*start, *patterns])
        if all(count <= need for count, need in zip(pattern, task.demand.tolist(), strict=True))
    ]
    most = [
        min(need // count for count, need in zip(pattern, task.demand.tolist(), strict=True) if count)
        for pattern in known
    ]
    model = cp_model.CpModel()
    times = [model.new_int_var(0, limit, "") for limit in most]
    used = [model.new_bool_var("") for _ in known]
    for column, flag, limit in zip(times, used, most, strict=True):
        model.add(column <= limit * flag)
    counts = np.array(known, np.int64)
    for at, need in enumerate(task.demand.tolist()):
        holding = np.flatnonzero(counts[:, at])
        if need:
            model.add(sum(int(counts[j, at]) * times[j] for j in holding) == need)
    scale = LARGEST / task.cost(start)
    laid, different = max(1, round(task.laid * scale)), max(1, round(task.different * scale))
    model.minimize(laid * sum(times) + different * sum(used))
    for j, pattern in enumerate(known):
        model.add_hint(times[j], start.get(pattern, 0))
        model.add_hint(used[j], pattern in start)
    search.spend(1)
    solver, status = ask(model, work, search)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return start, False
    plan = {pattern: n for pattern, x in zip(known, times, strict=True) if (n := solver.value(x))}
    return plan, status == cp_model.OPTIMAL


def _renew(task: _Task, search: Search[Plan]) -> None:
    """Divide the chunks of a few markers anew, again and again."""
    rng = np.random.default_rng(search.seed)
    failures = 0
    while not search.over and failures < MOST_FAILURES:
        failures += 1
        best = search.draft
        assert best is not None
        if len(best) < 2:
            return
        patterns = list(best)
        picked = rng.choice(len(patterns), size=min(len(patterns), int(rng.integers(*PARTS))), replace=False)
        few = {patterns[at]: best[patterns[at]] for at in sorted(picked.tolist())}
        part = task.part(few)
        every = _every_pattern(part)
        search.spend(MOST_PATTERNS)
        if every is None:
            continue
        renewed, _ = _recombine(part, every, few, PART_WORK, search)
        plan = {pattern: times for pattern, times in best.items() if pattern not in few}
        for pattern, times in renewed.items():
            plan[pattern] = plan.get(pattern, 0) + times
        if search.offer(task.cost(plan), plan):
            failures = 0


# --- What a plan costs --------------------------------------------------------------------------------


def markers_of(problem: RollProblem, kinds: Kinds, draft: RollDraft, search: Search[Plan]) -> Markers:
    """The markers of a draft; the last step of a search for a roll plan."""
    return group(draft, RollGrid(problem, kinds), search)


def budget_share(problem: RollProblem) -> float:
    """Share of the budget that grouping chunks to markers may take; none where nothing is to be grouped."""
    plain = problem.max_marker_length is None and problem.end_loss == 0 and problem.setup == 0
    return 0.0 if plain else MARKER_SHARE


def worth(problem: RollProblem, layouts: Sequence[Layout]) -> float:
    """Roll length, end losses and setups of a plan, mm."""
    length = math.fsum((layout.length + problem.end_loss) * layout.repeats for layout in layouts)
    if problem.setup == 0:
        return length
    pieces = {piece.key: piece for piece in problem.pieces}
    different = set()
    for layout in layouts:
        shapes = []
        for placement in layout.placements:
            piece = pieces[placement.key]
            box = piece.box(placement.turn, placement.mirrored)
            shape = (piece.points, placement.turn, placement.mirrored) if piece.points else None
            shapes.append((placement.x, placement.y, grid_up(box[0]), grid_up(box[1]), str(shape)))
        different.add(tuple(sorted(shapes)))
    return length + problem.setup * len(different)


def floor(problem: RollProblem, bound: float) -> float:
    """Lower bound on length, end losses and setups from one on the length (mm).

    A plan at least so long has at least as many markers as the longest one goes into that length, for
    no marker is longer.
    """
    longest = problem.max_marker_length
    markers = 1 if longest is None else max(1, math.ceil(bound / longest - GRID / 1e3 / longest))
    return bound + problem.end_loss * markers + problem.setup
