"""How far the requirement of a cover may lie from the plan when demand varies: by simulation, and by formula.

Demand of each model and size in each week is drawn from a normal distribution, not below 0, independent of
the others; beds become material by the piece area of one bed and the fitted yield. Draws depend on the seed,
the week, the model and the size alone, so that an answer does not depend on how the work is shared out.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.buying.demand import WeekLine
from nesting.buying.need import size_per_bed
from nesting.catalogue import Range

__all__ = ["SAMPLES", "Spread", "draw", "simulate"]

SAMPLES = 20_000
"""Draws: the 95 % quantile of a normal sum is then known to about 1.5 % of its standard deviation."""


@dataclass(frozen=True, slots=True)
class Spread:
    """By how much the requirement of a cover differs from its mean; metres of roll, sheets or blocks.

    Parameters
    ----------
    low, middle, high
        Quantiles at 5, 50 and 95 %.
    at_service
        Quantile at the service level: the safety stock.
    sigma
        Standard deviation that a sum of independent normal demands has: root of the sum of squares.
    """

    low: float
    middle: float
    high: float
    at_service: float
    sigma: float


def draw(line: WeekLine, place: tuple[int, int], seed: int, samples: int = SAMPLES) -> NDArray[np.float64]:
    """Draws of the demand of one model and size in one week, less its mean, beds.

    Parameters
    ----------
    place
        Which model and size of the range it is.
    """
    source = np.random.default_rng([seed, line.week, *place])
    return np.maximum(line.mean + line.sd * source.standard_normal(samples), 0.0) - line.mean


def simulate(
    range_: Range,
    lines: Collection[WeekLine],
    rates: Mapping[str, float],
    covers: Mapping[str, int],
    services: Mapping[str, float],
    *,
    seed: int = 0,
    samples: int = SAMPLES,
) -> dict[str, Spread]:
    """The spread of the requirement of every material over its cover, from week 1 on.

    Parameters
    ----------
    rates
        By key of the material: amount for each m2 (m3) of pieces.
    covers
        Weeks that are covered, lead time and review together.
    services
        Share of covers in which there is to be enough.
    """
    models = {key: place for place, key in enumerate(range_.models)}
    sizes = {key: place for place, key in enumerate(range_.sizes)}
    sums: dict[str, NDArray[np.float64]] = {key: np.zeros(samples) for key in rates}
    squares = dict.fromkeys(rates, 0.0)
    for line in lines:
        if line.sd <= 0:
            continue
        takes = {
            key: rate * size_per_bed(range_, line, key)
            for key, rate in rates.items()
            if line.week <= covers[key]
        }
        takes = {key: take for key, take in takes.items() if take > 0}
        if not takes:
            continue
        drawn = draw(line, (models[line.model], sizes[line.size]), seed, samples)
        for key, take in takes.items():
            sums[key] += take * drawn
            squares[key] += (take * line.sd) ** 2
    return {
        key: _spread(sums[key], services[key], math.sqrt(squares[key])) for key in rates if squares[key] > 0
    }


def _spread(sums: NDArray[np.float64], service: float, sigma: float) -> Spread:
    levels: Sequence[float] = (0.05, 0.5, 0.95, service)
    low, middle, high, at_service = (float(value) for value in np.quantile(sums, levels))
    return Spread(low, middle, high, max(0.0, at_service), sigma)
