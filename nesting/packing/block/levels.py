"""The linear relaxation of blocks, sheet by sheet: how many sheets of each thickness, and what is on them.

A slit block is no more than the sheets that it is slit into, and a sheet may lie in any block of its size.
So sheets are the columns here, which are joined to blocks by their heights alone. Saw-first blocks are
columns as a whole.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing import kernels
from nesting.packing.block.grid import BlockGrid, Stock
from nesting.packing.block.saw import SawMaker
from nesting.packing.block.slit import SlitMaker, SlitSheet
from nesting.packing.columns import MANY, WORTH, Column, Task
from nesting.packing.grid import Floats, Ints
from nesting.packing.search import Search

__all__ = ["ROUNDS", "Counts", "Relaxation", "Sheet", "Stack", "Way", "plenty"]

ROUNDS = 200
"""Most pricing rounds of a relaxation."""

USED = 1e-7
"""Least use of a column that is no noise."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One block size, and how it may be cut."""

    stock: Stock
    slit: SlitMaker | None
    saw: SawMaker | None
    available: int

    @property
    def heights(self) -> Ints:
        """Thicknesses that sheets may have."""
        return self.slit.heights if self.slit else np.zeros(0, np.int64)

    def stack(self, kerf: int, prices: Floats) -> tuple[float, Ints]:
        """Sheets of each thickness that are worth most together, and what they are worth."""
        room = self.stock.extent[2] + kerf
        many = np.full(prices.size, room, np.int64)
        return kernels.best_fill(self.heights + kerf, prices, many, room)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A sheet of a slit block as a column: block size, place of its thickness, and what it holds."""

    way: int
    level: int
    body: SlitSheet
    counts: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """How many sheets of each thickness a block is slit into."""

    way: int
    counts: Ints


@dataclass(frozen=True, slots=True)
class Counts:
    """Blocks of each size that are slit and that are sawn first, and sheets of each thickness."""

    slit: Ints
    saw: Ints
    sheets: tuple[Ints, ...]


def plenty(ways: Sequence[Way], grid: BlockGrid) -> Ints:
    """Limits on each kind that no block reaches."""
    return np.full(grid.demand.size, max(max(way.stock.extent) for way in ways) + 1, np.int64)


class Relaxation:
    """The relaxation over the sheets and the sawn blocks seen so far.

    Attributes
    ----------
    sheets, columns
        All sheets and sawn blocks.
    duals
        Value of a copy of each kind.
    sheet_prices, saw_prices
        What a sheet of each thickness and a sawn block of each size cost.
    """

    def __init__(self, grid: BlockGrid, ways: Sequence[Way], task: Task, volume: Floats) -> None:
        self._grid, self._ways, self._task = grid, ways, task
        self._way_of = {way.stock.index: at for at, way in enumerate(ways)}
        solver = pywraplp.Solver.CreateSolver("GLOP")
        self._solver = solver
        solver.Objective().SetMinimization()
        ample = solver.infinity()
        self._cover = [solver.Constraint(float(need), ample) for need in task.demand]
        dearest = max(way.stock.cost for way in ways)
        self._dear = 10.0 * dearest * (1.0 + volume / volume.max())
        self._short = [solver.NumVar(0.0, ample, "") for _ in task.demand]
        for row, short in zip(self._cover, self._short, strict=True):
            row.SetCoefficient(short, 1.0)
        self._saw = [solver.NumVar(0.0, ample, "") for _ in ways]
        self._levels = [[solver.NumVar(0.0, 0.0, "") for _ in way.heights] for way in ways]
        self._sheet_rows, self._saw_rows, self._limits = [], [], []
        for at, way in enumerate(ways):
            rows = [solver.Constraint(0.0, ample) for _ in way.heights]
            for level, row in zip(self._levels[at], rows, strict=True):
                row.SetCoefficient(level, 1.0)
            self._sheet_rows.append(rows)
            row = solver.Constraint(0.0, ample)
            row.SetCoefficient(self._saw[at], 1.0)
            self._saw_rows.append(row)
            limit = solver.Constraint(-ample, float(way.available)) if way.available < MANY else None
            if limit is not None:
                limit.SetCoefficient(self._saw[at], 1.0)
            self._limits.append(limit)
        self._seen: set[tuple[int, int, bytes]] = set()
        self._uses: list[Any] = []
        self._column_uses: list[Any] = []
        self._stack_uses: list[Any] = []
        self.stacks: list[Stack] = []
        self.sheets: list[Sheet] = []
        self.columns: list[Column] = []
        self.volume = volume
        self.free()

    def free(self) -> None:
        """Ask for the least cost."""
        ample = self._solver.infinity()
        for at, way in enumerate(self._ways):
            self._saw[at].SetBounds(0.0, ample)
            self._solver.Objective().SetCoefficient(self._saw[at], way.stock.cost)
            for level in self._levels[at]:
                level.SetBounds(0.0, 0.0)
        for use in self._stack_uses:
            use.SetBounds(0.0, ample)
        for short, cost in zip(self._short, self._dear.tolist(), strict=True):
            self._solver.Objective().SetCoefficient(short, cost)
        self._open: Counts | None = None

    def fix(self, counts: Counts) -> None:
        """Ask for the least volume left out of so many blocks and sheets."""
        for at in range(len(self._ways)):
            self._saw[at].SetBounds(float(counts.saw[at]), float(counts.saw[at]))
            self._solver.Objective().SetCoefficient(self._saw[at], 0.0)
            for level, many in zip(self._levels[at], counts.sheets[at].tolist(), strict=True):
                level.SetBounds(float(many), float(many))
        for use in self._stack_uses:
            use.SetBounds(0.0, 0.0)
        for short, size in zip(self._short, (self.volume / self.volume.max()).tolist(), strict=True):
            self._solver.Objective().SetCoefficient(short, size)
        self._open = counts

    def add(self, made: Iterable[Sheet | Column | Stack]) -> bool:
        """Add sheets, stacks and blocks not seen before; whether there were any."""
        grew = False
        for item in made:
            if isinstance(item, Column):
                way, place = self._way_of[item.maker.stock], -1
            else:
                way, place = item.way, item.level if isinstance(item, Sheet) else -2
            name = (way, place, item.counts.tobytes())
            if name in self._seen:
                continue
            grew = True
            self._seen.add(name)
            use = self._solver.NumVar(0.0, self._solver.infinity(), "")
            if isinstance(item, Stack):
                self._solver.Objective().SetCoefficient(use, self._ways[way].stock.cost)
                for level in np.flatnonzero(item.counts).tolist():
                    self._sheet_rows[way][level].SetCoefficient(use, float(item.counts[level]))
                limit = self._limits[way]
                if limit is not None:
                    limit.SetCoefficient(use, 1.0)
                self.stacks.append(item)
                self._stack_uses.append(use)
                continue
            row = self._saw_rows[way] if isinstance(item, Column) else self._sheet_rows[way][place]
            row.SetCoefficient(use, -1.0)
            for kind in np.flatnonzero(item.counts).tolist():
                self._cover[kind].SetCoefficient(use, float(item.counts[kind]))
            if isinstance(item, Sheet):
                self.sheets.append(item)
                self._uses.append(use)
            else:
                self.columns.append(item)
                self._column_uses.append(use)
        return grew

    def solve(self) -> bool:
        """Solve anew; whether that worked. Otherwise the last solution stands."""
        if self._solver.Solve() != pywraplp.Solver.OPTIMAL:
            return False
        self.value = self._solver.Objective().Value()
        self.duals = np.maximum([row.dual_value() for row in self._cover], 0.0)
        self.sheet_prices = [np.maximum([r.dual_value() for r in rows], 0.0) for rows in self._sheet_rows]
        self.saw_prices = np.maximum([row.dual_value() for row in self._saw_rows], 0.0)
        self.uses = np.array([use.solution_value() for use in self._uses])
        self.stack_uses = np.array([use.solution_value() for use in self._stack_uses])
        self.charges = np.maximum([-limit.dual_value() if limit else 0.0 for limit in self._limits], 0.0)
        self.column_uses = np.array([use.solution_value() for use in self._column_uses])
        return True

    @property
    def work(self) -> int:
        """Elementary steps reckoned for one solution."""
        rows = len(self._cover) + sum(map(len, self._levels))
        return rows * (len(self._uses) + len(self._column_uses) + len(self._stack_uses))

    def price(self, limits: Ints, search: Search[Any]) -> list[Sheet | Column | Stack]:
        """Sheets and sawn blocks within the limits that lower the value of the relaxation."""
        made: list[Sheet | Column | Stack] = []
        for at, way in enumerate(self._ways):
            if way.slit is not None and self._open is None:
                worth, times = way.stack(self._grid.level, self.sheet_prices[at])
                if worth > (way.stock.cost + self.charges[at]) * (1 + WORTH):
                    made.append(Stack(at, times))
            if way.slit is not None and (self._open is None or self._open.slit[at]):
                wanted = None if self._open is None else self._open.sheets[at] > 0
                for level, (body, counts) in way.slit.sheets(self.duals, limits, search, wanted):
                    if self.duals @ counts > self.sheet_prices[at][level] * (1 + WORTH) + 1e-12:
                        made.append(Sheet(at, level, body, counts))
            if way.saw is not None and (self._open is None or self._open.saw[at]):
                column = way.saw.fill(self.duals, limits, search)
                if column is not None and self.duals @ column.counts > self.saw_prices[at] * (1 + WORTH):
                    made.append(column)
        return made

    def generate(self, limits: Ints, rounds: int, search: Search[Any]) -> bool:
        """Add what lowers the value until nothing does; whether it came to that."""
        for _ in range(rounds):
            if not self.solve():
                return False
            search.spend_or_stop(self.work)
            if not self.add(self.price(limits, search)):
                return True
        return False

    def blocks(self) -> list[Column]:
        """The last solution as blocks: sawn ones, and stacks with the sheets that lie in them."""
        made = [column for column, use in zip(self.columns, self.column_uses, strict=True) if use > USED]
        left = self.uses.copy()
        at_level: dict[tuple[int, int], list[int]] = {}
        for at, sheet in enumerate(self.sheets):
            at_level.setdefault((sheet.way, sheet.level), []).append(at)
        for stack, uses in zip(self.stacks, self.stack_uses.tolist(), strict=True):
            use = uses
            slit = self._ways[stack.way].slit
            assert slit is not None
            while use > USED:
                chosen: Counter[int] = Counter()
                for level in np.flatnonzero(stack.counts).tolist():
                    # As many of the sheet that is used most as there are slots, then of the next.
                    need = int(stack.counts[level])
                    for at in sorted(at_level.get((stack.way, level), []), key=lambda at: -left[at]):
                        slots = min(need, math.ceil(left[at] / use - USED))
                        if left[at] > USED and slots > 0:
                            chosen[at] = slots
                            need -= slots
                if not chosen:
                    break
                part = min(use, *(left[at] / slots for at, slots in chosen.items()))
                for at, slots in chosen.items():
                    left[at] = max(0.0, left[at] - part * slots)
                use -= max(part, USED)
                bodies = [self.sheets[at].body for at, slots in chosen.items() for _ in range(slots)]
                counts = sum(self.sheets[at].counts * slots for at, slots in chosen.items())
                made.append(slit.block(bodies, np.asarray(counts)))
        return made
