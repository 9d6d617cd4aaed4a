"""The best use of one roll: what is due first, whole beds, what stays open."""

from __future__ import annotations

import datetime
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import nesting.onroll
from nesting.model import Demand, Flaw, OrderShare, Panel, RollMaterial, StockPiece
from nesting.onroll import Chosen, choose
from nesting.packing import solve
from nesting.substitution import in_place_of, warnings_for

CLOTH = RollMaterial(key="c", name="Cloth", width=1000, roll_length=50_000, grain="one-way", ply_limit=10)


def demand(key: str, length: float, width: float, *orders: tuple[str, str, int], pieces: int = 1) -> Demand:
    """A panel and its orders: due day in December, number, beds."""
    panel = Panel(code=key, name=key, material="c", length=length, width=width, pieces=pieces)
    shares = tuple(OrderShare(due=f"2026-12-{d}", order=o, pieces=beds * pieces) for d, o, beds in orders)
    return Demand(
        key=key, panel=panel, model="M", size="S", quantity=sum(s.pieces for s in shares), orders=shares
    )


def roll(length: float, width: float = 1000, *flaws: Flaw) -> StockPiece:
    """A roll of cloth."""
    return StockPiece(id="R-1", material="c", length=length, width=width, flaws=flaws)


def cut(chosen: Chosen) -> Counter[tuple[str, str]]:
    """Pieces by key and order that are cut."""
    found: Counter[tuple[str, str]] = Counter()
    for one in chosen.demands:
        for share in one.orders:
            found[one.key, share.order] += share.pieces
    return found


def test_what_is_due_first_is_cut_first() -> None:
    """A roll of five pieces takes the three of the first order and two of the second."""
    wanted = demand("A", 1000, 1000, ("08", "late", 4), ("07", "early", 3))
    chosen = choose(CLOTH, [wanted], roll(5000), effort=5)
    assert cut(chosen) == {("A", "early"): 3, ("A", "late"): 2}
    (left,) = chosen.open
    assert (left.demand.quantity, left.reason) == (2, "no room left on R-1")
    assert [share.order for share in left.demand.orders] == ["late"]


def test_what_room_is_left_is_filled_from_further_on() -> None:
    """Behind a piece of 3000 x 1000 on 4000 only the small pieces of a later order find room."""
    wanted = [
        demand("A", 3000, 1000, ("07", "early", 2)),
        demand("B", 900, 1000, ("09", "late", 3)),
    ]
    chosen = choose(CLOTH, wanted, roll(4000), effort=5)
    assert cut(chosen) == {("A", "early"): 1, ("B", "late"): 1}


def test_whole_beds_are_cut_whole_or_not_at_all() -> None:
    """A bed needs 1000 and twice 600 of length: 2200. On 5000 two beds fit; three tops would fit, too."""
    top = demand("T", 1000, 1000, ("07", "o", 4))
    border = demand("B", 600, 1000, ("07", "o", 4), pieces=2)
    whole = choose(CLOTH, [top, border], roll(5000), effort=5, whole_beds=True)
    assert cut(whole) == {("T", "o"): 2, ("B", "o"): 4}
    assert whole.beds == 2
    free = choose(CLOTH, [top, border], roll(5000), effort=5)
    assert cut(free)["T", "o"] * 1000 + cut(free)["B", "o"] * 600 > 2 * 2200


def test_cloth_of_one_lot_is_cut_in_whole_beds() -> None:
    """Half a bed would have to be matched from another lot."""
    top, border = demand("T", 1000, 1000, ("07", "o", 4)), demand("B", 600, 1000, ("07", "o", 4), pieces=2)
    chosen = choose(replace(CLOTH, one_lot=True), [top, border], roll(5000), effort=5)
    assert cut(chosen) == {("T", "o"): 2, ("B", "o"): 4}


def test_what_is_too_wide_for_the_roll_stays_open_with_its_reason() -> None:
    """It is not missing: another roll may be wider."""
    wanted = [demand("A", 500, 1000, ("07", "o", 1)), demand("B", 500, 800, ("07", "o", 1))]
    chosen = choose(CLOTH, wanted, roll(3000, 900), effort=5)
    assert cut(chosen) == {("B", "o"): 1}
    (left,) = chosen.open
    assert left.demand.key == "A"
    assert "100.0 mm too wide" in left.reason
    none = choose(CLOTH, wanted, roll(3000, 900), effort=5, whole_beds=True)
    assert not none.demands
    assert {item.demand.key for item in none.open} == {"A", "B"}


def test_flaws_are_kept_clear() -> None:
    """A flaw in the middle of a roll for four leaves room for three."""
    wanted = demand("A", 1000, 1000, ("07", "o", 4))
    assert cut(choose(CLOTH, [wanted], roll(4000), effort=5)).total() == 4
    assert cut(choose(CLOTH, [wanted], roll(4000, 1000, Flaw(1400, 1500)), effort=5)).total() == 3


def test_ends_of_plies_count() -> None:
    """With 50 lost at each end of a ply, and 1100 at most to a marker, 4400 hold four of 1000."""
    cloth = replace(CLOTH, end_loss=50, max_marker_length=1100)
    wanted = demand("A", 1000, 1000, ("07", "o", 9))
    assert cut(choose(cloth, [wanted], roll(4400), effort=5)).total() == 4
    assert cut(choose(cloth, [wanted], roll(4399), effort=5)).total() == 3


def test_who_asks_to_stop_still_gets_a_roll_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every try after it is quick, and the answer says that it was interrupted."""
    efforts = []

    def interrupted(problem, **budget):
        efforts.append(budget["effort"])
        return replace(solve(problem, **budget), stopped="interrupted")

    monkeypatch.setattr(nesting.onroll, "solve", interrupted)
    wanted = demand("A", 1000, 1000, ("07", "o", 9))
    chosen = choose(CLOTH, [wanted], roll(5000), effort=100)
    assert cut(chosen).total() == 5
    assert chosen.answer is not None
    assert chosen.answer.stopped == "interrupted"
    assert all(effort <= 1.0 for effort in efforts[2:])


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(100, 2000), st.integers(100, 1000), st.integers(1, 4), st.integers(7, 9)),
        min_size=1,
        max_size=4,
    ),
    st.integers(500, 8000),
    st.booleans(),
)
def test_cut_and_open_are_all_that_is_wanted(
    rows: list[tuple[int, int, int, int]], length: int, flawed: bool
) -> None:
    """Nothing is lost, order by order."""
    wanted = [
        demand(f"P{at}", long, wide, (f"0{day}", f"o{day}", count))
        for at, (long, wide, count, day) in enumerate(rows)
    ]
    piece = roll(length, 1000, Flaw(200, 260)) if flawed else roll(length)
    chosen = choose(CLOTH, wanted, piece, effort=0.5)
    total = cut(chosen)
    for left in chosen.open:
        assert left.demand.quantity == sum(share.pieces for share in left.demand.orders)
        for share in left.demand.orders:
            total[left.demand.key, share.order] += share.pieces
    assert total == {(one.key, s.order): s.pieces for one in wanted for s in one.orders}
    assert (chosen.answer is None) == (not chosen.demands)


def test_another_cloth_keeps_only_turns_it_allows_and_is_never_approved() -> None:
    """One-way cloth in the place of two-way takes no half turns; the warning names both references."""
    meant = replace(CLOTH, key="m", name="Meant", grain="two-way", fire_reference="file 12")
    panel = replace(demand("A", 1000, 500, ("07", "o", 1)).panel, turns=(0.0, 180.0))
    wanted = replace(demand("A", 1000, 500, ("07", "o", 1)), panel=panel)
    (turned,), notes = in_place_of([wanted], meant, replace(CLOTH, contraction_along=0.04))
    assert turned.panel.turns == (0.0,)
    text = " ".join(notes)
    assert "may no longer hold" in text
    assert "file 12" in text
    assert "no approval reference given" in text
    assert "approves nothing" in text
    assert "contraction" in text
    assert len(warnings_for(meant, CLOTH)) == 1
    across = replace(wanted, panel=replace(panel, turns=(90.0,)))
    (kept,), _ = in_place_of([across], replace(meant, grain="any"), replace(CLOTH, grain="any"))
    assert kept.panel.turns == (90.0,)
    assert datetime.date.fromisoformat(kept.orders[0].due).day == 7


def test_a_turn_that_the_other_cloth_forbids_is_refused() -> None:
    """A piece that must lie across cannot be cut from one-way cloth."""
    wanted = demand("A", 1000, 500, ("07", "o", 1))
    across = replace(wanted, panel=replace(wanted.panel, turns=(90.0, 270.0)))
    with pytest.raises(ValueError, match="may not be turned"):
        in_place_of([across], replace(CLOTH, grain="any"), CLOTH)
