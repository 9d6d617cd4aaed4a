"""A comparison of sizes for the screen, as CSV, and for other programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

from nesting.buying.notes import counted_in, items_word, shown
from nesting.buying.widths import Choice, Comparison
from nesting.measures import MACHINES, amount, delimiter, fixed, percent, plain, shown_for
from nesting.model import Material, RollMaterial

__all__ = ["advice", "choices_csv", "choices_table", "choices_values"]

MOST_SHOWN = 12
"""Most choices on screen."""


def choices_table(found: Comparison, material: Material, currency: str) -> tuple[list[str], list[list[str]]]:
    """Headings and rows for the screen, the cheapest first."""
    headings = ["sizes", "of each", f"cost {currency}", "least possible", "not proven necessary", "waste"]
    rows = [_row(choice, material, " + ".join(choice.offers)) for choice in found.choices[:MOST_SHOWN]]
    if found.now is not None:
        rows.append(_row(found.now, material, f"as bought now: {found.now.offers[0]}"))
    return headings, rows


def _row(choice: Choice, material: Material, name: str) -> list[str]:
    used = ", ".join(
        f"{shown(material, much)} of {size}"
        if len(choice.offers) > 1 or len(choice.used) > 1
        else shown(material, much)
        for size, much in choice.used.items()
    )
    if choice.missing:
        return [name, f"{choice.missing} pieces cannot be cut", "", "", "", ""]
    return [
        name,
        used,
        fixed(choice.cost, 2),
        fixed(choice.bound, 2),
        percent(choice.gap),
        percent(choice.waste),
    ]


def advice(found: Comparison, material: Material, currency: str) -> list[str]:
    """What a buyer would conclude, in a sentence each; savings only where they are."""
    what = "width" if isinstance(material, RollMaterial) else "size"
    lines = []
    best = found.best(1)
    if best is None:
        lines.append(f"No single {what} on offer can cut everything.")
    else:
        lines.append(f"One {what}: {best.offers[0]}, {fixed(best.cost, 2)} {currency}.")
        if found.now is not None and not found.now.missing:
            lines[-1] += _against(found.now, best, currency, "what is bought now")
    for count, words in ((2, "two"), (3, "three")):
        more = found.best(count)
        if more is None:
            continue
        line = f"{words.capitalize()} {what}s: {' + '.join(more.offers)}, {fixed(more.cost, 2)} {currency}."
        if best is not None:
            line += _against(best, more, currency, f"the best with one {what} less")
        lines.append(line)
        best = more
    if isinstance(material, RollMaterial):
        lines.append("Lengths that are cut are counted, not whole rolls and minimum orders.")
        if material.one_lot and any(len(choice.offers) > 1 for choice in found.choices):
            lines.append(
                "With several widths the pieces of one product may come from two rolls: mind the dye lots."
            )
    return lines


def _against(before: Choice, after: Choice, currency: str, what: str) -> str:
    saved = before.cost - after.cost
    share = percent(abs(saved) / before.cost)
    if round(saved, 2) > 0:
        text = f" It saves {fixed(saved, 2)} {currency} ({share}) against {what}."
        if after.cost >= before.bound:
            # A better plan for what it is compared with may exist, and make up for it.
            text += " That is within what is not proven: search longer (--effort) to be sure."
        return text
    if round(saved, 2) < 0:
        return f" It costs {fixed(-saved, 2)} {currency} ({share}) more than {what}."
    return f" It saves nothing against {what}."


def choices_csv(found: Comparison, material: Material, currency: str) -> str:
    """All choices as CSV, as the workshop that `nesting.measures` was told of counts and writes."""
    out = io.StringIO()
    metric = counted_in(material)
    unit = amount(0.0, metric)[1] if metric else items_word(material)
    writer = csv.writer(out, lineterminator="\n", delimiter=delimiter())
    writer.writerow(
        [
            "sizes",
            f"used {unit}",
            f"cost {currency}",
            f"least possible {currency}",
            "not proven necessary %",
            "waste %",
            "pieces that cannot be cut",
        ]
    )
    for choice in found.choices:
        used = " + ".join(
            plain(amount(choice.used.get(name, 0.0), metric)[0] if metric else choice.used.get(name, 0.0), 2)
            for name in choice.offers
        )
        writer.writerow(
            [
                " + ".join(choice.offers),
                used,
                plain(choice.cost, 2),
                plain(choice.bound, 2),
                plain(100 * choice.gap, 2),
                plain(100 * choice.waste, 2),
                choice.missing,
            ]
        )
    return out.getvalue()


@shown_for(MACHINES)
def choices_values(found: Comparison, material: Material, currency: str) -> dict[str, Any]:
    """All choices for other programs, the cheapest first."""
    return {
        "material": material.key,
        "unit": counted_in(material) or items_word(material),
        "choices": [_values(choice, currency) for choice in found.choices],
        "as bought now": None if found.now is None else _values(found.now, currency),
        "advice": advice(found, material, currency),
    }


def _values(choice: Choice, currency: str) -> Mapping[str, Any]:
    return {
        "sizes": list(choice.offers),
        "used": {name: round(much, 3) for name, much in choice.used.items()},
        f"cost {currency}": round(choice.cost, 2),
        f"least possible {currency}": round(choice.bound, 2),
        "gap": round(choice.gap, 4),
        "waste": round(choice.waste, 4),
        "missing pieces": choice.missing,
    }
