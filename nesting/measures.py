"""Lengths and amounts as a workshop writes them: in mm or inches, with its decimal sign.

Everything inside is mm, m2, m3 and kg. Whoever writes something that people read says once for which
workshop, much as `decimal.localcontext` says once how numbers are rounded, and everything below follows::

    with shown_for(plan.workshop):
        ...measure(1564.0)...      # "1564", or "61 9/16"

Outside such a block everything is in mm with a point: files for machines never enter one, and where they
share code with drawings they enter `MACHINES`.

Inches are written as fractions, because that is what a tape shows: sizes to 1/16 in, places of cuts to
1/32 in. That rounds by at most 0.8 and 0.4 mm, which the maps say.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from types import MappingProxyType

from nesting.model import Workshop

__all__ = [
    "IMPERIAL",
    "MACHINES",
    "Ruler",
    "amount",
    "cut_measure",
    "cut_steps",
    "delimiter",
    "fixed",
    "list_cell",
    "measure",
    "measures_note",
    "percent",
    "plain",
    "reworded",
    "ruler",
    "shown_amount",
    "shown_for",
    "unit",
    "with_unit",
]

MACHINES = Workshop()
"""For files that machines and programs read: mm and a decimal point, whatever the workshop prefers."""

IMPERIAL = MappingProxyType(
    {
        "mm": ("in", 25.4),
        "m": ("yd", 0.9144),
        "m2": ("sq ft", 0.09290304),
        "m3": ("cu ft", 0.028316846592),
        "kg": ("lb", 0.45359237),
    }
)
"""What stands for a metric unit in an inch shop, and how much of the metric unit it is.

All are exact by definition: inch, yard and pound by the international agreement of 1959, the others powers
of 0.3048 m (NIST Special Publication 811 (2008), appendix B, which gives them to seven figures).
"""

SIZE_STEP, CUT_STEP = 16, 32
"""Steps of an inch to which sizes, and places of cuts, are rounded."""

_workshop: ContextVar[Workshop] = ContextVar("workshop", default=MACHINES)


@contextmanager
def shown_for(workshop: Workshop) -> Iterator[None]:
    """Everything inside is written as `workshop` reads it; also a decorator for whole functions."""
    before = _workshop.set(workshop)
    try:
        yield
    finally:
        _workshop.reset(before)


def unit() -> str:
    """The unit that `measure` counts in: ``"mm"`` or ``"in"``."""
    return amount(0.0, "mm")[1]


def measure(value: float) -> str:
    """A length of `value` mm without its unit: mm to the tenth, or inches to 1/16.

    Examples
    --------
    >>> measure(1564.0), measure(12.34)
    ('1564', '12.3')
    >>> with shown_for(Workshop(units="inch")):
    ...     measure(1564.0), measure(19.05), measure(2540.0)
    ('61 9/16', '3/4', '100')
    """
    return _length(value, SIZE_STEP)


def cut_measure(value: float) -> str:
    """As `measure`, for where a cut is set out: inches to 1/32."""
    return _length(value, CUT_STEP)


def with_unit(value: float) -> str:
    """As `measure`, with the unit: ``"1564 mm"``, ``"61 9/16 in"``."""
    return f"{measure(value)} {unit()}"


_NUMBER = r"\d+(?: \d{3})*(?:\.\d+)?"
_IN_MM = re.compile(rf"({_NUMBER}(?: x {_NUMBER})*) mm\b")


def reworded(text: str) -> str:
    """A sentence that speaks of millimetres with inches before them, where the workshop reads inches.

    For rooms that know nothing of workshops, such as the packing core. The millimetres stay: what does not
    fit by a hair would otherwise seem to fit.
    """
    if _workshop.get().units == "mm":
        return text
    return _IN_MM.sub(lambda found: f"{_in_inches(found[1])} ({found[0]})", text)


def _in_inches(written: str) -> str:
    return " x ".join(measure(float(side.replace(" ", ""))) for side in written.split(" x ")) + " in"


def list_cell(words: str) -> str:
    """A measure for a list that a spreadsheet may open: ``"0 3/4"``, since ``"3/4"`` is a date to it."""
    bare = words.removeprefix("-")
    return f"{'-' if bare != words else ''}0 {bare}" if "/" in bare and " " not in bare else words


def plain(value: float, places: int = 1) -> str:
    """A plain number, such as a scale or an angle: at most so many decimals, none where it is whole."""
    text = f"{value:.{places}f}"
    if "." in text:
        text = text.rstrip("0").removesuffix(".")
    text = "0" if text == "-0" else text
    return text if _workshop.get().decimal == "." else text.replace(".", ",")


def fixed(value: float, places: int) -> str:
    """A plain number with exactly so many decimals, thousands apart: ``"1,234.50"``, or ``"1 234,50"``."""
    text = f"{value:,.{places}f}"
    return text if _workshop.get().decimal == "." else text.replace(",", " ").replace(".", ",")


def percent(share: float) -> str:
    """A share from 0 to 1 in per cent, to the tenth: ``"87.5 %"``."""
    return f"{fixed(100.0 * share, 1)} %"


def amount(value: float, metric: str) -> tuple[float, str]:
    """An amount given in a metric unit (a key of `IMPERIAL`) as the workshop counts it, and its unit."""
    if _workshop.get().units == "mm":
        return value, metric
    name, each = IMPERIAL[metric]
    return value / each, name


def shown_amount(value: float, metric: str, places: int = 1) -> str:
    """An amount in words, with so many decimals: ``"1,234.5 m"``, ``"1,350.1 yd"``."""
    shown, name = amount(value, metric)
    return f"{fixed(shown, places)} {name}"


def delimiter() -> str:
    """What stands between the cells of a list: where the comma is the decimal sign, a semicolon.

    So do the spreadsheets of places with a decimal comma.
    """
    return "," if _workshop.get().decimal == "." else ";"


def measures_note() -> str:
    """What a map says about its measures."""
    if _workshop.get().units == "mm":
        return "All measures in mm."
    return f"All measures in inches, rounded: sizes to 1/{SIZE_STEP} in, places of cuts to 1/{CUT_STEP} in."


def cut_steps() -> str:
    """What `cut_measure` counts, for a sentence: ``"mm"``, ``"inches, rounded to 1/32 in,"``."""
    return "mm" if _workshop.get().units == "mm" else f"inches, rounded to 1/{CUT_STEP} in,"


@dataclass(frozen=True, slots=True)
class Ruler:
    """Marks along a drawing.

    Parameters
    ----------
    steps
        Distances of marks that read well, mm, the finest first; all divide `whole`.
    whole
        Distance of the marks that carry a number, mm.
    unit
        What these numbers count.
    """

    steps: tuple[float, ...]
    whole: float
    unit: str


_RULERS = {
    "mm": Ruler((100.0, 250.0, 500.0, 1000.0), 1000.0, "m"),
    "inch": Ruler((76.2, 152.4, 304.8, 914.4), 914.4, "yd"),  # a quarter, half and whole foot, a yard
}


def ruler() -> Ruler:
    """How marks along a roll are set out: metres, or yards and feet."""
    return _RULERS[_workshop.get().units]


def _length(value: float, step: int) -> str:
    if _workshop.get().units == "mm":
        return plain(value)
    parts = math.floor(abs(value) / 25.4 * step + 0.5)
    whole, rest = divmod(parts, step)
    shared = math.gcd(rest, step)
    fraction = f"{rest // shared}/{step // shared}" if rest else ""
    sign = "-" if value < 0 and parts else ""
    return sign + (f"{whole} {fraction}".strip() if whole or not rest else fraction)
