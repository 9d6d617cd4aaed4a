"""Foam that may be cut from rests: never dearer than without them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from nesting.blocks import SHELF
from nesting.packing import Answer
from nesting.packing.problem import BlockProblem

__all__ = ["WITHOUT", "solve_with_rests"]

WITHOUT = 0.3
"""Share of the work that goes to a plan without rests (own choice)."""


def solve_with_rests(problem: BlockProblem, run: Callable[[BlockProblem, float], Answer]) -> Answer:
    """The cheaper of two plans: one that may use what is on the shelf, and one of new blocks alone.

    A search that has more to choose from may find less in the same time; a rest must not make a plan dearer.

    Parameters
    ----------
    run
        Solves a problem with a share of the work, 0 to 1.

    Returns
    -------
    Answer
        To the whole `problem`, its bound included.
    """
    new = tuple(block for block in problem.blocks if not block.key.startswith(SHELF))
    if not new or len(new) == len(problem.blocks):
        return run(problem, 1.0)
    plain = run(replace(problem, blocks=new), WITHOUT)
    answer = run(problem, 1.0 - WITHOUT)
    if dict(plain.missing) == dict(answer.missing) and plain.value < answer.value:
        return replace(plain, bound=min(answer.bound, plain.value), stopped=answer.stopped)
    return answer
