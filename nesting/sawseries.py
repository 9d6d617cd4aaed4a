"""Cuts of a saw plan that are listed in one line: at equal distances, each freeing the same.

Nothing is lost: the cuts can be made again from the lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.handout import Handed, orders_text
from nesting.sawcuts import Freed, SawCut, SawPlan

__all__ = ["SawSeries", "saw_series"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawSeries:
    """One cut, or several of one run.

    Parameters
    ----------
    first
        The first of them; what it frees, each of them frees. Of what is handed to orders it tells what all
        of them together give.
    count
        How many there are.
    step
        From each measure to the next, mm; 0 where there is one.
    beyond
        What the last of them frees as well, beyond the blade.
    """

    first: SawCut
    count: int = 1
    step: float = 0.0
    beyond: tuple[Freed, ...] = ()

    @property
    def last_number(self) -> int:
        """Number of the last cut."""
        return self.first.number + self.count - 1

    @property
    def last_measure(self) -> float:
        """Measure of the last cut, mm."""
        return self._measure(self.count - 1)

    def cuts(self) -> Iterator[SawCut]:
        """The cuts one by one."""
        for place in range(self.count):
            frees = self.first.frees + (self.beyond if place + 1 == self.count else ())
            measure = self._measure(place)
            yield replace(self.first, number=self.first.number + place, measure=measure, frees=frees)

    def _measure(self, place: int) -> float:
        return round(self.first.measure + place * self.step, 4)


def saw_series(plan: SawPlan, *, joined: bool = True) -> tuple[SawSeries, ...]:
    """The cuts of a plan in the order of work, as few lines as tell them all; else one for each."""
    lines: list[SawSeries] = []
    handed: list[tuple[Handed, ...]] = []
    for cut in plan.cuts:
        near = tuple(freed for freed in cut.frees if freed.side == "near")
        beyond = tuple(freed for freed in cut.frees if freed.side == "far")
        if joined and lines and near and (step := _step(lines[-1], cut, near)) is not None:
            last = lines[-1]
            handed[-1] += near[0].handed
            first = last.first
            if handed[-1]:
                freed = replace(near[0], handed=handed[-1], goes_to=orders_text(handed[-1]))
                first = replace(first, frees=(freed,))
            lines[-1] = SawSeries(first=first, count=last.count + 1, step=step, beyond=beyond)
            continue
        lines.append(SawSeries(first=replace(cut, frees=near), beyond=beyond))
        handed.append(near[0].handed if near else ())
    return tuple(lines)


def _step(line: SawSeries, cut: SawCut, near: tuple[Freed, ...]) -> float | None:
    """The step with which a cut goes on in a line; None when it begins another one."""
    first = line.first
    same = (first.machine, first.part, first.copies, first.axis, first.face)
    if line.beyond or cut.axis is None or same != (cut.machine, cut.part, cut.copies, cut.axis, cut.face):
        return None
    if [_bare(freed) for freed in first.frees] != [_bare(freed) for freed in near]:
        return None
    step = round((cut.measure - first.measure) / line.count, 4)
    grown = replace(line, count=line.count + 1, step=step)
    exact = grown.last_measure == cut.measure
    return step if exact and (line.count == 1 or step == line.step) else None


def _bare(freed: Freed) -> Freed:
    """Without the orders that it goes to: which of several pieces that are alike is whose does not matter."""
    return replace(freed, handed=(), goes_to="") if freed.handed else freed
