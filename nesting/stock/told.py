"""A cut as a person tells it on the command line."""

from __future__ import annotations

import re
from collections.abc import Sequence

from nesting.errors import InputError
from nesting.reading.findings import Findings
from nesting.stock.fates import Cut
from nesting.stock.measures import named_length, read_length

__all__ = ["cut_from"]


def cut_from(
    *,
    layout: int,
    material: str | None = None,
    plies: int | None = None,
    length_used: str | None = None,
    damaged: Sequence[str] = (),
    not_cut: Sequence[str] = (),
    pieces: Sequence[str] = (),
    rests: Sequence[str] = (),
    no_rests: bool = False,
    beyond: bool = False,
    demand_only: bool = False,
    note: str = "",
) -> Cut:
    """Read what is told; parameters as in `Cut`.

    Parameters
    ----------
    length_used
        A length, in mm or with its unit.
    damaged, not_cut
        As ``"PIECE=COUNT"``.
    rests
        As ``"1200x800"`` or ``"1200x800x300"``, in mm or with units.
    no_rests
        Whether nothing goes back to the shelf.

    Raises
    ------
    InputError
        With everything that cannot be read, or contradicts itself.
    """
    findings = Findings("book")
    length = None
    if length_used is not None:
        try:
            length = named_length("length-used", length_used)
        except InputError as error:
            findings.extend(error.findings)
    counts = {
        option: _counts(option, values, findings)
        for option, values in (("damaged", damaged), ("not-cut", not_cut))
    }
    sizes = [_size(text, findings) for text in rests]
    if sizes and no_rests:
        findings.add("--no-rests", "--rest", "one of the two", "Leave one out.")
    if pieces and demand_only:
        findings.add("--demand-only", "--piece", "one of the two", "Leave one out.")
    findings.stop_if_any()
    kept = tuple(size for size in sizes if size is not None)
    return Cut(
        layout=layout,
        material=material,
        plies=plies,
        length_used=length,
        damaged=counts["damaged"],
        not_cut=counts["not-cut"],
        pieces=tuple(pieces),
        rests=kept if kept or no_rests else None,
        beyond=beyond,
        demand_only=demand_only,
        note=note,
    )


def _counts(option: str, values: Sequence[str], findings: Findings) -> dict[str, int]:
    counts: dict[str, int] = {}
    for text in values:
        key, equals, count = text.rpartition("=")
        if not (equals and key.strip() and re.fullmatch(r"\s*[0-9]{1,6}\s*", count)):
            remedy = f'Write it so: --{option} "{key.strip() or "TP"}=2".'
            findings.add(f"--{option}", text, "a piece and how many of it, as PIECE=COUNT", remedy)
        elif key.strip() in counts:
            findings.add(f"--{option}", text, "each piece once", "Add the counts up.")
        else:
            counts[key.strip()] = int(count)
    return counts


def _size(text: str, findings: Findings) -> tuple[float, float, float] | None:
    sides = re.split(r"[x\u00d7X]", text)
    remedy = "Write it as 1200x800, or 1200x800x300 for foam."
    try:
        lengths = [read_length(side) for side in sides]
        if len(lengths) in (2, 3) and min(lengths) > 0:
            return lengths[0], lengths[1], lengths[2] if len(lengths) == 3 else 0.0
    except ValueError as error:
        remedy = str(error)
    findings.add("--rest", text, "length x width, and x height for foam, above 0", remedy)
    return None
