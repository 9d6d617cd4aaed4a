"""What is asked of the packing core.

Lengths are millimetres; x runs along the roll or sheet (length), y across it (width), z up a block.
Turns are degrees, counter-clockwise. Inside the core everything is counted in whole tenths of a
millimetre (`GRID`): pieces are rounded up to the grid and room is rounded down, so that a plan made
on the grid is always possible in the cloth.

Problem classes follow Waescher, Haussner and Schumann (2007), EJOR 183(3): 1109-1130:
`RollProblem` is an open dimension problem, `RackProblem` one with several widths, partly of limited
length, `SheetProblem` and `BlockProblem` are (multiple)
stock-size cutting stock problems in two and three dimensions, `LinearProblem` is the
one-dimensional (multiple) stock-size cutting stock problem.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from nesting.errors import ProblemError

__all__ = [
    "GRID",
    "Bar",
    "Block",
    "BlockProblem",
    "Flaw",
    "LinearProblem",
    "Piece",
    "Point",
    "Problem",
    "RackProblem",
    "Roll",
    "RollProblem",
    "Sheet",
    "SheetProblem",
    "Skins",
    "Stages",
    "Trim",
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
Stages: TypeAlias = Literal[2, 3, "any"] | None
"""None: free placement. 2 or 3: guillotine cuts in so many stages. ``"any"``: guillotine, no limit."""

STAGES: tuple[Stages, ...] = (None, 2, 3, "any")
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


def _length(value: float, what: str, *, zero: bool = False) -> float:
    number = float(value)
    low = number >= 0 if zero else number > 0  # phrased so that NaN fails as well
    if not (low and number <= MAX_LENGTH):
        floor = "0 or more" if zero else "above 0"
        raise ProblemError(f"{what} must be {floor} and at most {MAX_LENGTH:.0f} mm, got {value!r}.")
    return number


def _count(value: int, what: str, least: int = 1) -> int:
    if isinstance(value, bool) or int(value) != value or not least <= value <= MAX_QUANTITY:
        raise ProblemError(f"{what} must be a whole number from {least} to {MAX_QUANTITY}, got {value!r}.")
    return int(value)


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
    joins: int = 0
    least: float = 0.0
    seam: float = 0.0

    def __post_init__(self) -> None:
        if not self.key:
            raise ProblemError("A piece must have a key.")
        name = f"Piece {self.key!r}"
        _length(self.length, f"{name}: length")
        _length(self.width, f"{name}: width", zero=True)
        if self.thickness is not None:
            _length(self.thickness, f"{name}: thickness")
        _count(self.quantity, f"{name}: quantity")
        self._check_joins(name)
        if not self.turns:
            raise ProblemError(f"{name}: at least one turn must be allowed.")
        if not self.points and any(turn % 360.0 not in RIGHT_ANGLES for turn in self.turns):
            raise ProblemError(f"{name}: turns of a rectangle must be 0, 90, 180 or 270, got {self.turns!r}.")

    def _check_joins(self, name: str) -> None:
        _count(self.joins, f"{name}: joins", least=0)
        _length(self.least, f"{name}: least", zero=True)
        _length(self.seam, f"{name}: seam", zero=True)
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
        _length(width, f"Piece {key!r}: width")
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
    ) -> Piece:
        """A foam slab lying flat; turns are about the vertical axis."""
        _length(width, f"Piece {key!r}: width")
        return cls(
            key,
            float(length),
            float(width),
            quantity,
            tuple(float(t) for t in turns),
            thickness=float(thickness),
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


def _check_pieces(pieces: Sequence[Piece], *, slabs: bool = False, linear: bool = False) -> tuple[Piece, ...]:
    if not pieces:
        raise ProblemError("There must be at least one piece.")
    seen: set[str] = set()
    for piece in pieces:
        if piece.key in seen:
            raise ProblemError(f"Piece {piece.key!r} is listed twice; give every piece its own key.")
        seen.add(piece.key)
        if slabs != (piece.thickness is not None):
            raise ProblemError(
                f"Piece {piece.key!r}: {'needs' if slabs else 'must not have'} a thickness here."
            )
        if linear != (piece.width == 0):
            raise ProblemError(f"Piece {piece.key!r}: {'must not have' if linear else 'needs'} a width here.")
    return tuple(pieces)


def _check_stages(stages: Stages) -> None:
    if stages not in STAGES:
        raise ProblemError(f"stages must be None, 2, 3 or 'any', got {stages!r}.")


def _check_stock(
    stock: Sequence[Sheet] | Sequence[Block] | Sequence[Bar] | Sequence[Roll], what: str
) -> None:
    if not stock:
        raise ProblemError(f"There must be at least one {what}.")
    keys = [item.key for item in stock]
    for key in keys:
        if keys.count(key) > 1:
            raise ProblemError(f"{what} {key!r} is listed twice; give every {what} its own key.")


@dataclass(frozen=True, slots=True)
class RollProblem:
    """Cut all pieces from the least length of a roll, laid out as markers.

    What is least is roll length + `end_loss` x markers laid + `setup` x different markers, in mm. A
    marker that is laid ten times counts ten times for `end_loss` and once for `setup`. Without these
    two costs it is the length alone, and of plans of one length few markers are preferred.

    Parameters
    ----------
    width
        Usable width of the roll, mm.
    pieces
        What is wanted.
    gap
        Distance kept between pieces, mm; none is needed at the edges.
    stages
        None for a free knife; 2, 3 or ``"any"`` for edge-to-edge cuts, the first of them across the
        roll (at a given x), with trimming cuts free on top.
    max_marker_length
        Longest single marker, mm; None for one marker as long as need be.
    end_loss
        Roll lost with every marker laid, mm (both its ends together), on top of its length.
    setup
        Cost of every different marker (drawing, plotting), as mm of roll.
    """

    width: float
    pieces: tuple[Piece, ...]
    gap: float = 0.0
    stages: Stages = None
    max_marker_length: float | None = None
    end_loss: float = 0.0
    setup: float = 0.0

    def __post_init__(self) -> None:
        _length(self.width, "width")
        _length(self.gap, "gap", zero=True)
        _length(self.end_loss, "end_loss", zero=True)
        _length(self.setup, "setup", zero=True)
        _check_stages(self.stages)
        if self.max_marker_length is not None:
            _length(self.max_marker_length, "max_marker_length")
        object.__setattr__(self, "pieces", _check_pieces(self.pieces))


@dataclass(frozen=True, slots=True)
class Trim:
    """Rim lost on each edge of a sheet, mm: at small x, large x, small y, large y."""

    x0: float = 0.0
    x1: float = 0.0
    y0: float = 0.0
    y1: float = 0.0

    def __post_init__(self) -> None:
        for side in ("x0", "x1", "y0", "y1"):
            _length(getattr(self, side), f"trim {side}", zero=True)


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
            _length(getattr(self, side), f"trim {side}", zero=True)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A stock sheet: raw size in mm, cost of one, how many there are (None: as many as needed)."""

    key: str
    length: float
    width: float
    cost: float = 1.0
    available: int | None = None

    def __post_init__(self) -> None:
        _check_stock_piece(self)


@dataclass(frozen=True, slots=True)
class Block:
    """A foam block: raw size in mm, cost of one, how many there are (None: as many as needed)."""

    key: str
    length: float
    width: float
    height: float
    cost: float = 1.0
    available: int | None = None

    def __post_init__(self) -> None:
        _check_stock_piece(self)


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
            _length(getattr(item, field), f"{name}: {field}")
    if not 0 < item.cost < math.inf:
        raise ProblemError(f"{name}: cost must be above 0, got {item.cost!r}.")
    if item.available is not None:
        _count(item.available, f"{name}: available", least=0)


@dataclass(frozen=True, slots=True)
class SheetProblem:
    """Cut all pieces from sheets of least total cost.

    Parameters
    ----------
    sheets
        The sizes on offer.
    pieces
        What is wanted.
    kerf
        Width of a cut, mm, between neighbouring pieces; the trimming of the edges is in `trim`.
    trim
        Rim lost on the edges, mm: one number for all four, or a `Trim`.
    stages
        2, 3 or ``"any"`` for edge-to-edge cuts; None for free placement. The first cuts of a staged
        layout are at given x (across the sheet).
    """

    sheets: tuple[Sheet, ...]
    pieces: tuple[Piece, ...]
    kerf: float = 0.0
    trim: Trim | float = 0.0
    stages: Stages = "any"

    def __post_init__(self) -> None:
        _check_stock(self.sheets, "sheet")
        _length(self.kerf, "kerf", zero=True)
        _check_stages(self.stages)
        object.__setattr__(self, "sheets", tuple(self.sheets))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces))
        if not isinstance(self.trim, Trim):
            rim = float(self.trim)
            object.__setattr__(self, "trim", Trim(rim, rim, rim, rim))

    @property
    def rims(self) -> Trim:
        """The trims as `Trim`, whichever way they were given."""
        assert isinstance(self.trim, Trim)
        return self.trim


@dataclass(frozen=True, slots=True)
class BlockProblem:
    """Cut all slabs from blocks of least total cost.

    Parameters
    ----------
    blocks
        The sizes on offer.
    pieces
        Slabs, lying flat; a slab's thickness is along z.
    kerf
        Width of every cut, mm.
    trim
        Skin lost on the faces, mm: one number for all six, or `Skins`.
    order
        ``"slit first"`` slits a block into full sheets (cuts at given z) and cuts each sheet edge to
        edge in at most three stages; ``"saw first"`` divides the footprint edge to edge in at most
        three stages into columns and splits each column (cuts at given z); ``"best"`` takes whichever
        is cheaper, block by block.
    """

    blocks: tuple[Block, ...]
    pieces: tuple[Piece, ...]
    kerf: float = 0.0
    trim: Skins | float = 0.0
    order: Literal["slit first", "saw first", "best"] = "best"

    def __post_init__(self) -> None:
        _check_stock(self.blocks, "block")
        _length(self.kerf, "kerf", zero=True)
        if self.order not in ("slit first", "saw first", "best"):
            raise ProblemError(f"order must be 'slit first', 'saw first' or 'best', got {self.order!r}.")
        object.__setattr__(self, "blocks", tuple(self.blocks))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces, slabs=True))
        if not isinstance(self.trim, Skins):
            skin = float(self.trim)
            object.__setattr__(self, "trim", Skins(skin, skin, skin, skin, skin, skin))

    @property
    def skins(self) -> Skins:
        """The skins as `Skins`, whichever way they were given."""
        assert isinstance(self.trim, Skins)
        return self.trim


@dataclass(frozen=True, slots=True)
class LinearProblem:
    """Cut all lengths from bars of least total cost; `kerf` (mm) is lost between two pieces or parts."""

    bars: tuple[Bar, ...]
    pieces: tuple[Piece, ...]
    kerf: float = 0.0

    def __post_init__(self) -> None:
        _check_stock(self.bars, "bar")
        _length(self.kerf, "kerf", zero=True)
        object.__setattr__(self, "bars", tuple(self.bars))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces, linear=True))


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
        _length(self.x0, "flaw x0", zero=True)
        _length(self.y0, "flaw y0", zero=True)
        _length(self.x1, "flaw x1")
        if not self.x0 < self.x1:
            raise ProblemError(f"A flaw must end beyond its start, got x0 {self.x0!r} and x1 {self.x1!r}.")
        if self.y1 is not None:
            _length(self.y1, "flaw y1")
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


@dataclass(frozen=True, slots=True)
class RackProblem:
    """Cut all pieces from rolls of several widths and lengths at least cost.

    The cost is the sum, over all markers laid, of the cost per metre of the roll times the length of
    the marker plus `end_loss`. Of plans of one cost one that uses up the shorter rolls is preferred.

    Parameters
    ----------
    rolls
        The rolls on offer.
    pieces
        What is wanted.
    gap
        Distance kept between pieces, mm; none is needed at the edges and at flaws.
    stages
        As in `RollProblem`.
    max_marker_length
        Longest single marker, mm; None: only the rolls limit it.
    end_loss
        Roll lost with every marker laid, mm, behind it. On a roll with an end there must be room for it,
        and two markers lie at least so far apart (and at least one gap).
    """

    rolls: tuple[Roll, ...]
    pieces: tuple[Piece, ...]
    gap: float = 0.0
    stages: Stages = None
    max_marker_length: float | None = None
    end_loss: float = 0.0

    def __post_init__(self) -> None:
        _check_stock(self.rolls, "roll")
        _length(self.gap, "gap", zero=True)
        _length(self.end_loss, "end_loss", zero=True)
        _check_stages(self.stages)
        if self.max_marker_length is not None:
            _length(self.max_marker_length, "max_marker_length")
        object.__setattr__(self, "rolls", tuple(self.rolls))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces))


Problem: TypeAlias = RollProblem | SheetProblem | BlockProblem | LinearProblem | RackProblem
