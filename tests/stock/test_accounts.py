"""Whatever is done, in whatever order, the ledger adds up. All data are made up by the test."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from hypothesis import event, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from nesting.errors import NestingError
from nesting.model import StockPiece
from nesting.stock.booking import Cut, book, still_to_cut
from nesting.stock.bookings import Booking, bookings_of, good_pieces
from nesting.stock.correction import Correction
from nesting.stock.ledger import open_ledger
from nesting.stock.listfile import ListedPiece
from nesting.stock.records import DONE, Entry, Held
from nesting.stock.undo import undo_last
from tests.stock.plans import board_plan, cloth_plan, whole

PLAN = whole(cloth_plan(tied=True), board_plan())
WANTED = {
    (part.material.key, demand.key): demand.quantity for part in PLAN.materials for demand in part.demands
}

lengths = st.integers(1, 80_000).map(lambda tenths: tenths / 10)
which = st.integers(0, 5)
plans = st.sampled_from(["", "abcd1234"])


@contextlib.contextmanager
def or_refused(what: str) -> Iterator[None]:
    """What is refused must be refused in words of the store, not of the database."""
    try:
        yield
        event(f"{what}: done")
    except NestingError as error:
        assert "the database" not in str(error)
        event(f"{what}: refused")


class Store(RuleBasedStateMachine):
    """A store of rolls and sheets of two materials, with a plan that is booked and undone."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.ledger = open_ledger(str(Path(self.folder.name) / "stock.db"), who="Ann", create=True)
        for id_ in ("Q1", "Q2"):
            piece = StockPiece(id=id_, material="cloth", length=40_000.0, width=2200.0)
            self.ledger.take_in([ListedPiece(piece=piece, kind="roll", named=True, row=2)])
        self.take_in(2440.0, True)
        self.take_in(2440.0, True)

    def teardown(self) -> None:
        """Close the files before the folder goes."""
        self.ledger.close()
        self.folder.cleanup()

    def id_at(self, at: int, material: str | None = None) -> str:
        held = self.ledger.pieces(material=material)
        return held[at % len(held)].id

    @rule(length=lengths, sheet=st.booleans())
    def come_in(self, length: float, sheet: bool) -> None:
        """A delivery."""
        self.take_in(length, sheet)

    def take_in(self, length: float, sheet: bool) -> None:
        """A roll or a sheet comes in."""
        if sheet:
            piece = StockPiece(id="row 2", material="board", length=2440.0, width=1830.0)
        else:
            piece = StockPiece(id="row 2", material="cloth", length=length, width=2200.0)
        kind = "sheet" if sheet else "roll"
        self.ledger.take_in([ListedPiece(piece=piece, kind=kind, named=False, row=2)])

    @rule(
        at=which, length=lengths, least=st.sampled_from([0.0, 1000.0]), plan=st.sampled_from(["", "abcd1234"])
    )
    def use(self, at: int, length: float, least: float, plan: str) -> None:
        """Something is cut off, or found impossible."""
        with or_refused("use"):
            self.ledger.use(self.id_at(at), length=length, least=least, plan=plan)

    @rule(at=which, length=lengths)
    def correct(self, at: int, length: float) -> None:
        """A length is measured again."""
        with or_refused("correct"):
            self.ledger.correct(self.id_at(at), Correction(length=length), "measured again")

    @rule(at=which)
    def write_off(self, at: int) -> None:
        """Something is spoilt."""
        with or_refused("write_off"):
            self.ledger.write_off(self.id_at(at), "wet")

    @rule(at=which, plan=st.sampled_from(["abcd1234", "other"]))
    def reserve(self, at: int, plan: str) -> None:
        """Something is kept for a plan."""
        with or_refused("reserve"):
            self.ledger.reserve([self.id_at(at)], plan)

    @rule(plan=st.sampled_from(["abcd1234", "other"]))
    def release(self, plan: str) -> None:
        """A plan lets go of everything."""
        self.ledger.release(plan=plan)

    @rule(
        at=st.none() | which,
        layout=st.sampled_from([1, 2]),
        plies=st.integers(1, 2),
        damaged=st.integers(0, 2),
        board=st.booleans(),
    )
    def book(self, at: int | None, layout: int, plies: int, damaged: int, board: bool) -> None:
        """Some plies are cut, from a piece or not."""
        key = "WB" if board else "BP"
        material = "board" if board else "cloth"
        cut = Cut(
            material=material,
            layout=1 if board else layout,
            plies=1 if board else plies,
            damaged={key: damaged} if damaged else None,
            pieces=() if at is None else (self.id_at(at, material),),
        )
        with or_refused("book on a piece" if cut.pieces else "book"):
            book(PLAN, self.ledger, cut)

    @rule()
    def undo(self) -> None:
        """The last booking was wrong."""
        with or_refused("undo"):
            undo_last(PLAN, self.ledger)

    @invariant()
    def it_adds_up(self) -> None:
        """After every step, whatever it was."""
        pieces, history = self.ledger.pieces(), self.ledger.history()
        bookings = bookings_of(self.ledger, PLAN.number)
        every_change_begins_where_the_last_one_ended(pieces, history)
        what_came_in_is_there_used_or_written_off(pieces, history)
        bookings_explain_what_their_rolls_lost(history, bookings)
        wanted_is_good_or_still_to_cut(bookings, still_to_cut(PLAN, self.ledger))
        reservations_and_states_agree(pieces)


def every_change_begins_where_the_last_one_ended(pieces: Sequence[Held], history: Sequence[Entry]) -> None:
    """The history of each piece has no gaps and leads to what the ledger says."""
    last: dict[str, Held | None] = {}
    for entry in history:
        assert last.get(entry.piece) == entry.before
        last[entry.piece] = entry.after
    assert {id_: held for id_, held in last.items() if held} == {held.id: held for held in pieces}


def what_came_in_is_there_used_or_written_off(pieces: Sequence[Held], history: Sequence[Entry]) -> None:
    """Metres of rolls, and areas of sheets, by what the history says of every step."""
    came = {"roll": 0.0, "sheet": 0.0}
    used, gone = dict(came), dict(came)
    for entry in history:
        held = entry.after or entry.before
        assert held is not None
        before, after = there(entry.before), there(entry.after)
        if entry.what in ("taken in", "corrected"):
            came[held.kind] += after - before
        elif entry.what == "written off":
            gone[held.kind] += before - after
        else:
            used[held.kind] += before - after
    for kind, total in came.items():
        left = sum(there(held) for held in pieces if held.kind == kind)
        assert abs(total - left - used[kind] - gone[kind]) < 0.01
        assert used[kind] > -0.01
        assert gone[kind] > -0.01


def there(held: Held | None) -> float:
    """mm of a roll, mm2 of a sheet; nothing when it is not there."""
    if held is None or held.state in DONE:
        return 0.0
    return held.piece.length * (held.piece.width if held.kind == "sheet" else 1.0)


def bookings_explain_what_their_rolls_lost(history: Sequence[Entry], bookings: Sequence[Booking]) -> None:
    """The lengths of the bookings that count are those that the history took off for them."""
    counted = {booking.number: booking for booking in bookings}
    lost = dict.fromkeys(counted, 0.0)
    for entry in history:
        if entry.booking in counted and entry.before and entry.after and entry.before.kind == "roll":
            lost[entry.booking] += entry.before.piece.length - entry.after.piece.length
    for number, length in lost.items():
        booking = counted[number]
        expected = booking.length_used if booking.piece else 0.0
        assert abs(length - expected) < 0.06


def wanted_is_good_or_still_to_cut(
    bookings: Sequence[Booking], still: Mapping[str, Mapping[str, int]]
) -> None:
    """Nothing that is wanted is forgotten."""
    for (material, key), quantity in WANTED.items():
        good = good_pieces(bookings, material)[key]
        assert still.get(material, {}).get(key, 0) == max(0, quantity - good)


def reservations_and_states_agree(pieces: Sequence[Held]) -> None:
    """Reserved is what a plan holds, and nothing else."""
    for held in pieces:
        assert (held.state == "reserved") == bool(held.plan)
        assert held.piece.length >= 0


TestStore = Store.TestCase
TestStore.settings = settings(max_examples=12, stateful_step_count=20, deadline=None)
