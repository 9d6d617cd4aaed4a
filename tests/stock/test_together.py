"""Several people at one ledger, and a computer that fails in the middle, each in a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from nesting.model import StockPiece
from nesting.stock.booking import still_to_cut
from nesting.stock.bookings import bookings_of
from nesting.stock.ledger import Ledger, open_ledger
from nesting.stock.listfile import ListedPiece
from tests.stock.plans import cloth_plan, whole

ROOT = Path(__file__).parents[2]

CUTTING = """
import sys
from nesting.stock.ledger import open_ledger
with open_ledger(sys.argv[1], who=sys.argv[2]) as ledger:
    print("ready", flush=True)
    sys.stdin.readline()
    for _ in range(15):
        ledger.use("R1", length=100.5)
"""

BOOKING = """
import sys
from nesting.stock.booking import Cut, book
from nesting.stock.ledger import open_ledger
from nesting.stock.store import StockError
from tests.stock.plans import cloth_plan, whole
plan = whole(cloth_plan(tied=True))
with open_ledger(sys.argv[1], who=sys.argv[2]) as ledger:
    print("ready", flush=True)
    sys.stdin.readline()
    for layout in (1, 1, 1, 1, 2, 2):
        try:
            book(plan, ledger, Cut(layout=layout, plies=1))
        except StockError as error:
            assert "not booked yet" in str(error), error
"""

RESERVING = """
import sys
from nesting.stock.ledger import open_ledger
from nesting.stock.store import StockError
won = 0
with open_ledger(sys.argv[1], who=sys.argv[2]) as ledger:
    print("ready", flush=True)
    sys.stdin.readline()
    for number in range(8):
        try:
            ledger.reserve([f"P{number}", f"P{number + 1}"], sys.argv[2])
            won += 1
        except StockError as error:
            assert "is reserved for plan" in str(error), error
"""

FAILING = """
import sys, time
from nesting.stock import tables
from nesting.stock.ledger import open_ledger
with open_ledger(sys.argv[1]) as ledger, ledger.work(why="cut short") as work:
    if work.connection.dialect.name == "sqlite":
        # So that changes reach the file before the end.
        work.connection.exec_driver_sql("PRAGMA cache_size = 1")
    (held,) = work.take_there(["R1"])
    held = work.cut_off(held, 1000.0, least=0.0, kept_for="")
    for _ in range(200):
        work.add_remnant(held, 500.0, 300.0, 0.0)
    print("ready", flush=True)
    time.sleep(60)
"""

BEGINNING = """
import sys
from nesting.stock.ledger import open_ledger
print("ready", flush=True)
sys.stdin.readline()
open_ledger(sys.argv[1], create=True).close()
"""


def start(script: str, place: str, who: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, place, who],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def await_ready(process: subprocess.Popen[str]) -> None:
    assert process.stdout is not None
    if process.stdout.readline().strip() != "ready":
        pytest.fail(process.communicate()[1])


def together(script: str, place: str, people: tuple[str, ...] = ("Ann", "Ben")) -> None:
    """Let several people do the same at the same time."""
    processes = [start(script, place, who) for who in people]
    for process in processes:
        await_ready(process)
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    for process in processes:
        _, said = process.communicate(timeout=60)
        assert process.returncode == 0, said


def take_in(ledger: Ledger, *ids: str, length: float = 50_000) -> None:
    pieces = [StockPiece(id=id_, material="cloth", length=length, width=2200.0) for id_ in ids]
    ledger.take_in([ListedPiece(piece=piece, kind="roll", named=True, row=2) for piece in pieces])


def test_no_length_is_lost_when_two_people_cut_from_one_roll(ledger: Ledger, place: str) -> None:
    """Each takes 15 times 100.5 mm (arithmetic), and every cut is in the history."""
    take_in(ledger, "R1")
    together(CUTTING, place)
    assert ledger.piece("R1").piece.length == pytest.approx(50_000 - 30 * 100.5)
    cuts = [entry for entry in ledger.history("R1") if entry.what == "cut"]
    assert sorted(entry.who for entry in cuts) == ["Ann"] * 15 + ["Ben"] * 15
    for before, after in pairwise(cuts):
        assert before.after == after.before


def test_two_people_booking_one_plan_book_every_ply_once(ledger: Ledger, place: str) -> None:
    """Both try all six plies; six are booked in all, and the rolls are short by just that."""
    take_in(ledger, "Q1", "Q2")
    plan = whole(cloth_plan(tied=True))
    together(BOOKING, place)
    bookings = bookings_of(ledger, plan.number)
    assert sum(booking.plies for booking in bookings) == 6
    assert still_to_cut(plan, ledger) == {}
    for id_, plies in (("Q1", 3), ("Q2", 3)):
        own = [booking for booking in bookings if booking.piece == id_]
        assert sum(booking.plies for booking in own) == plies
        assert ledger.piece(id_).piece.length == 50_000 - sum(booking.length_used for booking in own)


def test_a_piece_is_reserved_for_one_plan_alone(ledger: Ledger, place: str) -> None:
    """Plans that want overlapping pairs: whoever comes first has a pair whole."""
    take_in(ledger, *(f"P{number}" for number in range(9)))
    together(RESERVING, place, ("plan-a", "plan-b"))
    held = ledger.pieces()
    assert all(piece.state == "reserved" for piece in held)
    for piece in held:
        reserved = [entry for entry in ledger.history(piece.id) if entry.what == "reserved"]
        assert [entry.plan for entry in reserved] == [piece.plan]


def test_two_people_may_begin_a_ledger_at_once(place: str) -> None:
    """Both find it begun."""
    together(BEGINNING, place)
    with open_ledger(place) as opened:
        assert opened.pieces() == ()


@pytest.mark.skipif(sys.platform == "win32", reason="processes are killed otherwise there")
def test_a_crash_in_the_middle_leaves_everything_as_it_was(ledger: Ledger, place: str) -> None:
    """Killed with hundreds of changes under way: not one is kept, and work goes on."""
    take_in(ledger, "R1")
    before = (ledger.pieces(), ledger.history())
    ledger.close()
    process = start(FAILING, place, "")
    await_ready(process)
    if "://" not in place:
        assert Path(f"{place}-journal").exists()  # changes have reached the file, and are to be taken back
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=60)
    with open_ledger(place) as opened:
        assert (opened.pieces(), opened.history()) == before
        assert opened.use("R1", length=1000).piece.length == 49_000
