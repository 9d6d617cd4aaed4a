"""The best whole repeats of given columns, by CP-SAT."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from ortools.sat.python import cp_model

from nesting.packing.columns import MANY, Column, Cover, Task
from nesting.packing.cpsat import ask
from nesting.packing.search import Search

__all__ = ["best_whole"]

COST_STEPS = 1_000_000
"""Whole numbers that CP-SAT sees in place of the largest cost, where costs are not whole themselves."""

MOST_EXACT = 2**31
"""Largest cost that CP-SAT takes as it is."""


def best_whole(
    task: Task, columns: Sequence[Column], start: Cover | None, work: float, search: Search[Any]
) -> list[tuple[Column, int]] | None:
    """Choose how often each column is used so that the cost is least.

    Parameters
    ----------
    task
        What is to be covered. Copies beyond the demand are allowed; kinds may be left out where the
        task has a price for it.
    columns
        To choose from, besides those of `start`.
    start
        A plan to start from.
    work
        Most deterministic seconds to spend.
    search
        Pays for the work.

    Returns
    -------
    list of (column, repeats), or None when nothing was found
    """
    known = {column.signature: column for column in columns}
    hints = dict.fromkeys(known, 0)
    for column, repeats in start.chosen if start is not None else ():
        known.setdefault(column.signature, column)
        hints[column.signature] = hints.get(column.signature, 0) + repeats
    columns = list(known.values())
    if not columns:
        return None

    model = cp_model.CpModel()
    weighted = cp_model.LinearExpr.weighted_sum
    counts = np.array([column.counts for column in columns])
    uses = []
    for held, (signature, column) in zip(counts, known.items(), strict=True):
        most = int(np.ceil(task.demand[held > 0] / held[held > 0]).max())
        use = model.new_int_var(0, min(most, task.available[column.maker.stock] // column.takes), "")
        model.add_hint(use, hints[signature])
        uses.append(use)
    dearest = max(column.cost for column in columns)
    whole = dearest < MOST_EXACT and all(column.cost == int(column.cost) for column in columns)
    scale = 1.0 if whole else COST_STEPS / dearest
    costs = [round(column.cost * scale) for column in columns]
    terms = list(uses)
    for kind, need in enumerate(task.demand.tolist()):
        holding = np.flatnonzero(counts[:, kind]).tolist()
        variables, factors = [uses[at] for at in holding], counts[holding, kind].tolist()
        if task.shortfall is not None:
            short = model.new_int_var(0, need, "")
            variables.append(short)
            factors.append(1)
            terms.append(short)
            costs.append(round(float(task.shortfall[kind]) * scale))
        model.add(weighted(variables, factors) >= need)
    for stock, limit in enumerate(task.available):
        if limit < MANY:
            of_stock = [at for at, column in enumerate(columns) if column.maker.stock == stock]
            takes = [columns[at].takes for at in of_stock]
            model.add(weighted([uses[at] for at in of_stock], takes) <= limit)
    model.minimize(weighted(terms, costs))

    solver, status = ask(model, work, search)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return [
        (column, times) for column, use in zip(columns, uses, strict=True) if (times := solver.value(use))
    ]
