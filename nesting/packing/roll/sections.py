"""Guillotine cutting of a roll: sections across the roll, chosen by column generation."""

from __future__ import annotations

import math
from contextlib import suppress
from typing import Any, Literal

import numpy as np

from nesting.packing.columns import Column, Cover, densest
from nesting.packing.covering import Covering
from nesting.packing.grid import Floats, Ints
from nesting.packing.guillotine import Region, Section
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.search import Search, Stop

__all__ = ["SectionMaker", "section_plan"]

REACH = 6.0
"""Longest section, in lengths of the longest box: long enough for stacks that come out even."""

SHORT_REACH = 3.0
"""The same where no coarser grid is to be taken."""

FINEST = 13_000
"""Most steps along a section: whole millimetres on a table of 13 m."""

COLUMNS_A_ROUND = 6
"""Most new sections taken from one pricing."""

PROMISING = 40
"""Section lengths that are looked at first in the next pricing."""

ENOUGH = 1.0 + 1e-7
"""Least value for its cost at which a section is a gain."""

COLUMNS_A_FILL = 3
"""Sections tried for one fill of the rest: fills are many, and the first is mostly the best."""

MOST_AT_ONCE = 6_000
"""Most kinds that are covered together; more would take too much time and memory even for a first plan."""

DECIMALS = 9
"""Decimals of a value per length; beyond is float noise."""


class SectionMaker:
    """Makes sections of two or three stages; a column costs the length of its section and one gap."""

    stock = 0

    def __init__(self, grid: RollGrid, stages: Literal[2, 3]) -> None:
        length = max(int(grid.dx[box]) for box in range(grid.dx.size) if grid.fits(box))
        if stages == 3:
            exact = FINEST * int(np.gcd.reduce(np.concatenate([grid.dx, grid.dy, [grid.gap]])))
            # A little shorter where that spares a coarser grid; much shorter sections are worse than that.
            reach = int(REACH * length)
            length = min(reach, exact) if exact >= SHORT_REACH * length else reach
        if grid.longest is not None:
            length = min(length, grid.longest)
        self._gap = grid.gap
        # With three stages there may be sections longer than this region; it then proves nothing.
        self._proves = stages == 2 or length == grid.longest
        self._length = length
        self._region = Region(
            length, grid.width, grid.dx, grid.dy, grid.owner, grid.gap, stages, finest=FINEST
        )
        self._promising: Ints = np.zeros(0, np.int64)

    def _column(self, section: Section, counts: Ints) -> Column:
        return Column(self, float(section.length + self._gap), counts, section)

    def quick(self, left: Ints) -> Column | None:
        """A fair section at once."""
        section, counts = self._region.quick_section(self._length, left)
        return self._column(section, counts) if section.strips else None

    def _best(
        self, lengths: Ints, values: Floats, limits: Ints, least: float, most: int, search: Search[Any]
    ) -> tuple[list[Column], Ints]:
        """Sections of the lengths that seem worth most for their cost, and more than `least`.

        `lengths` are the coarse ones to look at. They are given back too, the most promising first.
        """
        region = self._region
        # No section is worth more than all that is left, so few copies ask for short sections.
        worth = np.minimum(region.value_sections(lengths, values, limits, search), float(values @ limits))
        ratios = worth / (lengths * region.step + self._gap)
        # Of sections that are worth the same the longest leaves the least to be combined later.
        order = np.lexsort((-lengths, -np.round(ratios, DECIMALS)))
        chosen = [int(lengths[k]) for k in order[:most] if ratios[k] > least]
        columns = [self._column(*region.section(length, values, limits, search)) for length in chosen]
        return columns, lengths[order]

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The most valuable sections for their length."""
        plenty = np.full(values.size, self._length, np.int64)
        # Lengths that were promising a moment ago mostly still are; all are looked at when none is.
        columns, _ = self._best(self._promising, values, plenty, ENOUGH, COLUMNS_A_ROUND, search)
        if not columns:
            lengths = self._region.lengths
            columns, order = self._best(lengths, values, plenty, ENOUGH, COLUMNS_A_ROUND, search)
            self._promising = np.sort(order[:PROMISING])
        return columns

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """The best of some promising sections within the copies that are left."""
        columns, _ = self._best(self._region.lengths, values, left, 0.0, COLUMNS_A_FILL, search)
        return densest(columns, values)

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value per length; the gaps between sections are left out, as there may be none."""
        del charge
        return self._region.best_density(values, search) if self._proves else None

    def trim(self, column: Column, counts: Ints) -> Column:
        """The section with only the given counts, closed up."""
        return self._column(self._region.only(column.body, counts), counts)


def section_plan(
    grid: RollGrid,
    stages: Literal[2, 3],
    search: Search[RollDraft],
    *,
    share: float = 1.0,
    binding: bool = False,
) -> None:
    """Cover the demand with sections of at most `stages` stages; plans go to `search`.

    Parameters
    ----------
    share
        Of the budget that is left.
    binding
        Whether nothing but so many stages is allowed, so that what is proved of them is proved.
    """
    if grid.demand.size > MOST_AT_ONCE:
        _in_parts(grid, stages, search.child(share), search)
        return

    def pass_on(_: float, plan: Cover) -> None:
        if not plan.missing.any():
            draft = tuple((grid.section_chunk(column.body), repeats) for column, repeats in plan.chosen)
            search.offer(grid.value(draft), draft)

    inner: Search[Cover] = search.child(share, pass_on)
    # Sections of two stages are among those of three, but are found more surely by themselves.
    makers = [SectionMaker(grid, 3), SectionMaker(grid, 2)] if stages == 3 else [SectionMaker(grid, 2)]
    covering = Covering(
        grid.demand,
        [None],
        makers,
        areas=np.maximum(grid.area, 1).astype(np.float64),
        round_bound=lambda bound: math.ceil(bound - 1e-6),
        known=search.value,
    )
    try:
        with suppress(Stop):
            covering.run(inner)
    finally:
        if binding:
            search.prove(inner.bound)


def _in_parts(
    grid: RollGrid, stages: Literal[2, 3], budget: Search[RollDraft], search: Search[RollDraft]
) -> None:
    """Cover the demand in parts of kinds that are about as long; the plan of all goes to `search`."""
    shortest = np.minimum.reduceat(grid.dx, grid.start[:-1])
    parts = np.array_split(np.argsort(shortest, kind="stable"), -(-grid.demand.size // MOST_AT_ONCE))
    draft: list[tuple[Chunk, int]] = []
    for done, numbers in enumerate(parts):
        part = grid.part(numbers)
        inner: Search[RollDraft] = budget.child(1 / (len(parts) - done))
        section_plan(part, stages, inner)
        if inner.draft is None:
            return
        for chunk, repeats in inner.draft:
            assert chunk.section is not None, "section plans are made of sections"
            draft.append((grid.section_chunk(grid.restored(chunk.section, part, numbers)), repeats))
    search.offer(grid.value(tuple(draft)), tuple(draft))
