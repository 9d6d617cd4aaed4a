"""Markers at true scale, measured on the pages themselves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
import shapely

from nesting.drawing.cutting_order import cutting_orders
from nesting.drawing.pdf import write_pdf
from nesting.drawing.pieces import placed_pieces
from nesting.drawing.scene import Layer, Polygon, Scene, Text
from nesting.drawing.tiles import MARGIN, Tile
from nesting.drawing.true_scale import (
    CHECK_RULE,
    Target,
    can_be_drawn_full_size,
    true_scale_pages,
    true_scale_tiling,
)
from nesting.model import Flaw, MaterialPlan, Plan, StockPiece, StockUse, Workshop
from tests.drawing.pdf_reading import POINT, segments

PLOTTER = Target(plotter_width=1600.0, overlap=20.0)
TENTH = 0.1  # mm; the accuracy asked of a print


def _printed(
    plan: Plan, material_plan: MaterialPlan, target: Target, path: Path
) -> list[tuple[Tile, pypdf.PageObject]]:
    scenes = true_scale_pages(plan, material_plan, 0, target)
    write_pdf(scenes, path, "Marker")
    tiles = true_scale_tiling(material_plan, 0, target).tiles
    pages = list(pypdf.PdfReader(path).pages)
    assert len(pages) == len(tiles) + (len(tiles) > 1)
    return list(zip(tiles, pages[len(pages) - len(tiles) :], strict=True))


def _drawn(tile: Tile, page: pypdf.PageObject) -> shapely.MultiLineString:
    """All lines of a page in the coordinates of the marker."""
    dx, dy = tile.box.left - MARGIN, tile.box.low - MARGIN
    return shapely.MultiLineString(
        [((a + dx, b + dy), (c + dx, d + dy)) for (a, b), (c, d) in segments(page) if (a, b) != (c, d)]
    )


@pytest.mark.parametrize(
    ("name", "target"),
    [
        ("ticking", PLOTTER),
        ("velvet", Target(sheet="A1")),
        ("board", Target(sheet="A3")),
        ("spunbond", Target(sheet="A4")),
    ],
)
def test_every_outline_is_on_the_pages_to_a_tenth(
    name: str, target: Target, plan: Plan, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    """Every outline, corner points and in between, lies where the plan says on each page that shows it.

    Read back from the file; the pages together leave no stretch of any outline out.
    """
    material_plan: MaterialPlan = request.getfixturevalue(name)
    outlines = {piece.index: shapely.LinearRing(piece.outline) for piece in placed_pieces(material_plan, 0)}
    seen = dict.fromkeys(outlines, 0.0)
    for tile, page in _printed(plan, material_plan, target, tmp_path / "m.pdf"):
        drawn = _drawn(tile, page).buffer(TENTH)
        core = shapely.box(*tile.core)
        for index, ring in outlines.items():
            part = ring.intersection(shapely.box(*tile.box))
            assert part.is_empty or drawn.covers(part), (tile.name, index)
            seen[index] += ring.intersection(core).length
    for index, ring in outlines.items():
        assert seen[index] >= ring.length - 1e-6


def test_nothing_is_drawn_where_no_line_is(ticking: MaterialPlan, plan: Plan, tmp_path: Path) -> None:
    """Inside a piece, away from edges and marks, pages hold no line but those at which they meet."""
    inner = placed_pieces(ticking, 0)[0]
    room = shapely.Polygon(inner.outline).buffer(-150.0)
    tiling = true_scale_tiling(ticking, 0, PLOTTER)
    joins = shapely.union_all([shapely.box(*tile.core).exterior for tile in tiling.tiles]).buffer(30.0)
    for tile, page in _printed(plan, ticking, PLOTTER, tmp_path / "m.pdf"):
        assert not _drawn(tile, page).intersects(room.difference(joins))


def test_pages_are_as_large_as_they_say_and_below_the_limit(
    ticking: MaterialPlan, plan: Plan, tmp_path: Path
) -> None:
    """A plotter page is as wide as its paper; no side is longer than 14 400 units (from memory)."""
    for tile, page in _printed(plan, ticking, PLOTTER, tmp_path / "m.pdf"):
        assert max(float(page.mediabox.width), float(page.mediabox.height)) <= 14_400
        assert float(page.mediabox.height) * POINT == pytest.approx(1600, abs=0.01)
        assert float(page.mediabox.width) * POINT == pytest.approx(tile.box.width + 20, abs=0.01)
        assert "/UserUnit" not in page


@pytest.mark.parametrize("target", [PLOTTER, Target(sheet="A4")])
@pytest.mark.parametrize("units", ["mm", "inch"])
def test_the_rule_on_every_page_is_100_mm_long(
    velvet: MaterialPlan, plan: Plan, tmp_path: Path, target: Target, units: str
) -> None:
    """Below what the page shows, whatever units the workshop reads."""
    shown = replace(plan, workshop=Workshop(units=units))
    for _, page in _printed(shown, velvet, target, tmp_path / "m.pdf"):
        below = [abs(c - a) for (a, b), (c, d) in segments(page) if b == d and b < MARGIN - 1]
        assert max(below) == pytest.approx(CHECK_RULE, abs=0.01)
        assert "= 100 mm. Print at 100 %" in page.extract_text()


def test_register_marks_of_neighbours_lie_on_each_other(velvet: MaterialPlan, plan: Plan) -> None:
    """The same diamonds at the same places of the marker, on both pages, two to a join."""
    target = Target(sheet="A1")
    tiling = true_scale_tiling(velvet, 0, target)
    scenes = true_scale_pages(plan, velvet, 0, target)[1:]

    def marks(scene: Scene) -> set[tuple[float, float]]:
        return {
            (round(item.points[1][0], 6), round(item.points[0][1], 6))
            for item in scene.items
            if isinstance(item, Polygon) and item.layer is Layer.CHECK
        }

    by_place = {(t.row, t.column): marks(s) for t, s in zip(tiling.tiles, scenes, strict=True)}
    assert tiling.columns > 1
    for (row, column), found in by_place.items():
        for other in ((row, column + 1), (row + 1, column)):
            if other in by_place:
                assert len(found & by_place[other]) == 2


def test_every_page_is_named_and_the_first_is_a_map_of_them(
    velvet: MaterialPlan, plan: Plan, tmp_path: Path
) -> None:
    """Row and column, and how to print and join."""
    printed = _printed(plan, velvet, Target(sheet="A1"), tmp_path / "m.pdf")
    for tile, page in printed:
        assert f"{tile.name} " in page.extract_text()
    first = pypdf.PdfReader(tmp_path / "m.pdf").pages[0].extract_text()
    assert all(tile.name in first for tile, _ in printed)
    for words in ("Print every page at 100 %", "CAUTION", "ONE-WAY", "10 mm"):
        assert words in first.replace("\n", " ")


def test_page_maps_are_legible(
    plan: Plan, page_faults: Callable[[Scene, float], list[str]], board: MaterialPlan, velvet: MaterialPlan
) -> None:
    """No words over words, nothing off the paper."""
    for material_plan, target in (
        (board, Target(sheet="A3")),
        (velvet, PLOTTER),
        (velvet, Target(sheet="A4")),
    ):
        pages = true_scale_pages(plan, material_plan, 0, target)
        if len(pages) > 1:
            assert page_faults(pages[0], 1.3) == []


def test_labels_of_pieces_are_on_every_page_that_shows_enough_of_them(
    velvet: MaterialPlan, plan: Plan, tmp_path: Path
) -> None:
    """Piece number, code and size of the headboard face on each of the pages it is spread over."""
    face = shapely.box(*placed_pieces(velvet, 0)[0].box)
    for tile, page in _printed(plan, velvet, Target(sheet="A1"), tmp_path / "m.pdf"):
        part = face.intersection(shapely.box(*tile.core))
        if part.area > 200 * 200:
            assert "1696 x 796" in page.extract_text()


def test_pieces_carry_their_place_in_the_cutting_order(velvet: MaterialPlan, plan: Plan) -> None:
    """As in the cut list, each number once on a plotter page that shows everything."""
    (order,) = cutting_orders(velvet)
    (page,) = true_scale_pages(plan, velvet, 0, Target(plotter_width=1600.0), order)
    cuts = [item for item in page.items if isinstance(item, Text) and item.words.startswith("cut ")]
    pieces = placed_pieces(velvet, 0)
    for text in cuts:
        left, low, right, high = pieces[order.pieces[int(text.words[4:]) - 1]].box
        assert left < text.x < right
        assert low < text.y < high
    assert len(cuts) == len({text.words for text in cuts}) >= 4


def test_blocks_and_tapes_are_not_drawn_at_true_scale(foam: MaterialPlan, tape: MaterialPlan) -> None:
    """A foam block is no drawing, and a tape of 50 m a waste of paper."""
    assert not can_be_drawn_full_size(foam)
    assert not can_be_drawn_full_size(tape)


def test_the_rim_of_the_roll_is_drawn_where_it_takes_no_more_pages(ticking: MaterialPlan) -> None:
    """2200 mm on paper of 2240 mm, with both ends; of 2180 mm only the 2150 mm that are usable."""
    wide = true_scale_tiling(ticking, 0, Target(plotter_width=2240.0))
    assert (wide.rows, wide.area.height, wide.area.left) == (1, 2200.0, -20.0)
    narrow = true_scale_tiling(ticking, 0, Target(plotter_width=2180.0))
    assert (narrow.rows, narrow.area.height, narrow.area.left) == (1, 2150.0, 0.0)


def test_a_roll_from_the_shelf_is_drawn_with_its_own_width_and_flaws(
    velvet: MaterialPlan, plan: Plan
) -> None:
    """The usable width as measured, and the flaw one end loss nearer, where the marker begins."""
    piece = StockPiece(
        id="R-1", material="velvet", length=30_000, width=1380, flaws=(Flaw(1000, 1100, 0, 300),)
    )
    use = StockUse(name="R-1", cuts=((0, 3),), used=10_734, rest=19_266, piece="R-1", starts=(0.0,))
    shelf = replace(velvet, shelf=(piece,), stock=(use,))
    target = Target(plotter_width=1700.0)
    (page,) = true_scale_pages(plan, shelf, 0, target)
    (flaw,) = [item for item in page.items if isinstance(item, Polygon) and item.layer is Layer.FLAWS]
    assert flaw.points == ((975, 0), (1075, 0), (1075, 300), (975, 300))
    assert any(isinstance(item, Text) and item.words.startswith("F1 FLAW") for item in page.items)
    assert true_scale_tiling(shelf, 0, target).area.height == pytest.approx(1400)
    (usable,) = [
        item
        for item in page.items
        if isinstance(item, Polygon) and item.layer is Layer.STOCK and item.points[0] == (0, 0)
    ]
    assert max(y for _, y in usable.points) == 1380
