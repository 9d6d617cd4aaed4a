"""What to order when: textbook arithmetic of buying under periodic review, with plain numbers.

Amounts are in whatever a material is counted in (metres of roll, sheets, blocks); weeks count from 1. An
order of week `t` is placed as the week begins and is there as week ``t + lead`` begins; the next one is
placed `review` weeks later. What an order covers are therefore ``lead + review`` weeks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

__all__ = [
    "Order",
    "Schedule",
    "Terms",
    "factor_of",
    "gross_requirement",
    "net_requirement",
    "order_amount",
    "reorder_point",
    "safety_stock",
    "schedule",
]

STEP = 6
"""Decimals that are looked at before rounding up to whole items: what is beyond is float noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How a material is bought.

    Parameters
    ----------
    lead
        Weeks from placing an order until it is there.
    review
        Weeks between two orders, at least 1.
    least
        Least amount of one order (minimum order), 0 for none.
    item
        Amount in one roll; 1 for sheets and blocks.
    multiple
        Sold in so many rolls, sheets or blocks at a time.
    price
        Per metre of roll, per sheet, per block.
    """

    lead: int = 1
    review: int = 1
    least: float = 0.0
    item: float = 1.0
    multiple: int = 1
    price: float = 0.0

    @property
    def cover(self) -> int:
        """Weeks that an order has to cover: until the next one is there."""
        return self.lead + self.review

    @property
    def lot(self) -> float:
        """Amount that orders are multiples of."""
        return self.item * self.multiple


def factor_of(service: float) -> float:
    """Safety factor z: demand stays below mean + z x standard deviation in this share of all covers.

    The quantile of the normal distribution; 95 % gives 1.645 (many tables round to 1.65).
    """
    return NormalDist().inv_cdf(service)


def gross_requirement(net_use: float, losses: Sequence[float]) -> float:
    """Amount to take for a net use, where each loss is a share of what is left by the one before.

    Losses divide, they do not add (common practice in cutting rooms; arithmetic).
    """
    return net_use / math.prod(1.0 - loss for loss in losses)


def safety_stock(z: float, sigma: float, weeks: float, mean: float = 0.0, sigma_lead: float = 0.0) -> float:
    """Stock against demand that varies, and a lead time that does.

    ``z x sqrt(weeks x sigma^2 + mean^2 x sigma_lead^2)``, as in textbooks of inventory management (such as
    Silver, Pyke and Peterson, "Inventory Management and Production Planning and Scheduling"; quoted from
    memory). With a fixed lead time ``z x sigma x sqrt(weeks)``.

    Parameters
    ----------
    z
        Safety factor, see `factor_of`.
    sigma
        Standard deviation of one week's demand.
    weeks
        Weeks covered: lead time, and with periodic review the review interval as well.
    mean
        One week's mean demand; only counts with `sigma_lead`.
    sigma_lead
        Standard deviation of the lead time, weeks.
    """
    return z * math.sqrt(weeks * sigma**2 + mean**2 * sigma_lead**2)


def reorder_point(mean: float, lead: float, safety: float) -> float:
    """Stock at which an order has to be placed: mean demand over the lead time and the safety stock."""
    return mean * lead + safety


def net_requirement(
    gross: float, safety: float, on_hand: float, on_order: float = 0.0, remnants: float = 0.0
) -> float:
    """What is missing: ``max(0, gross + safety - on hand - on order in time - usable remnants)``."""
    return max(0.0, gross + safety - on_hand - on_order - remnants)


def order_amount(net: float, terms: Terms) -> float:
    """Amount to order: the net requirement or the minimum order, rounded up to what is sold.

    ``ceil(max(net, least) / lot) x lot`` when anything is missing, else 0.
    """
    if round(net, STEP) <= 0:
        return 0.0
    return math.ceil(round(max(net, terms.least) / terms.lot, STEP)) * terms.lot


@dataclass(frozen=True, slots=True)
class Order:
    """An order to place: in which week, from which week on it is there, how much, how many items."""

    placed: int
    arrives: int
    amount: float
    items: int


@dataclass(frozen=True, slots=True)
class Schedule:
    """What to order over some weeks.

    Parameters
    ----------
    orders
        Those that are not 0, in order of time.
    ends
        Stock at the end of each week, safety stock included; below 0 is short.
    gross, due, net
        Of the first order: requirement over its cover, what is on order in time, and what is missing.
    """

    orders: tuple[Order, ...]
    ends: tuple[float, ...]
    gross: float
    due: float
    net: float

    @property
    def now(self) -> Order | None:
        """The order to place in week 1."""
        return self.orders[0] if self.orders and self.orders[0].placed == 1 else None

    @property
    def short(self) -> int | None:
        """First week at whose end there is too little, although everything is ordered as told."""
        return next((week for week, end in enumerate(self.ends, start=1) if round(end, STEP) < 0), None)


def schedule(
    need: Sequence[float], terms: Terms, *, stock: float, on_order: Sequence[float] = (), safety: float = 0.0
) -> Schedule:
    """Orders from week to week, each as large as its cover and the safety stock ask for.

    Parameters
    ----------
    need
        Requirement of each week. What comes after the last week is not known and not covered.
    stock
        What is there as week 1 begins, usable remnants included.
    on_order
        What arrives as each week begins, as already ordered.
    """
    due = [*on_order, *[0.0] * (len(need) - len(on_order))]
    placed = [0.0] * len(need)
    first = (0.0, 0.0, 0.0)
    for week in range(1, len(need) + 1, terms.review):
        last = week + terms.cover - 1
        coming = sum(due[:last])
        # All ordered before is there by the end of this cover, as the lead time is the same.
        net = net_requirement(sum(need[:last]), safety, stock, coming + sum(placed[: week - 1]))
        placed[week - 1] = order_amount(net, terms)
        if week == 1:
            first = (sum(need[:last]), coming, net)
    orders = tuple(
        Order(week, week + terms.lead, amount, round(amount / terms.item))
        for week, amount in enumerate(placed, start=1)
        if amount
    )
    ends = tuple(
        stock + sum(due[:week]) + sum(placed[: max(0, week - terms.lead)]) - sum(need[:week])
        for week in range(1, len(need) + 1)
    )
    return Schedule(orders, ends, *first)
