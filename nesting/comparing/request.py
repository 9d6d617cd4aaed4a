"""What is compared: models, sizes, a material and its variants, checked against the range."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.catalogue import Range
from nesting.comparing.results import Case, Unit
from nesting.comparing.variants import Variant, default_variants, option_of, read_variants
from nesting.errors import Finding, InputError
from nesting.model import Material, RollMaterial
from nesting.orders import OrderBook
from nesting.reading.findings import listed

__all__ = ["Request", "request_for"]

MOST_CASES = 120
"""Most models x sizes in one comparison."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A comparison that can be made.

    Parameters
    ----------
    material
        Its key.
    cases
        Models and sizes that need it, in the order of the range.
    variants
        In rising order, the present one among them.
    mix
        All beds of the order book that need the material; None without one.
    orders
        Name of the order book.
    volume
        Beds a year.
    within, allowance_within
        How far from the present value breakpoints are looked for: sides of the material, allowances, mm.
    beds
        How many equal beds stand for many, at least.
    """

    material: str
    cases: tuple[Case, ...]
    variants: tuple[Variant, ...]
    mix: Unit | None = None
    orders: str = ""
    volume: int = 10_000
    within: float = 40.0
    allowance_within: float = 5.0
    beds: int = 20

    def span(self, axis: str) -> tuple[float, float]:
        """Where breakpoints of a side of the material are looked for, mm: over all variants, too."""
        sides = [getattr(variant.material, axis) for variant in self.variants]
        now = next(getattr(variant.material, axis) for variant in self.variants if variant.present)
        return max(1.0, min(now - self.within, *sides)), max(now + self.within, *sides)


def request_for(
    range_: Range,
    *,
    models: Sequence[str] = (),
    sizes: Sequence[str] = (),
    material: str | None = None,
    stock: Mapping[str, str] | None = None,
    book: OrderBook | None = None,
    volume: int = 10_000,
    beds: int = 20,
) -> Request:
    """Check what a person asks for.

    Parameters
    ----------
    models, sizes
        Keys or names; empty for all.
    material
        Key or name; None for the one that most money goes into, by the size of the pieces.
    stock
        Widths or sizes by kind of material, as the command line writes them; at most one.
    book
        The mix.

    Raises
    ------
    InputError
        When a name is unknown, nothing is left to compare, or sizes do not go with the material.
    """
    stock = {kind: text for kind, text in (stock or {}).items() if text}
    if len(stock) > 1:
        given = " and ".join(option_of(kind) for kind in stock)
        raise _fault(given, None, "one of them at a time", "Compare one material at a time.")
    kind = next(iter(stock), None)
    chosen = _chosen(range_, models, sizes)
    found = _material(range_, chosen, material, kind)
    if kind is not None and found.kind != kind:
        remedy = f"Give {option_of(found.kind)}, or name another material."
        raise _fault(option_of(kind), stock[kind], f"a {kind}; {found.key!r} is a {found.kind}", remedy)
    cases = tuple(case for case in chosen if _needs(range_, case, found.key))
    if not cases:
        allowed = f"a material of these models: {listed(_used(range_, chosen))}"
        raise _fault("--material", found.key, allowed, "Name one of these, or other models.")
    if len(cases) > MOST_CASES:
        allowed = f"at most {MOST_CASES} models x sizes"
        raise _fault("--model, --size", f"{len(cases)} of them", allowed, "Choose some models or sizes.")
    variants = default_variants(found) if kind is None else read_variants(stock[kind], found)
    return Request(
        material=found.key,
        cases=cases,
        variants=variants,
        mix=None if book is None else _mix(range_, book, found.key),
        orders="" if book is None else book.file,
        volume=volume,
        beds=beds,
    )


def _fault(place: str, value: object, allowed: str, remedy: str) -> InputError:
    return InputError([Finding("command line", place, value, allowed, remedy)])


def _chosen(range_: Range, models: Sequence[str], sizes: Sequence[str]) -> tuple[Case, ...]:
    wanted = {range_.find_model(text).key for text in models} or set(range_.models)
    made_in = {size for key in wanted for size in range_.models[key].sizes}
    wanted_sizes = {range_.find_size(text, among=made_in).key for text in sizes} or set(range_.sizes)
    cases = [
        Case(model.key, size.key, model.name, size.name)
        for model in range_.models.values()
        if model.key in wanted
        for size in range_.sizes.values()
        if size.key in wanted_sizes and size.key in model.sizes
    ]
    if not cases:
        allowed = f"a size in which {listed(sorted(wanted))} is made: {listed(sorted(made_in))}"
        raise _fault("--size", ", ".join(sizes), allowed, "Choose one of these.")
    return tuple(cases)


def _used(range_: Range, cases: Sequence[Case]) -> list[str]:
    used = {panel.material for case in cases for panel in range_.panels(case.model, case.size)}
    return [key for key in range_.materials if key in used]


def _needs(range_: Range, case: Case, material: str) -> bool:
    return any(panel.material == material for panel in range_.panels(case.model, case.size))


def _comparable(material: Material) -> bool:
    return not (isinstance(material, RollMaterial) and material.process == "lengths")


def _material(range_: Range, cases: Sequence[Case], text: str | None, kind: str | None) -> Material:
    if text is not None:
        material = range_.find_material(text)
        if not _comparable(material):
            allowed = "a material that is cut across its width too; this one is only cut to length"
            raise _fault("--material", material.key, allowed, "Name another material.")
        return material
    worth: dict[str, float] = {}
    for case in cases:
        for panel in range_.panels(case.model, case.size):
            material = range_.materials[panel.material]
            if _comparable(material) and material.kind == (kind or material.kind):
                worth[material.key] = worth.get(material.key, 0.0) + _worth(
                    material, panel.area, panel.volume
                )
    if not worth:
        allowed = f"a {kind or 'roll, sheet or block'} among the materials of these models"
        raise _fault("--material", None, allowed, "Choose other models, or another option.")
    return range_.materials[max(worth, key=lambda key: worth[key])]


def _worth(material: Material, area: float, volume: float) -> float:
    """Money in a piece, by its size alone; without prices the size itself decides a little."""
    if material.kind == "roll":
        return area * (material.price or 1e-6) / (material.width / 1e3)
    if material.kind == "sheet":
        return area * (material.price or 1e-6) / (material.length * material.width / 1e6)
    return volume * (material.price or 1e-6)


def _mix(range_: Range, book: OrderBook, material: str) -> Unit:
    beds: dict[tuple[str, str], int] = {}
    for line in book.lines:
        pair = (line.model_key, line.size_key)
        if any(panel.material == material for panel in range_.panels(*pair)):
            beds[pair] = beds.get(pair, 0) + line.quantity
    if not beds:
        allowed = f"orders for models that need {material!r}"
        raise InputError(
            [Finding(book.file, "model", None, allowed, "Give another order book, or material.")]
        )
    return Unit("The mix", tuple((model, size, count) for (model, size), count in beds.items()))
