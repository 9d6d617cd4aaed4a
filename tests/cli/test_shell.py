"""What programs and shells rely on: JSON and help of every command, completion, a light start."""

from __future__ import annotations

import inspect
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from nesting.cli import main
from nesting.cli.app import app

PATTERNS = Path(__file__).parents[2] / "patterns"
COMMANDS = {
    command.name or command.callback.__name__: command.callback
    for command in app.registered_commands
    if command.callback
}

HEAVY = {
    "ezdxf",
    "numba",
    "numpy",
    "openpyxl",
    "ortools",
    "pyscipopt",
    "reportlab",
    "scipy",
    "shapely",
    "svgwrite",
}
"""Libraries that take a good part of a second to load."""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_an_example_and_json(name: str) -> None:
    """The example begins as it is typed; other programs read every command's answer."""
    assert f"Example: nesting {name} " in (COMMANDS[name].__doc__ or "")
    assert "json" in inspect.signature(COMMANDS[name]).parameters


@pytest.mark.parametrize(
    "words",
    [
        ["--version"],
        ["--help"],
        ["plan", "--help"],
        ["check", str(PATTERNS / "demo-range.toml"), str(PATTERNS / "demo-orders.csv")],
    ],
    ids=" ".join,
)
def test_a_light_start(words: list[str]) -> None:
    """What neither solves nor draws loads no solver and no back end of the drawings."""
    script = (
        "import sys\n"
        "from nesting.cli import main\n"
        "try:\n"
        "    main()\n"
        "except SystemExit as left:\n"
        "    assert not left.code, left.code\n"
        "print(*{name.partition('.')[0] for name in sys.modules}, file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *words], capture_output=True, text=True, check=True, env=_environment()
    )
    assert done.stdout
    assert HEAVY.isdisjoint(done.stderr.split())


def _environment(**more: str) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(PATTERNS.parent), **more}


def _completed(*words: str) -> list[str]:
    """What a shell is offered for the last word."""
    script = "import sys; sys.argv[0] = 'nesting'; from nesting.cli import main; main()"
    environment = _environment(
        _NESTING_COMPLETE="complete_bash",
        COMP_WORDS=" ".join(("nesting", *words)),
        COMP_CWORD=str(len(words)),
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, env=environment
    )
    assert done.stderr == ""
    return done.stdout.split()


RANGE = """
[sizes]
queen = { name = "Queen", width = 1520, length = 2030 }
quarter = { name = "Quarter", width = 760, length = 2030 }
twin = { name = "Twin", width = 960, length = 1900 }
[materials.felt]
[materials.foam]
[models.north]
sizes = ["queen", "twin"]
[models.nova]
sizes = "all"
"""


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (("panels", "{range}", "--model", "n"), ["north", "nova"]),
        (("panels", "{range}", "--model", "x"), []),
        (("panels", "{range}", "--model", "north", "--size", "q"), ["queen"]),
        (("panels", "{range}", "--model", "nova", "--size", "q"), ["queen", "quarter"]),
        (("plan", "{range}", "orders.csv", "--material", "fe"), ["felt"]),
        (("plan", "no-such.toml", "orders.csv", "--material", "fe"), []),
        (("plan", "--paper", "L"), ["Letter"]),
        (("pl",), ["plan"]),
    ],
)
def test_shells_complete_names_of_the_range_on_the_line(
    tmp_path: Path, words: tuple[str, ...], offered: list[str]
) -> None:
    """From a range that need not even be complete (invented); nothing is offered where none can be read."""
    path = tmp_path / "range.toml"
    path.write_text(RANGE)
    assert _completed(*(word.format(range=path) for word in words)) == offered


def _told(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: object) -> object:
    monkeypatch.setattr(sys, "argv", ["nesting", *map(str, words), "--json"])
    with pytest.raises(SystemExit) as left:
        main()
    assert not left.value.code
    return json.loads(capsys.readouterr().out)


def test_json_keeps_its_shape_and_its_units(tmp_path, monkeypatch, capsys) -> None:
    """The names that README lists; mm, m and kg even where people read inches and yards."""
    source, orders = PATTERNS / "demo-range.toml", PATTERNS / "demo-orders.csv"
    assert _told(monkeypatch, capsys, "check", source, orders) == []

    drawn = ("panels", source, "-m", "aster", "-s", "king", "-o", tmp_path / "panels", "--units", "inch")
    told = _told(monkeypatch, capsys, *drawn)
    assert list(told) == ["model", "size", "panels", "drawings"]
    assert {"code", "length mm", "width mm", "area m2"} <= set(told["panels"][0])

    week = ("-m", "headboard-board", "--effort", 1, "--units", "inch", "--paper", "letter")
    told = _told(monkeypatch, capsys, "plan", source, orders, "-o", tmp_path / "plan", *week)
    assert {"range", "beds", "materials", "remnants", "missing", "notes"} <= set(told)
    assert told["materials"][0]["unit"] == "m2"
    assert {"roll length m", "mass kg"} <= set(told["materials"][0])
    assert told == json.loads((tmp_path / "plan" / "summary.json").read_text())

    again = _told(monkeypatch, capsys, "draw", tmp_path / "plan" / "plan.json", "-o", tmp_path / "again")
    assert list(again) == ["plan", "units", "paper", "files"]
    assert (again["units"], again["paper"]) == ("inch", "Letter")  # the plan remembers
    assert {Path(path).name for path in again["files"]} >= {"maps.pdf", "plan.json", "cut-list.csv"}
    assert all(Path(path).is_file() for path in again["files"])


def _demo_range(workshop: str) -> str:
    """The demo range with another [workshop]."""
    text = (PATTERNS / "demo-range.toml").read_text()
    changed = re.sub(r"(?s)(?<=\n\[workshop\]\n).*?(?=\n\n)", workshop, text)
    assert changed != text
    return changed


def test_an_inch_shop_from_the_range_file_to_the_lists(tmp_path, monkeypatch, capsys) -> None:
    """[workshop] rules maps, lists and tables; options go before it; machines still get millimetres."""
    (tmp_path / "range.toml").write_text(_demo_range('units = "inch"\npaper = "Tabloid"'))
    week = (
        "plan",
        tmp_path / "range.toml",
        PATTERNS / "demo-orders.csv",
        "-m",
        "headboard-board",
        "--effort",
        1,
    )
    for name, more in (("inch", ()), ("mm", ("--units", "mm", "--paper", "A4"))):
        monkeypatch.setattr(
            sys, "argv", [str(word) for word in ("nesting", *week, "-o", tmp_path / name, *more)]
        )
        with pytest.raises(SystemExit):
            main()
    lists = {name: tmp_path / name / "headboard-board" for name in ("inch", "mm")}
    heads = {name: (lists[name] / "cut-list.csv").read_text().splitlines()[0] for name in lists}
    assert "length in,width in" in heads["inch"]
    assert "length mm,width mm" in heads["mm"]
    assert "mass lb" in (tmp_path / "inch" / "summary.csv").read_text()
    assert "sq ft" in (tmp_path / "inch" / "summary.csv").read_text()
    plans = {name: json.loads((tmp_path / name / "plan.json").read_text())["plan"] for name in lists}
    assert plans["mm"]["workshop"] == {"units": "mm", "paper": "A4", "decimal": "."}
    assert plans["inch"]["workshop"] == {"units": "inch", "paper": "Tabloid", "decimal": "."}
    assert plans["inch"]["number"] == plans["mm"]["number"]
    drawings = {name: _geometry(lists[name] / "layout-01.dxf") for name in lists}
    assert drawings["inch"] == drawings["mm"]


def _geometry(path: Path) -> list[tuple[str, str]]:
    """Every line, outline and text of a DXF file."""
    import ezdxf

    found = []
    for item in ezdxf.readfile(path).modelspace():
        points = [tuple(point) for point in item] if item.dxftype() == "LWPOLYLINE" else []
        found.append((item.dxftype(), f"{points} {item.dxfattribs().get('text', '')}"))
    return found


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('units = "inches"', ["workshop.units", "'inches'", "'mm' or 'inch'", "Did you mean 'inch'?"]),
        ('paper = "A5"', ["workshop.paper", "'A5'", "'Letter'"]),
        ('decimal = ";"', ["workshop.decimal", "';'"]),
        ('unit = "inch"', ["workshop.unit", "Did you mean 'units'?"]),
    ],
)
def test_faults_in_the_workshop_are_told(tmp_path, monkeypatch, capsys, line: str, words: list[str]) -> None:
    """Field, value, what is allowed, what to do."""
    (tmp_path / "range.toml").write_text(_demo_range(line))
    monkeypatch.setattr(sys, "argv", ["nesting", "check", str(tmp_path / "range.toml")])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 1
    told = capsys.readouterr().err
    for word in words:
        assert word in told
