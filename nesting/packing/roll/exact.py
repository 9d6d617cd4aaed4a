"""Few pieces: the shortest plan, and the proof that it is, by CP-SAT.

Free placement is a no-overlap model of rectangles; sections of two or three stages are an assignment of
pieces to strips and of strips to sections. Both start from the best plan known and ask only for
shorter ones.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from ortools.sat.python import cp_model

from nesting.packing.cpsat import ask
from nesting.packing.guillotine import Section, Strip
from nesting.packing.roll.chunks import Chunk, RollDraft, RollGrid
from nesting.packing.search import Search

__all__ = ["close"]

MOST_COPIES = 10
"""Most pieces, of all kinds together, for which the models are asked."""

WORK = 10.0
"""Most deterministic seconds of CP-SAT."""


def close(grid: RollGrid, stages: int | None, search: Search[RollDraft]) -> None:
    """Search for the shortest plan of a few pieces; a better plan and a bound go to `search`.

    Parameters
    ----------
    grid
        The problem; nothing is done for many pieces, or where one marker may not hold all.
    stages
        None: free placement. 2 or 3: sections of so many stages.
    search
        Has a plan already.
    """
    if grid.demand.sum() > MOST_COPIES or search.over:
        return
    if grid.longest is not None and stages is None and search.value > grid.longest:
        return
    copies: list[int] = np.repeat(np.arange(grid.demand.size), grid.demand).tolist()
    model: _Free | _Sections = (
        _Free(grid, copies, search) if stages is None else _Sections(grid, copies, stages, search)
    )
    solver, status = ask(model.model, WORK, search)
    if status == cp_model.INFEASIBLE:
        search.prove(search.value)
    elif status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        draft = model.draft(solver)
        search.offer(grid.value(draft), draft)
        if status == cp_model.OPTIMAL:
            search.prove(grid.value(draft))


class _Model:
    """What both models share: a turn for each copy, and lengths in steps that all sizes have in common."""

    def __init__(self, grid: RollGrid, copies: Sequence[int], search: Search[RollDraft]) -> None:
        self.model = cp_model.CpModel()
        self.grid = grid
        boxes = [
            [box for box in range(grid.start[kind], grid.start[kind + 1]) if grid.fits(box)]
            for kind in copies
        ]
        every = [box for usable in boxes for box in usable]
        # With the gap added to every size and to the room, pieces only have to stay apart.
        self.step = int(np.gcd.reduce(grid.dx[every] + grid.gap))
        self.copies = list(copies)
        self.turns = [[(box, self.model.new_bool_var("")) for box in usable] for usable in boxes]
        for turns in self.turns:
            self.model.add_exactly_one(use for _, use in turns)
        self.along = [self._chosen(turns, (grid.dx + grid.gap) // self.step) for turns in self.turns]
        self.across = [self._chosen(turns, grid.dy + grid.gap) for turns in self.turns]
        # In steps, one gap more than the length: shorter than the best plan, not below the bound.
        self.most = (int(search.value) + grid.gap) // self.step - 1
        self.least = -(-(math.ceil(search.bound - 1e-6) + grid.gap) // self.step)

    def _chosen(self, turns: list[tuple[int, cp_model.IntVar]], sizes: np.ndarray) -> cp_model.IntVar:
        values = [int(sizes[box]) for box, _ in turns]
        size = self.model.new_int_var(min(values), max(values), "")
        self.model.add(size == cp_model.LinearExpr.weighted_sum([use for _, use in turns], values))
        return size

    def box(self, copy: int, solver: cp_model.CpSolver) -> int:
        """The box that a copy has got."""
        return next(box for box, use in self.turns[copy] if solver.value(use))

    def alike(self, first: int, second: int) -> bool:
        """Whether two copies are of one kind."""
        return self.copies[first] == self.copies[second]


class _Free(_Model):
    def __init__(self, grid: RollGrid, copies: Sequence[int], search: Search[RollDraft]) -> None:
        super().__init__(grid, copies, search)
        model, width = self.model, grid.width + grid.gap
        most = max(self.most, 0)
        self.length = model.new_int_var(0, most, "")
        model.add(self.length >= self.least)
        self.x, self.y = [], []
        xs, ys = [], []
        for along, across in zip(self.along, self.across, strict=True):
            x, y = model.new_int_var(0, most, ""), model.new_int_var(0, width, "")
            x_end, y_end = model.new_int_var(0, most, ""), model.new_int_var(0, width, "")
            xs.append(model.new_interval_var(x, along, x_end, ""))
            ys.append(model.new_interval_var(y, across, y_end, ""))
            model.add(x_end <= self.length)
            self.x.append(x)
            self.y.append(y)
        model.add_no_overlap_2d(xs, ys)
        # Implied, and strong: no cross-section holds more than the room.
        model.add_cumulative(xs, self.across, width)
        model.add_cumulative(ys, self.along, self.length)
        for first, second in pairwise(range(len(copies))):
            if self.alike(first, second):
                model.add(self.x[first] <= self.x[second])
        model.minimize(self.length)

    def draft(self, solver: cp_model.CpSolver) -> RollDraft:
        spots = []
        for copy, kind in enumerate(self.copies):
            box = self.box(copy, solver)
            x, y = solver.value(self.x[copy]) * self.step, solver.value(self.y[copy])
            spots.append((kind, box - int(self.grid.start[kind]), x, y))
        return ((Chunk(tuple(spots), solver.value(self.length) * self.step - self.grid.gap), 1),)


class _Sections(_Model):
    """Strips and sections are named after the first copy in them."""

    def __init__(self, grid: RollGrid, copies: Sequence[int], stages: int, search: Search[RollDraft]) -> None:
        super().__init__(grid, copies, search)
        model, numbers = self.model, range(len(copies))
        longest = (
            self.most if grid.longest is None else min(self.most, (grid.longest + grid.gap) // self.step)
        )
        longest = max(longest, 0)
        self.strip = {(n, s): model.new_bool_var("") for n in numbers for s in range(n + 1)}
        self.section = {(s, k): model.new_bool_var("") for s in numbers for k in range(s + 1)}
        lengths = [model.new_int_var(0, longest, "") for _ in numbers]
        widths = [model.new_int_var(0, grid.width + grid.gap, "") for _ in numbers]
        for n in numbers:
            model.add_exactly_one(self.strip[n, s] for s in range(n + 1))
            if stages == 2:
                model.add(self.strip[n, n] == 1)
            for s in range(n):
                model.add_implication(self.strip[n, s], self.strip[s, s])
        for s in numbers:
            model.add(sum(self.section[s, k] for k in range(s + 1)) == self.strip[s, s])
            for k in range(s):
                model.add_implication(self.section[s, k], self.section[k, k])
            shares = []
            for n in range(s, len(copies)):
                held = self.strip[n, s]
                share = model.new_int_var(0, longest, "")
                model.add(share == self.along[n]).only_enforce_if(held)
                model.add(widths[s] >= self.across[n]).only_enforce_if(held)
                shares.append(share)
            for k in range(s + 1):
                model.add(lengths[k] >= sum(shares)).only_enforce_if(self.section[s, k])
        for k in numbers:
            shares = []
            for s in range(k, len(copies)):
                share = model.new_int_var(0, grid.width + grid.gap, "")
                model.add(share == widths[s]).only_enforce_if(self.section[s, k])
                shares.append(share)
            model.add(sum(shares) <= grid.width + grid.gap)
        total = sum(lengths)
        model.add(total <= self.most)
        model.add(total >= self.least)
        model.minimize(total)

    def draft(self, solver: cp_model.CpSolver) -> RollDraft:
        grid, numbers = self.grid, range(len(self.copies))
        chunks = []
        for k in numbers:
            strips = []
            for s in range(k, len(numbers)):
                if solver.value(self.section[s, k]):
                    held = [
                        self.box(n, solver) for n in range(s, len(numbers)) if solver.value(self.strip[n, s])
                    ]
                    # The widest first, so that the trims of the strip lie together.
                    held.sort(key=lambda box: (-int(grid.dy[box]), box))
                    strips.append(Strip(tuple(held), max(int(grid.dy[box]) for box in held)))
            if strips:
                reach = max(sum(int(grid.dx[box]) + grid.gap for box in strip.boxes) for strip in strips)
                chunks.append((grid.section_chunk(Section(tuple(strips), reach - grid.gap)), 1))
        return tuple(chunks)
