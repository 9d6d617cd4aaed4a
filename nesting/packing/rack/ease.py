"""Rolls with an end treated as if they had none, and chunks laid on windows afterwards.

Where there is plenty of a roll its end hardly matters to the plan, and sections combine far more easily
than fillings of whole windows. Where a roll without end is as good as one with an end the latter is left
out of the search; what was planned for the former is then laid on the rests as far as they reach.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np

from nesting.packing import kernels
from nesting.packing.grid import Ints
from nesting.packing.problem import RackProblem
from nesting.packing.rack.drafts import RackDraft
from nesting.packing.rack.fills import Filling, Marker, marker_of
from nesting.packing.rack.stocks import RackGrid, Stock
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid

__all__ = ["dominated", "ease", "lay", "limit_chunks", "limit_to_rests", "settled"]

AMPLE = 1.3
"""Area of a roll, in areas of all pieces, from which on there is plenty of it."""

LONG = 2
"""Least length of its windows, in lengths of the longest box."""

WORTHWHILE = 3
"""Least length to which chunks are kept for the sake of rests, in lengths of the longest box."""

STEPS = 20_000
"""Most steps of a window when chunks are chosen for it; they are rounded up to them."""

Laid: TypeAlias = list[tuple[int, Filling, int]]


def _plain(grid: RackGrid, roll: int) -> list[Stock]:
    """The windows of a roll that have no flaws within and are long enough, the shortest first."""
    least = LONG * int(grid.dx.max()) + grid.end_loss
    found = [
        stock
        for stock in grid.stocks
        if stock.roll == roll and stock.length is not None and stock.length >= least and not stock.stains
    ]
    return sorted(found, key=lambda stock: stock.length or 0)


def ease(problem: RackProblem, grid: RackGrid) -> RackProblem | None:
    """The problem with rolls that there are plenty of made endless; None when there are none such."""
    needed = AMPLE * float(grid.area.astype(np.float64) @ grid.demand)
    rolls = list(problem.rolls)
    for at, roll in enumerate(rolls):
        plain = _plain(grid, at)
        room = sum(
            np.inf if stock.available is None else float(stock.length or 0) * stock.width * stock.available
            for stock in plain
        )
        if plain and room >= needed:
            rolls[at] = replace(roll, length=None, available=None, flaws=())
    return replace(problem, rolls=tuple(rolls)) if rolls != list(problem.rolls) else None


def limit_chunks(grid: RackGrid, loose: RackGrid, grids: Mapping[int, RollGrid]) -> None:
    """Keep the chunks of eased rolls no longer than their windows."""
    for at, roll in grids.items():
        plain = _plain(grid, loose.stocks[at].roll)
        if plain:
            least = int(plain[0].length or 0) - grid.end_loss
            roll.longest = least if roll.longest is None else min(roll.longest, least)


def limit_to_rests(grid: RackGrid, grids: Mapping[int, RollGrid]) -> None:
    """Keep the chunks of rolls without end so short that some of the rests that are as good take them."""
    for at, roll in grids.items():
        rests = _rests(grid, grid.stocks[at])
        if rests:
            shortest = min(int(rest.length or 0) for rest in rests) - grid.end_loss
            # Never so short that sections suffer from it, or that a piece would no longer fit.
            least = max(shortest, WORTHWHILE * int(grid.dx.max()))
            roll.longest = least if roll.longest is None else min(roll.longest, least)


def _rests(grid: RackGrid, stock: Stock) -> list[Stock]:
    """Limited stock without flaws that costs as much as a roll without end, the shortest rolls first."""
    rests = [
        other
        for other in grid.stocks
        if other.length is not None
        and other.available is not None
        and not other.stains
        and (other.width, other.rate) == (stock.width, stock.rate)
    ]
    # As whole rolls are used up, so the parts of the shortest roll come first.
    return sorted(rests, key=lambda other: (other.weight, other.length or 0))


def lay(grid: RackGrid, loose: RackGrid, draft: RackDraft) -> RackDraft | None:
    """A plan with eased rolls on the rolls that there are; None when they do not hold it.

    Parameters
    ----------
    grid, loose
        The problem, and the eased one.
    """
    same = {(stock.roll, stock.length, stock.stains): stock.index for stock in grid.stocks}
    windows: Laid = []
    for at, filling, repeats in draft.windows:
        stock = loose.stocks[at]
        windows.append((same[stock.roll, stock.length, stock.stains], filling, repeats))
    endless: dict[int, RollDraft] = {}
    for at, chunks in draft.endless.items():
        stock = loose.stocks[at]
        own = same.get((stock.roll, None, ()))
        if own is not None:
            endless[own] = chunks
            continue
        placed, rest = _place(grid, chunks, _plain(grid, stock.roll), {})
        if rest:
            return None
        windows += placed
    return RackDraft(endless, tuple(windows), draft.missing)


def dominated(grid: RackGrid) -> set[int]:
    """Stocks with an end that a roll without end is as good as: no narrower and no dearer."""
    endless = [stock for stock in grid.stocks if stock.length is None]
    return {
        stock.index
        for stock in grid.stocks
        if stock.length is not None
        and any(other.width >= stock.width and other.rate <= stock.rate for other in endless)
    }


def settled(grid: RackGrid, draft: RackDraft) -> RackDraft:
    """Chunks of rolls without end laid on rests of the same width and rate, the shortest first."""
    used: dict[int, int] = {}
    for at, _, repeats in draft.windows:
        used[at] = used.get(at, 0) + repeats
    windows = list(draft.windows)
    endless = dict(draft.endless)
    for at, chunks in sorted(draft.endless.items()):
        rests = _rests(grid, grid.stocks[at])
        placed, rest = _place(grid, chunks, rests, used)
        windows += placed
        endless[at] = rest
        for window, _, repeats in placed:
            used[window] = used.get(window, 0) + repeats
    return RackDraft({at: chunks for at, chunks in endless.items() if chunks}, tuple(windows), draft.missing)


def _place(
    grid: RackGrid, chunks: RollDraft, stocks: Sequence[Stock], used: Mapping[int, int]
) -> tuple[Laid, RollDraft]:
    """Fill windows with chunks, one after another, each as full as it can be; and what is left over."""
    bodies = [chunk for chunk, _ in chunks]
    left = np.array([repeats for _, repeats in chunks], np.int64)
    lengths = np.array([chunk.length for chunk in bodies], np.int64)
    laid: Laid = []
    for stock in stocks:
        count = None if stock.available is None else stock.available - used.get(stock.index, 0)
        while left.any() and (count is None or count > 0):
            counts = _fullest(stock, grid, lengths, left)
            if not counts.any():
                break
            filling = _filling(grid, stock, bodies, counts)
            taken = counts > 0
            times = int((left[taken] // counts[taken]).min())
            if count is not None:
                times = min(times, count)
                count -= times
            laid.append((stock.index, filling, times))
            left -= counts * times
    rest = tuple((chunk, int(times)) for chunk, times in zip(bodies, left, strict=True) if times)
    return laid, rest


def _fullest(stock: Stock, grid: RackGrid, lengths: Ints, left: Ints) -> Ints:
    """Which chunks fill a window best."""
    longest = grid.longest_on(stock)
    assert stock.length is not None and longest is not None
    room = stock.length - grid.end_loss
    # In one marker chunks keep a gap; between markers it may be more.
    apart = grid.gap if longest == room else grid.apart
    fits = np.flatnonzero((left > 0) & (lengths <= longest))
    sizes = lengths + apart
    room += apart
    counts = np.zeros_like(left)
    if fits.size == 0:
        return counts
    step = max(1, -(-room // STEPS))
    _, taken = kernels.best_fill(
        np.minimum(-(-sizes[fits] // step), room // step),
        sizes[fits].astype(np.float64),
        np.minimum(left[fits], room // sizes[fits]),
        room // step,
    )
    counts[fits] = taken
    return counts


def _filling(grid: RackGrid, stock: Stock, bodies: Sequence[Chunk], counts: Ints) -> Filling:
    """The chunks of one window, the longest first, joined to markers as far as may be."""
    longest = grid.longest_on(stock)
    assert longest is not None
    rows: list[list[Chunk]] = []
    length = longest
    for at in sorted(np.flatnonzero(counts).tolist(), key=lambda at: -bodies[at].length):
        for _ in range(int(counts[at])):
            chunk = bodies[at]
            if not rows or length + grid.gap + chunk.length > longest:
                rows.append([])
                length = -grid.gap
            rows[-1].append(chunk)
            length += grid.gap + chunk.length
    markers: list[Marker] = []
    start = 0
    for row in rows:
        marker = replace(marker_of(tuple(row), grid.gap), start=start)
        markers.append(marker)
        start += marker.length + grid.apart
    return tuple(markers)
