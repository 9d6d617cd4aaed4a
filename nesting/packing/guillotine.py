"""Staged edge-to-edge patterns: sections along x, strips across y, boxes along x in a strip.

One family of patterns serves rolls (a pattern is one section), sheets (sections along the sheet) and
blocks (the footprint, or one slit sheet). Patterns are valued by dynamic programming, the way of
Gilmore and Gomory (1965), "Multistage cutting stock problems of two and more dimensions", Operations
Research 13(1): 94-120.

The dynamic programs run on a coarser grid; see `nesting.packing.raster`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from nesting.packing import kernels
from nesting.packing.grid import Ints
from nesting.packing.raster import Floats, Raster, raster

__all__ = ["Pattern", "Region", "Section", "Strip"]

MOST_LENGTHS = 400
"""Most section lengths that are valued when patterns are made; beyond, a selection is."""
CELLS_A_STEP = 16
"""Cells of a dynamic program that take as long as one step of a placement search (measured)."""


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


@dataclass(frozen=True, slots=True)
class Pattern:
    """Sections one behind the other along x."""

    sections: tuple[Section, ...]

    @property
    def boxes(self) -> tuple[int, ...]:
        """All boxes, in the order in which they are cut."""
        return tuple(box for section in self.sections for strip in section.strips for box in strip.boxes)


class Region:
    """A rectangle and the boxes that may be cut from it: values patterns, again and again.

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
        allowed: npt.NDArray[np.bool_] | None = None,
    ) -> None:
        self.stages = stages
        self._dx, self._dy, self._owner, self._kerf = dx, dy, owner, kerf
        fits = (dx <= length) & (dy <= width)
        if allowed is not None:
            fits &= allowed
        # Narrow strips first: `fill_widths` and `_strips` let wider strips hold what narrower ones may.
        self.index = np.flatnonzero(fits)[np.argsort(dy[fits], kind="stable")]
        self.owner = owner[self.index]
        self.kinds = int(owner.max()) + 1 if owner.size else 0
        self._room = (length, width)
        self._safe = self._raster(bold=False)
        self._bold: Raster | None = None
        self.step, self.dx, self.dy, self.kerf = (
            self._safe.step,
            self._safe.dx,
            self._safe.dy,
            self._safe.kerf,
        )
        self.length, self.width = self._safe.length, self._safe.width
        self.lengths = self._selected()

    def _raster(self, *, bold: bool) -> Raster:
        return raster(
            *self._room,
            self._dx[self.index],
            self._dy[self.index],
            self.owner,
            self._kerf,
            self.stages,
            bold=bold,
        )

    @property
    def bold(self) -> Raster:
        """The region rounded so that what is proved on it holds for the true sizes."""
        if self._bold is None:
            self._bold = self._raster(bold=True)
        return self._bold

    @property
    def empty(self) -> bool:
        """No box fits."""
        return self.index.size == 0

    @property
    def work(self) -> int:
        """Work of one valuation, in the steps that searches count."""
        cells = self.index.size * int(self.lengths[-1]) if not self.empty else 0
        return 1 + (cells + self.lengths.size * self._safe.widths.size * self.width) // CELLS_A_STEP

    def _selected(self) -> Ints:
        """The section lengths to make patterns of: multiples of one box, and a spread of the others."""
        lengths = self._safe.lengths
        if lengths.size <= MOST_LENGTHS:
            return lengths
        multiples = [
            np.arange(size, self.length + 1, size + self.kerf, dtype=np.int64) for size in np.unique(self.dx)
        ]
        spread = np.linspace(0, lengths.size - 1, MOST_LENGTHS // 2).astype(np.int64)
        return np.unique(np.concatenate([*multiples, lengths[spread]]))

    def value_sections(self, lengths: Ints, values: Floats, limits: Ints) -> Floats:
        """Best value of a section of each of the lengths (coarse steps); limits hold per strip."""
        return self._safe.value_sections(lengths, values, limits)

    def section(self, length: int, values: Floats, limits: Ints) -> tuple[Section, Ints]:
        """Best section no longer than `length` coarse steps within `limits`, and its counts by kind.

        Within the limits it is built strip by strip, so it may fall short of the best when they bind.
        """
        left = limits.copy()
        counts = np.zeros(self.kinds, np.int64)
        strips: list[Strip] = []
        extent = 0
        room = self.width
        while room > 0:
            made = self._strips(length, room, values, left)
            if not made:
                break
            for boxes, width in made:
                use = np.bincount(self.owner[boxes], minlength=self.kinds)
                if (use > left).any():
                    continue
                left -= use
                counts += use
                room -= width + self.kerf
                inside = self.index[boxes]
                strips.append(Strip(tuple(inside.tolist()), int(self._dy[inside].max())))
                reach = int(self._dx[inside].sum()) + self._kerf * (inside.size - 1)
                extent = max(extent, reach)
        return Section(tuple(strips), extent), counts

    def _strips(
        self, length: int, room: int, values: Floats, limits: Ints
    ) -> list[tuple[npt.NDArray[np.int64], int]]:
        """Best set of strips for a section of `length` in `room`, the densest first (coarse steps)."""
        boxes = self.dx.size
        box_values, box_limits = values[self.owner], limits[self.owner]
        capacity = length + self.kerf
        if self.stages == 2:
            box_limits = np.minimum(box_limits, 1)
            best = np.zeros(1)
            take = np.zeros((0, 0), np.int32)
        else:
            best = np.zeros(capacity + 1)
            take = np.zeros((boxes, capacity + 1), np.int32)
            kernels.knapsack(self.dx + self.kerf, box_values, box_limits, capacity, best, take)
        stacks: list[tuple[npt.NDArray[np.int64], int, float]] = []
        for width in self._safe.widths:
            if width > room:
                break
            within = int(np.searchsorted(self.dy, width, side="right"))
            if self.stages == 2:
                usable = [
                    b
                    for b in range(within)
                    if self.dy[b] == width
                    and self.dx[b] <= length
                    and box_limits[b] > 0
                    and box_values[b] > 0
                ]
                chosen = [max(usable, key=lambda b: float(box_values[b]))] if usable else []
            else:
                chosen = []
                at = capacity
                for b in range(within - 1, -1, -1):
                    copies = int(take[b, at])
                    chosen.extend([b] * copies)
                    at -= copies * int(self.dx[b] + self.kerf)
            if chosen:
                picked = np.array(
                    sorted(chosen, key=lambda b: (-int(self.dy[b]), -int(self.dx[b]), b)), np.int64
                )
                picked = self._within_limits(picked, limits)
                stacks.append((picked, int(self.dy[picked].max()), float(box_values[picked].sum())))
        if not stacks:
            return []
        sizes = np.array([width + self.kerf for _, width, _ in stacks], np.int64)
        worth = np.array([value for *_, value in stacks])
        most = np.array([self._times(picked, limits) for picked, *_ in stacks], np.int64)
        across = np.zeros(room + self.kerf + 1)
        take = np.zeros((len(stacks), room + self.kerf + 1), np.int32)
        kernels.knapsack(sizes, worth, most, room + self.kerf, across, take)
        at = room + self.kerf
        result: list[tuple[npt.NDArray[np.int64], int, float]] = []
        for s in range(len(stacks) - 1, -1, -1):
            copies = int(take[s, at])
            result.extend([stacks[s]] * copies)
            at -= copies * int(sizes[s])
        result.sort(key=lambda strip: -strip[2] / (strip[1] + self.kerf))
        return [(picked, width) for picked, width, _ in result]

    def _within_limits(self, picked: npt.NDArray[np.int64], limits: Ints) -> npt.NDArray[np.int64]:
        """Drop boxes beyond the limit of their kind (two turns of one kind may add up to too many)."""
        left = limits.copy()
        kept = []
        for b in picked:
            if left[self.owner[b]] > 0:
                left[self.owner[b]] -= 1
                kept.append(b)
        return np.array(kept, np.int64)

    def _times(self, picked: npt.NDArray[np.int64], limits: Ints) -> int:
        use = np.bincount(self.owner[picked], minlength=self.kinds)
        needed = use > 0
        return int((limits[needed] // use[needed]).min())

    def pattern(self, values: Floats, limits: Ints) -> tuple[Pattern, Ints, float]:
        """Most valuable pattern for the whole region within `limits`; its counts and its value.

        Where the limits do not bind and the grid is not coarsened, no pattern is more valuable.
        """
        sections: list[Section] = []
        left = limits.copy()
        counts = np.zeros(self.kinds, np.int64)
        room = self.length
        while room > 0 and not self.empty:
            lengths = self.lengths[self.lengths <= room]
            worth = self.value_sections(lengths, values, left)
            if not lengths.size or worth.max() <= 0:
                break
            chosen = self._along(lengths, worth, room)
            grew = False
            for length in chosen:
                section, use = self.section(length, values, left)
                if not section.strips:
                    continue
                if grew and values @ use < 0.98 * worth[np.searchsorted(lengths, length)]:
                    # The limits have begun to bind: value what is left anew.
                    break
                left -= use
                counts += use
                sections.append(section)
                room -= -(-section.length // self.step) + self.kerf
                grew = True
                if room <= 0:
                    break
            if not grew:
                break
        return Pattern(tuple(sections)), counts, float(values @ counts) if counts.size else 0.0

    def only(self, section: Section, counts: Ints) -> Section:
        """The section with only so many copies of each kind, closed up."""
        left = counts.copy()
        strips = []
        extent = 0
        for strip in section.strips:
            kept = []
            for box in strip.boxes:
                kind = self._owner[box]
                if left[kind] > 0:
                    left[kind] -= 1
                    kept.append(box)
            if kept:
                strips.append(Strip(tuple(kept), max(int(self._dy[box]) for box in kept)))
                reach = sum(int(self._dx[box]) for box in kept) + self._kerf * (len(kept) - 1)
                extent = max(extent, reach)
        return Section(tuple(strips), extent)

    def only_of(self, pattern: Pattern, counts: Ints) -> Pattern:
        """The pattern with only so many copies of each kind, closed up."""
        left = counts.copy()
        sections = []
        for section in pattern.sections:
            held = np.bincount(self._owner[list(Pattern((section,)).boxes)], minlength=left.size)
            use = np.minimum(held, left)
            if use.any():
                left -= use
                sections.append(self.only(section, use))
        return Pattern(tuple(sections))

    def _along(self, lengths: Ints, worth: Floats, room: int) -> list[int]:
        """Lengths of the sections that fill `room` best, the densest first."""
        many = np.full(lengths.size, room, np.int64)
        best = np.zeros(room + self.kerf + 1)
        take = np.zeros((lengths.size, room + self.kerf + 1), np.int32)
        kernels.knapsack(lengths + self.kerf, worth, many, room + self.kerf, best, take)
        at = room + self.kerf
        chosen: list[int] = []
        for k in range(lengths.size - 1, -1, -1):
            copies = int(take[k, at])
            chosen.extend([int(lengths[k])] * copies)
            at -= copies * int(lengths[k] + self.kerf)
        value = dict(zip(lengths.tolist(), worth.tolist(), strict=True))
        return sorted(chosen, key=lambda length: -value[length] / length)

    def best_value(self, values: Floats) -> float:
        """Upper bound on the value of any pattern of so many stages, limits aside."""
        if self.empty:
            return 0.0
        bold = self.bold
        worth = bold.value_sections(bold.lengths, values, np.full(self.kinds, bold.length + 1, np.int64))
        return float(kernels.unbounded(bold.lengths + bold.kerf, worth, bold.length + bold.kerf))
