"""What a material would be in another width or size, and what it would then cost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

from nesting.errors import Finding, InputError
from nesting.measures import measure, unit
from nesting.model import BlockMaterial, Material, RollMaterial, SheetMaterial
from nesting.reading.units import LengthError, show, to_mm

__all__ = [
    "AXES",
    "PRICE_RULES",
    "Variant",
    "default_variants",
    "option_of",
    "price_rule",
    "read_variants",
    "resized",
    "room",
    "size_of",
]

AXES = {"roll": ("width",), "sheet": ("length", "width"), "block": ("length", "width", "height")}
"""The sides of a material that may be compared, as the command line writes them."""

OPTIONS = {"roll": "--widths", "sheet": "--sheets", "block": "--blocks"}
EXAMPLES = {
    "roll": "2000,2100,2200",
    "sheet": "2750x1700,2500x1700",
    "block": "2100x2060x1080,2100x2060x1200",
}

MOST_VARIANTS = 12
"""Most widths or sizes in one comparison: more columns cannot be read."""

MOST_SIDE = 10_000.0
"""Greatest side, mm; as in range files."""

STEPS_ASIDE = (-2, -1, 0, 1, 2)
"""Where none are given, the present size and these steps from it."""

PRICE_RULES = {
    "roll": "Price per square metre as in the range, so a wider roll costs more per metre",
    "sheet": "Price per square metre of sheet as in the range",
    "block": "Price per cubic metre of block as in the range",
}


@dataclass(frozen=True, slots=True)
class Variant:
    """A material in one of the sizes that are compared.

    Parameters
    ----------
    material
        With its sides and its price.
    present
        Whether it is the one in the range file.
    priced
        Whether its price was given and does not follow from the present one.
    """

    material: Material
    present: bool
    priced: bool = False

    @property
    def key(self) -> str:
        """Names it in lists for machines: sides in mm, ``"2200"`` or ``"2100x2060x1080"``."""
        return "x".join(show(side).replace(" ", "") for side in size_of(self.material))

    @property
    def name(self) -> str:
        """Names it for people, in the workshop's unit but without it."""
        return " x ".join(measure(side) for side in size_of(self.material))


def size_of(material: Material) -> tuple[float, ...]:
    """The sides that may be compared, mm, in the order of `AXES`."""
    return tuple(getattr(material, axis) for axis in AXES[material.kind])


def room(material: Material, axis: str) -> float:
    """What can be used of a side, mm."""
    if isinstance(material, RollMaterial):
        return material.usable_width
    rim = material.trim if isinstance(material, SheetMaterial) else material.skins
    if axis == "length":
        return material.length - rim.x0 - rim.x1
    if axis == "width":
        return material.width - rim.y0 - rim.y1
    assert isinstance(material, BlockMaterial)
    return material.height - material.skins.z0 - material.skins.z1


def resized(material: Material, price: float | None = None, **sides: float) -> Material:
    """A material with other sides, mm, and the same losses at its edges.

    Parameters
    ----------
    price
        Per metre, sheet or m3, as in range files; None to go by area or volume (`PRICE_RULES`).
    sides
        Those that change, by axis.
    """
    if isinstance(material, RollMaterial):
        width = sides["width"]
        grown = width - material.width
        measured = None if material.measured_width is None else material.measured_width + grown
        new_price = material.price * width / material.width if price is None else price
        return replace(material, width=width, measured_width=measured, price=new_price)
    if isinstance(material, SheetMaterial):
        changed = replace(material, **sides)  # type: ignore[arg-type]
        share = changed.length * changed.width / (material.length * material.width)
        return replace(changed, price=material.price * share if price is None else price)
    solid = replace(material, **sides)  # type: ignore[arg-type]
    return solid if price is None else replace(solid, price=price)


def read_variants(text: str, material: Material) -> tuple[Variant, ...]:
    """Widths or sizes as the command line writes them; the present size comes with them, in order.

    Parameters
    ----------
    text
        ``"2000,2100,84 in"``, or ``"2100x2060x1080,..."``; a price may follow: ``"2100=11.20"``.
    material
        As it is at present.

    Raises
    ------
    InputError
        When a size or price cannot be read, or leaves nothing to cut from.
    """
    found: dict[tuple[float, ...], Variant] = {size_of(material): Variant(material, present=True)}
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not 1 <= len(parts) <= MOST_VARIANTS:
        _refuse(material, text, f"1 to {MOST_VARIANTS} sizes, separated by commas")
    for part in parts:
        written, _, price_text = part.partition("=")
        sides = _sides(written, material, part)
        price = _price(price_text, material, part) if price_text.strip() else None
        changed = resized(material, price, **dict(zip(AXES[material.kind], sides, strict=True)))
        if any(room(changed, axis) <= 0 for axis in AXES[material.kind]):
            _refuse(material, part, "sizes larger than what is lost at the edges")
        present = sides == size_of(material)
        found[sides] = Variant(material if present and price is None else changed, present, price is not None)
    return tuple(found[sides] for sides in sorted(found))


def default_variants(material: Material) -> tuple[Variant, ...]:
    """The present size, and two steps of 50 mm (2 in) to either side of the last of its sides."""
    axis = AXES[material.kind][-1]
    step = 50.0 if unit() == "mm" else 50.8
    found = []
    for count in STEPS_ASIDE:
        side = getattr(material, axis) + count * step
        if count == 0:
            found.append(Variant(material, present=True))
        elif 0 < side <= MOST_SIDE:
            others = dict(zip(AXES[material.kind], size_of(material), strict=True))
            changed = resized(material, **{**others, axis: side})
            if room(changed, axis) > 0:
                found.append(Variant(changed, present=False))
    return tuple(found)


def _sides(written: str, material: Material, part: str) -> tuple[float, ...]:
    axes = AXES[material.kind]
    words = [word.strip() for word in re.split(r"[xX×]", written)]
    if len(words) != len(axes):
        _refuse(material, part, f"{' x '.join(axes)} in mm")
    ending = re.search(r"[a-z]+$", words[-1])
    sides = []
    for word in words:
        has_unit = re.search(r"[a-z]$", word)
        text = word if has_unit else f"{word} {ending.group() if ending else 'mm'}"
        try:
            side = to_mm(text)
        except LengthError:
            _refuse(material, part, "numbers in mm, or with a unit: mm, cm, m, in or ft")
        if not 0 < side <= MOST_SIDE:
            _refuse(material, part, f"sides above 0 and at most {show(MOST_SIDE)} mm")
        sides.append(side)
    return tuple(sides)


def _price(text: str, material: Material, part: str) -> float:
    try:
        price = float(text)
    except ValueError:
        price = -1.0
    if not 0 <= price <= 1_000_000:
        _refuse(material, part, "a price after the sign =, such as 11.20")
    return price


def _refuse(material: Material, value: str, allowed: str) -> NoReturn:
    option = OPTIONS[material.kind]
    remedy = f"Write for example {option} {EXAMPLES[material.kind]}."
    raise InputError([Finding("command line", option, value, allowed.rstrip("."), remedy)])


def option_of(kind: str) -> str:
    """The option by which sizes of a kind of material are given."""
    return OPTIONS[kind]


def price_rule(variants: Sequence[Variant]) -> str:
    """What the comparison assumes of prices, as a sentence."""
    rule = PRICE_RULES[variants[0].material.kind]
    given = ", ".join(variant.name for variant in variants if variant.priced)
    return f"{rule}; of {given} as given." if given else f"{rule}."
