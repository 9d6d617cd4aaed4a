"""What a range says of a model, and the commands that write it."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from nesting.catalogue import load_range
from nesting.cli import main
from nesting.specification import specification

SMALL = Path(__file__).parent / "data" / "ranges" / "small.toml"


def test_values_are_those_the_panels_were_made_with() -> None:
    """A model's own allowance before the common one, a panel's own before both; formulas worked out."""
    range_ = load_range(SMALL)
    aurora = {(name, codes): value for name, value, codes in specification(range_, "aurora", "single").values}
    assert aurora["seam", "TP, BO"] == "15"
    assert aurora["crown", "TP"] == "5"
    assert aurora["ease", "BO"] == "0.5 %"
    assert aurora["foam oversize", "CO"] == "10"
    double = {(name, codes): value for name, value, codes in specification(range_, "aurora", "double").values}
    assert double["foam oversize", "HC"] == "4"
    assert ("thickness", "HC") not in aurora  # the halves are for wider beds
    assert aurora["thickness", "CO"] == "150"
    basis = {name: value for name, value, _ in specification(range_, "basis", "single").values}
    assert basis["crown"] == "0"


def _run(monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    monkeypatch.setattr(sys, "argv", ["nesting", *map(str, words)])
    with pytest.raises(SystemExit) as left:
        main()
    return int(left.value.code or 0)


def test_every_model_and_size_at_once(tmp_path, monkeypatch, capsys) -> None:
    """Five of them: a drawing and a specification each, on the paper asked for."""
    assert (
        _run(monkeypatch, "panels", SMALL, "--all", "--spec", "--paper", "A4", "-o", tmp_path, "--json") == 0
    )
    told = json.loads(capsys.readouterr().out)
    pairs = [(item["model"], item["size"]) for item in told]
    assert pairs == [
        ("aurora", "single"),
        ("aurora", "double"),
        ("aurora", "us-queen"),
        ("basis", "single"),
        ("basis", "double"),
    ]
    for model, size in pairs:
        assert (tmp_path / f"{model}-{size}.svg").is_file()
        reader = PdfReader(tmp_path / f"{model}-{size}-spec.pdf")
        assert len(reader.pages) >= 2
        for page in reader.pages:
            assert [float(side) / 72 * 25.4 for side in page.mediabox[2:]] == pytest.approx(
                [297, 210], abs=0.01
            )
    assert all(Path(path).is_file() for item in told for path in item["drawings"])


def test_all_sizes_of_one_model_or_all_models_of_one_size(tmp_path, monkeypatch, capsys) -> None:
    """--all fills in what is not given."""
    assert _run(monkeypatch, "panels", SMALL, "--all", "-m", "basis", "-o", tmp_path / "a") == 0
    assert len(list((tmp_path / "a").iterdir())) == 2
    assert _run(monkeypatch, "panels", SMALL, "--all", "-s", "us-queen", "-o", tmp_path / "b") == 0
    assert [path.name for path in (tmp_path / "b").iterdir()] == ["aurora-us-queen.svg"]
    capsys.readouterr()
    assert (
        _run(monkeypatch, "panels", SMALL, "--all", "-m", "basis", "-s", "us-queen", "-o", tmp_path / "c")
        == 1
    )
    assert "us-queen" in capsys.readouterr().err


def test_without_all_both_are_needed(tmp_path, monkeypatch, capsys) -> None:
    """Wrong usage, with what to do."""
    assert _run(monkeypatch, "panels", SMALL, "-m", "basis", "-o", tmp_path / "a") == 2
    assert "--all" in capsys.readouterr().err
    assert not (tmp_path / "a").exists()
