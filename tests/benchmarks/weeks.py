"""Measure the roll engine on weeks of a bed factory: ``python tests/benchmarks/weeks.py --stages 2``.

The weeks are invented: a seeded generator draws bed sizes, panels with their allowances, quantities, the
width of the roll and the longest marker. Every answer is verified. The gap is to the proven bound of the
answer itself, so it can only be too large. Beside it stands what the plain practice takes: rows of one
size each, in the better turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from weekly import head, options, row, run

from nesting.packing import Piece, RollProblem, solve
from nesting.packing.problem import Stages

STAGES: dict[str, Stages] = {"free": None, "2": 2, "3": 3, "any": "any"}

BED_WIDTHS = (800, 900, 1000, 1200, 1350, 1400, 1500, 1600, 1800, 2000)
BED_LENGTHS = (1900, 1950, 2000, 2100, 2200)


def week(number: int, times: int = 1) -> RollProblem:
    """The week of that number, without stages.

    8 to 40 different rectangles, 300 to 6,000 pieces (times `times`), a roll of 1.4 to 2.6 m, markers
    of 6 to 12 m or without limit, one-way cloth or cloth that may be turned.
    """
    rng = np.random.default_rng(number)
    width = float(rng.integers(140, 261) * 10)
    wanted = int(rng.integers(8, 41))
    turns = (0.0,) if rng.random() < 0.5 else (0.0, 90.0)
    longest = None if rng.random() < 0.5 else float(rng.integers(60, 121) * 100)
    sizes: dict[tuple[int, int], None] = {}
    while len(sizes) < wanted:
        size = _panel(rng)
        # Along the roll as drawn; turned where only that fits, as a person at the table would.
        if size[1] > width:
            size = size[1], size[0]
        if size[1] <= width and (longest is None or size[0] <= longest):
            sizes[size] = None
    shares = rng.lognormal(0.0, 0.8, len(sizes))
    total = np.exp(rng.uniform(np.log(300), np.log(6000)))
    quantities = np.maximum(1, np.round(shares / shares.sum() * total)).astype(int)
    pieces = tuple(
        Piece.rectangle(f"P{at}", along, across, int(quantity) * times, turns)
        for at, ((along, across), quantity) in enumerate(zip(sizes, quantities, strict=True))
    )
    return RollProblem(width, pieces, max_marker_length=longest)


def _panel(rng: np.random.Generator) -> tuple[int, int]:
    """Length and width of some panel of some bed, mm."""
    long = int(rng.choice(BED_LENGTHS))
    wide = int(rng.choice(BED_WIDTHS))
    allowance = int(rng.integers(2, 17) * 5)
    kind = rng.random()
    if kind < 0.45:  # top panel, dust cover, non-slip top
        return long + allowance, wide + allowance
    if kind < 0.7:  # border along a side or an end, gusset
        return int(rng.choice((long, wide))) + allowance, int(rng.integers(12, 72) * 5)
    if kind < 0.85:  # headboard front or back
        return wide + 2 * allowance, int(rng.integers(50, 130) * 10)
    return int(rng.integers(40, 160) * 5), int(rng.integers(20, 100) * 5)  # flaps, bags, small covers


def rows_of_one_size(problem: RollProblem) -> float:
    """Length of roll in mm when every size is cut in rows of its own, in the better turn."""
    total = 0.0
    for piece in problem.pieces:
        boxes = [box for box in map(piece.box, piece.turns) if box[1] <= problem.width]
        total += min(
            along * -(-piece.quantity // int((problem.width + problem.gap) // (across + problem.gap)))
            for along, across in boxes
        )
    return total


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the weeks asked for."""
    parser = options("Measure the roll engine on invented weeks of beds.", budget=10.0)
    parser.add_argument("--stages", choices=STAGES, nargs="+", default=["2", "3", "free"])
    chosen = parser.parse_args(arguments)
    for stages in STAGES.values():  # compile the kernels, so that no measured week pays for it
        solve(replace(week(0), stages=stages), time_limit=None, effort=20)
    print(head("stages", "rows of one size"), flush=True)
    for name in chosen.stages:
        outcomes = []
        for number in range(chosen.first, chosen.first + chosen.weeks):
            problem = replace(week(number, chosen.times), stages=STAGES[name])
            outcomes.append(run(problem, rows_of_one_size(problem), chosen))
            if chosen.each:
                last = outcomes[-1]
                print(
                    f"    week {number}: {last.value / 1000:.2f} m (bound {last.bound / 1000:.2f} m, gap "
                    f"{100 * last.gap:.2f} %, {last.seconds:.1f} s; {len(problem.pieces)} sizes, width "
                    f"{problem.width:g} mm, markers {problem.max_marker_length}, "
                    f"rows {last.plain / 1000:.2f} m)",
                    flush=True,
                )
        print(row(name, outcomes), flush=True)


if __name__ == "__main__":
    main()
