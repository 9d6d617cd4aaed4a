"""Improving a plan of a rack: some of it is taken apart and cut anew, again and again.

Destroy and repair (Shaw 1998, "Using constraint programming and local search methods to solve vehicle
routing problems", CP-98) twice over: windows and chunks whose pieces are cut anew, from the same windows
and others that are free; and, where placement is free, the chunks of each roll without end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.packing.columns import Column, Cover, Maker, densest
from nesting.packing.grid import Ints
from nesting.packing.rack.drafts import RackDraft
from nesting.packing.rack.fills import Filling, taken
from nesting.packing.rack.stocks import RackGrid
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.roll.free import Stretch, Strip, renest, stretches
from nesting.packing.search import Search, Stop

__all__ = ["Repairer", "reassign", "renest_endless"]

PICKS = (2, 5)
"""At least so many windows and chunks are cut anew together, and less than so many."""

MOST_PIECES = 150
"""Most pieces cut anew together; a single window may hold more."""

MOST_WORK = 4_000_000
"""Most work spent on one combination."""

REST_SHARE = 0.5
"""Share of that for nesting what the windows leave."""

SHAKE = 0.15
"""Spread of the logarithms of the values that fillings start from: of areas, shaken anew each time."""

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

MOST_KINDS = 250
"""Kinds on a roll from which on a single stretch is mostly better than sections, however many pieces."""

ONE_SHARE = 0.4
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


def _draft(units: Sequence[tuple[int, Chunk | Filling, int]], missing: Ints) -> RackDraft:
    endless: dict[int, RollDraft] = {}
    windows = []
    for stock, body, repeats in units:
        if isinstance(body, Chunk):
            endless[stock] = (*endless.get(stock, ()), (body, repeats))
        else:
            windows.append((stock, body, repeats))
    return RackDraft(endless, tuple(windows), missing)


class Repairer:
    """Cuts some demand from some windows and the rolls without end, greedily, with shaken values.

    Parameters
    ----------
    grid, grids
        The problem, and the rolls without end by the index of their stock.
    ways
        Sets of makers; each repair draws one.
    free
        Whether what goes on a roll without end is nested freely.
    rng
        Draws the sets, the order of the windows and the values.
    """

    def __init__(
        self,
        grid: RackGrid,
        grids: Mapping[int, RollGrid],
        ways: Sequence[Sequence[Maker]],
        rng: np.random.Generator,
        *,
        free: bool,
    ) -> None:
        self._grid, self._grids, self._ways, self._rng, self._free = grid, grids, ways, rng, free
        self._areas = np.maximum(grid.area, 1).astype(np.float64)

    def repair(self, demand: Ints, windows: Sequence[int], search: Search[Any]) -> RackDraft:
        """Cut the demand from so many windows (by the index of their stock) and rolls without end."""
        values = self._areas * np.exp(self._rng.normal(0.0, SHAKE, self._areas.size))
        makers = self._ways[int(self._rng.integers(len(self._ways)))]
        left = demand.copy()
        chosen: list[tuple[Column, int]] = []
        for stock in self._rng.permutation(np.array(windows, np.int64)).tolist():
            made = [maker.fill(values, left, search) for maker in makers if maker.stock == stock]
            best = densest(made, values)
            if best is not None:
                chosen.append((best, 1))
                left = left - best.counts
        if self._free and left.any():
            nested = self._nested(left, search)
            if nested is not None:
                filled = RackDraft.of(self._grid, self._grids, Cover(tuple(chosen), left * 0))
                return replace(filled, endless=nested)
        endless = [maker for maker in makers if self._grid.stocks[maker.stock].length is None]
        while left.any():
            best = densest((maker.fill(values, left, search) for maker in endless), values)
            if best is None:
                break
            used = best.counts > 0
            repeats = int((left[used] // best.counts[used]).min())
            chosen.append((best, repeats))
            left = left - best.counts * repeats
        return RackDraft.of(self._grid, self._grids, Cover(tuple(chosen), left))

    def _nested(self, left: Ints, search: Search[Any]) -> dict[int, RollDraft] | None:
        """All that is left on one stretch of one roll without end; None when that is not possible."""
        kinds = np.flatnonzero(left)
        usable = []
        for at, roll in self._grids.items():
            fits = self._grid.fitting(self._grid.stocks[at])
            if all(fits[self._grid.start[kind] : self._grid.start[kind + 1]].any() for kind in kinds):
                usable.append((at, roll))
        if not usable:
            return None
        at, roll = usable[int(self._rng.integers(len(usable)))]
        stretch = Stretch(roll, left)
        inner: Search[Chunk] = search.child(REST_SHARE)
        stretch.shorten(inner, stretch.lower, roll.longest)
        return None if inner.draft is None else {at: ((inner.draft, 1),)}


def reassign(
    grid: RackGrid, grids: Mapping[int, RollGrid], repairer: Repairer, search: Search[RackDraft]
) -> None:
    """Cut the pieces of a few windows and chunks anew; better plans go to `search`.

    Chunks and fillings that are repeated are combined as often as they last.
    """
    rng = np.random.default_rng(search.seed)
    failures = 0
    known: RackDraft | None = None
    units: list[_Unit] = []
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
        if not demand.any():
            return
        inner: Search[RackDraft] = search.child()
        inner.effort_limit = int(min(MOST_WORK, inner.effort_left))
        try:
            fresh = repairer.repair(demand, _released(grid, units, picked, rng), inner)
        except Stop:
            continue
        old = sum(units[at].cost * use for at, use in picked.items())
        gain = old + float(grid.penalties @ draft.missing) - fresh.cost(grid, grids)
        short = int((draft.missing - fresh.missing).sum())
        if short < 0 or (short == 0 and gain <= LEAST_GAIN * old):
            continue
        # With pieces missing, what is gained is theirs, and they are there but once.
        times = 1 if draft.missing.any() else min(units[at].repeats // use for at, use in picked.items())
        kept = [
            (unit.stock, unit.body, unit.repeats - picked.get(at, 0) * times)
            for at, unit in enumerate(units)
            if unit.repeats > picked.get(at, 0) * times
        ]
        kept += [(at, chunk, n * times) for at, cut in fresh.endless.items() for chunk, n in cut]
        kept += [(at, filling, n * times) for at, filling, n in fresh.windows]
        better = _draft(kept, fresh.missing)
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
) -> list[int]:
    """The windows that may be used, by their stock: what was picked, and now and then one more."""
    released = []
    used = [0] * len(grid.stocks)
    for at, unit in enumerate(units):
        used[unit.stock] += unit.repeats
        if grid.stocks[unit.stock].length is not None:
            released += [unit.stock] * picked.get(at, 0)
    free = [
        stock.index
        for stock in grid.stocks
        if stock.length is not None and (stock.available is None or used[stock.index] < stock.available)
    ]
    if free and (rng.random() < EXTRA or not picked):
        released.append(free[int(rng.integers(len(free)))])
    return released


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
        few = roll.demand.sum() <= MOST_IN_ONE or np.count_nonzero(roll.demand) > MOST_KINDS
        if few and stretches(roll) == 1:
            Strip(roll).improve(inner, ONE_SHARE)
        renest(roll, inner)
