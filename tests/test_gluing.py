"""Glued layers in plans: parts with demands of their own, orders, notes, lists and drawings."""

from __future__ import annotations

import csv
import datetime
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from nesting.catalogue import check, load_range
from nesting.drawing import draw_plan
from nesting.drawing.glue_list import glue_list_rows
from nesting.drawing.maps import map_pages
from nesting.errors import InputError
from nesting.model import Plan
from nesting.orders import OrderBook, OrderLine, demand_by_material
from nesting.planfile import plan_from_json, plan_to_json
from nesting.planning import Budget, make_plan

RANGE = """
[range]
name = "Invented"
currency = "EUR"
[allowances]
foam_oversize = 0
[sizes.single]
name = "Single"
width = 1000
length = 2000
[materials.foam]
name = "Foam"
kind = "block"
length = 2000
width = 1500
height = 200
density = 30
price = 100
[models.m]
name = "Mia"
height = 200
sizes = ["single"]
[[models.m.panels]]
generator = "foam slab"
code = "UL"
name = "Under-layer"
material = "foam"
thickness = 100
joins = 1
joint_line = "along"
joint_apart = 0
joint_cost = 0.5
[[models.m.panels]]
generator = "foam slab"
code = "CR"
name = "Core"
material = "foam"
thickness = 300
laminate_from = [100]
laminated_only = true
"""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("glue") / "range.toml"
    file.write_text(RANGE, encoding="utf-8")
    return file


def book(*quantities: int) -> OrderBook:
    lines = tuple(
        OrderLine(
            order=f"A-{n}",
            due=datetime.date(2026, 12, n),
            model_key="m",
            size_key="single",
            quantity=quantity,
            row=n + 1,
        )
        for n, quantity in enumerate(quantities, start=1)
    )
    return OrderBook("orders.csv", lines)


@pytest.fixture(scope="module")
def plan(path: Path) -> Plan:
    """Three beds, so three under-layers and nine layers of cores, 1000 wide and 100 thick, all from 1500.

    Every sheet of 2000 x 1500 holds one slab and half of another.
    """
    return make_plan(load_range(path), book(2, 1), budget=Budget(effort=20))


def test_layers_are_glued_to_save_blocks(plan: Plan) -> None:
    """Twelve sheets of 1000 leave twelve strips of 500; two strips make an under-layer.

    9 core sheets hold 9 strips: three under-layers take 6. So nine sheets, five blocks of two instead of
    six. By hand.
    """
    (part,) = plan.materials
    assert sum(layout.repeats for layout in part.layouts) == 5
    lines = {layer.panel.code: layer for layer in part.glued}
    assert lines["CR"].line == "layers" and lines["CR"].joints == (100, 200)
    assert lines["UL"].line == "along" and lines["UL"].joints == (500,)
    assert any("glued up" in note and "for gluing" in note for note in part.notes)


def test_every_part_has_a_demand_and_every_order_its_layers(plan: Plan) -> None:
    """What lies in the layouts is what is demanded, size by size and order by order."""
    (part,) = plan.materials
    placed: Counter[str] = Counter()
    for layout in part.layouts:
        for placement in layout.placements:
            assert placement.part is None
            placed[placement.key] += layout.repeats
    assert placed == {demand.key: demand.quantity for demand in part.demands}
    for demand in part.demands:
        assert sum(share.pieces for share in demand.orders) == demand.quantity
    for layer in part.glued:
        assert sum(share.pieces for share in layer.orders) == layer.copies
    layers: Counter[str] = Counter()
    for code, key in (("CR", "CR"), ("UL", "UL")):
        whole = sum(d.quantity for d in part.demands if d.panel.code == key)
        layers[code] = whole + sum(layer.copies for layer in part.glued if layer.panel.code == code)
    assert layers == {"CR": 3, "UL": 3}


def test_parts_say_what_they_are_glued_to(plan: Plan) -> None:
    """In the name that stands in every list."""
    (part,) = plan.materials
    names = {demand.panel.name for demand in part.demands}
    assert "Core, parts 1, 2, 3 of 3, glue together" in names


def test_plans_with_glued_layers_are_saved_whole(plan: Plan) -> None:
    """Written and read back they are the same."""
    assert plan_from_json(plan_to_json(plan), "plan.json") == plan


def test_the_glue_list_adds_up(plan: Plan, tmp_path: Path) -> None:
    """As many parts as are cut, and a file of its own."""
    (part,) = plan.materials
    rows = list(glue_list_rows(part))
    for row in rows:
        assert part.demands[row.part - 1].quantity == row.in_all
        assert part.demands[row.part - 1].panel.code == row.part_code
    written = draw_plan(plan, tmp_path)
    file = next(item for item in written if item.name == "glue-list.csv")
    with file.open(encoding="utf-8-sig") as stream:
        assert len(list(csv.DictReader(stream))) == len(rows)


def test_every_glued_layer_is_drawn(plan: Plan) -> None:
    """On the last page, with its name and the measure of its joint."""
    (part,) = plan.materials
    words = [getattr(item, "words", "") for item in map_pages(plan, part)[-1].items]
    for layer in part.glued:
        assert any(text.startswith(f"{layer.name}:") for text in words)
    assert "500" in words and "left side" in words
    assert any("data sheet" in text for text in words)


def test_without_gluing_nothing_of_it_is_said(plan: Plan) -> None:
    """No page and no list."""
    (part,) = plan.materials
    plain = replace(part, glued=())
    assert len(map_pages(plan, plain)) == len(map_pages(plan, part)) - 1


def test_pads_are_paired_over_all_orders(path: Path, tmp_path: Path) -> None:
    """2 + 1 + 2 pads are three slabs, one pad over; the slab between two orders names both. By hand."""
    file = tmp_path / "pads.toml"
    pad = 'generator = "convoluted pad"\ncode = "CP"\nname = "Pad"\nmaterial = "foam"\n'
    pads = (
        RANGE[: RANGE.index("[[models")] + f"[[models.m.panels]]\n{pad}thickness = 45\npeak = 30\npads = 1\n"
    )
    file.write_text(pads, encoding="utf-8")
    range_ = load_range(file)
    (demand,) = demand_by_material(range_, book(3, 1, 1).lines)["foam"]
    assert (demand.quantity, demand.spare) == (3, 1)
    assert [(share.order, share.pieces) for share in demand.orders] == [
        ("A-1", 1),
        ("A-1 + A-2", 1),
        ("A-3", 1),
    ]
    made = make_plan(range_, book(3, 1, 1), budget=Budget(effort=2))
    assert "CP Mia Single: 3 slabs for 5, 1 over." in made.materials[0].notes
    # Sold by volume: three slabs of 2000 x 1000 x 60 hold six pads, each half of one.
    assert made.materials[0].figures.pieces == pytest.approx(3 * 2 * 1 * 0.06)


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("joins = 1", "joins = 1\npieces = 2", "pieces"),
        ("joins = 1", "joins = 1\njoint_keep_clear = [300, 400]", "joint_keep_clear"),
        ("laminate_from = [100]", "laminate_from = [70]", "laminate_from"),
    ],
)
def test_faults_in_a_range_file_are_named(tmp_path: Path, old: str, new: str, place: str) -> None:
    """Two copies with joints, a stretch that is no pair, slabs that do not add up."""
    file = tmp_path / "range.toml"
    file.write_text(RANGE.replace(old, new), encoding="utf-8")
    try:
        findings = check(load_range(file))
    except InputError as error:
        findings = tuple(error.findings)
    assert any(place in finding.place for finding in findings)


def test_layers_are_counted_as_they_are_listed(tmp_path: Path) -> None:
    """The second layer with joints has them on the other side of the middle; `layer` says otherwise."""
    second = '[[models.m.panels]]\ngenerator = "foam slab"\ncode = "ML"\nname = "Middle"\nmaterial = "foam"\n'
    second += "thickness = 50\njoins = 1\njoint_keep_clear = [[1200, 1300]]\n"
    spans = []
    for more in ("", "layer = 1\n"):
        file = tmp_path / "range.toml"
        file.write_text(RANGE + second + more, encoding="utf-8")
        panels = load_range(file).panels("m", "single")
        glue = next(panel.glue for panel in panels if panel.code == "ML")
        assert glue is not None
        spans.append(glue.spans)
    assert spans == [((1050, 1200), (1300, 1750)), ((250, 950),)]
