"""The best whole numbers of patterns and of ways to make pieces together, by CP-SAT."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from nesting.packing.block.recipes import SORT, GluePlan, Ways
from nesting.packing.columns import MANY, Column, Cover
from nesting.packing.cpsat import ask
from nesting.packing.grid import Floats, Ints
from nesting.packing.search import Search

__all__ = ["best_ways"]

WORK = 0.3
"""Most work CP-SAT may spend at once, in its own deterministic seconds."""

COST_STEPS = 1_000_000
"""Whole numbers that CP-SAT sees in place of the largest cost; trouble of gluing counts one each."""


def best_ways(
    ways: Ways,
    columns: Iterable[Column],
    available: Sequence[int],
    best: GluePlan | None,
    search: Search[Any],
    *,
    cheaper: bool = True,
) -> GluePlan | None:
    """Choose how often each pattern is cut and how many copies are made in each way.

    Parameters
    ----------
    ways, columns
        To choose from, besides the patterns of `best`.
    available
        How many there are of each stock.
    best
        A plan to start from; as many copies are left out as it leaves out.
    search
        Pays for the work.
    cheaper
        Look for the least cost; otherwise for the least trouble at no more than the cost of `best`.

    Returns
    -------
    GluePlan, or None when nothing was found
    """
    known = {column.signature: column for column in columns}
    hints = dict.fromkeys(known, 0)
    for column, times in best.cover.chosen if best is not None else ():
        known.setdefault(column.signature, column)
        hints[column.signature] = hints.get(column.signature, 0) + times
    if not known:
        return None
    patterns = list(known.values())
    counts = np.array([column.counts for column in patterns])
    model = cp_model.CpModel()
    weighted = cp_model.LinearExpr.weighted_sum
    copies = [model.new_int_var(0, int(ways.wanted[way.piece]), "") for way in ways.ways]
    taken = [model.new_bool_var("") for _ in ways.ways]
    limits = np.array([kind.quantity for kind in ways.kinds], np.int64)
    uses = []
    for held, column in zip(counts, patterns, strict=True):
        most = int(np.ceil(limits[held > 0] / held[held > 0]).max())
        uses.append(model.new_int_var(0, min(most, available[column.maker.stock]), ""))
    for use, hint in zip(uses, hints.values(), strict=True):
        model.add_hint(use, hint)
    for at, (copy, way) in enumerate(zip(copies, ways.ways, strict=True)):
        model.add(copy <= int(ways.wanted[way.piece]) * taken[at])
        if best is not None:
            model.add_hint(copy, int(best.copies[at]))
            model.add_hint(taken[at], bool(best.copies[at]))
    for piece, wanted in enumerate(ways.wanted.tolist()):
        short = 0 if best is None else int(best.missing[piece])
        model.add(sum(copies[at] for at in ways.of_piece(piece)) == wanted - short)
    for kind in range(len(ways.kinds)):
        holding = np.flatnonzero(counts[:, kind]).tolist()
        needing = np.flatnonzero(ways.need[:, kind]).tolist()
        model.add(
            weighted([uses[at] for at in holding], counts[holding, kind].tolist())
            >= weighted([copies[at] for at in needing], ways.need[needing, kind].tolist())
        )
    for stock, limit in enumerate(available):
        cut = [use for use, column in zip(uses, patterns, strict=True) if column.maker.stock == stock]
        if limit < MANY and cut:
            model.add(weighted(cut, [1] * len(cut)) <= limit)
    scale = COST_STEPS / max(column.cost for column in patterns)
    prices = [round(column.cost * scale) for column in patterns]
    glue = [round(way.cost * scale) for way in ways.ways]
    trouble = [way.joints for way in ways.ways], [SORT if way.joints else 0 for way in ways.ways]
    if cheaper or best is None:
        dear = [price + joints for price, joints in zip(glue, trouble[0], strict=True)]
        model.minimize(weighted([*uses, *copies, *taken], [*prices, *dear, *trouble[1]]))
    else:
        spent = sum(price * n for price, n in zip(prices, hints.values(), strict=True))
        spent += sum(price * n for price, n in zip(glue, best.copies.tolist(), strict=True))
        model.add(weighted([*uses, *copies], [*prices, *glue]) <= spent)
        model.minimize(weighted([*copies, *taken], [*trouble[0], *trouble[1]]))
    solver, status = ask(model, WORK, search)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    chosen = [(column, n) for column, use in zip(patterns, uses, strict=True) if (n := solver.value(use))]
    found: Ints = np.array([solver.value(copy) for copy in copies], np.int64)
    areas: Floats = np.array([float(kind.volume) for kind in ways.kinds])
    return GluePlan.of(ways, found, Cover(tuple(chosen), np.zeros(len(ways.kinds), np.int64)), areas)
