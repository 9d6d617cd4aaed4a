"""The whole way: orders in, verified plan out."""

from __future__ import annotations

import datetime
import threading
from collections import Counter
from pathlib import Path

import pytest

from nesting.catalogue import load_range
from nesting.model import Demand, Panel, RollMaterial
from nesting.orders import load_orders
from nesting.planning import Budget, Watch, make_plan, plan_material

QUICK = Budget(effort=3)


@pytest.fixture(scope="module")
def week(patterns: Path):
    """Range and order book of the demo."""
    range_ = load_range(patterns / "demo-range.toml")
    return range_, load_orders(patterns / "demo-orders.csv", range_)


@pytest.fixture(scope="module")
def plan(week):
    """The whole demo week, quickly."""
    return make_plan(*week, budget=QUICK, today=datetime.date(2026, 12, 1))


def test_the_demo_week_is_as_large_as_it_claims(week) -> None:
    """3 mattresses, 2 bases and a headboard; 8 sizes; 12 materials of 3 kinds; 60 lines; 400 beds."""
    range_, book = week
    assert len(range_.models) >= 6
    assert len(range_.sizes) >= 8
    assert len(range_.materials) >= 12
    assert {material.kind for material in range_.materials.values()} == {"roll", "sheet", "block"}
    assert len(book.lines) >= 60
    assert sum(line.quantity for line in book.lines) >= 400
    assert {line.model_key for line in book.lines} == set(range_.models)


def test_every_piece_of_every_order_is_cut(week, plan) -> None:
    """Pieces in layouts, over repeats, equal orders times pieces per unit, worked out a second way.

    Where a slab makes two, half as many slabs are cut, rounded up for each model and size. Glued
    slabs count as slabs.
    """
    range_, book = week
    parts: Counter[tuple[str, str, str, str, int]] = Counter()
    for line in book.lines:
        for panel in range_.panels(line.model_key, line.size_key):
            place = (panel.material, panel.code, line.model_key, line.size_key, panel.per_slab)
            parts[place] += panel.pieces * line.quantity
    wanted: Counter[tuple[str, str]] = Counter()
    for (material, code, _, _, per_slab), count in parts.items():
        wanted[material, code] += -(-count // per_slab)
    cut: Counter[tuple[str, str]] = Counter()
    for part in plan.materials:
        code_of = {demand.key: demand.panel.code for demand in part.demands}
        glued = {item.key for layer in part.glued for item in layer.parts}
        for layout in part.layouts:
            for placement in layout.placements:
                if placement.key not in glued:
                    cut[part.material.key, code_of[placement.key]] += layout.repeats
        for layer in part.glued:
            cut[part.material.key, layer.panel.code] += layer.copies
    assert cut == wanted
    assert not any(part.missing for part in plan.materials)


def test_every_account_adds_up(plan) -> None:
    """Pieces, losses and remnants are all that was consumed, in every material."""
    for part in plan.materials:
        figures = part.figures
        total = figures.pieces + sum(loss.amount for loss in figures.losses) + figures.remnants
        assert total == pytest.approx(figures.consumed, rel=1e-9), part.material.key
        assert all(loss.amount > 0 for loss in figures.losses)
        assert 0 < figures.utilisation <= figures.efficiency <= 1
        assert 0 <= figures.gap < 1


def test_rolls_hold_all_plies_and_no_roll_is_overdrawn(plan) -> None:
    """What is shared out over rolls is what the layouts say, end losses included."""
    for part in plan.materials:
        if part.material.kind != "roll":
            continue
        plies: Counter[int] = Counter()
        for roll in part.stock:
            assert roll.used + roll.rest == pytest.approx(part.material.roll_length)
            assert roll.rest >= -1e-6
            for index, times in roll.cuts:
                plies[index] += times
        assert plies == {index: layout.repeats for index, layout in enumerate(part.layouts)}


def test_workers_do_not_change_the_plan(week) -> None:
    """The same effort and seed give the same plan with one worker and with two."""
    range_, book = week
    some = ["stretch-cover", "waxed-board", "comfort-foam", "edge-tape"]
    plans = [
        make_plan(
            range_, book, materials=some, budget=Budget(effort=8, workers=n), today=datetime.date(2026, 12, 1)
        )
        for n in (1, 2)
    ]
    assert plans[0] == plans[1]


def test_what_is_too_wide_is_missing_with_its_reason_and_the_rest_is_cut() -> None:
    """A plan that cannot be complete says what is missing, by how much, and drops nothing."""
    roll = RollMaterial(key="m", name="Cloth", width=1500, edge_trim=20, roll_length=40_000, grain="one-way")
    wide = Panel(code="W", name="Wide", material="m", length=1000, width=1600)
    good = Panel(code="G", name="Good", material="m", length=1000, width=700)
    demands = (
        Demand(key="wide", panel=wide, model="M", size="S", quantity=3),
        Demand(key="good", panel=good, model="M", size="S", quantity=4),
    )
    plan = plan_material(roll, demands, QUICK, Watch(), threading.Event())
    assert set(plan.missing) == {"wide"}
    assert plan.missing["wide"].quantity == 3
    assert "140.0 mm too wide" in plan.missing["wide"].reason
    assert sum(len(layout.placements) * layout.repeats for layout in plan.layouts) == 4


def test_a_stop_asked_for_before_the_start_still_gives_a_complete_plan() -> None:
    """Ctrl-C ends the search, not the plan."""
    roll = RollMaterial(key="m", name="Cloth", width=1500, roll_length=40_000)
    panel = Panel(code="G", name="Good", material="m", length=1000, width=700)
    demands = (Demand(key="good", panel=panel, model="M", size="S", quantity=40),)
    stop = threading.Event()
    stop.set()
    plan = plan_material(roll, demands, Budget(effort=10_000), Watch(), stop)
    assert not plan.missing
    assert sum(len(layout.placements) * layout.repeats for layout in plan.layouts) == 40
