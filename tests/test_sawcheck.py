"""The check of saw plans: good plans pass, and each way of breaking one is found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from nesting.errors import LayoutError
from nesting.model import BlockMaterial, CutNode, Demand, Layout, Panel, Placement
from nesting.packing import Skins
from nesting.sawcheck import check_saw_plan
from nesting.sawcuts import SawCut, SawPlan
from nesting.sawplan import saw_plan

RAW = (1000.0, 800.0, 412.0)


def slab(key: str, length: float, width: float, thickness: float, quantity: int = 1) -> Demand:
    panel = Panel(code=key, name=key, material="foam", length=length, width=width, thickness=thickness)
    return Demand(key=key, panel=panel, model="Aster", size="single", quantity=quantity)


DEMANDS = [slab("big", 970, 500, 100, 2), slab("thin", 970, 730, 50)]


@pytest.fixture
def layout() -> Layout:
    """Skins 10, 20 / 30, 40 / 50, 60 and a saw cut of 2: two sheets with a slab each, a pad, and a rest."""

    def sheet(z: float, piece: int) -> CutNode:
        parts = (
            CutNode(10, 30, 970, 500, piece=piece, z=z, height=100),
            CutNode(10, 532, 970, 228, z=z, height=100),
        )
        return CutNode(10, 30, 970, 730, "y", parts, z=z, height=100)

    parts = (
        sheet(50, 0),
        sheet(152, 1),
        CutNode(10, 30, 970, 730, piece=2, z=254, height=50),
        CutNode(10, 30, 970, 730, z=306, height=46),
    )
    places = (
        Placement("big", 10, 30, z=50),
        Placement("big", 10, 30, z=152),
        Placement("thin", 10, 30, z=254),
    )
    return Layout("block", places, 1000, 3, CutNode(10, 30, 970, 730, "z", parts, z=50, height=302))


@pytest.fixture
def plan(layout: Layout) -> SawPlan:
    material = BlockMaterial(
        key="foam",
        name="Foam",
        length=1000,
        width=800,
        height=412,
        skins=Skins(10, 20, 30, 40, 50, 60),
        kerf=2,
        density=30,
    )
    return saw_plan(material, layout, DEMANDS)


def changed(plan: SawPlan, number: int, change: Callable[[SawCut], SawCut]) -> SawPlan:
    """The plan with one cut changed."""
    cuts = tuple(change(cut) if cut.number == number else cut for cut in plan.cuts)
    return replace(plan, cuts=cuts)


def sized(cut: SawCut, *by: float) -> SawCut:
    """The cut with the size of the first thing it frees changed."""
    first, *others = cut.frees
    x, y, z = (side + more for side, more in zip(first.size, by, strict=True))
    return replace(cut, frees=(replace(first, size=(x, y, z)), *others))


def test_a_plan_as_it_is_made_passes(plan: SawPlan, layout: Layout) -> None:
    check_saw_plan(plan, RAW, layout, DEMANDS)


# Cuts 1-6 take the skins off, 7-9 slit (120 high from 48 on), 10 saws both sheets A.
BREAKS: dict[str, tuple[Callable[[SawPlan], SawPlan], str]] = {
    "a measure read wrongly": (
        lambda plan: changed(plan, 8, lambda cut: replace(cut, measure=cut.measure + 0.1)),
        "cut 8: frees 'sheet A', told as 970 x 730 x 100 mm, but 970 x 730 x 100.1 mm comes off",
    ),
    "a saw cut that is not counted": (
        lambda plan: replace(plan, kerfs=(1.9, 1.9, 1.9)),
        "told as .* mm, but .* comes off",
    ),
    "a skin forgotten": (
        lambda plan: replace(
            plan, cuts=tuple(replace(cut, number=n) for n, cut in enumerate(plan.cuts[1:], start=1))
        ),
        "cut 2: frees 'skin, front side', told as 970 x 28 x 412 mm, but 980 x 28 x 412 mm comes off",
    ),
    "a size told too long": (lambda plan: changed(plan, 10, lambda cut: sized(cut, 0.2, 0, 0)), "but 970"),
    "a size told too wide": (lambda plan: changed(plan, 10, lambda cut: sized(cut, 0, 0.2, 0)), "but 970"),
    "a size told too thin": (
        lambda plan: changed(plan, 9, lambda cut: sized(cut, 0, 0, -0.2)),
        "50 mm comes",
    ),
    "a part cut too often": (
        lambda plan: changed(plan, 10, lambda cut: replace(cut, copies=3)),
        "wants 3 of 'sheet A', but there are 2",
    ),
    "a part that is not there": (
        lambda plan: changed(plan, 10, lambda cut: replace(cut, part="sheet B")),
        "wants 'sheet B', which is not on the table",
    ),
    "a sheet never cut": (lambda plan: replace(plan, cuts=plan.cuts[:9]), "leaves 'sheet A' uncut"),
    "a rest nobody takes": (
        lambda plan: changed(plan, 10, lambda cut: replace(cut, frees=cut.frees[:1])),
        "leaves 'sheet A' uncut",
    ),
    "a slab given to another order": (
        lambda plan: changed(
            plan, 9, lambda cut: replace(cut, frees=(replace(cut.frees[0], key="big"), *cut.frees[1:]))
        ),
        "frees 'thin' at 10 x 30 x 254 mm 0 times; it lies there 1",
    ),
    "the wrong machine": (
        lambda plan: changed(plan, 7, lambda cut: replace(cut, machine="vertical saw")),
        "cannot be made on the vertical saw",
    ),
    "a number twice": (lambda plan: changed(plan, 7, lambda cut: replace(cut, number=6)), "is numbered 6"),
    "a cut beside the foam": (
        lambda plan: changed(plan, 10, lambda cut: replace(cut, measure=730.0)),
        "cut 10: cuts nothing",
    ),
    "another block": (
        lambda plan: replace(plan, size=(1000.1, 800, 412)),
        "made for a block of 1000.1 x 800",
    ),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_plan_is_refused(plan: SawPlan, layout: Layout, name: str) -> None:
    """Whatever is wrong is told with the number of the cut, or with what does not add up."""
    breaking, words = BREAKS[name]
    with pytest.raises(LayoutError, match=words):
        check_saw_plan(breaking(plan), RAW, layout, DEMANDS)


def test_a_piece_that_lies_elsewhere_is_found(plan: SawPlan, layout: Layout) -> None:
    """The plan is right in itself, but the layout has the slab a tenth further on."""
    moved = replace(layout.placements[0], y=30.1)
    with pytest.raises(LayoutError, match="lies there"):
        check_saw_plan(plan, RAW, replace(layout, placements=(moved, *layout.placements[1:])), DEMANDS)


def test_a_block_of_another_size_is_found(plan: SawPlan, layout: Layout) -> None:
    """A rest from the shelf may be a little smaller than was thought."""
    with pytest.raises(LayoutError, match=r"the block is 1000 x 799.5 x 412 mm"):
        check_saw_plan(plan, (1000, 799.5, 412), layout, DEMANDS)


def marked() -> tuple[BlockMaterial, Layout, Demand]:
    """Two triangles of 300 x 300 share a box of 302 x 302 (invented); the rest of the block is scrap."""
    panel = Panel(
        code="T",
        name="T",
        material="foam",
        length=300,
        width=300,
        thickness=100,
        outline=((0.0, 0.0), (300.0, 0.0), (0.0, 300.0)),
        turns=(0.0, 180.0),
    )
    demand = Demand(key="T", panel=panel, model="Aster", size="single", quantity=2)
    material = BlockMaterial(key="foam", name="Foam", length=400, width=310, height=100, kerf=1, density=30)
    box = CutNode(0, 0, 310, 310, piece=0, height=100, pair=1)
    root = CutNode(0, 0, 400, 310, "x", (box, CutNode(311, 0, 89, 310, height=100)), height=100)
    places = (Placement("T", 0, 0), Placement("T", 10, 10, turn=180.0))
    return material, Layout("block", places, 400, 1, root), demand


def test_outlines_cut_along_marked_lines_are_followed() -> None:
    """Both come out of their box; one that is forgotten, or offcuts that are too large, are found."""
    material, layout, demand = marked()
    plan = saw_plan(material, layout, [demand])
    raw = (400.0, 310.0, 100.0)
    check_saw_plan(plan, raw, layout, [demand])
    last = len(plan.cuts)
    assert plan.cuts[-1].axis is None
    lost = changed(plan, last, lambda cut: replace(cut, frees=cut.frees[1:]))
    with pytest.raises(LayoutError, match=r"but .*2.* lie in the box"):
        check_saw_plan(lost, raw, layout, [demand])
    large = changed(
        plan, last, lambda cut: replace(cut, frees=tuple(replace(freed, share=1.0) for freed in cut.frees))
    )
    with pytest.raises(LayoutError, match="m3 from a box of"):
        check_saw_plan(large, raw, layout, [demand])
