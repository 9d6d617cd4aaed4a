"""What a designer may change by a few millimetres: sides of the material, and allowances."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from nesting.catalogue import FormulaError, Range
from nesting.comparing.lab import demands_of
from nesting.comparing.results import Unit
from nesting.comparing.sums import between, sizes_of, stepped, sums
from nesting.comparing.variants import AXES, resized, room, size_of
from nesting.errors import InputError
from nesting.measures import unit
from nesting.model import Demand, Material
from nesting.panels.generator import GENERATORS

__all__ = ["Lever", "allowance_levers", "side_places", "stock_levers"]

STOCK_STEPS = {"mm": 1.0, "in": 25.4 / 16}
ALLOWANCE_STEPS = {"mm": 0.5, "in": 25.4 / 32}
"""How finely changes are tried, mm: as a workshop sets them out."""

SHARE_LIMIT = 0.5
"""Allowances up to here, such as ease 0.005, are shares and no lengths; as the limits of generators say."""


@dataclass(frozen=True, slots=True)
class Lever:
    """A value that may change, and the places to look at.

    Parameters
    ----------
    name
        For people: ``"roll width"``, ``"seam"``.
    kind, axis
        A side of the material (with its axis), or an allowance.
    now
        Its present value, mm.
    step
        From a value to the next that leaves more room, mm.
    places
        Values to look at for a unit, mm, from the tightest to the one that leaves most room.
    changed
        The range with another value.
    """

    name: str
    kind: Literal["stock", "allowance"]
    axis: str
    now: float
    step: float
    places: Callable[[Unit], tuple[float, ...]]
    changed: Callable[[float], Range]


def side_places(
    material: Material, axis: str, demands: Iterable[Demand], low: float, high: float
) -> tuple[float, ...]:
    """Sides of the material from `low` to `high` at which another combination fits, mm; with both ends."""
    lost = getattr(material, axis) - room(material, axis)
    step = STOCK_STEPS[unit()]
    rooms = sums(sizes_of(demands, axis), between(material, axis), low - lost, high - lost)
    inside = [place for place in stepped((space + lost for space in rooms), step) if low < place < high]
    return (low, *inside, high)


def stock_levers(range_: Range, key: str, span: Callable[[str], tuple[float, float]]) -> list[Lever]:
    """The sides of the material, each from the least to the greatest of its `span`, mm."""
    material = range_.materials[key]
    levers = []
    for axis in AXES[material.kind]:

        def places(unit_: Unit, axis: str = axis) -> tuple[float, ...]:
            return side_places(material, axis, demands_of(range_, unit_, key), *span(axis))

        def changed(value: float, axis: str = axis) -> Range:
            sides = dict(zip(AXES[material.kind], size_of(material), strict=True))
            return range_.with_material(resized(material, **{**sides, axis: value}))

        now, step = getattr(material, axis), STOCK_STEPS[unit()]
        levers.append(Lever(f"{material.kind} {axis}", "stock", axis, now, step, places, changed))
    return levers


def allowance_levers(range_: Range, key: str, units: Iterable[Unit], within: float) -> list[Lever]:
    """Allowances by which pieces of the material become smaller, up to `within` mm from what they are.

    Those that are numbers, of the range and of the models concerned; what follows from others by a formula
    moves with them.
    """
    chosen = list(units)
    step = ALLOWANCE_STEPS[unit()]
    levers = []
    for name, model, now in _numbers(range_, chosen):

        def changed(value: float, name: str = name, model: str | None = model) -> Range:
            return range_.with_allowance(name, value, model)

        sign = _shrinking(changed, now, step, chosen, key, range_)
        if sign == 0:
            continue
        count = int(within / step + 1e-9)
        values = [round(now + sign * number * step, 4) for number in range(count + 1)]
        allowed = tuple(value for value in values if value >= 0)

        def places(unit_: Unit, allowed: tuple[float, ...] = allowed) -> tuple[float, ...]:
            return allowed

        if len(allowed) > 1:
            owner = f" of {range_.models[model].name}" if model else ""
            words = name.replace("_", " ") + owner
            levers.append(Lever(words, "allowance", "", now, sign * step, places, changed))
    return levers


def _numbers(range_: Range, units: Iterable[Unit]) -> Iterator[tuple[str, str | None, float]]:
    """Allowances that are lengths: name, whose (None for common ones), and value, mm."""
    models = {model for unit_ in units for model, _, _ in unit_.beds}
    shares = {
        name
        for generator in GENERATORS.values()
        for name, parameter in generator.parameters.items()
        if parameter.kind == "number" and parameter.high < 1
    }
    groups = [(None, range_.allowances), *((key, range_.models[key].allowances) for key in sorted(models))]
    for model, allowances in groups:
        for name, formula in allowances.items():
            if name in shares or formula.names or formula.is_condition:
                continue
            try:
                value = formula.number({})
            except FormulaError:
                continue
            if value == 0 or value > SHARE_LIMIT:
                yield name, model, value


def _shrinking(
    changed: Callable[[float], Range], now: float, step: float, units: list[Unit], key: str, range_: Range
) -> int:
    """In which direction pieces become smaller: 1 upwards, -1 downwards, 0 where nothing of this changes."""
    try:
        present = sum(_size(range_, unit_, key) for unit_ in units)
        up = sum(_size(changed(now + step), unit_, key) for unit_ in units)
        down = sum(_size(changed(now - step), unit_, key) for unit_ in units) if now >= step else present
    except InputError:
        return 0
    if abs(up - present) < 1e-9 and abs(down - present) < 1e-9:
        return 0
    return 1 if up < down else -1


def _size(range_: Range, unit_: Unit, key: str) -> float:
    """Sum of the sides of all pieces, mm: sizes in whole mm may hide a change of a single one."""
    total = 0.0
    for demand in demands_of(range_, unit_, key):
        panel = demand.panel
        total += (panel.length + panel.width + (panel.thickness or 0.0)) * demand.quantity
    return total
