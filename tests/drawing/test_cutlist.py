"""The cut list: order, orders, and a file that spreadsheets read as it is."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from nesting.drawing.cutlist import cut_list_rows, safe_cell, write_cut_list
from nesting.measures import shown_for
from nesting.model import Demand, Layout, MaterialPlan, OrderShare, Placement, Plan, RollMaterial, Workshop

ROLL = RollMaterial(key="m", name="M", width=2150, roll_length=50_000, ply_limit=2)


def test_a_row_says_everything_about_one_cut(ticking: MaterialPlan) -> None:
    """The first piece of the first marker, field by field."""
    row = next(cut_list_rows(ticking))
    assert (row.layout, row.lays, row.sequence, row.position) == (1, "3 lays: 10 + 10 + 5 plies", 1, 1)
    assert (row.code, row.panel, row.model, row.size) == ("TP", "Top panel", "Aster", "queen")
    assert (row.length, row.width, row.thickness, row.turn) == ("2072", "1564", "", "0")
    assert (row.x, row.y, row.z) == ("0", "0", "0")
    assert (row.pieces_per_ply, row.total_pieces) == (5, 25)
    assert row.orders == "A-17 x2; A-19 x23"


def test_every_piece_of_every_layout_has_a_row(plan: Plan) -> None:
    """Sequence numbers count from 1 without a gap, layout by layout."""
    for material_plan in plan.materials:
        rows = list(cut_list_rows(material_plan))
        for index, layout in enumerate(material_plan.layouts, start=1):
            numbers = [row.sequence for row in rows if row.layout == index]
            assert numbers == list(range(1, len(layout.placements) + 1))


def test_pieces_of_a_bed_are_listed_together(ticking: MaterialPlan) -> None:
    """Before the knife turns to the pieces of the next order."""
    orders = [row.orders.split(" x")[0] for row in cut_list_rows(ticking) if row.layout == 1]
    assert orders == ["A-17"] + ["A-19"] * 4 + ["extra"] * 16


def test_sheets_are_listed_strip_by_strip(board: MaterialPlan) -> None:
    """The two boards of the first strip, then fourteen slats, then the legs."""
    codes = [row.code for row in cut_list_rows(board) if row.layout == 1]
    assert codes == ["HB"] * 2 + ["SL"] * 14 + ["LG"] * 28


def test_blocks_are_listed_sheet_by_sheet(foam: MaterialPlan) -> None:
    """From the bottom, with heights."""
    heights = [float(row.z) for row in cut_list_rows(foam) if row.layout == 1]
    assert heights == sorted(heights)
    assert heights[0] == 20.0
    assert heights[-1] == 1025.0


def test_pieces_go_to_the_earliest_due_order_first(
    demand_of: Callable[..., Demand], material_plan_of: Callable[..., MaterialPlan]
) -> None:
    """Two layouts of 3 and 4 plies, orders of 2, 4 and, beyond them, one piece too many."""
    shares = (
        OrderShare(order="late", due="2026-12-09", pieces=4),
        OrderShare(order="soon", due="2026-12-01", pieces=2),
    )
    top = demand_of("TP", "Top", 2072, 1564, orders=shares)
    layouts = [Layout("roll", (Placement(top.key, 0.0, 0.0),), 2072.0, repeats) for repeats in (3, 4)]
    rows = list(cut_list_rows(material_plan_of(ROLL, [top], layouts)))
    assert [row.orders for row in rows] == ["soon x2; late x1", "late x3; extra x1"]
    assert [row.lays for row in rows] == ["2 lays: 2 + 1 plies", "2 lays of 2 plies"]


def test_all_pieces_of_an_order_are_given_out_once(ticking: MaterialPlan) -> None:
    """Over the whole list each order gets what it asked for."""
    given: Counter[str] = Counter()
    for row in cut_list_rows(ticking):
        if row.code == "TP":
            for part in row.orders.split("; "):
                order, _, count = part.rpartition(" x")
                given[order] += int(count)
    assert given == {"A-17": 2, "A-19": 123}


def test_turned_and_flipped_pieces_say_so(
    demand_of: Callable[..., Demand], material_plan_of: Callable[..., MaterialPlan]
) -> None:
    """Degrees, and flipped where the piece is turned over."""
    top = demand_of("TP", "Top", 2072, 1564)
    layout = Layout("roll", (Placement(top.key, 0.0, 0.0, 180.0, True),), 2072.0)
    (row,) = cut_list_rows(material_plan_of(ROLL, [top], [layout]))
    assert row.turn == "180 flipped"


def test_the_file_has_headings_and_opens_in_a_spreadsheet(ticking: MaterialPlan, tmp_path: Path) -> None:
    """UTF-8 with a mark; units in the headings; one row for each cut."""
    write_cut_list(ticking, tmp_path / "cut-list.csv")
    assert (tmp_path / "cut-list.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    with (tmp_path / "cut-list.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 21 + 2
    assert rows[0]["length mm"] == "2072"
    assert rows[0]["total pieces"] == "25"
    assert list(rows[0])[:4] == ["layout", "lays", "stock", "sequence"]


def test_no_cell_is_run_as_a_formula(hostile: Plan, tmp_path: Path) -> None:
    """A cell that begins like a formula gets an apostrophe; line breaks in names stay inside their cell."""
    write_cut_list(hostile.materials[0], tmp_path / "cut-list.csv")
    with (tmp_path / "cut-list.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    assert len(rows) == 1 + 21 + 2
    assert {len(row) for row in rows} == {len(rows[0])}
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)
    assert any(cell.startswith("'=HYPERLINK") for row in rows for cell in row)


def test_negative_measures_are_left_alone(board: MaterialPlan, tmp_path: Path) -> None:
    """A minus sign before a number is no formula."""
    first = board.layouts[0]
    moved = replace(first, placements=(replace(first.placements[0], x=-5.0), *first.placements[1:]))
    write_cut_list(replace(board, layouts=(moved,)), tmp_path / "cut-list.csv")
    assert ",-5," in (tmp_path / "cut-list.csv").read_text(encoding="utf-8-sig")


def test_an_inch_list_has_inches_and_no_dates(foam: MaterialPlan, tmp_path: Path) -> None:
    """A slab of 100 mm is 3.937 in, its skins of 15 and 20 mm are 0.591 and 0.787 in (arithmetic)."""
    with shown_for(Workshop(units="inch")):
        write_cut_list(foam, tmp_path / "cut-list.csv")
    with (tmp_path / "cut-list.csv").open(encoding="utf-8-sig", newline="") as stream:
        row = next(csv.DictReader(stream))
    assert (row["thickness in"], row["x in"], row["y in"], row["z in"]) == (
        "3 15/16",
        "0 9/16",
        "0 13/16",
        "0 13/16",
    )


def test_a_decimal_comma_takes_a_semicolon_between_cells(ticking: MaterialPlan, tmp_path: Path) -> None:
    """So that a spreadsheet of such a place reads numbers as numbers."""
    panel = replace(ticking.demands[0].panel, width=1563.5)
    demands = (replace(ticking.demands[0], panel=panel), *ticking.demands[1:])
    with shown_for(Workshop(decimal=",")):
        write_cut_list(replace(ticking, demands=demands), tmp_path / "cut-list.csv")
    with (tmp_path / "cut-list.csv").open(encoding="utf-8-sig", newline="") as stream:
        row = next(csv.DictReader(stream, delimiter=";"))
    assert (row["length mm"], row["width mm"]) == ("2072", "1563,5")


def test_numbers_below_0_are_no_formulas() -> None:
    """However they are written; all else that begins with a sign is made safe."""
    cells = ("-1.5", "-1,5", "-1 1/2", "-0 3/4")
    assert tuple(map(safe_cell, cells)) == cells
    assert safe_cell("-1+2") == "'-1+2"
