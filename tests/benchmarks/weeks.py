"""Measure the roll engine on weeks of a bed factory: ``python tests/benchmarks/weeks.py --stages 2``.

The weeks are invented: a seeded generator draws bed sizes, panels with their allowances, quantities, the
width of the roll and the longest marker. Every answer is verified. The gap is to the proven bound of the
answer itself, so it can only be too large. Beside it stands what the plain practice takes: rows of one
size each, in the better turn.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import fmean
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from nesting.packing import Piece, RollProblem, Status, solve, verify
from nesting.packing.problem import Stages

STAGES: dict[str, Stages] = {"free": None, "2": 2, "3": 3, "any": "any"}

BED_WIDTHS = (800, 900, 1000, 1200, 1350, 1400, 1500, 1600, 1800, 2000)
BED_LENGTHS = (1900, 1950, 2000, 2100, 2200)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the engine made of a week; lengths in mm."""

    value: float
    bound: float
    rows: float
    seconds: float
    optimal: bool

    @property
    def gap(self) -> float:
        """How far the value lies above the proven bound, as a share of the bound."""
        return self.value / self.bound - 1.0


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


def run(problem: RollProblem, budget: float | None, effort: float | None, seed: int) -> Outcome:
    """Solve a week, verify the answer, and compare.

    Raises
    ------
    LayoutError
        When the answer breaks a rule.
    SystemExit
        When pieces are missing.
    """
    started = perf_counter()
    answer = solve(problem, time_limit=budget, effort=effort, seed=seed)
    seconds = perf_counter() - started
    verify(problem, answer)
    if answer.missing:
        raise SystemExit(f"pieces are missing: {dict(answer.missing)}")
    return Outcome(
        answer.length, answer.bound, rows_of_one_size(problem), seconds, answer.status is Status.OPTIMAL
    )


HEAD = (
    "| stages | weeks | mean gap % | worst gap % | mean s | worst s | proven optimal "
    "| less roll than rows of one size % |\n|---|---|---|---|---|---|---|---|"
)


def row(title: str, outcomes: Sequence[Outcome]) -> str:
    """One line of the markdown table."""
    gaps = [outcome.gap for outcome in outcomes]
    saved = 1 - sum(outcome.value for outcome in outcomes) / sum(outcome.rows for outcome in outcomes)
    cells = [
        title,
        str(len(outcomes)),
        f"{100 * fmean(gaps):.2f}",
        f"{100 * max(gaps):.2f}",
        f"{fmean(outcome.seconds for outcome in outcomes):.1f}",
        f"{max(outcome.seconds for outcome in outcomes):.1f}",
        str(sum(outcome.optimal for outcome in outcomes)),
        f"{100 * saved:.1f}",
    ]
    return "| " + " | ".join(cells) + " |"


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the weeks asked for."""
    parser = argparse.ArgumentParser(description="Measure the roll engine on invented weeks of beds.")
    parser.add_argument("--weeks", type=int, default=20, help="how many weeks")
    parser.add_argument("--first", type=int, default=0, help="number of the first week")
    parser.add_argument("--times", type=int, default=1, help="every quantity so many times")
    parser.add_argument("--stages", choices=STAGES, nargs="+", default=["2", "3", "free"])
    parser.add_argument("--budget", type=float, default=10.0, help="seconds per week; 0: no limit")
    parser.add_argument("--effort", type=float, help="work per week, the same on every machine")
    parser.add_argument("--seed", type=int, default=0, help="start of the pseudo-random search")
    parser.add_argument("--each", action="store_true", help="print a line for each week too")
    options = parser.parse_args(arguments)
    for stages in STAGES.values():  # compile the kernels, so that no measured week pays for it
        solve(replace(week(0), stages=stages), time_limit=None, effort=20)
    print(HEAD, flush=True)
    for name in options.stages:
        outcomes = []
        for number in range(options.first, options.first + options.weeks):
            problem = replace(week(number, options.times), stages=STAGES[name])
            outcomes.append(run(problem, options.budget or None, options.effort, options.seed))
            if options.each:
                last = outcomes[-1]
                print(
                    f"    week {number}: {last.value / 1000:.2f} m (bound {last.bound / 1000:.2f} m, gap "
                    f"{100 * last.gap:.2f} %, {last.seconds:.1f} s; {len(problem.pieces)} sizes, width "
                    f"{problem.width:g} mm, markers {problem.max_marker_length}, "
                    f"rows {last.rows / 1000:.2f} m)",
                    flush=True,
                )
        print(row(name, outcomes), flush=True)


if __name__ == "__main__":
    main()
