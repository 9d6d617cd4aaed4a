"""The cut parts of one model and size as rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from nesting.measures import amount, fixed, measure, unit
from nesting.model import Material, Panel

__all__ = ["panel_rows", "panel_table"]


def panel_rows(panels: Sequence[Panel]) -> list[dict[str, Any]]:
    """One row per panel, units in the names."""
    return [
        {
            "code": panel.code,
            "name": panel.name,
            "material": panel.material,
            "length mm": round(panel.length, 1),
            "width mm": round(panel.width, 1),
            "thickness mm": None if panel.thickness is None else round(panel.thickness, 1),
            "shaped": bool(panel.outline),
            "pieces": panel.pieces,
            "pieces per slab": panel.per_slab,
            "area m2": round(panel.area, 4),
            "turns": list(panel.turns),
            "note": panel.remarks,
        }
        for panel in panels
    ]


def panel_table(
    panels: Sequence[Panel], materials: Mapping[str, Material]
) -> tuple[list[str], list[list[str]]]:
    """Headings and cells for the screen, with the area per unit at the end: of pads their share of a slab."""
    area = amount(0.0, "m2")[1]
    headings = [
        "code",
        "panel",
        "material",
        f"cut size, {unit()}",
        "pieces",
        f"{area} each",
        f"{area} per unit",
    ]
    rows = [
        [
            panel.code,
            panel.name,
            materials[panel.material].name,
            _size(panel),
            f"{panel.pieces}" if panel.per_slab == 1 else f"{panel.pieces}, {panel.per_slab} a slab",
            fixed(amount(panel.area, "m2")[0], 3),
            fixed(amount(panel.area * panel.pieces / panel.per_slab, "m2")[0], 3),
        ]
        for panel in panels
    ]
    return headings, rows


def _size(panel: Panel) -> str:
    thick = f" x {measure(panel.thickness)}" if panel.thickness is not None else ""
    shaped = " (shaped)" if panel.outline else ""
    return f"{measure(panel.length)} x {measure(panel.width)}{thick}{shaped}"
