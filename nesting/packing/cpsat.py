"""One way to ask CP-SAT: within a budget of work and time, and interrupted with the search."""

from __future__ import annotations

import math
from threading import Thread
from typing import Any

from ortools.sat.python import cp_model

from nesting.packing.search import Search

__all__ = ["STEPS_A_SECOND", "ask"]

STEPS_A_SECOND = 2e8
"""Elementary steps reckoned for one deterministic second of CP-SAT."""

LATE = 0.1
"""Seconds that CP-SAT is asked to end before a time limit."""

LOOK = 0.05
"""Seconds between two looks at whether the search has been interrupted."""


def ask(model: cp_model.CpModel, work: float, search: Search[Any]) -> tuple[cp_model.CpSolver, int]:
    """Solve a model on one core.

    Parameters
    ----------
    model
        What is asked.
    work
        Most deterministic seconds; no more than the search has left is spent in any case.
    search
        Pays for the work. When its progress callback raises, CP-SAT is stopped and the exception goes on.

    Returns
    -------
    solver, status
        The status is ``cp_model.UNKNOWN`` when no budget is left.
    """
    solver = cp_model.CpSolver()
    seconds = search.seconds_left - LATE
    work = min(work, search.effort_left / STEPS_A_SECOND)
    if work <= 0 or seconds <= 0:
        return solver, int(cp_model.UNKNOWN)
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = search.seed % 2**31
    # An interrupt from the keyboard must end the whole search, not this part of it.
    solver.parameters.catch_sigint_signal = False
    solver.parameters.max_deterministic_time = work
    if seconds < math.inf:
        solver.parameters.max_time_in_seconds = seconds
    status = [int(cp_model.UNKNOWN)]

    def run() -> None:
        status[0] = int(solver.solve(model))

    # In a thread of its own, because nothing can interrupt it where it runs.
    thread = Thread(target=run, daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(LOOK)
            search.spend(0)
    except BaseException:
        while thread.is_alive():  # asked again, for it may only just be about to start
            solver.stop_search()
            thread.join(LOOK)
        raise
    search.spend(int(solver.response_proto.deterministic_time * STEPS_A_SECOND))
    return solver, status[0]
