"""Lengths and flaws as people write them in stock lists and on the command line."""

from __future__ import annotations

import re

from nesting.errors import Finding, InputError, ProblemError
from nesting.measures import unit as shown_unit
from nesting.model import Flaw
from nesting.reading.cells import read_number
from nesting.reading.units import MM_PER_UNIT, LengthError, to_mm

__all__ = ["FLAW_EXAMPLE", "named_length", "parse_flaws", "plain_mm", "read_length", "show_flaws"]

FLAW_EXAMPLE = "12.5 m - 12.6 m; 20000-20300 x 0-400"
"""Two flaws: one across the whole width, one only from 0 to 400 mm across."""

_UNIT = "|".join(MM_PER_UNIT)
_WITH_UNIT = re.compile(rf"([0-9][0-9., \u00a0\u202f]*?)\s*({_UNIT})")
_POINT_IS_DECIMAL = ("m", "ft")
"""Nobody writes thousands of metres with a point: ``12.500`` m has three decimals."""

_LENGTH = r"[0-9][0-9.,]*(?:\s+[0-9]+\s*/\s*[0-9]+|\s*/\s*[0-9]+)?"
_SPAN = re.compile(
    rf"\s*(?P<a>{_LENGTH})\s*(?P<ua>{_UNIT})?\s*(?:-|\u2013|\bto\b)\s*"
    rf"(?P<b>{_LENGTH})\s*(?P<ub>{_UNIT})?\s*"
)


def read_length(value: object, unit: str | None = None) -> float:
    """A measured length in mm, from a number or text.

    Besides what `to_mm` takes, a single comma may be a decimal comma (``"12,5 m"``).

    Parameters
    ----------
    value
        As in a cell.
    unit
        Unit of a bare number, a key of `MM_PER_UNIT`. None: mm, but where people read inches a bare number
        is refused, since they would mean inches.

    Raises
    ------
    ValueError
        When it is no length, or could be two different ones; the message says what to do.

    Examples
    --------
    >>> read_length("12,5 m"), read_length("2 150"), read_length("54 in"), read_length(41.2, "m")
    (12500.0, 2150.0, 1371.6, 41200.0)
    """
    bare = not (isinstance(value, str) and re.search("[a-z]", value))
    if unit is None and bare and shown_unit() == "in" and value not in (0, "0"):
        raise ValueError(f'Write the unit: "{value} in" or "{value} mm".')
    unit = unit or "mm"
    if isinstance(value, str):
        text = value.strip()
        written = _WITH_UNIT.fullmatch(text)
        number, factor_unit = (written[1], written[2]) if written else (text, unit)
        if factor_unit in _POINT_IS_DECIMAL and re.fullmatch(r"[0-9]+\.[0-9]+", number):
            return to_mm(number, factor_unit)
        read = read_number(number)
        if read is not None:
            return to_mm(read, factor_unit)
    return to_mm(value, unit)


def named_length(option: str, value: str, *, zero: bool = False) -> float:
    """The length that an option of a command gives, mm.

    Raises
    ------
    InputError
        When it is no length above 0 (or, with `zero`, of at least 0).
    """
    least = "at least 0" if zero else "above 0"
    try:
        length = read_length(value)
        if length > 0 or (zero and length == 0):
            return length
        remedy = "Correct it."
    except ValueError as error:
        remedy = str(error)
    raise InputError([Finding(f"--{option}", "the length", value, f"a length {least}", remedy)])


def parse_flaws(text: str) -> tuple[Flaw, ...]:
    """Flaws from text such as ``"12.5 m - 12.6 m; 20000-20300 x 0-400"``.

    Spans are set apart by semicolons; each is from - to along the roll, and after an ``x`` from - to
    across it, in mm unless a unit is written. A unit after the second number goes for both.

    Raises
    ------
    ValueError
        When a span cannot be read; the message says which and what to do, as a sentence.

    Examples
    --------
    >>> parse_flaws("12.5-12.6 m; 20000-20300 x 0-400")
    (Flaw(x0=12500.0, x1=12600.0, y0=0.0, y1=None), Flaw(x0=20000.0, x1=20300.0, y0=0.0, y1=400.0))
    """
    flaws = []
    for part in re.split(r"[;\n]", text):
        if not part.strip():
            continue
        spans = re.split(r"[x\u00d7X]", part)
        if len(spans) > 2:
            raise ValueError(f"{part.strip()!r}: write one flaw as {FLAW_EXAMPLE.split('; ')[1]!r}.")
        if len(spans) == 2 and _has_unit(spans[1]) and not _has_unit(spans[0]):
            raise ValueError(f"{part.strip()!r}: write the unit after both spans, or after neither (mm).")
        x0, x1 = _span(spans[0])
        y0, y1 = _span(spans[1]) if len(spans) == 2 else (0.0, None)
        try:
            flaws.append(Flaw(x0, x1, y0, y1))
        except ProblemError:
            raise ValueError(f"{part.strip()!r}: a flaw must end beyond its start.") from None
    return tuple(flaws)


def _has_unit(text: str) -> bool:
    return re.search("[a-z]", text) is not None


def _span(text: str) -> tuple[float, float]:
    found = _SPAN.fullmatch(text)
    if found is None:
        raise ValueError(f"{text.strip()!r}: write from - to, such as {FLAW_EXAMPLE!r}.")
    if found["ua"] and not found["ub"]:
        raise ValueError(f"{text.strip()!r}: write the unit after both numbers, or after the last one.")
    ends = []
    for number, unit in ((found["a"], found["ua"] or found["ub"]), (found["b"], found["ub"])):
        try:
            ends.append(read_length(f"{number} {unit}" if unit else number))
        except (LengthError, ValueError) as error:
            raise ValueError(f"{text.strip()!r}: {error}") from None
    return ends[0], ends[1]


def show_flaws(flaws: tuple[Flaw, ...]) -> str:
    """Flaws as `parse_flaws` reads them in every workshop, in mm.

    Examples
    --------
    >>> show_flaws((Flaw(12500, 12600.5), Flaw(20000, 20300, 0, 400)))
    '12500-12600.5 mm; 20000-20300 mm x 0-400 mm'
    """
    return "; ".join(
        f"{plain_mm(flaw.x0)}-{plain_mm(flaw.x1)} mm"
        + ("" if flaw.y1 is None else f" x {plain_mm(flaw.y0)}-{plain_mm(flaw.y1)} mm")
        for flaw in flaws
    )


def plain_mm(number: float) -> str:
    """Digits without groups, to a thousandth of a mm, and never such that they could be read as thousands."""
    text = f"{number:.3f}".rstrip("0").rstrip(".")
    return f"{number:.4f}" if len(text.partition(".")[2]) == 3 else text
