"""Improving a plan of a rack: some of it is taken apart and cut anew, again and again.

Destroy and repair (Shaw 1998, "Using constraint programming and local search methods to solve vehicle
routing problems", CP-98) twice over: windows and chunks whose pieces are covered anew, from the same
windows and others that are free; and, where placement is free, the chunks of each roll without end.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from nesting.packing.columns import Cover, Covering
from nesting.packing.grid import Floats, Ints
from nesting.packing.rack.drafts import RackDraft
from nesting.packing.rack.fills import Filling, taken
from nesting.packing.rack.stocks import RackGrid
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.roll.free import renest, stretches, strip_plan
from nesting.packing.search import Search, Stop

__all__ = ["reassign", "renest_endless"]

PICKS = (2, 5)
"""At least so many windows and chunks are cut anew together, and less than so many."""

MOST_PIECES = 150
"""Most pieces cut anew together; a single window may hold more."""

FIRST_WORK = 400_000
"""Work spent on a combination at first; four times as much at each later visit."""

SHAKE = 0.15
"""Spread of the logarithms of the values that fillings start from: of areas, shaken anew each time."""

MOST_VISITS = 3
"""Visits to the same combination."""

MOST_FAILURES = 300
"""Combinations tried in a row without a gain before the search gives up."""

PICK_WORK = 50_000
"""Elementary steps reckoned for choosing a combination and setting it up."""

EXTRA = 0.3
"""How often a free window is offered on top."""

LEAST_GAIN = 1e-9
"""Least gain that counts, as a share of the cost; less is float noise."""

MOST_IN_ONE = 1_500
"""Most pieces for which all on a roll are nested in one stretch as well."""

ONE_SHARE = 0.3
"""Share of the budget for that."""


@dataclass(frozen=True, slots=True)
class _Unit:
    """A chunk or the filling of a window, with repeats."""

    stock: int
    body: Chunk | Filling
    repeats: int
    counts: Ints
    cost: float


def _units(grid: RackGrid, grids: Mapping[int, RollGrid], draft: RackDraft) -> list[_Unit]:
    kinds = grid.demand.size
    units = []
    for at, chunks in sorted(draft.endless.items()):
        rate = grid.rate(grid.stocks[at])
        units += [
            _Unit(at, chunk, repeats, chunk.counts(kinds), (chunk.length + grids[at].gap) * rate)
            for chunk, repeats in chunks
        ]
    for at, filling, repeats in draft.windows:
        stock = grid.stocks[at]
        held = [grid.owner[box] for m in filling for s in m.slices for _, c in s.bands for box in c.boxes]
        held += [kind for marker in filling for kind, *_ in marker.spots]
        counts = np.bincount(held, minlength=kinds).astype(np.int64)
        cost = taken(filling, grid.end_loss) * stock.rate * stock.weight
        units.append(_Unit(at, filling, repeats, counts, cost))
    return units


def _draft(grid: RackGrid, units: Sequence[tuple[int, Chunk | Filling, int]], missing: Ints) -> RackDraft:
    endless: dict[int, RollDraft] = {}
    windows = []
    for stock, body, repeats in units:
        if isinstance(body, Chunk):
            endless[stock] = (*endless.get(stock, ()), (body, repeats))
        else:
            windows.append((stock, body, repeats))
    return RackDraft(endless, tuple(windows), missing)


def reassign(
    grid: RackGrid,
    grids: Mapping[int, RollGrid],
    covering: Callable[[Ints, list[int | None], Floats], Covering],
    search: Search[RackDraft],
) -> None:
    """Cut the pieces of a few windows and chunks anew; better plans go to `search`.

    Parameters
    ----------
    grid, grids
        The problem, and the rolls without end by the index of their stock.
    covering
        Makes the task of covering a demand from so many of each stock, kinds being worth so much.
    """
    areas = np.maximum(grid.area, 1).astype(np.float64)
    rng = np.random.default_rng(search.seed)
    tried: dict[bytes, int] = {}
    failures = 0
    known: RackDraft | None = None
    while not search.over and failures < MOST_FAILURES:
        failures += 1
        search.spend(PICK_WORK)
        draft = search.draft
        assert draft is not None, "there must be a plan to improve"
        if draft is not known:
            known, units = draft, _units(grid, grids, draft)
        picked = _pick(units, rng)
        demand = sum((units[at].counts * use for at, use in picked.items()), np.zeros_like(grid.demand))
        demand += draft.missing
        available = _released(grid, units, picked, rng)
        key = demand.tobytes() + str(available).encode()
        before = tried.get(key, 0)
        if before >= MOST_VISITS or not demand.any():
            continue
        tried[key] = before + 1
        inner: Search[Cover] = search.child()
        inner.effort_limit = int(min(FIRST_WORK * 4**before, inner.effort_left))
        with suppress(Stop):
            covering(demand, available, areas * np.exp(rng.normal(0.0, SHAKE, areas.size))).run(inner)
        new = inner.draft
        if new is None:
            continue
        old = sum(units[at].cost * use for at, use in picked.items())
        placed = draft.missing - new.missing
        short, gain = int(placed.sum()), old - new.cost + float(grid.penalties @ placed)
        if short < 0 or (short == 0 and gain <= LEAST_GAIN * old):
            continue
        # With pieces missing, what is gained is theirs, and they are there but once.
        times = 1 if draft.missing.any() else min(units[at].repeats // use for at, use in picked.items())
        kept = [
            (unit.stock, unit.body, unit.repeats - picked.get(at, 0) * times)
            for at, unit in enumerate(units)
            if unit.repeats > picked.get(at, 0) * times
        ]
        fresh = RackDraft.of(grid, grids, new)
        kept += [(at, chunk, n * times) for at, cut in fresh.endless.items() for chunk, n in cut]
        kept += [(at, filling, n * times) for at, filling, n in fresh.windows]
        better = _draft(grid, kept, new.missing)
        if search.offer(better.cost(grid, grids), better, int(better.missing.sum())):
            failures = 0


def _pick(units: Sequence[_Unit], rng: np.random.Generator) -> dict[int, int]:
    """Choose a few windows and chunks (with repetition) that hold few pieces together."""
    wanted = int(rng.integers(*PICKS))
    picked: dict[int, int] = {}
    pieces = 0
    if not units:
        return picked
    for at in rng.integers(len(units), size=4 * wanted).tolist():
        held = int(units[at].counts.sum())
        if picked.get(at, 0) < units[at].repeats and (not picked or pieces + held <= MOST_PIECES):
            picked[at] = picked.get(at, 0) + 1
            pieces += held
            wanted -= 1
            if wanted == 0:
                break
    return picked


def _released(
    grid: RackGrid, units: Sequence[_Unit], picked: Mapping[int, int], rng: np.random.Generator
) -> list[int | None]:
    """How many of each stock may be used: what was picked, now and then one more, and all without end."""
    available: list[int | None] = [None if stock.length is None else 0 for stock in grid.stocks]
    used = [0] * len(grid.stocks)
    for at, unit in enumerate(units):
        used[unit.stock] += unit.repeats
        if isinstance(unit.body, tuple):
            available[unit.stock] = (available[unit.stock] or 0) + picked.get(at, 0)
    free = [
        stock.index
        for stock in grid.stocks
        if stock.length is not None and (stock.available is None or used[stock.index] < stock.available)
    ]
    if free and (rng.random() < EXTRA or not any(count != 0 for count in available)):
        extra = free[int(rng.integers(len(free)))]
        available[extra] = (available[extra] or 0) + 1
    return available


def renest_endless(grids: Mapping[int, RollGrid], grid: RackGrid, search: Search[RackDraft]) -> None:
    """Nest what lies on each roll without end anew, shorter; better plans go to `search`."""
    draft = search.draft
    assert draft is not None, "there must be a plan to improve"
    stocks = sorted(draft.endless)
    for done, at in enumerate(stocks):
        if search.over:
            return
        _renest(at, grids[at], grid, grids, 1.0 / (len(stocks) - done), search)


def _renest(
    at: int,
    roll: RollGrid,
    grid: RackGrid,
    grids: Mapping[int, RollGrid],
    share: float,
    search: Search[RackDraft],
) -> None:
    def pass_on(_: float, chunks: RollDraft) -> None:
        assert search.draft is not None
        better = replace(search.draft, endless={**search.draft.endless, at: chunks})
        search.offer(better.cost(grid, grids), better, int(better.missing.sum()))

    assert search.draft is not None
    chunks = search.draft.endless[at]
    # The roll, with what is to be cut from it as all that is wanted.
    roll.demand = sum(
        (chunk.counts(grid.demand.size) * repeats for chunk, repeats in chunks), np.zeros_like(grid.demand)
    )
    inner: Search[RollDraft] = search.child(share, pass_on)
    inner.offer(roll.value(chunks), chunks)
    with suppress(Stop):
        if roll.demand.sum() <= MOST_IN_ONE and stretches(roll) == 1:
            strip_plan(roll, inner, ONE_SHARE)
        renest(roll, inner)
