"""Saw plans on paper and as a list."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest

from nesting.drawing.cuts import level_cuts, saw_lines
from nesting.drawing.dxf import write_views_dxf
from nesting.drawing.exploded import draw_exploded
from nesting.drawing.maps import map_pages
from nesting.drawing.output import draw_plan
from nesting.drawing.paper import PAPERS
from nesting.drawing.pieces import placed_pieces
from nesting.drawing.saw_plan_list import CSV_HEADINGS, saw_plan_table, write_saw_plan
from nesting.drawing.saw_plan_views import saw_plan_views
from nesting.drawing.scene import Polygon, Scene, Text
from nesting.drawing.sketch import Box, Sketch
from nesting.model import BlockMaterial, CutNode, Demand, Layout, MaterialPlan, Placement, Plan
from nesting.sawcuts import BLOCK
from nesting.sawplan import saw_plans


def pages_of(plan: Plan, foam: MaterialPlan, paper: str) -> list[Scene]:
    return [scene for scene in map_pages(plan, foam, paper) if "Saw plan." in scene.title]


@pytest.mark.parametrize("paper", ["A3", "A4"])
def test_every_block_layout_has_its_saw_plan(
    paper: str, plan: Plan, foam: MaterialPlan, words_on: Callable[[Scene], list[str]]
) -> None:
    """With raw size, rules, directions and caution; the list has every cut once, over all pages."""
    scenes = pages_of(plan, foam, paper)
    material = foam.material
    assert isinstance(material, BlockMaterial)
    for number, cutting in enumerate(saw_plans(foam), start=1):
        words = [
            word for scene in scenes if f"layout {number} of 2" in scene.title for word in words_on(scene)
        ]
        table = saw_plan_table(cutting, material, "")
        for row in table.rows:
            assert set(row.cells) - {""} <= set(words)
        text = " ".join(words)
        for expected in (
            "2100 x 2060 x 1080 mm",
            "from the left end (length)",
            "from the front side (width)",
            "from the bottom (thickness)",
            "to the near side of the blade",
            "push aids for small parts",
            "No hot wire on polyurethane",
            "Fresh blocks may heat up by themselves",
            "above 25 kg two people or a lifting aid",
            "keep blocks, stacks and scrap few",
            "Draw off dust",
            "The codes of the place of work",
            "pieces go to the pile of their product",
            "follow them once" if cutting.repeats == 1 else "follow them 3 times, once for each block",
        ):
            assert expected in text


def test_the_list_counts_pieces_parts_and_blocks(foam: MaterialPlan, tmp_path: Path) -> None:
    """Every piece of the layouts is freed as often as it lies there; each cut names its face and measure."""
    write_saw_plan(foam, tmp_path / "saw-plan.csv")
    with (tmp_path / "saw-plan.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert tuple(rows[0]) == tuple(
        name.format(unit="mm", mass="kg").replace("goes to", "goes to (by product)") for name in CSV_HEADINGS
    )
    freed: Counter[str] = Counter()
    for row in rows:
        if row["what"] == "piece":
            freed[row["frees"].split()[-1]] += int(row["in all"])
    panels = {demand.key: demand.panel.code for demand in foam.demands}
    laid: Counter[str] = Counter()
    for layout in foam.layouts:
        for place in layout.placements:
            laid[panels[place.key]] += layout.repeats
    assert freed == laid
    # By hand: bottom skin 20, ten sheets of 100 with saw cuts of 0.5 between them.
    slits = [row["measure mm"] for row in rows if (row["layout"], row["machine"]) == ("1", "slitter")]
    assert slits[:4] == ["19.5", "1045", "120", "220.5"]
    rails = [row for row in rows if row["frees"] == "no. 2 RA"]
    assert {row["goes to (by product)"] for row in rails} == {"pile Aster single RA"}
    assert {row["orders"] for row in rails if row["layout"] == "2"} == {"extra x1"}
    assert all(row["note"].startswith("push aid") == (row["machine"] == "vertical saw") for row in rails)


def test_views_of_the_map_carry_the_numbers_of_the_plan(
    plan: Plan, foam: MaterialPlan, words_on: Callable[[Scene], list[str]]
) -> None:
    """Sheet A is first cut from its own left end at 1910: no skin is left on it."""
    (cutting, _) = saw_plans(foam)
    first = next(cut for cut in cutting.cuts if cut.part == "sheet A")
    words = [word for scene in map_pages(plan, foam, "A3") for word in words_on(scene)]
    assert f"{first.number}: 1910" in words
    assert {"front side 2100", "left end 2060"} <= set(words)
    heights = level_cuts(cutting, BLOCK)
    assert [heights[z] for z in (19.5, 1045, 120, 220.5)] == [5, 6, 7, 8]
    assert {str(heights[120]), str(heights[220.5])} <= set(words)


def test_lines_in_plan_lie_in_the_middle_of_the_saw_cut(foam: MaterialPlan) -> None:
    """Sheet A begins at x 15, y 20; its first cut begins at 1910 and is 0.5 wide."""
    root = foam.layouts[0].cuts
    assert root is not None
    lines = list(saw_lines(saw_plans(foam)[0], root.parts[0], ("sheet", "strip")))
    assert (lines[0].start, lines[0].end) == ((1925.25, 20.0), (1925.25, 2040.0))
    assert [line.stage for line in lines] == [1, 1, *[2] * (len(lines) - 2)]
    assert {line.at for line in lines if line.stage == 2} == {910, 1820.5, 1920, 2019.5, 99}


def test_many_narrow_columns_can_be_read(
    plan_of: Callable[..., Plan],
    demand_of: Callable[..., Demand],
    material_plan_of: Callable[..., MaterialPlan],
    foam: MaterialPlan,
    page_faults: Callable[[Scene, float], list[str]],
) -> None:
    """Twenty columns of 100, of one slab of 1025 or two of 500: numbers keep clear of names."""
    high = demand_of("HI", "High slab", 100, 2020, thickness=1025, quantity=10)
    low = demand_of("LO", "Low slab", 100, 2020, thickness=500, quantity=20)
    parts, places = [], []
    for n in range(20):
        x = 15.0 + 100.5 * n
        if n % 2:
            leaf = CutNode(x, 20.0, 100.0, 2020.0, piece=len(places), z=20.0, height=1025.0)
            places.append(Placement(high.key, x, 20.0, z=20.0))
            parts.append(leaf)
            continue
        slabs = []
        for z in (20.0, 520.5):
            slabs.append(CutNode(x, 20.0, 100.0, 2020.0, piece=len(places), z=z, height=500.0))
            places.append(Placement(low.key, x, 20.0, z=z))
        slabs.append(CutNode(x, 20.0, 100.0, 2020.0, z=1021.0, height=24.0))
        parts.append(CutNode(x, 20.0, 100.0, 2020.0, "z", tuple(slabs), z=20.0, height=1025.0))
    parts.append(CutNode(2025.0, 20.0, 60.0, 2020.0, z=20.0, height=1025.0))
    root = CutNode(15.0, 20.0, 2070.0, 2020.0, "x", tuple(parts), z=20.0, height=1025.0)
    layout = Layout("foam-30", tuple(places), 2100.0, 1, root)
    item = material_plan_of(foam.material, [high, low], [layout])
    for paper, sheet in PAPERS.items():
        for scene in map_pages(plan_of(item), item, paper):
            assert page_faults(scene, sheet.least) == []


def test_the_exploded_block_shows_what_is_seen_from_the_front_right_above(foam: MaterialPlan) -> None:
    """Of ten alike sheets the tops of nine are hidden; the pads lie apart from them. All is in the box."""
    layout = foam.layouts[0]
    assert layout.cuts is not None
    assert isinstance(foam.material, BlockMaterial)
    sketch = Sketch()
    box = Box(10.0, 10.0, 160.0, 150.0)
    pieces = placed_pieces(foam, 0)
    plan = saw_plans(foam)[0]
    draw_exploded(sketch, box, foam.material, plan, layout.cuts, pieces, 2.0)
    for item in sketch.items:
        if isinstance(item, Polygon):
            assert all(box.left - 1e-6 <= x <= box.right + 1e-6 for x, _ in item.points)
            assert all(box.low - 1e-6 <= y <= box.high + 1e-6 for _, y in item.points)
    words = [item.words for item in sketch.items if isinstance(item, Text)]
    assert "10 x sheet A" in words
    assert "sheet B" in words
    # A slanted face is a top: no corner lies straight above another.
    tops = [
        item
        for item in sketch.items
        if isinstance(item, Polygon)
        and len(item.points) == 4
        and len({round(x, 3) for x, _ in item.points}) == 4
    ]
    on_a, on_b = 5 + 2, 2 + 2  # pieces and rests
    assert len(tops) == on_a + on_b


def test_views_at_true_size_have_a_layer_each(foam: MaterialPlan, tmp_path: Path) -> None:
    """Slit first: the side and two plans. Sawn first: the columns and their stacks. Nothing is scaled."""
    for index, names in ((0, {"SIDE", "PLAN_A", "PLAN_B"}), (1, {"COLUMNS", "STACKS_1"})):
        views = saw_plan_views(foam, index)
        assert set(views) == names
        path = tmp_path / f"{index}.dxf"
        write_views_dxf(views, path)
        document = ezdxf.readfile(path)
        audit = document.audit()
        assert (audit.errors, audit.fixes) == ([], [])
        assert document.header["$INSUNITS"] == 4
        assert {entity.dxf.layer for entity in document.modelspace()} == names
        sizes = {name: set() for name in names}
        for line in document.query("LWPOLYLINE"):
            xs, ys = zip(*line.get_points("xy"), strict=True)
            sizes[line.dxf.layer].add((round(max(xs) - min(xs), 3), round(max(ys) - min(ys), 3)))
        raw = {"SIDE": (2100, 1080), "PLAN_A": (2100, 2060), "PLAN_B": (2100, 2060), "COLUMNS": (2100, 2060)}
        for name in names & set(raw):
            assert raw[name] in sizes[name]
        if index == 0:
            assert (1910, 910) in sizes["PLAN_A"]
            assert (2070, 100) in sizes["SIDE"] or (2100, 100) in sizes["SIDE"]
        else:
            assert {height for _, height in sizes["STACKS_1"]} >= {1025, 100}


def test_saw_plans_are_written_for_blocks_only(plan: Plan, foam: MaterialPlan, tmp_path: Path) -> None:
    """And not for a block without a tree of cuts."""
    draw_plan(plan, tmp_path / "all", "A4")
    written = sorted(path.relative_to(tmp_path / "all").as_posix() for path in tmp_path.rglob("saw-plan*"))
    assert written == [f"foam-30/saw-plan{end}" for end in ("-01.dxf", "-02.dxf", ".csv")]
    bare = replace(foam, layouts=(replace(foam.layouts[0], cuts=None),))
    draw_plan(replace(plan, materials=(bare,)), tmp_path / "bare", "A4")
    assert list((tmp_path / "bare").rglob("saw-plan*")) == []
    assert pages_of(plan, bare, "A4") == []
