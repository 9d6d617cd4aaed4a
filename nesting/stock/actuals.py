"""Planned against actual, and what is still to be cut: as tables, as values for programs, as CSV."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from nesting.measures import delimiter, list_cell, measure, shown_amount, unit, with_unit
from nesting.model import Demand, MaterialPlan, Plan, RollMaterial
from nesting.stock.booking import Outcome
from nesting.stock.bookings import Booking
from nesting.stock.plies import counted, ply_length
from nesting.stock.views import local_time, piece_values

__all__ = [
    "actual_rows",
    "actual_table",
    "booking_table",
    "booking_values",
    "open_cells",
    "open_rows",
    "open_table",
    "outcome_lines",
    "outcome_values",
    "write_open",
]


def actual_rows(
    plan: Plan, bookings: Sequence[Booking], still: dict[str, tuple[Demand, ...]]
) -> list[dict[str, Any]]:
    """One row for every layout, and one for every material with its totals (``"layout": None``).

    Parameters
    ----------
    bookings
        Those that count.
    still
        What is still to be cut, by material.
    """
    rows = []
    for part in plan.materials:
        own = [booking for booking in bookings if booking.material == part.material.key]
        for number, layout in enumerate(part.layouts, start=1):
            cut = [booking for booking in own if booking.layout == number]
            rows.append(_row(part, number, layout.repeats, cut))
        total = _row(part, None, sum(layout.repeats for layout in part.layouts), own)
        wanted = sum(demand.quantity for demand in part.demands)
        left = sum(demand.quantity for demand in still.get(part.material.key, ()))
        rows.append({**total, "pieces wanted": wanted, "pieces still to cut": left})
    return rows


def _row(part: MaterialPlan, number: int | None, repeats: int, cut: Sequence[Booking]) -> dict[str, Any]:
    pieces = [one for booking in cut for one in booking.pieces]
    planned = sum(booking.planned_length for booking in cut)
    used = sum(booking.length_used for booking in cut)
    row: dict[str, Any] = {
        "material": part.material.key,
        "name": part.material.name,
        "layout": number,
        "plies planned": repeats,
        "plies cut": sum(booking.plies for booking in cut),
        "pieces good": sum(one.good for one in pieces),
        "pieces damaged": sum(one.damaged for one in pieces),
        "pieces not cut": sum(one.not_cut for one in pieces),
        "from": [piece for piece in dict.fromkeys(booking.piece for booking in cut) if piece],
    }
    if isinstance(part.material, RollMaterial):
        if number is not None:
            row["length of a ply mm"] = round(ply_length(part, part.layouts[number - 1]), 1)
        row["length planned mm"] = round(planned, 1)
        row["length used mm"] = round(used, 1)
        row["length over mm"] = round(used - planned, 1)
    return row


def actual_table(rows: Sequence[dict[str, Any]], *, touched_only: bool) -> tuple[list[str], list[list[str]]]:
    """Headings and cells of planned against actual.

    Parameters
    ----------
    touched_only
        Leave out layouts of which nothing is booked; the totals count them all the same.
    """
    headings = [
        "material",
        "layout",
        "plies cut",
        "length planned",
        "length used",
        "over",
        "good",
        "damaged",
        "not cut",
        "still to cut",
        "from",
    ]
    cells = []
    for row in rows:
        if touched_only and row["layout"] is not None and not row["plies cut"]:
            continue
        roll = "length used mm" in row
        over = row.get("length over mm", 0.0)
        cells.append(
            [
                row["material"],
                "all" if row["layout"] is None else str(row["layout"]),
                f"{row['plies cut']} of {row['plies planned']}",
                _metres(row["length planned mm"]) if roll else "",
                _metres(row["length used mm"]) if roll else "",
                ("+" if over > 0 else "") + _metres(over) if over else "",
                str(row["pieces good"]),
                str(row["pieces damaged"] or ""),
                str(row["pieces not cut"] or ""),
                str(row.get("pieces still to cut", "")),
                ", ".join(row["from"]),
            ]
        )
    return headings, cells


def _metres(length: float) -> str:
    return shown_amount(length / 1e3, "m", 2)


def booking_values(booking: Booking) -> dict[str, Any]:
    """A booking for other programs."""
    return {
        "booking": booking.number,
        "made together with": booking.batch,
        "plan": booking.plan,
        "material": booking.material,
        "layout": booking.layout,
        "plies": booking.plies,
        "length planned mm": booking.planned_length,
        "length used mm": booking.length_used,
        "piece": booking.piece,
        "at": booking.at,
        "who": booking.who,
        "note": booking.note,
        "undone": booking.undone,
        "undone by": booking.undone_by,
        "pieces": [
            {
                "piece": one.key,
                "planned": one.planned,
                "good": one.good,
                "damaged": one.damaged,
                "not cut": one.not_cut,
            }
            for one in booking.pieces
        ],
    }


def booking_table(bookings: Sequence[Booking]) -> tuple[list[str], list[list[str]]]:
    """Headings and cells of the bookings in their order."""
    headings = ["booking", "when", "who", "material", "layout", "plies", "from", "used", "damaged", "note"]
    return headings, [
        [
            str(booking.number),
            local_time(booking.at),
            booking.who,
            booking.material,
            str(booking.layout),
            str(booking.plies),
            booking.piece,
            _metres(booking.length_used) if booking.planned_length else "",
            "; ".join(f"{one.key} x{one.damaged}" for one in booking.pieces if one.damaged),
            "; ".join(filter(None, (booking.note, _undone(booking)))),
        ]
        for booking in bookings
    ]


def _undone(booking: Booking) -> str:
    return f"undone {local_time(booking.undone)} by {booking.undone_by}" if booking.undone else ""


def outcome_values(outcome: Outcome) -> dict[str, Any]:
    """What a booking did, for other programs."""
    return {
        "bookings": [booking_values(booking) for booking in outcome.bookings],
        "stock": [piece_values(held) for held in outcome.pieces],
        "remnants": [piece_values(held) for held in outcome.remnants],
        "notes": list(outcome.notes),
    }


def outcome_lines(outcome: Outcome) -> list[str]:
    """What was booked, a line for every piece of stock, then what became of the pieces."""
    lines = []
    good: Counter[str] = Counter()
    damaged: Counter[str] = Counter()
    not_cut: Counter[str] = Counter()
    for booking in outcome.bookings:
        line = f"Layout {booking.layout} of {booking.material}: {counted(outcome.kind, booking.plies)}"
        if booking.planned_length:
            line += f", {with_unit(booking.length_used)}"
            if abs(booking.length_used - booking.planned_length) >= 0.05:
                line += f" (planned {with_unit(booking.planned_length)})"
        lines.append(line + (f" of {booking.piece}." if booking.piece else "; stock is not changed."))
        for pieces in booking.pieces:
            good[pieces.key] += pieces.good
            damaged[pieces.key] += pieces.damaged
            not_cut[pieces.key] += pieces.not_cut
    for key, count in good.items():
        faults = ""
        for many, word in ((damaged, "damaged"), (not_cut, "not cut")):
            if many[key]:
                faults += f"; {many[key]} {word}, to be cut again"
        lines.append(f"  {key}: {count} good{faults}")
    return lines


OPEN_HEADINGS = (
    "order",
    "due",
    "model",
    "size",
    "material",
    "panel",
    "name",
    "length mm",
    "width mm",
    "thickness mm",
    "still to cut",
    "piece",
)
"""No column is called quantity: an order book counts beds, this list counts pieces."""


def open_rows(still: dict[str, tuple[Demand, ...]]) -> list[dict[str, Any]]:
    """What is still to be cut: a row for every panel and order, the earliest due first."""
    rows = []
    for material, demands in still.items():
        for demand in demands:
            waiting = [(share.order, share.due, share.pieces) for share in demand.orders]
            spare = demand.quantity - sum(pieces for _, _, pieces in waiting)
            if spare > 0:
                waiting.append(("", "", spare))
            panel = demand.panel
            for order, due, pieces in waiting:
                values = (
                    order,
                    due,
                    demand.model,
                    demand.size,
                    material,
                    panel.code,
                    panel.name,
                    panel.length,
                    panel.width,
                    panel.thickness,
                    pieces,
                    demand.key,
                )
                rows.append(dict(zip(OPEN_HEADINGS, values, strict=True)))
    return sorted(rows, key=lambda row: (not row["due"], row["due"]))


def open_cells(rows: Sequence[dict[str, Any]]) -> tuple[list[str], list[list[Any]]]:
    """Headings and cells of what is still to be cut, as the workshop writes measures."""
    headings = [heading.replace(" mm", f" {unit()}") for heading in OPEN_HEADINGS]
    cells = [
        [
            list_cell(measure(value)) if heading.endswith(" mm") and value is not None else value
            for heading, value in row.items()
        ]
        for row in rows
    ]
    return headings, cells


def open_table(rows: Sequence[dict[str, Any]]) -> tuple[list[str], list[list[str]]]:
    """The same for the screen, with the columns that tell pieces apart."""
    headings, cells = open_cells(rows)
    shown = [OPEN_HEADINGS.index(name) for name in ("order", "due", "material", "piece")]
    shown += [OPEN_HEADINGS.index(name) for name in ("length mm", "width mm", "still to cut")]
    return [headings[at] for at in shown], [[str(row[at]) for at in shown] for row in cells]


def write_open(still: dict[str, tuple[Demand, ...]], path: Path) -> None:
    """Write what is still to be cut as CSV.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    from nesting.drawing.cutlist import safe_cell
    from nesting.files import whole_file

    with whole_file(path) as part, part.open("w", encoding="utf-8-sig", newline="") as stream:
        headings, cells = open_cells(open_rows(still))
        writer = csv.writer(stream, delimiter=delimiter())
        writer.writerow(headings)
        for row in cells:
            writer.writerow([safe_cell(cell) for cell in row])
