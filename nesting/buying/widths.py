"""Which roll widths (sheet or block sizes) to buy: the demand planned on each, and on sets of them."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import combinations

from nesting.buying.offers import Offer
from nesting.errors import NestingError
from nesting.model import BlockMaterial, BlockSize, Demand, RollMaterial, SheetMaterial
from nesting.packing import (
    Answer,
    Problem,
    RackProblem,
    Report,
    Roll,
    RollProblem,
    Sheet,
    SheetProblem,
    solve,
    verify,
)
from nesting.planning import Budget, Watch, plan_material
from nesting.reports.statistics import account
from nesting.requests import longest_marker, problem_for

__all__ = ["MOST_SETS", "Choice", "Comparison", "compare", "set_problem"]

MOST_SETS = 120
"""Most sets that are planned in one go."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A set of sizes and what the demand costs with it.

    Parameters
    ----------
    offers
        Names of the sizes one has.
    used
        Metres of roll, sheets or blocks of each that is really cut.
    cost
        Money for what is cut, and the least that any plan with these sizes could cost (proven).
    taken, pieces
        Material taken and size of the pieces, m2 or m3.
    missing
        Pieces that cannot be cut; such a choice is none.
    """

    offers: tuple[str, ...]
    used: Mapping[str, float]
    cost: float
    bound: float
    taken: float
    pieces: float
    missing: int

    @property
    def gap(self) -> float:
        """Share of the cost that is not proven necessary."""
        return (self.cost - self.bound) / self.cost if self.cost > 0 else 0.0

    @property
    def waste(self) -> float:
        """Share of the material taken that is in no piece."""
        return 1.0 - self.pieces / self.taken if self.taken > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Comparison:
    """All choices, the cheapest first, those that cannot cut everything last.

    Parameters
    ----------
    now
        What is bought now, for comparison; None where its price is not known.
    """

    choices: tuple[Choice, ...]
    now: Choice | None

    def best(self, count: int) -> Choice | None:
        """The cheapest choice of so many sizes; None when none can cut everything."""
        return next((item for item in self.choices if len(item.offers) == count and not item.missing), None)


def set_problem(offers: Sequence[Offer], demands: Sequence[Demand]) -> Problem:
    """The packing problem of one or several widths or sheet sizes; least is money, or mm of a single roll."""
    first = offers[0].material
    if isinstance(first, RollMaterial):
        problem = problem_for(first, demands)
        assert isinstance(problem, RollProblem)
        if len(offers) == 1:
            return problem
        rolls = []
        for offer in offers:
            assert isinstance(offer.material, RollMaterial)
            rolls.append(Roll(offer.name, offer.material.usable_width, cost=offer.rate))
        return RackProblem(
            rolls=tuple(rolls),
            pieces=problem.pieces,
            gap=problem.gap,
            stages=problem.stages,
            max_marker_length=longest_marker(first),
            end_loss=problem.end_loss,
        )
    problem = problem_for(first, demands)
    assert isinstance(problem, SheetProblem)
    sheets = []
    for offer in offers:
        assert isinstance(offer.material, SheetMaterial)
        sheets.append(Sheet(offer.name, offer.material.length, offer.material.width, offer.rate))
    return replace(problem, sheets=tuple(sheets))


def compare(
    offers: Sequence[Offer],
    demands: Sequence[Demand],
    *,
    sizes: int = 2,
    now: Offer | None = None,
    budget: Budget | None = None,
    told: Callable[[str, int, int], None] = lambda *_: None,
) -> Comparison:
    """Plan the whole demand on every set of up to `sizes` sizes.

    A set never costs more than the best of its parts: where the search finds nothing better for it, the plan
    of the part is taken.

    Parameters
    ----------
    now
        What is bought at present, planned for comparison; it may be of several sizes.
    told
        Called as sets are done: what, how many so far, of how many. From several threads.

    Raises
    ------
    NestingError
        When there would be more than `MOST_SETS` sets.
    KeyboardInterrupt
        When it was asked to stop.
    """
    budget = budget or Budget()
    sets = [
        chosen for count in range(1, min(sizes, len(offers)) + 1) for chosen in combinations(offers, count)
    ]
    if len(sets) > MOST_SETS:
        raise NestingError(
            f"{len(offers)} sizes make {len(sets)} sets of up to {sizes}; at most {MOST_SETS} are planned. "
            "Shorten the offer, or ask for smaller sets with --sets."
        )
    jobs: list[tuple[Offer, ...]] = [*sets]
    same = next((offer for offer in offers if now is not None and offer.material == now.material), None)
    if now is not None and same is None:
        jobs.append((now,))
    stop = threading.Event()
    done: list[str] = []

    def one(chosen: tuple[Offer, ...]) -> Choice | None:
        if stop.is_set():
            return None
        choice = _choice(chosen, demands, budget, stop)
        done.append(" + ".join(choice.offers))
        told(done[-1], len(done), len(jobs))
        return choice

    with ThreadPoolExecutor(max_workers=budget.workers) as pool:
        running = [pool.submit(one, chosen) for chosen in jobs]
        try:
            found = [future.result() for future in running]
        except BaseException:
            stop.set()
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    choices = [choice for choice in found if choice is not None]
    own = choices.pop() if now is not None and same is None else None
    settled: dict[tuple[str, ...], Choice] = {}
    for choice in choices:  # smaller sets come first
        parts = [
            settled[part]
            for count in range(1, len(choice.offers))
            for part in combinations(choice.offers, count)
        ]
        settled[choice.offers] = _settled(choice, parts)
    if same is not None:
        own = settled[same.name,]
    ordered = sorted(settled.values(), key=lambda item: (item.missing > 0, item.cost, len(item.offers)))
    return Comparison(tuple(ordered), own)


def _settled(choice: Choice, parts: Sequence[Choice]) -> Choice:
    """A choice with the plan of the best of its parts, where that costs no more or misses less."""
    best = min(parts, key=lambda part: (part.missing, part.cost), default=choice)
    if (best.missing, best.cost) > (choice.missing, choice.cost) or best is choice:
        return choice
    bound = choice.bound if choice.missing == best.missing else 0.0
    return replace(best, offers=choice.offers, bound=min(bound, best.cost))


def _choice(
    offers: tuple[Offer, ...], demands: Sequence[Demand], budget: Budget, stop: threading.Event
) -> Choice:
    if isinstance(offers[0].material, BlockMaterial):
        return _blocks_choice(offers, demands, budget, stop)
    problem = set_problem(offers, demands)

    def progress(report: Report) -> None:
        if stop.is_set() and report.value < math.inf:
            raise KeyboardInterrupt

    answer = solve(
        problem, time_limit=budget.seconds, effort=budget.effort, seed=budget.seed, progress=progress
    )
    verify(problem, answer)
    used, taken = _used(offers, answer, problem)
    money = offers[0].rate / 1e3 if isinstance(problem, RollProblem) else 1.0
    placed = sum(
        demand.panel.area
        * (
            demand.quantity - answer.missing[demand.key].quantity
            if demand.key in answer.missing
            else demand.quantity
        )
        for demand in demands
    )
    return Choice(
        offers=tuple(offer.name for offer in offers),
        used=used,
        cost=answer.value * money,
        bound=answer.bound * money,
        taken=taken,
        pieces=placed,
        missing=sum(item.quantity for item in answer.missing.values()),
    )


def _blocks_choice(
    offers: tuple[Offer, ...], demands: Sequence[Demand], budget: Budget, stop: threading.Event
) -> Choice:
    """Blocks are planned as a foam that is bought in these sizes, long blocks and gluing included."""
    foams = [offer.material for offer in offers if isinstance(offer.material, BlockMaterial)]
    foam = foams[0]
    if not foam.sizes:
        sizes = tuple(
            BlockSize(name=offer.name, length=own.length, width=own.width, height=own.height, price=own.price)
            for offer, own in zip(offers, foams, strict=True)
        )
        foam = replace(foam, sizes=sizes)
    plan = plan_material(foam, tuple(demands), budget, Watch(), stop)
    used = {}
    for size in foam.sizes:
        own = [layout for layout in plan.layouts if layout.stock_key == size.name]
        taken = account(foam, plan.demands, own, (), value=0.0, bound=0.0).consumed
        if taken:
            used[size.name] = taken / (size.length * size.width * size.height / 1e9)
    return Choice(
        offers=tuple(offer.name for offer in offers),
        used=used,
        cost=plan.figures.value,
        bound=plan.figures.bound,
        taken=plan.figures.consumed,
        pieces=plan.figures.pieces,
        missing=sum(item.quantity for item in plan.missing.values()),
    )


def _used(offers: tuple[Offer, ...], answer: Answer, problem: Problem) -> tuple[dict[str, float], float]:
    """Metres of roll, sheets or blocks of each size, and their full area, m2."""
    used = {offer.name: 0.0 for offer in offers}
    rolls = isinstance(problem, RollProblem | RackProblem)
    for layout in answer.layouts:
        name = layout.stock_key if layout.stock_key in used else offers[0].name
        if isinstance(problem, RollProblem | RackProblem):
            used[name] += (layout.length + problem.end_loss) * layout.repeats / 1e3
        else:
            used[name] += layout.repeats
    taken = 0.0
    for offer in offers:
        own = offer.material
        if rolls:
            taken += used[offer.name] * own.width / 1e3
        else:
            assert isinstance(own, SheetMaterial)
            taken += used[offer.name] * own.length * own.width / 1e6
    return {name: amount for name, amount in used.items() if amount}, taken
