"""Commands as a person calls them: what is printed, written and returned."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from tests.cli.calling import run

RANGE = """
[range]
name = "Small range"
currency = "EUR"
[allowances]
seam = 15
crown = 5
foam_oversize = 10
board_inset = 0
[sizes]
us-queen = { name = "Queen 60x80 in", width = "60 in", length = "80 in" }
us-twin = { name = "Twin 38x75 in", width = "38 in", length = "75 in" }
[materials.cloth]
name = "Quilted cloth"
kind = "roll"
width = 2200
edge_trim = 25
roll_length = "30 m"
max_marker_length = "6 m"
end_loss = 20
price = 10
[materials.foam]
name = "Foam"
kind = "block"
length = 2200
width = 2100
height = 1000
skins = { z0 = 20, z1 = 20 }
kerf = 1
density = 30
price = 100
[materials.board]
name = "Board"
kind = "sheet"
length = 2440
width = 1830
kerf = 3
price = 12
[models.north]
name = "North"
height = 250
sizes = "all"
[[models.north.panels]]
generator = "quilted panel"
code = "TP"
name = "Top panel"
material = "cloth"
pieces = 2
corner_radius = 60
[[models.north.panels]]
generator = "foam slab"
code = "CR"
name = "Core"
material = "foam"
thickness = 120
[[models.north.panels]]
generator = "waxed board"
code = "WB"
name = "Board"
material = "board"
"""
ORDERS = (
    "order;due;model;size;quantity\nN1;2026-12-07;North;us-queen;3\nN2;2026-12-08;north;Twin 38x75 in;5\n"
)


@pytest.fixture
def work(tmp_path: Path) -> Path:
    """A folder with a small range in inches and an order book (invented)."""
    (tmp_path / "range.toml").write_text(RANGE)
    (tmp_path / "orders.csv").write_text(ORDERS)
    return tmp_path


def plan_words(work: Path, *more: object) -> tuple[object, ...]:
    return ("plan", work / "range.toml", work / "orders.csv", "-o", work / "out", "--effort", 2, *more)


def test_plan_writes_everything_and_the_handbook_panel_is_in_the_cut_list(work, monkeypatch, capsys) -> None:
    """A 60 x 80 in bed needs a 1564 x 2072 panel: 60 x 25.4 + 30 + 10 and so on (arithmetic)."""
    assert run(monkeypatch, *plan_words(work)) == 0
    out = work / "out"
    assert {path.name for path in out.iterdir()} == {
        "maps.pdf",
        "plan.json",
        "summary.csv",
        "summary.json",
        "cloth",
        "foam",
        "board",
    }
    with (out / "cloth" / "cut-list.csv").open(encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    assert {(row["length mm"], row["width mm"]) for row in rows} == {("2072", "1564"), ("1945", "1006")}
    summary = json.loads((out / "summary.json").read_text())
    assert [row["missing pieces"] for row in summary["materials"]] == [0, 0, 0]
    shown = capsys.readouterr().out
    assert "Quilted cloth" in shown
    assert "8 beds due 2026-12-07 to 2026-12-08" in shown


def test_plan_of_some_days_and_one_material(work, monkeypatch, capsys) -> None:
    """--from, --to and --material narrow the plan down; --json prints the summary alone."""
    words = plan_words(work, "--from", "2026-12-08", "--to", "2026-12-08", "--material", "Foam", "--json")
    assert run(monkeypatch, *words) == 0
    summary = json.loads(capsys.readouterr().out)
    assert [row["material"] for row in summary["materials"]] == ["foam"]
    assert summary["beds"] == 5


def test_draw_makes_the_same_drawings_again(work, monkeypatch) -> None:
    """Drawings depend on the plan alone."""
    assert run(monkeypatch, *plan_words(work)) == 0
    assert run(monkeypatch, "draw", work / "out" / "plan.json", "-o", work / "again") == 0
    for path in (work / "out").rglob("*"):
        if path.is_file() and path.suffix != ".dxf":  # a DXF carries the time it was written
            assert (work / "again" / path.relative_to(work / "out")).read_bytes() == path.read_bytes()


def test_a_plan_replaces_its_own_folder_and_no_other(work, monkeypatch, capsys) -> None:
    """A folder with foreign files is left alone, and nothing is written."""
    out = work / "out"
    out.mkdir()
    (out / "holiday.txt").write_text("mine")
    assert run(monkeypatch, *plan_words(work)) == 1
    assert "holds files that are not a plan" in capsys.readouterr().err
    assert [path.name for path in out.iterdir()] == ["holiday.txt"]
    (out / "holiday.txt").unlink()
    assert run(monkeypatch, *plan_words(work)) == 0
    (out / "cloth" / "stale.svg").write_text("old")
    assert run(monkeypatch, *plan_words(work)) == 0
    assert not (out / "cloth" / "stale.svg").exists()
    assert {path.name for path in work.iterdir()} == {"range.toml", "orders.csv", "out"}


def test_a_folder_that_cannot_be_written_is_told_before_any_planning(work, monkeypatch, capsys) -> None:
    """Nobody waits for a plan that cannot be kept."""

    def planned(*_: object, **__: object) -> None:
        pytest.fail("planned before looking at the folder")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("nesting.planning.make_plan", planned)
    monkeypatch.setattr("nesting.output.TemporaryDirectory", full)
    assert run(monkeypatch, *plan_words(work)) == 1
    assert "cannot be written (No space left on device)" in capsys.readouterr().err


def test_panels_lists_and_draws_every_part(work, monkeypatch, capsys) -> None:
    """Sizes, pieces and a drawing."""
    words = ("panels", work / "range.toml", "-m", "north", "-s", "1524x2032", "-o", work / "p", "--json")
    assert run(monkeypatch, *words) == 0
    told = json.loads(capsys.readouterr().out)
    assert [(p["code"], p["pieces"]) for p in told["panels"]] == [("TP", 2), ("CR", 1), ("WB", 1)]
    assert all(Path(path).read_text().startswith("<?xml") for path in told["drawings"])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            "N1;2026-12-07;North",
            "N1;2026-12-07;Nroth",
            ["orders.csv: row 2, model", "'Nroth'", "Did you mean 'north'"],
        ),
        ("us-queen;3", "us-queeen;3", ["row 2, size", "'us-queeen'"]),
        ("us-queen;3", "us-queen;-3", ["row 2, quantity", "-3"]),
        ("us-queen;3", "us-queen;3000000", ["row 2, quantity"]),
        ("2026-12-07", "03/04/2026", ["3 April 2026", "4 March 2026"]),
    ],
)
def test_faults_in_orders_are_told_in_one_line_each(work, monkeypatch, capsys, old, new, words) -> None:
    """Row, field, value and remedy; a non-zero exit and nothing written."""
    (work / "orders.csv").write_text(ORDERS.replace(old, new))
    assert run(monkeypatch, *plan_words(work)) == 1
    told = capsys.readouterr().err
    for word in words:
        assert word in told
    assert "Traceback" not in told
    assert not (work / "out").exists()


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('material = "cloth"', 'material = "clooth"', ["panels[1] 'TP'.material", "clooth", "cloth"]),
        ("width = 2200", "width = -5", ["materials.cloth.width", "-5"]),
        ("width = 2200", "width = 1500", ["1 564 mm", "114 mm too wide"]),
        ("thickness = 120", 'thickness = "120 / (W - W)"', ["thickness", "divides by 0"]),
        ("thickness = 120", "thickness = \"open('x')\"", ["thickness", "open"]),
        ("[range]", "[range", ["range.toml", "line"]),
    ],
)
def test_faults_in_the_range_are_told_in_one_line_each(work, monkeypatch, capsys, old, new, words) -> None:
    """Table, field, value and remedy; a non-zero exit and nothing written."""
    (work / "range.toml").write_text(RANGE.replace(old, new))
    assert run(monkeypatch, "check", work / "range.toml", work / "orders.csv") == 1
    assert run(monkeypatch, *plan_words(work)) == 1
    told = capsys.readouterr().err
    for word in words:
        assert word in told
    assert "Traceback" not in told
    assert not (work / "out").exists()


def test_empty_broken_and_huge_order_books_are_refused(work, monkeypatch, capsys) -> None:
    """An empty book, a workbook that is none, and 200 MB of CSV each get one clear message."""
    (work / "orders.csv").write_text("order;due;model;size;quantity\n")
    assert run(monkeypatch, *plan_words(work)) == 1
    (work / "broken.xlsx").write_bytes(b"PK\x03\x04 this is no workbook")
    assert run(monkeypatch, "check", work / "range.toml", work / "broken.xlsx") == 1
    with (work / "huge.csv").open("wb") as file:
        file.truncate(200_000_000)
    assert run(monkeypatch, "check", work / "range.toml", work / "huge.csv") == 1
    told = capsys.readouterr().err
    assert "orders.csv" in told
    assert "broken.xlsx" in told
    assert "huge.csv" in told
    assert "Traceback" not in told


def test_wrong_usage_exits_with_2(monkeypatch, capsys) -> None:
    """An unknown option is a matter of usage, not of data."""
    assert run(monkeypatch, "plan", "--no-such-option") == 2
    assert "no-such-option" in capsys.readouterr().err


def test_a_fault_of_the_program_is_no_traceback(work, monkeypatch, capsys) -> None:
    """Even a bug is told in plain words, with a way to see more."""

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("boom")

    monkeypatch.setattr("nesting.planning.make_plan", broken)
    monkeypatch.delenv("NESTING_DEBUG", raising=False)
    assert run(monkeypatch, *plan_words(work)) == 1
    told = capsys.readouterr().err
    assert "fault of the program" in told
    assert "Traceback" not in told


def test_pieces_are_grouped_by_product_or_by_order(work, monkeypatch) -> None:
    """In the saw plan and the cut list of a new plan, and of one that is drawn again."""
    assert run(monkeypatch, *plan_words(work, "--group", "order", "-m", "foam")) == 0
    folder = work / "out" / "foam"
    for name in ("saw-plan.csv", "cut-list.csv"):
        rows = list(csv.DictReader((folder / name).read_text(encoding="utf-8-sig").splitlines()))
        assert {"N1 x3", "N2 x5"} & {row["goes to (by order)"] for row in rows} or name == "cut-list.csv"
    assert {path.name for path in folder.glob("*.csv")} == {
        "cut-list.csv",
        "saw-plan.csv",
        "foam-yield.csv",
        "foam-cost.csv",
    }
    assert run(monkeypatch, "draw", work / "out" / "plan.json", "-o", work / "again") == 0
    text = (work / "again" / "foam" / "saw-plan.csv").read_text(encoding="utf-8-sig")
    assert "pile North Queen 60x80 in CR" in text


def test_a_plan_whose_cuts_do_not_add_up_is_not_drawn(work, monkeypatch, capsys) -> None:
    """Somebody has changed a measure in the file: nothing is written."""
    assert run(monkeypatch, *plan_words(work, "-m", "foam")) == 0
    file = work / "out" / "plan.json"
    plan = json.loads(file.read_text())
    plan["plan"]["materials"][0]["layouts"][0]["placements"][0]["z"] += 0.3
    file.write_text(json.dumps(plan))
    assert run(monkeypatch, "draw", file, "-o", work / "again") == 1
    assert "foam, block layout 1" in capsys.readouterr().err
    assert not (work / "again").exists()


def test_a_plan_takes_rests_of_foam_from_a_stock_list(work, monkeypatch, capsys) -> None:
    """The demand of a twin is one slab of 985 x 1915 x 120 a bed: five of them are on the shelf."""
    (work / "stock.csv").write_text(
        "id,material,length,width,height,remnant\n"
        + "".join(f"S-{n},foam,1925,990,120,yes\n" for n in range(1, 6))
    )
    words = plan_words(work, "--from", "2026-12-08", "-m", "foam", "--stock", work / "stock.csv", "--json")
    assert run(monkeypatch, *words) == 0
    summary = json.loads(capsys.readouterr().out)
    (foam,) = summary["foam"]
    assert sorted(piece for block in foam["blocks"] for piece in block["from the shelf"]) == [
        f"S-{n}" for n in range(1, 6)
    ]
    assert summary["materials"][0]["cost EUR"] == round(5 * 1.925 * 0.99 * 0.12 * 50, 2)
