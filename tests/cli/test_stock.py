"""``nesting stock`` and ``nesting book`` as a person calls them. All data are invented."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from nesting.planfile import plan_to_json
from tests.cli.calling import run
from tests.stock.plans import board_plan, cloth_plan, whole


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in, with a plan for the rolls Q1 and Q2 and some boards."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("NESTING_LEDGER", raising=False)
    monkeypatch.setenv("NESTING_WHO", "Ann")
    plan = whole(cloth_plan(tied=True), board_plan())
    (tmp_path / "plan.json").write_bytes(plan_to_json(plan))
    (tmp_path / "list.csv").write_text(
        "id;material;kind;length;width;lot;flaws;place\n"
        "Q1;cloth;roll;50 m;2200;7;20.2-20.9 m;A 1\n"
        "Q2;cloth;roll;25.5 m;2200;7;;A 2\n"
        "S1;board;sheet;2440;1830;;;C\n"
    )
    return tmp_path


def test_a_store_from_delivery_to_writing_off(work, monkeypatch, capsys) -> None:
    """Take in, list, correct, write off, and what the history tells of it."""
    assert run(monkeypatch, "stock", "take-in", "--from", "list.csv", "--why", "delivery 12") == 0
    words = ("stock", "take-in", "-m", "felt", "--kind", "roll", "--length", "30 m", "--width", "1.9 m")
    assert run(monkeypatch, *words, "--quantity", 2, "--json") == 0
    told = capsys.readouterr().out
    assert [piece["id"] for piece in json.loads(told[told.index("[\n") :])] == ["R-0001", "R-0002"]
    assert run(monkeypatch, "stock", "correct", "q1", "--width", 2190, "--why", "measured again") == 0
    assert run(monkeypatch, "stock", "use", "R-0001", "--length", "1.2 m", "--why", "sample") == 0
    assert run(monkeypatch, "stock", "write-off", "R-0002", "--why", "water") == 0
    assert run(monkeypatch, "stock", "list", "-m", "FELT", "--json") == 0
    told = capsys.readouterr().out
    listed = json.loads(told[told.rindex("[\n {") :])
    assert [(piece["id"], piece["length mm"], piece["state"]) for piece in listed] == [
        ("R-0001", 28_800, "free")
    ]
    assert run(monkeypatch, "stock", "list", "--totals", "--json") == 0
    told = capsys.readouterr().out
    totals = {row["material"]: (row["free"], row["unit"]) for row in json.loads(told)}
    assert totals["cloth"] == (75.5, "m")
    assert totals["board"] == (pytest.approx(2.44 * 1.83), "m2")
    assert run(monkeypatch, "stock", "show", "Q1") == 0
    told = capsys.readouterr().out
    for words in ("Ann", "taken in", "delivery 12", "width 2200 -> 2190", "measured again"):
        assert words in told


def test_what_is_exported_can_be_taken_in_again(work, monkeypatch, capsys) -> None:
    """Another ledger then holds the same pieces."""
    assert run(monkeypatch, "stock", "take-in", "--from", "list.csv") == 0
    assert run(monkeypatch, "stock", "reserve", "Q2", "--plan", "p1") == 0
    assert run(monkeypatch, "stock", "export", "-o", "all.csv") == 0
    assert run(monkeypatch, "stock", "export", "--state", "free", "-o", "free.csv") == 0
    assert run(monkeypatch, "stock", "release", "--plan", "p1") == 0
    assert run(monkeypatch, "stock", "take-in", "--from", "all.csv", "--ledger", "two.db") == 0
    capsys.readouterr()
    assert run(monkeypatch, "stock", "list", "--json") == 0
    first = capsys.readouterr().out
    assert run(monkeypatch, "stock", "list", "--json", "--ledger", "two.db") == 0
    assert capsys.readouterr().out == first
    with (work / "free.csv").open(encoding="utf-8-sig") as file:
        assert [row["id"] for row in csv.DictReader(file, delimiter=";")] == ["Q1", "S1"]


def test_booking_from_the_table_to_the_report(work, monkeypatch, capsys) -> None:
    """Cloth gets shorter, a board leaves a remnant to label, what was spoilt is on the open list."""
    run(monkeypatch, "stock", "take-in", "--from", "list.csv")
    book = ("book", "plan.json", "-m", "cloth", "--layout", 1)
    assert run(monkeypatch, *book, "--plies", 1, "--length-used", "10.25 m", "--damaged", "TP Single=2") == 0
    told = capsys.readouterr().out
    assert "10250 mm (planned 10000 mm) of Q1" in told
    assert "TP Single: 2 good; 2 damaged, to be cut again" in told
    assert (
        run(monkeypatch, "book", "plan.json", "-m", "board", "-l", 1, "--piece", "S1", "--rest", "900x700")
        == 0
    )
    told = capsys.readouterr().out
    assert "write these ids on them" in told
    assert "X-0001" in told
    assert run(monkeypatch, "book", "plan.json", "--report", "--json") == 0
    report = json.loads(capsys.readouterr().out)
    row = report["layouts"][0]
    assert (row["plies cut"], row["length over mm"], row["pieces damaged"]) == (1, 250, 2)
    assert run(monkeypatch, "book", "plan.json", "--report") == 0
    assert "+0.25 m" in capsys.readouterr().out
    assert run(monkeypatch, "book", "plan.json", "--open", "-o", "still.csv") == 0
    with (work / "still.csv").open(encoding="utf-8-sig") as file:
        rows = list(csv.DictReader(file))
    assert sum(int(row["still to cut"]) for row in rows if row["panel"] == "TP") == 14
    assert "quantity" not in rows[0]  # it is no order book
    assert run(monkeypatch, "book", "plan.json", "--undo") == 0
    assert run(monkeypatch, "book", "plan.json", "--undo") == 0
    capsys.readouterr()
    assert run(monkeypatch, "stock", "list", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert [(piece["id"], piece["length mm"]) for piece in told] == [
        ("Q1", 50_000),
        ("Q2", 25_500),
        ("S1", 2440),
    ]


def test_a_plan_without_stock_is_booked_in_a_ledger_of_its_own(work, monkeypatch, capsys) -> None:
    """Demand alone is booked; nothing is begun where the plan names pieces of a ledger."""
    (work / "loose.json").write_bytes(plan_to_json(whole(cloth_plan(tied=False))))
    assert run(monkeypatch, "book", "plan.json", "-m", "cloth", "-l", 1) == 1
    assert "There is no stock ledger" in capsys.readouterr().err
    assert not (work / "stock.db").exists()
    assert run(monkeypatch, "book", "loose.json", "-l", 1) == 0
    assert run(monkeypatch, "book", "loose.json", "--open", "--json") == 0
    told = capsys.readouterr().out
    assert sum(row["still to cut"] for row in json.loads(told[told.index("[\n") :])) == 4


def test_an_inch_shop_reads_inches(work, monkeypatch, capsys) -> None:
    """The ledger remembers how the range of a delivery reads; JSON and exports stay in mm."""
    (work / "range.toml").write_text(
        '[range]\nname = "Inch shop"\ncurrency = "USD"\n[workshop]\nunits = "inch"\n'
        '[sizes]\ntwin = { name = "Twin", width = 965, length = 1905 }\n'
        '[materials.cloth]\nname = "Cloth"\nkind = "roll"\nwidth = "90 in"\nroll_length = "50 m"\n'
        '[models.north]\nname = "North"\nheight = 250\nsizes = "all"\n'
        '[[models.north.panels]]\ngenerator = "foam slab"\ncode = "CR"\nname = "Core"\nmaterial = "foam"\n'
        "thickness = 100\nfoam_oversize = 0\n"
        '[materials.foam]\nname = "Foam"\nkind = "block"\nlength = 2200\nwidth = 2100\nheight = 1000\n'
        "density = 30\n"
    )
    roll = (
        "-m",
        "cloth",
        "--id",
        "Q1",
        "--length",
        "30 ft",
        "--width",
        "84 in",
        "--flaws",
        "20-21 in x 0-4 in",
    )
    assert run(monkeypatch, "stock", "take-in", "--range", "range.toml", *roll) == 0
    assert "10.00 yd x 84 in" in capsys.readouterr().out
    assert run(monkeypatch, "stock", "list") == 0
    told = capsys.readouterr().out
    assert "10.00 yd x 84 in" in told
    assert "20-21 in x 0-4 in" in told
    assert run(monkeypatch, "stock", "list", "--units", "mm") == 0
    assert "9.14 m x 2133.6 mm" in capsys.readouterr().out
    assert run(monkeypatch, "stock", "list", "--json") == 0
    assert json.loads(capsys.readouterr().out)[0]["length mm"] == 9144
    assert run(monkeypatch, "stock", "use", "Q1", "--length", "10 m") == 1
    assert "Q1 is 360 in (9 144 mm) long by the ledger" in capsys.readouterr().err
    words = ("stock", "take-in", "-m", "cloth", "--kind", "roll", "--length", "30 ft", "--width", "84")
    assert run(monkeypatch, *words) == 1
    assert 'Write the unit: "84 in" or "84 mm"' in capsys.readouterr().err
    assert run(monkeypatch, "stock", "use", "Q1", "--length", "36") == 1
    assert 'Write the unit: "36 in" or "36 mm"' in capsys.readouterr().err
    assert run(monkeypatch, "stock", "use", "Q1", "--length", "36 in") == 0
    assert run(monkeypatch, "stock", "show", "Q1") == 0
    told = capsys.readouterr().out
    assert "length 360 -> 324" in told
    assert "36 in (914.4 mm) cut off" in told
    assert run(monkeypatch, "stock", "export", "-o", "all.csv") == 0
    assert ";8229.6;2133.6;" in (work / "all.csv").read_text(encoding="utf-8-sig")
    (work / "loose.json").write_bytes(plan_to_json(whole(cloth_plan(tied=False))))
    assert run(monkeypatch, "book", "loose.json", "--open", "-o", "still.csv", "--units", "inch") == 0
    assert "length in,width in" in (work / "still.csv").read_text(encoding="utf-8-sig")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("stock", "show", "Q11"), "no piece 'Q11' in the ledger. Did you mean 'Q1'"),
        (("stock", "list", "-m", "clot"), "Did you mean 'cloth'"),
        (("stock", "take-in", "--from", "list.csv"), "list.csv: row 2, id: found 'Q1'"),
        (("stock", "take-in", "-m", "x", "--length", "2m"), "take-in: --width: found nothing"),
        (("stock", "correct", "Q1", "--why", "x"), "at least one new value"),
        (("stock", "correct", "Q1", "--width", "wide", "--flaws", "9", "--why", "x"), "2 problems"),
        (("stock", "correct", "Q1", "--length", "15 m", "--why", "x"), "within the length"),
        (("stock", "write-off", "Q1", "--why", " "), "needs a reason"),
        (("stock", "use", "S1", "--length", "1 m"), "S1 is a sheet"),
        (("book", "plan.json", "-l", 1), "Say which with --material: 'cloth' or 'board'"),
        (("book", "plan.json", "-m", "cloth", "-l", 1, "--damaged", "TP"), "as PIECE=COUNT"),
        (("book", "plan.json", "-m", "board", "-l", 1, "--piece", "S1", "--rest", "9"), "length x width"),
        (("book", "list.csv", "--report"), "a plan written by this program"),
        (("book", "plan.json", "--undo"), "nothing to undo"),
    ],
)
def test_what_cannot_be_is_told_in_plain_words(work, monkeypatch, capsys, words, told) -> None:
    """Exit code 1, no traceback, and the ledger stays as it was."""
    run(monkeypatch, "stock", "take-in", "--from", "list.csv")
    before = (work / "stock.db").read_bytes()
    capsys.readouterr()
    assert run(monkeypatch, *words) == 1
    said = capsys.readouterr().err
    assert told in said
    assert "Traceback" not in said
    assert (work / "stock.db").read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ("stock", "take-in", "--from", "list.csv", "--length", "3"),
        ("stock", "use", "Q1"),
        ("stock", "release"),
        ("book", "plan.json"),
        ("book", "plan.json", "--undo", "--report"),
        ("book", "plan.json", "--report", "-o", "x.csv"),
    ],
)
def test_wrong_usage_exits_with_2(work, monkeypatch, words) -> None:
    """Options that contradict each other, or say too little."""
    assert run(monkeypatch, *words) == 2
