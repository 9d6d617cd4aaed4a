"""Maps, lists and files of foam that is cut from several block sizes and from rests, and its account."""

from __future__ import annotations

import csv
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from nesting.drawing.cutlist import write_cut_list
from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.paper import PAPERS
from nesting.drawing.saw_plan_list import write_saw_plan
from nesting.drawing.saw_plan_views import saw_plan_views
from nesting.drawing.scene import Layer, Polygon, Scene, extent
from nesting.drawing.yield_list import write_foam_cost, write_foam_yield
from nesting.measures import shown_for
from nesting.model import (
    BlockMaterial,
    BlockSize,
    Demand,
    MaterialPlan,
    OrderShare,
    Panel,
    Plan,
    StockPiece,
    Workshop,
)
from nesting.packing import Skins
from nesting.planning import Budget, Watch, plan_material
from nesting.sawyield import foam_yield

FOAM = BlockMaterial(
    key="foam",
    name="Foam",
    length=2030,
    width=1030,
    height=530,
    skins=Skins(10, 20, 10, 20, 10, 20),
    kerf=1,
    density=40,
    price=100,
    rebond_price=0.5,
    sizes=(
        BlockSize(name="K1", length=2030, width=1030, height=530),
        BlockSize(name="K2", length=1030, width=1030, height=330),
    ),
)
REST = StockPiece(
    id="S-9", material="foam", length=1010, width=1000, height=120, remnant=True, place="foam rack"
)


@pytest.fixture(scope="module")
def stocked() -> MaterialPlan:
    """Slabs of 1000 x 1000 x 120 from a rest and a K2, and large ones from a K1 (invented)."""
    small = _demand("SM", 1000, 1000, 120, 3, ("A-1", "2026-12-01", 1), ("A-2", "2026-12-02", 2))
    large = _demand("LA", 2000, 1000, 124, 4, ("A-2", "2026-12-02", 4))
    plan = plan_material(FOAM, (small, large), Budget(effort=3), Watch(), threading.Event(), (REST,))
    assert sorted(layout.stock_key for layout in plan.layouts) == ["K1", "K2", "shelf S-9"]
    return plan


def _demand(
    code: str, length: float, width: float, thickness: float, count: int, *orders: tuple[str, str, int]
) -> Demand:
    panel = Panel(
        code=code,
        name=code,
        material="foam",
        length=length,
        width=width,
        thickness=thickness,
        turns=(0.0, 90.0),
    )
    shares = tuple(OrderShare(order=order, due=due, pieces=pieces) for order, due, pieces in orders)
    return Demand(key=code, panel=panel, model="Aster", size="single", quantity=count, orders=shares)


def _layout(plan: MaterialPlan, key: str) -> int:
    return next(index for index, layout in enumerate(plan.layouts) if layout.stock_key == key)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_layout_is_drawn_on_its_own_block(
    paper: str,
    stocked: MaterialPlan,
    plan_of: Callable[..., Plan],
    words_on: Callable[[Scene], list[str]],
    page_faults: Callable[[Scene, float], list[str]],
) -> None:
    """Raw size, skins and name are those of the block; everything can be read."""
    scenes = map_pages(plan_of(stocked), stocked, paper)
    for key, raw, skins, name in (
        ("K1", "2030 x 1030 x 530 mm", "10 / 20 / 10 / 20 / 10 / 20", "K1"),
        ("K2", "1030 x 1030 x 330 mm", "10 / 20 / 10 / 20 / 10 / 20", "K2"),
        ("shelf S-9", "1010 x 1000 x 120 mm", "0 / 0 / 0 / 0 / 0 / 0", "remnant S-9"),
    ):
        which = f"layout {_layout(stocked, key) + 1} of 3: {name};"
        mine = [scene for scene in scenes if which in scene.title]
        assert len(mine) >= 2  # the map and the saw plan
        text = " ".join(word for scene in mine for word in words_on(scene))
        for expected in (raw, skins, name):
            assert expected in text
    for scene in scenes:
        assert page_faults(scene, PAPERS[paper].least) == []


def test_drawings_at_true_size_have_the_size_of_their_block(stocked: MaterialPlan) -> None:
    """1010 x 1000 for the rest, 1030 x 1030 for the small block."""
    for key, sides in (("shelf S-9", (1010, 1000)), ("K2", (1030, 1030)), ("K1", (2030, 1030))):
        index = _layout(stocked, key)
        scene = machine_scene(stocked, index)
        boxes = [extent(item.points) for item in scene.items if isinstance(item, Polygon)]
        assert sides in {(round(b[2] - b[0], 3), round(b[3] - b[1], 3)) for b in boxes}
        views = saw_plan_views(stocked, index)
        stock = [
            extent(item.points)
            for view in views.values()
            for item in view.items
            if isinstance(item, Polygon) and item.layer is Layer.STOCK
        ]
        assert max(round(b[2] - b[0], 3) for b in stock) == sides[0]


def test_lists_name_the_block(stocked: MaterialPlan, tmp_path: Path) -> None:
    """In the saw plan, the cut list and the account."""
    write_saw_plan(stocked, tmp_path / "saw.csv")
    write_cut_list(stocked, tmp_path / "cut.csv")
    assert {row["from"] for row in _rows(tmp_path / "saw.csv")} == {"K1", "K2", "remnant S-9"}
    assert "S-9" in {row["stock"] for row in _rows(tmp_path / "cut.csv")}


def test_pieces_go_to_products_or_orders(
    stocked: MaterialPlan,
    plan_of: Callable[..., Plan],
    words_on: Callable[[Scene], list[str]],
    tmp_path: Path,
) -> None:
    """Pages, saw plan and cut list say which, and the orders due first get their pieces first."""
    pile = "pile Aster single LA"
    # Four cuts of one slab each are one line of the page, and four of the list.
    for group, words, each in (("product", pile, pile), ("order", "A-2 x4", "A-2 x1")):
        write_saw_plan(stocked, tmp_path / "saw.csv", group)
        write_cut_list(stocked, tmp_path / "cut.csv", group=group)
        heading = f"goes to (by {group})"
        assert each in {row[heading] for row in _rows(tmp_path / "saw.csv")}
        cells = {row[heading] for row in _rows(tmp_path / "cut.csv")}
        assert cells == (
            {"pile Aster single LA", "pile Aster single SM"} if group == "product" else {"A-1 x1", "A-2 x1"}
        )
        scenes = map_pages(plan_of(stocked), stocked, "A4", group=group)
        text = " ".join(word for scene in scenes for word in words_on(scene))
        assert words in text
        told = "pieces go to the pile" if group == "product" else "pieces go to their orders, earliest due"
        assert told in text


def test_heavy_parts_are_marked(
    stocked: MaterialPlan,
    plan_of: Callable[..., Plan],
    words_on: Callable[[Scene], list[str]],
    tmp_path: Path,
) -> None:
    """A K1 weighs 2.03 x 1.03 x 0.53 x 40 = 44.3 kg, above 25; a slab of it 2 x 1 x 0.124 x 40 = 9.92 kg."""
    scenes = map_pages(plan_of(stocked), stocked, "A4")
    words = [word for scene in scenes for word in words_on(scene)]
    assert "44.3 kg: two people or a lifting aid" in words
    assert "9.9" in words
    light = Workshop(units="inch")
    with shown_for(light):
        write_saw_plan(stocked, tmp_path / "saw.csv")
    rows = _rows(tmp_path / "saw.csv")
    assert "21.87" in {row["lb"] for row in rows}  # 9.92 kg over 0.45359237
    assert not any("lifting" in row["note"] for row in rows)


def test_the_account_adds_up_on_every_line(stocked: MaterialPlan, tmp_path: Path) -> None:
    """m3 of each block and of all; money of all; layers and beds by the rule."""
    write_foam_yield(stocked, "EUR", tmp_path / "yield.csv")
    rows = _rows(tmp_path / "yield.csv")
    parts = ("pieces m3", "rests kept m3", "clean scrap m3", "skins m3", "saw cuts m3")
    for row in rows:
        assert sum(float(row[part]) for part in parts) == pytest.approx(float(row["block m3"]), abs=4e-6)
        assert float(row["block kg"]) == pytest.approx(40 * float(row["block m3"]), abs=0.01)
        assert float(row["net cost EUR"]) == pytest.approx(
            float(row["cost EUR"]) - float(row["worth of rests kept EUR"]), abs=0.011
        )
        rebond = float(row["clean scrap kg"]) + float(row["skins kg"])
        assert float(row["rebond credit EUR"]) == pytest.approx(0.5 * rebond, abs=0.02)
    *each, total = rows
    for part in ("block m3", *parts, "cost EUR", "rebond credit EUR"):
        summed = sum(int(row["blocks"]) * float(row[part]) for row in each)
        assert float(total[part]) == pytest.approx(summed, abs=0.02)
    shelf = next(row for row in each if row["from"] == "remnant S-9")
    assert float(shelf["cost EUR"]) == pytest.approx(1.01 * 0.12 * 50, abs=0.01)
    write_foam_cost(stocked, "EUR", tmp_path / "cost.csv")
    costs = _rows(tmp_path / "cost.csv")
    layers = [row for row in costs if row["what"] == "layer"]
    counts = {demand.panel.code: demand.quantity for demand in stocked.demands}
    spent = sum(counts[row["code"]] * float(row["cost EUR"]) for row in layers)
    assert spent == pytest.approx(foam_yield(stocked).net, abs=0.01)
    (bed,) = [row for row in costs if row["what"] == "bed"]
    assert float(bed["cost EUR"]) == pytest.approx(sum(float(row["cost EUR"]) for row in layers), abs=1e-3)


def _rows(path: Path) -> list[dict[str, str]]:
    text = path.read_text(encoding="utf-8-sig")
    return list(csv.DictReader(text.splitlines()))
