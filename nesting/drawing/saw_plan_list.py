"""The saw plan as a list: every cut of a foam block in the order of work, for the page and as CSV."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from nesting.blocks import layout_block
from nesting.drawing.cutlist import safe_cell
from nesting.drawing.pieces import measure
from nesting.drawing.tables import Column, Row, Table
from nesting.files import whole_file
from nesting.longblocks import length_cuts, long_blocks
from nesting.measures import (
    amount,
    cut_measure,
    delimiter,
    fixed,
    list_cell,
    plain,
    shown_amount,
    unit,
    with_unit,
)
from nesting.model import BlockMaterial, MaterialPlan
from nesting.sawcuts import AWKWARD, Freed, Grouping, SawCut, SawPlan
from nesting.sawplan import ODDMENTS, saw_plans
from nesting.sawseries import SawSeries, saw_series

__all__ = ["HEAVY_SIGN", "mass_unit", "saw_plan_rows", "saw_plan_table", "write_saw_plan"]

COLUMNS = (
    Column("Cut", "end"),
    Column("Machine"),
    Column("On the table"),
    Column("From the"),
    Column("At, {unit}", "end"),
    Column("Frees"),
    Column("L x W x T, {unit}", "end"),
    Column("{mass}", "end"),
    Column("Goes to", gives_way=True),
)

GOES_TO = "goes to"

CSV_HEADINGS = (
    "layout",
    "from",
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
    "{mass}",
    "per block",
    "in all",
    GOES_TO,
    "orders",
    "note",
)

MACHINES = {"slitter": "slitter", "vertical saw": "saw", "contour cutter": "contour"}
"""Short names of the machines, for the page."""

DUST = "only dust"
AWKWARD_SIGN = "  !"
"""On the page, the sign for what wants a push aid; the rules beside the picture explain it."""

HEAVY_SIGN = "#"
"""On the page, the sign beside the mass of what takes two people or a lifting aid."""

PUSH = "push aid: a side is under {least}"
HEAVY = "two people or a lifting aid: above {most}"


def saw_plan_table(plan: SawPlan, material: BlockMaterial, title: str) -> Table:
    """The cuts as a table; those at equal distances are one line, what they free on both sides two."""
    rows: list[Row] = []
    # Inches are rounded: added up they would run away, so every cut is told for itself.
    for line in saw_series(plan, joined=unit() == "mm"):
        cut = line.first
        table = cut.part if cut.copies == 1 else f"{cut.part}  x {cut.copies}"
        machine = MACHINES[cut.machine]
        cells: tuple[str, ...] = (_numbers(line), machine, table, cut.face, _measures(line))
        if not cut.frees and not line.beyond:
            rows.append(Row((*cells, DUST, "", "", "")))
        for freed in (*cut.frees, *line.beyond):
            times = f"{line.count} x " if line.count > 1 else ""
            name = f"{times}{freed.name}" if freed.side == "near" else f"beyond: {freed.name}"
            sign = AWKWARD_SIGN if _awkward(cut, freed) else ""
            rows.append(Row((*cells, name, _size(freed), _mass(freed, material), f"{freed.goes_to}{sign}")))
            cells = ("", "", "", "", "")
    columns = tuple(
        replace(column, title=column.title.format(unit=unit(), mass=mass_unit())) for column in COLUMNS
    )
    return Table(title, columns, tuple(rows))


def _numbers(line: SawSeries) -> str:
    return str(line.first.number) if line.count == 1 else f"{line.first.number}–{line.last_number}"


def _measures(line: SawSeries) -> str:
    """``"90"``; ``"90, 181"``; ``"90, every 91 to 363"``."""
    first, last = _measure(line.first), cut_measure(line.last_measure)
    if line.count == 1:
        return first
    if line.count == 2:
        return f"{first}, {last}"
    return f"{first}, every {cut_measure(line.step)} to {last}"


def mass_unit() -> str:
    """The unit in which masses are told."""
    return amount(0.0, "kg")[1]


def _measure(cut: SawCut) -> str:
    """The measure of a cut; a cut along marked lines has none."""
    return "" if cut.axis is None else cut_measure(cut.measure)


def _size(freed: Freed) -> str:
    return " x ".join(measure(side) for side in freed.size)


def _mass(freed: Freed, material: BlockMaterial) -> str:
    mass = freed.mass(material.density)
    sign = f" {HEAVY_SIGN}" if mass > material.lift_limit else ""
    return f"{fixed(amount(mass, 'kg')[0], 1)}{sign}"


def _awkward(cut: SawCut, freed: Freed) -> bool:
    return cut.machine == "vertical saw" and freed.awkward and freed.fate != "skin"


def saw_plan_rows(material_plan: MaterialPlan, group: Grouping = "product") -> Iterator[tuple[str, ...]]:
    """The rows of the list of a block material, layout by layout, every cut for itself; see `CSV_HEADINGS`.

    Parameters
    ----------
    group
        Whether pieces go to the piles of their products or to their orders.

    Raises
    ------
    LayoutError
        When a layout has no tree of cuts, or refers to a piece that is not among the demands.
    """
    yield from _length_rows(material_plan)
    by_order = saw_plans(material_plan, "order")
    plans = by_order if group == "order" else saw_plans(material_plan)
    for number, plan in enumerate(plans, start=1):
        block = layout_block(material_plan, number - 1)
        for cut, ordered in zip(plan.cuts, by_order[number - 1].cuts, strict=True):
            head = (
                str(number),
                block.name,
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
                    plain(amount(freed.mass(block.material.density), "kg")[0], 2),
                    str(cut.copies),
                    str(cut.copies * plan.repeats),
                    freed.goes_to,
                    told.goes_to if freed.fate == "piece" else "",
                    "; ".join(_notes(cut, freed, block.material)),
                )


def _notes(cut: SawCut, freed: Freed, material: BlockMaterial) -> Iterator[str]:
    if _awkward(cut, freed):
        yield PUSH.format(least=with_unit(AWKWARD))
    if freed.mass(material.density) > material.lift_limit:
        yield HEAVY.format(most=shown_amount(material.lift_limit, "kg", 0))


def _length_rows(material_plan: MaterialPlan) -> Iterator[tuple[str, ...]]:
    """The cuts to length of long blocks, which come before all others."""
    material = material_plan.material
    assert isinstance(material, BlockMaterial)
    for block in long_blocks(material, material_plan.layouts, material_plan.shelf):
        own = block.material
        for number, cut in enumerate(length_cuts(own, block), start=1):
            frees = "skin, left end" if cut.layout is None else f"part for layout {cut.layout + 1}"
            mass = cut.length * own.width * own.height * own.density / 1e9
            yield (
                "cut to length",
                block.key,
                str(block.count),
                str(number),
                "vertical saw",
                block.name,
                "1",
                "left end",
                list_cell(cut_measure(cut.measure)),
                frees,
                "skin" if cut.layout is None else "part",
                *(list_cell(measure(side)) for side in (cut.length, own.width, own.height)),
                plain(amount(mass, "kg")[0], 2),
                "1",
                str(block.count),
                ODDMENTS["skin"] if cut.layout is None else f"layout {cut.layout + 1}",
                "",
                HEAVY.format(most=shown_amount(own.lift_limit, "kg", 0)) if mass > own.lift_limit else "",
            )


def write_saw_plan(material_plan: MaterialPlan, path: Path, group: Grouping = "product") -> None:
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
        grouped = f"{GOES_TO} (by {group})"
        headings = [grouped if heading == GOES_TO else heading for heading in CSV_HEADINGS]
        writer.writerow([heading.format(unit=unit(), mass=mass_unit()) for heading in headings])
        for row in saw_plan_rows(material_plan, group):
            writer.writerow([safe_cell(cell) for cell in row])
