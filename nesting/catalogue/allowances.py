"""Allowances: named numbers, or formulas over other allowances.

A value is looked up from the inside out: the panel's own allowances, then the model's, then those of
the range. All three tables are laid over one another first and worked out together, so an override of
one allowance also changes those that are reckoned from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

from nesting.catalogue.formula import DIMENSIONS, Formula, FormulaError

__all__ = ["allowance_values"]


def allowance_values(formulas: Mapping[str, Formula]) -> tuple[dict[str, float], dict[str, str]]:
    """Work out allowances that may refer to one another.

    Parameters
    ----------
    formulas
        Formula of each allowance.

    Returns
    -------
    values
        mm, or shares, of those that can be worked out.
    problems
        What is wrong with each of the others, as a sentence.
    """
    needs = {name: sorted(formula.names & formulas.keys()) for name, formula in formulas.items()}
    problems: dict[str, str] = {}
    order = _order(needs, problems)
    values: dict[str, float] = {}
    # Every name is known from the start, for the hints on misspelled ones; its number is there in time.
    names = dict.fromkeys(formulas, 0.0)
    for name in order:
        broken = next((other for other in needs[name] if other in problems), None)
        if broken is not None:
            problems[name] = f"It needs {broken!r}, which cannot be worked out."
        elif formulas[name].names & DIMENSIONS:
            problems[name] = "W, L and H are known in panels only: write the formula there."
        else:
            try:
                values[name] = names[name] = formulas[name].number(names)
            except FormulaError as error:
                problems[name] = str(error)
    return values, problems


def _order(needs: Mapping[str, list[str]], problems: dict[str, str]) -> tuple[str, ...]:
    """Names so that each comes after those it needs; members of a circle go to `problems` instead."""
    while True:
        graph = {
            name: [other for other in others if other not in problems]
            for name, others in needs.items()
            if name not in problems
        }
        try:
            return tuple(TopologicalSorter(graph).static_order())
        except CycleError as error:
            circle: list[str] = error.args[1][::-1]  # the library lists what is needed first
            words = f"It goes round in a circle: {' needs '.join(circle)}."
            problems.update(dict.fromkeys(circle, words))
