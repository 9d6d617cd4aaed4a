"""Which plies are cut from which roll."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.model import Layout, RollMaterial, StockUse
from nesting.packing import Bar, LinearProblem, Piece, solve, verify

__all__ = ["issue_bars", "issue_rolls"]

EFFORT = 20.0
"""Work spent on sharing plies out over rolls, in units of `solve`'s effort."""


def issue_rolls(material: RollMaterial, layouts: Sequence[Layout]) -> tuple[StockUse, ...]:
    """Share the plies of all markers out over as few rolls as possible.

    A one-dimensional cutting stock problem: a ply needs its marker length and both end losses. The
    fullest rolls come first, so that the largest rest is on the last one.
    """
    if not layouts:
        return ()
    plies = tuple(
        Piece.linear(str(index), layout.length + 2 * material.end_loss, layout.repeats)
        for index, layout in enumerate(layouts)
    )
    problem = LinearProblem((Bar("roll", material.roll_length),), plies)
    answer = solve(problem, time_limit=None, effort=EFFORT)
    verify(problem, answer)
    length_of = {piece.key: piece.length for piece in plies}
    rolls = []
    for bar in answer.layouts:
        counts: dict[int, int] = {}
        for placement in bar.placements:
            counts[int(placement.key)] = counts.get(int(placement.key), 0) + 1
        used = sum(length_of[placement.key] for placement in bar.placements)
        rolls.extend([(tuple(sorted(counts.items())), used)] * bar.repeats)
    rolls.sort(key=lambda roll: (-roll[1], roll[0]))
    return tuple(
        StockUse(name=f"roll {number}", cuts=cuts, used=used, rest=material.roll_length - used)
        for number, (cuts, used) in enumerate(rolls, start=1)
    )


def issue_bars(
    material: RollMaterial, layouts: Sequence[Layout], ends: Sequence[float]
) -> tuple[StockUse, ...]:
    """Rolls that are only cut to length: each repeat of a layout is one roll.

    Parameters
    ----------
    ends
        For each layout, where its last piece ends, mm.
    """
    uses: list[StockUse] = []
    for index, (layout, end) in enumerate(zip(layouts, ends, strict=True)):
        used = end + 2 * material.end_loss
        for _ in range(layout.repeats):
            uses.append(
                StockUse(
                    name=f"roll {len(uses) + 1}",
                    cuts=((index, 1),),
                    used=used,
                    rest=material.roll_length - used,
                )
            )
    return tuple(uses)
