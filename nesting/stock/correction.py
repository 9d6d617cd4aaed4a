"""What is put right about a piece of the ledger."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from nesting.errors import InputError
from nesting.model import Flaw
from nesting.reading.findings import Findings
from nesting.stock.listfile import MAX_TEXT
from nesting.stock.measures import FLAW_EXAMPLE, named_length, parse_flaws

__all__ = ["Correction", "correction_from"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """New values of a piece; None leaves a field as it is. Lengths are mm."""

    length: float | None = None
    width: float | None = None
    height: float | None = None
    lot: str | None = None
    place: str | None = None
    flaws: tuple[Flaw, ...] | None = None
    remnant: bool | None = None

    def changes(self) -> dict[str, Any]:
        """The fields that are given."""
        names = ("length", "width", "height", "lot", "place", "flaws", "remnant")
        return {name: getattr(self, name) for name in names if getattr(self, name) is not None}


def correction_from(values: Mapping[str, str | None], *, remnant: bool | None = None) -> Correction:
    """A correction from text, as the options of a command give it.

    Parameters
    ----------
    values
        By the names of the fields of `Correction`; what is absent or None is left as it is.

    Raises
    ------
    InputError
        With every value that cannot be read, or when there is none at all.
    """
    findings = Findings("correct")
    read: dict[str, Any] = {}
    for name, text in values.items():
        if text is None:
            continue
        if name in ("length", "width", "height"):
            try:
                read[name] = named_length(name, text)
            except InputError as error:
                findings.extend(error.findings)
        elif name == "flaws":
            try:
                read[name] = parse_flaws(text)
            except ValueError as error:
                findings.add("--flaws", text, f"spans along the roll, such as {FLAW_EXAMPLE!r}", str(error))
        elif len(text) <= MAX_TEXT and text.isprintable():
            read[name] = text.strip()
        else:
            findings.add(f"--{name}", text, f"at most {MAX_TEXT} characters on one line", "Shorten it.")
    if remnant is not None:
        read["remnant"] = remnant
    if not read and not len(findings):
        remedy = "Say what is to be put right, such as --width 2190."
        findings.add("the options", None, "at least one new value", remedy)
    findings.stop_if_any()
    return Correction(**read)
