"""What a comparison finds, as values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from nesting.comparing.variants import Variant
from nesting.model import Demand, Layout, Material, Workshop

__all__ = ["Breakpoint", "Case", "Comparison", "Curve", "Fitting", "InMix", "Outcome", "Row", "Unit"]


@dataclass(frozen=True, slots=True)
class Case:
    """A model in a size."""

    model: str
    size: str
    model_name: str
    size_name: str

    @property
    def name(self) -> str:
        """For people."""
        return f"{self.model_name}, {self.size_name}"


@dataclass(frozen=True, slots=True)
class Unit:
    """Beds that are planned together: keys of model and size, and how many."""

    name: str
    beds: tuple[tuple[str, str, int], ...]

    @property
    def count(self) -> int:
        """Beds in all."""
        return sum(number for _, _, number in self.beds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What beds that are planned together need of a material.

    Parameters
    ----------
    beds
        How many.
    stock, least
        What the plan takes, and its proven bound: metres of roll, or sheets or blocks.
    each
        Material in one of them, m2 or m3.
    measure
        What people count: m of roll, m2 of sheet or m3 of block, in one of them.
    price
        Of one of them.
    pieces
        True area or volume of all pieces, m2 or m3.
    unit
        What `measure` counts.
    reason
        Why something cannot be cut; empty when everything can. Then the other figures say nothing.
    demands, layouts, material
        The plan itself.
    """

    beds: int
    stock: float
    least: float
    each: float
    measure: float
    price: float
    pieces: float
    unit: Literal["m", "m2", "m3"]
    reason: str = ""
    demands: tuple[Demand, ...] = ()
    layouts: tuple[Layout, ...] = ()
    material: Material

    @property
    def fits(self) -> bool:
        """Whether everything can be cut."""
        return not self.reason

    @property
    def cost(self) -> float:
        """Money per bed."""
        return self.stock * self.price / self.beds

    @property
    def least_cost(self) -> float:
        """Money per bed that no plan can undercut."""
        return self.least * self.price / self.beds

    @property
    def amount(self) -> float:
        """Material per bed, in `unit`."""
        return self.stock * self.measure / self.beds

    @property
    def waste(self) -> float:
        """Share of the material taken that is not in pieces."""
        return 1.0 - self.pieces / (self.stock * self.each)

    @property
    def gap(self) -> float:
        """Share of the plan not proven necessary."""
        return (self.stock - self.least) / self.stock if self.stock else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class InMix:
    """What one case adds to a mix, per bed of it: the mix with it less the mix without it.

    Parameters
    ----------
    cost, low, high
        Money: by the two plans, and the least and the most that is possible by their bounds.
    amount
        Material, m, m2 or m3.
    waste
        Share of that material which is not in the case's own pieces; below 0 where they lie in gaps
        that others leave.
    """

    cost: float
    low: float
    high: float
    amount: float
    waste: float


@dataclass(frozen=True, slots=True)
class Row:
    """A case in all variants: alone, and in the mix (None where nothing was mixed or does not fit)."""

    case: Case
    alone: tuple[Outcome, ...]
    mixed: tuple[InMix | None, ...]

    def best(self) -> int | None:
        """Place of the cheapest variant alone; None when none fits."""
        return cheapest(self.alone)


def cheapest(outcomes: Sequence[Outcome]) -> int | None:
    """Place of the cheapest outcome that fits, the first of equals."""
    fitting = [place for place, outcome in enumerate(outcomes) if outcome.fits]
    return min(fitting, key=lambda place: outcomes[place].cost) if fitting else None


def as_good(outcome: Outcome, best: Outcome) -> bool:
    """Whether `outcome` may be as cheap as `best`, for all that is proven."""
    return outcome.fits and outcome.least_cost <= best.cost * (1.0 + 1e-9)


@dataclass(frozen=True, slots=True)
class Fitting:
    """Pieces side by side that did not fit before.

    Parameters
    ----------
    pieces
        Name of a piece, what it measures in this direction, mm, and how many of it.
    total
        What they measure together, mm, cuts and gaps between them included.
    direction
        ``"across"`` the roll or sheet, ``"along"`` it, or ``"up"`` the block.
    share
        Share of the length of roll, or of the sheets or blocks, in which they lie so.
    """

    pieces: tuple[tuple[str, float, int], ...]
    total: float
    direction: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakpoint:
    """A small change that lets another combination of pieces fit, planned on both sides.

    Parameters
    ----------
    name
        What changes: ``"roll width"``, ``"seam"``, ``"seam of Briar"``.
    kind
        ``"stock"`` for a side of the material, or ``"allowance"``.
    now, short, at
        The value at present, the last one at which it does not yet fit, and the first at which it does, mm.
    cost_now, cost_short, cost_at
        Money per bed, averaged over all beds, at these values.
    least_now, least_short
        Proven least of the first two.
    waste_now, waste_at
        Shares.
    volume
        Beds a year.
    fitting
        What fits now; None where no plan shows a single new combination.
    """

    name: str
    kind: Literal["stock", "allowance"]
    now: float
    short: float
    at: float
    cost_now: float
    cost_short: float
    cost_at: float
    least_now: float
    least_short: float
    waste_now: float
    waste_at: float
    volume: int
    fitting: Fitting | None = None

    @property
    def saving(self) -> float:
        """Money per bed, against the present value."""
        return self.cost_now - self.cost_at

    @property
    def step(self) -> float:
        """Money per bed, against the last value at which it does not fit."""
        return self.cost_short - self.cost_at

    @property
    def sure(self) -> float:
        """The part of `saving` that is proven: no plan at the present value costs less."""
        return max(0.0, self.least_now - self.cost_at)

    @property
    def yearly(self) -> float:
        """Money a year."""
        return self.saving * self.volume

    @property
    def proven(self) -> bool:
        """Whether no plan just before the breakpoint is as cheap as the one at it."""
        return self.least_short > self.cost_at


@dataclass(frozen=True, slots=True)
class Curve:
    """Waste over one side of the material, from step to step.

    Parameters
    ----------
    name
        Whose it is.
    steps
        The side at which something new fits, mm, and what the plan there needs; between two steps the
        earlier plan holds.
    whole
        Whether it stands for all beds that count.
    """

    name: str
    steps: tuple[tuple[float, Outcome], ...]
    whole: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """All that was found.

    Parameters
    ----------
    range_name, currency, material
        As in the range file.
    orders
        Name of the order book that makes the mix; empty without one.
    mix_times
        How many times over the mix was planned, so that part-used stock does not count.
    variants
        In rising order.
    rows
        A row for each case.
    whole
        All cases by their shares, for each variant: cost, proven least cost and waste, per bed.
    shares
        Words for how cases count in the whole.
    curves, axis
        Waste over this side of the material, whose values run from `span` [0] to [1].
    breakpoints
        The greatest saving first.
    volume
        Beds a year.
    made, version
        Date, and version of the program.
    assumptions
        Sentences.
    beds_alone
        How many equal beds stand for many, by ``"model/size"``.
    workshop
        How it is written for people.
    """

    range_name: str
    currency: str
    material: Material
    orders: str
    mix_times: int
    variants: tuple[Variant, ...]
    rows: tuple[Row, ...]
    whole: tuple[tuple[float, float, float] | None, ...]
    shares: str
    axis: str
    span: tuple[float, float]
    curves: tuple[Curve, ...]
    breakpoints: tuple[Breakpoint, ...]
    volume: int
    made: str
    version: str
    assumptions: tuple[str, ...]
    beds_alone: Mapping[str, int]
    workshop: Workshop = field(default_factory=Workshop)

    @property
    def present(self) -> int:
        """Place of the present variant."""
        return next(place for place, variant in enumerate(self.variants) if variant.present)
