"""``nesting marker`` and plans on stock, as a person calls them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

import nesting.output
import nesting.planning
from nesting.catalogue import load_range
from nesting.errors import NestingError
from nesting.planfile import read_plan
from nesting.stock.ledger import open_ledger
from nesting.stock.listfile import read_listed
from tests.cli.calling import run

RANGE = """
[range]
name = "Small range"
currency = "EUR"
[allowances]
seam = 15
crown = 5
board_inset = 0
[sizes]
single = { name = "Single", width = 900, length = 1900 }
[materials.ticking]
name = "Ticking"
kind = "roll"
width = 2200
edge_trim = 25
roll_length = "30 m"
max_marker_length = "6 m"
end_loss = 20
price = 10
fire_reference = "file 12"
[materials.other]
name = "Other ticking"
kind = "roll"
width = 2200
roll_length = "30 m"
end_loss = 20
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
material = "ticking"
pieces = 2
corner_radius = 60
[[models.north.panels]]
generator = "waxed board"
code = "WB"
name = "Board"
material = "board"
"""
ORDERS = "order;due;model;size;quantity\nN1;2026-12-08;North;Single;3\nN2;2026-12-07;North;Single;4\n"
STOCK = """id;material;length;width;remnant;lot;flaws;place
R-1;ticking;8 m;2150;no;L1;3 m - 3.1 m;A-1
R-2;ticking;20 m;2140;no;L1;;
S-1;board;1900;900;yes;;;
"""


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a small range, orders and stock (invented), and a ledger that holds the stock."""
    monkeypatch.delenv("NESTING_LEDGER", raising=False)
    monkeypatch.chdir(tmp_path)
    for name, text in (("range.toml", RANGE), ("orders.csv", ORDERS), ("stock.csv", STOCK)):
        (tmp_path / name).write_text(text)
    with open_ledger("stock.db", create=True) as ledger:
        ledger.take_in(read_listed("stock.csv", load_range("range.toml")))
    return tmp_path


def marker(monkeypatch: pytest.MonkeyPatch, *more: object, out: str = "out") -> int:
    """Run ``nesting marker`` on the orders."""
    wanted = () if "--open" in more else ("orders.csv",)
    return run(monkeypatch, "marker", "range.toml", *wanted, "-o", out, "--effort", 4, *more)


def states() -> dict[str, str]:
    """State and plan of each piece in the ledger."""
    with open_ledger("stock.db") as ledger:
        return {held.id: f"{held.state} {held.plan}".strip() for held in ledger.pieces()}


def test_a_roll_of_the_ledger_is_cut_clear_of_its_flaw_and_reserved(work, monkeypatch, capsys) -> None:
    """Panels of 940 x 1940: two abreast, one pair before the flaw at 3 m and two behind it; 8 of 14 stay."""
    assert marker(monkeypatch, "--roll", "r-1") == 0
    shown = capsys.readouterr()
    assert "Left open: 8 pieces" in shown.err
    assert "first due 2026-12-07" in shown.err
    plan = read_plan(work / "out" / "plan.json")
    (part,) = plan.materials
    assert part.stock[0].piece == "R-1"
    assert part.figures.piece_count == 6
    assert {share.order for demand in part.demands for share in demand.orders} == {"N2"}
    assert states()["R-1"] == f"reserved {plan.number}"
    with (work / "out" / "ticking" / "cut-list.csv").open(encoding="utf-8-sig") as file:
        stocks = {row["stock"] for row in csv.DictReader(file)}
    assert all(cell.startswith("R-1 from ") for cell in stocks)
    assert (work / "out" / "maps.pdf").is_file()


def test_a_roll_that_is_not_free_is_refused(work, monkeypatch, capsys) -> None:
    """Reserved for another plan, or not there at all: said, and nothing is written."""
    with open_ledger("stock.db") as ledger:
        ledger.reserve(["R-1"], "abcd1234")
    assert marker(monkeypatch, "--roll", "R-1") == 1
    assert "R-1 is reserved for plan abcd1234" in capsys.readouterr().err
    assert marker(monkeypatch, "--roll", "R-9") == 1
    assert "There is no piece 'R-9'" in capsys.readouterr().err
    assert marker(monkeypatch, "--roll", "S-1") == 1
    assert "a material on rolls" in capsys.readouterr().err
    assert marker(monkeypatch, "--roll", "R-9", "--stock", "stock.csv") == 1
    assert "a roll that is listed" in capsys.readouterr().err
    assert not (work / "out").exists()


def test_what_is_open_goes_on_the_next_roll(work, monkeypatch, capsys) -> None:
    """First plan on one roll, then only what it left open on the other, not what is on its way."""
    assert marker(monkeypatch, "--roll", "R-1", out="one") == 0
    assert marker(monkeypatch, "--open", "one/plan.json", "--roll", "R-2", out="two") == 0
    capsys.readouterr()
    (first,), (second,) = (read_plan(Path(name) / "plan.json").materials for name in ("one", "two"))
    assert first.figures.piece_count + second.figures.piece_count == 14
    assert not second.open
    assert second.shelf[0].id == "R-2"


def test_what_is_booked_as_damaged_is_open_again_and_what_is_on_its_way_is_not(
    work, monkeypatch, capsys
) -> None:
    """Of six pieces on the first roll some are cut and one of them is spoilt: one more is to be cut."""
    assert marker(monkeypatch, "--roll", "R-1", out="one") == 0
    (first,) = read_plan(Path("one") / "plan.json").materials
    each = len(first.layouts[0].placements)
    key = first.demands[0].key
    words = ("book", "one/plan.json", "--layout", 1, "--plies", 1, "--damaged", f"{key}=1")
    assert run(monkeypatch, *words) == 0
    assert marker(monkeypatch, "--open", "one/plan.json", "--roll", "R-2", out="two") == 0
    capsys.readouterr()
    (second,) = read_plan(Path("two") / "plan.json").materials
    assert each >= 2
    assert second.figures.piece_count == 14 - 6 + 1
    assert not second.open


def test_of_a_plan_that_meant_to_cut_all_everything_unbooked_is_open(work, monkeypatch, capsys) -> None:
    """A weekly plan that nobody has begun can be cut from one roll instead."""
    words = ("plan", "range.toml", "orders.csv", "-o", "week", "--effort", 3, "-m", "ticking")
    assert run(monkeypatch, *words) == 0
    assert marker(monkeypatch, "--open", "week/plan.json", "--roll", "R-2", out="two") == 0
    (part,) = read_plan(Path("two") / "plan.json").materials
    assert part.figures.piece_count == 14


def test_a_roll_without_an_id_takes_its_size_and_flaws_from_the_command(work, monkeypatch, capsys) -> None:
    """Nothing is reserved; sizes may have units."""
    words = ("--roll-size", "2150 x 8 m", "--flaw", "3 m - 3.1 m", "-m", "Ticking", "--json")
    assert marker(monkeypatch, *words) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["materials"][0]["pieces"] == 6
    assert told["stock"][0]["piece"] == "this roll"
    assert sum(item["quantity"] for item in told["open"]) == 8
    assert set(states().values()) == {"free"}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--roll-size", "2150", "-m", "ticking"), "width x length"),
        (("--roll-size", "2150xlong", "-m", "ticking"), "sizes such as"),
        (("--roll-size", "2150x8000"), "the material of the roll"),
        (("--roll-size", "2150x8000", "-m", "board"), "a material on rolls"),
        (("--roll-size", "2150x8000", "-m", "ticking", "--flaw", "9 m - 10 m"), "a flaw within"),
        (("--roll-size", "2150x8000", "-m", "ticking", "--flaw", "soon"), "flaws such as"),
        (("--roll-size", "2150x8000", "-m", "other"), "orders that need it"),
        (("--roll-size", "900x1000", "-m", "ticking"), "Nothing that is wanted fits"),
        (("--roll", "R-1", "--ledger", "none.db"), "none.db"),
    ],
)
def test_what_makes_no_sense_is_said_in_a_sentence(work, monkeypatch, capsys, words, told) -> None:
    """Exit 1, the value, what is allowed; nothing is written."""
    assert marker(monkeypatch, *words) == 1
    shown = capsys.readouterr().err
    assert told in shown
    assert "Traceback" not in shown
    assert not (work / "out").exists()


@pytest.mark.parametrize("words", [(), ("--roll", "R-1", "--roll-size", "2150x8000")])
def test_exactly_one_roll_must_be_given(work, monkeypatch, capsys, words) -> None:
    """Neither and both are wrong usage."""
    assert marker(monkeypatch, *words) == 2
    assert "--roll-size" in capsys.readouterr().err


def test_another_material_is_warned_of_and_never_approved(work, monkeypatch, capsys) -> None:
    """The warning stands on the screen, in the plan and so on every first map."""
    words = ("--roll-size", "2150x8000", "-m", "other", "--instead-of", "Ticking")
    assert marker(monkeypatch, *words) == 0
    assert "An earlier fire test of the product may no longer hold" in capsys.readouterr().err
    (part,) = read_plan(work / "out" / "plan.json").materials
    assert part.material.key == "other"
    assert "file 12" in part.notes[0]
    assert "An earlier fire test" in (work / "out" / "other" / "map-01.svg").read_text(encoding="utf-8")


def test_a_plan_cuts_and_reserves_what_is_on_the_shelf(work, monkeypatch, capsys) -> None:
    """All pieces that the plan names are reserved under its number."""
    words = ("plan", "range.toml", "orders.csv", "-o", "out", "--effort", 4, "--stock", "stock.db")
    assert run(monkeypatch, *words, "--reserve") == 0
    plan = read_plan(work / "out" / "plan.json")
    used = {piece.id for part in plan.materials for piece in part.shelf}
    assert "S-1" in used
    assert used & {"R-1", "R-2"}
    assert {id_ for id_, state in states().items() if state == f"reserved {plan.number}"} == used
    assert len(json.loads((work / "out" / "summary.json").read_text())["stock"]) == len(used)


def test_only_what_is_on_the_shelf_when_nothing_new_is_allowed(work, monkeypatch, capsys) -> None:
    """The one board on the shelf makes one; the other six are missing, and the exit code says so."""
    words = ("plan", "range.toml", "orders.csv", "-o", "out", "--effort", 4, "--stock", "stock.csv")
    assert run(monkeypatch, *words, "--no-new", "-m", "board") == 1
    assert "Cannot be cut: 6 x" in capsys.readouterr().err


def test_a_stock_list_cannot_reserve(work, monkeypatch, capsys) -> None:
    """Said before any planning."""
    words = ("plan", "range.toml", "orders.csv", "-o", "out", "--stock", "stock.csv", "--reserve")
    assert run(monkeypatch, *words) == 1
    assert "a stock ledger to reserve in" in capsys.readouterr().err


def test_a_piece_that_somebody_takes_meanwhile_stops_the_plan(work, monkeypatch, capsys) -> None:
    """Reserved by another plan while this one was searched for: nothing written, nothing else reserved."""
    make = nesting.planning.make_plan

    def slow(*args, **kwargs):
        made = make(*args, **kwargs)
        with open_ledger("stock.db") as ledger:
            ledger.reserve(["S-1"], "abcd1234")
        return made

    monkeypatch.setattr(nesting.planning, "make_plan", slow)
    words = ("plan", "range.toml", "orders.csv", "-o", "out", "--effort", 4, "--stock", "stock.db")
    assert run(monkeypatch, *words, "--reserve") == 1
    assert "S-1 is reserved for plan abcd1234" in capsys.readouterr().err
    assert not (work / "out").exists()
    assert states() == {"R-1": "free", "R-2": "free", "S-1": "reserved abcd1234"}


def test_a_piece_that_was_corrected_meanwhile_stops_the_plan(work, monkeypatch, capsys) -> None:
    """The plan would cut more than there is."""
    from nesting.stock.ledger import Correction

    make = nesting.planning.make_plan

    def slow(*args, **kwargs):
        made = make(*args, **kwargs)
        with open_ledger("stock.db") as ledger:
            ledger.correct("S-1", Correction(length=1000), "measured again")
        return made

    monkeypatch.setattr(nesting.planning, "make_plan", slow)
    words = ("plan", "range.toml", "orders.csv", "-o", "out", "--effort", 4, "--stock", "stock.db")
    assert run(monkeypatch, *words, "--reserve", "-m", "board") == 1
    assert "S-1 was changed while the plan was made" in capsys.readouterr().err
    assert states()["S-1"] == "free"


def test_what_cannot_be_written_is_not_kept_reserved(work, monkeypatch, capsys) -> None:
    """A full disk must not lock up stock."""

    def fail(*args, **kwargs):
        raise NestingError("no room")

    monkeypatch.setattr(nesting.output, "write_plan", fail)
    assert marker(monkeypatch, "--roll", "R-1") == 1
    assert "no room" in capsys.readouterr().err
    assert set(states().values()) == {"free"}
