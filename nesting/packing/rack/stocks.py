"""Rolls as the engine sees them: stretches without end, and windows between flaws.

A flaw that leaves no piece room beside it ends a window; other flaws lie within one. Long windows are
divided: columns that fill a whole window are the harder to combine the longer it is, and what stays empty
at the end of each part costs nothing. Windows of one kind of roll that are alike are one stock with
several places.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from nesting.packing.bars import BarRoom
from nesting.packing.grid import Bools, Box, Floats, Grid, Kinds, boxes_of, mm
from nesting.packing.problem import GRID, Piece, RackProblem, Roll, grid_down, grid_up

__all__ = ["Band", "RackGrid", "Stain", "Stock", "misfits", "stocks_of"]

MOST_STAINS = 50
"""Most flaws within one window; beyond, the rest count as if they went across the whole width."""

DEAREST = 1_000.0
"""What it counts to leave out a piece, in costs of the longest piece on the dearest roll."""

PART = 4
"""Least length of a part of a window, in lengths of the longest box."""

PART_WITH_LOSS = 10
"""The same where every part costs an end loss that a longer one would spare."""

BESIDE = 2
"""Length on both sides of a flaw that is kept in one part with it, in lengths of the longest box."""

TIGHT = 0.85
"""Share of the area of all rolls, filled with pieces, from which on windows stay whole."""

PREFERENCE = 1e-6
"""Share by which the shortest stock is reckoned cheaper than it is, so that it is used up first; longer
ones by less, and rolls without end not at all."""


@dataclass(frozen=True, slots=True)
class Stain:
    """A flaw in grid steps, rounded outwards; x from the start of its window."""

    x0: int
    x1: int
    y0: int
    y1: int


@dataclass(frozen=True, slots=True)
class Band:
    """Room across between flaws: from `y` on, `width` grid steps."""

    y: int
    width: int


@dataclass(frozen=True)
class Stock:
    """Stretches of one kind of roll that are alike.

    Parameters
    ----------
    index
        Place in the list of stocks.
    roll
        Index of the roll.
    width, length
        In grid steps; length None: without end.
    rate
        Cost of one grid step of length.
    starts
        Where on the roll they begin, in grid steps.
    available
        How many there are, over all places and rolls; None: no limit.
    stains
        Flaws within.
    gap
        Distance between pieces, in grid steps.
    whole
        Length of the window that it is part of, in grid steps; 0 without end.
    share
        Steps of that window that each such part stands for: a bound must not overlook what lies between
        the parts.
    weight
        What costs are multiplied with, so that short stock is preferred; just below 1.
    """

    index: int
    roll: int
    width: int
    length: int | None
    rate: float
    starts: tuple[int, ...]
    available: int | None
    stains: tuple[Stain, ...]
    gap: int
    whole: int = 0
    share: float = 0.0
    weight: float = 1.0

    def mask(self, x: int, length: int) -> int:
        """Which flaws a stretch meets, as bits."""
        return sum(1 << at for at, stain in enumerate(self.stains) if stain.x0 < x + length and stain.x1 > x)

    @lru_cache(maxsize=4096)  # noqa: B019  (stocks live as long as one search)
    def bands(self, mask: int) -> tuple[Band, ...]:
        """The room across that is left beside some flaws, from low to high.

        Beside a flaw a band begins so far from the band below that the left-over between them can be cut
        out: two gaps and one step.
        """
        bands = []
        low = 0
        for stain in sorted(
            (stain for at, stain in enumerate(self.stains) if mask >> at & 1), key=lambda stain: stain.y0
        ):
            if stain.y0 > low:
                bands.append(Band(low, stain.y0 - low))
                low = max(stain.y1, stain.y0 + 2 * self.gap + 1)
            else:
                low = max(low, stain.y1, self.gap + 1)
        if low < self.width:
            bands.append(Band(low, self.width - low))
        return tuple(bands)

    def takes(self, box: Box, end_loss: int) -> bool:
        """Whether one box finds room anywhere; if at all, then at an edge of the window or of a flaw."""
        if self.length is None:
            return box.dy <= self.width
        return any(
            x + box.dx + end_loss <= self.length
            and any(band.width >= box.dy for band in self.bands(self.mask(x, box.dx)))
            for x in (0, *(stain.x1 for stain in self.stains))
        )


@dataclass(frozen=True, slots=True)
class _Window:
    """A stretch of roll: where it starts, its length (None: without end), its flaws."""

    start: int
    length: int | None
    stains: tuple[Stain, ...] = ()
    whole: int = 0
    share: float = 0.0


def stocks_of(problem: RackProblem, *, used_up: bool = False, divided: bool = False) -> list[Stock]:
    """All stretches that take at least one of the pieces.

    Parameters
    ----------
    used_up
        List also those of rolls of which none is left.
    divided
        Divide long windows.
    """
    boxes = {box for piece in problem.pieces for box in boxes_of(piece)}
    narrowest, longest = min(box.dy for box in boxes), max(box.dx for box in boxes)
    gap, end_loss = grid_up(problem.gap), grid_up(problem.end_loss)
    found: list[Stock] = []
    for at, roll in enumerate(problem.rolls):
        windows: dict[_Window, list[int]] = {}
        for window in _windows(roll, narrowest):
            for part in _parts(window, problem, longest) if divided else [window]:
                windows.setdefault(replace(part, start=0), []).append(part.start)
        for window, starts in windows.items():
            stock = Stock(
                len(found),
                at,
                grid_down(roll.width),
                window.length,
                roll.cost * GRID / 1000.0,
                tuple(starts),
                None if roll.available is None else roll.available * len(starts),
                window.stains,
                gap,
                window.whole,
                window.share,
            )
            if (used_up or stock.available != 0) and any(stock.takes(box, end_loss) for box in boxes):
                found.append(stock)
    lengths = sorted({roll.length for roll in problem.rolls if roll.length is not None})
    return [
        replace(stock, weight=1.0 - PREFERENCE * (1.0 - lengths.index(length) / len(lengths)))
        if (length := problem.rolls[stock.roll].length) is not None
        else stock
        for stock in found
    ]


def _parts(window: _Window, problem: RackProblem, longest: int) -> list[_Window]:
    """A long window in parts: one around each group of flaws, the rest in equal ones."""
    if window.length is None:
        return [window]
    end_loss = grid_up(problem.end_loss)
    # A part ends with room for its end loss, which already keeps its markers from those of the next one.
    between = max(0, grid_up(problem.gap) - end_loss)
    unit = (PART if end_loss == 0 or problem.max_marker_length else PART_WITH_LOSS) * longest
    if problem.max_marker_length:
        marker = grid_down(problem.max_marker_length) + max(grid_up(problem.gap), end_loss)
        unit = max(1, unit // marker) * marker
    parts: list[tuple[int, int]] = []
    at = 0
    for low, high in _around(window, BESIDE * longest):
        if low - at >= unit:
            parts += _even(at, low - between, unit, between)
            at = low
        parts.append((at, high))
        at = high + between
    if window.length - at >= unit or not parts:
        parts += _even(at, window.length, unit, between)
    else:
        parts[-1] = (parts[-1][0], window.length)
    share = window.length / sum(high - low for low, high in parts)
    return [
        _Window(
            window.start + low,
            high - low,
            _within(window.stains, low, high),
            window.length,
            (high - low) * share,
        )
        for low, high in parts
    ]


def _around(window: _Window, margin: int) -> list[tuple[int, int]]:
    """Stretches with the flaws of a window and so much beside them, joined where they meet."""
    assert window.length is not None
    found: list[tuple[int, int]] = []
    for stain in window.stains:
        low, high = max(0, stain.x0 - margin), min(window.length, stain.x1 + margin)
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(high, found[-1][1]))
        else:
            found.append((low, high))
    return found


def _even(low: int, high: int, unit: int, between: int) -> list[tuple[int, int]]:
    """A stretch in equal parts, each at least as long as the unit, unless the stretch is shorter."""
    parts = max(1, (high - low + between) // (unit + between))
    length = (high - low - (parts - 1) * between) // parts
    return [(low + at * (length + between), low + at * (length + between) + length) for at in range(parts)]


def _within(stains: Sequence[Stain], low: int, high: int) -> tuple[Stain, ...]:
    """The flaws that meet a stretch, seen from its start."""
    return tuple(
        Stain(max(0, s.x0 - low), min(high, s.x1) - low, s.y0, s.y1)
        for s in stains
        if s.x0 < high and s.x1 > low
    )


def _windows(roll: Roll, narrowest: int) -> list[_Window]:
    """The stretches between flaws that go (almost) across the whole width."""
    if roll.length is None:
        return [_Window(0, None)]
    width, end = grid_down(roll.width), grid_down(roll.length)
    stains = []
    for flaw in roll.flaws:
        high = width if flaw.y1 is None else min(width, grid_up(flaw.y1))
        stain = Stain(grid_down(flaw.x0), min(end, grid_up(flaw.x1)), grid_down(flaw.y0), high)
        if stain.x0 < end and stain.y0 < width:
            stains.append(stain)
    stains.sort(key=lambda stain: (stain.x0, stain.y0))
    beside = [s for s in stains if max(s.y0, width - s.y1) >= narrowest][:MOST_STAINS]
    across = [stain for stain in stains if stain not in beside]
    edges = [0]
    for stain in across:
        if stain.x0 > edges[-1]:
            edges += [stain.x0, stain.x1]
        else:
            edges[-1] = max(edges[-1], stain.x1)
    edges.append(end)
    return [
        _Window(low, high - low, _within(beside, low, high), high - low, float(high - low))
        for low, high in zip(edges[::2], edges[1::2], strict=True)
        if high > low
    ]


class RackGrid(Grid):
    """A rack problem on the grid: gap, longest marker (None: no limit) and end loss, in grid steps."""

    def __init__(self, problem: RackProblem, kinds: Kinds) -> None:
        super().__init__(kinds)
        self.gap = grid_up(problem.gap)
        self.end_loss = grid_up(problem.end_loss)
        self.longest = grid_down(problem.max_marker_length) if problem.max_marker_length is not None else None
        self.stocks = stocks_of(problem, divided=not self._tight(problem))

    def _tight(self, problem: RackProblem) -> bool:
        """Whether the rolls are hardly enough for all, so that no room between parts must be lost."""
        if any(roll.length is None or roll.available is None for roll in problem.rolls):
            return False
        rooms = [
            float(stock.width) * (stock.length or 0) * (stock.available or 0) for stock in stocks_of(problem)
        ]
        return float(self.area.astype(np.float64) @ self.demand) > TIGHT * sum(rooms)

    @property
    def apart(self) -> int:
        """Least distance of two markers on one roll."""
        return max(self.gap, self.end_loss)

    def longest_on(self, stock: Stock) -> int | None:
        """Longest marker on one stock; None: no limit."""
        limits = [self.longest, None if stock.length is None else stock.length - self.end_loss]
        return min((limit for limit in limits if limit is not None), default=None)

    def rate(self, stock: Stock) -> float:
        """Least cost of one step of marker, its share of the end loss included."""
        limits = [self.longest, None if stock.length is None else stock.whole - self.end_loss]
        longest = min((limit for limit in limits if limit is not None), default=None)
        return stock.rate * (1.0 if longest is None else 1.0 + self.end_loss / longest)

    @property
    def dearest(self) -> float:
        """What it counts to leave out a piece: far more than what can be saved by it."""
        return DEAREST * max(self.rate(stock) for stock in self.stocks) * float(self.dx.max() + self.end_loss)

    @property
    def penalties(self) -> Floats:
        """What decides between plans that leave out as many pieces: the area of those left out."""
        shares: Floats = self.area / max(1.0, float(self.area.max()))
        return shares * self.dearest

    def fitting(self, stock: Stock) -> Bools:
        """Which boxes find room on a stock."""
        longest = self.longest_on(stock)
        return np.array(
            [
                (longest is None or dx <= longest) and stock.takes(Box(dx, dy), self.end_loss)
                for dx, dy in zip(self.dx.tolist(), self.dy.tolist(), strict=True)
            ],
            np.bool_,
        )

    def rooms(self) -> list[BarRoom]:
        """The stocks as the bounds see them: flaws beside which there is room are overlooked."""
        return [
            BarRoom(
                stock.width,
                self.rate(stock),
                None if stock.length is None or stock.available is None else stock.share * stock.available,
            )
            for stock in self.stocks
        ]


def misfits(problem: RackProblem) -> Mapping[str, str]:
    """Pieces that no roll takes in any allowed turn, with the reason in plain words."""
    stocks = stocks_of(problem, used_up=True)
    longest = None if problem.max_marker_length is None else grid_down(problem.max_marker_length)
    end_loss = grid_up(problem.end_loss)
    widest = max(grid_down(roll.width) for roll in problem.rolls)
    reasons = {}
    for piece in problem.pieces:
        boxes = list(boxes_of(piece))
        if any(
            (longest is None or box.dx <= longest) and stock.takes(box, end_loss)
            for box in boxes
            for stock in stocks
        ):
            continue
        reasons[piece.key] = _reason(piece, boxes, widest, longest)
    return reasons


def _reason(piece: Piece, boxes: Sequence[Box], widest: int, longest: int | None) -> str:
    narrow = [box for box in boxes if box.dy <= widest]
    if not narrow:
        least = min(box.dy for box in boxes)
        return (
            f"needs {mm(least):.1f} mm across the roll, the widest roll is {mm(widest):.1f} mm: "
            f"{mm(least - widest):.1f} mm too wide"
        )
    least = min(box.dx for box in narrow)
    if longest is not None and least > longest:
        return (
            f"needs {mm(least):.1f} mm along the roll, the longest marker is {mm(longest):.1f} mm: "
            f"{mm(least - longest):.1f} mm too long"
        )
    return f"finds no room of {mm(boxes[0].dx):.1f} x {mm(boxes[0].dy):.1f} mm on any roll in an allowed turn"
