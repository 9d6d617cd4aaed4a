"""Cut maps of a material as pages, whatever kind it is."""

from __future__ import annotations

from nesting.drawing.bar_maps import bar_pages
from nesting.drawing.block_maps import block_pages
from nesting.drawing.facts import header
from nesting.drawing.glue_maps import glue_pages
from nesting.drawing.paper import Page, find_paper, finished
from nesting.drawing.pieces import is_lengths
from nesting.drawing.roll_maps import roll_pages
from nesting.drawing.scene import Scene
from nesting.drawing.sheet_maps import sheet_pages
from nesting.model import MaterialPlan, Plan

__all__ = ["map_pages"]


def map_pages(plan: Plan, material_plan: MaterialPlan, paper: str = "A3") -> tuple[Scene, ...]:
    """The cut maps of one material, ready to print; a layout that is cut often is drawn once.

    Parameters
    ----------
    plan
        The whole plan, for what the header says.
    material_plan
        The material; one of the plan's.
    paper
        ``"A3"`` or ``"A4"``, lying.

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
    sheet = find_paper(paper)
    if not material_plan.layouts:
        return finished([Page(sheet, header(plan, material_plan, "Nothing to cut"))])
    if is_lengths(material_plan):
        return finished(bar_pages(plan, material_plan, sheet))
    drawers = {"roll": roll_pages, "sheet": sheet_pages, "block": block_pages}
    draw = drawers[material_plan.material.kind]
    pages = [
        page
        for index in range(len(material_plan.layouts))
        for page in draw(plan, material_plan, index, sheet)
    ]
    return finished([*pages, *glue_pages(plan, material_plan, sheet)])
