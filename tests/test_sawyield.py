"""What becomes of a block, by hand."""

from __future__ import annotations

import pytest

from nesting.model import BlockMaterial, CutNode, Demand, Layout, Panel, Placement
from nesting.packing import Skins
from nesting.sawplan import saw_plan
from nesting.sawyield import saw_yield


def test_every_part_of_the_block_is_accounted_for() -> None:
    """A block of 1000 x 500 x 110 with a bottom skin of 10, saw cut 2; a slab of 340 and a rest of 658.

    Skin 1000 x 500 x 8 = 0.004 m3. Piece 340 x 500 x 100 = 0.017, rest 658 x 500 x 100 = 0.0329, worth
    keeping from 600 on. Dust: 0.001 under the block, and 2 x 500 x 100 = 0.0001. In all 0.055 m3.
    """
    material = BlockMaterial(
        key="f", name="F", length=1000, width=500, height=110, skins=Skins(z0=10), kerf=2, density=30
    )
    panel = Panel(code="a", name="a", material="f", length=340, width=500, thickness=100)
    demand = Demand(key="a", panel=panel, model="m", size="s", quantity=1)
    parts = (
        CutNode(0, 0, 340, 500, piece=0, z=10, height=100),
        CutNode(342, 0, 658, 500, z=10, height=100),
    )
    root = CutNode(0, 0, 1000, 500, "x", parts, z=10, height=100)
    layout = Layout("f", (Placement("a", 0, 0, z=10),), 1000, cuts=root)
    found = saw_yield(saw_plan(material, layout, [demand]))
    volumes = (found.pieces, found.remnants, found.scrap, found.skins, found.dust)
    assert volumes == pytest.approx((0.017, 0.0329, 0.0, 0.004, 0.0011))
    assert found.raw == pytest.approx(0.055)
    assert sum(found.shares) == pytest.approx(1.0)


def test_a_block_that_needs_no_cut_is_the_piece() -> None:
    """All of it is good."""
    material = BlockMaterial(key="f", name="F", length=340, width=500, height=100, density=30)
    panel = Panel(code="a", name="a", material="f", length=340, width=500, thickness=100)
    demand = Demand(key="a", panel=panel, model="m", size="s", quantity=1)
    leaf = CutNode(0, 0, 340, 500, piece=0, height=100)
    plan = saw_plan(material, Layout("f", (Placement("a", 0, 0),), 340, cuts=leaf), [demand])
    assert plan.cuts == ()
    assert saw_yield(plan).shares == (1.0, 0.0, 0.0, 0.0, 0.0)
