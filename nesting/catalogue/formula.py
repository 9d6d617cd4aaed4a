"""Formulas of range files: small trees that are worked out from named numbers.

`nesting.catalogue.parser` makes them from text and describes what a formula may hold. Everything is in
mm; functions are ``min``, ``max``, ``round``, ``ceil``, ``floor`` and ``if``. Nothing is ever evaluated as
program code.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from nesting.errors import NestingError

__all__ = [
    "COMPARISONS",
    "DIMENSIONS",
    "FUNCTIONS",
    "RESERVED",
    "Formula",
    "FormulaError",
    "Name",
    "Node",
    "Number",
    "Operation",
    "is_condition",
]

EXACTNESS = 1e-9
"""Relative difference below which two numbers count as equal: the noise of decimal fractions.

Without it ``ceil(6 * 0.1 / 0.2)`` would be 4, and a bed of exactly 60 in could miss ``W >= 60 in``.
"""


class FormulaError(NestingError, ValueError):
    """A formula that cannot be read or worked out.

    Parameters
    ----------
    text
        The formula.
    column
        Where in it, counted from 1.
    problem
        What is wrong and what to do, as a sentence.
    """

    def __init__(self, text: str, column: int, problem: str) -> None:
        super().__init__(text, column, problem)
        self.text, self.column, self.problem = text, column, problem

    def __str__(self) -> str:
        return f"At character {self.column}: {self.problem}"


@dataclass(frozen=True, slots=True)
class Number:
    """A number as written, converted to mm when it carried a unit."""

    value: float


@dataclass(frozen=True, slots=True)
class Name:
    """A named number."""

    name: str
    column: int


@dataclass(frozen=True, slots=True)
class Operation:
    """An operator or function and what it works on."""

    symbol: str
    arguments: tuple[Node, ...]
    column: int
    condition: bool
    """Whether the result is true or false rather than a number."""


Node: TypeAlias = Number | Name | Operation


def _equal(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=EXACTNESS, abs_tol=EXACTNESS)


def _to_step(whole: Callable[[float], float]) -> Callable[..., float]:
    """Rounding to a multiple of a step, where a hair's breadth from a multiple is that multiple."""

    def stepped(number: float, step: float = 1.0) -> float:
        if step <= 0:
            raise ValueError("the step to round to must be above 0.")
        steps = number / step
        if not math.isfinite(steps):
            raise OverflowError
        nearest = float(math.floor(steps + 0.5))
        return step * (nearest if _equal(steps, nearest) else float(whole(steps)))

    return stepped


_ARITHMETIC: dict[str, Callable[..., float]] = {
    "negative": lambda a: -a,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "min": min,
    "max": max,
    "ceil": _to_step(math.ceil),
    "floor": _to_step(math.floor),
    "round": _to_step(lambda steps: math.floor(steps + 0.5)),  # halves go up, as on a shop calculator
}
COMPARISONS: dict[str, Callable[[float, float], bool]] = {
    "<": lambda a, b: a < b and not _equal(a, b),
    "<=": lambda a, b: a < b or _equal(a, b),
    ">": lambda a, b: a > b and not _equal(a, b),
    ">=": lambda a, b: a > b or _equal(a, b),
    "==": _equal,
    "=": _equal,
    "!=": lambda a, b: not _equal(a, b),
}

FUNCTIONS: Mapping[str, tuple[int, int]] = {
    "min": (2, 20),
    "max": (2, 20),
    "round": (1, 2),
    "ceil": (1, 2),
    "floor": (1, 2),
    "if": (3, 3),
}
"""Functions with the least and most values each takes. ``ceil(x, 5)`` rounds up to a multiple of 5."""

DIMENSIONS = frozenset({"W", "L", "H"})
"""Finished width, length and height of the bed, mm."""

RESERVED = frozenset({*DIMENSIONS, "and", "or", "not", *FUNCTIONS})
"""Names with a meaning of their own, which an allowance cannot have."""


@dataclass(frozen=True, slots=True)
class Formula:
    """A parsed formula. Made by `nesting.catalogue.parser.parse` or `Formula.constant`.

    Parameters
    ----------
    text
        As written.
    tree
        What it means.
    """

    text: str
    tree: Node

    @classmethod
    def constant(cls, value: float) -> Formula:
        """The formula that is always `value`."""
        return cls(f"{value:g}", Number(float(value)))

    @property
    def is_condition(self) -> bool:
        """Whether it is true or false rather than a number."""
        return is_condition(self.tree)

    @property
    def names(self) -> frozenset[str]:
        """The names it uses."""
        return frozenset(_names(self.tree))

    def number(self, names: Mapping[str, float]) -> float:
        """Work it out as a number, mm where it is a length.

        Raises
        ------
        FormulaError
            When it is a condition, a name is unknown, something is divided by 0 or the result is too
            large.
        """
        if self.is_condition:
            raise FormulaError(self.text, 1, "A number is wanted here, not a condition.")
        return float(_Evaluation(self.text, names).value(self.tree))

    def truth(self, names: Mapping[str, float]) -> bool:
        """Work it out as a condition.

        Raises
        ------
        FormulaError
            When it is a number, or as in `number`.
        """
        if not self.is_condition:
            raise FormulaError(self.text, 1, 'A condition is wanted here, such as "W >= 1500".')
        return bool(_Evaluation(self.text, names).value(self.tree))


def is_condition(node: Node) -> bool:
    """Whether a tree is true or false rather than a number."""
    return isinstance(node, Operation) and node.condition


def _names(node: Node) -> Iterator[str]:
    if isinstance(node, Name):
        yield node.name
    elif isinstance(node, Operation):
        for argument in node.arguments:
            yield from _names(argument)


class _Evaluation:
    """Works out one tree for one set of names."""

    def __init__(self, text: str, names: Mapping[str, float]) -> None:
        self._text, self._names = text, names

    def value(self, node: Node) -> float | bool:
        if isinstance(node, Number):
            return node.value
        if isinstance(node, Name):
            if node.name not in self._names:
                raise FormulaError(self._text, node.column, self._unknown(node.name))
            return self._names[node.name]
        match node.symbol:
            case "if":  # only the branch that counts, so that a condition can guard a division
                return self.value(node.arguments[1 if self.value(node.arguments[0]) else 2])
            case "and":
                return all(self.value(argument) for argument in node.arguments)
            case "or":
                return any(self.value(argument) for argument in node.arguments)
            case "not":
                return not self.value(node.arguments[0])
        values = [self.value(argument) for argument in node.arguments]
        if node.symbol in COMPARISONS:
            return COMPARISONS[node.symbol](*values)
        return self._number(node, values)

    def _number(self, node: Operation, values: list[float]) -> float:
        try:
            result = _ARITHMETIC[node.symbol](*values)
        except ZeroDivisionError:
            raise FormulaError(self._text, node.column, "This divides by 0.") from None
        except OverflowError:
            result = math.inf
        except ValueError as error:
            raise FormulaError(self._text, node.column, f"In {node.symbol}, {error}") from None
        if not math.isfinite(result):
            raise FormulaError(self._text, node.column, "The result is too large.")
        return result

    def _unknown(self, name: str) -> str:
        known = sorted(self._names)
        folded = [key for key in known if key.casefold() == name.casefold()]
        near = folded or difflib.get_close_matches(name, known, n=1)
        hint = f"Did you mean {near[0]!r}?" if near else f"Known here: {', '.join(known) or 'none'}."
        return f"Nothing is named {name!r}. {hint}"
