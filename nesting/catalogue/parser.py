"""Reading the text of a formula into a tree.

::

    condition  = clause ("or" clause)*             W >= 1500 and H < 200
    clause     = test ("and" test)*
    test       = "not" test | sum [("<" | "<=" | ">" | ">=" | "==" | "=" | "!=") sum]
    sum        = product (("+" | "-") product)*
    product    = factor (("*" | "/") factor)*
    factor     = "-" factor | number [unit] | name | "(" condition ")" | function "(" arguments ")"

Numbers may carry a unit (see `nesting.reading.units`); everything is worked out in mm. Whether a part
is a number or a condition is settled here, so a finished formula can only fail on its values.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from nesting.catalogue.formula import (
    COMPARISONS,
    FUNCTIONS,
    Formula,
    FormulaError,
    Name,
    Node,
    Number,
    Operation,
    is_condition,
)
from nesting.reading.units import LITERAL, RUN_TOGETHER, LengthError, literal_value

__all__ = ["MAX_DEPTH", "MAX_TEXT", "parse"]

MAX_TEXT = 500
"""Most characters of a formula."""
MAX_DEPTH = 50
"""Most parentheses, functions and signs inside one another."""

_PRECEDENCE = {"or": 1, "and": 2, **dict.fromkeys(COMPARISONS, 4), "+": 5, "-": 5, "*": 6, "/": 6}
_NOT_PRECEDENCE = 3
_LOGIC = {"or", "and"}


def parse(text: str) -> Formula:
    """Read a formula.

    Raises
    ------
    FormulaError
        When it is too long, too deeply nested, or not a formula.

    Examples
    --------
    >>> parse("W / 2 + 2 * seam").number({"W": 1500.0, "seam": 15.0})
    780.0
    >>> parse("W >= 60 in").truth({"W": 1524.0})
    True
    """
    if len(text) > MAX_TEXT:
        raise FormulaError(text, MAX_TEXT, f"A formula may have at most {MAX_TEXT} characters.")
    return Formula(text, _Parser(text).whole())


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    """``"number"``, ``"name"``, ``"symbol"`` or ``"end"``."""
    text: str
    column: int
    value: float = 0.0


_SPACE = re.compile(r"\s*")
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_SYMBOL = re.compile(r"<=|>=|==|!=|[<>=+\-*/(),]")


def _tokens(text: str) -> Iterator[_Token]:
    at = 0
    while True:
        space = _SPACE.match(text, at)
        at = space.end() if space else at
        column = at + 1
        if at == len(text):
            yield _Token("end", "", column)
            return
        if together := RUN_TOGETHER.match(text, at):
            whole, fraction, unit = together["whole"], together["fraction"], together["unit"]
            raise FormulaError(
                text,
                column,
                f"Write {whole} {fraction} {unit} with a space, or {whole} - {fraction} {unit} to subtract.",
            )
        if literal := LITERAL.match(text, at):
            try:
                value = literal_value(literal)
            except LengthError as error:
                raise FormulaError(text, column, str(error)) from None
            yield _Token("number", literal.group(), column, value)
            at = literal.end()
        elif found := _WORD.match(text, at):
            yield _Token("name", found.group(), column)
            at = found.end()
        elif found := _SYMBOL.match(text, at):
            yield _Token("symbol", found.group(), column)
            at = found.end()
        else:
            raise FormulaError(text, column, _stray(text[at]))


def _stray(character: str) -> str:
    hints = {"%": "Write 0.005 for 0.5 %.", "^": "Write x * x.", ".": "Write names without points."}
    hint = hints.get(character, "Use numbers, names, + - * / and parentheses.")
    return f"The character {character!r} means nothing here. {hint}"


class _Parser:
    """Precedence climbing over the tokens of one formula."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._rest = _tokens(text)
        self._next = next(self._rest)
        self._depth = 0

    def whole(self) -> Node:
        node = self._expression(0)
        if self._next.kind != "end":
            raise self._error(self._next, self._unexpected(self._next))
        return node

    def _expression(self, floor: int) -> Node:
        left = self._operand()
        while (level := self._level()) is not None and level >= floor:
            operator = self._take()
            right = self._expression(level + 1)
            if operator.text in _LOGIC:
                self._want(left, right, condition=True, at=operator)
            else:
                self._want(left, right, condition=False, at=operator)
            condition = operator.text in _LOGIC or operator.text in COMPARISONS
            left = Operation(operator.text, (left, right), operator.column, condition)
        return left

    def _level(self) -> int | None:
        return _PRECEDENCE.get(self._next.text) if self._next.kind in ("symbol", "name") else None

    def _operand(self) -> Node:
        token = self._take()
        if token.kind == "number":
            return Number(token.value)
        if token.kind == "name" and token.text == "not":
            with_ = self._nested(token, lambda: self._expression(_NOT_PRECEDENCE))
            self._want(with_, condition=True, at=token)
            return Operation("not", (with_,), token.column, True)
        if token.kind == "name" and token.text not in _LOGIC:
            if self._next.text == "(":
                return self._nested(token, lambda: self._call(token))
            if token.text in FUNCTIONS:
                raise self._error(token, f"{token.text} needs its values in parentheses.")
            return Name(token.text, token.column)
        if token.text == "-":
            operand = self._nested(token, self._operand)
            self._want(operand, condition=False, at=token)
            return Operation("negative", (operand,), token.column, False)
        if token.text == "(":
            node = self._nested(token, lambda: self._expression(0))
            self._close(token)
            return node
        raise self._error(token, self._unexpected(token))

    def _call(self, name: _Token) -> Node:
        if name.text not in FUNCTIONS:
            raise self._error(name, f"{name.text!r} is not a function; there are {', '.join(FUNCTIONS)}.")
        opening = self._take()
        arguments = [self._expression(0)]
        while self._next.text == ",":
            self._take()
            arguments.append(self._expression(0))
        self._close(opening)
        least, most = FUNCTIONS[name.text]
        if not least <= len(arguments) <= most:
            count = f"{least}" if least == most else f"{least} to {most}"
            raise self._error(name, f"{name.text} takes {count} values, {len(arguments)} are written.")
        if name.text == "if":
            self._want(arguments[0], condition=True, at=name)
            self._want(*arguments[1:], condition=False, at=name)
        else:
            self._want(*arguments, condition=False, at=name)
        return Operation(name.text, tuple(arguments), name.column, False)

    def _nested(self, token: _Token, inside: Callable[[], Node]) -> Node:
        self._depth += 1
        if self._depth > MAX_DEPTH:
            raise self._error(token, f"At most {MAX_DEPTH} parentheses and functions inside one another.")
        node = inside()
        self._depth -= 1
        return node

    def _close(self, opening: _Token) -> None:
        if self._next.text == ")":
            self._take()
        elif self._next.kind == "end":
            raise self._error(opening, "This parenthesis is never closed.")
        else:
            raise self._error(self._next, self._unexpected(self._next))

    def _take(self) -> _Token:
        token = self._next
        if token.kind != "end":
            self._next = next(self._rest)
        return token

    def _want(self, *nodes: Node, condition: bool, at: _Token) -> None:
        if any(is_condition(node) != condition for node in nodes):
            wanted = 'conditions such as "W >= 1500"' if condition else "numbers, not conditions"
            extra = " To compare twice, join with and." if at.text in COMPARISONS else ""
            raise self._error(at, f"{at.text!r} works on {wanted}.{extra}")

    def _unexpected(self, token: _Token) -> str:
        if token.kind == "end":
            return "The formula ends too early." if self._text.strip() else "The formula is empty."
        if token.text == ",":
            return "A comma only separates the values of a function; write a decimal point in numbers."
        return f"{token.text!r} is out of place here."

    def _error(self, token: _Token, problem: str) -> FormulaError:
        return FormulaError(self._text, token.column, problem)
