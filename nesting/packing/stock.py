"""What there is to cut from: rolls, sheets, blocks and bars."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.errors import ProblemError
from nesting.packing.pieces import checked_count, checked_length

__all__ = ["Bar", "Block", "Flaw", "Kerfs", "Roll", "Sheet", "Skins", "Trim"]


@dataclass(frozen=True, slots=True)
class Trim:
    """Rim lost on each edge of a sheet, mm: at small x, large x, small y, large y."""

    x0: float = 0.0
    x1: float = 0.0
    y0: float = 0.0
    y1: float = 0.0

    def __post_init__(self) -> None:
        for side in ("x0", "x1", "y0", "y1"):
            checked_length(getattr(self, side), f"trim {side}", zero=True)


@dataclass(frozen=True, slots=True)
class Skins:
    """Skin lost on each face of a block, mm: both ends (x), both sides (y), bottom (z0) and top (z1)."""

    x0: float = 0.0
    x1: float = 0.0
    y0: float = 0.0
    y1: float = 0.0
    z0: float = 0.0
    z1: float = 0.0

    def __post_init__(self) -> None:
        for side in ("x0", "x1", "y0", "y1", "z0", "z1"):
            checked_length(getattr(self, side), f"trim {side}", zero=True)

    @classmethod
    def even(cls, skin: float) -> Skins:
        """The same skin on all six faces, mm."""
        return cls(*[float(skin)] * 6)


@dataclass(frozen=True, slots=True)
class Kerfs:
    """Width of the cuts in a block, mm: the slitter's level ones and the vertical saw's upright ones."""

    level: float = 0.0
    upright: float = 0.0

    def __post_init__(self) -> None:
        for cut in ("level", "upright"):
            checked_length(getattr(self, cut), f"kerf {cut}", zero=True)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A stock sheet: raw size in mm, cost of one, how many there are (None: as many as needed).

    `trim` is its own rim; None: that of the problem.
    """

    key: str
    length: float
    width: float
    cost: float = 1.0
    available: int | None = None
    trim: Trim | None = None

    def __post_init__(self) -> None:
        _check_stock_piece(self)


@dataclass(frozen=True, slots=True)
class Block:
    """A foam block, new or a rest; a sheet of foam is a block as high as it is thick.

    Parameters
    ----------
    key
        Name that layouts refer to; unique in a problem.
    length, width, height
        Raw size, mm.
    cost
        Cost of one.
    available
        How many there are; None: as many as needed.
    trim
        Skins of this block, mm: one number for all six faces, or `Skins`. None: those of the problem.
    cut_to
        Of a long block: the longest part that the machines take, mm. The block is first cut across x into
        parts no longer than that, and what is paid is the length taken from it: a part costs ``cost x
        (part + kerf) / (usable length + kerf)``, so that parts which fill the block cost the whole of it.
        None: the block is cut as it is, and paid whole.
    """

    key: str
    length: float
    width: float
    height: float
    cost: float = 1.0
    available: int | None = None
    trim: Skins | float | None = None
    cut_to: float | None = None

    def __post_init__(self) -> None:
        _check_stock_piece(self)
        if self.cut_to is not None:
            checked_length(self.cut_to, f"Block {self.key!r}: cut_to")
        if self.trim is not None and not isinstance(self.trim, Skins):
            object.__setattr__(self, "trim", Skins.even(self.trim))


@dataclass(frozen=True, slots=True)
class Bar:
    """A stock length: length in mm, cost of one, how many there are (None: as many as needed)."""

    key: str
    length: float
    cost: float = 1.0
    available: int | None = None

    def __post_init__(self) -> None:
        _check_stock_piece(self)


def _check_stock_piece(item: Sheet | Block | Bar | Roll) -> None:
    name = f"{type(item).__name__} {item.key!r}"
    for field in ("length", "width", "height"):
        if getattr(item, field, None) is not None:
            checked_length(getattr(item, field), f"{name}: {field}")
    if not 0 < item.cost < math.inf:
        raise ProblemError(f"{name}: cost must be above 0, got {item.cost!r}.")
    if item.available is not None:
        checked_count(item.available, f"{name}: available", least=0)


@dataclass(frozen=True, slots=True)
class Flaw:
    """A rectangle of a roll that no piece may lie on, mm; without `y1` it goes across the whole width.

    Parameters
    ----------
    x0, x1
        From and to along the roll, from its beginning.
    y0, y1
        From and to across the roll.
    """

    x0: float
    x1: float
    y0: float = 0.0
    y1: float | None = None

    def __post_init__(self) -> None:
        checked_length(self.x0, "flaw x0", zero=True)
        checked_length(self.y0, "flaw y0", zero=True)
        checked_length(self.x1, "flaw x1")
        if not self.x0 < self.x1:
            raise ProblemError(f"A flaw must end beyond its start, got x0 {self.x0!r} and x1 {self.x1!r}.")
        if self.y1 is not None:
            checked_length(self.y1, "flaw y1")
            if not self.y0 < self.y1:
                raise ProblemError(
                    f"A flaw must end beyond its start, got y0 {self.y0!r} and y1 {self.y1!r}."
                )


@dataclass(frozen=True, slots=True)
class Roll:
    """A kind of roll, new or a rest.

    Parameters
    ----------
    key
        Name that layouts refer to; unique in a problem.
    width
        Usable width, mm.
    length
        Length, mm; None for a roll that never ends.
    cost
        Cost of one metre of its length.
    available
        How many such rolls there are; None: as many as needed. A roll without end has no number.
    flaws
        Where no piece may lie, the same on each of these rolls; only on a roll with an end.
    """

    key: str
    width: float
    length: float | None = None
    cost: float = 1.0
    available: int | None = None
    flaws: tuple[Flaw, ...] = ()

    def __post_init__(self) -> None:
        _check_stock_piece(self)
        object.__setattr__(self, "flaws", tuple(self.flaws))
        if self.length is None:
            for what in ("available", "flaws"):
                if getattr(self, what) not in (None, ()):
                    raise ProblemError(f"Roll {self.key!r}: only a roll with a length may have {what}.")
