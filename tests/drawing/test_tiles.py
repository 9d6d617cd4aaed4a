"""Pages of a picture at true scale: how many, and that together they show all of it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.paper import DrawingError
from nesting.drawing.sketch import Box
from nesting.drawing.tiles import MARGIN, SHEETS, plotter_tiles, sheet_tiles, tile_count

SIDES = st.floats(1, 9000, allow_nan=False)
AREAS = st.builds(
    lambda x, y, w, h: Box(x, y, x + w, y + h), st.floats(-50, 50), st.floats(-50, 50), SIDES, SIDES
)


# The worked example of the trade (handbook E14): a marker of 2150 x 4144 at 1 : 10, printable A4 of
# 190 x 277 and A3 of 277 x 400, 10 mm overlap.
@pytest.mark.parametrize(
    ("size", "printable", "count"),
    [(215.0, 190.0, 2), (414.4, 277.0, 2), (215.0, 277.0, 1), (414.4, 400.0, 2)],
)
def test_page_counts_of_the_worked_example(size: float, printable: float, count: int) -> None:
    """ceil((size - overlap) / (printable - overlap)): 205 / 180, 404.4 / 267, 205 / 267, 404.4 / 390."""
    assert tile_count(size, printable, 10.0) == count


def test_the_printable_paper_of_the_worked_example() -> None:
    """A4 less 10 mm on each side is 190 x 277, A3 is 277 x 400; one of both ways up is taken."""
    assert [side - 2 * MARGIN for side in SHEETS["A4"]] == [190, 277]
    assert [side - 2 * MARGIN for side in SHEETS["A3"]] == [277, 400]
    tiling = sheet_tiles(Box(0, 0, 215.0, 414.4), SHEETS["A3"], 10.0)
    assert len(tiling.tiles) == 2
    # On A4 lying one column of ceil(404.4 / 180) = 3 is fewer than the 2 x 2 of A4 standing.
    lying = sheet_tiles(Box(0, 0, 215.0, 414.4), SHEETS["A4"], 10.0)
    assert (lying.rows, lying.columns) == (3, 1)


def test_a_size_that_just_fits_takes_no_further_page() -> None:
    """Nor does a tenth of a millimetre more go unprinted."""
    assert tile_count(190.0, 190.0, 10.0) == 1
    assert tile_count(370.0, 190.0, 10.0) == 2
    assert tile_count(370.1, 190.0, 10.0) == 3


@given(AREAS, st.sampled_from([*SHEETS, "plotter"]), st.floats(4, 40), st.data())
def test_every_point_is_on_a_page_and_neighbours_share_the_overlap(
    area: Box, paper: str, overlap: float, data: st.DataObject
) -> None:
    """The cores cover the picture without a gap; boxes fit the paper; neighbours share `overlap` mm."""
    if paper == "plotter":
        width = data.draw(st.floats(300, 3000))
        tiling = plotter_tiles(area, width, overlap)
        pages = {(5080.0, width)}
    else:
        tiling = sheet_tiles(area, SHEETS[paper], overlap)
        pages = {SHEETS[paper], SHEETS[paper][::-1]}
    assert any(
        all(
            t.box.width + 2 * MARGIN <= w + 1e-6 and t.box.height + 2 * MARGIN <= h + 1e-6
            for t in tiling.tiles
        )
        for w, h in pages
    )
    by_place = {(tile.row, tile.column): tile for tile in tiling.tiles}
    assert len(by_place) == tiling.rows * tiling.columns == len(tiling.tiles)
    for (row, column), tile in by_place.items():
        assert tile.box.left <= tile.core.left + 1e-6
        assert tile.core.right <= tile.box.right + 1e-6
        assert tile.box.low <= tile.core.low + 1e-6
        assert tile.core.high <= tile.box.high + 1e-6
        if right := by_place.get((row, column + 1)):
            assert tile.core.right == pytest.approx(right.core.left)
            assert tile.box.right - right.box.left == pytest.approx(overlap)
        if below := by_place.get((row + 1, column)):
            assert tile.core.low == pytest.approx(below.core.high)
            assert below.box.high - tile.box.low == pytest.approx(overlap)
    first, last = by_place[1, 1], by_place[tiling.rows, tiling.columns]
    assert (first.core.left, first.core.high) == pytest.approx((area.left, area.high))
    assert (last.core.right, last.core.low) == pytest.approx((area.right, area.low))
    x = data.draw(st.floats(area.left, area.right))
    y = data.draw(st.floats(area.low, area.high))
    assert any(
        t.box.left - 1e-6 <= x <= t.box.right + 1e-6 and t.box.low - 1e-6 <= y <= t.box.high + 1e-6
        for t in tiling.tiles
    )


def test_plotter_pages_stay_below_the_limit_and_are_alike_in_length() -> None:
    """14 400 units of 1/72 in are 5080 mm; 12 m of marker make three pages of about four metres."""
    tiling = plotter_tiles(Box(0, 0, 12_000, 1500), 1600, 20)
    lengths = [tile.box.width + 2 * MARGIN for tile in tiling.tiles]
    assert max(lengths) <= 5080
    assert max(lengths) - min(lengths) < 5
    assert len(lengths) == 3


@pytest.mark.parametrize(("width", "overlap"), [(299, 20), (5001, 20), (1600, 3), (1600, 101)])
def test_measures_out_of_bounds_are_refused(width: float, overlap: float) -> None:
    """With what is allowed."""
    with pytest.raises(DrawingError, match="allowed: "):
        plotter_tiles(Box(0, 0, 100, 100), width, overlap)
