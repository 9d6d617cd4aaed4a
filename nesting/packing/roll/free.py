"""Free placement on a roll: skyline search on one stretch, and re-nesting of chunk combinations."""

from __future__ import annotations

import math

import numpy as np

from nesting.packing import kernels
from nesting.packing.grid import Ints
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.search import Search

__all__ = ["Stretch", "renest", "strip_plan"]

MOST_SINGLES = 400
"""Up to so many copies each copy has its own place in the order; beyond, a kind's copies share one."""

FIRST_TRIES = 16
"""Fillings tried per order and target in the first round; doubled every round."""

SHORT_WORK = 20_000_000
"""Work of one uninterrupted kernel call: well under a tenth of a second."""

FIRST_WORK = 3_000_000
"""Work spent on a combination of chunks at first; four times as much at each later visit."""

MOST_VISITS = 4
"""Visits to the same combination."""

MOST_FAILURES = 4_000
"""Combinations tried in a row without a gain before the search gives up."""

MOST_PIECES = 90
"""Most pieces nested anew together."""


class Stretch:
    """Pieces to be packed on one stretch of roll as short as possible, by skyline search.

    The search follows the scheme of Wei, Oon, Zhu and Lim (2011), EJOR 215(2): 337-346: for a target
    length, local search over the order in which pieces are preferred; targets by bisection between
    the bound and the best; effort doubled in every round.
    """

    def __init__(self, grid: RollGrid, counts: Ints) -> None:
        self._grid = grid
        kinds = np.flatnonzero(counts)
        self._copies = int(counts.sum())
        self._goal = int((grid.area * counts).sum())
        if self._copies <= MOST_SINGLES:
            self._kind = np.repeat(kinds, counts[kinds])
            self._entry_copies = np.ones(self._copies, np.int64)
        else:
            self._kind = kinds
            self._entry_copies = counts[kinds]
        boxes = [box for k in kinds for box in range(grid.start[k], grid.start[k + 1])]
        # All edges lie on sums of box lengths, so only multiples of their common divisor matter.
        self.step = int(np.gcd.reduce(grid.dx[boxes] + grid.gap))
        shortest = [int(grid.dx[grid.start[k] : grid.start[k + 1]].min()) for k in kinds]
        self.lower = max(-(-self._goal // grid.width), *shortest)

    def orders(self) -> list[Ints]:
        """Entry orders worth starting from: by area, longest side, width, length and perimeter."""
        first = self._grid.start[self._kind]
        dx, dy = self._grid.dx[first], self._grid.dy[first]
        keys = (dx * dy, np.maximum(dx, dy), dy, dx, dx + dy)
        return [np.argsort(-key, kind="stable").astype(np.int64) for key in keys]

    def fill(self, order: Ints, target: int, tries: int, search: Search[Chunk]) -> Chunk | None:
        """Try to place all within `target`, improving `order` in place; the chunk if it succeeds."""
        grid = self._grid
        out = np.empty((4, self._copies), np.int64)
        placed, _, top, work = kernels.search_order(
            grid.width + grid.gap,
            target + grid.gap,
            self._goal,
            tries,
            order,
            self._kind,
            self._entry_copies,
            grid.start,
            grid.dx + grid.gap,
            grid.dy + grid.gap,
            grid.area,
            search.random,
            out,
        )
        search.spend(work)
        self._work = max(1, work // tries)
        if placed < self._copies:
            return None
        out[1] -= grid.start[out[0]]
        return Chunk(tuple((int(k), int(b), int(x), int(y)) for k, b, x, y in out.T), int(top) - grid.gap)

    def shorten(self, search: Search[Chunk], lower: int, longest: int | None) -> None:
        """Search for ever shorter chunks, none longer than `longest`; each is offered to `search`."""
        unlimited = int(self._grid.dx.max() + self._grid.gap) * (self._copies + 1)
        tried = []
        for order in self.orders():
            chunk = self.fill(order, unlimited if longest is None else longest, 1, search)
            tried.append((chunk.length if chunk else unlimited, order))
            if chunk:
                search.offer(chunk.length, chunk)
            if search.over:
                return
        tried.sort(key=lambda item: item[0])
        orders = [order for _, order in tried]
        # Lengths are counted in steps from here on: every length plus one gap is a whole number of them.
        gap = self._grid.gap
        least = -(-(lower + gap) // self.step)
        search.prove(least * self.step - gap)
        tries = FIRST_TRIES
        while not search.over:
            low = least
            high = self._below(search, longest)
            if low > high:
                return
            while low <= high and not search.over:
                target = (low + high) // 2
                if self._reach(target * self.step - gap, orders, tries, search):
                    high = self._below(search, longest)
                else:
                    low = target + 1
            tries *= 2

    def _below(self, search: Search[Chunk], longest: int | None) -> int:
        """Longest target that would still be a gain, in steps."""
        if search.draft is not None:
            return (search.draft.length + self._grid.gap) // self.step - 1
        assert longest is not None
        return (longest + self._grid.gap) // self.step

    def _reach(self, target: int, orders: list[Ints], tries: int, search: Search[Chunk]) -> bool:
        """Try to place all within `target` from each order in turn; offer the chunk on success."""
        for at, start in enumerate(orders):
            order = start.copy()
            left = tries
            while left > 0 and not search.over:
                # Kernels cannot be interrupted, so each call is kept short.
                now = max(1, min(left, SHORT_WORK // self._work))
                chunk = self.fill(order, target, now, search)
                left -= now
                if chunk is not None:
                    search.offer(chunk.length, chunk)
                    orders[at] = order
                    return True
        return False


def strip_plan(grid: RollGrid, search: Search[RollDraft], share: float = 1.0) -> None:
    """Nest everything on one stretch of roll; plans go to `search`."""
    stretch = Stretch(grid, grid.demand)
    inner: Search[Chunk] = search.child(share)
    lower = max(stretch.lower, math.ceil(search.bound - 1e-6))
    inner.prove(lower)
    if search.draft is not None and search.value <= inner.bound:
        return
    try:
        stretch.shorten(inner, lower, grid.longest)
    finally:
        if inner.draft is not None:
            search.offer(inner.draft.length, ((inner.draft, 1),))


def renest(grid: RollGrid, search: Search[RollDraft]) -> None:
    """Take some chunks of the best plan apart and nest their pieces anew, shorter; again and again.

    Chunks that are repeated are combined as often as they last, so that one gain counts many times.
    A destroy-and-repair search (Shaw 1998, "Using constraint programming and local search methods to
    solve vehicle routing problems", CP-98), on chunks.
    """
    rng = np.random.default_rng(search.seed)
    tried: dict[bytes, int] = {}
    failures = 0
    while not search.over and failures < MOST_FAILURES:
        failures += 1
        draft = search.draft
        assert draft is not None
        picked = _pick(grid, draft, rng)
        if picked is None:
            continue
        counts = np.zeros(grid.demand.size, np.int64)
        for at, use in picked.items():
            counts += draft[at][0].counts(grid.demand.size) * use
        length = sum((draft[at][0].length + grid.gap) * use for at, use in picked.items()) - grid.gap
        stretch = Stretch(grid, counts)
        before = tried.get(counts.tobytes(), 0)
        if stretch.lower > length - stretch.step or before >= MOST_VISITS:
            continue
        tried[counts.tobytes()] = before + 1
        inner: Search[Chunk] = search.child()
        budget = FIRST_WORK * 4**before
        inner.effort_limit = min(budget, inner.effort_limit) if inner.effort_limit is not None else budget
        inner.prove(stretch.lower)
        stretch.shorten(inner, stretch.lower, length - stretch.step)
        if inner.draft is None:
            continue
        repeats = min(draft[at][1] // use for at, use in picked.items())
        rest = [
            (chunk, have - picked.get(at, 0) * repeats)
            for at, (chunk, have) in enumerate(draft)
            if have > picked.get(at, 0) * repeats
        ]
        new = (*rest, (inner.draft, repeats))
        if search.offer(grid.value(new), new):
            failures = 0


def _pick(grid: RollGrid, draft: RollDraft, rng: np.random.Generator) -> dict[int, int] | None:
    """Choose two to four chunks (with repetition) that hold few pieces together, wasteful ones first."""
    waste = np.array(
        [
            (chunk.length * grid.width - sum(int(grid.area[kind]) for kind, *_ in chunk.spots)) * repeats**0.5
            for chunk, repeats in draft
        ],
        np.float64,
    )
    waste = np.maximum(waste, 1.0)
    wanted = int(rng.integers(2, 5))
    picked: dict[int, int] = {}
    pieces = 0
    length = 0
    for at in rng.choice(len(draft), size=4 * wanted, p=waste / waste.sum()):
        chunk, repeats = draft[at]
        if (
            picked.get(int(at), 0) < repeats
            and pieces + len(chunk.spots) <= MOST_PIECES
            and (grid.longest is None or length + chunk.length <= grid.longest)
        ):
            picked[int(at)] = picked.get(int(at), 0) + 1
            pieces += len(chunk.spots)
            length += chunk.length + grid.gap
            wanted -= 1
            if wanted == 0:
                break
    return picked if sum(picked.values()) >= 2 else None
