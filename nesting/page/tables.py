"""The tables of a page: cells that are read, values they sort by, and the same figures as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from nesting.drawing.cutlist import safe_cell
from nesting.measures import amount, delimiter, fixed, measure, percent, shown_amount, unit
from nesting.model import Demand, MaterialPlan, Plan

__all__ = ["Table", "losses_table", "materials_table", "pieces_table", "remnants_table"]

OPENED = {"roll": ("roll", "rolls"), "sheet": ("sheet", "sheets"), "block": ("block", "blocks")}


@dataclass(frozen=True, slots=True)
class Cell:
    """What is read; a number to sort by, where there is one; what stands in CSV, where that differs."""

    words: str
    value: float | None = None
    plain: str | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the page.

    Parameters
    ----------
    key
        Names it in the page and in the file for spreadsheets.
    headings
        One for each column.
    rows
        Cells of each row.
    total
        Cells of a last row that is never sorted; empty for none.
    """

    key: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    total: tuple[Cell, ...] = ()

    def html(self) -> str:
        """The table as markup."""
        columns = range(len(self.headings))
        kinds = [
            ' class="n"' if any(row[at].value is not None for row in self.rows) else "" for at in columns
        ]

        def cells(row: Sequence[Cell]) -> str:
            made = []
            for cell, kind in zip(row, kinds, strict=True):
                value = "" if cell.value is None else f' data-value="{cell.value:.10g}"'
                made.append(f"<td{kind}{value}>{escape(cell.words)}</td>")
            return f"<tr>{''.join(made)}</tr>\n"

        heads = "".join(
            f'<th scope="col"{kind}>{escape(heading)}</th>'
            for heading, kind in zip(self.headings, kinds, strict=True)
        )
        foot = f"<tfoot>{cells(self.total)}</tfoot>" if self.total else ""
        body = "".join(map(cells, self.rows))
        return (
            f'<div class="scroll"><table class="sorts" id="{self.key}">'
            f"<thead><tr>{heads}</tr></thead><tbody>\n{body}</tbody>{foot}</table></div>"
        )

    def csv(self) -> str:
        """The same rows for a spreadsheet, numbers without thousands."""
        out = io.StringIO()
        writer = csv.writer(out, delimiter=delimiter(), lineterminator="\n")
        writer.writerow(self.headings)
        for row in self.rows:
            writer.writerow([_plain(cell) for cell in row])
        return out.getvalue()


def _plain(cell: Cell) -> str:
    if cell.plain is not None:
        return cell.plain
    if cell.value is None:
        return str(safe_cell(cell.words))
    text = f"{cell.value:.10g}"
    return text.replace(".", ",") if delimiter() == ";" else text


def _number(value: float, places: int = 0) -> Cell:
    return Cell(fixed(value, places), value)


def _share(value: float) -> Cell:
    return Cell(percent(value), round(100.0 * value, 4))


def _amount(value: float, metric: str, places: int = 1) -> Cell:
    return Cell(shown_amount(value, metric, places), round(amount(value, metric)[0], 4))


def materials_table(plan: Plan) -> Table:
    """One row per material, with totals."""
    currency = plan.currency
    rows = []
    for part in plan.materials:
        figures = part.figures
        rows.append(
            (
                Cell(part.material.name),
                Cell(_taken(part)),
                _amount(figures.consumed, figures.unit),
                _number(figures.piece_count),
                _share(figures.efficiency),
                _share(figures.utilisation),
                _share(figures.gap),
                _number(figures.cost, 2),
                _amount(figures.mass, "kg", 0),
                _number(sum(missing.quantity for missing in part.missing.values())),
            )
        )
    total = (
        Cell("All materials"),
        Cell(""),
        Cell(""),
        _number(sum(part.figures.piece_count for part in plan.materials)),
        Cell(""),
        Cell(""),
        Cell(""),
        _number(sum(part.figures.cost for part in plan.materials), 2),
        _amount(sum(part.figures.mass for part in plan.materials), "kg", 0),
        _number(sum(missing.quantity for part in plan.materials for missing in part.missing.values())),
    )
    headings = (
        "Material",
        "Take",
        "Material taken",
        "Pieces",
        "Efficiency (usable width)",
        "Utilisation (all taken)",
        "Gap (not proven needed)",
        f"Cost {currency}",
        "Mass",
        "Cannot be cut",
    )
    return Table("materials", headings, tuple(rows), total)


def _taken(part: MaterialPlan) -> str:
    count = part.figures.stock_count
    word = OPENED[part.material.kind][count != 1]
    if part.material.kind == "roll":
        return f"{shown_amount(part.figures.roll_length, 'm')} from {count} {word}"
    return f"{count} {word}"


def losses_table(plan: Plan) -> Table:
    """One row per material and cause."""
    rows = []
    for part in plan.materials:
        figures = part.figures
        wholes = [("pieces", figures.pieces), ("rests kept", figures.remnants)]
        causes = [(loss.cause.replace("_", " "), loss.amount) for loss in figures.losses]
        for what, size in wholes + causes:
            share = size / figures.consumed if figures.consumed else 0.0
            rows.append((Cell(part.material.name), Cell(what), _amount(size, figures.unit, 2), _share(share)))
    return Table("losses", ("Material", "Where it goes", "Amount", "Share of material taken"), tuple(rows))


def pieces_table(plan: Plan) -> Table:
    """One row per material and kind of piece, with the orders it is for."""
    rows = []
    for part in plan.materials:
        for demand in part.demands:
            panel = demand.panel
            missing = part.missing.get(demand.key)
            rows.append(
                (
                    Cell(part.material.name),
                    Cell(panel.code),
                    Cell(panel.name),
                    Cell(demand.model),
                    Cell(demand.size),
                    Cell(measure(panel.length), panel.length),
                    Cell(measure(panel.width), panel.width),
                    Cell(measure(panel.thickness) if panel.thickness else "", panel.thickness or 0.0),
                    _number(demand.quantity),
                    _number(missing.quantity if missing else 0),
                    Cell(_orders(demand)),
                )
            )
    in_unit = unit()
    headings = (
        "Material",
        "Code",
        "Piece",
        "Model",
        "Size",
        f"Length {in_unit}",
        f"Width {in_unit}",
        f"Thickness {in_unit}",
        "Wanted",
        "Cannot be cut",
        "Orders (pieces)",
    )
    return Table("pieces", headings, tuple(rows))


def _orders(demand: Demand) -> str:
    return "; ".join(f"{share.order} ({share.pieces})" for share in demand.orders)


def remnants_table(plan: Plan) -> Table:
    """One row per kind of rest that is worth keeping."""
    rows = tuple(
        (
            Cell(part.material.name),
            Cell(rest.source),
            Cell(measure(rest.length), rest.length),
            Cell(measure(rest.width), rest.width),
            Cell(measure(rest.height) if rest.height else "", rest.height),
            _number(rest.quantity),
        )
        for part in plan.materials
        for rest in part.remnants
    )
    in_unit = unit()
    headings = (
        "Material",
        "From",
        f"Length {in_unit}",
        f"Width {in_unit}",
        f"Height {in_unit}",
        "How many",
    )
    return Table("remnants", headings, rows)
