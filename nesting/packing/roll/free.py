"""Free placement on a roll: skyline search on one stretch, and re-nesting of chunk combinations."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.grid import Floats, Ints
from nesting.packing.kernels import Words
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.search import Search
from nesting.packing.skyline import spots_of

__all__ = ["Stretch", "Strip", "renest", "stretches"]

MOST_SINGLES = 400
"""Up to so many copies each copy has its own place in the order; beyond, a kind's copies share one."""

FIRST_TRIES = 16
"""Fillings tried per order and target in the first round; doubled every round."""

SHORT_WORK = 5_000_000
"""Work of one uninterrupted kernel call: about a tenth of a second."""

MOST_LOOSE = 60
"""Most copies for which orders are tried with less regard to fit too."""

LOOSE_ORDERS = 2
"""So many of the orders are."""

LONGEST_FILL = 40_000_000
"""Most work expected of one filling; pieces that would take more are nested in several stretches."""

FIRST_WORK = 3_000_000
"""Work spent on a combination of chunks at first; four times as much at each later visit."""

MOST_VISITS = 4
"""Visits to the same combination."""

MOST_FAILURES = 4_000
"""Combinations tried in a row without a gain before the search gives up."""

MOST_PIECES = 90
"""Most pieces nested anew together."""

PICKS = (2, 5)
"""At least so many chunks are nested anew together, and less than so many."""

PICK_WORK = 2_000
"""Elementary steps reckoned for choosing a combination."""


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
        self._alike = kinds.size == 1
        boxes = [box for k in kinds for box in range(grid.start[k], grid.start[k + 1])]
        # All edges lie on sums of box lengths, so only multiples of their common divisor matter.
        self.step = int(np.gcd.reduce(grid.dx[boxes] + grid.gap))
        shortest = [int(grid.dx[grid.start[k] : grid.start[k + 1]].min()) for k in kinds]
        self.lower = max(-(-self._goal // grid.width), *shortest)
        self._ranked: list[Ints] = []
        self._tries = FIRST_TRIES

    def orders(self) -> list[Ints]:
        """Entry orders worth starting from: by area, longest side, width, length and perimeter."""
        first = self._grid.start[self._kind]
        dx, dy = self._grid.dx[first], self._grid.dy[first]
        keys = (dx * dy, np.maximum(dx, dy), dy, dx, dx + dy)
        return [np.argsort(-key, kind="stable").astype(np.int64) for key in keys]

    def fill(
        self, order: Ints, target: int, tries: int, search: Search[Any], fit: int = 0
    ) -> tuple[Chunk | None, int]:
        """Try to place all within `target`, improving `order` in place.

        `fit` is that of `kernels.fill_marker`.

        Returns
        -------
        chunk, tried
            The chunk, or None when something found no place; and how many of the tries were made.
        """
        grid = self._grid
        out = np.empty((4, self._copies), np.int64)
        placed, _, top, work, tried = kernels.search_order(
            grid.width + grid.gap,
            target + grid.gap,
            self._goal,
            tries,
            SHORT_WORK,
            order,
            self._kind,
            self._entry_copies,
            grid.start,
            grid.dx + grid.gap,
            grid.dy + grid.gap,
            grid.area,
            search.random,
            out,
            fit,
        )
        search.spend(work)
        if placed < self._copies:
            return None, tried
        return Chunk(spots_of(out, grid.start), top - grid.gap), tried

    def shorten(self, search: Search[Chunk], lower: int, longest: int | None) -> None:
        """Search for ever shorter chunks, none longer than `longest`; each is offered to `search`.

        Called again, the search goes on where it ended.
        """
        if not self._ranked:
            self._ranked = self._first(search, longest)
        # Lengths are counted in steps from here on: every length plus one gap is a whole number of them.
        gap = self._grid.gap
        least = -(-(lower + gap) // self.step)
        search.prove(least * self.step - gap)
        while not search.over:
            low = least
            high = self._below(search, longest)
            if low > high:
                return
            while low <= high and not search.over:
                target = (low + high) // 2
                if self._reach(target * self.step - gap, self._tries, search):
                    high = self._below(search, longest)
                else:
                    low = target + 1
            if self._alike:
                # Swapping like pieces changes nothing: another round would repeat this one.
                return
            if not search.over:
                self._tries *= 2

    def _first(self, search: Search[Chunk], longest: int | None) -> list[Ints]:
        """Fill once from each order; the orders, that of the shortest chunk first."""
        unlimited = int(self._grid.dx.max() + self._grid.gap) * (self._copies + 1)
        tried = []
        for order in self.orders():
            chunk, _ = self.fill(order, unlimited if longest is None else longest, 1, search)
            tried.append((chunk.length if chunk else unlimited, order))
            if chunk:
                search.offer(chunk.length, chunk)
            if search.over:
                break
        tried.sort(key=lambda item: item[0])
        return [order for _, order in tried]

    def _below(self, search: Search[Chunk], longest: int | None) -> int:
        """Longest target that would still be a gain, in steps."""
        if search.draft is not None:
            return (search.draft.length + self._grid.gap) // self.step - 1
        assert longest is not None, "without a limit the first filling places everything"
        return (longest + self._grid.gap) // self.step

    def _reach(self, target: int, tries: int, search: Search[Chunk]) -> bool:
        """Try to place all within `target` from each order in turn; offer the chunk on success."""
        for at, start in enumerate(self._ranked):
            # The best orders are tried with less regard to fit as well, where that is quick.
            loose = self._copies <= MOST_LOOSE and at < LOOSE_ORDERS
            for fit in (0, 1, 2) if loose else (0,):
                order = start.copy()
                left = tries
                while left > 0 and not search.over:
                    # Kernels cannot be interrupted, so each call may end early and go on here.
                    chunk, tried = self.fill(order, target, left, search, fit)
                    left -= tried
                    if chunk is not None:
                        search.offer(chunk.length, chunk)
                        self._ranked[at] = order
                        return True
        return False


def stretches(grid: RollGrid) -> int:
    """On how many stretches everything should be nested so that each filling stays quick."""
    # Each copy looks, on average, at half of the kinds.
    return -(-int(grid.demand.sum()) * grid.demand.size // (2 * LONGEST_FILL))


class Strip:
    """Everything on one stretch of roll, or on a few if it is very much."""

    def __init__(self, grid: RollGrid) -> None:
        self._grid = grid
        self._parts = stretches(grid)
        self._stretch = Stretch(grid, grid.demand)
        self._random: Words | None = None

    def improve(self, search: Search[RollDraft], share: float = 1.0) -> None:
        """Search with a share of the budget; plans go to `search`. Called again, it goes on."""
        if self._parts > 1:
            _several(self._grid, search, self._parts)
            return
        lower = max(self._stretch.lower, math.ceil(search.bound - 1e-6))
        if self._grid.longest is not None and lower > self._grid.longest:
            return

        def pass_on(length: float, chunk: Chunk) -> None:
            search.offer(length, ((chunk, 1),))

        inner: Search[Chunk] = search.child(share, pass_on)
        inner.prove(lower)
        if self._random is not None:
            inner.random = self._random  # to try other orders than last time
        self._random = inner.random
        limits = [] if self._grid.longest is None else [self._grid.longest]
        if search.draft is not None:
            # Only what is shorter than the best plan is of use.
            limits.append(int(search.value) - self._stretch.step)
        self._stretch.shorten(inner, lower, min(limits, default=None))


def _several(grid: RollGrid, search: Search[RollDraft], parts: int) -> None:
    """Nest everything on so many stretches, each with an even share of every kind."""
    # Kinds start their turns at different parts, so that single pieces are spread over all of them.
    start = np.arange(grid.demand.size) % parts
    chunks: list[tuple[Chunk, int]] = []
    for part in range(parts):
        counts = (grid.demand * (part + 1) + start) // parts - (grid.demand * part + start) // parts
        if not counts.any():
            continue
        inner: Search[Chunk] = search.child(1 / (parts - part))
        stretch = Stretch(grid, counts)
        stretch.shorten(inner, stretch.lower, grid.longest)
        if inner.draft is None:
            return
        chunks.append((inner.draft, 1))
    draft = tuple(chunks)
    search.offer(grid.value(draft), draft)


def renest(grid: RollGrid, search: Search[RollDraft]) -> None:
    """Take some chunks of the best plan apart and nest their pieces anew, shorter; again and again.

    Chunks that are repeated are combined as often as they last, so that one gain counts many times.
    A destroy-and-repair search (Shaw 1998, "Using constraint programming and local search methods to
    solve vehicle routing problems", CP-98), on chunks.
    """
    rng = np.random.default_rng(search.seed)
    tried: dict[bytes, int] = {}
    failures = 0
    draft = search.draft
    assert draft is not None, "there must be a plan to improve"
    if sum(repeats for _, repeats in draft) < 2:
        return
    waste = _waste(grid, draft)
    while not search.over and failures < MOST_FAILURES:
        failures += 1
        search.spend(PICK_WORK)
        picked = _pick(grid, draft, waste, rng)
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
        inner.effort_limit = int(min(FIRST_WORK * 4**before, inner.effort_left))
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
            draft = new
            waste = _waste(grid, draft)


def _waste(grid: RollGrid, draft: RollDraft) -> Floats:
    """How much each chunk of a plan wastes, often repeated ones counting more; at least 1."""
    return np.array(
        [
            max(1.0, chunk.length * grid.width - sum(float(grid.area[kind]) for kind, *_ in chunk.spots))
            * math.sqrt(repeats)
            for chunk, repeats in draft
        ]
    )


def _pick(grid: RollGrid, draft: RollDraft, waste: Floats, rng: np.random.Generator) -> dict[int, int] | None:
    """Choose a few chunks (with repetition) that hold few pieces together, wasteful ones first."""
    wanted = int(rng.integers(*PICKS))
    picked: dict[int, int] = {}
    pieces = 0
    length = 0
    for at in rng.choice(len(draft), size=4 * wanted, p=waste / waste.sum()).tolist():
        chunk, repeats = draft[at]
        if (
            picked.get(at, 0) < repeats
            and pieces + len(chunk.spots) <= MOST_PIECES
            and (grid.longest is None or length + chunk.length <= grid.longest)
        ):
            picked[at] = picked.get(at, 0) + 1
            pieces += len(chunk.spots)
            length += chunk.length + grid.gap
            wanted -= 1
            if wanted == 0:
                break
    return picked if sum(picked.values()) >= 2 else None
