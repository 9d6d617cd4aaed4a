"""Reading one ``[models.KEY]`` table with its panel entries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

import nesting.panels  # noqa: F401  (fills the register of generators)
from nesting.catalogue.allowances import allowance_values
from nesting.catalogue.compose import describe_parameter
from nesting.catalogue.entries import Model, Option, PanelEntry
from nesting.catalogue.fields import FORMULA_WORDS, build, to_formula
from nesting.catalogue.formula import RESERVED, Formula, FormulaError
from nesting.model import Material, Size
from nesting.panels.generator import GENERATORS, Generator, Parameter
from nesting.reading.findings import Findings, listed, near

__all__ = ["ENTRY_FIELDS", "Context", "model_of", "read_allowances"]

MAX_PANELS = 200
"""Most panel entries of one model."""
MAX_ALLOWANCES = 300
"""Most allowances in one table."""

ENTRY_FIELDS = frozenset(field.name for field in fields(PanelEntry)) - {"place", "options"}
"""What a panel entry says itself; all else in its table are parameters of its generator."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the models of a file refer to, and where problems are noted.

    `sizes` and `materials` hold what could be used, `size_keys` and `material_keys` all that is written,
    so that a model is not blamed for a fault in a size.
    """

    unit: str
    allowances: Mapping[str, Formula]
    sizes: dict[str, Size]
    materials: dict[str, Material]
    size_keys: frozenset[str]
    material_keys: frozenset[str]
    findings: Findings


def read_allowances(table: object, place: str, findings: Findings) -> dict[str, Formula]:
    """The formulas of an allowance table; what is wrong with others is noted."""
    if not isinstance(table, dict) or len(table) > MAX_ALLOWANCES:
        found = table if not isinstance(table, dict) else f"{len(table)} allowances"
        findings.add(
            place, found, f"a table [{place}] of at most {MAX_ALLOWANCES} allowances", "Correct the table."
        )
        return {}
    formulas: dict[str, Formula] = {}
    for name, value in table.items():
        if not (name.isidentifier() and name.isascii()) or name in RESERVED:
            allowed = f"a name of letters, digits and underscores, other than {', '.join(sorted(RESERVED))}"
            findings.add(f"{place}.{name}", name, allowed, "Give the allowance another name.")
            continue
        try:
            formulas[name] = to_formula(value)
        except FormulaError as error:
            findings.add(f"{place}.{name}", value, FORMULA_WORDS, str(error))
    return formulas


def model_of(key: str, table: Mapping[str, object], context: Context) -> Model | None:
    """The model of a table, or None when nothing of it can be checked any further.

    Panel entries at fault are noted and left out.
    """
    place, findings = f"models.{key}", context.findings
    sizes = _size_keys(table.get("sizes"), f"{place}.sizes", context)
    apart = ("allowances", "panels", "sizes")
    rest = {name: value for name, value in table.items() if name not in apart}
    own = read_allowances(table.get("allowances", {}), f"{place}.allowances", findings)
    written = table.get("panels")
    panels = _Entries(place, sizes, own, context).read(written)
    model = build(
        Model,
        {"name": key, **rest},
        place,
        findings,
        unit=context.unit,
        given={"key": key, "allowances": MappingProxyType(own), "panels": panels, "sizes": sizes},
        apart=apart,
    )
    sound = _check_worked_out(context.allowances, own, f"{place}.allowances", findings)
    if isinstance(written, list) and len(panels) == len(written):
        known = frozenset(context.allowances).union(
            _names(own.values()),
            *(_names(entry.formulas) for entry in panels),
            *(_required(generator) for generator in GENERATORS.values()),
        )
        _check_known(own, known, f"{place}.allowances", findings)
    return model if sound and sizes and panels else None


def _size_keys(written: object, place: str, context: Context) -> tuple[str, ...]:
    """Keys of the usable sizes of a model."""
    if written == "all":
        return tuple(context.sizes)
    if not isinstance(written, list) or not written:
        remedy = 'Write sizes = "all", or a list such as ["double", "king"].'
        context.findings.add(place, written, '"all" or a list of sizes', remedy)
        return ()
    known, usable = context.size_keys, []
    for key in written:
        if not isinstance(key, str) or key not in known:
            hint = near(key, known) if isinstance(key, str) else ""
            remedy = f"{hint}Correct it, or add the size to [sizes]."
            context.findings.add(place, key, f"sizes of the range: {listed(sorted(known))}", remedy)
        elif key in context.sizes:
            usable.append(key)
    return tuple(dict.fromkeys(usable))


def _check_worked_out(
    outer: Mapping[str, Formula], own: Mapping[str, Formula], place: str, findings: Findings
) -> bool:
    """Whether allowances can be worked out once `own` are laid over the `outer` ones."""
    if not own:
        return True
    _, problems = allowance_values({**outer, **own})
    _, before = allowance_values(outer)
    new = {name: problem for name, problem in problems.items() if name in own or name not in before}
    for name, problem in new.items():
        formula = own.get(name) or outer[name]
        findings.add(f"{place}.{name}", formula.text, "a number that can be worked out", problem)
    return not new


def _check_known(own: Mapping[str, Formula], known: frozenset[str], place: str, findings: Findings) -> None:
    """An override that nothing asks for is most likely misspelled."""
    for name in [name for name in own if name not in known]:
        options = [item.name for item in GENERATORS.values() if name in item.parameters]
        if options:
            remedy = f"It is an option of {listed(options)}: write it in the panel itself."
        else:
            remedy = f"{near(name, known)}Correct the name or take it out."
        allowed = "an allowance that a generator or a formula uses"
        findings.add(f"{place}.{name}", own[name].text, allowed, remedy)


def _required(generator: Generator) -> frozenset[str]:
    return frozenset(name for name, parameter in generator.parameters.items() if parameter.required)


def _names(formulas: Iterable[Formula]) -> frozenset[str]:
    return frozenset(name for formula in formulas for name in formula.names)


class _Entries:
    """Reads the panel entries of one model."""

    def __init__(
        self, model: str, sizes: tuple[str, ...], allowances: Mapping[str, Formula], context: Context
    ) -> None:
        self.model, self.sizes, self.context = model, sizes, context
        self.allowances = {**context.allowances, **allowances}

    def read(self, written: object) -> tuple[PanelEntry, ...]:
        """The entries that can be used."""
        place, findings = f"{self.model}.panels", self.context.findings
        if (
            not isinstance(written, list)
            or not all(isinstance(table, dict) for table in written)
            or not written
        ):
            findings.add(place, written, f"tables [[{place}]]", f"Add at least one table [[{place}]].")
            return ()
        if len(written) > MAX_PANELS:
            found = f"{len(written)} panels"
            findings.add(place, found, f"at most {MAX_PANELS}", "Split the model into several.")
            return ()
        entries: dict[str, PanelEntry] = {}
        for number, table in enumerate(written, start=1):
            code = table.get("code")
            label = f" {code!r}" if isinstance(code, str) else ""
            entry = self._entry(table, f"{place}[{number}]{label}")
            if entry is not None and entry.code in entries:
                remedy = "Give one of the panels another code."
                findings.add(f"{entry.place}.code", entry.code, "each code once in a model", remedy)
            elif entry is not None:
                entries[entry.code] = entry
        return tuple(entries.values())

    def _entry(self, table: Mapping[str, object], place: str) -> PanelEntry | None:
        findings = self.context.findings
        before = len(findings)
        generator = self._generator(table, place)
        allowances = read_allowances(table.get("allowances", {}), f"{place}.allowances", findings)
        options = self._options(table, place, generator) if generator else {}
        entry = build(
            PanelEntry,
            {name: table[name] for name in table.keys() & ENTRY_FIELDS if name != "allowances"},
            place,
            findings,
            given={
                "place": place,
                "options": MappingProxyType(options),
                "allowances": MappingProxyType(allowances),
            },
        )
        sound = _check_worked_out(self.allowances, allowances, f"{place}.allowances", findings)
        if entry is None or generator is None or not sound:
            return None
        self._check_references(entry)
        known = frozenset(self.allowances) | _names(entry.formulas) | _required(generator)
        _check_known(allowances, known, f"{place}.allowances", findings)
        return entry if len(findings) == before and entry.material in self.context.materials else None

    def _generator(self, table: Mapping[str, object], place: str) -> Generator | None:
        name = table.get("generator")
        generator = GENERATORS.get(name) if isinstance(name, str) else None
        if generator is None and isinstance(name, str):  # an absent or odd one is found with the other fields
            remedy = f"{near(name, GENERATORS)}Write the name of a generator."
            allowed = f"a generator: {listed(sorted(GENERATORS), most=40)}"
            self.context.findings.add(f"{place}.generator", name, allowed, remedy)
        return generator

    def _check_references(self, entry: PanelEntry) -> None:
        findings = self.context.findings
        if entry.material not in self.context.material_keys:
            known = self.context.material_keys
            remedy = f"{near(entry.material, known)}Correct it, or add a table [materials.{entry.material}]."
            allowed = f"a material of the range: {listed(sorted(known))}"
            findings.add(f"{entry.place}.material", entry.material, allowed, remedy)
        for key in entry.sizes or ():
            if key not in self.sizes and (key not in self.context.size_keys or key in self.context.sizes):
                remedy = f"{near(key, self.sizes)}Correct it, or add the size to the model."
                allowed = f"sizes of the model: {listed(self.sizes)}"
                findings.add(f"{entry.place}.sizes", key, allowed, remedy)

    def _options(self, table: Mapping[str, object], place: str, generator: Generator) -> dict[str, Option]:
        options: dict[str, Option] = {}
        for name in sorted(table.keys() - ENTRY_FIELDS):
            parameter = generator.parameters.get(name)
            if parameter is None:
                known = [*generator.parameters, *sorted(ENTRY_FIELDS)]
                remedy = f"{near(name, known)}Correct the name or take the line out."
                allowed = f"for {generator.name!r} only {listed(known, most=40)}"
                self.context.findings.add(f"{place}.{name}", table[name], allowed, remedy)
                continue
            try:
                options[name] = _option(parameter, table[name])
            except FormulaError as error:
                allowed = describe_parameter(parameter)
                self.context.findings.add(f"{place}.{name}", table[name], allowed, error.problem)
        return options


def _option(parameter: Parameter, value: object) -> Option:
    """The value of a parameter as written; FormulaError says what is wrong with it."""
    match parameter.kind:
        case "flag" if isinstance(value, bool):
            return value
        case "flag":
            raise FormulaError(str(value), 1, "Write true or false, without quotes.")
        case "choice" if isinstance(value, str) and value in parameter.choices:
            return value
        case "choice":
            hint = near(value, parameter.choices) if isinstance(value, str) else ""
            raise FormulaError(str(value), 1, f"{hint}Write one of these in quotes.")
        case "numbers" if isinstance(value, list):
            return tuple(to_formula(item) for item in value)
        case "numbers":
            raise FormulaError(str(value), 1, "Write a list, such as [100, 200].")
        case "spans" if isinstance(value, list) and all(isinstance(v, list) and len(v) == 2 for v in value):
            return tuple(to_formula(item) for span in value for item in span)
        case "spans":
            raise FormulaError(str(value), 1, "Write pairs of from and to, such as [[300, 600]].")
    return to_formula(value)
