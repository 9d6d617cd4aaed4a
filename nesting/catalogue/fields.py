"""Tables of a range file turned into value objects.

The limits on fields are the `Annotated` constraints of the value objects themselves, enforced by
pydantic; the words for what is allowed are read off the same constraints, so that limit and message
cannot drift apart.
"""

from __future__ import annotations

import dataclasses
import functools
import types
import typing
from collections.abc import Collection, Mapping
from typing import Annotated, Any, Literal, TypeAlias, TypeVar

from annotated_types import Ge, Gt, Le, Len
from pydantic import TypeAdapter, ValidationError

from nesting.catalogue.formula import Formula, FormulaError
from nesting.catalogue.parser import parse
from nesting.materials import BlockLength, LongMeasure, Measure, Small
from nesting.packing.problem import Kerfs, Skins, Trim
from nesting.reading.findings import Findings, listed, near
from nesting.reading.units import LengthError, show, to_mm

__all__ = ["Height", "build", "describe", "to_formula"]

T = TypeVar("T")

Height: TypeAlias = Annotated[float, Ge(0), Le(2_000)]
"""Finished thickness, mm; 0 for what is flat."""

_LENGTHS = (Measure, Small, LongMeasure, BlockLength, Height)
_CUTS = {"slitter": "level", "saw": "upright"}
"""What range files call the widths of cuts in `Kerfs`."""

FORMULA_WORDS = 'a number or a formula such as "W + 2 * seam"'


def build(
    kind: type[T],
    table: Mapping[str, object],
    place: str,
    findings: Findings,
    *,
    unit: str = "mm",
    given: Mapping[str, object] = types.MappingProxyType({}),
    apart: Collection[str] = (),
) -> T | None:
    """A value object from a table of the file.

    Lengths may carry a unit, a rim (`Trim`, `Skins`) may be one number for all sides, a formula is
    parsed, a list becomes a tuple.

    Parameters
    ----------
    kind
        The dataclass.
    table
        Names and values as read from the file.
    place
        Where the table stands, for messages: ``"materials.ticking"``.
    findings
        Takes what is wrong.
    unit
        Unit of bare numbers in length fields.
    given
        Fields that do not come from the table, such as the key; the table may not set them.
    apart
        Names that the table may hold as well but that are read elsewhere; only for messages.

    Returns
    -------
    kind or None
        None when anything was wrong.
    """
    before = len(findings)
    fields = {field.name: field for field in dataclasses.fields(kind) if field.name not in given}  # type: ignore[arg-type]
    hints = typing.get_type_hints(kind, include_extras=True)
    values: dict[str, Any] = dict(given)
    for name in [name for name in table if name not in fields]:
        remedy = f"{near(name, [*fields, *apart])}Correct the name or take the line out."
        findings.add(f"{place}.{name}", table[name], f"only {listed([*fields, *apart], most=40)}", remedy)
    for name, field in fields.items():
        hint = hints[name]
        if name in table:
            try:
                values[name] = _value(hint, table[name], unit)
            except _RejectedError as rejected:
                findings.add(f"{place}.{name}", table[name], describe(hint), rejected.remedy)
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            findings.add(f"{place}.{name}", None, describe(hint), f"Add a line {name} = ... here.")
    return kind(**values) if len(findings) == before else None


def to_formula(value: object) -> Formula:
    """A formula from a number or text.

    Raises
    ------
    FormulaError
        When it is neither, or the text is no formula.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise FormulaError(str(value), 1, "Write a number, or a formula in quotes.")
    if isinstance(value, str):
        return parse(value)
    try:
        return Formula.constant(to_mm(value))
    except LengthError as error:
        raise FormulaError(str(value), 1, str(error)) from None


class _RejectedError(Exception):
    def __init__(self, remedy: str) -> None:
        super().__init__(remedy)
        self.remedy = remedy


def _value(hint: Any, value: object, unit: str) -> object:
    kinds = _alternatives(hint)
    if Formula in kinds:
        try:
            return to_formula(value)
        except FormulaError as error:
            raise _RejectedError(str(error)) from None
    for rim in (Trim, Skins):
        if rim in kinds:
            return _rim(rim, value, unit)
    if Kerfs in kinds and isinstance(value, dict):
        return _kerfs(value, unit)
    if any(kind in _LENGTHS for kind in kinds):
        try:
            value = to_mm(value, unit)
        except LengthError as error:
            raise _RejectedError(str(error)) from None
    if isinstance(value, list):
        value = tuple(value)
    if isinstance(value, str) and not value.isprintable():
        raise _RejectedError("Write it on one line, without control characters.")
    try:
        return _adapter(hint).validate_python(value, strict=True)
    except ValidationError:
        raise _RejectedError(_correction(kinds, value)) from None


def _correction(kinds: tuple[Any, ...], value: object) -> str:
    choices = [
        choice for kind in kinds if typing.get_origin(kind) is Literal for choice in typing.get_args(kind)
    ]
    if isinstance(value, str):
        if choices:
            return f"{near(value, choices)}Write one of these."
        if not any(_base(kind) is str for kind in kinds):
            return "Write it without quotes."
    return "Correct the value."


def _rim(kind: type[Trim] | type[Skins], value: object, unit: str) -> Trim | Skins:
    sides = [field.name for field in dataclasses.fields(kind)]
    written = value if isinstance(value, dict) else dict.fromkeys(sides, value)
    lengths = {}
    for side, number in written.items():
        if side not in sides:
            raise _RejectedError(f"{near(side, sides)}The sides are {', '.join(sides)}.")
        try:
            lengths[side] = _value(Small, number, unit)
        except _RejectedError as rejected:
            raise _RejectedError(f"{side}: {rejected.remedy}") from None
    return kind(**lengths)  # type: ignore[arg-type]


def _kerfs(written: Mapping[str, object], unit: str) -> Kerfs:
    """Widths of the cuts of slitter and saw; both must be there, for neither follows from the other."""
    for machine in [*written, *_CUTS]:
        if machine not in _CUTS or machine not in written:
            raise _RejectedError(f"{near(machine, _CUTS)}Write both, as in {{ slitter = 0.5, saw = 2 }}.")
    widths = {}
    for machine, field in _CUTS.items():
        try:
            widths[field] = float(_value(Small, written[machine], unit))  # type: ignore[arg-type]
        except _RejectedError as rejected:
            raise _RejectedError(f"{machine}: {rejected.remedy}") from None
    return Kerfs(**widths)


def describe(hint: Any) -> str:
    """What a field with this type hint allows, in plain words."""
    kinds = sorted(_alternatives(hint), key=lambda kind: kind is Kerfs)  # the plain number first
    return " or ".join(dict.fromkeys(_describe(kind) for kind in kinds))


def _describe(kind: Any) -> str:
    base = _base(kind)
    if kind is Formula:
        return FORMULA_WORDS
    if kind in (Trim, Skins):
        sides = ", ".join(field.name for field in dataclasses.fields(kind))
        return f"{_describe(Small)} for all sides, or a table of some of {sides}"
    if kind is Kerfs:
        return f"a table of {' and '.join(_CUTS)}"
    if typing.get_origin(kind) is Literal:
        return listed(typing.get_args(kind))
    if typing.get_origin(kind) is tuple:
        return f"a list, each {describe(typing.get_args(kind)[0])}"
    if base is bool:
        return "true or false"
    if base is str:
        length = next((limit for limit in _limits(kind) if isinstance(limit, Len)), None)
        return (
            f"text of {length.min_length} to {length.max_length} characters" if length else "text in quotes"
        )
    what = "a length" if kind in _LENGTHS else "a whole number" if base is int else "a number"
    return f"{what}{_bounds(_limits(kind), ' mm' if kind in _LENGTHS else '')}"


def _bounds(limits: tuple[Any, ...], unit: str) -> str:
    above, low, high = (_bound(limits, kind, kind.__name__.lower()) for kind in (Gt, Ge, Le))
    if above is not None:
        return f" above {above}" + ("" if high is None else f" and at most {high}{unit}")
    if low is not None:
        return f", {low} or more" if high is None else f" from {low} to {high}{unit}"
    return ""


def _bound(limits: tuple[Any, ...], kind: type, name: str) -> str | None:
    return next((show(getattr(limit, name)) for limit in limits if isinstance(limit, kind)), None)


@functools.cache
def _adapter(hint: Any) -> TypeAdapter[Any]:
    return TypeAdapter(hint)


def _alternatives(hint: Any) -> tuple[Any, ...]:
    """The parts of a union but None: leaving a field out is how None is written."""
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return tuple(part for part in typing.get_args(hint) if part is not type(None))
    return (hint,)


def _base(kind: Any) -> Any:
    return typing.get_args(kind)[0] if typing.get_origin(kind) is Annotated else kind


def _limits(kind: Any) -> tuple[Any, ...]:
    return tuple(kind.__metadata__) if typing.get_origin(kind) is Annotated else ()
