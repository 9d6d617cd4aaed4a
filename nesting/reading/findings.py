"""Collecting everything that is wrong with a file, so that it is told in one go."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from nesting.errors import Finding, InputError

__all__ = ["MAX_FINDINGS", "Findings", "listed", "near"]

MAX_FINDINGS = 200
"""Most findings listed for one file; the rest are only counted."""


class Findings:
    """The findings about one file, in the order in which they were made.

    Parameters
    ----------
    file
        Name of the file as the person gave it.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self._kept: list[Finding] = []
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def add(self, place: str, value: object, allowed: str, remedy: str) -> None:
        """Note one problem; see `nesting.errors.Finding` for the parts."""
        self.extend([Finding(self.file, place, value, allowed, remedy)])

    def extend(self, findings: Iterable[Finding]) -> None:
        """Note finished findings."""
        for finding in findings:
            self._count += 1
            if self._count <= MAX_FINDINGS:
                self._kept.append(finding)

    def listing(self) -> tuple[Finding, ...]:
        """The first `MAX_FINDINGS` findings, then one that says how many more there are."""
        more = self._count - len(self._kept)
        if not more:
            return tuple(self._kept)
        rest = Finding(
            self.file,
            f"and {more} more",
            f"{more} problems beyond the first {MAX_FINDINGS}",
            "none",
            "Put these right first, then run again.",
        )
        return (*self._kept, rest)

    def stop_if_any(self) -> None:
        """Stop when something was found.

        Raises
        ------
        InputError
            With all findings.
        """
        if self._count:
            raise InputError(self.listing())


def near(word: str, known: Iterable[str]) -> str:
    """``"Did you mean 'seam'? "`` when a known word resembles `word`, otherwise nothing."""
    by_folded: dict[str, str] = {}
    for key in known:
        by_folded.setdefault(key.casefold(), key)
    found = difflib.get_close_matches(word.casefold(), by_folded, n=1)
    return f"Did you mean {by_folded[found[0]]!r}? " if found else ""


def listed(words: Iterable[str], most: int = 12) -> str:
    """Words in quotes, joined for a sentence; only the first `most` of a long list."""
    quoted = [repr(word) for word in words]
    if not quoted:
        return "none"
    if len(quoted) > most:
        return f"{', '.join(quoted[:most])} and {len(quoted) - most} more"
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"
