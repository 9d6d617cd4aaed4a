"""Cutting pieces from another material than the range says: what changes, and what must be warned of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nesting.catalogue.fit import permitted_turns
from nesting.errors import Finding, InputError
from nesting.model import Demand, RollMaterial

__all__ = ["in_place_of", "warnings_for"]


def in_place_of(
    demands: Sequence[Demand], meant: RollMaterial, used: RollMaterial
) -> tuple[tuple[Demand, ...], tuple[str, ...]]:
    """The demands for one material as they may be cut from another, and what people must know.

    A piece keeps those of its turns that the other cloth allows, too.

    Returns
    -------
    tuple
        The demands; and warnings, never an approval.

    Raises
    ------
    InputError
        When a piece may only lie in a way that the other cloth does not allow.
    """
    turned = []
    for demand in demands:
        # A panel that may be turned on two-way cloth says so by its turns.
        may_turn = meant.grain == "two-way" and any(turn % 180.0 for turn in demand.panel.turns)
        allowed = permitted_turns(used, may_turn=may_turn)
        turns = tuple(turn for turn in demand.panel.turns if turn in allowed)
        if not turns:
            raise InputError([_no_turn(demand, used)])
        turned.append(replace(demand, panel=replace(demand.panel, turns=turns)))
    return tuple(turned), warnings_for(meant, used)


def _no_turn(demand: Demand, used: RollMaterial) -> Finding:
    turns = ", ".join(f"{turn:g}" for turn in demand.panel.turns)
    allowed = f"turns that {used.name} allows ({used.grain} cloth)"
    remedy = "It may not be turned so on this cloth: choose another."
    return Finding("the order", demand.key, f"turned by {turns} degrees", allowed, remedy)


def warnings_for(meant: RollMaterial, used: RollMaterial) -> tuple[str, ...]:
    """What must be said when `used` is cut in the place of `meant`.

    A change of ticking, thread, filling, adhesive or layer order may make a new construction that no
    earlier fire test holds for (16 CFR 1632.6 on ticking substitution, among others); so the approval
    references are printed, never compared.
    """
    references = [
        f"{material.name}: {material.fire_reference or 'no approval reference given'}"
        for material in (meant, used)
    ]
    found = [
        f"CAUTION: {used.name} is cut in the place of {meant.name}. An earlier fire test of the product may "
        f"no longer hold ({'; '.join(references)}). This plan approves nothing: ask whoever answers for the "
        "test before cutting."
    ]
    ours = (meant.contraction_along, meant.contraction_across)
    theirs = (used.contraction_along, used.contraction_across)
    if ours != theirs:
        found.append(
            f"Cut sizes allow for the contraction of {meant.name} ({ours[0]:.1%} along, {ours[1]:.1%} "
            f"across), not for that of {used.name} ({theirs[0]:.1%}, {theirs[1]:.1%}): check them."
        )
    return tuple(found)
