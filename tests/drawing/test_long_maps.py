"""Long blocks, standing slabs and outlines on maps and lists."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from nesting.drawing.cutlist import cut_list_rows
from nesting.drawing.dxf import write_dxf
from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.marked_boxes import marked_parts
from nesting.drawing.pieces import lying_size, placed_pieces
from nesting.drawing.saw_plan_list import write_saw_plan
from nesting.drawing.saw_plan_views import saw_plan_views
from nesting.drawing.scene import Layer, Line, Polygon, Scene, extent
from nesting.model import BlockMaterial, Demand, MaterialPlan, Panel, Plan
from nesting.packing import Kerfs, Skins, solve, verify
from nesting.panels.geometry import quarter_round
from nesting.reports.statistics import account, remnants_of
from nesting.requests import problem_for
from nesting.sawplan import saw_plans

TRIANGLE = ((0.0, 0.0), (120.0, 0.0), (0.0, 120.0))
ANY = (0.0, 90.0, 180.0, 270.0)


def wanted(code: str, sides: tuple[float, float, float], quantity: int, **more: object) -> Demand:
    """Invented slabs."""
    panel = Panel(
        code=code,
        name=code,
        material="foam",
        length=sides[0],
        width=sides[1],
        thickness=sides[2],
        turns=more.pop("turns", (0.0, 90.0)),  # type: ignore[arg-type]
        **more,  # type: ignore[arg-type]
    )
    return Demand(key=code, panel=panel, model="Aster", size="single", quantity=quantity)


@pytest.fixture(scope="module")
def planned() -> MaterialPlan:
    """Cores from a block of 20 m, cut to at most 2.2 m, with rails that may stand and shaped supports."""
    material = BlockMaterial(
        key="foam",
        name="Foam, long",
        length=20_000,
        width=2060,
        height=1080,
        cut_to=2200,
        skins=Skins(15, 15, 20, 20, 20, 35),
        kerf=Kerfs(0.5, 2),
        density=30,
        price=100,
    )
    demands = (
        wanted("CO", (1910, 910, 140), 25),
        wanted("RA", (1910, 60, 1030), 11, standing=True),  # higher than the block: it has to stand
        wanted("CT", (120, 120, 160), 21, outline=TRIANGLE, turns=ANY),
        wanted("CQ", (100, 100, 90), 40, outline=quarter_round(100), turns=ANY),
    )
    problem = problem_for(material, demands)
    answer = solve(problem, time_limit=None, effort=5)
    verify(problem, answer)
    assert not answer.missing
    return MaterialPlan(
        material=material,
        demands=demands,
        layouts=answer.layouts,
        missing={},
        stock=(),
        remnants=remnants_of(material, answer.layouts, ()),
        figures=account(material, demands, answer.layouts, (), value=answer.value, bound=answer.bound),
        stopped="effort",
        effort=5,
    )


@pytest.mark.parametrize("paper", ["A3", "A4"])
def test_the_first_page_shows_where_the_block_is_cut_to_length(
    paper: str, plan: Plan, planned: MaterialPlan, words_on: Callable[[Scene], list[str]]
) -> None:
    """Metre marks, every part with its layout and length, and what is left."""
    first, *others = map_pages(plan, planned, paper)
    words = words_on(first)
    assert "20000 x 2060 x 1080 mm" in words
    assert {"0 m", "5 m", "10 m", "15 m", "20 m"} <= set(words)
    for number, layout in enumerate(planned.layouts, start=1):
        assert f"layout {number}" in words
        assert f"part {layout.length:g} long" in words
    assert sum(word.startswith("KEEP") for word in words) == 1
    assert all("Cut to length first" not in scene.title for scene in others)
    for scene in (first, *others):
        left, low, right, high = extent(
            point for item in scene.items if isinstance(item, Polygon | Line) for point in item.points
        )
        assert left >= 0
        assert low >= 0
        assert right <= scene.width
        assert high <= scene.height


def test_maps_of_parts_have_the_size_of_the_part(
    plan: Plan, planned: MaterialPlan, words_on: Callable[[Scene], list[str]]
) -> None:
    """Not that of the long block; the end skins are off."""
    pages = map_pages(plan, planned)
    for number, layout in enumerate(planned.layouts, start=1):
        mine = [scene for scene in pages if f"Block layout {number} of" in scene.title]
        words = {word for scene in mine for word in words_on(scene)}
        assert f"{layout.length:g} x 2060 x 1080 mm" in words
        assert "0 / 0 / 20 / 20 / 20 / 35" in words
        assert "slitter 0.5, saw 2 mm" in words
        assert f"block 1 at {layout.start:g} mm" in words or layout.repeats > 1


def test_standing_rails_are_told_and_drawn_as_they_lie(planned: MaterialPlan) -> None:
    """Where one stands, its outline on the map is that of the face below, and the cut list says so."""
    standing = [
        piece
        for index in range(len(planned.layouts))
        for piece in placed_pieces(planned, index)
        if piece.placement.stand != "flat"
    ]
    assert {piece.demand.key for piece in standing} == {"RA"}
    for piece in standing:
        along, across, _ = lying_size(piece.demand, piece.placement)
        x0, y0, x1, y1 = piece.box
        assert (x1 - x0, y1 - y0) == pytest.approx((along, across))
    rows = [row for row in cut_list_rows(planned) if "stands on its" in row.turn]
    assert sum(row.total_pieces for row in rows) == sum(
        planned.layouts[index].repeats
        for index in range(len(planned.layouts))
        for piece in placed_pieces(planned, index)
        if piece.placement.stand != "flat"
    )


def test_boxes_with_marked_lines_hold_their_pieces(planned: MaterialPlan) -> None:
    """Every box that is cut along lines is shown with what comes out of it, inside it."""
    shown = set()
    for index, cutting in enumerate(saw_plans(planned)):
        pieces = placed_pieces(planned, index)
        for part in marked_parts(cutting, pieces):
            assert part.pieces
            length, width, _ = part.part.size
            for _, outline in part.pieces:
                x0, y0, x1, y1 = extent(outline)
                assert min(x0, y0) >= -1e-6
                assert x1 <= length + 1e-6
                assert y1 <= width + 1e-6
            shown |= {cut.part for cut in part.cuts}
            if part.cuts[0].machine == "vertical saw" and len(part.pieces) == 2:
                assert part.way == "vertical saw, once between the two lines"
        assert {cut.part for cut in cutting.cuts if cut.axis is None} <= shown
        shown.clear()


def test_lists_and_views_of_long_blocks_are_written(tmp_path: Path, planned: MaterialPlan) -> None:
    """The list begins with the cuts to length; cuts along lines have no measure; drawings pass the audit."""
    write_saw_plan(planned, tmp_path / "saw-plan.csv")
    with (tmp_path / "saw-plan.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    first = [row for row in rows if row["layout"] == "cut to length"]
    assert first == rows[: len(first)]
    assert first[0]["frees"] == "skin, left end"
    assert sum(row["what"] == "part" for row in first) == sum(layout.repeats for layout in planned.layouts)
    marked = [row for row in rows if row["measured from"] == "marked line"]
    assert marked
    assert {row["measure mm"] for row in marked} == {""}
    assert {row["machine"] for row in marked} == {"vertical saw", "contour cutter"}
    for index in range(len(planned.layouts)):
        write_dxf(machine_scene(planned, index), tmp_path / f"{index}.dxf")
        views = saw_plan_views(planned, index)
        assert any(name.startswith("BOXES") for name in views) == any(
            cut.axis is None for cut in saw_plans(planned)[index].cuts
        )
        for name, scene in views.items():
            if name.startswith("BOXES"):
                assert any(isinstance(item, Line) and item.layer is Layer.CUTS for item in scene.items)


def test_a_block_with_kept_skins_is_the_rest(planned: MaterialPlan) -> None:
    """The end of the long block keeps its sides; its length is what the parts and their cuts leave."""
    rest = next(rest for rest in planned.remnants if rest.source == "end of long block 1")
    taken = 15 + sum((layout.length + 2) * layout.repeats for layout in planned.layouts)
    assert (rest.length, rest.width, rest.height) == (pytest.approx(20_000 - taken), 2060, 1080)
    assert planned.figures.stock_count == 1
