"""What a person tells of a cut, and what became of its pieces."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from nesting.model import Layout
from nesting.reading.findings import listed, near
from nesting.stock.plies import contents
from nesting.stock.store import StockError

__all__ = ["Cut", "Fates"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """What the person at the table says of a cut.

    Parameters
    ----------
    layout
        Number of the layout, from 1, as it is printed.
    material
        Key or name; None where the plan has but one.
    plies
        How many plies, sheets or blocks; None: all that are not booked yet.
    length_used
        Length of roll that was really used, mm, ends included; None: as planned.
    damaged, not_cut
        Pieces that were spoilt, or left uncut, by the key of their demand or the code of their panel.
    pieces
        Ids in the ledger: the roll, or each of the sheets or blocks; empty: as planned.
    rests
        Length, width and height, mm, of the rests that go back to the shelf: of the sheet or block, or of
        what was passed over or left beside the pieces of a roll. None: those of the plan that are worth
        keeping, none of rolls.
    beyond
        Whether more plies than planned may be booked.
    demand_only
        Whether the pieces of stock that the plan names are left alone, because they are not in the ledger.
    note
        A remark.
    """

    layout: int
    material: str | None = None
    plies: int | None = None
    length_used: float | None = None
    damaged: Mapping[str, int] | None = None
    not_cut: Mapping[str, int] | None = None
    pieces: tuple[str, ...] = ()
    rests: tuple[tuple[float, float, float], ...] | None = None
    beyond: bool = False
    demand_only: bool = False
    note: str = ""


class Fates:
    """Hands out what was damaged or not cut over the portions of a booking."""

    def __init__(self, layout: Layout, plies: int, cut: Cut) -> None:
        self.per_ply = contents(layout)
        self.damaged = self._by_key(cut.damaged or {}, "damaged")
        self.not_cut = self._by_key(cut.not_cut or {}, "not cut")
        for key, count in (self.damaged + self.not_cut).items():
            if count > self.per_ply[key] * plies:
                raise StockError(
                    f"{count} pieces of {key!r} cannot be damaged or not cut: what is booked of layout "
                    f"{cut.layout} holds {self.per_ply[key] * plies}."
                )

    def _by_key(self, counts: Mapping[str, int], what: str) -> Counter[str]:
        found: Counter[str] = Counter()
        for text, count in counts.items():
            if count < 1:
                raise StockError(f"{text!r}: {count} pieces {what}; say 1 or more.")
            found[self._key(text)] += count
        return found

    def _key(self, text: str) -> str:
        """The demand that is meant: its key, or its beginning where only one key begins so."""
        wanted = text.casefold().strip()
        for key in self.per_ply:
            if key.casefold() == wanted:
                return key
        begun = [key for key in self.per_ply if key.casefold().startswith(f"{wanted} ")]
        if len(begun) == 1:
            return begun[0]
        hint = f"It could be {listed(begun)}: write which." if begun else near(text, self.per_ply)
        raise StockError(
            f"The layout has no piece {text!r}. {hint}" + ("" if begun else f"It has {listed(self.per_ply)}.")
        )

    def take(self, plies: int) -> list[dict[str, object]]:
        """Rows of the table of booked pieces for the next plies, without the number of the booking."""
        rows: list[dict[str, object]] = []
        for key, count in self.per_ply.items():
            planned = count * plies
            damaged = min(planned, self.damaged[key])
            not_cut = min(planned - damaged, self.not_cut[key])
            self.damaged[key] -= damaged
            self.not_cut[key] -= not_cut
            good = planned - damaged - not_cut
            rows.append({"key": key, "planned": planned, "good": good, "damaged": damaged})
        return rows
