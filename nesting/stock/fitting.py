"""Whether the measured sizes of a piece can be true, by themselves and for their material."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.blocks import block_sizes
from nesting.model import BlockMaterial, Material, RollMaterial, SheetMaterial, StockPiece
from nesting.reading.units import show
from nesting.stock.measures import show_flaws

__all__ = ["KINDS", "Fault", "check_sizes", "kind_without_range", "nominal"]

KINDS = ("roll", "sheet", "block")

MAX_SIDE = 10_000.0
"""Longest side of a sheet or block, and widest roll, mm; as in the range file."""
MAX_ROLL = 2_000_000.0
"""Longest roll, mm; as in the range file."""
MAX_BLOCK = 60_000.0
"""Longest foam block, and what is left of a long one, mm; as in the range file."""
OVERSIZE = 1.05
"""Sheets and blocks may measure so much more than the range says. Our own choice: foam blocks come some
per cent over, and a slipped digit is far more."""
UNDERSIZE = 0.5
"""New pieces are at least so much of what the range says, but for the length of rolls: less is a rest, or a
number in another unit."""
OVERLENGTH = 5.0
"""Rolls may be so many times as long as the range says: makers wind what is asked for, but not tenfold."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One impossible measure: the field, its value, what is allowed and what to do."""

    field: str
    value: object
    allowed: str
    remedy: str


def nominal(material: Material, side: str) -> float:
    """Length, width or height of a new piece by the range, mm; rolls at their usable width.

    Raises
    ------
    ValueError
        When `side` is none of these.
    """
    if side not in ("length", "width", "height"):
        raise ValueError(f"side must be length, width or height, got {side!r}.")
    if isinstance(material, RollMaterial):
        return {"length": material.roll_length, "width": material.usable_width, "height": 0.0}[side]
    if isinstance(material, SheetMaterial):
        return {"length": material.length, "width": material.width, "height": 0.0}[side]
    return {"length": material.length, "width": material.width, "height": material.height}[side]


def kind_without_range(length: float, height: float) -> str | None:
    """What a piece must be when no range tells: with a height a block, longer than any sheet a roll.

    None when it could be a sheet or the rest of a roll.
    """
    if height > 0:
        return "block"
    return "roll" if length > MAX_SIDE else None


def check_sizes(piece: StockPiece, kind: str, material: Material | None = None) -> Iterator[Fault]:
    """What is wrong with the measures of a piece.

    Parameters
    ----------
    kind
        ``"roll"``, ``"sheet"`` or ``"block"``.
    material
        Its material, where a range is at hand.
    """
    longest = {"roll": MAX_ROLL, "block": MAX_BLOCK}.get(kind, MAX_SIDE)
    limits = {"length": longest, "width": MAX_SIDE}
    if kind == "block":
        limits["height"] = MAX_SIDE
    impossible = False
    for side, most in limits.items():
        value = getattr(piece, side)
        if not 0 < value <= most:
            impossible = True
            remedy = "Measure it." if not value else "Look for a slipped digit or a wrong unit."
            yield Fault(side, value, f"more than 0, at most {show(most)} mm", remedy)
    if kind != "block" and piece.height:
        remedy = "Leave it out, or name a foam block as the material."
        yield Fault("height", piece.height, f"no height for a {kind}", remedy)
    if impossible:
        return
    if material is not None:
        yield from _check_against(piece, material)
    yield from _check_flaws(piece, kind)


def _check_against(piece: StockPiece, material: Material) -> Iterator[Fault]:
    sides = {RollMaterial: ("width",), SheetMaterial: ("length", "width")}.get(
        type(material), ("length", "width", "height")
    )
    for side in sides:
        real, least = getattr(piece, side), UNDERSIZE * nominal(material, side)
        if real < least and not piece.remnant:
            allowed = f"at least {show(least)} mm for a new piece of {material.key!r}"
            yield Fault(side, real, allowed, "Look for a wrong unit, or say that it is a remnant.")
    if isinstance(material, RollMaterial):
        if piece.width > material.width:
            allowed = f"at most the width of {material.key!r}, {show(material.width)} mm"
            remedy = "Measure the usable width, or put the range right."
            yield Fault("width", piece.width, allowed, remedy)
        most = OVERLENGTH * material.roll_length
        if piece.length > most:
            allowed = f"at most {OVERLENGTH:.0f} times the roll length of {material.key!r}, {show(most)} mm"
            yield Fault("length", piece.length, allowed, "Look for a slipped digit or a wrong unit.")
        return
    if isinstance(material, BlockMaterial):
        largest = {
            side: max(getattr(size, side) for size in block_sizes(material))
            for side in ("length", "width", "height")
        }
        material = replace(material, **largest)
    # A rest may have been turned, so its longer side is held against the longer one.
    plan = sorted((piece.length, piece.width)), sorted((material.length, material.width))
    turned = all(real <= OVERSIZE * most for real, most in zip(*plan, strict=True))
    for side in sides:
        real, most = getattr(piece, side), OVERSIZE * nominal(material, side)
        if real > most and not (side != "height" and piece.remnant and turned):
            allowed = f"at most {show(most)} mm, 5 % more than the range says of {material.key!r}"
            yield Fault(side, real, allowed, "Measure again, or put the range right.")


def _check_flaws(piece: StockPiece, kind: str) -> Iterator[Fault]:
    if piece.flaws and kind != "roll":
        remedy = f"Cut the flaw off and write the size that is left, or write the {kind} off."
        yield Fault("flaws", show_flaws(piece.flaws), "flaws only on rolls", remedy)
        return
    for flaw in piece.flaws:
        if flaw.x1 > piece.length:
            allowed = f"within the length, {show(piece.length)} mm"
            yield Fault("flaws", show_flaws((flaw,)), allowed, "Correct the flaw or the length.")
        if flaw.y1 is not None and flaw.y1 > piece.width:
            allowed = f"within the width, {show(piece.width)} mm"
            yield Fault("flaws", show_flaws((flaw,)), allowed, "Correct the flaw or the width.")
