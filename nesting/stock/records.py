"""What the ledger knows of pieces and their past, and how it is stored."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

from sqlalchemy import RowMapping

from nesting.model import Flaw, StockPiece

__all__ = ["DONE", "STATES", "Entry", "Held", "State", "from_row", "snapshot", "to_row"]

State: TypeAlias = Literal["free", "reserved", "used up", "written off"]
STATES: tuple[State, ...] = ("free", "reserved", "used up", "written off")
DONE: tuple[State, ...] = ("used up", "written off")
"""States of pieces that are no longer there."""

TENTHS = 4
"""Decimals of a mm that are kept: floats that went through several cuts stay tidy."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A piece as the ledger holds it.

    Parameters
    ----------
    piece
        What it is, with its measured sizes in mm.
    kind
        ``"roll"``, ``"sheet"`` or ``"block"``.
    state
        One of `STATES`.
    source
        Id of the piece that it was cut from; empty when it was bought.
    plan
        Number of the plan that it is reserved for.
    """

    piece: StockPiece
    kind: str
    state: State = "free"
    source: str = ""
    plan: str = ""

    @property
    def id(self) -> str:
        """Id of the piece."""
        return self.piece.id

    def with_piece(self, **changes: Any) -> Held:
        """A copy with other values in its piece."""
        return replace(self, piece=replace(self.piece, **changes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One change in the history of a piece.

    Parameters
    ----------
    at
        When: ISO 8601, UTC.
    what
        ``"taken in"``, ``"corrected"``, ``"reserved"`` ...
    before, after
        The piece before and after; None when it was not there.
    """

    number: int
    at: str
    who: str
    piece: str
    what: str
    before: Held | None
    after: Held | None
    why: str
    plan: str
    booking: int | None

    def changes(self) -> dict[str, tuple[object, object]]:
        """What is different afterwards, by field: (from, to)."""
        old = json.loads(snapshot(self.before) or "{}")
        new = json.loads(snapshot(self.after) or "{}")
        names = [*new, *(name for name in old if name not in new)]
        return {name: (old.get(name), new.get(name)) for name in names if old.get(name) != new.get(name)}


def to_row(held: Held) -> dict[str, Any]:
    """The columns of the table of pieces, but for `added`."""
    piece = held.piece
    return {
        "id": piece.id,
        "folded": piece.id.casefold(),
        "material": piece.material,
        "kind": held.kind,
        "length": round(piece.length, TENTHS),
        "width": round(piece.width, TENTHS),
        "height": round(piece.height, TENTHS),
        "remnant": piece.remnant,
        "lot": piece.lot,
        "flaws": json.dumps([[flaw.x0, flaw.x1, flaw.y0, flaw.y1] for flaw in piece.flaws]),
        "place": piece.place,
        "state": held.state,
        "source": held.source,
    }


def from_row(row: Mapping[str, Any] | RowMapping, plan: str = "") -> Held:
    """A piece from its row and the plan it is reserved for."""
    piece = StockPiece(
        id=row["id"],
        material=row["material"],
        length=row["length"],
        width=row["width"],
        height=row["height"],
        remnant=row["remnant"],
        lot=row["lot"],
        flaws=tuple(Flaw(*flaw) for flaw in json.loads(row["flaws"])),
        place=row["place"],
    )
    return Held(piece=piece, kind=row["kind"], state=row["state"], source=row["source"], plan=plan)


def snapshot(held: Held | None) -> str | None:
    """A piece as JSON for the history."""
    if held is None:
        return None
    row = {**to_row(held), "flaws": [[f.x0, f.x1, f.y0, f.y1] for f in held.piece.flaws], "plan": held.plan}
    del row["folded"]
    return json.dumps(row, ensure_ascii=False)


def from_snapshot(text: str | None) -> Held | None:
    """A piece from what `snapshot` wrote."""
    if text is None:
        return None
    row = json.loads(text)
    return from_row({**row, "flaws": json.dumps(row["flaws"])}, row["plan"])
