"""Parts of long blocks put on the blocks: as few blocks as they need, and what is left of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nesting.packing.block.long import Long, LongMaker
from nesting.packing.columns import Column, Cover
from nesting.packing.grid import mm
from nesting.packing.linear.pack import pack_bars
from nesting.packing.linear.task import BarPlan, StockBar
from nesting.packing.problem import BlockProblem, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import Layout

__all__ = ["PartSpot", "fitted", "joined_layouts", "spots_of", "windows_left"]

PACK_EFFORT = 20_000_000
"""Elementary steps for putting parts on blocks."""


@dataclass(frozen=True, slots=True)
class PartSpot:
    """A part on a number of blocks that are cut alike.

    Parameters
    ----------
    column
        Its pattern.
    start
        Where it begins on each of the blocks, mm from the raw end.
    number, count
        The first block, from 1, and how many.
    """

    column: Column
    start: float
    number: int
    count: int


def _parts_of(long: Long, plan: Cover) -> dict[int, list[tuple[Column, int]]]:
    """The parts of a long block by their length in grid steps, longest first."""
    found: dict[int, list[tuple[Column, int]]] = {}
    for column, times in plan.chosen:
        if isinstance(column.maker, LongMaker) and column.maker.long.index == long.index:
            found.setdefault(column.body.length, []).append((column, times))
    return dict(sorted(found.items(), reverse=True))


def _packed(problem: BlockProblem, long: Long, parts: dict[int, list[tuple[Column, int]]]) -> BarPlan:
    """Parts on as few blocks as possible: a cutting stock problem in one dimension."""
    return pack_bars(
        [StockBar(long.room, 1.0, problem.blocks[long.index].available)],
        list(parts),
        [sum(times for _, times in columns) for columns in parts.values()],
        long.kerf,
        Search(effort_limit=PACK_EFFORT),
    )


def fitted(problem: BlockProblem, longs: Sequence[Long], plan: Cover) -> Cover:
    """The plan without the parts that find no place on the blocks, the emptiest of a length first."""
    missing = plan.missing.copy()
    dropped: dict[int, int] = {}
    for long in longs:
        parts = _parts_of(long, plan)
        if problem.blocks[long.index].available is None or not parts:
            continue
        packed = _packed(problem, long, parts)
        for at, (_, columns) in enumerate(parts.items()):
            off, _ = packed.missing.get(at, (0, ""))
            for column, times in sorted(columns, key=lambda item: int(item[0].counts.sum())):
                taken = min(off, times)
                dropped[id(column)] = dropped.get(id(column), 0) + taken
                missing += column.counts * taken
                off -= taken
    chosen = []
    for column, times in plan.chosen:
        off = min(times, dropped.get(id(column), 0))
        dropped[id(column)] = dropped.get(id(column), 0) - off
        if times > off:
            chosen.append((column, times - off))
    return Cover(tuple(chosen), missing)


def windows_left(
    problem: BlockProblem, longs: Sequence[Long], plan: Cover
) -> Iterator[tuple[Long, int, int | None]]:
    """What a plan leaves of the long blocks: block, length in grid steps, how many (None: no limit)."""
    for long in longs:
        available = problem.blocks[long.index].available
        if available is None:
            yield long, long.room, None
            continue
        parts = _parts_of(long, plan)
        lengths = np.array(list(parts), np.int64)
        opened = 0
        for pattern in _packed(problem, long, parts).patterns if parts else ():
            taken = int(np.array(pattern.counts) @ (lengths + long.kerf))
            opened += pattern.repeats
            if taken < long.room:
                yield long, long.room - taken, pattern.repeats
        if opened < available:
            yield long, long.room, available - opened


def spots_of(problem: BlockProblem, long: Long, plan: Cover) -> Iterator[PartSpot]:
    """Where the parts of a plan lie on the blocks, from the left end on, the longest first."""
    parts = _parts_of(long, plan)
    if not parts:
        return
    waiting = {length: list(columns) for length, columns in parts.items()}
    number = 1
    taken = np.array(list(parts), np.int64) + long.kerf
    patterns = _packed(problem, long, parts).patterns
    # The fullest blocks first, so that what is left is the end of the last.
    for pattern in sorted(patterns, key=lambda pattern: -int(taken @ np.array(pattern.counts))):
        left = pattern.repeats
        while left:
            # As many blocks as the columns that are next in turn last for are cut alike.
            count = left
            chosen: list[tuple[Column, int]] = []
            for length, wanted in zip(parts, pattern.counts, strict=True):
                used, lasting = _next(waiting[length], wanted, left)
                count = min(count, lasting)
                chosen += used
            at = long.first
            for column, times in chosen:
                _take(waiting[column.body.length], column, times * count)
                for _ in range(times):
                    yield PartSpot(column, mm(at), number, count)
                    at += column.body.length + long.kerf
            number += count
            left -= count


def _next(
    waiting: Sequence[tuple[Column, int]], wanted: int, blocks: int
) -> tuple[list[tuple[Column, int]], int]:
    """Columns for the places of one length on a block, and for how many blocks they last."""
    taken: list[tuple[Column, int]] = []
    lasting = blocks
    for column, there in waiting:
        if not wanted:
            break
        use = min(wanted, max(1, there // blocks))
        taken.append((column, use))
        lasting = min(lasting, there // use)
        wanted -= use
    assert not wanted, "more parts placed than chosen"
    return taken, lasting


def _take(waiting: list[tuple[Column, int]], column: Column, times: int) -> None:
    at = next(at for at, (other, _) in enumerate(waiting) if other is column)
    left = waiting[at][1] - times
    waiting[at : at + 1] = [(column, left)] if left else []


def joined_layouts(layouts: Sequence[Layout], kerf: float) -> list[Layout]:
    """Layouts with those put together that follow one another, alike, on the same blocks; `kerf` in mm."""
    made: list[Layout] = []
    for layout in layouts:
        before = made[-1] if made else None
        if before is not None and before.stock_number == layout.stock_number:
            copies = before.repeats // before.stock_count
            follows = mm(grid_up(before.start) + copies * grid_up(before.length + mm(grid_up(kerf))))
            again = replace(layout, start=before.start, repeats=before.repeats)
            if layout.start == follows and again == before:
                made[-1] = replace(before, repeats=before.repeats + layout.repeats)
                continue
        made.append(layout)
    return made
