"""Where the pieces of a layout lie, as boxes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nesting.model import Demand, Layout, Panel

__all__ = ["box_of", "extents"]


def box_of(panel: Panel, turn: float) -> tuple[float, float]:
    """Length and width of a panel's box after turning, mm."""
    quarter = turn % 180.0
    if quarter == 0.0:
        return panel.length, panel.width
    if quarter == 90.0:
        return panel.width, panel.length
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    points = panel.outline or ((0, 0), (panel.length, 0), (panel.length, panel.width), (0, panel.width))
    xs = [x * cos - y * sin for x, y in points]
    ys = [x * sin + y * cos for x, y in points]
    return max(xs) - min(xs), max(ys) - min(ys)


def extents(demands: Sequence[Demand], layout: Layout) -> list[tuple[float, float, float, float]]:
    """Least x and y, greatest x and y of each piece of a layout, mm."""
    panel_of = {demand.key: demand.panel for demand in demands}
    found = []
    for placement in layout.placements:
        length, width = box_of(panel_of[placement.key], placement.turn)
        found.append((placement.x, placement.y, placement.x + length, placement.y + width))
    return found
