"""Small changes that let another combination of pieces fit: found by arithmetic, confirmed by planning."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from nesting.catalogue import Range
from nesting.comparing.lab import Lab, demands_of
from nesting.comparing.levers import Lever, allowance_levers, stock_levers
from nesting.comparing.request import Request
from nesting.comparing.results import Breakpoint, Fitting, Outcome, Unit
from nesting.comparing.side_by_side import newly_fitting
from nesting.comparing.sides import LIKE, Sides, average, differ
from nesting.comparing.sums import falls

__all__ = ["find_breakpoints"]

MOST_CONFIRMED = 10
"""Most candidates that are planned on both sides with all effort."""

MOST_EACH = 4
"""Most candidates of one side or allowance: many neighbours would crowd out the others."""

Whole = Sequence[tuple[float, Unit]]


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A place at which something new fits, the place just short of it, and what they seem to cost."""

    lever: Lever
    short: float
    at: float
    saving: float


def find_breakpoints(
    range_: Range,
    request: Request,
    whole: Whole,
    lab: Lab,
    sides: Sides,
    *,
    quick: Callable[[Unit], float],
    full: Callable[[Unit], float],
) -> tuple[Breakpoint, ...]:
    """Breakpoints near the present values, the greatest saving first.

    Where the sums of what pieces measure side by side pass the room there is, a first quick plan on both
    sides tells whether the step is worth anything; the best are planned with all effort.

    Parameters
    ----------
    whole
        The beds that count, with their shares.
    lab, sides
        Where it is planned, and where plans on rolls are kept.
    quick, full
        Effort for a unit, to look and to confirm.
    """
    units = [unit for _, unit in whole]
    levers = [
        *stock_levers(range_, request.material, request.span),
        *allowance_levers(range_, request.material, units, request.allowance_within),
    ]
    tasks = [(lever, unit) for lever in levers for unit in units]

    def look(task: tuple[Lever, Unit]) -> list[float]:
        lever, unit = task
        return falls(
            lever.places(unit), lambda value: lab.outcome(lever.changed(value), unit, quick(unit)), differ
        )

    places: dict[int, set[float]] = {}
    for (lever, _), found in zip(tasks, lab.each(look, tasks), strict=True):
        places.setdefault(levers.index(lever), set()).update(found)
    pairs = [(levers[number], value) for number, values in places.items() for value in sorted(values)]
    now = _average(range_, whole, lab, quick)

    def weigh(pair: tuple[Lever, float]) -> _Candidate | None:
        lever, at = pair
        short = round(at - lever.step, 4)
        here, there = (_average(lever.changed(value), whole, lab, quick) for value in (at, short))
        if here is None or now is None or here[0] >= now[0]:
            return None
        if there is not None and there[0] - here[0] <= LIKE * here[0] / 2:
            return None
        return _Candidate(lever, short, at, now[0] - here[0])

    candidates = [found for found in lab.each(weigh, pairs) if found is not None]
    candidates.sort(key=lambda candidate: -candidate.saving)
    taken: Counter[str] = Counter()
    best: list[_Candidate] = []
    for candidate in candidates:
        taken[candidate.lever.name] += 1
        if taken[candidate.lever.name] <= MOST_EACH and len(best) < MOST_CONFIRMED:
            best.append(candidate)
    plan = _Plans(range_, whole, lab, sides, full)
    plan.prepare(best)
    confirmed = [plan.confirmed(candidate, request) for candidate in best]
    return tuple(sorted((one for one in confirmed if one is not None), key=lambda one: -one.saving))


def _average(
    range_: Range, whole: Whole, lab: Lab, effort: Callable[[Unit], float]
) -> tuple[float, float, float] | None:
    return average([(share, lab.outcome(range_, unit, effort(unit))) for share, unit in whole])


class _Plans:
    """Plans with all effort: now, and on both sides of each candidate."""

    def __init__(
        self, range_: Range, whole: Whole, lab: Lab, sides: Sides, effort: Callable[[Unit], float]
    ) -> None:
        self.range, self.whole, self.lab, self.sides, self.effort = range_, whole, lab, sides, effort

    def prepare(self, candidates: Sequence[_Candidate]) -> None:
        """Plan everything, several side by side, and let plans on rolls tighten each other."""
        ranges = [self.range]
        for candidate in candidates:
            ranges += [candidate.lever.changed(value) for value in (candidate.short, candidate.at)]
        jobs = [(changed, unit) for changed in ranges for _, unit in self.whole]

        def work(job: tuple[Range, Unit]) -> Outcome:
            return self.lab.outcome(job[0], job[1], self.effort(job[1]))

        for (_, unit), outcome in zip(jobs, self.lab.each(work, jobs), strict=True):
            self.sides.add(unit, outcome)
        self.sides.settle()

    def outcomes(self, range_: Range) -> list[tuple[float, Outcome]]:
        """Every unit as it is known by now."""
        return [
            (share, self.sides.best(unit, self.lab.outcome(range_, unit, self.effort(unit))))
            for share, unit in self.whole
        ]

    def confirmed(self, candidate: _Candidate, request: Request) -> Breakpoint | None:
        """The breakpoint, where both plans show it; None where it came to nothing."""
        lever = candidate.lever
        now = self.outcomes(self.range)
        short, at = (self.outcomes(lever.changed(value)) for value in (candidate.short, candidate.at))
        if lever.kind == "allowance":
            # A plan for larger pieces holds the smaller ones as well.
            short = [
                (share, _no_worse(one, before)) for (share, one), (_, before) in zip(short, now, strict=True)
            ]
            at = [
                (share, _no_worse(one, before)) for (share, one), (_, before) in zip(at, short, strict=True)
            ]
        figures = [average(found) for found in (now, short, at)]
        if figures[0] is None or figures[2] is None:
            return None
        cost_now, least_now, waste_now = figures[0]
        cost_at, _, waste_at = figures[2]
        cost_short, least_short, _ = figures[1] or (float("inf"), float("inf"), 1.0)
        if cost_now - cost_at <= 1e-9 or cost_short - cost_at <= LIKE * cost_at / 2:
            return None
        return Breakpoint(
            name=lever.name,
            kind=lever.kind,
            now=lever.now,
            short=candidate.short,
            at=candidate.at,
            cost_now=cost_now,
            cost_short=cost_short,
            cost_at=cost_at,
            least_now=least_now,
            least_short=least_short,
            waste_now=waste_now,
            waste_at=waste_at,
            volume=request.volume,
            fitting=self._fitting(candidate, short, at),
        )

    def _fitting(
        self,
        candidate: _Candidate,
        short: Sequence[tuple[float, Outcome]],
        at: Sequence[tuple[float, Outcome]],
    ) -> Fitting | None:
        """What fits now, in the unit that gains most."""
        tight = candidate.lever.changed(candidate.short)
        key = self.lab.material
        gains = sorted(
            zip(self.whole, short, at, strict=True),
            key=lambda item: item[0][0] * (item[2][1].cost - item[1][1].cost if item[1][1].fits else -1e9),
        )
        for (_, unit), _, (_, after) in gains:
            before = {demand.key: demand.panel for demand in demands_of(tight, unit, key)}
            found = newly_fitting(after, before, tight.materials[key])
            if found is not None:
                return found
        return None


def _no_worse(one: Outcome, before: Outcome) -> Outcome:
    if not before.fits or not one.fits or one.stock <= before.stock:
        return one
    return replace(one, stock=before.stock, layouts=before.layouts)
