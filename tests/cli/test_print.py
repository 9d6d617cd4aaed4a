"""``nesting print`` and the pattern files of ``nesting panels``, as a person calls them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import ezdxf
import pypdf
import pytest

from tests.cli.calling import run
from tests.cli.test_commands import ORDERS, RANGE


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a small plan (invented)."""
    work = tmp_path_factory.mktemp("work")
    (work / "range.toml").write_text(RANGE)
    (work / "orders.csv").write_text(ORDERS)
    with pytest.MonkeyPatch.context() as patch:
        words = ("plan", work / "range.toml", work / "orders.csv", "-o", work / "out", "--effort", 2)
        assert run(patch, *words) == 0
    return work


def test_a_pack_holds_what_the_table_needs(planned, tmp_path, monkeypatch, capsys) -> None:
    """For every kind of material, and the list of files tells the truth about pages and labels."""
    words = ("print", planned / "out" / "plan.json", "-o", tmp_path / "pack", "--json")
    assert run(monkeypatch, *words) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == json.loads((tmp_path / "pack" / "print-pack.json").read_text(encoding="utf-8"))
    files = [file for part in told["materials"] for file in part["files"]]
    on_disk = {str(path.relative_to(tmp_path / "pack")) for path in (tmp_path / "pack").rglob("*.*")}
    assert {file["file"] for file in files} | {"print-pack.json"} == on_disk
    for file in files:
        if "pages" in file:
            assert len(pypdf.PdfReader(tmp_path / "pack" / file["file"]).pages) == file["pages"]
    names = {
        part["material"]: {Path(file["file"]).name for file in part["files"]} for part in told["materials"]
    }
    for name in ("maps.pdf", "cut-list.pdf", "cut-list.csv", "marker-01.pdf", "layout-01.dxf", "labels.pdf"):
        assert name in names["cloth"]
    assert "sheet-01.pdf" in names["board"]
    assert {"maps.pdf", "saw-plan.csv", "labels.pdf"} <= names["foam"]
    assert not any(name.endswith(".dxf") for name in names["foam"])
    # 3 + 5 beds take 2 panels, 1 core and 1 board each.
    assert {p["material"]: p["piece labels"] for p in told["materials"]} == {
        "cloth": 16,
        "foam": 8,
        "board": 8,
    }


def test_cut_list_labels_and_table_file_follow_one_order(planned, tmp_path, monkeypatch) -> None:
    """The list's first cut is the first outline of the file for the table."""
    words = ("print", planned / "out" / "plan.json", "-o", tmp_path / "pack", "-m", "Quilted cloth", "-l", 1)
    assert run(monkeypatch, *words, "--labels", "none", "--no-full-size") == 0
    folder = tmp_path / "pack" / "cloth"
    assert {path.name for path in folder.iterdir()} == {
        "maps.pdf",
        "cut-list.pdf",
        "cut-list.csv",
        "layout-01.dxf",
    }
    with (folder / "cut-list.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["layout"] == "1"]
    drawn = ezdxf.readfile(folder / "layout-01.dxf").modelspace().query('LWPOLYLINE[layer=="PIECES"]')
    corners = [tuple(map(min, zip(*line.get_points("xy"), strict=True))) for line in drawn]
    assert corners == [(float(row["x mm"]), float(row["y mm"])) for row in rows]


def test_tiles_of_one_layout_on_letter_paper_in_inches(planned, tmp_path, monkeypatch, capsys) -> None:
    """The workshop's own paper and units; the rule of 100 mm stays what it is."""
    words = ("print", planned / "out" / "plan.json", "-o", tmp_path / "pack", "-m", "cloth", "-l", 1)
    assert run(monkeypatch, *words, "--tiles", "letter", "--units", "inch", "--paper", "Letter") == 0
    shown = capsys.readouterr().out
    assert "marker-01-Letter.pdf: marker at true scale" in shown
    assert "measure the rule of 100 mm" in shown
    page = pypdf.PdfReader(tmp_path / "pack" / "cloth" / "marker-01-Letter.pdf").pages[1]
    assert sorted((float(page.mediabox.width), float(page.mediabox.height))) == pytest.approx([612, 792])


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (("-m", "cloth", "-l", 99), 1, "layout = 99: allowed: 1 to"),
        (("-l", 1), 1, "Add --material"),
        (("-m", "cloht"), 1, "'cloht': allowed: cloth, foam, board"),
        (("--labels", "7x3"), 1, "label size = 7 x 3 mm: allowed: from 50 x 24"),
        (("--labels", "big"), 1, "such as 70x36"),
        (("--first-label", 99), 1, "first label = 99: allowed: 1 to 24"),
        (("--plotter-width", 1.6), 1, "plotter width = 1.6: allowed: 300 to 5000 mm"),
        (("--overlap", 0), 1, "overlap = 0: allowed: 4 to 100 mm"),
        (("--tiles", "A4", "--plotter-width", 1600), 2, "not both"),
        (("--tiles", "A9"), 2, "A9"),
    ],
)
def test_wrong_wishes_are_told_and_nothing_is_written(
    planned, tmp_path, monkeypatch, capsys, more, code, words
) -> None:
    """Value, what is allowed, what to do."""
    assert run(monkeypatch, "print", planned / "out" / "plan.json", "-o", tmp_path / "pack", *more) == code
    told = " ".join(capsys.readouterr().err.split())
    assert words in told
    assert "Traceback" not in told
    assert list(tmp_path.iterdir()) == []


def test_a_pack_replaces_a_pack_and_no_other_folder(planned, tmp_path, monkeypatch, capsys) -> None:
    """The plan's own folder is never overwritten by its print."""
    plan = planned / "out" / "plan.json"
    assert run(monkeypatch, "print", plan, "-o", planned / "out") == 1
    assert "holds files that are not a print pack" in capsys.readouterr().err
    quick = ("-m", "foam", "--labels", "none")
    assert run(monkeypatch, "print", plan, "-o", tmp_path / "pack", *quick) == 0
    (tmp_path / "pack" / "stale.pdf").write_text("old")
    assert run(monkeypatch, "print", plan, "-o", tmp_path / "pack", *quick) == 0
    assert not (tmp_path / "pack" / "stale.pdf").exists()


def test_a_whole_plan_on_small_sheets_is_refused(planned, tmp_path, monkeypatch, capsys) -> None:
    """Thousands of pages are a slip."""
    monkeypatch.setattr("nesting.printpack.MOST_PAGES", 10)
    assert (
        run(monkeypatch, "print", planned / "out" / "plan.json", "-o", tmp_path / "p", "--tiles", "A4") == 1
    )
    assert "pages at true scale: allowed: 10 in one go" in capsys.readouterr().err


def test_panels_as_pattern_pieces(planned, tmp_path, monkeypatch, capsys) -> None:
    """One block for every panel; the name of the file tells the unit."""
    words = ("panels", planned / "range.toml", "-m", "north", "-s", "us-queen", "-o", tmp_path, "--json")
    assert run(monkeypatch, *words, "--pattern-dxf") == 0
    (path,) = (Path(p) for p in json.loads(capsys.readouterr().out)["drawings"] if p.endswith(".dxf"))
    assert path.name == "north-us-queen-pattern-mm.dxf"
    inserts = ezdxf.readfile(path).modelspace().query("INSERT")
    assert [insert.dxf.name for insert in inserts] == ["TP", "CR", "WB"]
