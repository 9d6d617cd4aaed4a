"""Staged edge-to-edge patterns: sections along x, strips across y, boxes along x in a strip.

One family of patterns serves rolls (a pattern is one section), sheets (sections along the sheet) and
blocks (the footprint, or one slit sheet). Patterns are valued by dynamic programming, the way of
Gilmore and Gomory (1965), "Multistage cutting stock problems of two and more dimensions", Operations
Research 13(1): 94-120.

The dynamic programs run on a coarser grid; see `nesting.packing.raster`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import numpy as np

from nesting.packing import kernels
from nesting.packing.grid import Bools, Floats, Ints
from nesting.packing.raster import FINEST, Raster, raster
from nesting.packing.search import Search

__all__ = ["CELLS_A_STEP", "Pattern", "Region", "Section", "Strip"]

MOST_LENGTHS = 400
"""Most section lengths that are valued when patterns are made; beyond, a selection is."""

MOST_BOXES = 400
"""Most boxes that are considered at once when a section is made; beyond, a selection is."""

MOST_LOOKED_AT = 2_000
"""Most boxes that are looked at for one quick section; beyond, a selection is."""

MOST_CELLS = 400_000_000
"""Most cells that valuing all section lengths may take when a bound is proved; beyond, lengths are put
together."""

FEWEST_LENGTHS = 100
"""So many section lengths are valued in any case when a bound is proved."""

CELLS_A_STEP = 16
"""Cells of a dynamic program that take as long as one step of a placement search (measured)."""

STEPS_A_STACK = 500
"""Steps reckoned for the bookkeeping of one strip (measured)."""

CLOSE = 0.98
"""Share of its expected value that a section must reach within the copies left; below, what is left is
valued anew."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Boxes one behind the other along x; `width` is that of the widest, in true grid steps."""

    boxes: tuple[int, ...]
    width: int


@dataclass(frozen=True, slots=True)
class Section:
    """Strips side by side; `length` is that of the longest, in true grid steps."""

    strips: tuple[Strip, ...]
    length: int

    @property
    def boxes(self) -> tuple[int, ...]:
        """All boxes, in the order in which they are cut."""
        return tuple(box for strip in self.strips for box in strip.boxes)


@dataclass(frozen=True, slots=True)
class Pattern:
    """Sections one behind the other along x."""

    sections: tuple[Section, ...]

    @property
    def boxes(self) -> tuple[int, ...]:
        """All boxes, in the order in which they are cut."""
        return tuple(box for section in self.sections for box in section.boxes)


class Region:
    """A rectangle and the boxes that may be cut from it: values patterns, again and again.

    Limits and counts are by kind throughout: how many copies may be used, how many are.

    Parameters
    ----------
    length, width
        Room along x and y, in grid steps.
    dx, dy
        The boxes, in grid steps (all kinds and turns in one list).
    owner
        The kind each box belongs to.
    kerf
        Width of a cut.
    stages
        2: a strip holds one box. 3: a strip holds a stack of boxes.
    allowed
        Which of the boxes may be used; None: all that fit.
    finest
        Most steps of the coarse grid along the longer side.
    """

    def __init__(
        self,
        length: int,
        width: int,
        dx: Ints,
        dy: Ints,
        owner: Ints,
        kerf: int,
        stages: Literal[2, 3],
        allowed: Bools | None = None,
        finest: int = FINEST,
    ) -> None:
        self.stages = stages
        self._finest = finest
        self._room = (length, width)
        self._dx, self._dy, self._owner, self._kerf = dx, dy, owner, kerf
        fits = (dx <= length) & (dy <= width)
        if allowed is not None:
            fits &= allowed
        # Narrow strips first: wider strips may hold what narrower ones may.
        self._index: Ints = np.flatnonzero(fits)[np.argsort(dy[fits], kind="stable")]
        self._kind: Ints = owner[self._index]
        self._kinds = int(owner.max()) + 1 if owner.size else 0

    @property
    def empty(self) -> bool:
        """No box fits."""
        return self._index.size == 0

    # --- Quick patterns -------------------------------------------------------------------------------

    def quick_section(self, room: int, limits: Ints) -> tuple[Section, Ints]:
        """A fair section no longer than `room` grid steps, at once, and its counts.

        The largest box leads and decides the length; across, the strip that fills most area comes
        next, as often as it fits.
        """
        kerf, width = self._kerf, self._room[1]
        counts = np.zeros(self._kinds, np.int64)
        dx, dy = self._dx[self._index], self._dy[self._index]
        usable = _some(np.flatnonzero((limits[self._kind] > 0) & (dx <= room)), MOST_LOOKED_AT)
        if usable.size == 0:
            return Section((), 0), counts
        dx, dy, kind = dx[usable], dy[usable], self._kind[usable]
        largest = kind[np.argmax(dx * dy)]
        # Of the turns of the largest box the one whose copies fill the width best.
        across = np.minimum((width + kerf) // (dy + kerf), limits[kind]) * dy
        lead = int(np.argmax(np.where(kind == largest, across, -1)))
        length = int(dx[lead])
        left = limits.copy()
        strips: list[Strip] = []
        while width > 0:
            stacked = np.minimum((length + kerf) // (dx + kerf), left[kind])
            if self.stages == 2:
                stacked = np.minimum(stacked, 1)
            gains = np.where(dy <= width, stacked * dx * dy, 0)
            best = lead if not strips else int(np.argmax(gains))
            if gains[best] == 0:
                break
            stack, owner = int(stacked[best]), int(kind[best])
            times = int(min((width + kerf) // (dy[best] + kerf), left[owner] // stack))
            box = int(self._index[usable[best]])
            strips.extend([Strip((box,) * stack, int(dy[best]))] * times)
            left[owner] -= times * stack
            counts[owner] += times * stack
            width -= times * int(dy[best] + kerf)
        return Section(tuple(strips), length), counts

    def quick_pattern(self, limits: Ints) -> tuple[Pattern, Ints]:
        """A fair pattern at once, and its counts: quick sections until nothing more fits."""
        sections = []
        counts = np.zeros(self._kinds, np.int64)
        room = self._room[0]
        while room > 0:
            section, use = self.quick_section(room, limits - counts)
            if not section.strips:
                break
            counts += use
            sections.append(section)
            room -= section.length + self._kerf
        return Pattern(tuple(sections)), counts

    # --- Valued patterns ------------------------------------------------------------------------------

    @cached_property
    def _safe(self) -> Raster:
        """The region rounded so that every pattern made on it is possible."""
        return self._raster(bold=False)

    @cached_property
    def _bold(self) -> Raster:
        """The region rounded so that what is proved on it holds for the true sizes."""
        return self._raster(bold=True)

    def _raster(self, *, bold: bool) -> Raster:
        dx, dy = self._dx[self._index], self._dy[self._index]
        return raster(
            *self._room, dx, dy, self._kind, self._kerf, self.stages, bold=bold, finest=self._finest
        )

    @cached_property
    def lengths(self) -> Ints:
        """The section lengths to make patterns of, in coarse steps.

        All useful ones; if they are too many, multiples of one box and a spread of the others.
        """
        safe = self._safe
        lengths = safe.lengths
        if lengths.size <= MOST_LENGTHS:
            return lengths
        multiples = np.concatenate(
            [np.arange(size, safe.length + 1, size + safe.kerf) for size in np.unique(safe.dx)]
        )
        return np.union1d(
            _some(np.unique(multiples), MOST_LENGTHS // 2), _some(lengths, MOST_LENGTHS // 2)
        ).astype(np.int64)

    @property
    def step(self) -> int:
        """True grid steps in one coarse step."""
        return self._safe.step

    def value_sections(self, lengths: Ints, values: Floats, limits: Ints, search: Search[Any]) -> Floats:
        """Best value of a section of each of the lengths (coarse steps); limits hold per strip only."""
        usable = _some(np.flatnonzero((values[self._kind] > 0) & (limits[self._kind] > 0)), MOST_BOXES)
        return _valued(self._safe, usable, lengths, values, limits, search)

    def section(self, length: int, values: Floats, limits: Ints, search: Search[Any]) -> tuple[Section, Ints]:
        """Best section no longer than `length` coarse steps within the limits, and its counts.

        Within the limits it is built strip by strip, so it may fall short of the best when they bind.
        """
        left = limits.copy()
        strips: list[Strip] = []
        extent = 0
        room = self._safe.width
        while room > 0 and (made := self._strips(length, room, values, left, search)):
            for boxes, wanted in made:
                use = np.bincount(self._kind[boxes], minlength=self._kinds)
                times = min(wanted, int((left[use > 0] // use[use > 0]).min()))
                if times == 0:
                    continue
                left -= times * use
                room -= times * (int(self._safe.dy[boxes].max()) + self._safe.kerf)
                strip, reach = self._strip(self._index[boxes].tolist())
                strips.extend([strip] * times)
                extent = max(extent, reach)
        return Section(tuple(strips), extent), limits - left

    def _strip(self, boxes: Sequence[int]) -> tuple[Strip, int]:
        """The strip of some boxes, and its length in true grid steps."""
        width = max(int(self._dy[box]) for box in boxes)
        reach = sum(int(self._dx[box]) for box in boxes) + self._kerf * (len(boxes) - 1)
        return Strip(tuple(boxes), width), reach

    def _strips(
        self, length: int, room: int, values: Floats, limits: Ints, search: Search[Any]
    ) -> list[tuple[Ints, int]]:
        """Best set of strips for a section of `length` in `room` (coarse steps), the densest first.

        Each is a list of boxes (places in the order of width) and how often it is wanted; the limits
        hold for each strip by itself.
        """
        safe = self._safe
        usable = _some(
            np.flatnonzero(
                (values[self._kind] > 0) & (limits[self._kind] > 0) & (safe.dx <= length) & (safe.dy <= room)
            ),
            MOST_BOXES,
        )
        made = [
            kernels.within_limits(boxes, self._kind, limits)
            for boxes in self._stacks(usable, length, values, limits)
        ]
        stacks = [boxes for boxes, _ in made]
        widths = np.array([int(safe.dy[boxes].max()) + safe.kerf for boxes in stacks], np.int64)
        worth = np.array([float(values[self._kind[boxes]].sum()) for boxes in stacks])
        most = np.array([times for _, times in made], np.int64)
        _, times = kernels.best_fill(widths, worth, most, room + safe.kerf)
        cells = usable.size * length * (self.stages == 3) + len(stacks) * room
        search.spend_or_stop(STEPS_A_STACK * len(stacks) + cells // CELLS_A_STEP)
        densest = np.argsort(-worth / widths, kind="stable")
        return [(stacks[at], int(times[at])) for at in densest if times[at]]

    def _stacks(self, usable: Ints, length: int, values: Floats, limits: Ints) -> list[Ints]:
        """The best strip of each width at which more fits than in any narrower one."""
        if usable.size == 0:
            return []
        safe = self._safe
        sizes, worth = safe.dx[usable] + safe.kerf, values[self._kind[usable]]
        capacity = length + safe.kerf
        take = np.zeros((usable.size, capacity + 1 if self.stages == 3 else 0), np.int32)
        if self.stages == 3:
            reached = kernels.knapsack(sizes, worth, limits[self._kind[usable]], capacity, take)
        else:
            reached = np.maximum.accumulate(worth)
        last = np.flatnonzero(np.diff(safe.dy[usable], append=-1))
        stacks = []
        before = 0.0
        for end in last.tolist():
            if reached[end] <= before:
                continue
            before = float(reached[end])
            if self.stages == 3:
                chosen = np.repeat(usable, kernels.unpack(take, sizes, end + 1, capacity))
                # The widest first, so that the trims of the strip lie together.
                stacks.append(chosen[np.lexsort((chosen, -safe.dx[chosen], -safe.dy[chosen]))])
            else:
                stacks.append(usable[[int(np.argmax(worth[: end + 1]))]])
        return stacks

    def pattern(self, values: Floats, limits: Ints, search: Search[Any]) -> tuple[Pattern, Ints, float]:
        """Most valuable pattern for the whole region within the limits; its counts and its value.

        Where the limits do not bind and the grid is not coarsened, no pattern is more valuable.
        """
        sections: list[Section] = []
        left = limits.copy()
        counts = np.zeros(self._kinds, np.int64)
        room = 0 if self.empty else self._safe.length
        while room > 0:
            lengths = self.lengths[self.lengths <= room]
            worth = self.value_sections(lengths, values, left, search)
            if not worth.any():
                break
            grew = False
            for at in self._along(lengths, worth, room):
                section, use = self.section(int(lengths[at]), values, left, search)
                if not section.strips:
                    continue
                if grew and values @ use < CLOSE * worth[at]:
                    break
                left -= use
                counts += use
                sections.append(section)
                room -= -(-section.length // self._safe.step) + self._safe.kerf
                grew = True
                if room <= 0:
                    break
            if not grew:
                break
        return Pattern(tuple(sections)), counts, float(values @ counts) if self._kinds else 0.0

    def _along(self, lengths: Ints, worth: Floats, room: int) -> list[int]:
        """Which of the section lengths fill `room` best, the densest first."""
        kerf = self._safe.kerf
        many = np.full(lengths.size, room, np.int64)
        _, times = kernels.best_fill(lengths + kerf, worth, many, room + kerf)
        densest = np.argsort(-worth / lengths, kind="stable")
        return [int(at) for at in densest for _ in range(times[at])]

    # --- Changing and bounding ------------------------------------------------------------------------

    def only(self, section: Section, counts: Ints) -> Section:
        """The section with only so many copies of each kind, closed up."""
        left = counts.copy()
        strips = []
        extent = 0
        for strip in section.strips:
            kept = self._taken(strip.boxes, left)
            if kept:
                narrowed, reach = self._strip(kept)
                strips.append(narrowed)
                extent = max(extent, reach)
        return Section(tuple(strips), extent)

    def only_of(self, pattern: Pattern, counts: Ints) -> Pattern:
        """The pattern with only so many copies of each kind, closed up."""
        left = counts.copy()
        sections = []
        for section in pattern.sections:
            kept = self._taken(section.boxes, left)
            if kept:
                held = np.bincount(self._owner[kept], minlength=left.size)
                sections.append(self.only(section, held))
        return Pattern(tuple(sections))

    def _taken(self, boxes: Sequence[int], left: Ints) -> list[int]:
        """The boxes for which copies are left, which are used up."""
        kept = []
        for box in boxes:
            if left[self._owner[box]] > 0:
                left[self._owner[box]] -= 1
                kept.append(box)
        return kept

    def best_density(self, values: Floats, search: Search[Any]) -> float | None:
        """Upper bound on value per grid step of length of any section of two stages; None: no proof.

        Limits aside. A section is as long as its longest box, whatever the room.
        """
        if not self._proves:
            return None
        least, worth = self._bounds(values, search)
        # Rounded down, a section is still shorter by less than a step than it says.
        return float((worth / (least * self._bold.step)).max())

    def best_value(self, values: Floats, search: Search[Any], limits: Ints | None = None) -> float | None:
        """Upper bound on the value of any pattern of so many stages; None: no proof.

        `limits`, where there are any, are minded in each strip alone.
        """
        if self.empty:
            return 0.0
        if not self._proves:
            return None
        least, worth = self._bounds(values, search, limits)
        return kernels.unbounded(least + self._bold.kerf, worth, self._bold.length + self._bold.kerf)

    def _bounds(self, values: Floats, search: Search[Any], limits: Ints | None = None) -> tuple[Ints, Floats]:
        """Section lengths (coarse steps), and upper bounds on the value of a section so long or longer.

        Each bound holds up to the next length. They are the values themselves unless the lengths are
        too many; then a bound is the value of the longest section up to the next length listed.
        """
        bold = self._bold
        most = max(FEWEST_LENGTHS, MOST_CELLS // (bold.widths.size * bold.width))
        last = _some(np.arange(bold.lengths.size), most)
        first = np.concatenate([[0], last[:-1] + 1])
        plenty = np.full(self._kinds, max(self._room) + 1, np.int64)
        most_of_each = plenty if limits is None else np.minimum(plenty, limits)
        every = np.arange(bold.owner.size)
        return bold.lengths[first], _valued(bold, every, bold.lengths[last], values, most_of_each, search)

    @property
    def _proves(self) -> bool:
        """Whether no box is rounded away: one smaller than a step of the bold raster would be free."""
        return bool(min(self._dx[self._index].min(), self._dy[self._index].min()) >= self._bold.step)


def _valued(
    rast: Raster, boxes: Ints, lengths: Ints, values: Floats, limits: Ints, search: Search[Any]
) -> Floats:
    """Best value of a section of each of the lengths, made of some of the boxes (narrow ones first)."""
    worth = np.zeros(lengths.size)
    if lengths.size:
        kind, dy = rast.owner[boxes], rast.dy[boxes]
        cells = kernels.fill_widths(
            lengths,
            np.unique(dy),
            rast.stages,
            rast.dx[boxes],
            dy,
            values[kind],
            limits[kind],
            rast.kerf,
            rast.width,
            worth,
        )
        search.spend_or_stop(1 + cells // CELLS_A_STEP)
    return worth


def _some(numbers: Ints, most: int) -> Ints:
    """All of the numbers, or an even selection when they are too many."""
    if numbers.size <= most:
        return numbers
    return numbers[np.linspace(0, numbers.size - 1, most).astype(np.int64)]
