"""Loading a range file. Everything that is wrong with it is told at once."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Literal

from annotated_types import Len

from nesting.catalogue import lookup
from nesting.catalogue.allowances import allowance_values
from nesting.catalogue.check import check
from nesting.catalogue.entries import Model
from nesting.catalogue.fields import build
from nesting.catalogue.materials import material_of
from nesting.catalogue.modelfile import Context, model_of, read_allowances
from nesting.catalogue.ranges import Range
from nesting.catalogue.toml import toml_tables
from nesting.errors import InputError
from nesting.materials import Name
from nesting.model import Material, Size, Workshop
from nesting.reading.files import MEGABYTE, read_limited
from nesting.reading.findings import Findings, listed, near

__all__ = ["MAX_BYTES", "load_range", "range_of"]

MAX_BYTES = 5 * MEGABYTE
"""Largest range file."""
ZIP = b"PK"
"""What every XLSX file begins with, and no TOML file."""
MAX_TABLES = 500
"""Most sizes, materials or models."""
MAX_KEY = 80
"""Most characters of a table name."""
MAX_UNITS = 5_000
"""Most pairs of model and size; each of them is made once while loading."""

_KEY = re.compile(r"\w([\w .-]*\w)?")
TABLES = ("range", "workshop", "allowances", "sizes", "materials", "models")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    """The ``[range]`` table."""

    name: Name
    currency: Annotated[str, Len(3, 3)]
    unit: Literal["mm", "in"] = "mm"
    note: str = ""


def load_range(path: str | os.PathLike[str]) -> Range:
    """Read and check a range file.

    Bare numbers that are lengths are mm, except the finished sizes (width and length of ``[sizes]``,
    ``height`` of a model), which are in the ``unit`` of ``[range]``. Inside formulas everything is mm.

    A parameter of a panel's generator takes its value from the panel entry itself; a parameter without
    a default also from an allowance of that name: the panel's, the model's or the range's, the first
    that has it.

    Parameters
    ----------
    path
        A TOML file, or a workbook as `nesting.catalogue.workbook` writes it, of at most 5 MB.

    Raises
    ------
    InputError
        With every problem found, at most 200 of them.
    """
    name = os.fspath(path)
    content = read_limited(path, limit=MAX_BYTES, kind="a range file")
    if not content.startswith(ZIP):
        return range_of(name, toml_tables(name, content))
    from nesting.catalogue.workbook import workbook_tables  # here: spreadsheets are slow to load

    tables, places = workbook_tables(name, content)
    try:
        return range_of(name, tables)
    except InputError as error:
        raise InputError([places.finding(finding) for finding in error.findings]) from None


def range_of(name: str, tables: Mapping[str, object]) -> Range:
    """The range that the tables of a file make up.

    Parameters
    ----------
    name
        Name of the file, for messages.
    tables
        As TOML gives them.

    Raises
    ------
    InputError
        With every problem found.
    """
    findings = Findings(name)
    range_ = _range(tables, findings)
    if range_ is not None:
        findings.extend(check(range_))
    if range_ is None or len(findings):
        raise InputError(findings.listing())
    return range_


def _range(tables: Mapping[str, object], findings: Findings) -> Range | None:
    """The range without what is at fault, so that the rest can still be checked; None if nothing can."""
    for key in [key for key in tables if key not in TABLES]:
        remedy = f"{near(key, TABLES)}Correct the name or take it out."
        findings.add(key, tables[key], f"only {listed(TABLES)}", remedy)
    header = _header(tables.get("range"), findings)
    allowances = read_allowances(tables.get("allowances", {}), "allowances", findings)
    _, problems = allowance_values(allowances)
    for name, problem in problems.items():
        findings.add(f"allowances.{name}", allowances[name].text, "a number that can be worked out", problem)
    context = Context(
        unit=header.unit,
        allowances=allowances,
        sizes=_sizes(tables, header.unit, findings),
        materials=_materials(tables, findings),
        size_keys=_keys(tables, "sizes"),
        material_keys=_keys(tables, "materials"),
        findings=findings,
    )
    models: dict[str, Model] = {}
    for key, table in _named_tables(tables, "models", findings):
        model = model_of(key, table, context)
        if model is not None:
            models[key] = model
    _check_names("models", models, findings)
    units = sum(len(model.sizes) for model in models.values())
    if units > MAX_UNITS:
        found = f"{units} pairs of model and size"
        findings.add("models", found, f"at most {MAX_UNITS}", "Split the range into several files.")
    if problems or units > MAX_UNITS:
        return None
    return Range(
        file=findings.file,
        name=header.name,
        currency=header.currency,
        unit=header.unit,
        note=header.note,
        allowances=MappingProxyType(allowances),
        sizes=MappingProxyType(context.sizes),
        materials=MappingProxyType(context.materials),
        models=MappingProxyType(models),
        workshop=_workshop(tables.get("workshop", {}), findings),
    )


def _header(table: object, findings: Findings) -> _Header:
    """The header, or after noting what is wrong with it one to go on with."""
    stand_in = _Header(name="", currency="")
    if not isinstance(table, dict):
        remedy = 'Add a table [range] with name = "..." and currency = "EUR".'
        findings.add("range", table, "a table [range]", remedy)
        return stand_in
    header = build(_Header, table, "range", findings)
    if header is None:
        return stand_in
    if not (header.currency.isascii() and header.currency.isalpha() and header.currency.isupper()):
        remedy = "Write the ISO 4217 code."
        findings.add("range.currency", header.currency, 'three capital letters such as "EUR"', remedy)
    return header


def _workshop(table: object, findings: Findings) -> Workshop:
    """The workshop, or the usual one where none is written or after noting what is wrong with it."""
    if not isinstance(table, dict):
        remedy = 'Add a line [workshop], and units = "inch" or paper = "A4" below it.'
        findings.add("workshop", table, "a table [workshop]", remedy)
        return Workshop()
    return build(Workshop, table, "workshop", findings) or Workshop()


def _sizes(tables: Mapping[str, object], unit: str, findings: Findings) -> dict[str, Size]:
    sizes: dict[str, Size] = {}
    for key, table in _named_tables(tables, "sizes", findings):
        size = build(Size, {"name": key, **table}, f"sizes.{key}", findings, unit=unit, given={"key": key})
        if size is not None:
            sizes[key] = size
    _check_names("sizes", sizes, findings)
    return sizes


def _materials(tables: Mapping[str, object], findings: Findings) -> dict[str, Material]:
    materials: dict[str, Material] = {}
    for key, table in _named_tables(tables, "materials", findings):
        material = material_of(key, table, findings)
        if material is not None:
            materials[key] = material
    _check_names("materials", materials, findings)
    return materials


def _named_tables(
    tables: Mapping[str, object], kind: str, findings: Findings
) -> Iterator[tuple[str, dict[str, object]]]:
    """The tables ``[kind.KEY]`` with fit keys."""
    group = tables.get(kind)
    example = f"[{kind}.something]"
    if not isinstance(group, dict) or not group:
        findings.add(kind, group, f"tables {example}", f"Add at least one table {example}.")
        return
    if len(group) > MAX_TABLES:
        found = f"{len(group)} tables"
        findings.add(kind, found, f"at most {MAX_TABLES}", "Split the range into several files.")
        return
    for key, table in group.items():
        if not isinstance(table, dict):
            remedy = f"Write it as a table [{kind}.{key}]."
            findings.add(f"{kind}.{key}", table, f"tables {example}", remedy)
        elif len(key) > MAX_KEY or not _KEY.fullmatch(key):
            allowed = f"letters, digits, spaces, points, hyphens and underscores, at most {MAX_KEY}"
            findings.add(f"{kind}.{key}", key, allowed, "Give the table another name.")
        else:
            yield key, table


def _keys(tables: Mapping[str, object], kind: str) -> frozenset[str]:
    """All keys that are written, whether their tables can be used or not."""
    group = tables.get(kind)
    return frozenset(group) if isinstance(group, dict) else frozenset()


def _check_names(kind: str, items: Mapping[str, lookup.Named], findings: Findings) -> None:
    for first, second in lookup.collisions(items):
        allowed = "keys that differ in more than case, spaces and hyphens, and are no other's name"
        remedy = f"It could not be told from {first!r}: rename one of them."
        findings.add(f"{kind}.{second}", second, allowed, remedy)
