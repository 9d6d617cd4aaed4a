"""From a model and a size to its panels: formulas are worked out and generators called."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from nesting.catalogue.allowances import allowance_values
from nesting.catalogue.entries import Model, Option, PanelEntry
from nesting.catalogue.fields import FORMULA_WORDS
from nesting.catalogue.fit import permitted_turns
from nesting.catalogue.formula import Formula, FormulaError
from nesting.errors import Finding
from nesting.model import BlockMaterial, Mark, Material, Panel, Size
from nesting.panels.generator import GENERATORS, CutShape, Dims, Generator, PanelError, Parameter
from nesting.reading.findings import Findings, listed
from nesting.reading.units import show

__all__ = ["UsedValue", "compose", "describe_parameter", "values_used"]

NOISE_DECIMALS = 3
"""Decimals of a millimetre kept in panels: removes the noise of decimal fractions, no real size."""

WHOLE_TOLERANCE = 1e-9
"""How far a count may be from a whole number, for the same reason."""

MAX_FINISHED = 10_000.0
"""Largest finished dimension, mm."""

MAX_PIECES = 1_000
"""Most pieces of one panel entry in one unit."""


def compose(
    file: str, model: Model, size: Size, materials: Mapping[str, Material], allowances: Mapping[str, Formula]
) -> tuple[tuple[tuple[PanelEntry, Panel], ...], tuple[Finding, ...]]:
    """The panels of one unit, and what keeps others from being made.

    Parameters
    ----------
    file
        Name of the range file, for findings.
    model, size
        What is made; in formulas W and L are the size, H the model's height, mm.
    materials
        All materials by key.
    allowances
        The allowances of the range, which those of the model and of the panel override.

    Returns
    -------
    made
        Each panel with the entry it comes from, in the order of the model's entries.
    findings
        Their place names the panel entry and the value at fault, not the size.
    """
    findings = Findings(file)
    made: list[tuple[PanelEntry, Panel]] = []
    bed = {"W": size.width, "L": size.length, "H": model.height}
    common = {**allowances, **model.allowances}
    shared = _worked_out(common)
    for entry in model.panels:
        if entry.sizes is None or size.key in entry.sizes:
            values = _worked_out({**common, **entry.allowances}) if entry.allowances else shared
            layer = 1 + sum(panel.glue is not None and panel.glue.joints > 0 for _, panel in made)
            unit = _Unit(entry, materials[entry.material], {**values, **bed}, findings, layer)
            made += [(entry, panel) for panel in unit.panels()]
    for code, name in _repeated(panel for _, panel in made):
        remedy = "Give one of the panels another code."
        findings.add(f"models.{model.key}.panels", f"{code!r} ({name})", "each code once in a model", remedy)
    if not made and not len(findings):
        remedy = "Add a panel for this size, or take the size out of the model."
        findings.add(f"models.{model.key}.panels", None, "at least one panel for every size", remedy)
    return tuple(made), findings.listing()


@dataclass(frozen=True, slots=True)
class UsedValue:
    """An allowance or option that panels of a unit were made with.

    Parameters
    ----------
    name
        As the range file writes it.
    kind
        What the value is: a length in mm, a share, a count, or words.
    value
        The value.
    codes
        Codes of the panel entries that it was used for.
    """

    name: str
    kind: Literal["length", "share", "count", "words"]
    value: float | str
    codes: tuple[str, ...]


def values_used(
    file: str, model: Model, size: Size, materials: Mapping[str, Material], allowances: Mapping[str, Formula]
) -> tuple[UsedValue, ...]:
    """The values behind the panels of one unit, in the order in which entries first use them.

    Arguments as for `compose`, which tells what is wrong with them; here that is passed over.
    """
    ignored = Findings(file)
    bed = {"W": size.width, "L": size.length, "H": model.height}
    common = {**allowances, **model.allowances}
    found: dict[tuple[str, Literal["length", "share", "count", "words"], float | str], list[str]] = {}
    for entry in model.panels:
        if entry.sizes is None or size.key in entry.sizes:
            values = {**_worked_out({**common, **entry.allowances}), **bed}
            unit = _Unit(entry, materials[entry.material], values, ignored)
            for name, kind, value in unit.used():
                found.setdefault((name, kind, value), []).append(entry.code)
    return tuple(UsedValue(*key, tuple(dict.fromkeys(codes))) for key, codes in found.items())


def _worked_out(allowances: Mapping[str, Formula]) -> dict[str, float]:
    """Those that can be worked out; what is wrong with others was told when the range was read."""
    values, _ = allowance_values(allowances)
    return values


def _repeated(panels: Iterable[Panel]) -> list[tuple[str, str]]:
    seen: set[str] = set()
    again = []
    for panel in panels:
        if panel.code in seen:
            again.append((panel.code, panel.name))
        seen.add(panel.code)
    return again


class _Unit:
    """One panel entry for one size."""

    def __init__(
        self,
        entry: PanelEntry,
        material: Material,
        values: Mapping[str, float],
        findings: Findings,
        layer: int = 1,
    ) -> None:
        self.entry, self.material, self.values, self.findings = entry, material, values, findings
        self.layer = layer
        self.generator: Generator = GENERATORS[entry.generator]

    def panels(self) -> tuple[Panel, ...]:
        """Its panels; none when its condition is not met or something was found."""
        before = len(self.findings)
        if not self._wanted():
            return ()
        if self.material.kind not in self.generator.materials:
            kinds = " or ".join(self.generator.materials)
            found = f"{self.material.key!r}, a {self.material.kind}"
            self._find("material", found, f"a {kinds} for {self.generator.name!r}", "Name another material.")
        turns = self._turns()
        pieces = self._number("pieces", self.entry.pieces, 1, MAX_PIECES, whole=True)
        dims = self._dims()
        options = {
            name: self._parameter(parameter)
            for name, parameter in self.generator.parameters.items()
            if parameter.required or name in self.entry.options
        }
        if "layer" in self.generator.parameters:
            # Layers with joints are counted as they are listed, unless the panel says which one it is.
            options["layer"] = options.get("layer") or self.layer
        if len(self.findings) > before or pieces is None or dims is None:
            return ()
        try:
            shapes = self.generator.make(dims, self.material, **options)
        except PanelError as error:
            self._find(error.parameter, error.value, error.allowed, error.remedy)
            return ()
        if pieces > 1 and any(shape.glue is not None and shape.glue.joints for shape in shapes):
            remedy = "Write each layer as a panel of its own, so that their joints can be kept apart."
            self._find("pieces", int(pieces), "1 where joints are allowed", remedy)
        made = tuple(self._panel(shape, int(pieces), turns) for shape in shapes)
        return made if len(self.findings) == before else ()

    def used(self) -> Iterator[tuple[str, Literal["length", "share", "count", "words"], float | str]]:
        """Name, kind and value of what the generator is given; nothing when its condition is not met."""
        if not self._wanted():
            return
        for name, parameter in self.generator.parameters.items():
            if not (parameter.required or name in self.entry.options):
                continue
            value = self._parameter(parameter)
            if isinstance(value, bool):
                yield name, "words", "yes" if value else "no"
            elif isinstance(value, str):
                yield name, "words", value
            elif isinstance(value, tuple):
                yield name, "words", ", ".join(f"{part:g}" for part in value)
            elif isinstance(value, int | float):
                share = parameter.high < 1
                yield name, "count" if parameter.kind == "count" else "share" if share else "length", value

    def _wanted(self) -> bool:
        if self.entry.when is None:
            return True
        try:
            return self.entry.when.truth(self.values)
        except FormulaError as error:
            self._find("when", self.entry.when.text, 'a condition such as "W >= 1500"', str(error))
            return False

    def _dims(self) -> Dims | None:
        finished = {"width": "W", "length": "L", "height": "H"}
        sides = {}
        for side, letter in finished.items():
            formula: Formula | None = getattr(self.entry, side)
            if formula is None:
                sides[side] = self.values[letter]
                continue
            number = self._number(side, formula, 0, MAX_FINISHED, unit=" mm")
            if number is None:
                return None
            sides[side] = number
        return Dims(**sides)

    def _turns(self) -> tuple[float, ...]:
        entry, material = self.entry, self.material
        if entry.may_turn and not isinstance(material, BlockMaterial) and material.grain == "one-way":
            allowed = f"no quarter turns, because {material.key!r} is one-way"
            self._find("may_turn", True, allowed, "Take may_turn out, or use a two-way material.")
        if entry.turns is None:
            return permitted_turns(material, may_turn=entry.may_turn)
        permitted = permitted_turns(material, may_turn=entry.may_turn, shaped=True)
        if not entry.turns or not set(entry.turns) <= set(permitted):
            shown = ", ".join(show(turn) for turn in permitted)
            allowed = f"some of {shown}, the turns that {material.key!r} allows"
            self._find(
                "turns", list(entry.turns), allowed, "List only these, or set may_turn on two-way cloth."
            )
        return entry.turns

    def _parameter(self, parameter: Parameter) -> object:
        name = parameter.name
        if name in self.entry.options:
            return self._option(parameter, self.entry.options[name])
        if parameter.kind in ("number", "count") and name in self.values:
            return self._limited(name, self.values[name], self.values[name], parameter)
        model = self.entry.place.partition(".panels")[0]
        remedy = f"Write {name} = ... in this panel, in [{model}.allowances] or in [allowances]."
        if parameter.kind not in ("number", "count"):
            remedy = f"Write {name} = ... in this panel."
        self._find(name, None, describe_parameter(parameter), remedy)
        return None

    def _option(self, parameter: Parameter, option: Option) -> object:
        if isinstance(option, Formula):
            return self._worked_out(parameter, option)
        if isinstance(option, tuple):
            numbers = [self._worked_out(parameter, formula) for formula in option]
            if parameter.kind == "spans":
                return tuple(zip(numbers[::2], numbers[1::2], strict=True))
            return tuple(numbers)
        return option

    def _worked_out(self, parameter: Parameter, formula: Formula) -> float | int | None:
        try:
            number = formula.number(self.values)
        except FormulaError as error:
            self._find(parameter.name, formula.text, FORMULA_WORDS, str(error))
            return None
        return self._limited(parameter.name, number, formula.text, parameter)

    def _limited(self, name: str, number: float, shown: object, parameter: Parameter) -> float | int | None:
        whole = parameter.kind == "count"
        if not _within(number, parameter.low, parameter.high, whole):
            self._find(name, _reckoned(shown, number), describe_parameter(parameter), "Correct the value.")
            return None
        return round(number) if whole else number

    def _number(
        self, name: str, formula: Formula, low: float, high: float, *, whole: bool = False, unit: str = ""
    ) -> float | None:
        try:
            number = formula.number(self.values)
        except FormulaError as error:
            self._find(name, formula.text, FORMULA_WORDS, str(error))
            return None
        if not _within(number, low, high, whole):
            kind = "a whole number" if whole else "a number"
            allowed = f"{kind} from {show(low)} to {show(high)}{unit}"
            self._find(name, _reckoned(formula.text, number), allowed, "Correct the formula or the size.")
            return None
        return float(round(number)) if whole else number

    def _panel(self, shape: CutShape, pieces: int, turns: tuple[float, ...]) -> Panel:
        sides = {"length": shape.length, "width": shape.width}
        if isinstance(self.material, BlockMaterial):
            sides["thickness"] = 0.0 if shape.thickness is None else shape.thickness
        for side, measure in sides.items():
            if not (math.isfinite(measure) and round(measure, NOISE_DECIMALS) > 0):
                self._find(
                    f"cut {side}",
                    f"{measure:g} mm",
                    "above 0 mm",
                    "Correct the size, the formula or the allowances.",
                )
        if isinstance(self.material, BlockMaterial) and shape.outline and self.entry.turns is None:
            turns = permitted_turns(self.material, shaped=True)
        return Panel(
            code=self.entry.code + shape.suffix,
            name=", ".join(filter(None, (self.entry.name, shape.title))),
            material=self.material.key,
            outline=tuple((_clean(x), _clean(y)) for x, y in shape.outline),
            pieces=pieces * shape.count,
            per_slab=shape.per_slab,
            glue=shape.glue,
            turns=turns,
            mirror=self.entry.mirror,
            marks=tuple(
                Mark(mark.kind, tuple((_clean(x), _clean(y)) for x, y in mark.points), mark.text)
                for mark in shape.marks
            ),
            note="; ".join(filter(None, (self.entry.note, shape.note))),
            standing=shape.standing,
            **{side: _clean(measure) for side, measure in sides.items()},
        )

    def _find(self, name: str, value: object, allowed: str, remedy: str) -> None:
        self.findings.add(f"{self.entry.place}.{name}", value, allowed, remedy)


def _within(number: float, low: float, high: float, whole: bool) -> bool:
    return low <= number <= high and not (whole and abs(number - round(number)) > WHOLE_TOLERANCE)


def _reckoned(written: object, number: float) -> object:
    """The formula and what it gives, or the plain number when it is one."""
    shown = f"{number:.10g}"
    return number if str(written) in (shown, str(number)) else f"{written}, which is {shown}"


def _clean(measure: float) -> float:
    return round(measure, NOISE_DECIMALS)


def describe_parameter(parameter: Parameter) -> str:
    """What a generator's parameter allows, in plain words."""
    match parameter.kind:
        case "flag":
            return "true or false"
        case "choice":
            return listed(parameter.choices)
    is_share = max(abs(parameter.low), abs(parameter.high)) < 1
    high = f"{parameter.high:g}" if is_share else show(parameter.high)
    span = f"from {parameter.low:g} to {high}"
    match parameter.kind:
        case "count":
            return f"a whole number {span}"
        case "numbers":
            return f"a list of numbers, each {span}"
        case "spans":
            return f"a list of pairs [from, to], each number {span}"
    if is_share:
        return f"a share {span}, such as 0.005 for half a per cent"
    return f"a number {span}"
