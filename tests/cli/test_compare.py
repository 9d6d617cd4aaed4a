"""``nesting compare`` from the command line."""

from __future__ import annotations

import json
import sys

import pytest

from nesting.cli import main
from nesting.comparing.lab import Lab

RANGE = """
[range]
name = "Command line (invented)"
currency = "EUR"
[allowances]
seam = 10
crown = 0
[sizes]
wide = { name = "Wide", width = 980, length = 1900 }
[materials.cloth]
name = "Cloth"
kind = "roll"
width = 2040
edge_trim = 25
roll_length = "60 m"
price = 10
[models.plain]
name = "Plain"
height = 200
sizes = "all"
[[models.plain.panels]]
generator = "quilted panel"
code = "TP"
name = "Top panel"
material = "cloth"
"""


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Runs a command in a folder with the range; exit code, output, errors."""
    (tmp_path / "range.toml").write_text(RANGE)
    monkeypatch.chdir(tmp_path)

    def command(*words: str):
        monkeypatch.setattr(sys, "argv", ["nesting", *words])
        with pytest.raises(SystemExit) as left:
            main()
        told = capsys.readouterr()
        return left.value.code or 0, told.out, told.err

    return command


def test_json_has_figures_and_files(run, tmp_path) -> None:
    """mm and metric, whatever people read; every file is there."""
    words = (
        "compare",
        "range.toml",
        "--widths",
        "2040,2060",
        "--effort",
        "2",
        "--volume",
        "500",
        "-o",
        "out",
    )
    code, out, _ = run(*words, "--units", "inch", "--json")
    assert code == 0
    told = json.loads(out)
    assert told["cases"][0]["roll width mm"] == 2040.0
    assert told["cases"][0]["cost per bed EUR"] == 19.2
    assert told["breakpoints"][0]["beds a year"] == 500
    assert {point["what"] for point in told["breakpoints"]} == {"seam", "roll width"}
    assert all((tmp_path / path).is_file() for path in told["files"])


def test_a_person_reads_a_table_and_the_best_choice(run) -> None:
    """Cheapest marked, the breakpoints, a sentence, and where the page is."""
    code, out, _ = run("compare", "range.toml", "--widths", "2040,2060", "--effort", "2", "-o", "out")
    assert code == 0
    assert "19.20 (51.0 %)" in out
    assert "9.69 (2.9 %) *" in out
    assert "Plain, Wide, 2060 mm is the cheapest" in out
    assert "comparison.pdf" in out


def test_faults_are_told_before_anything_is_planned(run, tmp_path) -> None:
    """Exit code 1, what is allowed and an example; nothing is written."""
    code, _, err = run("compare", "range.toml", "--widths", "2 metres", "-o", "out")
    assert code == 1
    assert "--widths" in err
    assert "'2 metres'" in err
    assert "Traceback" not in err
    assert not (tmp_path / "out").exists()


def test_stopping_writes_nothing(run, tmp_path, monkeypatch) -> None:
    """Ctrl-C: a clean word and exit code 130."""

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Lab, "outcome", stopped)
    code, _, err = run("compare", "range.toml", "--widths", "2040", "-o", "out")
    assert code == 130
    assert "Stopped. Nothing was written." in err
    assert not (tmp_path / "out").exists()
