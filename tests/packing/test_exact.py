"""Up to 8 pieces on a roll: engines against exact models by CP-SAT that share nothing with them."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.packing import Piece, RollProblem, Status, solve, verify
from tests.packing.exact import shortest_free, shortest_staged


def drawn(number: int) -> tuple[int, list[tuple[int, int]], bool]:
    """Width of a roll, 3 to 8 pieces (along, across) that fit it, and whether they may be turned."""
    rng = np.random.default_rng(number)
    width = int(rng.integers(8, 20))
    pieces = int(rng.integers(3, 9))
    items = [(int(rng.integers(1, 13)), int(rng.integers(1, width + 1))) for _ in range(pieces)]
    return width, items, bool(rng.random() < 0.5)


def answered(width: int, items: list[tuple[int, int]], turning: bool, stages, effort: float):
    turns = (0, 90) if turning else (0,)
    pieces = tuple(Piece.rectangle(str(n), a, b, turns=turns) for n, (a, b) in enumerate(items))
    problem = RollProblem(width, pieces, stages=stages)
    answer = solve(problem, time_limit=None, effort=effort)
    verify(problem, answer)
    return answer


@pytest.mark.parametrize("number", range(1000, 1014))
@pytest.mark.parametrize("stages", [None, 2, 3], ids=["free", "2", "3"])
def test_few_pieces_get_the_shortest_plan_and_never_a_false_proof(number: int, stages) -> None:
    """With some effort the plan is the shortest; after any effort the bound holds."""
    width, items, turning = drawn(number)
    optimum = (
        shortest_free(width, items, turning)
        if stages is None
        else shortest_staged(width, items, turning, stages)
    )
    for effort in (0.01, 1, 200):
        answer = answered(width, items, turning, stages, effort)
        assert answer.bound <= optimum <= answer.length
        if answer.status is Status.OPTIMAL:
            assert answer.length == optimum
    assert answer.length == optimum


@pytest.mark.parametrize("number", range(1014, 1034))
def test_any_number_of_stages_lies_between_free_and_three(number: int) -> None:
    """Cuts without a limit on stages: no bound above the shortest such plan, no plan below free placement."""
    width, items, turning = drawn(number)
    answer = answered(width, items, turning, "any", 5)
    assert shortest_free(width, items, turning) <= answer.length
    # A plan of three stages is one of any number, so a bound above it would be false.
    assert answer.bound <= shortest_staged(width, items, turning, 3)
