"""From what a panel allows to recipes: the pieces that a layer of foam may be glued up from.

Where joints may lie anywhere in a stretch, a few places are chosen that can save foam: those that make a
piece as large as another slab that is wanted, those that leave what a block has left beside another slab,
those that divide a block evenly, and halves, thirds and the ends of the stretch.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, pairwise

from nesting.blocks import block_sizes
from nesting.model import BlockMaterial, Glue, Panel
from nesting.packing.problem import GRID, Recipe, grid_up

__all__ = ["MOST_RECIPES", "joint_places", "recipes_of"]

MOST_RECIPES = 12
"""Most recipes of one panel with joints."""

LEAST_RECIPES = 3
"""So many each panel may have in any case."""

ALL_RECIPES = 30
"""Recipes of all panels with joints of one material, about: each makes the search larger."""

MOST_ALIKE = 8
"""Into how many equal pieces a block is divided at most."""

SAME = 0.05
"""Measures closer than this are the same, mm."""


def recipes_of(panel: Panel, material: BlockMaterial, others: Iterable[Panel] = ()) -> tuple[Recipe, ...]:
    """The recipes of a slab, none when it must be in one piece.

    Parameters
    ----------
    panel
        The slab.
    material
        The block it is cut from.
    others
        Panels that are cut from the same material.
    """
    glue, thickness, others = panel.glue, panel.thickness, list(others)
    if glue is None or thickness is None:
        return ()
    found = [
        Recipe(tuple((panel.length, panel.width, layer) for layer in layers), glue.cost * (len(layers) - 1))
        for layers in glue.laminations
    ]
    if glue.joints:
        places = joint_places(panel, glue, material, others)
        with_joints = sum(other.glue is not None and other.glue.joints > 0 for other in others)
        most = max(LEAST_RECIPES, min(MOST_RECIPES, ALL_RECIPES // max(1, with_joints)))
        singles = most if glue.joints == 1 else math.ceil(most / 2)
        chosen: list[tuple[float, ...]] = [(place,) for place in places[:singles]]
        for joints in range(2, glue.joints + 1):
            sets = (tuple(sorted(few)) for few in combinations(places[:MOST_RECIPES], joints))
            wide = (few for few in sets if _pieces_large(few, glue.least))
            chosen += [few for few, _ in zip(wide, range(most), strict=False)]
        for few in chosen[:most]:
            sides = _sides(few, panel.length if glue.line == "across" else panel.width)
            parts = (
                (side, panel.width, thickness) if glue.line == "across" else (panel.length, side, thickness)
                for side in sides
            )
            found.append(Recipe(tuple(parts), glue.cost * len(few)))
    return tuple(dict.fromkeys(found))


def joint_places(
    panel: Panel, glue: Glue, material: BlockMaterial, others: Iterable[Panel] = ()
) -> list[float]:
    """Places for a joint that can save foam, mm from the head end or the left side, the best first."""
    across = glue.line == "across"
    size, side = (panel.length, panel.width) if across else (panel.width, panel.length)
    found: dict[float, None] = {}
    for wish in _wishes(size, side, panel, material, list(others)):
        for place in (round(wish, 1), round(size - wish, 1)):
            if any(low - SAME <= place <= high + SAME for low, high in glue.spans):
                found.setdefault(place)
    for low, high in glue.spans:
        found.setdefault(low)
        found.setdefault(high)
        found.setdefault(round((low + high) / 2.0, 1))
    return list(found)


def _wishes(
    size: float, side: float, panel: Panel, material: BlockMaterial, others: Sequence[Panel]
) -> Iterator[float]:
    """Lengths of a piece that would be of use."""
    kerf = grid_up(material.kerfs.upright) * GRID
    rooms: dict[float, None] = {}
    for block in block_sizes(material):
        skins = block.skins or material.skins
        rooms.setdefault(block.length - skins.x0 - skins.x1)
        rooms.setdefault(block.width - skins.y0 - skins.y1)
    for other in others:
        if other.thickness is not None and panel.thickness is not None:
            sizes = (other.length, other.width)
            if abs(other.thickness - panel.thickness) < SAME:
                yield from (b for a, b in (sizes, sizes[::-1]) if abs(a - side) < SAME)
    yield size / 2.0
    measures = dict.fromkeys(m for other in (panel, *others) for m in (other.length, other.width))
    for measure in measures:
        for room in rooms:
            if measure + kerf < room:
                yield _down(math.fmod(room + kerf, measure + kerf) - kerf)
    for count in range(2, MOST_ALIKE + 1):
        yield from (_down((room - (count - 1) * kerf) / count) for room in rooms)
    yield size / 3.0


def _down(measure: float) -> float:
    return math.floor(measure / GRID + 1e-6) * GRID


def _sides(joints: Sequence[float], size: float) -> list[float]:
    """Lengths of the pieces between joints."""
    ends = [0.0, *joints, size]
    return [round(high - low, 1) for low, high in pairwise(ends)]


def _pieces_large(joints: Sequence[float], least: float) -> bool:
    return all(high - low >= least - SAME for low, high in pairwise(joints))
