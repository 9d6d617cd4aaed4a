"""``nesting week`` and ``nesting widths`` as they are typed, on the demo range with invented demand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.calling import run

RANGE = Path(__file__).parents[2] / "patterns" / "demo-range.toml"
FORECAST = "model,size,per week\nFern,King 150x200,6\nFern,Double 135x190,4.5\n"


@pytest.fixture
def forecast(tmp_path: Path) -> Path:
    path = tmp_path / "forecast.csv"
    path.write_text(FORECAST)
    return path


def test_a_week_from_forecast_to_folder(tmp_path, monkeypatch, capsys, forecast) -> None:
    """Two weeks nested, two estimated, which the table says; the folder holds all that was told."""
    supply = tmp_path / "supply.csv"
    supply.write_text("material,lead weeks,review weeks,moq,on hand\nheadboard-velvet,2,1,100 m,30 m\n")
    words = (
        *("week", RANGE, forecast, "--weeks", 4, "--from", "2026-12-09", "--planned", 2, "--spread", 0.2),
        *("--supply", supply, "-m", "headboard-velvet", "--effort", 1, "-o", tmp_path / "buy"),
    )
    assert run(monkeypatch, *words) == 0
    told = capsys.readouterr()
    assert "2026-W50 to 2026-W53" in told.out
    assert "part estimated" in told.out
    assert "3 rolls (120.0 m)" in told.out
    assert "1 of 1: Headboard velvet" in told.err
    assert run(monkeypatch, *words, "--json") == 0
    told = capsys.readouterr()
    assert told.err == ""
    values = json.loads(told.out)
    assert values == json.loads((tmp_path / "buy" / "buying.json").read_text("utf-8"))
    (velvet,) = values["materials"]
    assert (velvet["unit"], velvet["on hand"], velvet["weeks covered"]) == ("m", 30.0, 3)
    assert [week["nested"] for week in velvet["by week"]] == [True, True, False, False]
    assert velvet["orders"][0]["there in"] == "2026-W52"
    assert velvet["spread"]["5 %"] < velvet["spread"]["50 %"] < velvet["spread"]["95 %"]


def test_quick_nests_one_week(tmp_path, monkeypatch, capsys, forecast) -> None:
    words = ("week", RANGE, forecast, "--weeks", 3, "--quick", "--effort", 1, "-m", "headboard-velvet")
    assert run(monkeypatch, *words, "-o", tmp_path / "buy", "--json") == 0
    (velvet,) = json.loads(capsys.readouterr().out)["materials"]
    assert [week["nested"] for week in velvet["by week"]] == [True, False, False]


def test_nothing_is_written_when_files_have_faults(tmp_path, monkeypatch, capsys, forecast) -> None:
    supply = tmp_path / "supply.csv"
    supply.write_text("material,lead weeks\nvelvet,2\n")
    words = ("week", RANGE, forecast, "--weeks", 3, "--supply", supply, "-o", tmp_path / "buy")
    assert run(monkeypatch, *words) == 1
    assert "row 2, material: found 'velvet'" in capsys.readouterr().err
    assert not (tmp_path / "buy").exists()


def test_ctrl_c_leaves_nothing_behind(tmp_path, monkeypatch, capsys, forecast) -> None:
    """It comes while a material is planned."""
    import nesting.buying.week as room

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(room, "need_of", stopped)
    assert run(monkeypatch, "week", RANGE, forecast, "--weeks", 3, "-o", tmp_path / "buy") == 130
    assert capsys.readouterr().err == "Stopped. Nothing was written.\n"
    assert [path.name for path in tmp_path.iterdir()] == ["forecast.csv"]


def test_widths_on_screen_as_list_and_for_programs(tmp_path, monkeypatch, capsys, forecast) -> None:
    offer = tmp_path / "offer.csv"
    offer.write_text("width,price\n1420,13.5\n1600,14.8\n")
    words = ("widths", RANGE, forecast, "-m", "headboard-velvet", "--offer", offer, "--effort", 1, "-n", 2)
    assert run(monkeypatch, *words, "--csv", tmp_path / "widths.csv") == 0
    told = capsys.readouterr().out
    assert "One width: " in told
    assert "as bought now: 1420 mm" in told
    assert len((tmp_path / "widths.csv").read_text("utf-8-sig").splitlines()) == 4
    assert run(monkeypatch, *words, "--json") == 0
    values = json.loads(capsys.readouterr().out)
    assert {"material", "unit", "choices", "as bought now", "advice"} == set(values)
    assert values["choices"][0]["cost EUR"] <= values["as bought now"]["cost EUR"]


def test_widths_of_what_has_none(tmp_path, monkeypatch, capsys) -> None:
    """Tape is only cut to length."""
    forecast, offer = tmp_path / "forecast.csv", tmp_path / "offer.csv"
    forecast.write_text("model,size,per week\nAster,King 150x200,6\n")
    offer.write_text("width,price\n50,1\n")
    assert run(monkeypatch, "widths", RANGE, forecast, "-m", "edge-tape", "--offer", offer) == 1
    assert "only cut to length" in capsys.readouterr().err
