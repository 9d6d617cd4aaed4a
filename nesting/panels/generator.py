"""What a panel generator is, and the register of all of them.

A generator is a plain function from finished dimensions, the material and named values (mm) to cut
shapes. Its signature is its contract: the catalogue reads the parameter names, types, limits and
defaults from it, so a new generator needs no other registration than the decorator.

A keyword parameter without default is an *allowance*: its value comes from the range file, where a
panel, its model or the common allowance table names it. A keyword parameter with a default is an
*option* of the panel.
"""

from __future__ import annotations

import inspect
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, Literal, TypeAlias

from nesting.errors import NestingError
from nesting.model import Glue, Mark, Point

__all__ = [
    "GENERATORS",
    "Cost",
    "Count",
    "CutShape",
    "Dims",
    "Flag",
    "Generator",
    "Length",
    "Limit",
    "PanelError",
    "Parameter",
    "Rate",
    "generator",
]


class PanelError(NestingError, ValueError):
    """A panel cannot be made from these values.

    Parameters
    ----------
    parameter
        The parameter at fault, as the range file names it.
    value
        What it was.
    allowed
        What is allowed.
    remedy
        What to do, as an order.
    """

    def __init__(self, parameter: str, value: object, allowed: str, remedy: str) -> None:
        super().__init__(parameter, value, allowed, remedy)
        self.parameter, self.value, self.allowed, self.remedy = parameter, value, allowed, remedy

    def __str__(self) -> str:
        return f"{self.parameter} = {self.value!r}: allowed: {self.allowed}. {self.remedy}"


@dataclass(frozen=True, slots=True)
class Limit:
    """Lowest and highest value of a parameter, both allowed."""

    low: float
    high: float


Length: TypeAlias = Annotated[float, Limit(0, 10_000)]
"""Millimetres, 0 to 10 m."""
Count: TypeAlias = Annotated[int, Limit(0, 1_000)]
Rate: TypeAlias = Annotated[float, Limit(-0.5, 0.5)]
"""A share, such as ease: 0.005 is half a per cent."""
Cost: TypeAlias = Annotated[float, Limit(0, 1_000)]
"""Money."""
Flag: TypeAlias = bool


@dataclass(frozen=True, slots=True)
class Dims:
    """Finished width (W), length (L) and height (H) of what the panel is for, mm; H may be 0."""

    width: float
    length: float
    height: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CutShape:
    """One shape to cut, as a generator returns it; see `nesting.model.Panel` for the fields.

    `suffix` is added to the panel's code and `title` to its name where a generator returns several
    different shapes (``"-L"``, ``"long rail"``). `count` is per panel entry and unit. Where one cut slab
    makes several parts, it counts the parts and `per_slab` says how many a slab makes.
    """

    length: float
    width: float
    thickness: float | None = None
    outline: tuple[Point, ...] = ()
    count: int = 1
    suffix: str = ""
    title: str = ""
    marks: tuple[Mark, ...] = ()
    note: str = ""
    per_slab: int = 1
    glue: Glue | None = None
    standing: bool = False


@dataclass(frozen=True, slots=True)
class Parameter:
    """One named value of a generator, read from its signature."""

    name: str
    kind: Literal["number", "count", "flag", "choice", "numbers", "spans"]
    required: bool
    default: object
    low: float
    high: float
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Generator:
    """A registered generator: its name in range files, the materials it may be cut from, its values."""

    name: str
    make: Callable[..., tuple[CutShape, ...]]
    materials: tuple[Literal["roll", "sheet", "block"], ...]
    parameters: Mapping[str, Parameter]

    @property
    def summary(self) -> str:
        """First line of the documentation."""
        return (inspect.getdoc(self.make) or "").partition("\n")[0]


_register: dict[str, Generator] = {}
GENERATORS: Mapping[str, Generator] = MappingProxyType(_register)
"""All generators by name; filled when `nesting.panels` is imported."""

_Make: TypeAlias = Callable[..., tuple[CutShape, ...]]


def generator(
    name: str, *, materials: tuple[Literal["roll", "sheet", "block"], ...]
) -> Callable[[_Make], _Make]:
    """Register the decorated function under `name` (lower case words, as range files write it)."""

    def register(function: _Make) -> _Make:
        hints = typing.get_type_hints(function, include_extras=True)
        parameters = {
            key: _parameter(key, hints[key], item.default)
            for key, item in inspect.signature(function).parameters.items()
            if item.kind is inspect.Parameter.KEYWORD_ONLY
        }
        _register[name] = Generator(name, function, materials, MappingProxyType(parameters))
        return function

    return register


def _parameter(name: str, hint: Any, default: object) -> Parameter:
    required = default is inspect.Parameter.empty
    value = None if required else default
    if hint is bool:
        return Parameter(name, "flag", required, value, 0, 1, ())
    if typing.get_origin(hint) is Literal:
        return Parameter(name, "choice", required, value, 0, 0, typing.get_args(hint))
    if typing.get_origin(hint) is tuple:
        inner = typing.get_args(hint)[0]
        kind: Literal["numbers", "spans"] = "spans" if typing.get_origin(inner) is tuple else "numbers"
        if kind == "spans":
            inner = typing.get_args(inner)[0]
        limit = inner.__metadata__[0]
        return Parameter(name, kind, required, value, limit.low, limit.high, ())
    base, limit = typing.get_args(hint)[:2]
    return Parameter(name, "count" if base is int else "number", required, value, limit.low, limit.high, ())
