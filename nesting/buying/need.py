"""What each week takes of a material: nested for the first weeks, by the yield measured there for later ones.

Rolls count in metres taken, sheets and blocks in whole ones opened. Where foam is bought in several sizes it
counts in blocks of the first one, by volume; of long blocks what is taken counts. What each bed takes of a
yet unplanned week is its piece area (or volume) times what the planned weeks took for each m2 (m3) of pieces.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.blocks import SHELF
from nesting.buying.demand import Outlook, WeekLine
from nesting.buying.shelf import fits, is_stretch, usual_volume, worth_at_most
from nesting.catalogue import Range
from nesting.model import BlockMaterial, Demand, Loss, Material, MaterialPlan, RollMaterial, StockPiece
from nesting.orders import demand_by_material
from nesting.planning import Budget, Watch, plan_material
from nesting.reports.statistics import account

__all__ = ["Fit", "Need", "Saving", "WeekNeed", "need_of", "new_amount", "size_per_bed", "weekly_demands"]

MOST_RESTS = 30
"""Most rests of earlier weeks that a week's plan is offered: the largest ones."""


@dataclass(frozen=True, slots=True)
class WeekNeed:
    """What one week takes of a material.

    Parameters
    ----------
    week
        From 1.
    beds
        Beds made in the week that need it.
    pieces
        Area of the pieces, m2, or volume, m3.
    amount
        Metres of roll, sheets or blocks, all new.
    nested
        Whether it was planned; otherwise it follows from the fitted yield.
    gap
        Share of the plan that is not proven necessary; None where it is not planned.
    missing
        Pieces that cannot be cut.
    """

    week: int
    beds: int
    pieces: float
    amount: float
    nested: bool
    gap: float | None = None
    missing: int = 0


@dataclass(frozen=True, slots=True)
class Saving:
    """What rests save in a week: the amount of new material, and which pieces of the shelf are cut for it."""

    week: int
    amount: float
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fit:
    """Yield measured on planned weeks.

    Parameters
    ----------
    rate
        Metres, sheets or blocks for each m2 (m3) of pieces: sum of amounts over sum of pieces (the ratio
        estimator of survey sampling).
    least, most
        Of the single weeks.
    weeks
        How many different weeks it was measured on.
    """

    rate: float
    least: float
    most: float
    weeks: int


@dataclass(frozen=True, slots=True)
class Need:
    """What some weeks take of a material."""

    material: Material
    weeks: tuple[WeekNeed, ...]
    fit: Fit
    savings: tuple[Saving, ...]
    losses: tuple[Loss, ...]
    """Of the planned weeks together."""
    consumed: float
    """By the planned weeks together, m2 or m3."""
    kept: float
    """Rests worth keeping of the planned weeks together, m2 or m3."""
    pieces: float
    """In the planned weeks together, m2 or m3."""
    discounted: Mapping[str, str]
    """Rests on the shelf that are not counted, by id: why not."""


def weekly_demands(range_: Range, outlook: Outlook) -> dict[int, dict[str, tuple[Demand, ...]]]:
    """Demands by week and by key of the material."""
    return {
        week: demand_by_material(range_, lines)
        for week in outlook.weeks.numbers
        if (lines := outlook.order_lines(week))
    }


def size_per_bed(range_: Range, line: WeekLine, material: str) -> float:
    """Area (m2) or volume (m3) that the pieces of one bed have of a material."""
    solid = isinstance(range_.materials[material], BlockMaterial)
    return sum(
        (panel.volume if solid else panel.area) * panel.pieces / panel.per_slab
        for panel in range_.panels(line.model, line.size)
        if panel.material == material
    )


def new_amount(plan: MaterialPlan) -> float:
    """New material that a plan takes: metres of roll, whole sheets or blocks.

    The rest of the last roll stays on hand, unless it is too short to keep.
    """
    material = plan.material
    if isinstance(material, RollMaterial):
        taken = (
            use.used + (use.rest if use.rest < material.min_remnant else 0.0)
            for use in plan.stock
            if not use.piece
        )
        return sum(taken) / 1e3
    if isinstance(material, BlockMaterial):
        new = [layout for layout in plan.layouts if not layout.stock_key.startswith(SHELF)]
        opened = account(material, plan.demands, new, (), value=0.0, bound=0.0, shelf=plan.shelf)
        return opened.consumed / usual_volume(material)
    return float(plan.figures.stock_count - len(plan.shelf))


def need_of(
    range_: Range,
    key: str,
    demands: Mapping[int, Mapping[str, tuple[Demand, ...]]],
    outlook: Outlook,
    *,
    planned: int,
    budget: Budget,
    stop: threading.Event,
    shelf: Sequence[StockPiece] = (),
) -> Need | None:
    """Plan the first weeks of a material one after the other, and estimate the others.

    Parameters
    ----------
    planned
        How many weeks are nested, from the first on. A material that is only needed later is nested in the
        first week that needs it.
    shelf
        Rests that stand ready. Where a planned part fits one, the week is planned once more with it, and what
        that saves is told. Rests of sheets and blocks that a week leaves are there for the next one.

    Returns
    -------
    Need or None
        None when `stop` was set.
    """
    material = range_.materials[key]
    wanted = {week: found[key] for week, found in demands.items() if key in found}
    first = min(wanted)
    nested = [week for week in sorted(wanted) if week <= planned or week == first]
    made: dict[tuple[Demand, ...], MaterialPlan] = {}
    plans: dict[int, MaterialPlan] = {}
    savings: list[Saving] = []
    ready = list(shelf)
    for week in nested:
        alike = tuple(replace(demand, orders=()) for demand in wanted[week])
        if alike not in made:
            made[alike] = plan_material(material, wanted[week], budget, Watch(), stop)
        plan = plans[week] = made[alike]
        if stop.is_set():
            return None
        saving, used = _with_shelf(material, wanted[week], plan, ready, budget, stop, week)
        savings += [saving] if saving else []
        ready = [piece for piece in ready if piece.id not in used] + _rests(plan, week)
    figures = [plan.figures for plan in plans.values()]
    if stop.is_set():
        return None
    fit = _fit(plans.values(), len(made))
    weeks = tuple(_weeks(range_, key, outlook, wanted, plans, fit))
    causes = dict.fromkeys(loss.cause for figure in figures for loss in figure.losses)
    return Need(
        material=material,
        weeks=weeks,
        fit=fit,
        savings=tuple(savings),
        losses=tuple(
            Loss(cause, sum(loss.amount for item in figures for loss in item.losses if loss.cause == cause))
            for cause in causes
        ),
        consumed=sum(item.consumed for item in figures),
        kept=sum(item.remnants for item in figures),
        pieces=sum(item.pieces for item in figures),
        discounted=dict(_discounted(material, wanted, nested, shelf, savings)),
    )


def _with_shelf(
    material: Material,
    demands: tuple[Demand, ...],
    plan: MaterialPlan,
    ready: Sequence[StockPiece],
    budget: Budget,
    stop: threading.Event,
    week: int,
) -> tuple[Saving | None, set[str]]:
    """Plan a week with the rests that a part fits; tells what that saves and which pieces it takes."""
    usable = [piece for piece in ready if any(fits(material, demand.panel, piece) for demand in demands)]
    usable.sort(key=lambda piece: -piece.length * piece.width * (piece.height or 1.0))
    if not usable:
        return None, set()
    other = plan_material(material, demands, budget, Watch(), stop, usable[:MOST_RESTS])
    if sum(item.quantity for item in other.missing.values()) > sum(
        item.quantity for item in plan.missing.values()
    ):
        return None, set()
    saved = min(new_amount(plan) - new_amount(other), sum(worth_at_most(material, p) for p in other.shelf))
    if round(saved, 6) <= 0:
        return None, set()
    used = tuple(piece.id for piece in other.shelf)
    return Saving(week, saved, used), set(used)


def _rests(plan: MaterialPlan, week: int) -> list[StockPiece]:
    """Rests of sheets and blocks that a week leaves, for the next one; roll ends go on as the roll."""
    material = plan.material
    if isinstance(material, RollMaterial) or (isinstance(material, BlockMaterial) and material.cut_to):
        return []  # what is left of a long block is still on hand
    found = []
    for remnant in plan.remnants:
        for number in range(1, min(remnant.quantity, MOST_RESTS) + 1):
            id_ = (
                f"rest of week {week}: {remnant.source}, {remnant.length:.0f} x {remnant.width:.0f}, {number}"
            )
            found.append(
                StockPiece(
                    id=id_,
                    material=plan.material.key,
                    length=remnant.length,
                    width=remnant.width,
                    height=remnant.height,
                    remnant=True,
                )
            )
    return found


def _fit(plans: Collection[MaterialPlan], different: int) -> Fit:
    measured = [(new_amount(plan), plan.figures.pieces) for plan in plans if plan.figures.pieces > 0]
    if not measured:
        return Fit(0.0, 0.0, 0.0, 0)
    rates = [amount / pieces for amount, pieces in measured]
    rate = sum(amount for amount, _ in measured) / sum(pieces for _, pieces in measured)
    return Fit(rate, min(rates), max(rates), different)


def _weeks(
    range_: Range,
    key: str,
    outlook: Outlook,
    wanted: Mapping[int, tuple[Demand, ...]],
    plans: Mapping[int, MaterialPlan],
    fit: Fit,
) -> Iterator[WeekNeed]:
    for week in outlook.weeks.numbers:
        lines = [
            (line, size)
            for line in outlook.lines
            if line.week == week and line.beds and (size := size_per_bed(range_, line, key)) > 0
        ]
        beds = sum(line.beds for line, _ in lines)
        pieces = sum(line.beds * size for line, size in lines)
        plan = plans.get(week)
        if plan is not None:
            missing = sum(item.quantity for item in plan.missing.values())
            yield WeekNeed(week, beds, pieces, new_amount(plan), True, plan.figures.gap, missing)
        else:
            # A week without any need is known, not estimated.
            yield WeekNeed(week, beds, pieces, pieces * fit.rate, week not in wanted)


def _discounted(
    material: Material,
    wanted: Mapping[int, tuple[Demand, ...]],
    nested: Sequence[int],
    shelf: Sequence[StockPiece],
    savings: Sequence[Saving],
) -> Iterator[tuple[str, str]]:
    used = {piece for saving in savings for piece in saving.pieces}
    for piece in shelf:
        if piece.id in used:
            continue
        if any(fits(material, demand.panel, piece) for week in nested for demand in wanted[week]):
            yield piece.id, "a part fits it, but the plans save nothing with it"
        elif is_stretch(piece):
            yield piece.id, "no planned part fits between its flaws"
        else:
            yield piece.id, "no planned part fits it"
