"""How pieces and their history are shown: as tables for people, as plain values for programs, as CSV."""

from __future__ import annotations

import csv
import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nesting.model import Flaw
from nesting.reading.units import show
from nesting.stock.measures import plain_mm, show_flaws
from nesting.stock.records import Entry, Held

__all__ = [
    "entry_values",
    "history_table",
    "local_time",
    "piece_table",
    "piece_values",
    "sizes",
    "write_stock_list",
]


def sizes(held: Held) -> str:
    """The measured sizes as people say them: rolls in metres, the rest in mm.

    Examples
    --------
    >>> from nesting.model import StockPiece
    >>> sizes(Held(piece=StockPiece(id="R1", material="c", length=48500.0, width=2190.0), kind="roll"))
    '48.50 m x 2 190 mm'
    """
    piece = held.piece
    if held.kind == "roll":
        return f"{piece.length / 1e3:.2f} m x {show(piece.width)} mm"
    sides = (piece.length, piece.width, *((piece.height,) if piece.height else ()))
    return " x ".join(map(show, sides)) + " mm"


def local_time(at: str) -> str:
    """A stored time in the time of this place: ``"2026-12-07 14:05"``."""
    return datetime.datetime.fromisoformat(at).astimezone().strftime("%Y-%m-%d %H:%M")


def piece_values(held: Held) -> dict[str, Any]:
    """A piece for other programs; every length carries its unit in the name."""
    piece = held.piece
    return {
        "id": piece.id,
        "material": piece.material,
        "kind": held.kind,
        "length mm": piece.length,
        "width mm": piece.width,
        "height mm": piece.height,
        "remnant": piece.remnant,
        "lot": piece.lot,
        "flaws": show_flaws(piece.flaws),
        "place": piece.place,
        "state": held.state,
        "reserved for plan": held.plan,
        "cut from": held.source,
    }


def piece_table(pieces: Sequence[Held]) -> tuple[list[str], list[list[str]]]:
    """Headings and cells of the table on screen; columns that would be empty are left out."""
    headings = ["id", "material", "kind", "size", "lot", "flaws", "place", "state"]
    rows = [
        [
            held.id,
            held.piece.material,
            f"{held.kind}, remnant" if held.piece.remnant else held.kind,
            sizes(held),
            held.piece.lot,
            show_flaws(held.piece.flaws),
            held.piece.place,
            f"reserved for {held.plan}" if held.plan else held.state,
        ]
        for held in pieces
    ]
    used = [at for at in range(len(headings)) if not rows or any(row[at] for row in rows)]
    return [headings[at] for at in used], [[row[at] for at in used] for row in rows]


def entry_values(entry: Entry) -> dict[str, Any]:
    """A change for other programs."""
    return {
        "at": entry.at,
        "who": entry.who,
        "piece": entry.piece,
        "what": entry.what,
        "changes": {
            name: {"from": old, "to": new} for name, (old, new) in entry.changes().items() if entry.before
        },
        "why": entry.why,
        "plan": entry.plan,
        "booking": entry.booking,
    }


def history_table(entries: Sequence[Entry]) -> tuple[list[str], list[list[str]]]:
    """Headings and cells of the history on screen."""
    headings = ["when", "who", "what", "from and to", "why"]
    return headings, [
        [local_time(entry.at), entry.who, _what(entry), _told(entry), entry.why] for entry in entries
    ]


def _what(entry: Entry) -> str:
    made_for = f" for {entry.plan}" if entry.plan else ""
    return f"{entry.what}{made_for}" + (f", booking {entry.booking}" if entry.booking else "")


_UNTOLD = ("state", "plan")
"""Changes that the word for the whole entry tells already."""


def _told(entry: Entry) -> str:
    if entry.before is None or entry.after is None:
        held = entry.after or entry.before
        return sizes(held) if held else ""
    changes = {name: pair for name, pair in entry.changes().items() if name not in _UNTOLD}
    return "; ".join(
        f"{name} {_value(name, old)} -> {_value(name, new)}" for name, (old, new) in changes.items()
    )


def _value(name: str, value: object) -> str:
    if name == "flaws" and isinstance(value, list):
        return show_flaws(tuple(Flaw(*flaw) for flaw in value)) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return show(value)
    return str(value or "none")


LIST_HEADINGS = (
    "id",
    "material",
    "kind",
    "length mm",
    "width mm",
    "height mm",
    "remnant",
    "lot",
    "flaws",
    "place",
    "state",
    "plan",
    "cut from",
)


def write_stock_list(pieces: Sequence[Held], path: Path) -> None:
    """Write pieces as CSV that `nesting stock take-in --from` reads back.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    from nesting.drawing.cutlist import safe_cell
    from nesting.files import whole_file

    with whole_file(path) as part, part.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.writer(stream, delimiter=";")
        writer.writerow(LIST_HEADINGS)
        for held in pieces:
            piece = held.piece
            row = (
                piece.id,
                piece.material,
                held.kind,
                plain_mm(piece.length),
                plain_mm(piece.width),
                plain_mm(piece.height) if piece.height else "",
                "yes" if piece.remnant else "no",
                piece.lot,
                show_flaws(piece.flaws),
                piece.place,
                held.state,
                held.plan,
                held.source,
            )
            writer.writerow([safe_cell(cell) for cell in row])
