"""What becomes of a foam block: pieces, stock, scrap, skin and dust. The account adds up to the raw block."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.sawcuts import Fate, SawPlan

__all__ = ["SawYield", "saw_yield"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawYield:
    """Volumes of one block, m3. Yield is good volume over the block as bought (common practice).

    Parameters
    ----------
    pieces
        The pieces, outlines at their true size.
    remnants
        Rests worth keeping.
    scrap
        Clean rests for rebond.
    skins
        Skins for rebond, which may be graded lower.
    dust
        What the blade takes, thin rests included.
    """

    pieces: float
    remnants: float
    scrap: float
    skins: float
    dust: float

    @property
    def raw(self) -> float:
        """The whole block, m3."""
        return self.pieces + self.remnants + self.scrap + self.skins + self.dust

    @property
    def shares(self) -> tuple[float, float, float, float, float]:
        """Pieces, remnants, scrap, skins and dust as shares of the raw block, 0 to 1."""
        raw = self.raw
        return (
            self.pieces / raw,
            self.remnants / raw,
            self.scrap / raw,
            self.skins / raw,
            self.dust / raw,
        )


def saw_yield(plan: SawPlan) -> SawYield:
    """Add up what the cuts of a plan free, for one block."""
    raw = math.prod(plan.size)

    def freed(fate: Fate) -> float:
        return math.fsum(
            cut.copies * freed.volume for cut in plan.cuts for freed in cut.frees if freed.fate == fate
        )

    # A block that needs no cut is itself the piece.
    pieces = freed("piece") if plan.cuts else raw
    remnants, scrap, skins = freed("remnant"), freed("scrap"), freed("skin")
    dust = raw - pieces - remnants - scrap - skins
    return SawYield(
        pieces=pieces / 1e9,
        remnants=remnants / 1e9,
        scrap=scrap / 1e9,
        skins=skins / 1e9,
        dust=max(0.0, dust) / 1e9,
    )
