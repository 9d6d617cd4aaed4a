"""What every answer must pass, whichever engine gave it."""

from __future__ import annotations

from collections import Counter

from nesting.packing import Answer, Problem, solve, verify

__all__ = ["checked"]


def checked(problem: Problem, effort: float = 1.0, **more: object) -> Answer:
    """Solve, verify, and count that no piece is lost."""
    answer = solve(problem, time_limit=None, effort=effort, **more)  # type: ignore[arg-type]
    verify(problem, answer)
    placed: Counter[str] = Counter()
    for layout in answer.layouts:
        for placement in layout.placements:
            # A joined copy counts by its first part.
            if placement.part is None or placement.part.index == 0:
                placed[placement.key] += layout.repeats
    for piece in problem.pieces:
        missing = answer.missing[piece.key].quantity if piece.key in answer.missing else 0
        assert placed[piece.key] + missing == piece.quantity
    assert answer.bound <= answer.value + 1e-6
    return answer
