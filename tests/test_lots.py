"""One lot to a product: whole order lines go to one lot, and lie one way."""

from __future__ import annotations

import threading
from collections import defaultdict
from dataclasses import replace

import pytest

from nesting.lots import Product, by_lot, nothing_cut, one_way_each, products, share_of, split_products
from nesting.model import Demand, MaterialPlan, OrderShare, Panel, RollMaterial, StockPiece
from nesting.planning import Budget, Watch, plan_material

TICKING = RollMaterial(
    key="t", name="Ticking", width=2000, roll_length=30_000, grain="any", one_lot=True, price=10
)


def bed(order: str, due: str, quantity: int, size: str = "S") -> tuple[Demand, Demand]:
    """Top panels of 2000 x 1000, and two borders of 2000 x 250 a bed."""
    share = OrderShare(order=order, due=due, pieces=quantity)
    top = Panel(code="TP", name="Top", material="t", length=2000, width=1000, turns=(0, 90, 180, 270))
    border = Panel(code="BO", name="Border", material="t", length=2000, width=250, pieces=2, turns=(0, 90))
    return (
        Demand(key=f"TP {size}", panel=top, model="M", size=size, quantity=quantity, orders=(share,)),
        Demand(
            key=f"BO {size}",
            panel=border,
            model="M",
            size=size,
            quantity=2 * quantity,
            orders=(replace(share, pieces=2 * quantity),),
        ),
    )


def merged(*beds: tuple[Demand, Demand]) -> tuple[Demand, ...]:
    """Demands of several orders of one size, put together as an order book does."""
    return tuple(
        replace(
            some[0],
            quantity=sum(demand.quantity for demand in some),
            orders=tuple(share for demand in some for share in demand.orders),
        )
        for some in zip(*beds, strict=True)
    )


ORDERS = merged(bed("A-1", "2026-12-07", 4), bed("A-2", "2026-12-08", 6), bed("A-3", "2026-12-09", 2))


def rolls(*lots: tuple[str, float]) -> list[StockPiece]:
    """A roll of each lot and length."""
    return [
        StockPiece(id=f"R-{number}", material="t", length=length, width=2000, lot=lot)
        for number, (lot, length) in enumerate(lots, start=1)
    ]


def planned(
    stock: list[StockPiece], demands: tuple[Demand, ...] = ORDERS, *, new: bool = True
) -> MaterialPlan:
    """A verified plan."""
    return plan_material(TICKING, demands, Budget(effort=6), Watch(), threading.Event(), stock, new=new)


def lots_of(plan: MaterialPlan) -> dict[str, set[str]]:
    """From which lots the pieces of each order come, by the keys of the demands, whose orders are told."""
    lot_of = {piece.id: piece.lot for piece in plan.shelf}
    orders = {demand.key: {share.order for share in demand.orders} for demand in plan.demands}
    found: dict[str, set[str]] = defaultdict(set)
    for use in plan.stock:
        for index, _ in use.cuts:
            for spot in plan.layouts[index].placements:
                for order in orders[spot.key]:
                    found[order].add(lot_of.get(use.piece, "new"))
    return found


def test_no_order_line_is_cut_from_two_lots() -> None:
    """Nine metres of lot X hold six beds of 1.5 m, four of lot Y three; the rest is new."""
    plan = planned(rolls(("X", 9000), ("Y", 4600)))
    assert not plan.missing
    found = lots_of(plan)
    assert set(found) == {"A-1", "A-2", "A-3"}
    assert all(len(lots) == 1 for lots in found.values()), found
    assert {lot for lots in found.values() for lot in lots} >= {"X", "Y"}
    assert any("one lot" in note for note in plan.notes)
    pieces = sum(demand.quantity for demand in plan.demands)
    assert pieces == sum(demand.quantity for demand in ORDERS)


def test_what_fits_no_single_lot_is_said() -> None:
    """Two rolls of two metres hold a bed each, but those of one order must not come from two lots."""
    plan = planned(rolls(("X", 2050), ("Y", 2050)), merged(bed("A-1", "2026-12-07", 2)), new=False)
    assert not plan.layouts
    assert {missing.quantity for missing in plan.missing.values()} == {2, 4}
    assert all("no single lot" in missing.reason for missing in plan.missing.values())
    both = planned(rolls(("X", 2050), ("X", 2050)), merged(bed("A-1", "2026-12-07", 2)), new=False)
    assert not both.missing


def test_rolls_whose_lot_nobody_knows_are_not_put_together() -> None:
    """Two unlabelled rolls may be of two lots."""
    plan = planned(rolls(("", 2050), ("", 2050)), merged(bed("A-1", "2026-12-07", 2)), new=False)
    assert plan.missing


def test_all_pieces_of_a_product_lie_the_same_way() -> None:
    """Without a lot to choose from, too: no quarter turn beside a piece without."""
    plan = planned([])
    assert {spot.turn % 180 for layout in plan.layouts for spot in layout.placements} == {0}


def test_a_product_too_long_for_the_width_lies_across_as_a_whole() -> None:
    """Panels 2300 wide do not go along a roll of 2000, but all pieces go across."""
    top, border = bed("A-1", "2026-12-07", 1)
    wide = replace(top, panel=replace(top.panel, length=1900, width=2300))
    short = replace(border, panel=replace(border.panel, length=1900))
    turned = one_way_each((wide, short), 2000)
    assert [demand.panel.turns for demand in turned] == [(90, 270), (90,)]
    assert [demand.panel.turns for demand in one_way_each((top, border), 2000)] == [(0, 180), (0,)]


def test_products_are_ordered_by_due_date_and_shares_keep_their_orders() -> None:
    """The parts of a demand add up to it."""
    first, second, third = products(ORDERS)
    assert (first.order, second.order, third.order) == ("A-1", "A-2", "A-3")
    part, rest = share_of(ORDERS, [second], ", lot X"), share_of(ORDERS, [first, third])
    assert [demand.key for demand in part] == ["TP S, lot X", "BO S, lot X"]
    assert [demand.quantity for demand in part] == [6, 12]
    assert [demand.quantity for demand in rest] == [6, 12]
    assert products(ORDERS)[Product("2026-12-07", "A-1", "M", "S")] == pytest.approx(4 * 3.0)


def test_a_product_that_is_only_partly_cut_is_named() -> None:
    """The rest of A-2 must come from the same lot; A-1 and A-3 are whole on either side."""
    first, second, third = products(ORDERS)
    (piece,) = rolls(("X", 9000))
    (note,) = split_products(share_of(ORDERS, [first, second]), share_of(ORDERS, [second, third]), piece)
    assert "lot X" in note
    assert "A-2 (M S)" in note
    assert "A-1" not in note
    assert split_products(share_of(ORDERS, [first]), share_of(ORDERS, [second]), piece) == ()


def test_a_lot_that_holds_nothing_is_left_alone() -> None:
    """When no try succeeds all is for new material."""
    cuts, notes = by_lot(
        TICKING,
        ORDERS,
        rolls(("X", 20_000)),
        lambda demands, stock, new, share=1.0: nothing_cut(demands, "full"),
        new=True,
    )
    assert len(cuts) == 1
    assert [demand.key for demand in cuts[0].demands] == ["TP S", "BO S"]
    assert "new rolls" in notes[-1]
