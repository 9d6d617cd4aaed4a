"""What is wanted: pieces, on a grid of tenths of a millimetre."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from nesting.errors import ProblemError

__all__ = [
    "GRID",
    "MAX_LENGTH",
    "MAX_QUANTITY",
    "Piece",
    "Point",
    "Recipe",
    "checked_count",
    "checked_length",
    "grid_down",
    "grid_up",
    "turned_points",
]

GRID = 0.1
"""Step of the packing grid, mm."""

MAX_LENGTH = 10_000_000.0
"""Longest length accepted anywhere, mm (10 km): keeps the integers of the kernels far from overflow."""

MAX_QUANTITY = 10_000_000
"""Most copies of one piece."""

Point: TypeAlias = tuple[float, float]
RIGHT_ANGLES = (0.0, 90.0, 180.0, 270.0)


def grid_up(length: float) -> int:
    """Millimetres to tenths, rounded up: for pieces, gaps and kerfs."""
    return math.ceil(round(length / GRID, 5))


def grid_down(length: float) -> int:
    """Millimetres to tenths, rounded down: for the room pieces must fit in."""
    return math.floor(round(length / GRID, 5))


def turned_points(points: Sequence[Point], turn: float, mirrored: bool = False) -> tuple[Point, ...]:
    """Outline mirrored in the x axis if asked, then turned, then moved to the origin.

    Returns
    -------
    tuple of (x, y)
        In mm, with the lower left corner of the bounding box at (0, 0). Turns by right angles are
        exact.
    """
    cos, sin = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}.get(
        turn % 360.0, (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
    )
    flip = -1.0 if mirrored else 1.0
    turned = [(x * cos - flip * y * sin, x * sin + flip * y * cos) for x, y in points]
    left = min(x for x, _ in turned)
    low = min(y for _, y in turned)
    return tuple((x - left, y - low) for x, y in turned)


def checked_length(value: float, what: str, *, zero: bool = False) -> float:
    number = float(value)
    low = number >= 0 if zero else number > 0  # phrased so that NaN fails as well
    if not (low and number <= MAX_LENGTH):
        floor = "0 or more" if zero else "above 0"
        raise ProblemError(f"{what} must be {floor} and at most {MAX_LENGTH:.0f} mm, got {value!r}.")
    return number


def checked_count(value: int, what: str, least: int = 1) -> int:
    if isinstance(value, bool) or int(value) != value or not least <= value <= MAX_QUANTITY:
        raise ProblemError(f"{what} must be a whole number from {least} to {MAX_QUANTITY}, got {value!r}.")
    return int(value)


def _checked_outline(key: str, points: Sequence[Point]) -> tuple[tuple[Point, ...], float, float]:
    """An outline as a `Piece` keeps it, with the length and width of its box, mm."""
    import shapely  # here, not above: rectangles alone must not pay for loading it

    corners = [(float(x), float(y)) for x, y in points]
    if len(corners) > 1 and corners[0] == corners[-1]:
        corners.pop()
    if len(corners) < 3:
        raise ProblemError(f"Piece {key!r}: an outline needs at least 3 corners, got {len(corners)}.")
    if not all(math.isfinite(value) for corner in corners for value in corner):
        raise ProblemError(f"Piece {key!r}: every corner must be two finite numbers.")
    shape = shapely.Polygon(corners)
    if not shape.is_valid or not shape.area > 0:
        raise ProblemError(f"Piece {key!r}: the outline crosses itself or has no area.")
    if not shape.exterior.is_ccw:
        corners.reverse()
    outline = turned_points(corners, 0.0)
    length = max(x for x, _ in outline)
    width = max(y for _, y in outline)
    return outline, length, width


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a slab is glued up: laminated from thinner slabs, or joined from shorter or narrower ones.

    Parameters
    ----------
    parts
        Length, width and thickness of each part as cut, mm, in the order in which they are joined. Two
        parts or more. That together they make the slab is for the caller to see to: glue may add, and a
        soft part may be cut with allowance.
    cost
        What it costs to glue one copy, in the unit of the cost of blocks.
    """

    parts: tuple[tuple[float, float, float], ...]
    cost: float = 0.0

    def __post_init__(self) -> None:
        if len(self.parts) < 2:
            raise ProblemError(f"A recipe needs at least 2 parts, got {len(self.parts)}.")
        for part in self.parts:
            if len(part) != 3:
                raise ProblemError(f"A part of a recipe needs length, width and thickness, got {part!r}.")
            for side, measure in zip(("length", "width", "thickness"), part, strict=True):
                checked_length(measure, f"recipe part: {side}")
        if not 0 <= self.cost < math.inf:
            raise ProblemError(f"recipe: cost must be 0 or more, got {self.cost!r}.")


@dataclass(frozen=True, slots=True)
class Piece:
    """One kind of part that is wanted, with its quantity. Made by one of the class methods.

    Parameters
    ----------
    key
        Name that placements and `missing` refer to; unique in a problem.
    length, width
        Size of the bounding box before turning, mm (x and y).
    quantity
        How many are wanted, at least 1.
    turns
        Allowed turns in degrees, counter-clockwise. Rectangles and slabs take right angles only.
    mirror
        Whether an outline may be flipped over (cloth whose two faces are alike).
    points
        Outline in mm, counter-clockwise, lower left of its bounding box at (0, 0), first point not
        repeated; empty for a rectangle.
    thickness
        Height of a slab, mm; None for flat pieces.
    standing
        Whether a slab may also stand on its long side or on its end.
    recipes
        Of a slab: how a copy may be glued up from parts. The parts may turn and stand as the slab may.
    whole
        Whether a copy may be cut in one piece; False only with recipes.
    joins, least, seam
        Of a length cut from bars: how often it may be joined, and how; see `linear`.
    """

    key: str
    length: float
    width: float
    quantity: int = 1
    turns: tuple[float, ...] = (0.0,)
    mirror: bool = False
    points: tuple[Point, ...] = ()
    thickness: float | None = None
    standing: bool = False
    recipes: tuple[Recipe, ...] = ()
    whole: bool = True
    joins: int = 0
    least: float = 0.0
    seam: float = 0.0

    def __post_init__(self) -> None:
        if not self.key:
            raise ProblemError("A piece must have a key.")
        name = f"Piece {self.key!r}"
        checked_length(self.length, f"{name}: length")
        checked_length(self.width, f"{name}: width", zero=True)
        if self.thickness is not None:
            checked_length(self.thickness, f"{name}: thickness")
        checked_count(self.quantity, f"{name}: quantity")
        self._check_joins(name)
        if self.standing and (self.thickness is None or self.points):
            raise ProblemError(f"{name}: only slabs that are boxes can stand.")
        if self.recipes and (self.thickness is None or self.points):
            raise ProblemError(f"{name}: only slabs that are boxes can be glued up by a recipe.")
        if not (self.whole or self.recipes):
            raise ProblemError(f"{name}: needs a recipe when it must not be cut in one piece.")
        if not self.turns:
            raise ProblemError(f"{name}: at least one turn must be allowed.")
        square = not self.points or self.thickness is not None
        if square and any(turn % 360.0 not in RIGHT_ANGLES for turn in self.turns):
            what = "slab" if self.points else "rectangle"
            raise ProblemError(f"{name}: turns of a {what} must be 0, 90, 180 or 270, got {self.turns!r}.")

    def _check_joins(self, name: str) -> None:
        checked_count(self.joins, f"{name}: joins", least=0)
        checked_length(self.least, f"{name}: least", zero=True)
        checked_length(self.seam, f"{name}: seam", zero=True)
        if self.joins and self.width > 0:
            raise ProblemError(f"{name}: only lengths cut from bars can be joined.")
        if self.joins and not self.least > 2 * self.seam:
            raise ProblemError(
                f"{name}: a part must be longer than the {2 * self.seam:g} mm that its two seams take, "
                f"but least is {self.least:g} mm."
            )

    @classmethod
    def rectangle(
        cls,
        key: str,
        length: float,
        width: float,
        quantity: int = 1,
        turns: Sequence[float] = RIGHT_ANGLES,
    ) -> Piece:
        """A rectangle of `length` along the roll by `width` across it."""
        checked_length(width, f"Piece {key!r}: width")
        return cls(key, float(length), float(width), quantity, tuple(float(t) for t in turns))

    @classmethod
    def polygon(
        cls,
        key: str,
        points: Sequence[Point],
        quantity: int = 1,
        turns: Sequence[float] = (0.0, 180.0),
        mirror: bool = False,
    ) -> Piece:
        """A simple polygon without holes; `points` may start anywhere and lie anywhere.

        Raises
        ------
        ProblemError
            With fewer than three corners, or when the outline crosses itself or has no area.
        """
        outline, length, width = _checked_outline(key, points)
        return cls(key, length, width, quantity, tuple(float(t) for t in turns), mirror, outline)

    @classmethod
    def slab(
        cls,
        key: str,
        length: float,
        width: float,
        thickness: float,
        quantity: int = 1,
        turns: Sequence[float] = (0.0, 90.0),
        standing: bool = False,
        recipes: Sequence[Recipe] = (),
        whole: bool = True,
        points: Sequence[Point] = (),
    ) -> Piece:
        """A foam slab; turns are about the vertical axis.

        It lies flat unless it may be `standing`: then it may also stand on its long side (its width is
        then upright) or on its end (its length is upright). With `recipes` a copy may also be glued up
        from parts; it must be when `whole` is False.
        then upright) or on its end (its length is upright).

        `points` is its outline seen from above, as for `polygon`; its box must then measure `length` by
        `width`, and it does not stand.

        Raises
        ------
        ProblemError
            As for `polygon`, or when the box of the outline has another size.
        """
        checked_length(width, f"Piece {key!r}: width")
        outline: tuple[Point, ...] = ()
        if points:
            outline, *box = _checked_outline(key, points)
            if any(abs(side - given) > GRID for side, given in zip(box, (length, width), strict=True)):
                raise ProblemError(
                    f"Piece {key!r}: its outline measures {box[0]:g} x {box[1]:g} mm, "
                    f"but {length:g} x {width:g} mm are given."
                )
            length, width = box
        return cls(
            key,
            float(length),
            float(width),
            quantity,
            tuple(float(t) for t in turns),
            points=outline,
            thickness=float(thickness),
            standing=standing,
            recipes=tuple(recipes),
            whole=whole,
        )

    @classmethod
    def linear(
        cls, key: str, length: float, quantity: int = 1, joins: int = 0, least: float = 0.0, seam: float = 0.0
    ) -> Piece:
        """A length cut from a bar, tape or strip whose other dimensions are already right.

        Parameters
        ----------
        joins
            How many seams there may be in one copy: it is then made of up to ``joins + 1`` parts, sewn
            end to end. 0: it must be in one piece.
        least
            Shortest part of a joined copy, mm as cut; longer than two seams.
        seam
            Seam allowance, mm: what each of the two ends at a seam loses. Two parts of 600 sewn with 10
            make 1180. The outer ends of the piece are as `length` says and lose nothing.
        """
        return cls(key, float(length), 0.0, quantity, joins=joins, least=float(least), seam=float(seam))

    @property
    def area(self) -> float:
        """True area in mm2 (of the outline, where there is one)."""
        if not self.points:
            return self.length * self.width
        nexts = self.points[1:] + self.points[:1]
        return (
            abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(self.points, nexts, strict=True))) / 2.0
        )

    def box(self, turn: float, mirrored: bool = False) -> tuple[float, float]:
        """Length and width of the bounding box after turning, mm."""
        if self.points:
            turned = turned_points(self.points, turn, mirrored)
            return max(x for x, _ in turned), max(y for _, y in turned)
        return (self.length, self.width) if turn % 180.0 == 0.0 else (self.width, self.length)
