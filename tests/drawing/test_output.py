"""Everything of a plan in one folder."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

import nesting.drawing
from nesting.drawing import draw_panels, draw_plan
from nesting.drawing.paper import DrawingError
from nesting.files import FileError
from nesting.model import MaterialPlan, Plan


def test_a_plan_becomes_a_folder_of_maps_layouts_and_lists(plan: Plan, tmp_path: Path) -> None:
    """A folder for each material, one PDF for all; what is returned is what is there."""
    written = draw_plan(plan, tmp_path, "A4")
    there = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    assert {path.relative_to(tmp_path).as_posix() for path in written} == there
    assert {"ticking/map-01.svg", "ticking/layout-02.dxf", "ticking/cut-list.csv", "maps.pdf"} <= there
    assert {"foam-30/layout-01.dxf", "tape/map-01.svg", "board/map-02.svg"} <= there
    pages = len([name for name in there if name.endswith(".svg")])
    assert len(pypdf.PdfReader(tmp_path / "maps.pdf").pages) == pages


def test_the_same_plan_is_drawn_the_same(
    ticking: MaterialPlan, foam: MaterialPlan, plan_of: Callable[..., Plan], tmp_path: Path
) -> None:
    """Pages and lists byte by byte; DXF files hold the time at which they were made."""
    for name in ("a", "b"):
        draw_plan(plan_of(ticking, foam), tmp_path / name, "A3")
    for path in (tmp_path / "a").rglob("*"):
        if path.suffix in (".svg", ".csv", ".pdf"):
            assert path.read_bytes() == (tmp_path / "b" / path.relative_to(tmp_path / "a")).read_bytes()


def test_hostile_keys_stay_inside_the_folder(hostile: Plan, tmp_path: Path) -> None:
    """A key with dots and slashes becomes a plain name."""
    draw_plan(hostile, tmp_path / "out", "A4")
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["a-b-c", "maps.pdf"]
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_materials_with_the_same_plain_name_are_kept_apart(
    tape: MaterialPlan, plan_of: Callable[..., Plan], tmp_path: Path
) -> None:
    """``tape 40`` and ``tape/40`` get a folder each."""
    twins = [replace(tape, material=replace(tape.material, key=key)) for key in ("tape 40", "tape/40")]
    draw_plan(plan_of(*twins), tmp_path)
    assert (tmp_path / "tape-40").is_dir()
    assert (tmp_path / "tape-40-2").is_dir()


def test_wrong_paper_writes_nothing(plan: Plan, tmp_path: Path) -> None:
    """Checked before the first file."""
    with pytest.raises(DrawingError, match="paper = 'letter'"):
        draw_plan(plan, tmp_path / "out", "letter")
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_written_is_reported(plan: Plan, tmp_path: Path) -> None:
    """A file stands where a folder is needed."""
    (tmp_path / "ticking").write_text("in the way")
    with pytest.raises(FileError, match=r"map-01\.svg: cannot be written"):
        draw_plan(plan, tmp_path)


def test_panels_are_written_under_a_safe_name(ticking: MaterialPlan, tmp_path: Path) -> None:
    """The first page has the plain name."""
    panels = [demand.panel for demand in ticking.demands]
    written = draw_panels("Aster", panels, {}, tmp_path / "new", "aster/queen")
    assert written == [tmp_path / "new" / "aster-queen.svg"]
    assert written[0].is_file()


def test_importing_the_room_loads_no_back_end() -> None:
    """Commands that draw nothing do not pay for it."""
    code = (
        "import sys, nesting.drawing; "
        "print({'ezdxf', 'reportlab', 'svgwrite'} & {name.partition('.')[0] for name in sys.modules})"
    )
    root = str(Path(nesting.drawing.__file__).parents[2])
    result = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": root},
    )
    assert result.stdout.strip() == "set()"


def test_the_public_names_are_there() -> None:
    """What the room offers is what it lists."""
    assert all(hasattr(nesting.drawing, name) for name in nesting.drawing.__all__)
