"""The views of a saw plan at true size, for drawing programs: each view on a layer of its own."""

from __future__ import annotations

from nesting.blocks import layout_block
from nesting.drawing.block_maps import STACK_SLOT, block_pictures
from nesting.drawing.paper import Canvas, Paper
from nesting.drawing.pieces import placed_pieces
from nesting.drawing.scene import Scene, Text
from nesting.drawing.sketch import Box
from nesting.measures import MACHINES, shown_for
from nesting.model import MaterialPlan
from nesting.sawplan import saw_plan

__all__ = ["saw_plan_views"]

LETTERS = 25.0
"""Height of the capitals, mm."""

AROUND = 60.0
"""Room for dimensions and lists beside and above a view, over the height of the letters."""

STACK_TITLE = 4.5
"""Room for the headings above a stack, over the height of the letters."""

STACKS = 4
"""Stacks that stand in one view."""


@shown_for(MACHINES)
def saw_plan_views(material_plan: MaterialPlan, index: int) -> dict[str, Scene]:
    """The views of block layout `index`, in mm of the block, one to the right of the other.

    They are those of the map with their cut numbers and measures: ``SIDE`` and ``PLAN_A``, ``PLAN_B`` and
    so on, or ``COLUMNS`` and ``STACKS_1`` and so on. Stacks have true heights, not widths.

    Raises
    ------
    LayoutError
        When the layout has no tree of cuts, or refers to a piece that is not among the demands.
    """
    material, layout = layout_block(material_plan, index).material, material_plan.layouts[index]
    cutting = saw_plan(material, layout, material_plan.demands)
    assert layout.cuts is not None
    pieces = placed_pieces(material_plan, index)
    width = material.length + AROUND * LETTERS
    height = max(material.width, material.height) + AROUND * LETTERS
    paper = Paper(
        key="true size",
        width=2.0 * (STACKS + 1) * STACK_SLOT * LETTERS,
        height=height,
        least=LETTERS,
        margin=0.0,
        band=0.0,
    )
    stack_height = layout.cuts.height + STACK_TITLE * LETTERS
    views: dict[str, Scene] = {}
    left = 0.0
    for picture in block_pictures(material, layout, pieces, paper, cutting):
        stacked = picture.name.startswith("STACKS")
        across = paper.width / 2.0 if stacked else width
        box = Box(left, 0.0, left + across, stack_height if stacked else height)
        canvas = Canvas(paper)
        picture.draw(canvas, box)
        canvas.add(Text(left, box.high + 2.0 * LETTERS, picture.title, LETTERS))
        views[picture.name] = Scene(
            title=picture.title,
            width=across,
            height=box.high + 4.0 * LETTERS,
            items=tuple(canvas.items),
            left=left,
        )
        left += across
    return views
