"""From an answer with slabs that are glued up to parts that people can cut, label and glue.

In an answer a part is known by its slab. In a plan every part has a demand of its own: a number on the maps,
a code, a size, and the orders that it is for; so maps, lists and accounts need not know of gluing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Literal

from nesting.model import Demand, GluedLayer, GluedPart, Layout, OrderShare, Panel
from nesting.packing.problem import BlockProblem, Problem, Recipe
from nesting.packing.solution import Answer, Glued

__all__ = ["glue_notes", "spare_notes", "taken_apart"]

LINES: tuple[Literal["across", "along", "layers"], ...] = ("across", "along", "layers")
"""How joints run between parts that are joined along length, width and thickness."""

LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class _Choice:
    """So many copies of a demand by one recipe."""

    demand: Demand
    recipe: int
    copies: int


def taken_apart(
    demands: tuple[Demand, ...], problem: Problem, answer: Answer
) -> tuple[tuple[Demand, ...], tuple[Layout, ...], tuple[GluedLayer, ...]]:
    """Give every part of a glued slab a demand of its own.

    Parameters
    ----------
    demands
        What was wanted.
    problem, answer
        What was asked of the packing core, and its answer, verified.

    Returns
    -------
    demands
        Those of slabs in one piece and of those that are missing, in their order, each followed by the
        parts of its glued copies. The earliest orders have the slabs in one piece.
    layouts
        With the keys of these demands.
    layers
        What is glued from what.
    """
    copies: Counter[tuple[str, int]] = Counter()
    for layout in answer.layouts:
        for placement in layout.placements:
            if isinstance(placement.part, Glued) and placement.part.index == 0:
                copies[placement.key, placement.part.recipe] += layout.repeats
    if not copies or not isinstance(problem, BlockProblem):
        return demands, answer.layouts, ()
    recipes = {piece.key: piece.recipes for piece in problem.pieces}
    made: list[Demand] = []
    layers: list[GluedLayer] = []
    key_of: dict[tuple[str, Glued], str] = {}
    for demand in demands:
        chosen = [(recipe, count) for (key, recipe), count in sorted(copies.items()) if key == demand.key]
        left = demand.quantity - sum(count for _, count in chosen)
        missing = answer.missing[demand.key].quantity if demand.key in answer.missing else 0
        # In the order of their due dates: slabs in one piece, glued ones, missing ones.
        shares = _handed_out(demand.orders, [left - missing, *(count for _, count in chosen), missing])
        if left:
            orders = (*shares[0], *shares[-1])
            made.append(replace(demand, quantity=left, orders=orders) if chosen else demand)
        for (recipe, count), orders in zip(chosen, shares[1:-1], strict=True):
            choice = _Choice(demand, recipe, count)
            layer, parts = _layer(f"G{len(layers) + 1}", choice, recipes[demand.key][recipe], orders)
            layers.append(layer)
            made += parts
            for part in layer.parts:
                key_of |= {(demand.key, Glued(recipe, place - 1)): part.key for place in part.places}
    layouts = tuple(
        replace(
            layout,
            placements=tuple(
                replace(placement, key=key_of[placement.key, placement.part], part=None)
                if isinstance(placement.part, Glued)
                else placement
                for placement in layout.placements
            ),
        )
        for layout in answer.layouts
    )
    return tuple(made), layouts, tuple(layers)


def _layer(
    name: str, choice: _Choice, recipe: Recipe, orders: tuple[OrderShare, ...]
) -> tuple[GluedLayer, list[Demand]]:
    """A glued layer and the demands of its parts; parts of one size are one demand."""
    demand, panel = choice.demand, choice.demand.panel
    alike: dict[tuple[float, float, float], list[int]] = {}
    for place, size in enumerate(recipe.parts, start=1):
        alike.setdefault(size, []).append(place)
    axis = _axis(panel, recipe)
    joints = tuple(accumulate(part[axis] for part in recipe.parts[:-1]))
    demands: list[Demand] = []
    parts: list[GluedPart] = []
    for letter, (size, places) in zip(LETTERS, alike.items(), strict=False):
        length, width, thickness = size
        code = f"{panel.code} {name}{letter}"
        made = _part_panel(panel, code, size, places, len(recipe.parts))
        demands.append(
            replace(
                demand,
                key=f"{demand.key} {name}{letter}",
                panel=made,
                quantity=choice.copies * len(places),
                orders=tuple(replace(share, pieces=share.pieces * len(places)) for share in orders),
                spare=0,
            )
        )
        parts.append(
            GluedPart(
                key=demands[-1].key, length=length, width=width, thickness=thickness, places=tuple(places)
            )
        )
    layer = GluedLayer(
        name=name,
        panel=panel,
        model=demand.model,
        size=demand.size,
        copies=choice.copies,
        line=LINES[axis],
        joints=tuple(round(joint, 1) for joint in joints),
        parts=tuple(parts),
        orders=orders,
    )
    return layer, demands


def _axis(panel: Panel, recipe: Recipe) -> int:
    """Along which measure the parts are joined: 0 length, 1 width, 2 thickness."""
    length, width, _ = recipe.parts[0]
    if length < panel.length:
        return 0
    return 1 if width < panel.width else 2


def _part_panel(
    panel: Panel, code: str, size: tuple[float, float, float], places: Sequence[int], of: int
) -> Panel:
    """The panel of a part, with words on what it is glued to."""
    numbers = " and ".join(map(str, places)) if len(places) < 3 else ", ".join(map(str, places))
    others = [place for place in range(1, of + 1) if place not in places]
    beside = sorted({place + step for place in places for step in (-1, 1)} & set(others))
    to = f", glue to part {' and '.join(map(str, beside))}" if beside else ", glue together"
    return replace(
        panel,
        code=code,
        name=f"{panel.name}, part{'s' if len(places) > 1 else ''} {numbers} of {of}{to}",
        length=size[0],
        width=size[1],
        thickness=size[2],
        pieces=panel.pieces * len(places),
        marks=(),
        note="; ".join(filter(None, (panel.note, "Part of a layer that is glued up: see the glue list."))),
        glue=None,
    )


def _handed_out(orders: Iterable[OrderShare], counts: Sequence[int]) -> list[tuple[OrderShare, ...]]:
    """The orders in the order of their due dates, divided into groups of so many pieces each."""
    queue = sorted(orders, key=lambda share: share.due)
    groups = []
    for count in counts:
        group: list[OrderShare] = []
        left = count
        while left and queue:
            share = queue.pop(0)
            taken = min(left, share.pieces)
            group.append(replace(share, pieces=taken))
            left -= taken
            if share.pieces > taken:
                queue.insert(0, replace(share, pieces=share.pieces - taken))
        groups.append(tuple(group))
    return groups


def spare_notes(demands: Iterable[Demand]) -> Iterator[str]:
    """What is over where one slab makes several parts and their number is not even."""
    for demand in demands:
        if demand.spare:
            panel, slabs = demand.panel, demand.quantity
            parts = slabs * panel.per_slab - demand.spare
            yield (
                f"{panel.code} {demand.model} {demand.size}: {slabs} slab{'s' if slabs > 1 else ''} for "
                f"{parts}, {demand.spare} over."
            )


def glue_notes(layers: Sequence[GluedLayer]) -> Iterator[str]:
    """How much there is to be glued."""
    if layers:
        copies = sum(layer.copies for layer in layers)
        joints = sum(layer.copies * len(layer.joints) for layer in layers)
        money = sum(layer.copies * len(layer.joints) * _joint_cost(layer) for layer in layers)
        price = f", {money:.2f} for gluing" if money else ""
        yield f"{copies} slabs are glued up from parts, {joints} joints{price}: see the glue list."


def _joint_cost(layer: GluedLayer) -> float:
    return layer.panel.glue.cost if layer.panel.glue is not None else 0.0
