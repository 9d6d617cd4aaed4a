"""Lays and efficiency."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.facts import efficiency, lays, lays_text
from nesting.drawing.pieces import placed_pieces
from nesting.model import Demand, Layout, MaterialPlan, Placement, RollMaterial

ROLL = RollMaterial(key="m", name="M", width=2150, roll_length=50_000)


@pytest.mark.parametrize(
    ("plies", "limit", "sizes", "words"),
    [
        (25, 10, (10, 10, 5), "3 lays: 10 + 10 + 5 plies"),
        (1, 10, (1,), "1 lay of 1 ply"),
        (20, 10, (10, 10), "2 lays of 10 plies"),
        (3, 1, (1, 1, 1), "3 lays of 1 ply"),
        (57, 10, (10, 10, 10, 10, 10, 7), "6 lays: 5 x 10 + 1 x 7 plies"),
    ],
)
def test_plies_are_spread_in_full_lays_first(
    plies: int, limit: int, sizes: tuple[int, ...], words: str
) -> None:
    """Worked by hand."""
    assert lays(plies, limit) == sizes
    assert lays_text(plies, limit) == words


@given(st.integers(1, 10_000), st.integers(1, 500))
def test_lays_hold_all_plies_and_no_lay_is_too_high(plies: int, limit: int) -> None:
    """Neither one ply too few nor one too many."""
    sizes = lays(plies, limit)
    assert sum(sizes) == plies
    assert max(sizes) <= limit
    assert len(sizes) == math.ceil(plies / limit)


def test_efficiency_of_a_lay_worked_by_hand(
    demand_of: Callable[..., Demand], material_plan_of: Callable[..., MaterialPlan]
) -> None:
    """Two panels 1564 x 2072 and four strips 260 x 1785 on 4144 x 2150: 8 337 616 mm2, 93.6 %."""
    panel, strip = demand_of("TP", "Top", 2072, 1564), demand_of("BO", "Border", 1785, 260)
    places = [Placement(panel.key, x, 0.0) for x in (0.0, 2072.0)]
    places += [Placement(strip.key, x, y) for x in (0.0, 2072.0) for y in (1564.0, 1824.0)]
    plan = material_plan_of(
        replace(ROLL, width=2200, edge_trim=25), [panel, strip], [Layout("roll", tuple(places), 4144.0)]
    )
    share = efficiency(plan, plan.layouts[0], placed_pieces(plan, 0))
    assert share == pytest.approx(8_337_616 / 8_909_600)
    assert round(100 * share, 1) == 93.6
