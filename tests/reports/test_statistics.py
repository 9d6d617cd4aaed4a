"""Accounts: every square millimetre is a piece, a loss with a cause, or kept."""

from __future__ import annotations

import pytest

from nesting.model import (
    BlockMaterial,
    CutNode,
    Demand,
    Layout,
    Panel,
    Placement,
    RollMaterial,
    SheetMaterial,
    StockUse,
)
from nesting.packing import Skins, Trim
from nesting.places import box_of
from nesting.reports.statistics import account, remnants_of


def demand(key: str, length: float, width: float, quantity: int, **more: object) -> Demand:
    panel = Panel(code=key, name=key, material="m", length=length, width=width, **more)  # type: ignore[arg-type]
    return Demand(key=key, panel=panel, model="M", size="S", quantity=quantity)


def losses(figures) -> dict[str, float]:
    return {loss.cause: loss.amount for loss in figures.losses}


def test_roll_account_agrees_with_the_lay_worked_by_hand() -> None:
    """Two panels and four border strips on a 2150 usable width: 93.6 % and, on full width, 91.5 %.

    Arithmetic on the usual formula for marker efficiency, part area / (marker length x width):
    2 x 1564 x 2072 + 4 x 260 x 1785 = 8 337 616 mm2 over 4144 x 2150 and 4144 x 2200.
    """
    roll = RollMaterial(
        key="m", name="Quilted", width=2200, edge_trim=25, roll_length=50_000, end_loss=0, price=10
    )
    demands = [demand("TP", 2072, 1564, 2), demand("BO", 1785, 260, 4)]
    placements = (
        Placement("TP", 0, 0),
        Placement("TP", 2072, 0),
        *(Placement("BO", x, y) for x in (0, 1785) for y in (1564, 1824)),
    )
    layouts = [Layout("roll", placements, 4144)]
    stock = [StockUse(name="roll 1", cuts=((0, 1),), used=4144, rest=45_856)]
    figures = account(roll, demands, layouts, stock, value=4144, bound=4000)
    assert figures.efficiency == pytest.approx(8_337_616 / (4144 * 2150))
    assert round(100 * figures.efficiency, 1) == 93.6
    assert round(100 * figures.utilisation, 1) == 91.5
    assert figures.pieces == pytest.approx(8.337616)
    assert losses(figures)["edge trim"] == pytest.approx(4.144 * 0.05)
    assert figures.cost == pytest.approx(41.44)
    assert figures.piece_count == 6
    assert figures.gap == pytest.approx(144 / 4144)


def test_roll_account_adds_up_with_end_losses_and_short_ends() -> None:
    """Edge trim, ends of plies, roll ends too short to keep and space between pieces are all there is."""
    roll = RollMaterial(
        key="m", name="Cloth", width=1500, edge_trim=10, roll_length=10_000, end_loss=20, min_remnant=1000
    )
    layouts = [Layout("roll", (Placement("A", 0, 0),), 4800, repeats=2)]
    stock = [StockUse(name="roll 1", cuts=((0, 2),), used=2 * 4840, rest=320)]
    figures = account(roll, [demand("A", 4700, 1400, 2)], layouts, stock, value=9600, bound=9600)
    found = losses(figures)
    assert found["ends of plies"] == pytest.approx(2 * 0.04 * 1.48)
    assert found["roll ends too short"] == pytest.approx(0.32 * 1.5)
    assert figures.consumed == pytest.approx(10.0 * 1.5)
    assert figures.pieces + sum(found.values()) + figures.remnants == pytest.approx(figures.consumed)
    assert remnants_of(roll, layouts, stock) == ()


def test_shaped_pieces_show_what_their_boxes_waste() -> None:
    """A right triangle leaves half of its box; that loss has its own name."""
    roll = RollMaterial(key="m", name="Cloth", width=1000, roll_length=10_000)
    shape = demand("T", 400, 300, 1, outline=((0, 0), (400, 0), (0, 300)))
    layouts = [Layout("roll", (Placement("T", 0, 0, turn=180),), 400)]
    stock = [StockUse(name="roll 1", cuts=((0, 1),), used=400, rest=9600)]
    figures = account(roll, [shape], layouts, stock, value=400, bound=60)
    assert losses(figures)["around shaped pieces"] == pytest.approx(0.06)
    assert losses(figures)["between pieces"] == pytest.approx(0.4 * 1.0 - 0.12)


def sheet_layout() -> tuple[SheetMaterial, list[Demand], Layout]:
    """A 1020 x 520 sheet, trim 10, kerf 4: a 600 x 500 piece, and a 396 x 500 rest."""
    sheet = SheetMaterial(
        key="m",
        name="Board",
        length=1020,
        width=520,
        trim=Trim(10, 10, 10, 10),
        kerf=4,
        price=7,
        mass=2,
        min_remnant_length=450,
        min_remnant_width=390,
    )
    piece = CutNode(10, 10, 600, 500, piece=0)
    rest = CutNode(614, 10, 396, 500)
    tree = CutNode(10, 10, 1000, 500, axis="x", parts=(piece, rest))
    return sheet, [demand("B", 600, 500, 1)], Layout("sheet", (Placement("B", 10, 10),), 1020, 3, tree)


def test_sheet_account_splits_trim_kerf_and_remnant() -> None:
    """Kerf is what the cut tree leaves between its parts; a rest above the limits is kept, not lost."""
    sheet, demands, layout = sheet_layout()
    figures = account(sheet, demands, [layout], (), value=21, bound=14)
    found = losses(figures)
    assert found["cut width"] == pytest.approx(3 * 0.004 * 0.5)
    assert found["edge trim"] == pytest.approx(3 * (1.02 * 0.52 - 0.5))
    assert figures.remnants == pytest.approx(3 * 0.396 * 0.5)
    assert "between pieces" not in found
    assert figures.pieces + sum(found.values()) + figures.remnants == pytest.approx(figures.consumed)
    assert figures.cost == 21
    assert figures.mass == pytest.approx(3 * 1.02 * 0.52 * 2)
    (remnant,) = remnants_of(sheet, [layout], ())
    assert (remnant.length, remnant.width, remnant.quantity) == (396, 500, 3)


def test_block_account_agrees_with_the_yield_worked_by_hand() -> None:
    """One full-length core in a trimmed block: yields on gross volume by arithmetic.

    Raw 2100 x 2060 x 1080 = 4.67208 m3; trims 20 sides, 15 ends, 35 top, 20 bottom leave
    2070 x 2020 x 1025; one slab 1910 x 910 x 100 is 0.17381 m3. Density 30 makes 140.2 kg a block.
    """
    block = BlockMaterial(
        key="m",
        name="Foam",
        length=2100,
        width=2060,
        height=1080,
        skins=Skins(15, 15, 20, 20, 20, 35),
        kerf=0.5,
        density=30,
        price=100,
    )
    slab = demand("C", 1910, 910, 1, thickness=100)
    root = (15, 20, 2070, 2020)
    piece = CutNode(15, 20, 1910, 910, piece=0, z=20, height=100)
    beside = CutNode(15, 930.5, 1910, 1109.5, z=20, height=100)
    strip = CutNode(15, 20, 1910, 2020, axis="y", parts=(piece, beside), z=20, height=100)
    end = CutNode(1925.5, 20, 159.5, 2020, z=20, height=100)
    level = CutNode(*root, axis="x", parts=(strip, end), z=20, height=100)
    above = CutNode(*root, z=120.5, height=924.5)
    tree = CutNode(*root, axis="z", parts=(level, above), z=20, height=1025)
    layout = Layout("block", (Placement("C", 15, 20, z=20),), 2100, 1, tree)
    figures = account(block, [slab], [layout], (), value=467.2, bound=467.2)
    assert figures.consumed == pytest.approx(4.67208)
    assert figures.mass == pytest.approx(140.2, abs=0.05)
    assert figures.pieces == pytest.approx(0.17381)
    found = losses(figures)
    assert found["skins"] == pytest.approx(4.67208 - 2.07 * 2.02 * 1.025)
    kerf = 2070 * 2020 * 0.5 + 0.5 * 2020 * 100 + 1910 * 0.5 * 100
    assert found["cut width"] == pytest.approx(kerf / 1e9)
    assert figures.pieces + sum(found.values()) + figures.remnants == pytest.approx(figures.consumed)
    assert [r.height for r in remnants_of(block, [layout], ())] == [924.5, 100]


def test_box_of_any_turn_holds_the_panel() -> None:
    """Quarter turns swap the sides exactly; 45 degrees widen a square by the root of two."""
    panel = Panel(code="A", name="A", material="m", length=100, width=40)
    assert box_of(panel, 90) == (40, 100)
    square = Panel(code="A", name="A", material="m", length=100, width=100)
    assert box_of(square, 45) == pytest.approx((100 * 2**0.5, 100 * 2**0.5))
