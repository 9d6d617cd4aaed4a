"""All drawings and lists of a plan, written into one folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from nesting.drawing.cutlist import write_cut_list
from nesting.drawing.files import safe_names
from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.panel_sheet import panel_sheet
from nesting.drawing.paper import find_paper
from nesting.drawing.scene import Scene
from nesting.model import Material, MaterialPlan, Panel, Plan

__all__ = ["draw_panels", "draw_plan"]


def draw_plan(plan: Plan, directory: Path | str, paper: str = "A3") -> list[Path]:
    """Write maps, machine drawings and cut lists of a whole plan.

    Every material gets a folder named after its key, with ``map-01.svg`` and so on (printed pages),
    ``layout-01.dxf`` and so on (true size) and ``cut-list.csv``. ``maps.pdf`` holds the pages of all
    materials. Each file appears whole or not at all. Files of an earlier plan are replaced but never
    removed, so give a new folder: nobody must cut from a map that is no longer true.

    Parameters
    ----------
    plan
        What is to be cut.
    directory
        Where to write; made if need be.
    paper
        ``"A3"`` or ``"A4"``.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    DrawingError
        When there is no such paper.
    FileError
        When a file cannot be written.
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    from nesting.drawing.pdf import write_pdf  # here: the back ends are slow to load

    find_paper(paper)
    base = Path(directory)
    names = safe_names([item.material.key for item in plan.materials])
    written: list[Path] = []
    pages: list[Scene] = []
    for item in plan.materials:
        scenes = map_pages(plan, item, paper)
        pages += scenes
        written += _draw_material(plan, item, scenes, base / names[item.material.key])
    if pages:
        path = base / "maps.pdf"
        write_pdf(pages, path, f"Cut maps: {plan.range_name}, {plan.made}")
        written.append(path)
    return written


def _draw_material(plan: Plan, item: MaterialPlan, scenes: tuple[Scene, ...], folder: Path) -> list[Path]:
    from nesting.drawing.dxf import write_dxf
    from nesting.drawing.svg import write_svg

    written: list[Path] = []
    digits = max(2, len(str(max(len(scenes), len(item.layouts)))))
    for number, scene in enumerate(scenes, start=1):
        written.append(folder / f"map-{number:0{digits}}.svg")
        write_svg(scene, written[-1])
    stamp = f"{plan.range_name}, made {plan.made}, version {plan.version}, seed {plan.seed}"
    for index in range(len(item.layouts)):
        written.append(folder / f"layout-{index + 1:0{digits}}.dxf")
        write_dxf(machine_scene(item, index, stamp), written[-1])
    written.append(folder / "cut-list.csv")
    write_cut_list(item, written[-1])
    return written


def draw_panels(
    title: str, panels: Sequence[Panel], materials: Mapping[str, Material], directory: Path | str, name: str
) -> list[Path]:
    """Write the sheet of all panels of one model and size as SVG.

    Parameters
    ----------
    title, panels, materials
        As for `panel_sheet`.
    directory
        Where to write; made if need be.
    name
        Name of the file without its ending; further pages get a number.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    FileError
        When a file cannot be written.
    """
    from nesting.drawing.svg import write_svg

    base = safe_names([name])[name]
    written: list[Path] = []
    for number, scene in enumerate(panel_sheet(title, panels, materials), start=1):
        written.append(Path(directory) / (f"{base}.svg" if number == 1 else f"{base}-{number}.svg"))
        write_svg(scene, written[-1])
    return written
