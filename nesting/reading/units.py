"""Lengths as people write them, turned into millimetres.

A length is a number, or text with a unit after it: ``"54 in"``, ``"3/4 in"``, ``"1 1/2 in"``,
``"2.5 cm"``, ``"60 m"``. A bare number is in millimetres; only the finished sizes of a range file (width
and length of a size, height of a model) follow the range's own ``unit``.
"""

from __future__ import annotations

import math
import re

from nesting.errors import NestingError

__all__ = ["LITERAL", "MM_PER_UNIT", "RUN_TOGETHER", "LengthError", "literal_value", "show", "to_mm"]

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in each unit. The inch is exactly 25.4 mm: international yard and pound agreement, 1959."""

UNIT_WORDS = "mm, cm, m, in or ft"

_UNIT = r"(?P<unit>mm|cm|m|in|ft)(?![A-Za-z0-9_(])"
LITERAL = re.compile(
    rf"(?:(?P<whole>[0-9]+)[ ]+)?(?P<top>[0-9]+)[ ]*/[ ]*(?P<bottom>[0-9]+)[ ]*{_UNIT}"
    rf"|(?P<decimal>[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[ ]*{_UNIT.replace('<unit>', '<suffix>')})?"
)
"""A number as written: a fraction with a unit, or a decimal number with or without one.

A fraction is only read as one when a unit follows, so that ``W/2`` in a formula stays a division.
"""

RUN_TOGETHER = re.compile(rf"(?P<whole>[0-9]+)-(?P<fraction>[0-9]+/[0-9]+)[ ]*{_UNIT}")
"""``1-1/2 in``: an inch and a half to some, a subtraction to others. Refused rather than guessed."""

_NOISE = 6  # decimals of a millimetre kept when a unit is converted, far below anything that is cut


class LengthError(NestingError, ValueError):
    """A length that cannot be read; the message says why, as a sentence."""


def literal_value(match: re.Match[str], unit: str = "mm") -> float:
    """Value of a match of `LITERAL`, mm when it carries a unit.

    Parameters
    ----------
    match
        What `LITERAL` matched.
    unit
        Unit of a number that carries none; ``"mm"`` leaves it as it is.

    Raises
    ------
    LengthError
        When a fraction is divided by 0 or the number is too long to be one.
    """
    written = match["unit"] or match["suffix"]
    if match["decimal"] is not None:
        number = float(match["decimal"])
    elif not match["bottom"].strip("0"):
        raise LengthError("A fraction cannot be divided by 0.")
    else:
        try:
            number = int(match["whole"] or 0) + int(match["top"]) / int(match["bottom"])
        except (OverflowError, ValueError):  # hundreds of digits
            raise LengthError("The number is too large.") from None
    if not math.isfinite(number):
        raise LengthError("The number is too large.")
    factor = MM_PER_UNIT[written or unit]
    return number if factor == 1.0 else round(number * factor, _NOISE)


def to_mm(value: object, unit: str = "mm") -> float:
    """Length in mm of a number or of text such as ``"54 in"``.

    Parameters
    ----------
    value
        As written in a file.
    unit
        Unit of a bare number: a key of `MM_PER_UNIT`.

    Raises
    ------
    LengthError
        When it is no finite length.

    Examples
    --------
    >>> to_mm("54 in"), to_mm(54, "in"), to_mm("1 1/2 in"), to_mm("15")
    (1371.6, 1371.6, 38.1, 15.0)
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise LengthError(f"Write a number, or text with a unit: {UNIT_WORDS}.")
    if isinstance(value, str):
        text = value.strip()
        sign = -1.0 if text.startswith("-") else 1.0
        match = LITERAL.fullmatch(text.removeprefix("-").lstrip())
        if match is None:
            raise LengthError(_why_no_literal(text))
        return sign * literal_value(match, unit)
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise LengthError("The number must be finite.")
    factor = MM_PER_UNIT[unit]
    return number if factor == 1.0 else round(number * factor, _NOISE)


def _why_no_literal(text: str) -> str:
    if together := RUN_TOGETHER.fullmatch(text):
        return f'Write "{together["whole"]} {together["fraction"]} {together["unit"]}", with a space.'
    if re.fullmatch(r"[0-9]+,[0-9]+.*", text):
        return "Write a decimal point, not a comma."
    return f"Write a number, or text with a unit: {UNIT_WORDS}."


def show(number: float) -> str:
    """A number for people to read: groups of three apart, at most one decimal.

    Examples
    --------
    >>> show(2310.0), show(1371.6), show(12.0)
    ('2 310', '1 371.6', '12')
    """
    return f"{number:,.1f}".removesuffix(".0").replace(",", " ")
