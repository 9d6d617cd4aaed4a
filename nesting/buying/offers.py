"""Lists of what suppliers offer of one material: roll widths, sheet or block sizes, and their prices."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace

from nesting.blocks import block_sizes
from nesting.buying.demand import number_in
from nesting.errors import NestingError
from nesting.measures import measure, unit
from nesting.model import BlockMaterial, Material, RollMaterial, SheetMaterial
from nesting.reading.cells import cell_text
from nesting.reading.findings import Findings
from nesting.reading.tables import Row, read_table
from nesting.reading.units import MM_PER_UNIT
from nesting.stock.measures import read_length

__all__ = ["MOST_OFFERS", "Offer", "as_bought_now", "read_offers"]

MOST_OFFERS = 40
"""Most sizes in a list."""
LEAST_SIDE, MOST_SIDE, MOST_LONG = 10.0, 10_000.0, 60_000.0
"""Limits of a side and of a long block, mm: anything else is a slip of the pen."""

_SIDES: Mapping[str, tuple[str, ...]] = {
    "width": ("roll width", "full width", "nominal width", "block width", "sheet width"),
    "length": ("block length", "sheet length"),
    "height": ("block height",),
}
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "name": ("offer", "supplier", "article", "item"),
    "price": ("unit price",),
    **{
        f"{side}{tail}": tuple(f"{word}{tail}" for word in words)
        for side, words in _SIDES.items()
        for tail in ("", *(f" {unit_}" for unit_ in MM_PER_UNIT))
    },
}
"""The columns of an offer and what else they may be called. Rolls need a width, sheets and blocks all sides.

The price is per metre of roll, per sheet or per m3 of block, as in the range file.
"""


@dataclass(frozen=True, slots=True)
class Offer:
    """One size on offer.

    Parameters
    ----------
    name
        As people call it; no two alike in a list.
    material
        The material with these measures and this price.
    """

    name: str
    material: Material

    @property
    def rate(self) -> float:
        """Money for a metre of roll, a sheet or a block."""
        if isinstance(self.material, BlockMaterial):
            sides = self.material
            return sides.price * sides.length * sides.width * sides.height / 1e9
        return self.material.price


def as_bought_now(material: Material) -> Offer | None:
    """What the range file has; None where it has no price, so that nothing can be compared with it."""
    if isinstance(material, BlockMaterial):
        if not all(size.price for size in block_sizes(material)):
            return None
        if material.sizes:
            return Offer(", ".join(size.name for size in material.sizes), material)
    elif not material.price:
        return None
    return Offer(_size_words(material), material)


def read_offers(path: str | os.PathLike[str], material: Material) -> tuple[Offer, ...]:
    """Read and check an offer (CSV or XLSX) with the columns `COLUMNS`.

    Raises
    ------
    NestingError
        With every problem found, or when the material is only cut to length.
    """
    if isinstance(material, RollMaterial) and material.process == "lengths":
        raise NestingError(f"{material.name} is only cut to length: it has no width to choose.")
    findings = Findings(os.fspath(path))
    optional = [column for column in COLUMNS if column != "price"]
    rows = list(read_table(path, COLUMNS, findings, kind="an offer", optional=optional))
    if not rows and not len(findings):
        findings.add("the file", "headings only", "at least one size", "Add rows below the headings.")
    if len(rows) > MOST_OFFERS:
        findings.add("the file", f"{len(rows)} sizes", f"at most {MOST_OFFERS}", "Take some out.")
    offers: list[Offer] = []
    for row in rows:
        offer = _offer(row, material, findings)
        if offer is None:
            continue
        if any(other.name == offer.name for other in offers):
            allowed = "every size or name once"
            remedy = "Give each its own name in a column 'name', or take one out."
            findings.add(f"row {row.number}", offer.name, allowed, remedy)
        offers.append(offer)
    findings.stop_if_any()
    return tuple(offers)


def _offer(row: Row, material: Material, findings: Findings) -> Offer | None:
    before = len(findings)
    price = number_in(row, "price", findings, least=0.0, most=1e6)
    if not price and len(findings) == before:
        findings.add(f"row {row.number}, price", row.cells["price"], "a price above 0", "Fill it in.")
    needed = ["width"]
    if not isinstance(material, RollMaterial):
        needed.append("length")
    if isinstance(material, BlockMaterial):
        needed.append("height")
    long = isinstance(material, BlockMaterial) and material.cut_to is not None
    sides = {side: _side(row, side, findings, long=long) for side in needed}
    if len(findings) > before or price is None:
        return None
    measures = {side: value for side, value in sides.items() if value is not None}
    # The field names are those of all three kinds of material.
    changed = replace(material, price=price, **measures)  # type: ignore[arg-type]
    if isinstance(changed, BlockMaterial):
        changed = replace(changed, sizes=(), available=None)
    elif isinstance(changed, SheetMaterial):
        changed = replace(changed, available=None)
    else:
        changed = replace(changed, measured_width=None)
        if changed.usable_width <= 0:
            findings.add(
                f"row {row.number}, width", row.cells.get("width"), "more than both edge trims", "Correct it."
            )
            return None
    return Offer(cell_text(row.cells.get("name")) or _size_words(changed), changed)


def _size_words(material: Material) -> str:
    if isinstance(material, RollMaterial):
        return f"{measure(material.width)} {unit()}"
    sides = [material.length, material.width]
    if isinstance(material, BlockMaterial):
        sides.append(material.height)
    return f"{' x '.join(map(measure, sides))} {unit()}"


def _side(row: Row, side: str, findings: Findings, *, long: bool) -> float | None:
    for tail, unit_ in (("", None), *((f" {unit_}", unit_) for unit_ in MM_PER_UNIT)):
        cell = row.cells.get(f"{side}{tail}")
        if cell is None:
            continue
        place = f"row {row.number}, {side}{tail}"
        remedy = "Correct it."
        try:
            length = read_length(cell, unit_)
        except ValueError as error:
            length, remedy = 0.0, str(error)
        most = MOST_LONG if long and side == "length" else MOST_SIDE
        if not LEAST_SIDE <= length <= most:
            allowed = f"a {side} from {LEAST_SIDE:.0f} mm to {most:.0f} mm"
            findings.add(place, cell, allowed, remedy)
            return None
        return length
    findings.add(f"row {row.number}, {side}", None, f"the {side}", "Fill it in.")
    return None
