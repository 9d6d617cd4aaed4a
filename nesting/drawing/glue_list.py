"""The glue list: which parts make which layer, where the joints lie, and for which orders, as CSV."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from nesting.drawing.cutlist import safe_cell
from nesting.files import whole_file
from nesting.measures import delimiter, list_cell, measure, unit
from nesting.model import GluedLayer, GluedPart, MaterialPlan

__all__ = [
    "FROM",
    "GlueRow",
    "glue_list_rows",
    "joints_text",
    "orders_text",
    "places_text",
    "write_glue_list",
]

FROM = {"across": "head end", "along": "left side", "layers": "bottom"}
"""Where joints are measured from."""

HEADINGS = {
    "layer": "glued layer",
    "length": "layer length {unit}",
    "width": "layer width {unit}",
    "thickness": "layer thickness {unit}",
    "measured_from": "joints measured from",
    "joints": "joints at {unit}",
    "part": "part no. on maps",
    "part_code": "part code",
    "places": "is part",
    "part_length": "part length {unit}",
    "part_width": "part width {unit}",
    "part_thickness": "part thickness {unit}",
    "per_layer": "parts per layer",
    "in_all": "parts in all",
}
"""Headings that differ from the name of their field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueRow:
    """One line: the parts of one size of one layer."""

    layer: str
    code: str
    panel: str
    model: str
    size: str
    length: str
    width: str
    thickness: str
    copies: int
    measured_from: str
    joints: str
    part: int
    part_code: str
    places: str
    part_length: str
    part_width: str
    part_thickness: str
    per_layer: int
    in_all: int
    orders: str


def joints_text(layer: GluedLayer) -> str:
    """Where the joints lie: ``"820"`` or ``"400; 820"``."""
    return "; ".join(measure(joint) for joint in layer.joints)


def orders_text(layer: GluedLayer) -> str:
    """The orders as lists word them: ``"A-17 x2; A-19 x4"``."""
    return "; ".join(f"{share.order} x{share.pieces}" for share in layer.orders)


def places_text(part: GluedPart, of: int) -> str:
    """Which parts they are: ``"1 and 2 of 3"``."""
    return f"{' and '.join(map(str, part.places))} of {of}"


def glue_list_rows(material_plan: MaterialPlan) -> Iterator[GlueRow]:
    """The rows of the glue list, layer by layer."""
    numbers = {demand.key: number for number, demand in enumerate(material_plan.demands, start=1)}
    codes = {demand.key: demand.panel.code for demand in material_plan.demands}
    for layer in material_plan.glued:
        panel = layer.panel
        for part in layer.parts:
            yield GlueRow(
                layer=layer.name,
                code=panel.code,
                panel=panel.name,
                model=layer.model,
                size=layer.size,
                length=list_cell(measure(panel.length)),
                width=list_cell(measure(panel.width)),
                thickness=list_cell(measure(panel.thickness or 0.0)),
                copies=layer.copies,
                measured_from=FROM[layer.line],
                joints=joints_text(layer),
                part=numbers[part.key],
                part_code=codes[part.key],
                places=places_text(part, len(layer.joints) + 1),
                part_length=list_cell(measure(part.length)),
                part_width=list_cell(measure(part.width)),
                part_thickness=list_cell(measure(part.thickness)),
                per_layer=len(part.places),
                in_all=len(part.places) * layer.copies,
                orders=orders_text(layer),
            )


def write_glue_list(material_plan: MaterialPlan, path: Path) -> None:
    """Write the glue list of one material as CSV, like its cut list.

    Raises
    ------
    FileError
        When the file cannot be written.
    """
    names = [field.name for field in fields(GlueRow)]
    with (
        whole_file(path) as part,
        part.open("w", encoding="utf-8-sig", newline="", errors="replace") as stream,
    ):
        writer = csv.writer(stream, delimiter=delimiter())
        writer.writerow([HEADINGS.get(name, name).format(unit=unit()) for name in names])
        for row in glue_list_rows(material_plan):
            values = asdict(row)
            writer.writerow([safe_cell(values[name]) for name in names])
