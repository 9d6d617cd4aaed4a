"""The packing core against published instances and a general-purpose reference library."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
import rectpack

from nesting.packing import Piece, RollProblem, Sheet, SheetProblem, Status, solve, verify


def instances(bench: Path, name: str) -> list[dict[str, Any]]:
    return json.loads((bench / f"{name}.json").read_text())["instances"]  # type: ignore[no-any-return]


def strip(instance: dict[str, Any], turns: tuple[int, ...] = (0, 90)) -> RollProblem:
    """The instances give items across and along the strip; a roll has them along and across."""
    pieces = [
        Piece.rectangle(f"item {number}", along, across, quantity, turns)
        for number, (across, along, quantity) in enumerate(instance["items"])
    ]
    return RollProblem(instance["strip_width"], pieces)


# C1-P1: 16 items cut from a 20 x 20 square. Hopper, E. and Turton, B.C.H. (2001), "An empirical
# investigation of meta-heuristic and heuristic algorithms for a 2D packing problem", European Journal
# of Operational Research 128(1): 34-57, doi:10.1016/S0377-2217(99)00357-4.
C1_P1 = [
    (2, 12),
    (7, 12),
    (8, 6),
    (3, 6),
    (3, 5),
    (5, 5),
    (3, 12),
    (3, 7),
    (5, 7),
    (2, 6),
    (3, 2),
    (4, 2),
    (3, 4),
    (4, 4),
    (9, 2),
    (11, 2),
]


def test_the_typed_instance_fills_its_square() -> None:
    """Guards against a slip in typing: the items cover 20 x 20."""
    assert sum(width * height for width, height in C1_P1) == 400


def test_the_perfect_packing_of_c1_p1_is_found_and_proved() -> None:
    """Hopper and Turton (2001), C1-P1: optimum 20."""
    pieces = [Piece.rectangle(str(n), along, across) for n, (across, along) in enumerate(C1_P1)]
    problem = RollProblem(20, pieces)
    answer = solve(problem, time_limit=None, effort=30)
    verify(problem, answer)
    assert (answer.length, answer.status) == (20, Status.OPTIMAL)


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        # Hopper and Turton (2001), see above: C1 and C2, optimum 20 and 15 by construction.
        ("strip/hopper_turton_c", {"C1-P1", "C1-P2", "C1-P3", "C2-P1", "C2-P2", "C2-P3"}),
        # Burke, E.K., Kendall, G. and Whitwell, G. (2004), "A new placement heuristic for the orthogonal
        # stock-cutting problem", Operations Research 52(4): 655-671, doi:10.1287/opre.1040.0109.
        ("strip/burke_n", {"N1", "N2", "N3", "N4"}),
    ],
)
def test_published_strips_are_valid_and_never_below_the_optimum(bench: Path, name: str, wanted) -> None:
    """Verified layouts; the bound never exceeds, the length never undercuts the known optimum."""
    chosen = [instance for instance in instances(bench, name) if instance["name"] in wanted]
    assert chosen
    for instance in chosen:
        problem = strip(instance)
        answer = solve(problem, time_limit=None, effort=60)
        verify(problem, answer)
        assert answer.bound <= instance["optimal_height"] <= answer.length
        assert answer.length <= 1.03 * instance["optimal_height"]


def test_fixed_orientation_respects_published_lower_bounds(bench: Path) -> None:
    """Beasley (1985) gcut and ngcut, Christofides and Whitlock (1977) cgcut: nothing below the bound."""
    for name in ("strip/ngcut", "strip/gcut", "strip/cgcut"):
        for instance in instances(bench, name)[::3]:
            problem = strip(instance, turns=(0,))
            answer = solve(problem, time_limit=None, effort=5)
            verify(problem, answer)
            assert answer.length >= instance["lower_bound"]


def test_sheets_respect_published_lower_bounds(bench: Path) -> None:
    """Berkey and Wang (1987), Martello and Vigo (1998): at least the bound of dual feasible functions."""
    for instance in instances(bench, "sheet/class")[::60]:
        length, width = instance["sheet"]
        pieces = [
            Piece.rectangle(str(n), a, b, q, turns=(0,)) for n, (a, b, q) in enumerate(instance["items"])
        ]
        problem = SheetProblem([Sheet("S", length, width)], pieces)
        answer = solve(problem, time_limit=None, effort=5)
        verify(problem, answer)
        assert answer.bound >= instance["lower_bound_area"]
        assert answer.cost >= instance["lower_bound_fixed"]


PACKERS = (
    rectpack.MaxRectsBssf,
    rectpack.MaxRectsBlsf,
    rectpack.MaxRectsBaf,
    rectpack.SkylineBl,
    rectpack.SkylineMwf,
    rectpack.SkylineMwfl,
    rectpack.GuillotineBssfSas,
    rectpack.GuillotineBafMinas,
)
SORTS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)


def shortest_by_rectpack(width: int, items: list[tuple[int, int]]) -> int:
    """Shortest strip that rectpack fills, over its algorithms and sort orders.

    rectpack packs bins, so a strip is a bin of ample length, and its length the furthest edge.
    """
    ample = sum(max(item) for item in items)
    best = ample
    for packer in PACKERS:
        for sort in SORTS:
            pack = rectpack.newPacker(pack_algo=packer, sort_algo=sort, rotation=True)
            for item in items:
                pack.add_rect(*item)
            pack.add_bin(ample, width)
            pack.pack()
            placed = pack.rect_list()
            if len(placed) == len(items):
                best = min(best, max(x + length for _, x, _, length, _, _ in placed))
    return best


@pytest.mark.parametrize("seed", range(200))
def test_never_longer_than_a_general_purpose_library(seed: int) -> None:
    """On 200 seeded random strips the roll is never longer than rectpack's best of 32 settings."""
    rng = random.Random(seed)
    width = rng.randrange(60, 200)
    items = [(rng.randrange(5, 90), rng.randrange(5, 60)) for _ in range(rng.randrange(5, 26))]
    problem = RollProblem(
        width, [Piece.rectangle(str(n), length, across) for n, (length, across) in enumerate(items)]
    )
    answer = solve(problem, time_limit=None, effort=3)
    verify(problem, answer)
    assert answer.length <= shortest_by_rectpack(width, items)
