"""Everything that can go wrong, in plain words.

::

    NestingError
    |-- InputError (ValueError)     findings about files a person wrote
    |-- ProblemError (ValueError)   a packing problem that makes no sense
    `-- LayoutError                 a layout that breaks a rule; raised by the verifier
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Finding", "InputError", "LayoutError", "NestingError", "ProblemError"]


class NestingError(Exception):
    """Root of all errors this package raises on purpose."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One problem in an input file: where it is, what was found, what to do.

    Parameters
    ----------
    file
        Name of the file as the person gave it.
    place
        Table and field, or row and column: ``"materials.ticking.usable_width"`` or ``"row 14, size"``.
    value
        The offending value as written, or None when something is absent.
    allowed
        What is allowed there: ``"a number above 0"``.
    remedy
        What to do about it, as an order: ``"Write the usable width in mm."``
    """

    file: str
    place: str
    value: object
    allowed: str
    remedy: str

    def __str__(self) -> str:
        shown = "nothing" if self.value is None else repr(self.value)
        if len(shown) > 120:
            shown = shown[:117] + "..."
        return f"{self.file}: {self.place}: found {shown}; allowed: {self.allowed}. {self.remedy}"


class InputError(NestingError, ValueError):
    """One or more problems in input files; all that were found are listed."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings: tuple[Finding, ...] = tuple(findings)
        super().__init__(self.findings)

    def __str__(self) -> str:
        return "\n".join(str(finding) for finding in self.findings)


class ProblemError(NestingError, ValueError):
    """A packing problem with impossible or contradictory figures."""


class LayoutError(NestingError):
    """A layout breaks a rule. Never the user's fault: it means an engine has a bug."""
