"""All drawings and lists of a plan, written into one folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from nesting.drawing.cutlist import write_cut_list
from nesting.drawing.cutting_order import cutting_orders
from nesting.drawing.glue_list import write_glue_list
from nesting.drawing.machine import machine_scene
from nesting.drawing.maps import map_pages
from nesting.drawing.panel_sheet import panel_sheet
from nesting.drawing.paper import find_paper
from nesting.drawing.saw_plan_list import write_saw_plan
from nesting.drawing.saw_plan_views import saw_plan_views
from nesting.drawing.scene import Scene
from nesting.drawing.yield_list import write_foam_cost, write_foam_yield
from nesting.files import safe_names
from nesting.measures import shown_for
from nesting.model import Material, MaterialPlan, Panel, Plan, Workshop
from nesting.sawcuts import Grouping

__all__ = ["draw_panels", "draw_plan"]


def draw_plan(
    plan: Plan,
    directory: Path | str,
    paper: str | None = None,
    workers: int = 1,
    group: Grouping = "product",
) -> list[Path]:
    """Write maps, machine drawings and cut lists of a whole plan.

    Every material gets a folder named after its key, with ``map-01.svg`` and so on (printed pages),
    ``layout-01.dxf`` and so on (true size) and ``cut-list.csv``. Foam blocks have ``saw-plan.csv``, too,
    the cuts in the order of work, ``saw-plan-01.dxf`` and so on, with every view at true size on a
    layer of its own, and the account of their foam in ``foam-yield.csv`` and ``foam-cost.csv``;
    slabs that are glued up have ``glue-list.csv``.
    ``maps.pdf`` holds the pages of all materials. Each file appears whole or not at all. Files of an earlier
    plan are replaced but never removed, so give a new folder: nobody must cut from a map that is no longer
    true.

    Parameters
    ----------
    plan
        What is to be cut.
    directory
        Where to write; made if need be.
    paper
        Which of `PAPERS`; None for the workshop's own.
    workers
        Processes at work: with more than one, others write drawings for machines and cut lists while
        this one makes the maps. The files are the same. (A script that asks for more must guard its
        start with ``if __name__ == "__main__"``, as for any process pool.)
    group
        Whether pieces go to the piles of their products or to their orders.

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
    paper = find_paper(paper or plan.workshop.paper).key
    base = Path(directory)
    names = safe_names([item.material.key for item in plan.materials])
    stamp = f"{plan.range_name}, made {plan.made}, version {plan.version}, seed {plan.seed}"
    jobs = [
        (item, stamp, base / names[item.material.key], plan.workshop, plan.currency, group)
        for item in plan.materials
    ]
    if workers == 1 or len(jobs) < 2:
        return _draw_maps(plan, base, names, paper, group) + [
            path for job in jobs for path in _draw_lists(*job)
        ]
    # Fresh processes: a fork would copy the threads and locks of solvers that may have run in this one.
    with ProcessPoolExecutor(workers - 1, mp_context=get_context("spawn")) as pool:
        running = [pool.submit(_draw_lists, *job) for job in jobs]
        maps = _draw_maps(plan, base, names, paper, group)
        return maps + [path for job in running for path in job.result()]


def _draw_maps(plan: Plan, base: Path, names: Mapping[str, str], paper: str, group: Grouping) -> list[Path]:
    """What people read: the pages of every material as SVG, and all of them as one PDF."""
    from nesting.drawing.pdf import write_pdf  # here: the back ends are slow to load
    from nesting.drawing.svg import write_svg

    written: list[Path] = []
    pages: list[Scene] = []
    for item in plan.materials:
        scenes = map_pages(plan, item, paper, group=group)
        pages += scenes
        for number, scene in enumerate(scenes, start=1):
            written.append(base / names[item.material.key] / f"map-{_numbered(number, len(scenes))}.svg")
            write_svg(scene, written[-1])
    if pages:
        written.append(base / "maps.pdf")
        write_pdf(pages, written[-1], f"Cut maps: {plan.range_name}, {plan.made}")
    return written


def _draw_lists(
    item: MaterialPlan, stamp: str, folder: Path, workshop: Workshop, currency: str, group: Grouping
) -> list[Path]:
    """What machines and lists read: the layouts of a material in true size, and its cut list."""
    from nesting.drawing.dxf import write_dxf, write_views_dxf

    written: list[Path] = []
    cutting = cutting_orders(item)
    for index, order in enumerate(cutting):
        written.append(folder / f"layout-{_numbered(index + 1, len(item.layouts))}.dxf")
        write_dxf(machine_scene(item, index, stamp, order), written[-1])
    written.append(folder / "cut-list.csv")
    with shown_for(workshop):
        write_cut_list(item, written[-1], cutting, group)
        if item.glued:
            written.append(folder / "glue-list.csv")
            write_glue_list(item, written[-1])
    if item.material.kind == "block" and all(layout.cuts for layout in item.layouts):
        written.append(folder / "saw-plan.csv")
        with shown_for(workshop):
            write_saw_plan(item, written[-1], group)
        written += [folder / "foam-yield.csv", folder / "foam-cost.csv"]
        with shown_for(workshop):
            write_foam_yield(item, currency, written[-2])
            write_foam_cost(item, currency, written[-1])
        for index in range(len(item.layouts)):
            written.append(folder / f"saw-plan-{_numbered(index + 1, len(item.layouts))}.dxf")
            write_views_dxf(saw_plan_views(item, index), written[-1])
    return written


def _numbered(number: int, most: int) -> str:
    """A number with leading zeros, so that files sort as they count."""
    return f"{number:0{max(2, len(str(most)))}}"


def draw_panels(
    title: str,
    panels: Sequence[Panel],
    materials: Mapping[str, Material],
    directory: Path | str,
    name: str,
    paper: str = "A3",
) -> list[Path]:
    """Write the sheet of all panels of one model and size as SVG.

    Parameters
    ----------
    title, panels, materials, paper
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
    for number, scene in enumerate(panel_sheet(title, panels, materials, paper), start=1):
        written.append(Path(directory) / (f"{base}.svg" if number == 1 else f"{base}-{number}.svg"))
        write_svg(scene, written[-1])
    return written
