"""A whole range, and the questions that orders and planning ask of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal, TypeVar

from nesting.catalogue import lookup
from nesting.catalogue.compose import compose
from nesting.catalogue.entries import Model
from nesting.catalogue.fields import to_formula
from nesting.catalogue.formula import Formula
from nesting.errors import Finding, InputError
from nesting.model import Material, Panel, Size, Workshop
from nesting.reading.findings import listed, near

__all__ = ["Range"]

_Named = TypeVar("_Named", bound=lookup.Named)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """What a factory makes and of what: the content of one range file, checked.

    Parameters
    ----------
    file
        Name of the file as the person gave it.
    name
        Name of the range.
    currency
        Three capital letters.
    unit
        Unit of bare numbers in finished sizes, as the file writes them; everything here is in mm.
    note
        A remark.
    allowances
        Allowances common to all models, by name.
    sizes, materials, models
        By key, in the order of the file.
    workshop
        How its people read maps and lists.
    """

    file: str
    name: str
    currency: str
    unit: Literal["mm", "in"] = "mm"
    note: str = ""
    allowances: Mapping[str, Formula]
    sizes: Mapping[str, Size]
    materials: Mapping[str, Material]
    models: Mapping[str, Model]
    workshop: Workshop = field(default_factory=Workshop)
    _made: dict[tuple[str, str], tuple[Panel, ...]] = field(
        init=False, default_factory=dict, repr=False, compare=False
    )

    def panels(self, model_key: str, size_key: str) -> tuple[Panel, ...]:
        """The panels of one unit, in the order of the model's panel entries. Made once, then kept.

        Raises
        ------
        InputError
            When there is no such model, it is not made in this size, or a panel cannot be made.
        """
        wanted = (model_key, size_key)
        if wanted not in self._made:
            model = self.models.get(model_key)
            if model is None:
                raise self._unknown("model", model_key, self.models)
            if size_key not in model.sizes:
                raise InputError([self.not_offered(model, size_key)])
            made, findings = compose(self.file, model, self.sizes[size_key], self.materials, self.allowances)
            if findings:
                raise InputError(findings)
            self._made[wanted] = tuple(panel for _, panel in made)
        return self._made[wanted]

    def find_model(self, text: str) -> Model:
        """The model that an order means: by key or name; case, spaces and hyphens do not matter.

        Raises
        ------
        InputError
            When no model, or more than one, is called so.
        """
        return self._one("model", text, lookup.named(text, self.models), self.models)

    def find_size(self, text: str, among: Collection[str] | None = None) -> Size:
        """The size that an order means: by key, by name or as ``"1400x2000"`` (width x length, mm).

        Parameters
        ----------
        text
            What the order says.
        among
            Keys of the sizes the model is made in: settles it where `text` fits several sizes of the
            range and only one of these.

        Raises
        ------
        InputError
            When no size, or more than one, is called so.
        """
        keys = lookup.named(text, self.sizes) or lookup.sized(text, self.sizes.values())
        if len(keys) > 1 and among is not None:
            keys = tuple(key for key in keys if key in among) or keys
        return self._one("size", text, keys, self.sizes)

    def find_material(self, text: str) -> Material:
        """The material that a person means: by key or name, as for models.

        Raises
        ------
        InputError
            When no material, or more than one, is called so.
        """
        return self._one("material", text, lookup.named(text, self.materials), self.materials)

    def not_offered(self, model: Model, size_key: str) -> Finding:
        """The finding that a model is not made in a size."""
        allowed = f"a size of {model.name!r}: {listed(model.sizes)}"
        remedy = f"Order one of these, or add the size to [models.{model.key}]."
        return Finding(self.file, "size", size_key, allowed, remedy)

    def with_material(self, material: Material) -> Range:
        """A copy with one material changed or added, to compare what it would bring."""
        return replace(self, materials=MappingProxyType({**self.materials, material.key: material}))

    def shown_in(self, units: str | None = None, paper: str | None = None) -> Range:
        """A copy whose workshop has other units or other paper; None leaves them.

        Raises
        ------
        ValueError
            When there are no such units, or there is no such paper.
        """
        return replace(self, workshop=self.workshop.changed(units, paper))

    def with_allowance(self, name: str, value: float | str) -> Range:
        """A copy with one common allowance changed, to compare what it would bring.

        Raises
        ------
        FormulaError
            When `value` is neither a number nor a formula.
        """
        return replace(self, allowances=MappingProxyType({**self.allowances, name: to_formula(value)}))

    def _one(self, kind: str, text: str, keys: tuple[str, ...], items: Mapping[str, _Named]) -> _Named:
        if len(keys) == 1:
            return items[keys[0]]
        if not keys:
            raise self._unknown(kind, text, items)
        allowed = f"a {kind} that is the only one of its name or size"
        remedy = f"It could be {listed(keys)}: write which."
        raise InputError([Finding(self.file, kind, text, allowed, remedy)])

    def _unknown(self, kind: str, text: str, items: Mapping[str, _Named]) -> InputError:
        words = [word for key, item in items.items() for word in (key, item.name)]
        hint = near(text, words) or "Correct it, or add it to the range file. "
        if kind == "size" and lookup.sized(f"{text} cm", self.sizes.values()):
            hint = f"In centimetres? Then write {text.strip()} cm. "
        allowed = f"a {kind} of the range: {listed(items)}"
        return InputError([Finding(self.file, kind, text, allowed, hint.strip())])
