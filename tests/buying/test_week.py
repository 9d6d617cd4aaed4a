"""Requirement, rests, reserve and orders of a small range, reckoned by hand. Data are invented."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from nesting.buying.demand import Outlook, WeekLine, read_outlook
from nesting.buying.notes import notes
from nesting.buying.ordering import Terms, safety_stock
from nesting.buying.shelf import counted, fits
from nesting.buying.spread import draw, simulate
from nesting.buying.supply import Arrival, Supply
from nesting.buying.told import buying_json, lists
from nesting.buying.week import BuyingPlan, Purchase, plan_buying
from nesting.buying.weeks import Weeks
from nesting.catalogue import Range
from nesting.model import BlockSize, Flaw, Glue, Panel, StockPiece
from nesting.planning import Budget

MONDAY = datetime.date(2026, 12, 7)
BUDGET = Budget(effort=1.0)


def week_lines(*beds: int, size: str = "half", sd: float = 0.0) -> tuple[WeekLine, ...]:
    return tuple(
        WeekLine(week, "plain", size, count, float(count), sd) for week, count in enumerate(beds, start=1)
    )


def looking(lines: Sequence[WeekLine]) -> Outlook:
    return Outlook("demand.csv", Weeks(MONDAY, max(line.week for line in lines)), tuple(lines), True)


def bought(range_: Range, lines: Sequence[WeekLine], key: str = "cloth", **more: object) -> Purchase:
    (purchase,) = planned(range_, lines, materials=[key], **more).purchases
    return purchase


def planned(range_: Range, lines: Sequence[WeekLine], **more: object) -> BuyingPlan:
    return plan_buying(range_, looking(lines), **{"budget": BUDGET, **more})  # type: ignore[arg-type]


def roll(id_: str, length: float, width: float = 1000.0, *, rest: bool = False, flaws: Sequence[Flaw] = ()):
    return StockPiece(id=id_, material="cloth", length=length, width=width, remnant=rest, flaws=tuple(flaws))


def test_requirement_is_nested_and_then_estimated(small_range: Range) -> None:
    """Two halves to a metre: 6 beds take 3 m, 7 take 4 m; 7 m for 6.5 m2 is what later weeks go by."""
    need = bought(small_range, week_lines(6, 7, 10, 0), planned=2).need
    assert [week.amount for week in need.weeks[:2]] == [3.0, 4.0]
    assert [week.nested for week in need.weeks] == [True, True, False, True]
    assert need.fit.rate == pytest.approx(7 / 6.5)
    assert need.weeks[2].amount == pytest.approx(5.0 * 7 / 6.5)
    assert need.weeks[3].amount == 0.0
    assert (need.fit.least, need.fit.most) == (pytest.approx(1.0), pytest.approx(8 / 7))


def test_a_material_of_a_later_week_is_nested_there(small_range: Range) -> None:
    need = bought(small_range, week_lines(0, 0, 6, 6), planned=1).need
    assert [week.amount for week in need.weeks] == [0.0, 0.0, 3.0, 3.0]
    assert [week.nested for week in need.weeks] == [True, True, True, False]


@pytest.mark.parametrize(("key", "first", "second"), [("board", 1.0, 0.0), ("foam", 1.0, 1.0)])
def test_sheets_and_blocks_count_whole(small_range: Range, key: str, first: float, second: float) -> None:
    """Eight boards to a sheet: 4 and 4 beds open one sheet, and its rest serves the second week."""
    purchase = bought(small_range, week_lines(4, 4), key)
    weeks, saved = purchase.need.weeks, purchase.need.savings
    net = [week.amount - sum(item.amount for item in saved if item.week == week.week) for week in weeks]
    assert [week.amount for week in weeks] == [1.0, 1.0]
    if key == "board":
        assert net == [first, second]
    else:  # once plans cut foam from rests, the second block is saved as well
        assert net[0] == first
        assert net[1] in (0.0, second)


def test_a_remnant_saves_what_the_plan_saves_with_it(small_range: Range) -> None:
    """2.1 m of rest hold 4 of 6 beds, so 1 m of new cloth is taken and not 3; a scrap holds nothing."""
    stock = {"cloth": [roll("R1", 2100.0, rest=True), roll("R2", 2000.0, 400.0, rest=True)]}
    purchase = bought(small_range, week_lines(6, 6), stock=stock)
    assert purchase.on_hand == 0.0
    assert purchase.saved == pytest.approx(2.0)
    held = {item.piece.id: item for item in purchase.held}
    assert held["R1"].amount == pytest.approx(2.0)
    assert held["R1"].why == "saves new material in 2026-W50"
    assert held["R2"].amount == 0.0
    assert held["R2"].why == "no planned part fits it"
    assert purchase.schedule.net == pytest.approx(4.0)


def test_a_remnant_may_save_a_whole_roll(small_range: Range) -> None:
    """20.5 m are missing, two rolls of 20 m; with a rest of 1 m one roll does."""
    lines = week_lines(41)
    alone = bought(small_range, lines)
    helped = bought(small_range, lines, stock={"cloth": [roll("R1", 1000.0, rest=True)]})
    assert [item.schedule.now.items for item in (alone, helped) if item.schedule.now] == [2, 1]


def test_whole_rolls_count_by_length_width_and_flaws(small_range: Range) -> None:
    """A narrow roll by its share of the width; flaws that overlap count once."""
    cloth = small_range.materials["cloth"]
    assert counted(cloth, roll("A", 20_000.0)) == 20.0
    assert counted(cloth, roll("B", 20_000.0, 900.0)) == pytest.approx(18.0)
    flaws = (Flaw(1000, 2000), Flaw(1500, 2500, 0, 100))
    assert counted(cloth, roll("C", 20_000.0, flaws=flaws)) == pytest.approx(18.5)
    assert bought(small_range, week_lines(6), stock={"cloth": [roll("A", 20_000.0)]}).on_hand == 20.0


def test_what_fits_a_rest(small_range: Range) -> None:
    """In the turns that a part may have, between flaws."""
    cloth = small_range.materials["cloth"]
    long = Panel(code="P", name="P", material="cloth", length=900, width=300, turns=(0.0, 180.0))
    assert fits(cloth, long, roll("A", 900.0, 300.0, rest=True))
    assert not fits(cloth, long, roll("A", 300.0, 900.0, rest=True))
    assert fits(cloth, replace(long, turns=(0.0, 90.0)), roll("A", 300.0, 900.0, rest=True))
    assert not fits(cloth, long, roll("A", 1500.0, 300.0, rest=True, flaws=[Flaw(700, 750)]))


def test_foam_of_several_sizes_counts_by_volume(small_range: Range) -> None:
    """Forty halves fill 2 m3, twenty a block of 1 m3: 60 beds take one and a half of the first size."""
    sizes = (
        BlockSize(name="K1", length=2000, width=1000, height=1000),
        BlockSize(name="K2", length=1000, width=1000, height=1000),
    )
    foam = replace(small_range.materials["foam"], sizes=sizes)
    range_ = small_range.with_material(foam)
    small = StockPiece(id="F1", material="foam", length=1000.0, width=1000.0, height=1000.0)
    purchase = bought(range_, week_lines(60), "foam", stock={"foam": [small]})
    assert purchase.gross == pytest.approx(1.5)
    assert purchase.on_hand == pytest.approx(0.5)
    assert purchase.supply.terms.price == pytest.approx(200.0)
    plan = planned(range_, week_lines(60), materials=["foam"])
    assert any("counted in blocks of K1" in note for note in notes(plan, plan.purchases[0]))


def test_of_a_long_block_what_is_taken_counts(small_range: Range) -> None:
    """A block of 20 m, cut to 2 m: 40 beds fill 2 m of it, a tenth."""
    foam = replace(small_range.materials["foam"], length=20_000.0, cut_to=2000.0)
    purchase = bought(small_range.with_material(foam), week_lines(40, 40), "foam")
    assert [week.amount for week in purchase.need.weeks] == [pytest.approx(0.1)] * 2
    assert purchase.supply.terms.price == pytest.approx(2000.0)
    assert purchase.schedule.now is not None
    assert purchase.schedule.now.items == 1


def test_what_fits_a_rest_of_foam(small_range: Range) -> None:
    """As thick as it must be; on its side only where it may stand; glued up, the plan decides."""
    foam = small_range.materials["foam"]
    slab = Panel(code="S", name="S", material="foam", length=900, width=400, thickness=100)
    rest = StockPiece(id="F", material="foam", length=900.0, width=100.0, height=400.0, remnant=True)
    assert fits(foam, slab, replace(rest, width=400.0, height=100.0))
    assert not fits(foam, slab, replace(rest, width=400.0, height=99.0))
    assert not fits(foam, slab, rest)
    assert fits(foam, replace(slab, standing=True), rest)
    assert fits(foam, replace(slab, glue=Glue(joints=1)), replace(rest, length=500.0))


def test_the_order_follows_from_supply_and_deliveries(small_range: Range) -> None:
    """10 m a week for 2 + 1 weeks, 5 m in reserve, 4 m there, 12 m to come: 19 m, so 1 roll of 20 m."""
    supply = Supply(
        material="cloth",
        terms=Terms(lead=2, review=1, item=20.0, price=10.0),
        on_hand=4.0,
        safety=5.0,
        arrivals=(Arrival(2, 12.0), Arrival(0, 0.0), Arrival(9, 500.0)),
    )
    purchase = bought(small_range, week_lines(20, 20, 20, 20), supplies={"cloth": supply})
    assert (purchase.gross, purchase.schedule.due) == (30.0, 12.0)
    assert purchase.schedule.net == pytest.approx(19.0)
    assert purchase.schedule.now is not None
    assert (purchase.schedule.now.items, purchase.schedule.now.arrives, purchase.money) == (1, 3, 200.0)
    assert purchase.schedule.short == 1
    said = notes(planned(small_range, week_lines(20, 20, 20, 20), supplies={"cloth": supply}), purchase)
    assert said[0] == (
        "Short from 2026-W50, by up to 6.0 m: an order placed now is there in 2026-W52. "
        "Ask for an earlier delivery."
    )
    assert "The delivery of 2027-W05 comes after these weeks: not counted." in said


def test_the_simulated_reserve_agrees_with_the_normal_formula(small_range: Range) -> None:
    """A sum of independent normal demands is normal: z x sigma x sqrt(weeks), quantiles by scipy.

    60 beds a week with 6 either way, half a metre each: sigma 3 m a week.
    """
    lines = week_lines(60, 60, 60, 60, sd=6.0)
    found = simulate(small_range, lines, {"cloth": 1.0}, {"cloth": 3}, {"cloth": 0.95}, samples=100_000)[
        "cloth"
    ]
    sigma = 3.0 * math.sqrt(3)
    assert found.sigma == pytest.approx(sigma)
    assert found.at_service == pytest.approx(safety_stock(float(stats.norm.ppf(0.95)), 3.0, 3), rel=0.02)
    for share, value in ((0.05, found.low), (0.5, found.middle), (0.95, found.high)):
        assert value == pytest.approx(float(stats.norm.ppf(share)) * sigma, abs=0.03 * sigma)


def test_demand_is_never_drawn_below_nothing() -> None:
    """With 5 beds and 20 either way many draws are cut off at 0."""
    drawn = draw(WeekLine(1, "plain", "half", 5, 5.0, 20.0), (0, 0), seed=1) + 5.0
    assert drawn.min() == 0.0
    assert 0.3 < np.mean(drawn == 0.0) < 0.5  # the normal distribution says 0.40


@given(st.integers(0, 2**31), st.integers(0, 2**31))
def test_draws_depend_on_their_seed_alone(seed: int, other: int) -> None:
    line = WeekLine(2, "plain", "half", 5, 5.0, 1.0)
    again = draw(line, (0, 0), seed, 8)
    assert (again == draw(line, (0, 0), seed, 8)).all()
    assert seed == other or not (again == draw(line, (0, 0), other, 8)).all()


def test_any_number_of_workers_gives_the_same_answer(small_range: Range) -> None:
    """Word for word, with a spread of demand and stock."""
    lines = (*week_lines(6, 7, 9, sd=1.0), *week_lines(3, 3, 1, size="whole", sd=0.5))
    stock = {"cloth": [roll("R1", 2100.0, rest=True)]}
    one, three = (
        planned(
            small_range, lines, stock=stock, planned=2, budget=Budget(effort=1.0, workers=workers, seed=4)
        )
        for workers in (1, 3)
    )
    assert buying_json(one) == buying_json(three)
    assert lists(one) == lists(three)


def test_losses_and_pieces_add_up(small_range: Range) -> None:
    for purchase in planned(small_range, week_lines(7, 5)).purchases:
        need = purchase.need
        together = need.pieces + need.kept + sum(loss.amount for loss in need.losses)
        assert together == pytest.approx(need.consumed), purchase.material.key


def test_pieces_that_cannot_be_cut_are_told(tmp_path: Path, small_range: Range) -> None:
    """Boards of 1000 x 1000 from sheets that are smaller."""
    board = replace(small_range.materials["board"], length=900.0, width=900.0)
    plan = planned(small_range.with_material(board), week_lines(2, size="whole"), materials=["board"])
    assert notes(plan, plan.purchases[0])[0].startswith("2 pieces cannot be cut from it")


def test_a_forecast_from_file_to_orders(tmp_path: Path, small_range: Range) -> None:
    path = tmp_path / "forecast.csv"
    path.write_text("model,size,per week\nPlain,Half,40\n")
    plan = plan_buying(
        small_range, read_outlook(path, small_range, 6, first=MONDAY), materials=["cloth"], budget=BUDGET
    )
    orders = plan.purchases[0].schedule.orders
    assert [(order.placed, order.items) for order in orders] == [(1, 2), (2, 1), (3, 1), (4, 1), (5, 1)]
