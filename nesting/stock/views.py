"""How pieces and their history are shown: as tables for people, as plain values for programs, as CSV."""

from __future__ import annotations

import csv
import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nesting.measures import measure, reworded, shown_amount, unit, with_unit
from nesting.model import Flaw
from nesting.stock.measures import plain_mm, show_flaws
from nesting.stock.records import DONE, Entry, Held

__all__ = [
    "entry_values",
    "flaws_shown",
    "history_table",
    "local_time",
    "piece_table",
    "piece_values",
    "sizes",
    "total_table",
    "total_values",
    "write_stock_list",
]


def sizes(held: Held) -> str:
    """The measured sizes as people say them: the length of rolls in metres (yards), the rest in mm (inches).

    Examples
    --------
    >>> from nesting.model import StockPiece
    >>> sizes(Held(piece=StockPiece(id="R1", material="c", length=48500.0, width=2190.0), kind="roll"))
    '48.50 m x 2190 mm'
    """
    piece = held.piece
    if held.kind == "roll":
        return f"{shown_amount(piece.length / 1e3, 'm', 2)} x {with_unit(piece.width)}"
    sides = (piece.length, piece.width, *((piece.height,) if piece.height else ()))
    return f"{' x '.join(map(measure, sides))} {unit()}"


def flaws_shown(flaws: Sequence[Flaw]) -> str:
    """Flaws for people, in a form that `parse_flaws` reads as well."""
    told = []
    for flaw in flaws:
        spans = [(flaw.x0, flaw.x1)] + ([] if flaw.y1 is None else [(flaw.y0, flaw.y1)])
        told.append(" x ".join(f"{measure(low)}-{with_unit(high)}" for low, high in spans))
    return "; ".join(told)


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
            flaws_shown(held.piece.flaws),
            held.piece.place,
            f"reserved for {held.plan}" if held.plan else held.state,
        ]
        for held in pieces
    ]
    used = [at for at in range(len(headings)) if not rows or any(row[at] for row in rows)]
    return [headings[at] for at in used], [[row[at] for at in used] for row in rows]


def total_values(pieces: Sequence[Held]) -> list[dict[str, Any]]:
    """What there is of each material: pieces, and metres of rolls, m2 of sheets or m3 of blocks."""
    totals: dict[tuple[str, str], dict[str, Any]] = {}
    for held in pieces:
        if held.state in DONE:
            continue
        row = totals.setdefault(
            (held.piece.material, held.kind),
            {
                "material": held.piece.material,
                "kind": held.kind,
                "unit": UNITS[held.kind],
                "pieces": 0,
                "remnants": 0,
                "free": 0.0,
                "reserved": 0.0,
            },
        )
        row["pieces"] += 1
        row["remnants"] += held.piece.remnant
        row[held.state] += amount(held)
    return list(totals.values())


UNITS = {"roll": "m", "sheet": "m2", "block": "m3"}


def amount(held: Held) -> float:
    """Metres of a roll, m2 of a sheet, m3 of a block, all as measured."""
    piece = held.piece
    if held.kind == "roll":
        return piece.length / 1e3
    return piece.length * piece.width / 1e6 * (piece.height / 1e3 if held.kind == "block" else 1.0)


def total_table(pieces: Sequence[Held]) -> tuple[list[str], list[list[str]]]:
    """Headings and cells of what there is of each material."""
    headings = ["material", "kind", "pieces", "remnants among them", "free", "reserved"]
    return headings, [
        [
            row["material"],
            row["kind"],
            str(row["pieces"]),
            str(row["remnants"] or ""),
            *(
                shown_amount(row[state], row["unit"], 2) if row[state] else ""
                for state in ("free", "reserved")
            ),
        ]
        for row in total_values(pieces)
    ]


def _amount(value: float, metric: str) -> str:
    return shown_amount(value, metric, 2) if value else ""


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
        [local_time(entry.at), entry.who, _what(entry), _told(entry), reworded(entry.why)]
        for entry in entries
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
        return flaws_shown([Flaw(*flaw) for flaw in value]) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return measure(value)
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
