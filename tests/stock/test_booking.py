"""Booking what was cut. All data are invented; expected lengths are added up by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from nesting.model import Flaw, StockPiece
from nesting.stock.actuals import actual_rows, open_rows
from nesting.stock.booking import Cut, book, open_demands, still_to_cut
from nesting.stock.bookings import bookings_of
from nesting.stock.ledger import Ledger, open_ledger
from nesting.stock.listfile import ListedPiece
from nesting.stock.plies import plan_number
from nesting.stock.store import StockError
from nesting.stock.undo import undo_last
from tests.stock.plans import board_plan, cloth_plan, foam_plan, tape_plan, whole

TIED = whole(cloth_plan(tied=True))
LOOSE = whole(cloth_plan(tied=False))


def put(ledger: Ledger, kind: str, material: str, *sizes: tuple[str, float, float, float], **more) -> None:
    ledger.take_in(
        [
            ListedPiece(
                piece=StockPiece(
                    id=id_, material=material, length=length, width=width, height=height, **more
                ),
                kind=kind,
                named=True,
                row=2,
            )
            for id_, length, width, height in sizes
        ]
    )


def two_rolls(ledger: Ledger) -> None:
    """The rolls that the plan names, reserved for it: Q1 of 50 m with a flaw, Q2 of 25.5 m."""
    put(ledger, "roll", "cloth", ("Q1", 50_000, 2200, 0), flaws=(Flaw(20_200, 20_900), Flaw(40_000, 40_100)))
    put(ledger, "roll", "cloth", ("Q2", 25_500, 2200, 0))
    ledger.reserve(["Q1", "Q2"], "abcd1234")


def length(ledger: Ledger, id_: str) -> float:
    return ledger.piece(id_).piece.length


def test_a_whole_marker_comes_off_the_rolls_of_the_plan(ledger: Ledger) -> None:
    """4 plies of 10 m, two from each roll; both stay reserved for the second marker."""
    two_rolls(ledger)
    outcome = book(TIED, ledger, Cut(layout=1))
    assert [(b.piece, b.plies, b.length_used) for b in outcome.bookings] == [
        ("Q1", 2, 20_000),
        ("Q2", 2, 20_000),
    ]
    assert (length(ledger, "Q1"), length(ledger, "Q2")) == (30_000, 5_500)
    assert {ledger.piece(id_).state for id_ in ("Q1", "Q2")} == {"reserved"}
    assert still_to_cut(TIED, ledger) == {"cloth": {"BP Single": 4}}


def test_what_is_passed_over_before_a_ply_comes_off_too(ledger: Ledger) -> None:
    """On Q1 the second marker begins at 21 m, behind the flaw: 1 m is passed over."""
    two_rolls(ledger)
    book(TIED, ledger, Cut(layout=1))
    first, second = book(TIED, ledger, Cut(layout=2)).bookings
    assert (first.length_used, second.length_used) == (6_000, 5_000)
    roll = ledger.piece("Q1")
    assert (roll.piece.length, roll.state) == (24_000, "free")
    assert roll.piece.flaws == (Flaw(14_000, 14_100),)  # 40 m less 26 m
    short = ledger.piece("Q2")
    assert (short.state, short.piece.length) == ("used up", 500)  # below the least rest of 1 m
    assert still_to_cut(TIED, ledger) == {}
    assert ledger.pieces(plan="abcd1234") == ()


def test_a_short_rest_stays_while_the_plan_cuts_from_it(ledger: Ledger) -> None:
    """Cutting wastefully leaves 0.9 m on Q2, too short to keep, but a marker of it is still open."""
    two_rolls(ledger)
    book(TIED, ledger, Cut(layout=1, plies=2, pieces=("Q2",), length_used=24_600))
    held = ledger.piece("Q2")
    assert (held.state, held.piece.length) == ("reserved", 900)


def test_part_of_a_marker_real_length_and_damage(ledger: Ledger) -> None:
    """One ply, longer than planned, one piece spoilt, one left uncut: those stay wanted."""
    two_rolls(ledger)
    cut = Cut(
        layout=1, plies=1, length_used=10_250, damaged={"TP": 1}, not_cut={"BP Single": 1}, note="knife blunt"
    )
    (booking,) = book(TIED, ledger, cut).bookings
    assert (booking.planned_length, booking.length_used, booking.note) == (10_000, 10_250, "knife blunt")
    assert {p.key: (p.planned, p.good, p.damaged, p.not_cut) for p in booking.pieces} == {
        "TP Single": (4, 3, 1, 0),
        "BP Single": (1, 0, 0, 1),
    }
    assert length(ledger, "Q1") == 39_750
    assert still_to_cut(TIED, ledger) == {"cloth": {"TP Single": 13, "BP Single": 8}}


def test_open_demand_serves_the_earliest_orders_first(ledger: Ledger) -> None:
    """16 wanted, 8 for each order; 9 good ones leave nothing of A-1 and 7 of A-2."""
    two_rolls(ledger)
    book(TIED, ledger, Cut(layout=1, plies=3, damaged={"TP Single": 3}))
    (top, bottom) = open_demands(TIED, ledger)["cloth"]
    assert (top.key, top.quantity, [(s.order, s.pieces) for s in top.orders]) == (
        "TP Single",
        7,
        [("A-2", 7)],
    )
    assert [(s.order, s.pieces) for s in bottom.orders] == [("A-1", 1), ("A-2", 4)]
    rows = open_rows(open_demands(TIED, ledger))
    assert [(row["order"], row["panel"], row["still to cut"]) for row in rows] == [
        ("A-1", "BP", 1),
        ("A-2", "TP", 7),
        ("A-2", "BP", 4),
    ]
    assert open_demands(TIED, None)["cloth"][0].quantity == 16


def test_without_pieces_of_stock_only_demand_is_booked(ledger: Ledger) -> None:
    """A plan for new rolls, none of which is in the ledger."""
    outcome = book(LOOSE, ledger, Cut(layout=1, plies=3))
    assert outcome.pieces == ()
    (booking,) = outcome.bookings
    assert (booking.piece, booking.planned_length) == ("", 30_000)
    assert still_to_cut(LOOSE, ledger) == {"cloth": {"TP Single": 4, "BP Single": 5}}


def test_another_roll_may_be_taken(ledger: Ledger) -> None:
    """It stays with the plan until the material is done; what the plan needs no more is let go."""
    two_rolls(ledger)
    put(ledger, "roll", "cloth", ("Q9", 60_000, 2200, 0))
    book(TIED, ledger, Cut(layout=1, plies=4, pieces=("q9",)))
    assert ledger.piece("Q9").state == "reserved"
    assert length(ledger, "Q9") == 20_000
    assert ledger.piece("Q1").plan == "abcd1234"  # for the second marker
    outcome = book(TIED, ledger, Cut(layout=2, plies=2, pieces=("Q9",)))
    assert sorted(held.id for held in outcome.pieces) == ["Q1", "Q2", "Q9"]
    assert {ledger.piece(id_).state for id_ in ("Q1", "Q2", "Q9")} == {"free"}


def test_a_roll_that_the_plan_does_not_know_is_looked_at(ledger: Ledger) -> None:
    """Flaws in what was cut, and a width below the one that was planned for, are told; others are not."""
    two_rolls(ledger)
    put(ledger, "roll", "cloth", ("Q8", 60_000, 2199, 0), flaws=(Flaw(9_000, 9_100), Flaw(10_500, 11_000)))
    outcome = book(TIED, ledger, Cut(layout=1, plies=1, pieces=("Q8",)))
    assert len(outcome.notes) == 2
    assert "2 199 mm wide" in outcome.notes[0]
    assert "9000-9100 mm from its beginning" in outcome.notes[1]
    assert book(TIED, ledger, Cut(layout=1, plies=2)).notes == ()


def test_sheets_leave_remnants_with_ids(ledger: Ledger) -> None:
    """Two of three sheets: each leaves 900 x 1830; strips of 250 are too narrow."""
    plan = whole(board_plan())
    put(ledger, "sheet", "board", *((f"S{n}", 2440, 1830, 0) for n in (1, 2, 3)), lot="L4", place="C")
    outcome = book(plan, ledger, Cut(layout=1, pieces=("S1", "s3")))
    assert [(held.id, held.state) for held in outcome.pieces] == [("S1", "used up"), ("S3", "used up")]
    sizes = [(r.id, r.piece.length, r.piece.width, r.source, r.piece.lot) for r in outcome.remnants]
    assert sizes == [("X-0001", 900, 1830, "S1", "L4"), ("X-0002", 900, 1830, "S3", "L4")]
    assert still_to_cut(plan, ledger) == {"board": {"WB Single": 1, "XB Single": 1}}
    outcome = book(plan, ledger, Cut(layout=1, pieces=("S2",), rests=((900, 700, 0),)))
    assert [(r.id, r.piece.width) for r in outcome.remnants] == [("X-0003", 700)]


def test_blocks_leave_remnants_as_high_as_they_are(ledger: Ledger) -> None:
    """A block of 1000 less a slab of 400."""
    put(ledger, "block", "foam", ("B1", 2000, 1000, 1000))
    (rest,) = book(whole(foam_plan()), ledger, Cut(layout=1, pieces=("B1",))).remnants
    assert (rest.kind, rest.piece.height, rest.piece.remnant) == ("block", 600, True)


def test_no_rests_and_rests_that_cannot_be(ledger: Ledger) -> None:
    """What goes to rebond is not on the shelf; a rest is no larger than its block."""
    put(ledger, "block", "foam", ("B1", 2000, 1000, 1000))
    with pytest.raises(StockError, match="does not come out of B1"):
        book(whole(foam_plan()), ledger, Cut(layout=1, pieces=("B1",), rests=((2000, 1100, 100),)))
    assert ledger.piece("B1").state == "free"
    assert book(whole(foam_plan()), ledger, Cut(layout=1, pieces=("B1",), rests=())).remnants == ()


def test_what_was_passed_over_on_a_roll_may_go_back(ledger: Ledger) -> None:
    """The metre before the second marker is cut off and kept; it cannot be longer than what was used."""
    two_rolls(ledger)
    book(TIED, ledger, Cut(layout=1))
    cut = Cut(layout=2, plies=1, pieces=("Q1",), rests=((1_000.0, 2_200.0, 0.0),))
    (rest,) = book(TIED, ledger, cut).remnants
    assert (rest.id, rest.kind, rest.piece.length, rest.source) == ("X-0001", "roll", 1_000, "Q1")
    assert length(ledger, "Q1") == 24_000
    with pytest.raises(StockError, match="does not come out of Q2"):
        book(TIED, ledger, Cut(layout=2, plies=1, pieces=("Q2",), rests=((5_100.0, 600.0, 0.0),)))
    undo_last(TIED, ledger)
    assert length(ledger, "Q1") == 30_000


def test_tapes_take_what_is_cut_and_joined_pieces_count_once(ledger: Ledger) -> None:
    """60 m + 2 ends of 10 mm; the roll with the joined piece ends at 30 m."""
    plan = whole(tape_plan())
    put(ledger, "roll", "tape", ("T1", 100_000, 40, 0))
    (first,) = book(plan, ledger, Cut(layout=1, plies=1, pieces=("T1",))).bookings
    (second,) = book(plan, ledger, Cut(layout=2, pieces=("T1",))).bookings
    assert (first.planned_length, second.planned_length) == (60_020, 30_020)
    assert length(ledger, "T1") == 9_960
    assert still_to_cut(plan, ledger) == {"tape": {"TA Single": 3}}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """The rolls of the plan, and others that cannot be taken for it; for tests that must change nothing."""
    with open_ledger(str(tmp_path_factory.mktemp("store") / "stock.db"), who="Ann", create=True) as opened:
        two_rolls(opened)
        put(opened, "roll", "silk", ("SILK", 50_000, 1400, 0))
        put(opened, "roll", "cloth", ("SOLD", 50_000, 2200, 0), ("OTHER", 50_000, 2200, 0))
        opened.write_off("SOLD", "sold")
        opened.reserve(["OTHER"], "other")
        yield opened


@pytest.mark.parametrize(
    ("cut", "words"),
    [
        (Cut(layout=3), "layouts 1 to 2 in this plan; there is no layout 3"),
        (Cut(layout=1, material="silk"), "no material 'silk' in the plan"),
        (Cut(layout=1, plies=5), "5 plies would be more than the 4 not booked yet"),
        (Cut(layout=1, plies=0), "say 1 or more"),
        (Cut(layout=1, length_used=40_000.0), "Book each roll by itself"),
        (Cut(layout=1, plies=2, length_used=18_000.0), "2 plies of layout 1 take 19 920 mm without the ends"),
        (Cut(layout=1, pieces=("Q1", "Q2")), "name one piece"),
        (Cut(layout=1, pieces=("Q1", "q1")), "named twice"),
        (Cut(layout=1, pieces=("Q7",)), "no piece 'Q7' in the ledger"),
        (Cut(layout=1, pieces=("SILK",)), "SILK is 'silk', but this layout is cut from 'cloth'"),
        (Cut(layout=1, pieces=("SOLD",)), "SOLD is written off"),
        (Cut(layout=1, pieces=("OTHER",)), "OTHER is reserved for plan other"),
        (Cut(layout=1, pieces=("Q2",)), "Q2 is 25 500 mm long by the ledger, so 40 000 mm cannot"),
        (Cut(layout=1, damaged={"ZZ": 1}), "no piece 'ZZ'. It has 'TP Single' or 'BP Single'"),
        (Cut(layout=1, damaged={"TP": 17}), "17 pieces of 'TP Single' cannot be"),
        (Cut(layout=1, plies=1, damaged={"BP": 1}, not_cut={"BP": 1}), "2 pieces of 'BP Single' cannot be"),
        (Cut(layout=1, damaged={"TP": 0}), "say 1 or more"),
        (Cut(layout=1, rests=((1.0, 1.0, 0.0),)), "one piece of the ledger at a time"),
    ],
)
def test_what_cannot_be_true_is_refused_and_nothing_changes(store: Ledger, cut: Cut, words: str) -> None:
    """No booking, no change of stock, whatever was wrong."""
    before = (store.pieces(), store.history())
    with pytest.raises(StockError) as caught:
        book(TIED, store, cut)
    assert words in str(caught.value)
    assert (store.pieces(), store.history()) == before
    assert bookings_of(store, "abcd1234") == ()


def test_nothing_is_booked_twice_unless_it_was_cut_twice(ledger: Ledger) -> None:
    """Going beyond the plan has to be said; surplus pieces leave nothing open."""
    book(LOOSE, ledger, Cut(layout=2))
    with pytest.raises(StockError, match="all 2 plies are booked"):
        book(LOOSE, ledger, Cut(layout=2))
    with pytest.raises(StockError, match="1 ply would be more than the 0"):
        book(LOOSE, ledger, Cut(layout=2, plies=1))
    book(LOOSE, ledger, Cut(layout=2, plies=3, beyond=True))
    assert still_to_cut(LOOSE, ledger) == {"cloth": {"TP Single": 16}}


def test_undoing_brings_everything_back(ledger: Ledger) -> None:
    """Stock, reservations, remnants and demand are as they were; the history keeps both ways."""
    plan = whole(cloth_plan(tied=True), board_plan())
    two_rolls(ledger)
    put(ledger, "sheet", "board", ("S1", 2440, 1830, 0))
    states = [ledger.pieces()]
    for cut in (
        Cut(material="cloth", layout=1),
        Cut(material="board", layout=1, pieces=("S1",)),
        Cut(material="cloth", layout=2, plies=1),
    ):
        book(plan, ledger, cut)
        states.append(ledger.pieces())
    for state in reversed(states[:-1]):
        undo_last(plan, ledger, "wrong plan")
        assert ledger.pieces() == state
    assert bookings_of(ledger, "abcd1234") == ()
    assert len(bookings_of(ledger, "abcd1234", undone=True)) == 4
    assert still_to_cut(plan, ledger)["cloth"] == {"TP Single": 16, "BP Single": 8}
    whats = [entry.what for entry in ledger.history("X-0001")]
    assert whats == ["remnant made", "taken out"]
    with pytest.raises(StockError, match="nothing to undo"):
        undo_last(plan, ledger)
    book(plan, ledger, Cut(material="board", layout=1, pieces=("S1",)))
    assert ledger.piece("X-0002").source == "S1"  # the id of the first label is not used again


def test_what_has_gone_on_since_is_not_undone(ledger: Ledger) -> None:
    """A remnant that somebody has taken cannot be put back into its sheet."""
    plan = whole(board_plan())
    put(ledger, "sheet", "board", ("S1", 2440, 1830, 0))
    book(plan, ledger, Cut(layout=1, pieces=("S1",)))
    ledger.use("X-0001")
    before = ledger.pieces()
    with pytest.raises(StockError, match="X-0001 has been changed since"):
        undo_last(plan, ledger)
    assert ledger.pieces() == before
    assert len(bookings_of(ledger, "abcd1234")) == 1


def test_planned_against_actual_adds_up(ledger: Ledger) -> None:
    """Totals are the sums of the layouts; the difference is used less planned."""
    two_rolls(ledger)
    book(TIED, ledger, Cut(layout=1, plies=1, length_used=10_400, damaged={"TP": 2}))
    book(TIED, ledger, Cut(layout=1, plies=1, length_used=9_980))
    rows = actual_rows(TIED, bookings_of(ledger, "abcd1234"), open_demands(TIED, ledger))
    first, second, total = rows
    assert (first["plies cut"], first["length planned mm"], first["length over mm"]) == (2, 20_000, 380)
    assert (second["plies cut"], second["pieces good"]) == (0, 0)
    assert (total["layout"], total["pieces good"], total["pieces damaged"]) == (None, 8, 2)
    assert (total["pieces wanted"], total["pieces still to cut"]) == (24, 16)
    assert total["length used mm"] == first["length used mm"] == 20_380


def test_pieces_of_a_list_may_be_unknown_to_the_ledger(ledger: Ledger) -> None:
    """The message says how to book all the same."""
    with pytest.raises(StockError, match="--demand-only"):
        book(TIED, ledger, Cut(layout=1))
    assert book(TIED, ledger, Cut(layout=1, demand_only=True)).pieces == ()
    assert still_to_cut(TIED, ledger) == {"cloth": {"BP Single": 4}}


def test_a_plan_without_number_has_one_by_its_content() -> None:
    """The same for the same plan, another for another."""
    nameless = replace(TIED, number="")
    assert plan_number(nameless) == plan_number(replace(nameless)) != plan_number(replace(LOOSE, number=""))
    assert plan_number(TIED) == "abcd1234"
