"""The summary of a plan: one row per material, as CSV, JSON and a table for the screen."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from nesting.measures import MACHINES, amount, delimiter, fixed, percent, reworded, shown_amount, shown_for
from nesting.model import MaterialPlan, Plan
from nesting.reports.foam import foam_account, foam_money, foam_of

__all__ = ["missing_lines", "open_lines", "summary", "summary_csv", "summary_json", "summary_rows", "table"]

OPENED = {"roll": "rolls", "sheet": "sheets", "block": "blocks"}


def summary_rows(plan: Plan) -> list[dict[str, Any]]:
    """One row per material; every number carries its unit in the column name.

    Amounts are as the workshop counts them that `nesting.measures` was told of, by default metric.
    """
    causes = sorted({loss.cause for part in plan.materials for loss in part.figures.losses})
    return [_row(part, plan.currency, causes) for part in plan.materials]


def _row(part: MaterialPlan, currency: str, causes: list[str]) -> dict[str, Any]:
    figures = part.figures
    losses = {loss.cause: loss.amount for loss in figures.losses}
    bound, value, counted_in = _comparable(part)
    length, run = amount(figures.roll_length, "m")
    mass, heavy = amount(figures.mass, "kg")

    def count(metric: float) -> float:
        return round(amount(metric, figures.unit)[0], 4)

    return {
        "material": part.material.key,
        "name": part.material.name,
        "kind": part.material.kind,
        "opened": figures.stock_count,
        "opened in": OPENED[part.material.kind],
        f"roll length {run}": round(length, 3),
        "pieces": figures.piece_count,
        "different layouts": len(part.layouts),
        "unit": amount(0.0, figures.unit)[1],
        "consumed": count(figures.consumed),
        "piece area or volume": count(figures.pieces),
        **{f"loss: {cause}": count(losses.get(cause, 0.0)) for cause in causes},
        "remnants kept": count(figures.remnants),
        "efficiency %": round(100 * figures.efficiency, 2),
        "utilisation %": round(100 * figures.utilisation, 2),
        "planned": value,
        "proven least": bound,
        "planned in": counted_in or currency,
        "gap %": round(100 * figures.gap, 2),
        f"cost {currency}": round(figures.cost, 2),
        **foam_money(foam_of(part), currency),
        f"mass {heavy}": round(mass, 1),
        "missing pieces": sum(missing.quantity for missing in part.missing.values()),
        "left open": sum(left.demand.quantity for left in part.open),
    }


def _comparable(part: MaterialPlan) -> tuple[float, float, str]:
    """Bound, value and unit as people compare them: metres or yards for rolls, money (no unit) otherwise.

    Rolls from the shelf count as much new roll as they are worth.
    """
    bound, value, what = part.figures.bound, part.figures.value, ""
    if part.material.kind == "roll":
        (bound, run), (value, _) = amount(bound / 1e3, "m"), amount(value / 1e3, "m")
        what = f"{run} of new roll in worth" if part.shelf else f"{run} of marker"
    return round(bound, 3), round(value, 3), what


def summary_csv(plan: Plan) -> str:
    """The rows as CSV, as the workshop counts and writes numbers."""
    out = io.StringIO()
    with shown_for(plan.workshop):
        rows = summary_rows(plan)
        names = list(rows[0]) if rows else ["material"]
        writer = csv.DictWriter(out, fieldnames=names, lineterminator="\n", delimiter=delimiter())
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(value, plan.workshop.decimal) for name, value in row.items()})
    return out.getvalue()


def _cell(value: object, decimal: str) -> object:
    return str(value).replace(".", decimal) if isinstance(value, float) else value


@shown_for(MACHINES)
def summary(plan: Plan) -> dict[str, Any]:
    """The rows, with what made the plan, totals, remnants and missing pieces; always metric."""
    return {
        "number": plan.number,
        "range": plan.range_name,
        "range file": plan.range_file,
        "orders file": plan.orders_file,
        "made": plan.made,
        "version": plan.version,
        "seed": plan.seed,
        "due from": plan.first_due,
        "due to": plan.last_due,
        "beds": plan.beds,
        f"cost {plan.currency}": round(sum(part.figures.cost for part in plan.materials), 2),
        "materials": summary_rows(plan),
        "foam": [
            foam_account(found, plan.currency) for found in map(foam_of, plan.materials) if found is not None
        ],
        "remnants": [
            {
                "material": part.material.key,
                "from": remnant.source,
                "length mm": round(remnant.length, 1),
                "width mm": round(remnant.width, 1),
                **({"height mm": round(remnant.height, 1)} if remnant.height else {}),
                "quantity": remnant.quantity,
            }
            for part in plan.materials
            for remnant in part.remnants
        ],
        "stock": [
            {
                "material": part.material.key,
                "piece": use.piece,
                "lot": lots[use.piece],
                "used mm": round(use.used, 1),
                "rest mm": round(use.rest, 1),
                "layouts": [{"layout": index + 1, "plies": plies} for index, plies in use.cuts],
            }
            for part in plan.materials
            for lots in [{piece.id: piece.lot for piece in part.shelf}]
            for use in part.stock
            if use.piece
        ],
        "missing": [
            {
                "material": part.material.key,
                "piece": key,
                "quantity": missing.quantity,
                "reason": missing.reason,
            }
            for part in plan.materials
            for key, missing in part.missing.items()
        ],
        "open": [
            {
                "material": part.material.key,
                "piece": left.demand.key,
                "quantity": left.demand.quantity,
                "reason": left.reason,
            }
            for part in plan.materials
            for left in part.open
        ],
        "notes": [f"{part.material.name}: {note}" for part in plan.materials for note in part.notes],
    }


def summary_json(plan: Plan) -> str:
    """The summary as JSON."""
    return json.dumps(summary(plan), indent=1, ensure_ascii=False) + "\n"


def missing_lines(plan: Plan) -> list[str]:
    """What cannot be cut and why, a line each; empty when all can."""
    with shown_for(plan.workshop):
        return [
            f"Cannot be cut: {missing.quantity} x {key} from {part.material.name}: "
            + f"{reworded(missing.reason)}."
            for part in plan.materials
            for key, missing in part.missing.items()
        ]


MOST_OPEN = 8
"""Most kinds of pieces left open that are named on screen."""


def open_lines(plan: Plan) -> list[str]:
    """What is left open on purpose, in a few lines; empty when nothing is."""
    left = [item for part in plan.materials for item in part.open]
    if not left:
        return []
    # The first due first, as it has to be cut next.
    left.sort(key=lambda item: min((share.due for share in item.demand.orders), default="9999"))
    lines = [f"Left open: {sum(item.demand.quantity for item in left)} pieces."]
    for item in left[:MOST_OPEN]:
        due = min((share.due for share in item.demand.orders), default="")
        first = f", first due {due}" if due else ""
        lines.append(f"  {item.demand.quantity} x {item.demand.key}{first}: {item.reason}")
    if len(left) > MOST_OPEN:
        more = len(left) - MOST_OPEN
        lines.append(f"  and {more} more {'kind' if more == 1 else 'kinds'}: see summary.json")
    return lines


def table(plan: Plan) -> tuple[list[str], list[list[str]]]:
    """Headings and cells of the short table shown on screen, with a total."""
    headings = ["material", "take", "pieces", "efficiency", "utilisation", "gap", f"cost {plan.currency}"]
    with shown_for(plan.workshop):
        return headings, _cells(plan)


def _cells(plan: Plan) -> list[list[str]]:
    rows = [
        [
            part.material.name,
            _take(part),
            f"{part.figures.piece_count}",
            percent(part.figures.efficiency),
            percent(part.figures.utilisation),
            percent(part.figures.gap),
            fixed(part.figures.cost, 2),
        ]
        for part in plan.materials
    ]
    total = sum(part.figures.cost for part in plan.materials)
    pieces = sum(part.figures.piece_count for part in plan.materials)
    rows.append(["all materials", "", f"{pieces}", "", "", "", fixed(total, 2)])
    return rows


def _take(part: MaterialPlan) -> str:
    count = part.figures.stock_count
    opened = OPENED[part.material.kind]
    opened = opened if count != 1 else opened[:-1]
    if part.material.kind == "roll":
        return f"{shown_amount(part.figures.roll_length, 'm')} from {count} {opened}"
    return f"{count} {opened}"
