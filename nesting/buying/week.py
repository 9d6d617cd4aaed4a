"""The buyer's weeks: from an outlook, a shelf and a supply table to what has to be ordered when."""

from __future__ import annotations

import datetime
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import PurePath

from nesting import __version__
from nesting.buying.demand import Outlook
from nesting.buying.need import Need, need_of, weekly_demands
from nesting.buying.ordering import Schedule, factor_of, safety_stock, schedule
from nesting.buying.shelf import counted, is_rest
from nesting.buying.spread import Spread, simulate
from nesting.buying.supply import Supply, standard_supply
from nesting.catalogue import Range
from nesting.errors import NestingError
from nesting.model import Material, RollMaterial, StockPiece, Workshop
from nesting.planning import Budget

__all__ = ["LEDGER", "BuyingPlan", "Held", "Purchase", "plan_buying"]

LEDGER = "a stock ledger"
"""What the stock is called when it is from a ledger."""
SERVICE = 0.95
"""Service level where nobody says another."""


@dataclass(frozen=True, slots=True)
class Held:
    """A piece on the shelf and what it counts for.

    Parameters
    ----------
    amount
        Metres of roll, sheets or blocks that it stands for, or that the plans save with it; of several rests
        cut in one week together, the first one is told the whole saving.
    why
        How it is counted, or why it is not.
    """

    piece: StockPiece
    amount: float
    why: str


@dataclass(frozen=True, slots=True)
class Purchase:
    """Everything that a buyer wants to know of one material. Amounts are metres, sheets or blocks.

    Parameters
    ----------
    on_hand
        Whole pieces on the shelf, and what the supply table says is there.
    safety
        Stock to keep in reserve.
    service
        Service level; None where the reserve is fixed or demand is taken as certain.
    due
        What arrives in each week, as already ordered.
    """

    material: Material
    supply: Supply
    need: Need
    held: tuple[Held, ...]
    on_hand: float
    due: tuple[float, ...]
    safety: float
    service: float | None
    spread: Spread | None
    schedule: Schedule

    @property
    def cover(self) -> int:
        """Last week that an order of today covers and of which the demand is known."""
        return min(self.supply.terms.cover, len(self.need.weeks))

    @property
    def gross(self) -> float:
        """Requirement over the cover, all new."""
        return sum(week.amount for week in self.need.weeks[: self.cover])

    @property
    def saved(self) -> float:
        """What rests save over the cover."""
        return sum(item.amount for item in self.need.savings if item.week <= self.cover)

    @property
    def by_formula(self) -> float | None:
        """The safety stock of the textbook formula for the same demand; None where demand is certain."""
        if self.spread is None or self.service is None:
            return None
        return safety_stock(factor_of(self.service), self.spread.sigma, 1.0)

    @property
    def money(self) -> float:
        """Of what is to be ordered in week 1."""
        now = self.schedule.now
        return now.amount * self.supply.terms.price if now else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyingPlan:
    """What to buy when, and how that was found."""

    range_name: str
    range_file: str
    outlook: Outlook
    orders_file: str
    stock: str
    supply: str
    currency: str
    made: str
    version: str = __version__
    seed: int
    effort: float
    planned: int
    service: float
    spread: float
    purchases: tuple[Purchase, ...]
    workshop: Workshop


def plan_buying(
    range_: Range,
    outlook: Outlook,
    *,
    supplies: Mapping[str, Supply] | None = None,
    stock: Mapping[str, Sequence[StockPiece]] | None = None,
    materials: Sequence[str] | None = None,
    planned: int = 8,
    service: float = SERVICE,
    spread: float = 0.0,
    budget: Budget | None = None,
    told: Callable[[Material, int, int], None] = lambda *_: None,
    stock_name: str = "",
    supply_name: str = "",
    today: datetime.date | None = None,
) -> BuyingPlan:
    """Work out what to buy.

    Parameters
    ----------
    supplies
        How materials are bought, by key; those without are bought as `standard_supply` says.
    stock
        What stands on the shelf, by key of the material.
    materials
        Keys of the materials to look at; None for all that are needed.
    planned
        How many weeks are nested; later ones are estimated.
    service
        Service level where the supply table has none.
    spread
        Only for the account of what was assumed: the outlook has taken it up already.
    budget
        Effort for each material and week.
    stock_name, supply_name
        For the account of what was assumed: names of files, or `LEDGER`.
    told
        Called as materials are done: which, how many so far, of how many. From several threads.

    Raises
    ------
    KeyboardInterrupt
        When it was asked to stop; nothing is told of what was done until then.
    """
    budget = budget or Budget()
    demands = weekly_demands(range_, outlook)
    needed = {key for found in demands.values() for key in found}
    keys = [key for key in range_.materials if key in needed and (materials is None or key in materials)]
    if not keys:
        raise NestingError("None of these materials is needed in these weeks: choose others, or other weeks.")
    shelf = {key: tuple((stock or {}).get(key, ())) for key in keys}
    stop = threading.Event()
    done: list[str] = []

    def one(key: str) -> Need | None:
        material = range_.materials[key]
        rests = [piece for piece in shelf[key] if is_rest(material, piece)]
        need = need_of(range_, key, demands, outlook, planned=planned, budget=budget, stop=stop, shelf=rests)
        if need is not None:
            done.append(key)
            told(material, len(done), len(keys))
        return need

    with ThreadPoolExecutor(max_workers=budget.workers) as pool:
        running = {key: pool.submit(one, key) for key in keys}
        try:
            found = {key: future.result() for key, future in running.items()}
        except BaseException:
            stop.set()
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    needs = {key: need for key, need in found.items() if need is not None}
    bought = {key: (supplies or {}).get(key) or standard_supply(range_.materials[key]) for key in keys}
    spreads = simulate(
        range_,
        outlook.lines,
        {key: needs[key].fit.rate for key in keys},
        {key: bought[key].terms.cover for key in keys},
        {key: bought[key].service or service for key in keys},
        seed=budget.seed,
    )
    return BuyingPlan(
        range_name=range_.name,
        range_file=PurePath(range_.file).name,
        outlook=outlook,
        orders_file=PurePath(outlook.file).name,
        stock=stock_name,
        supply=PurePath(supply_name).name,
        currency=range_.currency,
        made=(today or datetime.date.today()).isoformat(),
        seed=budget.seed,
        effort=budget.effort,
        planned=planned,
        service=service,
        spread=spread,
        purchases=tuple(
            _purchase(outlook, needs[key], bought[key], shelf[key], spreads.get(key), service) for key in keys
        ),
        workshop=range_.workshop,
    )


def _purchase(
    outlook: Outlook,
    need: Need,
    supply: Supply,
    shelf: Sequence[StockPiece],
    spread: Spread | None,
    service: float,
) -> Purchase:
    material, terms, weeks = need.material, supply.terms, outlook.weeks
    held = tuple(_held(material, need, piece, outlook) for piece in shelf)
    on_hand = supply.on_hand + sum(item.amount for item in held if not is_rest(material, item.piece))
    due = [0.0] * weeks.count
    for arrival in supply.arrivals:
        if arrival.week <= weeks.count:  # what is late already is taken as coming now
            due[max(arrival.week, 1) - 1] += arrival.amount
    level: float | None = None
    safety = supply.safety or 0.0
    if supply.safety is None and spread is not None:
        level = supply.service or service
        safety = spread.at_service
    saved = [sum(item.amount for item in need.savings if item.week == week.week) for week in need.weeks]
    takes = [week.amount - saving for week, saving in zip(need.weeks, saved, strict=True)]
    plan = schedule(takes, terms, stock=on_hand, on_order=due, safety=safety)
    return Purchase(
        material=material,
        supply=supply,
        need=need,
        held=held,
        on_hand=on_hand,
        due=tuple(due),
        safety=safety,
        service=level,
        spread=spread,
        schedule=plan,
    )


def _held(material: Material, need: Need, piece: StockPiece, outlook: Outlook) -> Held:
    if not is_rest(material, piece):
        what = "flaws taken off" if piece.flaws else "whole"
        narrow = isinstance(material, RollMaterial) and piece.width < material.usable_width
        return Held(
            piece, counted(material, piece), f"{what}{', by its share of the width' if narrow else ''}"
        )
    for saving in need.savings:
        if piece.id in saving.pieces:
            label = outlook.weeks.label(saving.week)
            if piece.id == saving.pieces[0]:
                others = f" with {len(saving.pieces) - 1} more" if len(saving.pieces) > 1 else ""
                return Held(piece, saving.amount, f"saves new material in {label}{others}")
            return Held(piece, 0.0, f"cut in {label}: counted with {saving.pieces[0]}")
    return Held(piece, 0.0, need.discounted.get(piece.id, "not counted"))
