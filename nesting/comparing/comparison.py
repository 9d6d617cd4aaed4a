"""From a request to a comparison: cases in all variants, alone and in a mix, curves and breakpoints."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import PurePath

from nesting import __version__
from nesting.catalogue import Range
from nesting.comparing.breakpoints import find_breakpoints
from nesting.comparing.lab import Lab, demands_of
from nesting.comparing.levers import side_places
from nesting.comparing.request import Request
from nesting.comparing.results import Case, Comparison, Curve, InMix, Outcome, Row, Unit
from nesting.comparing.sides import Sides, average, differ, together
from nesting.comparing.sums import falls
from nesting.comparing.variants import AXES, price_rule, resized, room, size_of
from nesting.measures import shown_for
from nesting.model import Material, RollMaterial

__all__ = ["compare"]

QUICK = 0.2
"""Share of the effort with which steps are looked for; they are then planned with all of it."""

MIX_EFFORT = 3.0
"""A mix has many more pieces than a single case, and gets so many times its effort."""

WHOLE_STOCK = 300
"""Sheets and blocks are opened whole: so many of them, so that the last one counts for less than a step."""

MOST_BEDS = 20_000
MOST_SINGLE = 12
"""Most cases that are planned apart when looking for breakpoints; more are planned together."""
MOST_CURVES = 6
ALL = "All, as counted"


def compare(
    range_: Range,
    request: Request,
    *,
    effort: float = 20.0,
    seed: int = 0,
    workers: int = 1,
    planned: Callable[[int], None] | None = None,
    today: datetime.date | None = None,
) -> Comparison:
    """Plan every case in every variant, and look for the steps between.

    Parameters
    ----------
    effort
        Work per plan, in millions of steps; a mix gets three times as much.
    planned
        Called after each plan with how many were made.
    today
        Date printed; None for today's.

    Returns
    -------
    Comparison
        Every plan in it was verified. KeyboardInterrupt ends all searches and is passed on.
    """
    lab = Lab(request.material, seed=seed, workers=workers, planned=planned)
    sides = Sides()
    with shown_for(range_.workshop):
        return _Work(range_, request, lab, sides, effort).comparison(today or datetime.date.today())


class _Work:
    """One comparison in the making."""

    def __init__(self, range_: Range, request: Request, lab: Lab, sides: Sides, effort: float) -> None:
        self.range, self.request, self.lab, self.sides, self.effort = range_, request, lab, sides, effort
        self.material: Material = range_.materials[request.material]
        self.ranges = [range_.with_material(variant.material) for variant in request.variants]
        self.single = {case: self._single(case) for case in request.cases}
        self.times = 1 if request.mix is None else self._times(request.mix)
        self.mix = None if request.mix is None else _times_over(request.mix, self.times)

    def comparison(self, today: datetime.date) -> Comparison:
        request = self.request
        whole, shares = self._whole()
        alone = self._alone(self.single.values())
        # The curves come first: what they find on other widths tightens the figures of the table.
        axis = AXES[self.material.kind][-1]
        span = request.span(axis)
        chosen = self._drawn(alone)
        curve_units = {unit: None for _, unit in whole} if len(whole) <= MOST_SINGLE else {}
        curve_units |= dict.fromkeys(self.single[case] for case in chosen)
        steps = dict(
            zip(curve_units, self.lab.each(lambda u: self._steps(u, axis, span), curve_units), strict=True)
        )
        mixed_units = self._mixed_units()
        mixed = self._alone(dict.fromkeys(unit for pair in mixed_units.values() for unit in pair))
        if self.mix is not None:
            mixed |= self._alone([self.mix])
        breakpoints = find_breakpoints(
            self.range,
            request,
            whole,
            self.lab,
            self.sides,
            quick=lambda unit: self._effort(unit) * QUICK,
            full=self._effort,
        )
        self.sides.settle()
        outcomes = {
            unit: tuple(self.sides.best(unit, one) for one in found)
            for unit, found in (alone | mixed).items()
        }
        rows = tuple(self._row(case, outcomes, mixed_units) for case in request.cases)
        totals = tuple(self._total(whole, outcomes, place) for place in range(len(request.variants)))
        curves = tuple(
            Curve(
                self._name(unit),
                tuple((at, self.sides.best(unit, one)) for at, one in steps[unit]),
                unit is self.mix,
            )
            for unit in curve_units
            if unit is self.mix or any(self.single[case] is unit for case in chosen)
        )
        if 1 < len(whole) <= MOST_SINGLE:
            parts = [
                (share, tuple((at, self.sides.best(u, one)) for at, one in steps[u])) for share, u in whole
            ]
            curves = (*curves, Curve(ALL, together(parts), whole=True))
        return Comparison(
            range_name=self.range.name,
            currency=self.range.currency,
            material=self.material,
            orders=PurePath(request.orders).name,
            mix_times=self.times,
            variants=request.variants,
            rows=rows,
            whole=totals,
            shares=shares,
            axis=axis,
            span=span,
            curves=curves,
            breakpoints=breakpoints,
            volume=request.volume,
            made=today.isoformat(),
            version=__version__,
            assumptions=self._assumptions(shares),
            beds_alone={f"{case.model}/{case.size}": unit.count for case, unit in self.single.items()},
            workshop=self.range.workshop,
        )

    # -- what is planned together -------------------------------------------------------------------

    def _single(self, case: Case) -> Unit:
        """So many equal beds that the last, part-used stock hardly counts."""
        one = Unit(case.name, ((case.model, case.size, 1),))
        count = self.request.beds
        if not isinstance(self.material, RollMaterial):
            stock = WHOLE_STOCK * self._usable() / max(self._pieces(one), 1e-9)
            count = max(count, min(MOST_BEDS, math.ceil(stock / 20.0) * 20))
        return _times_over(one, count)

    def _times(self, mix: Unit) -> int:
        if isinstance(self.material, RollMaterial):
            return 1
        needed = WHOLE_STOCK * self._usable() / max(self._pieces(mix), 1e-9)
        return max(1, min(math.ceil(needed), math.ceil(20 * MOST_BEDS / mix.count)))

    def _usable(self) -> float:
        """Most usable area or volume of a variant, m2 or m3."""
        axes = AXES[self.material.kind]
        return max(
            math.prod(room(variant.material, axis) / 1e3 for axis in axes)
            for variant in self.request.variants
        )

    def _pieces(self, unit: Unit) -> float:
        demands = demands_of(self.range, unit, self.request.material)
        solid = self.material.kind == "block"
        return sum((d.panel.volume if solid else d.panel.area) * d.quantity for d in demands)

    def _whole(self) -> tuple[list[tuple[float, Unit]], str]:
        """All beds that count, with their shares, and words for it."""
        if self.mix is not None:
            name = PurePath(self.request.orders).name
            return [(1.0, self.mix)], f"the beds of {name} in their numbers, planned together"
        units = list(self.single.values())
        if len(units) == 1:
            return [(1.0, units[0])], units[0].name
        if len(units) <= MOST_SINGLE:
            share = 1.0 / len(units)
            return [(share, unit) for unit in units], f"all {len(units)} in equal numbers, each planned alone"
        beds = tuple((model, size, 4) for unit in units for model, size, _ in unit.beds)
        together = Unit("All together", beds)
        if not isinstance(self.material, RollMaterial):
            together = _times_over(together, self._times(together))
        return [(1.0, together)], f"all {len(units)} in equal numbers, planned together"

    def _mixed_units(self) -> dict[Case, tuple[Unit, Unit]]:
        """For each case the mix with it and without it; one that is not in the mix is added to it."""
        if self.mix is None:
            return {}
        found = {}
        for case in self.request.cases:
            others = tuple(bed for bed in self.mix.beds if bed[:2] != (case.model, case.size))
            if len(others) == len(self.mix.beds):
                added = (case.model, case.size, self.request.beds * self.times)
                found[case] = (Unit(f"The mix and {case.name}", (*others, added)), self.mix)
            elif others:
                found[case] = (self.mix, Unit(f"The mix without {case.name}", others))
        return found

    def _effort(self, unit: Unit) -> float:
        return self.effort * (MIX_EFFORT if len(unit.beds) > 1 else 1.0)

    # -- planning -----------------------------------------------------------------------------------

    def _alone(self, units: Iterable[Unit]) -> dict[Unit, tuple[Outcome, ...]]:
        """Every unit in every variant."""
        wanted: list[Unit] = list(units)
        jobs = [(unit, changed) for unit in wanted for changed in self.ranges]
        made = self.lab.each(lambda job: self.lab.outcome(job[1], job[0], self._effort(job[0])), jobs)
        for (unit, _), outcome in zip(jobs, made, strict=True):
            self.sides.add(unit, outcome)
        count = len(self.ranges)
        return {unit: tuple(made[at * count : (at + 1) * count]) for at, unit in enumerate(wanted)}

    def _steps(self, unit: Unit, axis: str, span: tuple[float, float]) -> list[tuple[float, Outcome]]:
        """Where over one side of the material a unit's plan changes, planned there with all effort."""
        demands = demands_of(self.range, unit, self.request.material)
        places = side_places(self.material, axis, demands, *span)
        quick = self._effort(unit) * QUICK
        at = [
            places[0],
            *falls(places, lambda place: self.lab.outcome(self._at(axis, place), unit, quick), differ),
        ]
        steps = [(place, self.lab.outcome(self._at(axis, place), unit, self._effort(unit))) for place in at]
        for _, outcome in steps:
            self.sides.add(unit, outcome)
        return steps

    def _at(self, axis: str, place: float) -> Range:
        present = dict(zip(AXES[self.material.kind], size_of(self.material), strict=True))
        return self.range.with_material(resized(self.material, **{**present, axis: place}))

    def _drawn(self, alone: Mapping[Unit, Sequence[Outcome]]) -> list[Case]:
        """Cases that get a curve: those whose waste differs most over the variants."""

        def spread(case: Case) -> float:
            wastes = [one.waste for one in alone[self.single[case]] if one.fits]
            return max(wastes) - min(wastes) if wastes else -1.0

        most = MOST_CURVES - (self.mix is not None)
        best = sorted(self.request.cases, key=spread, reverse=True)[:most]
        return [case for case in self.request.cases if case in best]

    # -- adding up ----------------------------------------------------------------------------------

    def _row(
        self,
        case: Case,
        outcomes: Mapping[Unit, Sequence[Outcome]],
        mixed_units: Mapping[Case, tuple[Unit, Unit]],
    ) -> Row:
        alone = tuple(outcomes[self.single[case]])
        if case not in mixed_units:
            return Row(case, alone, (None,) * len(alone))
        more, fewer = mixed_units[case]
        beds = more.count - fewer.count
        area = self._pieces(Unit("", ((case.model, case.size, beds),)))
        pairs = zip(outcomes[more], outcomes[fewer], strict=True)
        return Row(case, alone, tuple(_added(one, other, beds, area) for one, other in pairs))

    def _total(
        self,
        whole: Sequence[tuple[float, Unit]],
        outcomes: dict[Unit, tuple[Outcome, ...]],
        place: int,
    ) -> tuple[float, float, float] | None:
        found = []
        for share, unit in whole:
            if unit not in outcomes:
                outcomes[unit] = self._alone([unit])[unit]
            found.append((share, outcomes[unit][place]))
        return average(found)

    def _name(self, unit: Unit) -> str:
        return "The mix" if unit is self.mix else unit.name

    def _assumptions(self, shares: str) -> tuple[str, ...]:
        request, kind = self.request, self.material.kind
        counts = sorted({unit.count for unit in self.single.values()})
        many = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
        found = [f"Alone: {many} equal beds of one size planned together, figures per bed."]
        if kind != "roll":
            found[0] += f" So many, because each {kind} is opened whole."
        if self.mix is not None:
            times = f", {self.times} times over" if self.times > 1 else ""
            found.append(
                f"In the mix: all beds of {PurePath(request.orders).name}{times}, planned with this size and "
                "without it; the difference, per bed of it. The figure after ± is what the two plans leave "
                "unproven. A size that is not in the order book is added to it."
            )
        found.append(price_rule(request.variants))
        found.append(
            f"Savings a year: {request.volume:,} beds, {shares}. Losses at the edges, ends of plies and "
            "processes are those of the range file."
        )
        return tuple(found)


def _times_over(unit: Unit, times: int) -> Unit:
    return Unit(unit.name, tuple((model, size, count * times) for model, size, count in unit.beds))


def _added(more: Outcome, fewer: Outcome, beds: int, area: float) -> InMix | None:
    if not (more.fits and fewer.fits) or beds <= 0:
        return None
    stock = more.stock - fewer.stock
    price = more.price / beds
    return InMix(
        cost=stock * price,
        low=max(0.0, more.least - fewer.stock) * price,
        high=(more.stock - fewer.least) * price,
        amount=stock * more.measure / beds,
        waste=1.0 - area / (stock * more.each) if stock > 0 else -math.inf,
    )
