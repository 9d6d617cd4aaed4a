"""The account of a foam: what becomes of its blocks, what each layer and bed costs; on a page and as CSV."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from nesting.drawing.cutlist import safe_cell
from nesting.drawing.legend import COLUMN_GAP
from nesting.drawing.lettering import wrapped
from nesting.drawing.paper import LEADING, Header, Page, Paper
from nesting.drawing.pieces import size_text
from nesting.drawing.saw_plan_list import mass_unit
from nesting.drawing.scene import Text
from nesting.drawing.sketch import Box
from nesting.drawing.tables import Column, Row, Table, draw_tables, table_height
from nesting.files import whole_file
from nesting.measures import amount, delimiter, fixed, percent, plain
from nesting.model import MaterialPlan
from nesting.sawyield import COST_RULE, FoamYield, SawYield, foam_yield

__all__ = ["write_foam_cost", "write_foam_yield", "yield_pages"]

ALL = "all"

YIELD_COLUMNS = (
    Column("Layout", "end"),
    Column("From", gives_way=True),
    Column("Blocks", "end"),
    Column("Block {volume}", "end"),
    Column("Pieces", "end"),
    Column("Rests kept", "end"),
    Column("Clean scrap", "end"),
    Column("Skins", "end"),
    Column("Saw cuts", "end"),
    Column("Yield", "end"),
    Column("Block {mass}", "end"),
    Column("Rebond {mass}, clean / skin", "end"),
)

FROM = 1
"""Place of the column that says which block it is."""

REBOND_RULE = (
    "Yield: pieces over blocks as bought, by volume. Credit for rebond: mass x price x (1 - contamination); "
    "it makes neither the yield nor the cost of a layer better. Saw dust fetches nothing."
)

YIELD_HEADINGS = (
    "layout",
    "from",
    "blocks",
    "block {volume}",
    "pieces {volume}",
    "rests kept {volume}",
    "clean scrap {volume}",
    "skins {volume}",
    "saw cuts {volume}",
    "yield %",
    "block {mass}",
    "clean scrap {mass}",
    "skins {mass}",
    "cost {currency}",
    "worth of rests kept {currency}",
    "net cost {currency}",
    "rebond credit {currency}",
)

COST_HEADINGS = (
    "what",
    "no.",
    "code",
    "panel",
    "model",
    "size",
    "per bed",
    "{volume}",
    "{mass}",
    "cost {currency}",
    "rule",
)


def _volume(value: float) -> float:
    return amount(value, "m3")[0]


def _mass(value: float) -> float:
    return amount(value, "kg")[0]


def _named(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Columns with the workshop's units in their titles."""
    units = {"volume": amount(0.0, "m3")[1], "mass": mass_unit()}
    return tuple(replace(column, title=column.title.format(**units)) for column in columns)


def _amounts(volumes: SawYield) -> tuple[float, ...]:
    return (
        volumes.raw,
        volumes.pieces,
        volumes.remnants,
        volumes.scrap,
        volumes.skins,
        volumes.dust,
    )


def yield_pages(material_plan: MaterialPlan, header: Header, currency: str, paper: Paper) -> list[Page]:
    """The last pages of a foam: its account. What is wide stands above what goes into two columns."""
    found = foam_yield(material_plan)
    wide: tuple[Table, ...] = (_yield_table(found),)
    narrow: tuple[Table, ...] = (_money_table(found, currency), *_cost_tables(found, currency))
    pages: list[Page] = []
    while wide or narrow:
        page = Page(paper, header)
        body, least = page.body, paper.least
        high = body.high
        if not pages:
            for rule in (REBOND_RULE, COST_RULE):
                for line in wrapped(rule, body.width, least):
                    high -= LEADING * least
                    page.add(Text(body.left, high, line, least))
            high -= least
        before = wide, narrow
        if wide:
            rows = len(wide[0].rows)
            wide = draw_tables(page, wide, [Box(body.left, body.low, body.right, high)], least)
            high -= table_height(rows, least) + 2.0 * least
        if not wide:
            gap = COLUMN_GAP * least
            half = (body.width - gap) / 2.0
            lefts = (body.left, body.left + half + gap)
            narrow = draw_tables(
                page, narrow, [Box(left, body.low, left + half, high) for left in lefts], least
            )
        if pages and (wide, narrow) == before:
            break  # a page without room for a row would never end
        pages.append(page)
    return pages


def _yield_table(found: FoamYield) -> Table:
    rows = [
        _yield_row(str(each.layout or ""), each.name, each.repeats, each.volumes, each.rebond, found)
        for each in found.blocks
    ]
    count = sum(each.repeats for each in found.blocks if each.layout)
    rows.append(_yield_row(ALL, "", count, found.volumes, found.rebond, found))
    title = f"What becomes of the blocks, {amount(0.0, 'm3')[1]} (of one block; in the last line of all)"
    # Where a foam is bought in one size and nothing is from the shelf there is nothing to say of it.
    shown = [at for at, _ in enumerate(YIELD_COLUMNS) if at != FROM or any(row.cells[at] for row in rows)]
    columns = tuple(_named(YIELD_COLUMNS)[at] for at in shown)
    return Table(title, columns, tuple(Row(tuple(row.cells[at] for at in shown)) for row in rows))


def _yield_row(
    number: str, name: str, count: int, volumes: SawYield, rebond: tuple[float, float], found: FoamYield
) -> Row:
    amounts = [fixed(_volume(volume), 4) for volume in _amounts(volumes)]
    return Row(
        (
            number,
            name,
            str(count),
            *amounts,
            percent(volumes.shares[0]),
            fixed(_mass(found.mass(volumes.raw)), 1),
            " / ".join(fixed(_mass(mass), 1) for mass in rebond),
        )
    )


def _money_table(found: FoamYield, currency: str) -> Table:
    cubic = amount(0.0, "m3")[1]
    rows = (
        ("Blocks, rests from the shelf at their worth", found.cost),
        ("less worth of the rests kept", -found.rests),
        ("Net cost of the pieces", found.net),
        (f"Net cost of a {cubic} of pieces", found.rate / _volume(1.0)),
        ("Credit for rebond, not taken off", found.credit),
    )
    columns = (Column(""), Column(currency, "end"))
    return Table("Cost", columns, tuple(Row((words, fixed(money, 2))) for words, money in rows))


def _cost_tables(found: FoamYield, currency: str) -> Iterator[Table]:
    columns = (
        Column("No.", "end"),
        Column("Code"),
        Column("Model", gives_way=True),
        Column("Size", gives_way=True),
        Column("Length x width x thick", "end"),
        Column("Per bed", "end"),
        Column("{mass}", "end"),
        Column(currency, "end"),
    )
    rows = tuple(
        Row(
            (
                str(number),
                layer.demand.panel.code,
                layer.demand.model,
                layer.demand.size,
                size_text(layer.demand),
                str(layer.demand.panel.pieces),
                fixed(_mass(found.mass(layer.volume)), 2),
                fixed(layer.cost, 2),
            )
        )
        for number, layer in enumerate(found.layers, start=1)
    )
    bed_columns = (
        Column("Model"),
        Column("Size"),
        Column("{volume}", "end"),
        Column("{mass}", "end"),
        Column(currency, "end"),
    )
    beds = tuple(
        Row(
            (
                bed.model,
                bed.size,
                fixed(_volume(bed.volume), 4),
                fixed(_mass(found.mass(bed.volume)), 2),
                fixed(bed.cost, 2),
            )
        )
        for bed in found.beds
    )
    yield Table("All layers of this foam in one bed", _named(bed_columns), beds)
    yield Table("Layers, each", _named(columns), rows)


def write_foam_yield(material_plan: MaterialPlan, currency: str, path: Path) -> None:
    """Write what becomes of the blocks of a foam as CSV: a line for one block of each layout, one for all.

    Raises
    ------
    FileError
        When the file cannot be written.
    LayoutError
        When a layout has no tree of cuts.
    """
    found = foam_yield(material_plan)
    rows: list[tuple[object, ...]] = []
    for each in found.blocks:
        rows.append(
            (
                each.layout or "",
                each.name,
                each.repeats,
                *_csv_amounts(found, each.volumes, each.rebond),
                *_csv_money(each.cost, each.worth, each.credit),
            )
        )
    count = sum(each.repeats for each in found.blocks if each.layout)
    money = _csv_money(found.cost, found.rests, found.credit)
    rows.append((ALL, "", count, *_csv_amounts(found, found.volumes, found.rebond), *money))
    _write(path, YIELD_HEADINGS, currency, rows)


def _csv_amounts(found: FoamYield, volumes: SawYield, rebond: tuple[float, float]) -> tuple[str, ...]:
    return (
        *(plain(_volume(volume), 6) for volume in _amounts(volumes)),
        plain(100.0 * volumes.shares[0], 2),
        plain(_mass(found.mass(volumes.raw)), 2),
        *(plain(_mass(mass), 2) for mass in rebond),
    )


def _csv_money(cost: float, rests: float, credit: float) -> tuple[str, ...]:
    return tuple(plain(money, 2) for money in (cost, rests, cost - rests, credit))


def write_foam_cost(material_plan: MaterialPlan, currency: str, path: Path) -> None:
    """Write what each layer, and all layers of this foam in each bed, cost as CSV; the rule stands beside it.

    Raises
    ------
    FileError
        When the file cannot be written.
    LayoutError
        When a layout has no tree of cuts.
    """
    found = foam_yield(material_plan)
    rows: list[tuple[object, ...]] = [
        (
            "layer",
            number,
            layer.demand.panel.code,
            layer.demand.panel.name,
            layer.demand.model,
            layer.demand.size,
            layer.demand.panel.pieces,
            plain(_volume(layer.volume), 6),
            plain(_mass(found.mass(layer.volume)), 3),
            plain(layer.cost, 4),
            COST_RULE,
        )
        for number, layer in enumerate(found.layers, start=1)
    ]
    rows += [
        (
            "bed",
            "",
            "",
            "all layers of this foam",
            bed.model,
            bed.size,
            "",
            plain(_volume(bed.volume), 6),
            plain(_mass(found.mass(bed.volume)), 3),
            plain(bed.cost, 4),
            COST_RULE,
        )
        for bed in found.beds
    ]
    _write(path, COST_HEADINGS, currency, rows)


def _write(path: Path, headings: tuple[str, ...], currency: str, rows: list[tuple[object, ...]]) -> None:
    with (
        whole_file(path) as part,
        part.open("w", encoding="utf-8-sig", newline="", errors="replace") as stream,
    ):
        writer = csv.writer(stream, delimiter=delimiter())
        units = {"volume": amount(0.0, "m3")[1], "mass": mass_unit()}
        writer.writerow([heading.format(currency=currency, **units) for heading in headings])
        for row in rows:
            writer.writerow([safe_cell(cell) for cell in row])
