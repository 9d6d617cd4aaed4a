"""Cut maps of a material as pages, whatever kind it is."""

from __future__ import annotations

from nesting.drawing.bar_maps import bar_pages
from nesting.drawing.block_maps import block_pages
from nesting.drawing.facts import header
from nesting.drawing.long_maps import long_pages
from nesting.drawing.paper import Page, Paper, find_paper, finished
from nesting.drawing.pieces import is_lengths
from nesting.drawing.roll_maps import roll_pages
from nesting.drawing.scene import Scene
from nesting.drawing.sheet_maps import sheet_pages
from nesting.measures import shown_for
from nesting.model import MaterialPlan, Plan

__all__ = ["map_pages"]


def map_pages(plan: Plan, material_plan: MaterialPlan, paper: str | None = None) -> tuple[Scene, ...]:
    """The cut maps of one material, ready to print; a layout that is cut often is drawn once.

    Parameters
    ----------
    plan
        The whole plan, for what the header says.
    material_plan
        The material; one of the plan's.
    paper
        Which of `PAPERS`, lying; None for the workshop's own.

    Returns
    -------
    tuple of Scene
        Pages in paper millimetres. A material without any layout still gets one page, which says
        what could not be cut.

    Raises
    ------
    DrawingError
        When there is no such paper.
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    sheet = find_paper(paper or plan.workshop.paper)
    with shown_for(plan.workshop):
        return finished(_pages(plan, material_plan, sheet))


def _pages(plan: Plan, material_plan: MaterialPlan, sheet: Paper) -> list[Page]:
    if not material_plan.layouts:
        return [Page(sheet, header(plan, material_plan, "Nothing to cut"))]
    if is_lengths(material_plan):
        return bar_pages(plan, material_plan, sheet)
    drawers = {"roll": roll_pages, "sheet": sheet_pages, "block": block_pages}
    draw = drawers[material_plan.material.kind]
    return long_pages(plan, material_plan, sheet) + [
        page
        for index in range(len(material_plan.layouts))
        for page in draw(plan, material_plan, index, sheet)
    ]
