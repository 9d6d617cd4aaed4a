"""What the benchmarks of invented weeks share: options, one measured week, and the rows of a table."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from nesting.packing import Problem, Status, solve, verify

__all__ = ["Outcome", "head", "options", "row", "run"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an engine made of a week: value, proven bound, what the plain practice takes; layouts cut."""

    value: float
    bound: float
    plain: float
    layouts: int
    seconds: float
    optimal: bool

    @property
    def gap(self) -> float:
        """How far the value lies above the proven bound, as a share of the bound."""
        return self.value / self.bound - 1.0


def options(description: str, budget: float) -> argparse.ArgumentParser:
    """The options that all weeks have."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--weeks", type=int, default=20, help="how many weeks")
    parser.add_argument("--first", type=int, default=0, help="number of the first week")
    parser.add_argument("--times", type=int, default=1, help="every quantity so many times")
    parser.add_argument("--budget", type=float, default=budget, help="seconds per week; 0: no limit")
    parser.add_argument("--effort", type=float, help="work per week, the same on every machine")
    parser.add_argument("--seed", type=int, default=0, help="start of the pseudo-random search")
    parser.add_argument("--each", action="store_true", help="print a line for each week too")
    return parser


def run(problem: Problem, plain: float, chosen: argparse.Namespace) -> Outcome:
    """Solve a week, verify the answer, and compare.

    Raises
    ------
    LayoutError
        When the answer breaks a rule.
    SystemExit
        When pieces are missing.
    """
    started = perf_counter()
    answer = solve(problem, time_limit=chosen.budget or None, effort=chosen.effort, seed=chosen.seed)
    seconds = perf_counter() - started
    verify(problem, answer)
    if answer.missing:
        raise SystemExit(f"pieces are missing: {dict(answer.missing)}")
    layouts = sum(layout.repeats for layout in answer.layouts)
    return Outcome(answer.value, answer.bound, plain, layouts, seconds, answer.status is Status.OPTIMAL)


def head(what: str, plain: str) -> str:
    """The head of the table; `what` stands over the titles of the rows, `plain` names the plain practice."""
    return (
        f"| {what} | weeks | mean gap % | worst gap % | mean s | worst s | proven optimal "
        f"| less than {plain} % |\n|---|---|---|---|---|---|---|---|"
    )


def row(title: str, outcomes: Sequence[Outcome]) -> str:
    """One line of the markdown table."""
    if not outcomes:
        return f"| {title} | 0 | | | | | | |"
    gaps = [outcome.gap for outcome in outcomes]
    saved = 1 - sum(outcome.value for outcome in outcomes) / sum(outcome.plain for outcome in outcomes)
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
