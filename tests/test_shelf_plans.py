"""Plans on what stands on the shelf: rolls of their own width, length and flaws, bars, sheets."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.catalogue import load_range
from nesting.errors import LayoutError
from nesting.issued import verify_issue
from nesting.model import (
    Demand,
    Flaw,
    Material,
    MaterialPlan,
    OrderShare,
    Panel,
    Plan,
    RollMaterial,
    SheetMaterial,
    StockPiece,
)
from nesting.orders import load_orders
from nesting.packing.problem import Trim
from nesting.planfile import plan_from_json, plan_to_json
from nesting.planning import Budget, Watch, make_plan, plan_material
from nesting.reports.summary import summary, summary_rows
from nesting.stock.listfile import read_stock_list
from nesting.stock.shelves import shelves

QUICK = Budget(effort=3)
CLOTH = RollMaterial(
    key="cloth",
    name="Cloth",
    width=1040,
    edge_trim=20,
    roll_length=20_000,
    end_loss=20,
    grain="one-way",
    price=10,
    min_remnant=1000,
)


def wanted(
    key: str, length: float, width: float, quantity: int, orders: Sequence[OrderShare] = (), model: str = "M"
) -> Demand:
    """So many rectangles."""
    panel = Panel(code=key, name=key, material="cloth", length=length, width=width)
    return Demand(key=key, panel=panel, model=model, size="S", quantity=quantity, orders=tuple(orders))


def planned(
    material: Material, demands: Sequence[Demand], stock: Sequence[StockPiece], *, new: bool = True
) -> MaterialPlan:
    """A quick plan; it is verified as it is made."""
    return plan_material(material, tuple(demands), QUICK, Watch(), threading.Event(), stock, new=new)


def roll(id_: str, length: float, width: float = 1000, *flaws: Flaw, **more: object) -> StockPiece:
    """A roll of cloth."""
    return StockPiece(id=id_, material="cloth", length=length, width=width, flaws=flaws, **more)  # type: ignore[arg-type]


def check(plan: MaterialPlan) -> None:
    """The account adds up, and every piece of every ply lies on its roll and on no flaw, measured anew."""
    figures = plan.figures
    total = figures.pieces + sum(loss.amount for loss in figures.losses) + figures.remnants
    assert total == pytest.approx(figures.consumed, rel=1e-9, abs=1e-9)
    assert all(loss.amount > 0 for loss in figures.losses)
    pieces = {piece.id: piece for piece in plan.shelf}
    assert set(pieces) == {use.piece for use in plan.stock if use.piece}
    panels = {demand.key: demand.panel for demand in plan.demands}
    end_loss = plan.material.end_loss if isinstance(plan.material, RollMaterial) else 0.0
    for use in plan.stock:
        piece = pieces.get(use.piece)
        if piece is None or not isinstance(plan.material, RollMaterial):
            continue
        assert use.used + use.rest == pytest.approx(piece.length)
        assert use.rest >= -1e-6
        for (index, plies), start in zip(use.cuts, use.starts, strict=True):
            layout = plan.layouts[index]
            for ply in range(plies):
                begin = start + ply * (layout.length + 2 * end_loss) + end_loss
                assert begin + layout.length + end_loss <= use.used + 1e-6
                for spot in layout.placements:
                    panel = panels[spot.key]
                    assert spot.y + panel.width <= piece.width + 1e-6
                    for flaw in piece.flaws:
                        top = piece.width if flaw.y1 is None else flaw.y1
                        apart = (
                            begin + spot.x >= flaw.x1 - 1e-6
                            or begin + spot.x + panel.length <= flaw.x0 + 1e-6
                            or spot.y >= top - 1e-6
                            or spot.y + panel.width <= flaw.y0 + 1e-6
                        )
                        assert apart, (use.name, flaw, spot)


def test_a_rest_is_used_up_before_a_new_roll_is_cut() -> None:
    """Four pieces of 1000 with both ends need 4040 in one marker: a rest of 5 m is worth half a new one."""
    plan = planned(CLOTH, [wanted("A", 1000, 1000, 4)], [roll("X-1", 5000, remnant=True)])
    check(plan)
    (use,) = plan.stock
    assert (use.piece, use.used, use.rest) == ("X-1", 4040, 960)
    assert plan.figures.value == pytest.approx(4040 * 0.5)
    # The 960 left are too short to keep; the whole rest is consumed, at half of 10 a metre.
    assert plan.figures.cost == pytest.approx(5.0 * 10 * 0.5)
    assert {loss.cause for loss in plan.figures.losses} == {"ends of plies", "roll ends too short"}


def test_what_is_on_the_shelf_goes_before_what_must_be_bought() -> None:
    """A roll as good as a new one, and one a little shorter, are cut; nothing new is."""
    stock = [roll("R-1", 20_000), roll("R-2", 19_500)]
    plan = planned(CLOTH, [wanted("A", 1900, 1000, 18)], stock)
    check(plan)
    assert {use.piece for use in plan.stock} == {"R-1", "R-2"}


def test_a_flaw_across_is_jumped_by_the_least_that_must_be() -> None:
    """Two pieces of 1000 end at 2020; the flaw is at 2500 to 2600, so the next ply begins at 2580.

    Its pieces then lie from 2600 to 4600, and it ends at 4620.
    """
    plan = planned(
        CLOTH, [wanted("A", 1000, 1000, 4)], [roll("R-1", 5000, 1000, Flaw(2500, 2600))], new=False
    )
    check(plan)
    (use,) = plan.stock
    assert use.starts == (0.0, 2580.0)
    assert (use.used, use.rest) == (4620, 380)
    losses = {loss.cause: loss.amount for loss in plan.figures.losses}
    # Between the plies 2040 to 2580 are skipped: 80 of them are the flaw, and 20 more lie in an end.
    assert losses["flaws"] == pytest.approx(0.08)
    assert losses["skipped for flaws"] == pytest.approx(0.46)
    assert losses["ends of plies"] == pytest.approx(0.08)


def test_a_sound_stretch_before_a_flaw_is_kept_when_nothing_fits_there() -> None:
    """Pieces of 3000 do not fit before a flaw at 2500: what is sound there is worth keeping."""
    plan = planned(
        CLOTH, [wanted("A", 3000, 1000, 1)], [roll("R-1", 6000, 1000, Flaw(2500, 2600))], new=False
    )
    check(plan)
    assert plan.stock[0].starts == (2580.0,)
    kept = [(remnant.source, remnant.length, remnant.width) for remnant in plan.remnants]
    assert kept == [("R-1, from 0 mm to 2500 mm", 2500, 1000)]
    assert plan.notes == ("Keep the sound stretch of R-1, from 0 mm to 2500 mm.",)
    # They go back on the shelf, as a long end would; the end of 380 is too short to keep.
    assert plan.figures.roll_length == pytest.approx(5.620 - 2.5 + 0.38)
    assert plan.figures.remnants == 0


def test_pieces_lie_beside_a_flaw_that_leaves_room() -> None:
    """A flaw of 300 across leaves 700: a piece of 700 lies there, one of 1000 does not."""
    flawed = roll("R-1", 2040, 1000, Flaw(0, 2040, 0, 300))
    plan = planned(CLOTH, [wanted("A", 2000, 700, 1), wanted("B", 2000, 1000, 1)], [flawed], new=False)
    check(plan)
    assert [spot.key for layout in plan.layouts for spot in layout.placements] == ["A"]
    assert plan.layouts[0].placements[0].y >= 300
    assert set(plan.missing) == {"B"}


def test_markers_alike_on_rolls_of_one_width_are_one_layout() -> None:
    """The same marker laid on three rolls is drawn once, with a start on each."""
    stock = [roll(f"R-{number}", 4040 + number, remnant=True) for number in range(3)]
    plan = planned(CLOTH, [wanted("A", 2000, 1000, 6)], stock)
    check(plan)
    assert len(plan.stock) == 3
    (layout,) = plan.layouts
    assert sum(plies for use in plan.stock for _, plies in use.cuts) == layout.repeats


def test_a_narrow_rest_only_takes_what_fits_its_width() -> None:
    """Pieces of 1000 go on new cloth and those of 600 on the rest of 600; each roll keeps its own width."""
    stock = [roll("X-1", 4100, 600, remnant=True)]
    plan = planned(CLOTH, [wanted("A", 2000, 1000, 2), wanted("B", 2000, 600, 2)], stock)
    check(plan)
    on_rest = next(use for use in plan.stock if use.piece == "X-1")
    assert {spot.key for index, _ in on_rest.cuts for spot in plan.layouts[index].placements} == {"B"}


def test_without_new_material_the_rest_is_missing() -> None:
    """One roll of 4 m holds two pieces of 1900; an empty shelf holds none, and says so."""
    demands = [wanted("A", 1900, 1000, 5)]
    plan = planned(CLOTH, demands, [roll("R-1", 4000)], new=False)
    check(plan)
    assert plan.missing["A"].quantity == 3
    empty = planned(CLOTH, demands, [], new=False)
    assert empty.missing["A"] == (5, "nothing of it is on the shelf")
    assert empty.figures.consumed == 0


def test_tapes_are_cut_from_the_sound_stretches_of_real_lengths() -> None:
    """A rest of 6200 holds three of 1000 before its flaw and three behind it; a new roll costs more."""
    tape = replace(CLOTH, width=40, edge_trim=0, process="lengths", end_loss=0, roll_length=10_000)
    rest = roll("X-1", 6200, 40, Flaw(3050, 3150), remnant=True)
    plan = planned(tape, [wanted("A", 1000, 0, 6)], [rest])
    (use,) = plan.stock
    assert (use.piece, use.starts, use.used) == ("X-1", (0.0, 3150.0), 6150)
    figures = plan.figures
    total = figures.pieces + sum(loss.amount for loss in figures.losses) + figures.remnants
    assert total == pytest.approx(figures.consumed)
    seven = planned(tape, [wanted("A", 1000, 0, 7)], [rest], new=False)
    assert seven.missing["A"].quantity == 1


def test_rests_of_sheets_go_first_where_that_saves_money() -> None:
    """A rest has no rim: 500 x 500 takes a piece as large. It costs an eighth of a sheet."""
    board = SheetMaterial(
        key="cloth", name="Board", length=1000, width=1020, trim=Trim(10, 10, 10, 10), price=8.0
    )
    rest = StockPiece(id="S-1", material="cloth", length=500, width=500, remnant=True)
    whole = StockPiece(id="S-2", material="cloth", length=1000, width=1020)
    plan = planned(board, [wanted("A", 490, 500, 5)], [rest, whole])
    check(plan)
    assert {use.piece for use in plan.stock} == {"S-1", "S-2"}
    assert plan.figures.stock_count == 2
    share = 500 * 500 / (1000 * 1020)
    assert plan.figures.cost == pytest.approx(8.0 * (1 + share / 2))
    assert plan.figures.consumed == pytest.approx(0.25 + 1.02)


FAULTS = {
    "lies on the flaw": lambda use: replace(use, starts=(0.0, 2100.0)),
    "before the end of another": lambda use: replace(use, starts=(0.0, 1000.0)),
    "are used and": lambda use: replace(use, rest=use.rest + 5),
    "are used.": lambda use: replace(use, used=use.used - 100, rest=use.rest + 100),
    "are issued; it is cut": lambda use: replace(use, cuts=use.cuts[:1], starts=use.starts[:1]),
}


@pytest.mark.parametrize("words", FAULTS)
def test_the_check_of_issues_names_every_fault(words: str) -> None:
    """What is right passes; plies moved onto flaws or each other, or left out, do not."""
    piece = roll("R-1", 5000, 1000, Flaw(2500, 2600))
    plan = planned(CLOTH, [wanted("A", 1000, 1000, 4)], [piece], new=False)
    (use,) = plan.stock
    cut = Counter({"A": 4})
    verify_issue(CLOTH, plan.demands, plan.layouts, (use,), [piece], cut)
    with pytest.raises(LayoutError, match=words):
        verify_issue(CLOTH, plan.demands, plan.layouts, (FAULTS[words](use),), [piece], cut)
    with pytest.raises(LayoutError, match="issued 2 times"):
        verify_issue(CLOTH, plan.demands, plan.layouts, (use, use), [piece], cut)
    with pytest.raises(LayoutError, match="in the place of"):
        verify_issue(CLOTH, plan.demands, plan.layouts, (use,), [piece], Counter({"A": 5}))


@st.composite
def cases(draw: st.DrawFn) -> tuple[RollMaterial, list[Demand], list[StockPiece]]:
    """Small materials, what is wanted of them, and rolls with flaws."""
    material = replace(
        CLOTH,
        end_loss=draw(st.sampled_from([0.0, 20.0])),
        gap=draw(st.sampled_from([0.0, 3.0, 50.0])),
        process=draw(st.sampled_from(["free knife", "guillotine 2", "guillotine 3"])),
        max_marker_length=draw(st.sampled_from([None, 3000.0])),
    )
    demands = [
        wanted(
            f"P{number}",
            draw(st.integers(100, 1500)),
            draw(st.integers(100, 900)),
            draw(st.integers(1, 6)),
        )
        for number in range(draw(st.integers(1, 3)))
    ]
    rolls = []
    for number in range(draw(st.integers(1, 3))):
        length = draw(st.integers(1000, 9000))
        flaws = []
        for _ in range(draw(st.integers(0, 3))):
            x0, y0 = draw(st.integers(0, length - 1)), draw(st.integers(0, 800))
            x1 = x0 + draw(st.integers(1, 400))
            flaws.append(Flaw(x0, x1, y0, draw(st.none() | st.integers(y0 + 1, 1000))))
        width = draw(st.integers(500, 1040))
        rolls.append(roll(f"R-{number}", length, width, *flaws, remnant=draw(st.booleans())))
    return material, demands, rolls


@settings(max_examples=40, deadline=None)
@given(cases(), st.booleans())
def test_any_shelf_gives_a_plan_that_is_true(
    case: tuple[RollMaterial, list[Demand], list[StockPiece]], new: bool
) -> None:
    """Nothing is lost or cut twice, nothing lies on a flaw, every account adds up."""
    material, demands, rolls = case
    budget = Budget(effort=0.2)
    plan = plan_material(material, tuple(demands), budget, Watch(), threading.Event(), rolls, new=new)
    figures = plan.figures
    total = figures.pieces + sum(loss.amount for loss in figures.losses) + figures.remnants
    assert total == pytest.approx(figures.consumed, rel=1e-6, abs=1e-6)
    cut: Counter[str] = Counter()
    for layout in plan.layouts:
        for spot in layout.placements:
            cut[spot.key] += layout.repeats
    for demand in demands:
        missing = plan.missing[demand.key].quantity if demand.key in plan.missing else 0
        assert cut[demand.key] + missing == demand.quantity
    if new:
        assert not plan.missing or material.max_marker_length or material.process != "free knife"


def test_the_demo_stock_is_cut(patterns: Path) -> None:
    """Its rolls and boards are there to be used; every plan is true."""
    range_ = load_range(patterns / "demo-range.toml")
    book = load_orders(patterns / "demo-orders.csv", range_)
    stock = shelves(read_stock_list(patterns / "demo-stock.csv", range_))
    some = ["quilt-plush", "base-cloth", "waxed-board"]
    plan = make_plan(range_, book, materials=some, budget=QUICK, stock=stock)
    for part in plan.materials:
        check(part)
        assert not part.missing
        assert {piece.id for piece in stock[part.material.key]} >= {piece.id for piece in part.shelf}
        assert part.shelf


def test_a_plan_on_stock_comes_back_from_its_file_and_its_summary_names_the_pieces() -> None:
    """Pieces, places and flaws survive `plan.json`."""
    part = planned(CLOTH, [wanted("A", 1000, 1000, 4)], [roll("R-1", 5000, 1000, Flaw(2500, 2600), lot="L")])
    plan = Plan(
        range_name="R",
        range_file="r.toml",
        orders_file="o.csv",
        currency="EUR",
        made="2026-12-01",
        version="0",
        seed=0,
        first_due="",
        last_due="",
        beds=1,
        materials=(part,),
    )
    assert plan_from_json(plan_to_json(plan), "plan.json") == plan
    (listed,) = summary(plan)["stock"]
    assert (listed["piece"], listed["lot"], listed["used mm"]) == ("R-1", "L", 4620.0)
    assert summary_rows(plan)[0]["planned in"] == "m of new roll in worth"
