"""Racks: which piece from which roll, rests used up, flaws kept clear, and no bound above the truth."""

from __future__ import annotations

from collections import Counter
from typing import Any

from hypothesis import HealthCheck, given, settings

from nesting.packing import Answer, RackProblem, solve, verify
from tests.packing.strategies import rack_problems

some = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


def checked(problem: RackProblem, effort: float = 1.0, **more: Any) -> Answer:
    """Solve, verify, and count that no piece is lost."""
    answer = solve(problem, time_limit=None, effort=effort, **more)
    verify(problem, answer)
    placed: Counter[str] = Counter()
    for layout in answer.layouts:
        for placement in layout.placements:
            placed[placement.key] += layout.repeats
    for piece in problem.pieces:
        missing = answer.missing[piece.key].quantity if piece.key in answer.missing else 0
        assert placed[piece.key] + missing == piece.quantity
    assert answer.bound <= answer.value + 1e-6
    return answer


@some
@given(rack_problems())
def test_racks_are_valid_and_nothing_is_lost(problem: RackProblem) -> None:
    """Every rack gets a valid plan; where a roll without end takes all pieces it is complete."""
    answer = checked(problem)
    widest = max((roll.width for roll in problem.rolls if roll.length is None), default=0.0)
    if all(max(piece.length, piece.width) <= widest for piece in problem.pieces):
        assert not answer.missing
