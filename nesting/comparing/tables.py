"""A comparison as rows: for lists, for other programs, and for the screen."""

from __future__ import annotations

import csv
import io
import math
from typing import Any

from nesting.comparing.results import Breakpoint, Comparison, Row
from nesting.comparing.variants import AXES, size_of
from nesting.comparing.words import best_choices, breakpoint_words, money, side_words, subject, variant_name
from nesting.measures import (
    MACHINES,
    amount,
    delimiter,
    fixed,
    list_cell,
    measure,
    percent,
    shown_for,
    unit,
)

__all__ = [
    "breakpoint_table",
    "breakpoints_csv",
    "comparison_csv",
    "comparison_data",
    "comparison_table",
]

PLACES = {"m": 3, "m2": 3, "m3": 4}


def comparison_csv(comparison: Comparison) -> str:
    """A line for each case in each variant, as the workshop counts and writes numbers."""
    with shown_for(comparison.workshop):
        rows = [
            _line(comparison, row, place)
            for row in comparison.rows
            for place in range(len(comparison.variants))
        ]
        return _csv(rows, comparison.workshop.decimal)


def breakpoints_csv(comparison: Comparison) -> str:
    """A line for each breakpoint."""
    with shown_for(comparison.workshop):
        rows = [_point_line(comparison, point) for point in comparison.breakpoints]
        names = None if rows else ["change", f"now {unit()}", f"at {unit()}", "what fits", "saving a year"]
        return _csv(rows, comparison.workshop.decimal, names)


def _csv(rows: list[dict[str, Any]], decimal: str, names: list[str] | None = None) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, names or list(rows[0]), lineterminator="\n", delimiter=delimiter())
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(value, decimal) for name, value in row.items()})
    return out.getvalue()


def _cell(value: object, decimal: str) -> object:
    return str(value).replace(".", decimal) if isinstance(value, float) else value


def _line(comparison: Comparison, row: Row, place: int) -> dict[str, Any]:
    """Also what other programs get, then in mm and metric amounts."""
    variant, alone, mixed = comparison.variants[place], row.alone[place], row.mixed[place]
    sides = zip(AXES[comparison.material.kind], size_of(variant.material), strict=True)
    what = amount(0.0, alone.unit)[1]
    places = PLACES[alone.unit]
    coin = comparison.currency

    def count(value: float) -> float:
        return round(amount(value, alone.unit)[0], places)

    line: dict[str, Any] = {
        "model": row.case.model_name,
        "size": row.case.size_name,
        **{f"{comparison.material.kind} {axis} {unit()}": list_cell(measure(side)) for axis, side in sides},
        "present": "yes" if variant.present else "no",
        "cuttable": "yes" if alone.fits else f"no: {alone.reason}",
        "beds planned": alone.beds,
        f"material per bed {what}": count(alone.amount) if alone.fits else None,
        "waste %": round(100 * alone.waste, 2) if alone.fits else None,
        f"cost per bed {coin}": round(alone.cost, 3) if alone.fits else None,
        f"proven least {coin}": round(alone.least_cost, 3) if alone.fits else None,
        "gap %": round(100 * alone.gap, 2) if alone.fits else None,
    }
    if comparison.orders:
        line |= {
            f"in the mix: material per bed {what}": count(mixed.amount) if mixed else None,
            "in the mix: waste %": round(100 * mixed.waste, 2)
            if mixed and math.isfinite(mixed.waste)
            else None,
            f"in the mix: cost per bed {coin}": round(mixed.cost, 3) if mixed else None,
            f"in the mix: least {coin}": round(mixed.low, 3) if mixed else None,
            f"in the mix: most {coin}": round(mixed.high, 3) if mixed else None,
        }
    return line


def _point_line(comparison: Comparison, point: Breakpoint) -> dict[str, Any]:
    coin = comparison.currency
    head, fits, _ = breakpoint_words(comparison, point)
    short = None if math.isinf(point.cost_short) else round(point.cost_short, 3)
    return {
        "change": head,
        "what": point.name,
        f"now {unit()}": list_cell(side_words(point.now, point)),
        f"just short {unit()}": list_cell(side_words(point.short, point)),
        f"at {unit()}": list_cell(side_words(point.at, point)),
        f"cost per bed now {coin}": round(point.cost_now, 3),
        f"cost per bed just short {coin}": short,
        f"cost per bed at {coin}": round(point.cost_at, 3),
        f"saving per bed {coin}": round(point.saving, 3),
        f"proven saving per bed {coin}": round(point.sure, 3),
        "beds a year": point.volume,
        f"saving a year {coin}": round(point.yearly, 0),
        "step proven": "yes" if point.proven else "no",
        "waste now %": round(100 * point.waste_now, 2),
        "waste at %": round(100 * point.waste_at, 2),
        "what fits": fits,
    }


@shown_for(MACHINES)
def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """All of it for other programs: mm and metric amounts, always."""
    return {
        "range": comparison.range_name,
        "material": comparison.material.key,
        "orders file": comparison.orders,
        "made": comparison.made,
        "version": comparison.version,
        "all beds": [
            {
                "variant": variant.key,
                "present": variant.present,
                f"cost per bed {comparison.currency}": total and round(total[0], 3),
                f"proven least {comparison.currency}": total and round(total[1], 3),
                "waste %": total and round(100 * total[2], 2),
            }
            for variant, total in zip(comparison.variants, comparison.whole, strict=True)
        ],
        "counted as": comparison.shares,
        "cases": [
            {"variant": comparison.variants[place].key, **_number_sides(_line(comparison, row, place))}
            for row in comparison.rows
            for place in range(len(comparison.variants))
        ],
        "breakpoints": [_number_sides(_point_line(comparison, point)) for point in comparison.breakpoints],
        "best choices": best_choices(comparison),
        "assumptions": list(comparison.assumptions),
    }


def _number_sides(line: dict[str, Any]) -> dict[str, Any]:
    """Lengths as numbers: in mm they are written as plain numbers."""
    return {
        name: float(value) if name.endswith(" mm") and isinstance(value, str) else value
        for name, value in line.items()
    }


def comparison_table(comparison: Comparison) -> tuple[str, list[str], list[list[str]]]:
    """Title, headings and cells for the screen: a row for each case, a column for each variant."""
    with shown_for(comparison.workshop):
        headings = [
            "cost per bed (waste)",
            *(variant_name(comparison, place) for place in range(len(comparison.variants))),
        ]
        rows = []
        for row in comparison.rows:
            best = row.best()
            cells = []
            for place, one in enumerate(row.alone):
                mark = " *" if place == best else ""
                text = f"{fixed(one.cost, 2)} ({percent(one.waste)}){mark}" if one.fits else "does not fit"
                cells.append(text)
            rows.append([row.case.name, *cells])
            if any(row.mixed):
                rows.append(["  in the mix", *(_mixed_cell(mixed) for mixed in row.mixed)])
        rows.append(["all, as counted", *(_total_cell(total) for total in comparison.whole)])
        title = (
            f"{comparison.range_name}: {comparison.material.name}, {subject(comparison)}, {unit()}; "
            f"{comparison.currency}; * cheapest"
        )
        return title, headings, rows


def _mixed_cell(mixed: Any) -> str:
    if mixed is None:
        return "-"
    return f"{fixed(mixed.cost, 2)} ±{fixed(max(mixed.high - mixed.cost, mixed.cost - mixed.low), 2)}"


def _total_cell(total: tuple[float, float, float] | None) -> str:
    return "-" if total is None else f"{fixed(total[0], 2)} ({percent(total[2])})"


def breakpoint_table(comparison: Comparison) -> tuple[list[str], list[list[str]]]:
    """Headings and cells for the screen."""
    with shown_for(comparison.workshop):
        headings = ["change", f"now, {unit()}", "to", "save a bed", "a year", "of it proven"]
        rows = [
            [
                point.name,
                side_words(point.now, point),
                side_words(point.at, point),
                money(comparison, point.saving),
                money(comparison, point.yearly, 0),
                money(comparison, point.sure * point.volume, 0),
            ]
            for point in comparison.breakpoints
        ]
        return headings, rows
