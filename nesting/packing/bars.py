"""The bar relaxation: pieces sawn across into slices of any thickness, for one roll width or several.

Every cross-section of a roll shows pieces side by side, so a plan costs at least as much as the cheapest
mix of cross-sections that shows each piece for its whole length. Solved by column generation with a
knapsack over each width; Farley's bound (Farley 1990, Operations Research 38(5): 922-923), with a
Lagrangian term for rolls of limited length, makes every round a proof, converged or not. The relaxation
is that of Scheithauer (1999), "LP-based bounds for the container and multi-container loading problem",
ITOR 6(2): 199-213, in two dimensions.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from ortools.linear_solver import pywraplp

from nesting.packing import kernels
from nesting.packing.grid import Floats, Ints
from nesting.packing.guillotine import CELLS_A_STEP
from nesting.packing.profiles import Bars, Profile
from nesting.packing.search import Search

__all__ = ["NOISE", "BarRoom", "bar_cost_bound", "scaled_bound"]

FINEST = 40_000
"""Most grid steps across a roll for which the bar relaxation is solved."""

MOST_PROFILES = 1_000
"""Most profiles for which the bar relaxation is solved."""

ROUNDS = 300
"""Most pricing rounds of the bar relaxation."""

NOISE = 1e-9
"""Float noise of a sum, as a share of it."""

DEAR = 1e3
"""What a bar costs where the rolls are too short for all, in dearest costs of its length."""


@dataclass(frozen=True, slots=True)
class BarRoom:
    """A roll: width in grid steps, cost of one step of its length, steps there are (None: no limit)."""

    width: int
    rate: float
    length: float | None = None


def scaled_bound(worth: float, densities: Sequence[float], rooms: Sequence[BarRoom]) -> float:
    """Least cost of what is worth so much in all, when no step of a room holds more than its density.

    Scale the values by a share f from 0 on. A step of a room then holds at most f * density; where that
    is more than it costs the difference is lost for every step that there is, and a room without end
    allows no such f at all. The best f makes one room come out even, for the bound is concave in f.
    """
    full = max((d / room.rate for d, room in zip(densities, rooms, strict=True)), default=0.0)
    if full <= 0:
        return 0.0
    kinks = [room.rate / d for d, room in zip(densities, rooms, strict=True) if d > 0]
    endless = [
        room.rate / d for d, room in zip(densities, rooms, strict=True) if d > 0 and room.length is None
    ]
    most = min(endless, default=math.inf)

    def at(share: float) -> float:
        lost = sum(
            room.length * max(0.0, share * d - room.rate)
            for d, room in zip(densities, rooms, strict=True)
            if room.length is not None
        )
        return share * worth - lost

    return max(0.0, max((at(share) for share in kinks if share <= most), default=0.0))


def bar_cost_bound(
    profiles: Sequence[Profile], rooms: Sequence[BarRoom], gap: int, search: Search[Any]
) -> float:
    """Least cost by the bar relaxation.

    Parameters
    ----------
    profiles
        The pieces as bars.
    rooms
        The rolls.
    gap
        Distance kept between pieces, in grid steps.
    search
        Pays for the work; when its budget is used up the best bound so far stands.

    Returns
    -------
    float
        In the unit of the rates, to within float noise; 0 when the problem is too large.
    """
    if len(profiles) > MOST_PROFILES or not rooms:
        return 0.0
    width = max(room.width for room in rooms)
    profiles = [
        replace(
            profile, turns=tuple(bars for bars in profile.turns if all(wide <= width for _, wide in bars))
        )
        for profile in profiles
    ]
    profiles = [profile for profile in profiles if profile.turns]
    widths = sorted({wide for profile in profiles for bars in profile.turns for _, wide in bars})
    sizes = np.array(widths, np.int64) + gap
    step = int(np.gcd.reduce(sizes))
    if not widths or (width + gap) // step > FINEST:
        return 0.0
    capacities = [(room.width + gap) // step for room in rooms]
    sizes //= step
    row_of = {wide: row for row, wide in enumerate(widths)}
    # A row for each profile in each turn: how long it shows bars of each width.
    shown = np.array(
        [_shown(bars, row_of) for profile in profiles for bars in profile.turns], dtype=np.float64
    )
    first = np.cumsum([0] + [len(profile.turns) for profile in profiles[:-1]])
    quantities = np.array([profile.quantity for profile in profiles], np.float64)

    # min sum c_p x_p   s.t.  sum_p a_rp x_p >= sum_ij shown_ijr y_ij for every width r,
    #                         sum_j y_ij >= quantity_i for every profile i,
    #                         sum x_p of each room <= its length
    solver = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    rows = [solver.Constraint(0.0, infinity) for _ in widths]
    ends = [None if room.length is None else solver.Constraint(-infinity, room.length) for room in rooms]
    solver.Objective().SetMinimization()
    turn = iter(shown)
    for profile in profiles:
        wanted = solver.Constraint(float(profile.quantity), infinity)
        for _ in profile.turns:
            turned = solver.NumVar(0.0, infinity, "")
            wanted.SetCoefficient(turned, 1.0)
            bars_shown = next(turn)
            for row in np.flatnonzero(bars_shown):
                rows[row].SetCoefficient(turned, -float(bars_shown[row]))

    def add(counts: Ints, rate: float, end: Any) -> None:
        use = solver.NumVar(0.0, infinity, "")
        solver.Objective().SetCoefficient(use, rate)
        for row in np.flatnonzero(counts):
            rows[row].SetCoefficient(use, float(counts[row]))
        if end is not None:
            end.SetCoefficient(use, 1.0)

    # Where the rolls might be too short a dear way out keeps the program solvable; the proof below
    # knows nothing of it.
    dear = 1.0 if len(rooms) == 1 and ends[0] is None else DEAR
    alone = max(capacities) // sizes if dear == 1.0 else np.ones(sizes.size, np.int64)
    for counts in np.diag(alone):
        add(counts, dear * max(room.rate for room in rooms), None)
    many = np.full(sizes.size, max(capacities), np.int64)
    bound = 0.0
    for _ in range(ROUNDS):
        if search.used_up or solver.Solve() != pywraplp.Solver.OPTIMAL:
            break
        values = np.maximum([row.dual_value() for row in rows], 0.0)
        charges = [0.0 if end is None else max(0.0, -end.dual_value()) for end in ends]
        fills = [kernels.best_fill(sizes, values, many, capacity) for capacity in capacities]
        search.spend(sizes.size * sum(capacities) // CELLS_A_STEP)
        # A piece is worth its least value over its turns.
        priced = np.minimum.reduceat(shown @ values, first)
        bound = max(bound, scaled_bound(float(quantities @ priced), [worth for worth, _ in fills], rooms))
        fresh = False
        for (worth, counts), room, end, charge in zip(fills, rooms, ends, charges, strict=True):
            if worth > (room.rate + charge) * (1.0 + NOISE):
                add(counts, room.rate, end)
                fresh = True
        if not fresh:
            break
    return bound


def _shown(bars: Bars, row_of: Mapping[int, int]) -> Floats:
    """How long one turn of a piece shows bars of each width."""
    lengths = np.zeros(len(row_of))
    for length, wide in bars:
        lengths[row_of[wide]] += length
    return lengths
