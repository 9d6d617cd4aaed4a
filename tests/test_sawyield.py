"""What becomes of a block, by hand."""

from __future__ import annotations

import math
import threading

import pytest

from nesting.model import BlockMaterial, CutNode, Demand, Layout, Panel, Placement
from nesting.packing import Skins
from nesting.planning import Budget, Watch, plan_material
from nesting.sawplan import saw_plan
from nesting.sawyield import foam_yield, saw_yield


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


CORE, RAIL, PAD = (1910.0, 910.0, 100.0), (1910.0, 90.0, 100.0), (1910.0, 910.0, 20.0)


def test_a_worked_example_of_a_block_to_the_last_figure() -> None:
    """A single core from a block of 2100 x 2060 x 1080 (worked example, common practice figures).

    Sides 20, ends 15, top 35, bottom 20, saw cut 0.5, 30 kg/m3: ten sheets of 100 and one of 20, of each
    two cores of 910 x 1910 and two rails of 90 (the thin sheet: two pads). Yield of the cores alone 74.4 %,
    with rails 81.8 %, with pads 83.3 %; block 140.2 kg, core 5.21 kg. Its "scrap for rebond 23.5 kg" is all
    that is not good, skins and saw dust included; here these are told apart, and dust earns nothing.
    """
    material = BlockMaterial(
        key="f",
        name="F",
        length=2100,
        width=2060,
        height=1080,
        skins=Skins(x0=15, x1=15, y0=20, y1=20, z0=20, z1=35),
        kerf=0.5,
        order="slit first",
        density=30,
        price=100,
        rebond_price=0.4,
        rebond_skin_price=0.2,
        rebond_contamination=0.1,
    )
    demands = tuple(
        Demand(
            key=code,
            panel=Panel(code=code, name=code, material="f", length=a, width=b, thickness=t, pieces=n),
            model="m",
            size="s",
            quantity=quantity,
        )
        for code, (a, b, t), quantity, n in (("core", CORE, 20, 1), ("rail", RAIL, 20, 1), ("pad", PAD, 2, 1))
    )
    plan = plan_material(material, demands, Budget(effort=20), Watch(), threading.Event())
    assert [layout.repeats for layout in plan.layouts] == [1]
    found = foam_yield(plan)
    raw, cores = found.volumes.raw, 20 * math.prod(CORE) / 1e9
    rails, pads = 20 * math.prod(RAIL) / 1e9, 2 * math.prod(PAD) / 1e9
    assert round(raw, 4) == 4.6721
    assert [round(volume, 4) for volume in (cores, rails, pads)] == [3.4762, 0.3438, 0.0695]
    assert found.volumes.pieces == pytest.approx(cores + rails + pads)
    assert round(100 * cores / raw, 1) == 74.4
    assert round(100 * (cores + rails) / raw, 1) == 81.8
    assert round(100 * found.volumes.shares[0], 1) == 83.3
    assert round(found.mass(raw), 1) == 140.2
    assert round(found.mass(found.layers[0].volume), 2) == 5.21
    lost = (found.volumes.scrap, found.volumes.skins, found.volumes.dust)
    assert round(found.mass(sum(lost)), 1) == 23.5
    assert found.volumes.remnants == 0
    # Skins by hand, without the saw cut of 0.5: ends off the raw block, sides off the rest, bottom and top.
    skins = 29 * 2060 * 1080 + 39 * 2070 * 1080 + 54 * 2070 * 2020
    assert found.volumes.skins == pytest.approx(skins / 1e9)
    # Money by hand: 4.67208 m3 at 100 over 3.889524 m3 of pieces makes 120.12 a m3 of good foam.
    assert found.net == pytest.approx(467.208)
    assert found.rate == pytest.approx(467.208 / 3.889524)
    assert found.beds[0].cost == pytest.approx((0.17381 + 0.01719 + 0.034762) * found.rate)
    spent = sum(layer.cost * layer.demand.quantity for layer in found.layers)
    assert spent == pytest.approx(found.net)
    clean, skin = found.mass(lost[0]), found.mass(lost[1])
    assert found.credit == pytest.approx((clean * 0.4 + skin * 0.2) * 0.9)
