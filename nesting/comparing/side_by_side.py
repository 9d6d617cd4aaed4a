"""What lies side by side in a plan, and which of it would not have fitted before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import TypeAlias

from nesting.comparing.results import Fitting, Outcome
from nesting.comparing.sums import between, extent_of
from nesting.comparing.variants import AXES, room
from nesting.model import Layout, Material, Panel, RollMaterial
from nesting.packing.solution import Stand

__all__ = ["newly_fitting"]

DIRECTIONS = {"length": "along", "width": "across", "height": "up"}
Met: TypeAlias = tuple[tuple[str, float, Stand], ...]
"""Pieces that a line meets: key, turn and how each lies."""

TOLERANCE = 0.05
"""Half a grid step of the packing, mm."""


def newly_fitting(plan: Outcome, before: Mapping[str, Panel], material: Material) -> Fitting | None:
    """The combination most used in a plan that did not fit before.

    Parameters
    ----------
    plan
        With its layouts.
    before
        The pieces as they were before, by key.
    material
        The material as it was before.
    """
    after = {demand.key: demand.panel for demand in plan.demands}
    size_of = {demand.key: demand.size for demand in plan.demands}
    best: Fitting | None = None
    for axis in AXES[material.kind]:
        side = list(DIRECTIONS).index(axis)
        space, lost = room(material, axis), between(material, axis)
        used: Counter[Met] = Counter()
        total = 0.0
        for layout in plan.layouts:
            lines = list(_lines(layout, after, side, plan.material))
            whole = sum(weight for _, weight in lines) or 1.0
            worth = layout.repeats * (layout.length if isinstance(material, RollMaterial) else 1.0)
            total += worth
            for line, weight in lines:
                needed = (
                    sum(extent_of(before[key], turn, stand)[side] + lost for key, turn, stand in line) - lost
                )
                if line and needed > space + TOLERANCE:
                    used[line] += worth * weight / whole  # type: ignore[assignment]
        if not used:
            continue
        line, weight = used.most_common(1)[0]
        share = weight / total
        if best is None or share > best.share:
            extents = [extent_of(after[key], turn, stand)[side] for key, turn, stand in line]
            pieces = _named(line, extents, after, size_of)
            best = Fitting(pieces, sum(extents) + lost * (len(line) - 1), DIRECTIONS[axis], share)
    return best


def _lines(
    layout: Layout, panels: Mapping[str, Panel], side: int, material: Material
) -> Iterator[tuple[Met, float]]:
    """Pieces that a straight line meets in the direction `side`, and how much it counts.

    On rolls and sheets the lines are moved over the whole layout, and count by how far they can be moved; in
    blocks there is one through the middle of each piece.
    """
    boxes = []
    for placed in layout.placements:
        panel = panels[placed.key]
        low = (placed.x, placed.y, placed.z)
        size = extent_of(panel, placed.turn, placed.stand)
        boxes.append(
            (
                low,
                tuple(a + b for a, b in zip(low, size, strict=True)),
                (placed.key, placed.turn, placed.stand),
            )
        )
    if material.kind == "block":
        others = [axis for axis in range(3) if axis != side]
        for low, high, _ in boxes:
            middle = [(low[axis] + high[axis]) / 2.0 for axis in others]
            met = tuple(
                sorted(
                    key
                    for start, end, key in boxes
                    if all(start[a] < at < end[a] for a, at in zip(others, middle, strict=True))
                )
            )
            yield met, 1.0
        return
    other = 1 - side
    edges = sorted({low[other] for low, _, _ in boxes} | {high[other] for _, high, _ in boxes})
    for start, end in pairwise(edges):
        middle_of = (start + end) / 2.0
        met = tuple(sorted(key for low, high, key in boxes if low[other] < middle_of < high[other]))
        yield met, end - start


def _named(
    line: Met,
    extents: list[float],
    panels: Mapping[str, Panel],
    size_of: Mapping[str, str],
) -> tuple[tuple[str, float, int], ...]:
    """Pieces of one name and measure counted together, the largest first; with sizes where they differ."""
    several = len({size_of[key] for key, *_ in line}) > 1
    alike: dict[tuple[str, float], list[str]] = {}
    for (key, *_), extent in zip(line, extents, strict=True):
        alike.setdefault((panels[key].name, extent), []).append(size_of[key])
    found = []
    for (name, extent), sizes in sorted(alike.items(), key=lambda item: -item[0][1]):
        distinct = sorted(set(sizes))
        found.append(
            (f"{name}, {distinct[0]}" if several and len(distinct) == 1 else name, extent, len(sizes))
        )
    if not several:
        size = size_of[line[0][0]]
        name, extent, count = found[0]
        found[0] = (f"{name}, {size}", extent, count)
    return tuple(found)
