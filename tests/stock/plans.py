"""Small plans to book on. All data are invented; lengths are easy to add up by hand."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.model import (
    BlockMaterial,
    CutNode,
    Demand,
    Layout,
    Material,
    MaterialPlan,
    OrderShare,
    Panel,
    Placement,
    Plan,
    RollMaterial,
    SheetMaterial,
    StockUse,
)
from nesting.packing import Part
from nesting.reports.statistics import account

CLOTH = RollMaterial(
    key="cloth",
    name="Quilted cloth",
    width=2250,
    roll_length=50_000,
    edge_trim=25,
    end_loss=20,
    min_remnant=1000,
)
TAPE = RollMaterial(key="tape", name="Tape", width=40, roll_length=100_000, end_loss=10, process="lengths")
BOARD = SheetMaterial(
    key="board", name="Board", length=2440, width=1830, min_remnant_length=500, min_remnant_width=300
)
FOAM = BlockMaterial(key="foam", name="Foam", length=2000, width=1000, height=1000, density=30)


def demand(key: str, material: str, quantity: int, *, length: float = 1000, width: float = 500) -> Demand:
    """Wanted by two orders, half each; the later one is listed first."""
    panel = Panel(
        code=key.split(maxsplit=1)[0], name=f"Panel {key}", material=material, length=length, width=width
    )
    early, late = quantity - quantity // 2, quantity // 2
    orders = (
        OrderShare(order="A-2", due="2026-12-09", pieces=late),
        OrderShare(order="A-1", due="2026-12-07", pieces=early),
    )
    return Demand(key=key, panel=panel, model="Aster", size="Single", quantity=quantity, orders=orders)


def layout(length: float, repeats: int, cuts: CutNode | None = None, **pieces: int) -> Layout:
    """A layout with so many of each piece, told apart by their place only."""
    placements = [
        Placement(key.replace("_", " "), float(at), 0.0)
        for key, count in pieces.items()
        for at in range(count)
    ]
    return Layout("roll", tuple(placements), length, repeats, cuts)


def plan_of(
    material: Material,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    stock: Sequence[StockUse] = (),
) -> MaterialPlan:
    return MaterialPlan(
        material=material,
        demands=tuple(demands),
        layouts=tuple(layouts),
        missing={},
        stock=tuple(stock),
        remnants=(),
        figures=account(material, demands, layouts, stock, value=1.0, bound=1.0),
        stopped="proved",
        effort=0,
    )


def whole(*parts: MaterialPlan, number: str = "abcd1234") -> Plan:
    return Plan(
        range_name="Test",
        range_file="r.toml",
        orders_file="o.csv",
        currency="EUR",
        made="2026-11-25",
        version="0",
        seed=0,
        first_due="2026-12-07",
        last_due="2026-12-09",
        beds=1,
        materials=parts,
        number=number,
    )


def cloth_plan(*, tied: bool) -> MaterialPlan:
    """Two markers: 4 plies of 9 960 mm (10 m with ends), 2 plies of 4 960 mm (5 m), on the rolls Q1 and Q2.

    Q1 is passed over from 20 to 21 m because of a flaw.
    """
    demands = [demand("TP Single", "cloth", 16), demand("BP Single", "cloth", 8)]
    layouts = [layout(9960, 4, TP_Single=4, BP_Single=1), layout(4960, 2, BP_Single=2)]
    uses = [
        StockUse(
            name="Q1", cuts=((0, 2), (1, 1)), used=26_000, rest=24_000, piece="Q1", starts=(0.0, 21_000.0)
        ),
        StockUse(name="Q2", cuts=((0, 2), (1, 1)), used=25_000, rest=500, piece="Q2", starts=(0.0, 20_000.0)),
    ]
    if not tied:
        uses = [StockUse(name="roll 1", cuts=((0, 4), (1, 2)), used=50_000, rest=0)]
    return plan_of(CLOTH, demands, layouts, uses)


def board_plan() -> MaterialPlan:
    """Three sheets of one layout; each leaves 900 x 1830 and a strip too narrow to keep."""
    leaf = CutNode(0, 0, 1000, 500, piece=0)
    strips = (CutNode(1900, 0, 540, 250), CutNode(1900, 250, 540, 250))
    tree = CutNode(
        0,
        0,
        2440,
        1830,
        axis="x",
        parts=(
            CutNode(0, 0, 1000, 1830, axis="y", parts=(leaf, CutNode(0, 500, 1000, 1330, piece=1))),
            CutNode(1000, 0, 900, 1830),
            CutNode(1900, 0, 540, 1830, axis="y", parts=strips),
        ),
    )
    demands = [demand("WB Single", "board", 3), demand("XB Single", "board", 3, width=1330)]
    return plan_of(BOARD, demands, [layout(2440, 3, tree, WB_Single=1, XB_Single=1)])


def foam_plan() -> MaterialPlan:
    """One block: a slab of 400, and a rest of 600 high."""
    tree = CutNode(
        0,
        0,
        2000,
        1000,
        axis="z",
        height=1000,
        parts=(CutNode(0, 0, 2000, 1000, piece=0, height=400), CutNode(0, 0, 2000, 1000, z=400, height=600)),
    )
    panel = Panel(code="CR", name="Core", material="foam", length=2000, width=1000, thickness=400)
    wanted = Demand(key="CR Single", panel=panel, model="Aster", size="Single", quantity=1)
    return plan_of(FOAM, [wanted], [layout(2000, 1, tree, CR_Single=1)])


def tape_plan() -> MaterialPlan:
    """Two rolls of tape: one ends at 60 m, one at 30 m with a piece joined from two parts."""
    long = demand("TA Single", "tape", 7, length=20_000, width=40)
    parts = [Part((12_000.0, 8_000.0), 0), Part((12_000.0, 8_000.0), 1)]
    first = Layout("roll", tuple(Placement("TA Single", x * 20_000.0, 0.0) for x in range(3)), 99_980, 2)
    second = Layout(
        "roll",
        (
            Placement("TA Single", 0.0, 0.0, part=parts[0]),
            Placement("TA Single", 22_000.0, 0.0, part=parts[1]),
        ),
        99_980,
    )
    uses = [
        StockUse(name="roll 1", cuts=((0, 1),), used=60_020, rest=39_980),
        StockUse(name="roll 2", cuts=((0, 1),), used=60_020, rest=39_980),
        StockUse(name="roll 3", cuts=((1, 1),), used=30_020, rest=69_980),
    ]
    return plan_of(TAPE, [long], [first, second], uses)
