"""Guillotine cutting of a roll: sections across the roll, chosen by column generation."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from nesting.packing.columns import Column, Cover, Covering, Floats
from nesting.packing.grid import Ints
from nesting.packing.guillotine import Region, Section
from nesting.packing.roll.chunks import RollDraft, RollGrid
from nesting.packing.search import Search

__all__ = ["section_plan"]

REACH = 2.6
"""Longest section, in lengths of the longest box: long enough for stacks that come out even."""

COLUMNS_A_ROUND = 6
"""Most new sections taken from one pricing."""


def section_plan(
    grid: RollGrid, stages: Literal[2, 3], search: Search[RollDraft], share: float = 1.0
) -> None:
    """Cover the demand with sections of at most `stages` stages; plans and bounds go to `search`."""
    fitting = [box for box in range(grid.dx.size) if grid.fits(box)]
    length = max(int(grid.dx[box]) for box in fitting)
    if stages == 3:
        length = int(REACH * length)
    if grid.longest is not None:
        length = min(length, grid.longest)
    region = Region(length, grid.width, grid.dx, grid.dy, grid.owner, grid.gap, stages)
    # With three stages longer sections than the region's exist; with a gap the last one has none.
    proves = stages == 2 and grid.gap == 0
    plenty = np.full(grid.demand.size, length, np.int64)

    def column(section: Section, counts: Ints) -> Column:
        return Column(0, float(section.length + grid.gap), counts, section)

    def price(duals: Floats) -> list[Column]:
        inner.spend(region.work)
        worth = region.value_sections(region.lengths, duals, plenty)
        ratios = worth / (region.lengths * region.step + grid.gap)
        best = np.argsort(-ratios, kind="stable")[:COLUMNS_A_ROUND]
        return [column(*region.section(int(region.lengths[k]), duals, plenty)) for k in best if ratios[k] > 1]

    def ratio(duals: Floats, _: Floats) -> float | None:
        if not proves:
            return None
        bold = region.bold
        worth = bold.value_sections(bold.lengths, duals, plenty)
        # Rounded down, a section is still shorter by less than a step than it says.
        return float((worth / (bold.lengths * bold.step)).max())

    def fill(values: Floats, left: Ints, _: int) -> Column | None:
        inner.spend(region.work)
        lengths = region.lengths
        worth = region.value_sections(lengths, values, left)
        if worth.max() <= 0:
            return None
        ratios = worth / (lengths * region.step + grid.gap)
        made = []
        for k in np.argsort(-ratios, kind="stable")[:COLUMNS_A_ROUND]:
            section, counts = region.section(int(lengths[k]), values, left)
            if counts.any():
                made.append(column(section, counts))
        return max(made, key=lambda c: float(values @ c.counts) / c.cost) if made else None

    def trim(old: Column, counts: Ints) -> Column:
        return column(region.only(old.body, counts), counts)

    inner: Search[Cover] = search.child(share)

    def pass_on() -> None:
        if inner.draft is not None and inner.short == 0:
            draft = tuple((grid.section_chunk(c.body), repeats) for c, repeats in inner.draft.chosen)
            search.offer(grid.value(draft), draft)

    try:
        Covering(
            grid.demand,
            [None],
            price,
            ratio,
            fill,
            trim=trim,
            areas=grid.area.astype(np.float64),
            round_bound=lambda bound: math.ceil(bound - 1e-6),
        ).run(inner)
    finally:
        pass_on()
        search.prove(inner.bound)
