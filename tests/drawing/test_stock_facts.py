"""Maps tell which roll is cut and show its flaws where they lie."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest

from nesting.drawing.cutlist import cut_list_rows
from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.scene import Layer, Polygon, Scene, Text, extent
from nesting.drawing.stock_facts import flaw_lines, seen_flaws, stock_lines, stock_material, stock_words
from nesting.model import Demand, Flaw, MaterialPlan, Panel, Plan, RollMaterial, StockPiece
from nesting.planning import Budget, Watch, plan_material

CLOTH = RollMaterial(
    key="c", name="Cloth", width=1040, edge_trim=20, roll_length=20_000, end_loss=20, grain="one-way"
)
ROLL = StockPiece(
    id="R-7",
    material="c",
    length=6000,
    width=980,
    lot="L3",
    place="A-1",
    flaws=(Flaw(2500, 2600), Flaw(3000, 3100, 0, 300)),
)


def plan_of(*stock: StockPiece, quantity: int = 3) -> Plan:
    """Pieces of 1000 x 600 on some rolls."""
    panel = Panel(code="TP", name="Top", material="c", length=1000, width=600)
    wanted = Demand(key="TP", panel=panel, model="M", size="S", quantity=quantity)
    part = plan_material(CLOTH, (wanted,), Budget(effort=3), Watch(), threading.Event(), stock, new=not stock)
    return Plan(
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


@pytest.fixture(scope="module")
def flawed() -> Plan:
    """Two pieces before the flaw across, one behind it beside the other flaw."""
    return plan_of(ROLL)


def words(scene: Scene) -> str:
    """All that is written on a page."""
    return " ".join(item.words for item in scene.items if isinstance(item, Text))


def behind(part: MaterialPlan) -> int:
    """Index of the marker behind the flaw across."""
    (use,) = part.stock
    return next(index for (index, _), start in zip(use.cuts, use.starts, strict=True) if start > 2000)


def test_flaws_are_told_from_the_marker_and_from_the_roll(flawed: Plan) -> None:
    """The ply begins at 2580, so the marker at 2600: the second flaw is 400 to 500 mm along it."""
    (part,) = flawed.materials
    index = behind(part)
    across, beside = seen_flaws(part, index)
    assert (across.name, across.x0, across.x1, across.on_roll) == ("F1", -100, 0, "2.50-2.60 m")
    assert (beside.name, beside.x0, beside.x1, beside.y0, beside.y1) == ("F2", 400, 500, 0, 300)
    (line,) = flaw_lines((across, beside), part.layouts[index].length, 980)
    assert "DO NOT CUT" in line
    assert "F1 2.50-2.60 m of the roll, just before the marker, across the whole width" in line
    assert "F2 3.00-3.10 m of the roll, here 400-500 mm, 0-300 mm from the lower edge" in line
    assert "just behind the marker" in flaw_lines((replace(beside, x0=1000, x1=1010),), 1000, 980)[0]


def test_a_map_names_the_roll_its_size_and_the_place_of_the_marker(flawed: Plan) -> None:
    """Its own width, not the nominal one."""
    (part,) = flawed.materials
    index = behind(part)
    assert stock_material(part, index) == replace(CLOTH, width=1040, measured_width=980, roll_length=6000)
    (line,) = stock_lines(part, index)
    assert line.startswith("Lay 1 ply from R-7 (lot L3, at A-1, 980 wide, 6000 long): from 2.58 m to ")
    pages = map_pages(flawed, part)
    text = words(pages[index])
    assert "R-7" in text
    assert "1040 / 980 mm" in text
    assert "F2" in text


def test_flaws_are_drawn_where_they_lie(flawed: Plan) -> None:
    """On the machine's drawing at true size, on a layer of their own; on the page hatched."""
    (part,) = flawed.materials
    index = behind(part)
    drawn = [
        extent(item.points)
        for item in machine_scene(part, index).items
        if isinstance(item, Polygon) and item.layer is Layer.FLAWS
    ]
    assert (400, 0, 500, 300) in drawn
    assert (-100, 0, 0, 980) in drawn
    page = [item for item in map_pages(flawed, part)[index].items if isinstance(item, Polygon)]
    zones = [item for item in page if item.layer is Layer.FLAWS and item.style is None]
    assert len(zones) == 2
    pieces = [
        extent(item.points)
        for item in machine_scene(part, index).items
        if isinstance(item, Polygon) and item.layer is Layer.PIECES
    ]
    assert len(pieces) == len(part.layouts[index].placements)
    for left, low, right, high in pieces:
        for x0, y0, x1, y1 in drawn:
            assert min(right, x1) <= max(left, x0) or min(high, y1) <= max(low, y0)


def test_lists_name_the_roll_and_the_metre(flawed: Plan) -> None:
    """Every row of the cut list; nothing is said where nothing is from the shelf."""
    (part,) = flawed.materials
    rows = list(cut_list_rows(part))
    assert {row.stock for row in rows} == {stock_words(part, index) for index in range(len(part.layouts))}
    assert any(row.stock == "R-7 from 2.58 m" for row in rows)
    (plain,) = plan_of().materials
    assert {row.stock for row in cut_list_rows(plain)} == {""}
    assert stock_lines(plain, 0) == ()
    assert seen_flaws(plain, 0) == ()


def test_a_marker_on_several_rolls_names_the_first_of_them() -> None:
    """Six rolls of one piece each: three lines, and how many more."""
    rolls = [StockPiece(id=f"R-{n}", material="c", length=1040, width=700) for n in range(6)]
    (part,) = plan_of(*rolls, quantity=6).materials
    (layout,) = part.layouts
    assert layout.repeats == 6
    lines = stock_lines(part, 0)
    assert len(lines) == 4
    assert "And from 3 more" in lines[-1]
    assert stock_words(part, 0).count("from 0.00 m") == 6
