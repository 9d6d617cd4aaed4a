"""Booking parts of a long block: it gets shorter part by part and keeps its id. All data are invented."""

from __future__ import annotations

import threading

import pytest

from nesting.model import BlockMaterial, Demand, Panel, Plan, StockPiece
from nesting.packing import Kerfs, Skins
from nesting.planning import Budget, Watch, plan_material
from nesting.stock.booking import Cut, book
from nesting.stock.ledger import Ledger
from nesting.stock.listfile import ListedPiece
from nesting.stock.store import StockError
from nesting.stock.undo import undo_last
from tests.stock.plans import whole

FOAM = BlockMaterial(
    key="foam",
    name="Foam",
    length=10_000,
    width=1020,
    height=220,
    cut_to=2000,
    skins=Skins(10, 10, 10, 10, 10, 10),
    kerf=Kerfs(0.0, 2.0),
    density=30,
)
BLOCK = StockPiece(id="B-1", material="foam", length=10_000, width=1020, height=220)


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Two slabs of 1900 and two of 1500, each as wide and high as the block: a part for every slab."""
    demands = []
    for length in (1900, 1500):
        panel = Panel(
            code=f"S{length}",
            name="Slab",
            material="foam",
            length=length,
            width=1000,
            thickness=200,
            turns=(0,),
        )
        demands.append(Demand(key=f"S{length}", panel=panel, model="Aster", size="one", quantity=2))
    part = plan_material(FOAM, tuple(demands), Budget(effort=2.0), Watch(), threading.Event(), (BLOCK,))
    return whole(part)


def put(ledger: Ledger, number: str) -> None:
    ledger.take_in([ListedPiece(piece=BLOCK, kind="block", named=True, row=2)])
    ledger.reserve(["B-1"], number)


def test_parts_come_off_the_block_with_their_saw_cuts(plan: Plan, ledger: Ledger) -> None:
    """10 mm of skin, then 2 x 1902 and 2 x 1502: of 10,000 mm 3182 are left, and are free again."""
    put(ledger, plan.number)
    part = plan.materials[0]
    lengths = [10_000.0]
    for number, layout in enumerate(part.layouts, start=1):
        outcome = book(plan, ledger, Cut(layout=number))
        assert sum(booking.plies for booking in outcome.bookings) == layout.repeats
        lengths.append(ledger.piece("B-1").piece.length)
        last = number == len(part.layouts)
        assert ledger.piece("B-1").state == ("free" if last else "reserved")
    first = part.layouts[0]
    assert lengths[1] == pytest.approx(10_000 - 10 - first.repeats * (first.length + 2))
    assert lengths[-1] == pytest.approx(10_000 - 10 - 2 * 1902 - 2 * 1502)
    assert lengths[-1] == pytest.approx(
        next(rest.length for rest in part.remnants if "end of" in rest.source)
    )
    for _ in part.layouts:
        undo_last(plan, ledger)
    assert ledger.piece("B-1").piece.length == 10_000
    assert ledger.piece("B-1").state == "reserved"


def test_a_length_that_was_really_used_counts(plan: Plan, ledger: Ledger) -> None:
    put(ledger, plan.number)
    layout = plan.materials[0].layouts[0]
    with pytest.raises(StockError, match="do not hold them"):
        book(plan, ledger, Cut(layout=1, length_used=layout.repeats * layout.length - 100))
    book(plan, ledger, Cut(layout=1, length_used=4000))
    assert ledger.piece("B-1").piece.length == 6000
