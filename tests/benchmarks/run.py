"""Measure the packing core on published sets: ``python tests/benchmarks/run.py strip/hopper_turton_c``.

The sets are read from the folder that the environment variable NESTING_BENCH names (by default
``../shared/bench`` beside the repository). Every answer is verified before it counts. One markdown
table row is printed per set; `RESULTS.md` beside this file says what the columns mean and keeps the
figures of each version.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean
from time import perf_counter
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from nesting.packing import (  # noqa: E402  (the path must be set first)
    Bar,
    Block,
    BlockProblem,
    LinearProblem,
    Piece,
    Problem,
    RollProblem,
    Sheet,
    SheetProblem,
    Status,
    solve,
    verify,
)
from nesting.packing.problem import Skins, Stages  # noqa: E402

FOLDER = Path(os.environ.get("NESTING_BENCH", ROOT.parent / "shared" / "bench"))

TURNS = {"fixed": (0.0,), "right-angles": (0.0, 90.0)}
STAGES: dict[str, Stages] = {"free": None, "2": 2, "3": 3, "any": "any"}

TOLERANCE = 1e-6
"""Two values closer than this are the same (lengths in mm, costs in pieces of stock)."""


@dataclass(frozen=True, slots=True)
class Case:
    """One instance: a problem, the best value or bound known for it, and whether that is the optimum."""

    name: str
    problem: Problem
    reference: float
    optimum: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the core made of a case.

    `listed` is the best value or bound that the set knows, `reference` the better of that and our bound.
    """

    name: str
    value: float
    listed: float
    reference: float
    optimal: bool
    seconds: float

    @property
    def gap(self) -> float:
        """How far the value lies above the reference, as a share of the reference."""
        return self.value / self.reference - 1.0


def cases(name: str, turns: str, stages: str | None) -> list[Case]:
    """The cases of a set; instance units are read as millimetres.

    Parameters
    ----------
    name
        ``"strip/..."``, ``"sheet/..."`` or ``"stock1d/..."`` for a file of the folder, or ``"foam"``.
    turns
        ``"fixed"`` or ``"right-angles"``.
    stages
        A key of `STAGES`; None: free on rolls and sheets.

    Raises
    ------
    SystemExit
        When there is no such file.
    """
    if name == "foam":
        return foam_cases()
    path = FOLDER / f"{name}.json"
    if not path.is_file():
        raise SystemExit(f"{path} does not exist. Set NESTING_BENCH to the folder that holds the sets.")
    instances = json.loads(path.read_text(encoding="utf-8"))["instances"]
    make = {"strip": strip_case, "sheet": sheet_case, "stock1d": bar_case}[name.split("/", maxsplit=1)[0]]
    return [make(instance, turns, STAGES[stages or "free"]) for instance in instances]


def _rectangles(items: Sequence[Sequence[int]], turns: str) -> tuple[Piece, ...]:
    # The sets give width across the strip first; here x, the length, runs along it.
    return tuple(
        Piece.rectangle(f"P{number}", length=high, width=wide, quantity=quantity, turns=TURNS[turns])
        for number, (wide, high, quantity) in enumerate(items)
    )


def strip_case(instance: dict[str, Any], turns: str, stages: Stages) -> Case:
    """An open strip of fixed width, to be as short as possible."""
    bound = instance["lower_bound" if turns == "fixed" else "lower_bound_rotation"]
    optimum = instance["optimal_height"]
    problem = RollProblem(instance["strip_width"], _rectangles(instance["items"], turns), stages=stages)
    return Case(instance["name"], problem, optimum or bound, optimum is not None)


def sheet_case(instance: dict[str, Any], turns: str, stages: Stages) -> Case:
    """Identical sheets, as few as possible."""
    wide, high = instance["sheet"]
    bound = instance["lower_bound_fixed" if turns == "fixed" else "lower_bound_rotation"]
    problem = SheetProblem(
        (Sheet("sheet", length=high, width=wide),), _rectangles(instance["items"], turns), stages=stages
    )
    return Case(instance["name"], problem, bound, False)


def bar_case(instance: dict[str, Any], turns: str, stages: Stages) -> Case:
    """Identical bars, as few as possible."""
    del turns, stages
    pieces = tuple(
        Piece.linear(f"P{number}", length, quantity)
        for number, (length, quantity) in enumerate(instance["items"])
    )
    problem = LinearProblem((Bar("bar", instance["capacity"]),), pieces)
    optimum = instance["optimal"]
    return Case(instance["name"], problem, optimum or instance["lower_bound"], optimum is not None)


def foam_cases() -> list[Case]:
    """Invented order books of cores, toppers and rails for one block size, small to large.

    The reference is the bound of volume, computed here anew.
    """
    block = Block("block", length=2100, width=2060, height=1080)
    skins = Skins(15, 15, 20, 20, 20, 35)
    room = (2100 - 30) * (2060 - 40) * (1080 - 55)
    made = []
    for times in (1, 10, 100):
        slabs = (
            Piece.slab("single core", 1910, 910, 100, 12 * times),
            Piece.slab("double core", 1910, 1360, 100, 9 * times),
            Piece.slab("king core", 2010, 1510, 120, 7 * times),
            Piece.slab("single topper", 1910, 910, 40, 15 * times),
            Piece.slab("double topper", 1910, 1360, 40, 11 * times),
            Piece.slab("long rail", 1910, 90, 180, 22 * times),
            Piece.slab("short rail", 730, 90, 180, 22 * times),
        )
        problem = BlockProblem((block,), slabs, kerf=0.5, trim=skins)
        volume = sum(slab.area * (slab.thickness or 0.0) * slab.quantity for slab in slabs)
        made.append(Case(f"foam x {times}", problem, float(-(-volume // room)), False))
    return made


def run(case: Case, budget: float | None, effort: float | None, seed: int) -> Outcome:
    """Solve a case, verify the answer, and compare.

    Raises
    ------
    LayoutError
        When the answer breaks a rule.
    SystemExit
        When pieces are missing, or when the value lies below a known optimum: then the set is misread.
    """
    started = perf_counter()
    answer = solve(case.problem, time_limit=budget, effort=effort, seed=seed)
    seconds = perf_counter() - started
    verify(case.problem, answer)
    if answer.missing:
        raise SystemExit(f"{case.name}: pieces are missing: {dict(answer.missing)}")
    if answer.value < case.reference - TOLERANCE:
        raise SystemExit(f"{case.name}: {answer.value} is below the reference {case.reference}")
    reference = case.reference if case.optimum else max(case.reference, answer.bound)
    optimal = answer.status is Status.OPTIMAL or answer.value <= reference + TOLERANCE
    return Outcome(case.name, answer.value, case.reference, reference, optimal, seconds)


def warm_up() -> None:
    """Compile the kernels, so that no measured case pays for it."""
    pieces = (Piece.rectangle("a", 3, 2, 3), Piece.rectangle("b", 5, 1, 2))
    for stages in STAGES.values():
        solve(RollProblem(5, pieces, stages=stages, max_marker_length=8), time_limit=None, effort=1)
        solve(SheetProblem((Sheet("s", 5, 5),), pieces, stages=stages), time_limit=None, effort=1)
    slabs = (Piece.slab("a", 3, 2, 1, 3), Piece.slab("b", 2, 2, 2, 2))
    solve(BlockProblem((Block("k", 5, 5, 5),), slabs), time_limit=None, effort=1)


def row(title: str, outcomes: Sequence[Outcome]) -> str:
    """One line of the markdown table."""
    gaps = [outcome.gap for outcome in outcomes]
    total = sum(outcome.value for outcome in outcomes) / sum(outcome.listed for outcome in outcomes) - 1
    cells = [
        title,
        str(len(outcomes)),
        f"{100 * total:.2f}",
        f"{100 * fmean(gaps):.2f}",
        f"{100 * max(gaps):.2f}",
        f"{fmean(outcome.seconds for outcome in outcomes):.1f}",
        str(sum(outcome.optimal for outcome in outcomes)),
    ]
    return "| " + " | ".join(cells) + " |"


HEAD = (
    "| set | instances | total over listed % | mean gap % | worst gap % | mean s | proven optimal |\n"
    "|---|---|---|---|---|---|---|"
)


def _outcomes(chosen: Sequence[Case], options: argparse.Namespace) -> Iterator[Outcome]:
    for case in chosen:
        outcome = run(case, options.budget or None, options.effort, options.seed)
        if options.each:
            print(
                f"    {outcome.name}: {outcome.value:g} (reference {outcome.reference:g}, "
                f"gap {100 * outcome.gap:.2f} %, {outcome.seconds:.1f} s)",
                flush=True,
            )
        yield outcome


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the sets named on the command line."""
    parser = argparse.ArgumentParser(description="Measure the packing core on published sets.")
    parser.add_argument("sets", nargs="+", metavar="SET", help="strip/..., sheet/..., stock1d/... or foam")
    parser.add_argument("--budget", type=float, default=10.0, help="seconds per instance; 0: no limit")
    parser.add_argument("--effort", type=float, help="work per instance, the same on every machine")
    parser.add_argument("--every", type=int, default=1, metavar="K", help="take each K-th instance")
    parser.add_argument("--turns", choices=TURNS, default="fixed", help="turns of rectangles")
    parser.add_argument("--stages", choices=STAGES, help="edge-to-edge cuts; default: free")
    parser.add_argument("--seed", type=int, default=0, help="start of the pseudo-random search")
    parser.add_argument("--each", action="store_true", help="print a line for each instance too")
    options = parser.parse_args(arguments)
    warm_up()
    print(HEAD, flush=True)
    for name in options.sets:
        chosen = cases(name, options.turns, options.stages)[:: options.every]
        title = name + ("" if options.stages is None else f", stages {options.stages}")
        if options.turns != "fixed":
            title += f", turns {options.turns}"
        print(row(title, list(_outcomes(chosen, options))), flush=True)


if __name__ == "__main__":
    main()
