"""Outcomes on rolls of several widths: what one tells of the others, and what they are together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from nesting.comparing.results import Outcome, Unit
from nesting.model import RollMaterial

__all__ = ["Sides", "average", "differ", "tightened", "together"]

LIKE = 0.004
"""Plans that differ by a smaller share are alike."""


@dataclass
class Sides:
    """What was planned of each unit on rolls of several widths, all told of one another."""

    known: dict[Unit, dict[float, Outcome]] = field(default_factory=dict)

    def add(self, unit: Unit, outcome: Outcome) -> None:
        """Remember an outcome on a roll, the best of its width."""
        if isinstance(outcome.material, RollMaterial):
            kept = self.known.setdefault(unit, {})
            width = outcome.material.width
            old = kept.get(width)
            if old is not None and old.fits and outcome.fits and old.demands == outcome.demands:
                better = min(old, outcome, key=lambda one: one.stock)
                outcome = replace(better, least=max(old.least, outcome.least))
            kept[width] = outcome

    def settle(self) -> None:
        """Let all that is known of a unit tighten the rest."""
        for unit, kept in self.known.items():
            widths = sorted(kept)
            better = tightened([kept[width] for width in widths])
            self.known[unit] = dict(zip(widths, better, strict=True))

    def best(self, unit: Unit, outcome: Outcome) -> Outcome:
        """What is known now of the same unit on the same roll; else the outcome itself."""
        if not isinstance(outcome.material, RollMaterial):
            return outcome
        found = self.known.get(unit, {}).get(outcome.material.width)
        if found is None or found.demands != outcome.demands:
            return outcome
        # Same plan, but a price of its own: that may be given for one width.
        return replace(found, price=outcome.price, material=outcome.material)


def tightened(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Outcomes of the same pieces on rolls of rising width, each with what the others tell of it.

    A plan for a narrower roll can be laid on a wider one, and no plan for a narrower roll is shorter
    than the bound of a wider one.
    """
    better = list(outcomes)
    for place in range(1, len(better)):
        one, other = better[place], better[place - 1]
        if one.fits and other.fits and other.stock < one.stock and one.demands == other.demands:
            better[place] = replace(one, stock=other.stock, layouts=other.layouts)
    for place in range(len(better) - 2, -1, -1):
        one, other = better[place], better[place + 1]
        if one.fits and other.fits and other.least > one.least and one.demands == other.demands:
            better[place] = replace(one, least=min(one.stock, other.least))
    return better


def differ(one: Outcome, other: Outcome) -> bool:
    """Whether two plans, or their bounds, differ by more than their pieces do."""
    if not (one.fits and other.fits):
        return one.fits != other.fits
    return any(
        abs(a / one.pieces - b / other.pieces) > LIKE * b / other.pieces
        for a, b in ((one.stock, other.stock), (one.least, other.least))
    )


def average(found: Sequence[tuple[float, Outcome]]) -> tuple[float, float, float] | None:
    """Cost, proven least cost and waste per bed, by shares; None where one does not fit."""
    if not all(outcome.fits for _, outcome in found):
        return None
    cost = sum(share * one.cost for share, one in found)
    least = sum(share * one.least_cost for share, one in found)
    taken = sum(share * one.stock * one.each / one.beds for share, one in found)
    pieces = sum(share * one.pieces / one.beds for share, one in found)
    return cost, least, 1.0 - pieces / taken


def together(
    parts: Sequence[tuple[float, Sequence[tuple[float, Outcome]]]],
) -> tuple[tuple[float, Outcome], ...]:
    """Steps of several units as the steps of one bed of them all, by their shares.

    Parameters
    ----------
    parts
        Share of each unit, and at which sides of the material its plan changes.
    """
    found = []
    for place in sorted({at for _, steps in parts for at, _ in steps}):
        held = [(share, [step for step in steps if step[0] <= place][-1]) for share, steps in parts]
        last = next(one for _, steps in parts for at, one in steps if at == place)
        fitting = all(one.fits for _, (_, one) in held)
        one_bed = replace(
            last,
            beds=1,
            stock=sum(share * one.stock / one.beds for share, (_, one) in held),
            least=sum(share * one.least / one.beds for share, (_, one) in held),
            pieces=sum(share * one.pieces / one.beds for share, (_, one) in held),
            reason="" if fitting else "not all of them fit",
            demands=(),
            layouts=(),
        )
        found.append((place, one_bed))
    return tuple(found)
