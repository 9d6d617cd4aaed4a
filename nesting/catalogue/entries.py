"""Models and their panel entries, as the range file writes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, TypeAlias

from annotated_types import Len

from nesting.catalogue.fields import Height
from nesting.catalogue.formula import Formula
from nesting.materials import Name

__all__ = ["Model", "Option", "PanelEntry"]

Code: TypeAlias = Annotated[str, Len(1, 12)]

ONE = Formula.constant(1)

Option: TypeAlias = Formula | bool | str | tuple[Formula, ...]
"""What a panel entry gives a generator's parameter, by the parameter's kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelEntry:
    """One ``[[models.KEY.panels]]`` table: which generator makes it, of what, with which values.

    Parameters
    ----------
    place
        Where it stands in the file, for messages: ``"models.aurora.panels[2] 'TP'"``; entries are
        counted from 1.
    generator
        Name of the generator.
    code, name
        As in `nesting.model.Panel`.
    material
        Key of the material.
    pieces
        How many panels of this entry one unit needs; a whole number of 1 or more.
    sizes
        Keys of the only sizes it is for; None for all sizes of the model.
    turns
        Restricts the turns the material's grain allows, degrees; None for all of them.
    may_turn
        Adds quarter turns on two-way cloth.
    mirror
        Whether it may be flipped over.
    width, length, height
        Finished size of this panel where it is not that of the bed: formulas giving mm.
    when
        Condition under which it is made at all.
    note
        A remark for the cutter.
    options
        Values for parameters of the generator, by name.
    allowances
        Allowances for this panel alone, by name.
    """

    place: str
    generator: Name
    code: Code
    name: Name
    material: Name
    pieces: Formula = ONE
    sizes: tuple[str, ...] | None = None
    turns: tuple[float, ...] | None = None
    may_turn: bool = False
    mirror: bool = False
    width: Formula | None = None
    length: Formula | None = None
    height: Formula | None = None
    when: Formula | None = None
    note: str = ""
    options: Mapping[str, Option]
    allowances: Mapping[str, Formula]

    @property
    def formulas(self) -> tuple[Formula, ...]:
        """Every formula it holds."""
        own = (self.pieces, self.width, self.length, self.height, self.when)
        given = (part for option in self.options.values() for part in _parts(option))
        return tuple(item for item in (*own, *given, *self.allowances.values()) if isinstance(item, Formula))


def _parts(option: Option) -> tuple[object, ...]:
    return option if isinstance(option, tuple) else (option,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """A bed, mattress, base or headboard and the panels it is built from.

    Parameters
    ----------
    key, name
        Table name in the range file, and name for people.
    height
        Finished thickness (H), mm; 0 for what is flat.
    sizes
        Keys of the sizes it is made in.
    note
        A remark.
    allowances
        Allowances for this model, by name; they override those of the range.
    panels
        Its panel entries, in the order of the file.
    """

    key: Name
    name: Name
    height: Height
    sizes: tuple[str, ...]
    note: str = ""
    allowances: Mapping[str, Formula]
    panels: tuple[PanelEntry, ...]
