"""The supply table: how each material is bought, what of it is on its way, how much is kept in reserve."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from nesting.blocks import block_sizes
from nesting.buying.demand import number_in
from nesting.buying.ordering import Terms
from nesting.buying.shelf import usual_volume
from nesting.buying.weeks import MOST_WEEKS, Weeks
from nesting.catalogue import Range
from nesting.errors import InputError
from nesting.measures import IMPERIAL
from nesting.model import BlockMaterial, Material, RollMaterial
from nesting.reading.cells import cell_text, read_number
from nesting.reading.findings import Findings
from nesting.reading.tables import Cell, Row, read_table
from nesting.reading.units import MM_PER_UNIT

__all__ = ["Arrival", "Supply", "read_supply", "standard_supply"]

METRES = {**{unit: mm / 1e3 for unit, mm in MM_PER_UNIT.items() if unit != "mm"}, "yd": IMPERIAL["m"][1]}
"""Metres in each unit that lengths on rolls may be given in."""

_AMOUNTS: Mapping[str, tuple[str, ...]] = {
    "moq": ("minimum order", "minimum order quantity", "minimum", "least order", "min order"),
    "on order": ("ordered", "open order", "open orders", "on its way", "in transit"),
    "on hand": ("in stock", "stock", "stock on hand"),
    "safety": ("safety stock", "reserve"),
    "item size": ("roll length", "supplier item size", "item length", "length of a roll"),
}
"""Columns of amounts. For each there may be one with a unit: ``moq (m)``."""

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "material": ("material key", "material name", "cloth", "fabric", "foam", "article", "quality"),
    "supplier": ("supplier name", "vendor", "bought from"),
    "lead weeks": ("lead time", "lead", "lead time weeks"),
    "review weeks": ("review", "review interval", "order interval", "order every weeks"),
    "multiple": ("sold in", "order multiple", "multiples", "pack"),
    "week": ("due week", "arrives", "arrival", "on order week", "due", "expected"),
    "price": ("unit price",),
    "service": ("service level",),
    **{
        heading: tuple(f"{word}{tail}" for word in words)
        for column, words in _AMOUNTS.items()
        for unit in ("", *METRES)
        for tail in (f" {unit}" if unit else "",)
        for heading in (f"{column}{tail}",)
    },
}
"""The columns of a supply table and what else they may be called; all but the material may be absent.

Bare amounts are rolls, sheets or blocks; with a unit (``500 m``, ``550 yd``), in the cell or the heading,
they are lengths on rolls. The price is per metre of roll, per sheet or per m3 of block, as in the range file.
A material may have several rows: one for each delivery that is on its way.
"""

_AMOUNT = re.compile(r"\s*([0-9][0-9., \u00a0\u202f]*?)\s*(rolls?|sheets?|blocks?|cm|m|in|ft|yd)?\s*")


@dataclass(frozen=True, slots=True)
class Arrival:
    """What is on order: the week it is there (less than 1: late already), and how much."""

    week: int
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """How one material is bought. Amounts are metres of roll, sheets or blocks.

    Parameters
    ----------
    on_hand
        What is there besides what a stock list or ledger says.
    safety
        Reserve to keep; None: by the service level.
    service
        Share of covers in which there is to be enough; None: that of the command.
    told
        Whether the supply table speaks of it; otherwise it is bought as `standard_supply` says.
    """

    material: str
    supplier: str = ""
    terms: Terms = field(default_factory=Terms)
    on_hand: float = 0.0
    arrivals: tuple[Arrival, ...] = ()
    safety: float | None = None
    service: float | None = None
    told: bool = True


def standard_supply(material: Material) -> Supply:
    """What is taken where a supply table says nothing: there in a week, ordered weekly, by the whole item."""
    if isinstance(material, RollMaterial):
        terms = Terms(item=material.roll_length / 1e3, price=material.price)
    else:
        first = block_sizes(material)[0].price if isinstance(material, BlockMaterial) else material.price
        terms = Terms(price=_per_item(material, first or 0.0))
    return Supply(material=material.key, terms=terms, told=False)


def _per_item(material: Material, price: float) -> float:
    """Price per metre, sheet or block of the usual size: the range gives that of blocks per m3."""
    if isinstance(material, BlockMaterial):
        return price * usual_volume(material)
    return price


def read_supply(path: str | os.PathLike[str], range_: Range, weeks: Weeks) -> dict[str, Supply]:
    """Read and check a supply table (CSV or XLSX) with the columns `COLUMNS`.

    Returns
    -------
    dict
        By key of the material; only those that the table names.

    Raises
    ------
    InputError
        With every problem found.
    """
    findings = Findings(os.fspath(path))
    optional = [column for column in COLUMNS if column != "material"]
    rows = list(read_table(path, COLUMNS, findings, kind="a supply table", optional=optional))
    if not rows and not len(findings):
        findings.add("the file", "headings only", "at least one material", "Add rows below the headings.")
    found: dict[str, Supply] = {}
    for row in rows:
        material = _material(row, range_, findings)
        if material is not None:
            found[material.key] = _read(row, material, weeks, found.get(material.key), findings)
    findings.stop_if_any()
    return found


def _material(row: Row, range_: Range, findings: Findings) -> Material | None:
    text = cell_text(row.cells["material"])
    if text is None:
        remedy = "Write the key or name of the material."
        findings.add(f"row {row.number}, material", None, "a value in every row", remedy)
        return None
    try:
        return range_.find_material(text)
    except InputError as error:
        findings.extend(
            replace(item, file=findings.file, place=f"row {row.number}, material", value=text)
            for item in error.findings
        )
        return None


def _read(row: Row, material: Material, weeks: Weeks, before: Supply | None, findings: Findings) -> Supply:
    """A row; a later row of the same material adds a delivery, and what it says of terms must be the same."""
    start = before or replace(standard_supply(material), told=True)
    terms = start.terms
    item = _amount(row, "item size", material, 0.0, findings)
    if item is not None and not (isinstance(material, RollMaterial) and 1.0 <= item <= 10_000.0):
        allowed = "a length on one roll from 1 m to 10 000 m, only for materials on rolls"
        findings.add(
            f"row {row.number}, item size", row.cells.get("item size"), allowed, "Write it as '60 m'."
        )
        item = None
    terms = replace(terms, item=item if item is not None else terms.item)
    lead = _whole(row, "lead weeks", findings, 0, MOST_WEEKS)
    review = _whole(row, "review weeks", findings, 1, MOST_WEEKS)
    multiple = _whole(row, "multiple", findings, 1, 10_000)
    price = number_in(row, "price", findings, least=0.0, most=1e6)
    least = _amount(row, "moq", material, terms.item, findings)
    terms = replace(
        terms,
        lead=terms.lead if lead is None else lead,
        review=terms.review if review is None else review,
        multiple=terms.multiple if multiple is None else multiple,
        price=terms.price if price is None else _per_item(material, price),
        least=terms.least if least is None else least,
    )
    service = number_in(row, "service", findings, least=0.501, most=0.9999, share=True)
    safety = _amount(row, "safety", material, terms.item, findings)
    on_hand = _amount(row, "on hand", material, terms.item, findings)
    supply = replace(
        start,
        supplier=cell_text(row.cells.get("supplier")) or start.supplier,
        terms=terms,
        safety=start.safety if safety is None else safety,
        service=start.service if service is None else service,
        on_hand=start.on_hand if on_hand is None else on_hand,
        arrivals=(*start.arrivals, *_arrival(row, material, terms.item, weeks, findings)),
    )
    if before is not None and replace(supply, arrivals=before.arrivals) != before:
        remedy = "Write supplier, lead weeks and the like in the first row only; later rows add deliveries."
        allowed = f"in later rows of {material.key!r} only on order and week"
        findings.add(f"row {row.number}", "other terms than further up", allowed, remedy)
    return supply


def _arrival(
    row: Row, material: Material, item: float, weeks: Weeks, findings: Findings
) -> tuple[Arrival, ...]:
    amount = _amount(row, "on order", material, item, findings)
    cell = row.cells.get("week")
    if amount is None and cell is None:
        return ()
    place = f"row {row.number}, week"
    if not amount:
        if amount is None:
            remedy = "Write how much is on order, or take the week out."
            findings.add(f"row {row.number}, on order", None, "an amount beside the week", remedy)
        return ()
    if cell is None:
        findings.add(place, None, "the week in which the delivery is there", "Write it as 2026-W50.")
        return ()
    try:
        return (Arrival(weeks.read(cell), amount),)
    except ValueError as error:
        findings.add(place, cell, "a week", str(error))
        return ()


def _whole(row: Row, column: str, findings: Findings, least: int, most: int) -> int | None:
    number = number_in(row, column, findings, least=least, most=most)
    if number is not None and not number.is_integer():
        findings.add(
            f"row {row.number}, {column}", row.cells[column], "a whole number", "Round it up or down."
        )
        return None
    return None if number is None else int(number)


def _amount(row: Row, column: str, material: Material, item: float, findings: Findings) -> float | None:
    """An amount in metres of roll, sheets or blocks; `item` is how much one roll has."""
    given = [
        (heading, unit)
        for unit in ("", *METRES)
        for heading in (f"{column} {unit}".strip(),)
        if row.cells.get(heading) is not None
    ]
    if not given:
        return None
    heading, unit = given[0]
    place = f"row {row.number}, {heading}"
    cell: Cell = row.cells[heading]
    if len(given) > 1:
        findings.add(place, cell, f"one column for {column}", "Clear the cell in one of them.")
        return None
    remedy = "Write a number, or a length with its unit, such as '500 m'."
    try:
        number, written = _number_and_unit(cell, unit)
    except ValueError as error:
        number, written, remedy = None, "", str(error)
    rolls = isinstance(material, RollMaterial)
    if number is None or (written and not rolls):
        allowed = "so many rolls, or a length with its unit" if rolls else f"so many {material.kind}s"
        findings.add(place, cell, allowed, remedy if number is None else "Write only the number.")
        return None
    if written:
        return number * METRES[written]
    return number * item


def _number_and_unit(cell: Cell, unit: str) -> tuple[float | None, str]:
    """Number and unit of length, "" for rolls, sheets and blocks."""
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return (float(cell), unit) if cell >= 0 else (None, unit)
    found = _AMOUNT.fullmatch(cell) if isinstance(cell, str) else None
    if found is None:
        return None, unit
    word = found[2] or unit
    point = re.fullmatch(r"[0-9]+\.[0-9]+", found[1])
    # Nobody writes thousands of metres with a point: "12.500 m" has three decimals.
    number = float(found[1]) if point and word else read_number(found[1])
    return number, "" if word.rstrip("s") in ("roll", "sheet", "block") else word
