"""How the verifier words a fault, and what counts as float noise in it."""

from __future__ import annotations

from typing import NoReturn

from nesting.errors import LayoutError

__all__ = ["NOISE", "check_whole", "fault", "mm"]

NOISE = 1e-6
"""Float noise, mm: two measures closer than this are the same. Values and costs use it too."""


def fault(where: str, what: str) -> NoReturn:
    """Raise the LayoutError of a fault."""
    raise LayoutError(f"{where}: {what}.")


def mm(value: float) -> str:
    """A measure as it is written in a fault."""
    return f"{round(value, 4):.12g}"


def check_whole(value: object, what: str, where: str) -> None:
    """Something that counts must be a whole number, 1 or more."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        fault(where, f"{what} must be a whole number, 1 or more, got {value!r}")
