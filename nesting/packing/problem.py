"""What is asked of the packing core.

Lengths are millimetres; x runs along the roll or sheet (length), y across it (width), z up a block.
Turns are degrees, counter-clockwise. Inside the core everything is counted in whole tenths of a
millimetre (`GRID`): pieces are rounded up to the grid and room is rounded down, so that a plan made
on the grid is always possible in the cloth.

Problem classes follow Waescher, Haussner and Schumann (2007), EJOR 183(3): 1109-1130:
`RollProblem` is an open dimension problem, `RackProblem` one with several widths, partly of limited
length; `SheetProblem` and `BlockProblem` are (multiple) stock-size cutting stock problems in two and
three dimensions, `LinearProblem` is the one-dimensional (multiple) stock-size cutting stock problem.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from nesting.errors import ProblemError
from nesting.packing.pieces import (
    GRID,
    Piece,
    Point,
    Recipe,
    checked_length,
    grid_down,
    grid_up,
    turned_points,
)
from nesting.packing.stock import Bar, Block, Flaw, Kerfs, Roll, Sheet, Skins, Trim

__all__ = [
    "GRID",
    "Bar",
    "Block",
    "BlockProblem",
    "Flaw",
    "Kerfs",
    "LinearProblem",
    "Piece",
    "Point",
    "Problem",
    "RackProblem",
    "Recipe",
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

Stages: TypeAlias = Literal[2, 3, "any"] | None
"""None: free placement. 2 or 3: guillotine cuts in so many stages. ``"any"``: guillotine, no limit."""

STAGES: tuple[Stages, ...] = (None, 2, 3, "any")


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
        checked_length(self.width, "width")
        checked_length(self.gap, "gap", zero=True)
        checked_length(self.end_loss, "end_loss", zero=True)
        checked_length(self.setup, "setup", zero=True)
        _check_stages(self.stages)
        if self.max_marker_length is not None:
            checked_length(self.max_marker_length, "max_marker_length")
        object.__setattr__(self, "pieces", _check_pieces(self.pieces))


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
        Rim lost on the edges of sheets without a trim of their own, mm: one number for all four, or a
        `Trim`.
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
        checked_length(self.kerf, "kerf", zero=True)
        _check_stages(self.stages)
        object.__setattr__(self, "sheets", tuple(self.sheets))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces))
        if not isinstance(self.trim, Trim):
            rim = float(self.trim)
            object.__setattr__(self, "trim", Trim(rim, rim, rim, rim))

    def rims_of(self, sheet: Sheet) -> Trim:
        """The trims of a sheet: its own, or those of the problem."""
        assert isinstance(self.trim, Trim)
        return self.trim if sheet.trim is None else sheet.trim


@dataclass(frozen=True, slots=True)
class BlockProblem:
    """Cut all slabs from blocks of least total cost.

    A long block (`Block.cut_to`) is first cut to length, then each part is cut as a block is. Its end skins
    x0 and x1 are lost once, at its ends.

    Slabs with an outline are cut out of boxes, once these are free. Two copies of one outline, the second
    turned by another 180 degrees, may share a box if one upright kerf is left between them.

    Parameters
    ----------
    blocks
        The sizes on offer.
    pieces
        Slabs. They lie flat, their thickness along z, unless they may stand. Where they have recipes, the
        cost of gluing counts, too.
    kerf
        Width of the cuts, mm: one number for all, or `Kerfs`.
    trim
        Skin lost on the faces, mm: one number for all six, or `Skins`. A block may have its own.
    order
        ``"slit first"`` slits a block into full sheets (cuts at given z) and cuts each sheet edge to
        edge in at most three stages; ``"saw first"`` divides the footprint edge to edge in at most
        three stages into columns and splits each column (cuts at given z); ``"best"`` takes whichever
        is cheaper, block by block. Slabs of unlike length and width may share a strip or a column and
        are trimmed; the thickness of a sheet is that of its slabs. What no slab lies in is a rest and
        is not cut up again.
    """

    blocks: tuple[Block, ...]
    pieces: tuple[Piece, ...]
    kerf: Kerfs | float = 0.0
    trim: Skins | float = 0.0
    order: Literal["slit first", "saw first", "best"] = "best"

    def __post_init__(self) -> None:
        _check_stock(self.blocks, "block")
        if not isinstance(self.kerf, Kerfs):
            object.__setattr__(self, "kerf", Kerfs(float(self.kerf), float(self.kerf)))
        if self.order not in ("slit first", "saw first", "best"):
            raise ProblemError(f"order must be 'slit first', 'saw first' or 'best', got {self.order!r}.")
        object.__setattr__(self, "blocks", tuple(self.blocks))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces, slabs=True))
        if not isinstance(self.trim, Skins):
            object.__setattr__(self, "trim", Skins.even(self.trim))

    @property
    def kerfs(self) -> Kerfs:
        """The widths of the cuts as `Kerfs`, whichever way they were given."""
        assert isinstance(self.kerf, Kerfs)
        return self.kerf

    @property
    def skins(self) -> Skins:
        """The skins of blocks that have none of their own, whichever way they were given."""
        assert isinstance(self.trim, Skins)
        return self.trim

    def skins_of(self, block: Block) -> Skins:
        """The skins of a block: its own, or those of the problem."""
        if block.trim is None:
            return self.skins
        assert isinstance(block.trim, Skins)
        return block.trim


@dataclass(frozen=True, slots=True)
class LinearProblem:
    """Cut all lengths from bars of least total cost; `kerf` (mm) is lost between two pieces or parts."""

    bars: tuple[Bar, ...]
    pieces: tuple[Piece, ...]
    kerf: float = 0.0

    def __post_init__(self) -> None:
        _check_stock(self.bars, "bar")
        checked_length(self.kerf, "kerf", zero=True)
        object.__setattr__(self, "bars", tuple(self.bars))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces, linear=True))


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
        checked_length(self.gap, "gap", zero=True)
        checked_length(self.end_loss, "end_loss", zero=True)
        _check_stages(self.stages)
        if self.max_marker_length is not None:
            checked_length(self.max_marker_length, "max_marker_length")
        object.__setattr__(self, "rolls", tuple(self.rolls))
        object.__setattr__(self, "pieces", _check_pieces(self.pieces))


Problem: TypeAlias = RollProblem | SheetProblem | BlockProblem | LinearProblem | RackProblem
