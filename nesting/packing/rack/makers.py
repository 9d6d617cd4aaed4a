"""Cutting whole windows from edge to edge: slices one behind another, beside flaws where there are any."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.packing import kernels
from nesting.packing.columns import Column
from nesting.packing.grid import Floats, Ints
from nesting.packing.guillotine import CELLS_A_STEP, Region, Section
from nesting.packing.rack.fills import Filling, Marker, Rows, taken
from nesting.packing.rack.kernels import Zones, best_row, zones_of
from nesting.packing.rack.shared import Bench, Memory
from nesting.packing.rack.stocks import RackGrid, Stock
from nesting.packing.raster import FINEST
from nesting.packing.search import Search

__all__ = ["WindowMaker"]

REACH = 2.6
"""Longest slice of a window, in lengths of the longest box."""

PLACES = 3_000
"""Most places in a window at which a slice may begin when a row of slices is chosen."""

MOST_LENGTHS = 400
"""Most slice lengths that are valued; beyond, a selection is."""

MOST_KNOWN = 8
"""Tables of zones kept."""

DENSE = 0.9
"""Share of the best value per length that a slice must reach to be chosen; sparser ones come later, if
there is room left."""

WORTHY = 0.75
"""Share of the first slices' value per length at which filling ends where another roll takes the rest."""

CLOSE = 0.98
"""Share of its expected value that a slice must reach within the copies left; below, the rest of the row
is chosen anew."""

SPARED = 1e-9
"""Least gain of a row, as a share of the value of all: less is float noise."""


STEPS_A_SLICE = 6_000
"""Steps reckoned for the bookkeeping of one slice (measured)."""

MANY = 10**7
"""Copies that no window holds."""


@dataclass(frozen=True, slots=True, eq=False)
class _Choice:
    """Slices that might be laid: lengths in grid steps, values in each zone, flaws met in each zone, and
    the zone of each slice at each place."""

    lengths: Ints
    worth: Floats
    masks: Ints
    zones: Zones


class WindowMaker:
    """Fills whole windows of one stock with slices; a column costs the markers it makes.

    A slice is a section of two or three stages; beside a flaw it is several side by side, with the flaw
    between them.

    Parameters
    ----------
    grid, stock
        The problem and the stock; `stock` has an end.
    bench
        Where sections are valued.
    elsewhere
        Whether another roll takes whatever finds no good place here.
    """

    def __init__(self, grid: RackGrid, stock: Stock, bench: Bench, *, elsewhere: bool) -> None:
        longest = grid.longest_on(stock)
        assert longest is not None and stock.length is not None
        self.stock = stock.index
        self._grid, self._stock, self._bench = grid, stock, bench
        self._elsewhere = elsewhere
        self._allowed = grid.fitting(stock)
        most = int(grid.dx[self._allowed].max())
        if bench.stages == 3:
            # A little shorter where that spares a coarser grid.
            finest = FINEST * int(np.gcd.reduce(np.concatenate([grid.dx, grid.dy, [grid.gap]])))
            most = min(int(REACH * most), max(most, finest))
        self._length = min(most, longest)
        self._longest = longest
        self._memory = Memory()
        self._known_zones: dict[bytes, tuple[Ints, Zones]] = {}
        # Beside flaws, too, no more is cut than across the whole width.
        self._proves = bench.stages == 2
        self._rate = grid.rate(stock)

    def _region(self, width: int) -> Region:
        return self._bench.region(self._length, width, self._allowed)

    def _column(self, filling: Filling, counts: Ints) -> Column | None:
        if not counts.any():
            return None
        cost = taken(filling, self._grid.end_loss) * self._stock.rate * self._stock.weight
        return Column(self, cost, counts, filling)

    # --- Quick fillings -------------------------------------------------------------------------------

    def quick(self, left: Ints) -> Column | None:
        """A fair filling at once: quick sections one after another, beside flaws where there are any."""
        rows = Rows(self._grid, self._stock)
        counts = np.zeros(self._grid.demand.size, np.int64)
        places = sorted({0, *(stain.x1 for stain in self._stock.stains)})
        while True:
            grown = False
            for x in [rows.next, *(place for place in places if place > rows.next)]:
                for length in self._reaches(x, rows):
                    grown = self._quick_slice(rows, x, length, left, counts)
                    if grown:
                        break
                if grown:
                    break
            if not grown:
                return self._column(rows.filling, counts)

    def _reaches(self, x: int, rows: Rows) -> list[int]:
        """Lengths to try at a place: up to the next flaw, then beside it, each box by itself at last."""
        room = min(self._length, rows.left - (x - rows.next))
        ahead = [stain.x0 - x for stain in self._stock.stains if stain.x0 > x]
        alone = self._grid.dx[self._allowed].tolist() if self._stock.stains else []
        tries = [min(room, *ahead)] if ahead else []
        tries += [room, *sorted(set(alone), reverse=True)]
        return [length for length in dict.fromkeys(tries) if 0 < length <= room]

    def _quick_slice(self, rows: Rows, x: int, length: int, left: Ints, counts: Ints) -> bool:
        """Lay a quick slice no longer than `length`; whether there was one. `counts` are added to."""
        mask = self._stock.mask(x, length)
        bands = []
        used = np.zeros_like(counts)
        reach = 0
        for band in self._stock.bands(mask):
            region = self._region(band.width)
            if region.empty:
                continue
            section, use = region.quick_section(length, left - counts - used)
            if section.strips:
                bands.append((band.y, section))
                used += use
                reach = max(reach, section.length)
        if not bands or not rows.add(x, reach, tuple(bands), mask):
            return False
        counts += used
        return True

    # --- Valued fillings ------------------------------------------------------------------------------

    def fill(self, values: Floats, left: Ints, search: Search[Any]) -> Column | None:
        """A good filling within the copies that are left; full as far as they last."""
        return self._memory.column(
            values, left, lambda: self._column(*self._filling(values, left, None, search))
        )

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """The filling that is worth most beyond its cost when copies are free."""
        # The same for all windows, so that they share what is valued.
        plenty = np.full(values.size, MANY, np.int64)
        column = self._column(*self._filling(values, plenty, self._rate * self._stock.weight, search))
        return [] if column is None else [column]

    def _filling(
        self, values: Floats, limits: Ints, rate: float | None, search: Search[Any]
    ) -> tuple[Filling, Ints]:
        """Slices worth most beyond a rate per length; without one, all that are dense, then the others."""
        grid = self._grid
        rows = Rows(grid, self._stock)
        left = limits.copy()
        first: float | None = None
        while rows.left > 0:
            choice = self._choice(values, left, rows, search)
            if choice is None:
                break
            density = float((choice.worth / (choice.lengths + grid.gap)).max())
            first = density if first is None else first
            if self._elsewhere and rate is None and density < WORTHY * first:
                break
            charge = DENSE * density if rate is None else rate
            if not self._lay(choice, charge, values, left, rows, search):
                break
        return rows.filling, limits - left

    def _choice(self, values: Floats, left: Ints, rows: Rows, search: Search[Any]) -> _Choice | None:
        """Value every slice in every zone that is left; None when nothing of value fits."""
        stock = self._stock
        lengths = self._lengths(values, left, min(rows.left, self._longest))
        if lengths.size == 0:
            return None
        # Slices keep clear of flaws or meet some of them; only what may be met is valued.
        masks, zones = self._zones(lengths, rows, search)
        table = np.zeros((masks.size, lengths.size))
        known: dict[int, Floats] = {}
        for zone, mask in enumerate(masks.tolist()):
            for band in stock.bands(mask):
                if band.width not in known:
                    known[band.width] = self._valued(band.width, lengths, values, left, search)
                table[zone] += known[band.width]
        return _Choice(lengths, table, masks, zones) if table.any() else None

    def _lengths(self, values: Floats, left: Ints, room: int) -> Ints:
        """Useful lengths of slices of what is left, in grid steps: sums of box lengths (Herz 1972).

        Where they are too many, the region's selection from those of all boxes.
        """
        grid, whole = self._grid, self._region(self._stock.width)
        step = whole.step
        usable = self._allowed & (values > 0)[grid.owner] & (left > 0)[grid.owner]
        if not usable.any():
            return np.zeros(0, np.int64)
        sums = np.unique(-(-grid.dx[usable] // step))
        most = self._length // step
        if self._bench.stages == 3:
            cut = -(-grid.gap // step)
            sums = kernels.sums(sums + cut, most + cut) - cut
        lengths = sums * step if sums.size <= MOST_LENGTHS else whole.lengths * whole.step
        # A box as long as the window may be rounded out of it; the slice itself is measured truly.
        return lengths[lengths <= max(room, int(grid.dx[usable].min()))]

    def _valued(self, width: int, lengths: Ints, values: Floats, left: Ints, search: Search[Any]) -> Floats:
        """Best value of a section in a band for each length in grid steps."""
        region = self._region(width)
        worth = np.zeros(lengths.size)
        if region.empty:
            return worth
        coarse = lengths // region.step
        usable = coarse > 0
        worth[usable] = self._bench.values(region, coarse[usable], values, left, search)
        return worth

    def _places(self, rows: Rows) -> tuple[int, int]:
        """Grid steps between two places where a slice may begin, and the number of places."""
        room = (rows.left if self._grid.end_loss == 0 else min(rows.left, self._longest)) + self._grid.gap
        if self._stock.stains:
            # Beside flaws a marker may begin anywhere in the window.
            room = rows.left + self._grid.gap
        unit = max(1, -(-room // PLACES))
        return unit, room // unit

    def _zones(self, lengths: Ints, rows: Rows, search: Search[Any]) -> tuple[Ints, Zones]:
        """Masks, and the index of the mask that a slice of each length meets at each place."""
        stains = self._stock.stains
        if not stains:
            return np.zeros(1, np.int64), np.zeros((1, lengths.size), np.int16)
        # The start of the window comes up again and again with the same lengths.
        key = lengths.tobytes() if rows.next == 0 else b""
        if key in self._known_zones:
            return self._known_zones[key]
        unit, room = self._places(rows)
        search.spend((room + 1) * lengths.size * len(stains) // CELLS_A_STEP)
        zones = zones_of(
            np.array([stain.x0 for stain in stains], np.int64),
            np.array([stain.x1 for stain in stains], np.int64),
            rows.next,
            unit,
            room,
            lengths,
        )
        if key and len(self._known_zones) < MOST_KNOWN:
            self._known_zones[key] = zones
        return zones

    def _lay(
        self, choice: _Choice, charge: float, values: Floats, left: Ints, rows: Rows, search: Search[Any]
    ) -> bool:
        """Choose a row of slices and lay it as far as it turns out as expected; whether it grew."""
        grid = self._grid
        unit, room = self._places(rows)
        start = rows.next
        units = -(-(choice.lengths + grid.gap) // unit)
        gains = np.where(choice.worth > 0, choice.worth - charge * (choice.lengths + grid.gap), -math.inf)
        zones = choice.zones
        # Where a marker costs nothing the row may be broken off and go on behind.
        skip = charge * unit if grid.end_loss else 0.0
        places, slices, gain = best_row(units, gains, zones, room, skip)
        search.spend_or_stop(1 + (room + 1) * units.size // CELLS_A_STEP)
        if gain <= SPARED * float(choice.worth.max()):
            return False
        grew = False
        for place, k in zip(places.tolist(), slices.tolist(), strict=True):
            zone = int(zones[place % zones.shape[0], k])
            mask = int(choice.masks[zone])
            search.spend(STEPS_A_SLICE)
            bands, use, reach = self._slice(int(choice.lengths[k]), mask, values, left, search)
            if not bands:
                continue
            if grew and float(values @ use) < CLOSE * choice.worth[zone, k]:
                break
            if rows.add(start + place * unit, reach, bands, mask):
                left -= use
                grew = True
        return grew

    def _slice(
        self, length: int, mask: int, values: Floats, left: Ints, search: Search[Any]
    ) -> tuple[tuple[tuple[int, Section], ...], Ints, int]:
        """The best slice no longer than `length` beside some flaws, its counts and its true length."""
        bands = []
        used = np.zeros_like(left)
        reach = 0
        for band in self._stock.bands(mask):
            region = self._region(band.width)
            coarse = 0 if region.empty else length // region.step
            if coarse == 0:
                continue
            section, use = region.section(coarse, values, left - used, search)
            if section.strips:
                bands.append((band.y, section))
                used += use
                reach = max(reach, section.length)
        return tuple(bands), used, reach

    # --- Bounding and changing ------------------------------------------------------------------------

    def ratio(self, values: Floats, charge: float, search: Search[Any]) -> float | None:
        """Most value over cost plus charge: a window filled at the greatest density from end to end."""
        if not self._proves:
            return None
        density = self._region(self._stock.width).best_density(values, search)
        if density is None:
            return None
        # The steps that lie between parts of a window count as if they might be filled as well.
        length = self._stock.share
        return density * length / (self._rate * self._stock.weight * length + charge)

    def trim(self, column: Column, counts: Ints) -> Column:
        """The filling with only the given counts, closed up as far as flaws and markers allow."""
        whole = self._region(self._stock.width)
        left = counts.copy()
        rows = Rows(self._grid, self._stock)
        closed = True
        markers: list[Marker] = []
        for marker in column.body:
            slices = []
            for part in marker.slices:
                bands = []
                for y, section in part.bands:
                    held = self._held(section, left)
                    if held.any():
                        bands.append((y, whole.only(section, held)))
                        left -= held
                slices.append(replace(part, bands=tuple(bands)))
                if bands:
                    reach = max(section.length for _, section in bands)
                    closed = closed and rows.add(marker.start + part.x, reach, tuple(bands), part.mask)
            if any(part.bands for part in slices):
                markers.append(replace(marker, slices=tuple(slices)))
        # Joined anew, markers may come out too long; then what is taken off leaves its place empty.
        trimmed = self._column(rows.filling if closed else tuple(markers), counts)
        assert trimmed is not None, "something is left of a trimmed filling"
        return trimmed

    def _held(self, section: Section, left: Ints) -> Ints:
        """Copies of each kind in a section, no more than are left."""
        held = np.bincount(self._grid.owner[list(section.boxes)], minlength=left.size)
        return np.minimum(held, left)
