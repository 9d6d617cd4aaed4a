"""What stands on the shelf, wherever it is written down: in a stock list or in a ledger."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nesting.catalogue import Range
from nesting.errors import Finding, InputError
from nesting.model import Plan, StockPiece

__all__ = ["check_ledger", "is_ledger", "release_for", "reserve_for", "shelves", "stock_of", "used_pieces"]

_HEADER = b"SQLite format 3\x00"
"""How every SQLite file begins (https://www.sqlite.org/fileformat.html, section 1.3)."""


def is_ledger(where: str) -> bool:
    """Whether a text names a ledger, which is a database, rather than a stock list."""
    if "://" in where:
        return True
    try:
        with Path(where).open("rb") as stream:
            return stream.read(len(_HEADER)) == _HEADER
    except OSError:
        return Path(where).suffix.lower() in (".db", ".sqlite", ".sqlite3")


def stock_of(where: str, range_: Range) -> tuple[StockPiece, ...]:
    """The free pieces of a ledger, or all pieces of a stock list.

    Raises
    ------
    NestingError
        When it cannot be read, or a list has faults.
    """
    if not is_ledger(where):
        from nesting.stock.listfile import read_stock_list

        return read_stock_list(where, range_)
    from nesting.stock.ledger import free_stock, open_ledger

    with open_ledger(where) as ledger:
        return free_stock(ledger)


def shelves(pieces: Sequence[StockPiece]) -> dict[str, tuple[StockPiece, ...]]:
    """Pieces by material."""
    found: dict[str, list[StockPiece]] = {}
    for piece in pieces:
        found.setdefault(piece.material, []).append(piece)
    return {material: tuple(some) for material, some in found.items()}


def check_ledger(where: str | None) -> None:
    """Refuse to reserve where there is no ledger.

    Raises
    ------
    InputError
        When `where` is a stock list or nothing.
    """
    if where is None or not is_ledger(where):
        remedy = "Take the list into a ledger with 'nesting stock take-in', and give that one."
        raise InputError([Finding("--reserve", "--stock", where, "a stock ledger to reserve in", remedy)])


def used_pieces(plan: Plan) -> tuple[StockPiece, ...]:
    """All pieces from the shelf that a plan cuts, as it found them."""
    return tuple(piece for part in plan.materials for piece in part.shelf)


def reserve_for(plan: Plan, where: str) -> None:
    """Reserve all pieces that a plan cuts under its number, or none.

    Raises
    ------
    StockError
        When one is no longer there, reserved for another plan, or not what it was when it was planned.
    """
    from nesting.stock.ledger import open_ledger
    from nesting.stock.store import StockError

    pieces = {piece.id: piece for piece in used_pieces(plan)}
    with open_ledger(where) as ledger, ledger.work(plan=plan.number) as work:
        for held in work.take_there(pieces):
            work.reserve(held, plan.number)
            if held.piece != pieces[held.id]:
                raise StockError(f"{held.id} was changed while the plan was made: plan again.")


def release_for(plan: Plan, where: str) -> None:
    """Let others have the pieces of a plan after all."""
    from nesting.stock.ledger import open_ledger

    with open_ledger(where) as ledger:
        ledger.release(plan=plan.number, why="the plan could not be written")
