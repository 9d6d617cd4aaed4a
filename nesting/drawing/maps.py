"""Cut maps of a material as pages, whatever kind it is."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from nesting.drawing.bar_maps import bar_pages
from nesting.drawing.block_maps import foam_pages
from nesting.drawing.cutting_order import LayoutOrder
from nesting.drawing.facts import header
from nesting.drawing.glue_maps import glue_pages
from nesting.drawing.long_maps import long_pages
from nesting.drawing.paper import Page, Paper, find_paper, finished
from nesting.drawing.pieces import is_lengths
from nesting.drawing.roll_maps import roll_pages
from nesting.drawing.scene import Scene
from nesting.drawing.sheet_maps import sheet_pages
from nesting.measures import shown_for
from nesting.model import MaterialPlan, Plan
from nesting.sawcuts import Grouping

__all__ = ["map_pages"]


def map_pages(
    plan: Plan,
    material_plan: MaterialPlan,
    paper: str | None = None,
    only: Collection[int] | None = None,
    mini: Sequence[LayoutOrder] | None = None,
    group: Grouping = "product",
) -> tuple[Scene, ...]:
    """The cut maps of one material, ready to print; a layout that is cut often is drawn once.

    Parameters
    ----------
    plan
        The whole plan, for what the header says.
    material_plan
        The material; one of the plan's.
    paper
        Which of `PAPERS`, lying; None for the workshop's own.
    only
        Numbers of the layouts to draw, from 1; None for all. What is only cut to length is drawn whole.
    mini
        Cutting orders of the layouts: each marker of a roll comes on one page, as small as need be, and its
        pieces tell their place in that order. None for maps as large as can be read well.
    group
        Whether a saw plan sends pieces to the piles of their products or to their orders.

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
        return finished(_pages(plan, material_plan, sheet, only, mini, group))


def _pages(
    plan: Plan,
    material_plan: MaterialPlan,
    sheet: Paper,
    only: Collection[int] | None,
    mini: Sequence[LayoutOrder] | None,
    group: Grouping,
) -> list[Page]:
    if not material_plan.layouts:
        return [Page(sheet, header(plan, material_plan, "Nothing to cut"))]
    if is_lengths(material_plan):
        return bar_pages(plan, material_plan, sheet)
    if material_plan.material.kind == "block":
        first = long_pages(plan, material_plan, sheet) if only is None else []
        glued = glue_pages(plan, material_plan, sheet) if only is None else []
        return first + foam_pages(plan, material_plan, sheet, group, only) + glued
    indices = [index for index in range(len(material_plan.layouts)) if only is None or index + 1 in only]
    if material_plan.material.kind == "roll":
        orders = dict(enumerate(mini or ()))
        found = [roll_pages(plan, material_plan, index, sheet, orders.get(index)) for index in indices]
    else:
        found = [sheet_pages(plan, material_plan, index, sheet) for index in indices]
    return [page for pages in found for page in pages]
