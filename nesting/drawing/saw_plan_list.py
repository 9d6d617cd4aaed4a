"""The saw plan as a list: every cut of a foam block in the order of work, for the page and as CSV."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from nesting.drawing.cutlist import safe_cell
from nesting.drawing.pieces import measure
from nesting.drawing.tables import Column, Row, Table
from nesting.files import whole_file
from nesting.longblocks import length_cuts, long_blocks
from nesting.measures import cut_measure, delimiter, list_cell, unit, with_unit
from nesting.model import BlockMaterial, MaterialPlan
from nesting.sawcuts import AWKWARD, Freed, SawCut, SawPlan
from nesting.sawplan import ODDMENTS, saw_plans

__all__ = ["saw_plan_rows", "saw_plan_table", "write_saw_plan"]

COLUMNS = (
    Column("Cut", "end"),
    Column("Machine"),
    Column("On the table"),
    Column("From the"),
    Column("At, {unit}", "end"),
    Column("Frees"),
    Column("L x W x T, {unit}", "end"),
    Column("Goes to", gives_way=True),
)

CSV_HEADINGS = (
    "layout",
    "blocks",
    "cut",
    "machine",
    "on the table",
    "alike per block",
    "measured from",
    "measure {unit}",
    "frees",
    "what",
    "length {unit}",
    "width {unit}",
    "thickness {unit}",
    "per block",
    "in all",
    "goes to",
    "orders",
    "note",
)

MACHINES = {"slitter": "slitter", "vertical saw": "saw", "contour cutter": "contour"}
"""Short names of the machines, for the page."""

DUST = "only dust"
AWKWARD_SIGN = "  !"
"""On the page, the sign for what wants a push aid; the rules beside the picture explain it."""

PUSH = "push aid: a side is under {least}"


def saw_plan_table(plan: SawPlan, title: str) -> Table:
    """The cuts as a table; what a cut frees on both sides takes two rows."""
    rows: list[Row] = []
    for cut in plan.cuts:
        table = cut.part if cut.copies == 1 else f"{cut.part}  x {cut.copies}"
        machine = MACHINES[cut.machine]
        cells: tuple[str, ...] = (str(cut.number), machine, table, cut.face, _measure(cut))
        if not cut.frees:
            rows.append(Row((*cells, DUST, "", "")))
        for freed in cut.frees:
            name = freed.name if freed.side == "near" else f"beyond: {freed.name}"
            sign = AWKWARD_SIGN if _awkward(cut, freed) else ""
            rows.append(Row((*cells, name, _size(freed), f"{freed.goes_to}{sign}")))
            cells = ("", "", "", "", "")
    columns = tuple(replace(column, title=column.title.format(unit=unit())) for column in COLUMNS)
    return Table(title, columns, tuple(rows))


def _measure(cut: SawCut) -> str:
    """The measure of a cut; a cut along marked lines has none."""
    return "" if cut.axis is None else cut_measure(cut.measure)


def _size(freed: Freed) -> str:
    return " x ".join(measure(side) for side in freed.size)


def _awkward(cut: SawCut, freed: Freed) -> bool:
    return cut.machine == "vertical saw" and freed.awkward and freed.fate != "skin"


def saw_plan_rows(material_plan: MaterialPlan) -> Iterator[tuple[str, ...]]:
    """The rows of the list of a block material, layout by layout; see `CSV_HEADINGS`.

    Raises
    ------
    LayoutError
        When a layout has no tree of cuts, or refers to a piece that is not among the demands.
    """
    yield from _length_rows(material_plan)
    by_order = saw_plans(material_plan, "order")
    for number, plan in enumerate(saw_plans(material_plan), start=1):
        for cut, ordered in zip(plan.cuts, by_order[number - 1].cuts, strict=True):
            head = (
                str(number),
                str(plan.repeats),
                str(cut.number),
                cut.machine,
                cut.part,
                str(cut.copies),
                cut.face,
                list_cell(_measure(cut)),
            )
            if not cut.frees:
                yield (*head, DUST, *[""] * (len(CSV_HEADINGS) - len(head) - 1))
            for freed, told in zip(cut.frees, ordered.frees, strict=True):
                yield (
                    *head,
                    freed.name,
                    freed.fate,
                    *(list_cell(measure(side)) for side in freed.size),
                    str(cut.copies),
                    str(cut.copies * plan.repeats),
                    freed.goes_to,
                    told.goes_to if freed.fate == "piece" else "",
                    PUSH.format(least=with_unit(AWKWARD)) if _awkward(cut, freed) else "",
                )


def _length_rows(material_plan: MaterialPlan) -> Iterator[tuple[str, ...]]:
    """The cuts to length of long blocks, which come before all others."""
    material = material_plan.material
    assert isinstance(material, BlockMaterial)
    for block in long_blocks(material, material_plan.layouts):
        for number, cut in enumerate(length_cuts(material, block), start=1):
            frees = "skin, left end" if cut.layout is None else f"part for layout {cut.layout + 1}"
            yield (
                "cut to length",
                str(block.count),
                str(number),
                "vertical saw",
                block.name,
                "1",
                "left end",
                list_cell(cut_measure(cut.measure)),
                frees,
                "skin" if cut.layout is None else "part",
                list_cell(measure(cut.length)),
                list_cell(measure(material.width)),
                list_cell(measure(material.height)),
                "1",
                str(block.count),
                ODDMENTS["skin"] if cut.layout is None else f"layout {cut.layout + 1}",
                "",
                "",
            )


def write_saw_plan(material_plan: MaterialPlan, path: Path) -> None:
    """Write the saw plan of one block material as CSV, encoded and made safe like the cut list.

    Raises
    ------
    FileError
        When the file cannot be written.
    LayoutError
        As for `saw_plan_rows`.
    """
    with (
        whole_file(path) as part,
        part.open("w", encoding="utf-8-sig", newline="", errors="replace") as stream,
    ):
        writer = csv.writer(stream, delimiter=delimiter())
        writer.writerow([heading.format(unit=unit()) for heading in CSV_HEADINGS])
        for row in saw_plan_rows(material_plan):
            writer.writerow([safe_cell(cell) for cell in row])
