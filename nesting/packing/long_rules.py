"""What the verifier checks of parts of long blocks besides what holds for every block.

As the rest of the verifier it shares nothing with the engines.
"""

from __future__ import annotations

import math
from itertools import pairwise

from nesting.packing.faults import NOISE, check_whole, fault, mm
from nesting.packing.problem import BlockProblem, Kerfs, Skins
from nesting.packing.solution import Answer, Layout
from nesting.packing.stock import Block

__all__ = ["check_long_blocks", "check_part", "part_price"]


def _usable(problem: BlockProblem, block: Block) -> tuple[float, float]:
    """Where the usable length of a long block begins and ends, mm from its raw left end."""
    skins = problem.trim if block.trim is None else block.trim
    assert isinstance(skins, Skins)
    return skins.x0, block.length - skins.x1


def _saw(problem: BlockProblem) -> float:
    assert isinstance(problem.kerf, Kerfs)
    return problem.kerf.upright


def _starts(problem: BlockProblem, layout: Layout) -> list[float]:
    """Where the copies of a part begin on each of its blocks; the saw cut is rounded up to the grid."""
    saw = math.ceil(_saw(problem) * 10 - NOISE) / 10
    return [layout.start + at * (layout.length + saw) for at in range(layout.repeats // layout.stock_count)]


def check_part(problem: BlockProblem, layout: Layout, block: Block, where: str) -> None:
    """A part is no longer than the machines take, and lies between the end skins of blocks that there are."""
    assert block.cut_to is not None
    if not 0 < layout.length <= block.cut_to + NOISE:
        most = f"parts of {block.key!r} may be at most {mm(block.cut_to)} mm"
        fault(where, f"is {mm(layout.length)} mm long; {most}")
    check_whole(layout.stock_number, "the number of the block", where)
    check_whole(layout.stock_count, "the number of blocks", where)
    if layout.repeats % layout.stock_count:
        fault(where, f"is cut {layout.repeats} times, which {layout.stock_count} blocks cannot share evenly")
    last = layout.stock_number + layout.stock_count - 1
    if block.available is not None and last > block.available:
        fault(where, f"lies on block {last} of {block.key!r}; there are {block.available}")
    low, high = _usable(problem, block)
    if not math.isfinite(layout.start) or layout.start < low - NOISE:
        fault(where, f"starts at {layout.start!r}; the usable length of {block.key!r} starts at {mm(low)}")
    end = max(_starts(problem, layout)) + layout.length
    if end > high + NOISE:
        fault(where, f"reaches to {mm(end)} of {block.key!r}, whose usable length ends at {mm(high)}")


def check_long_blocks(problem: BlockProblem, answer: Answer) -> None:
    """Parts on one block are at least a saw cut apart."""
    saw = _saw(problem)
    for block in problem.blocks:
        if block.cut_to is None:
            continue
        layouts = [
            (number, layout)
            for number, layout in enumerate(answer.layouts, start=1)
            if layout.stock_key == block.key
        ]
        # The first of every run of blocks that hold the same parts.
        for first in sorted({layout.stock_number for _, layout in layouts}):
            spans = sorted(
                (start, number, layout.length)
                for number, layout in layouts
                if 0 <= first - layout.stock_number < layout.stock_count
                for start in _starts(problem, layout)
            )
            for (start, one, length), (after, other, _) in pairwise(spans):
                if after - start - length < saw - NOISE:
                    room = f"{mm(after - start - length)} mm apart on block {first} of {block.key!r}"
                    fault(f"Layout {other}", f"and layout {one} are {room}; the saw cut is {mm(saw)} mm")


def part_price(problem: BlockProblem, layout: Layout, block: Block) -> float:
    """Cost of what a layout takes: the whole block, or its share of the usable length, saw cuts included."""
    if block.cut_to is None:
        return block.cost
    low, high = _usable(problem, block)
    saw = _saw(problem)
    return block.cost * (layout.length + saw) / (high - low + saw)
