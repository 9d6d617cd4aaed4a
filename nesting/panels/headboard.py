"""Headboards: the board or foam itself, the face pulled over it, the cloth on its back.

Width and height of the board are the finished width (W) and height (H) of what the panel is for. Parts
are worked out upright, seen from the front, and laid so that the width of the headboard lies along or
across the material.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from nesting.model import BlockMaterial, Material, Point, RollMaterial
from nesting.packing.problem import turned_points
from nesting.panels.generator import CutShape, Dims, Length, PanelError, generator
from nesting.panels.geometry import arched_rectangle, clipped_rectangle, offset_convex
from nesting.panels.ring import Direction
from nesting.panels.shaping import SMALLEST_PART, cut, positive

__all__ = ["BoardShape", "headboard_back", "headboard_board", "headboard_panel"]

BoardShape: TypeAlias = Literal["straight", "arched", "clipped"]
"""A plain rectangle, a top in one circular arc, or two upper corners cut off by straight lines."""


@dataclass(frozen=True, slots=True)
class _Board:
    """Upright outline of a board, mm; checks itself."""

    width: float
    height: float
    shape: BoardShape
    rise: float
    clip_across: float
    clip_down: float

    def __post_init__(self) -> None:
        positive("width", self.width)
        positive("height", self.height)
        for name, value, owner in (
            ("rise", self.rise, "arched"),
            ("clip_across", self.clip_across, "clipped"),
            ("clip_down", self.clip_down, "clipped"),
        ):
            if value and self.shape != owner:
                raise PanelError(
                    name, value, f'0 unless shape = "{owner}"', "Leave it out or change the shape."
                )
        half = self.width / 2.0
        if self.shape == "arched" and not SMALLEST_PART <= self.rise <= min(half, self.height):
            allowed = f"{SMALLEST_PART:g} to {min(half, self.height):g} mm (half the width, or the height)"
            raise PanelError("rise", self.rise, allowed, "Give the rise of the arch.")
        if self.shape == "clipped":
            if not 0 < self.clip_across < half:
                allowed = f"above 0 and less than {half:g} mm, half the width"
                raise PanelError("clip_across", self.clip_across, allowed, "Give a smaller cut.")
            if not 0 < self.clip_down < self.height:
                allowed = f"above 0 and less than {self.height:g} mm, the height"
                raise PanelError("clip_down", self.clip_down, allowed, "Give a smaller cut.")

    def grown(self, by: float) -> tuple[Point, ...]:
        """Outline of a part that stands out from the board by `by` all round; empty for a rectangle."""
        width, height = self.width + 2.0 * by, self.height + 2.0 * by
        if self.shape == "straight":
            return ()
        if self.shape == "arched":
            # Chord and rise give the radius; an offset arc keeps its centre.
            radius = ((self.width / 2.0) ** 2 + self.rise**2) / (2.0 * self.rise) + by
            return arched_rectangle(width, height, max(radius, width / 2.0))
        clipped = clipped_rectangle(self.width, self.height, self.clip_across, self.clip_down)
        return offset_convex(clipped, by) if by else clipped


def _part(
    board: _Board,
    material: Material,
    *,
    grow: float,
    direction: Direction,
    limited_by: tuple[str, float],
    thickness: float = 0.0,
) -> tuple[CutShape, ...]:
    length, width = board.width + 2.0 * grow, board.height + 2.0 * grow
    note = ""
    outline: tuple[Point, ...] = ()
    if min(length, width) >= SMALLEST_PART:
        try:
            outline = board.grown(grow)
        except ValueError as error:
            raise PanelError(
                *limited_by, "values that leave the shape of the board", "Make it smaller."
            ) from error
    if outline and isinstance(material, BlockMaterial):
        outline = ()
        note = f"Saw to the {board.shape} shape of the board."
    if direction == "across":
        # Clockwise, so that the top of the headboard points along the roll.
        length, width, outline = width, length, turned_points(outline, 270.0) if outline else ()
    return (
        cut(length, width, material, limited_by=limited_by, outline=outline, thickness=thickness, note=note),
    )


@generator("headboard panel", materials=("roll",))
def headboard_panel(
    dims: Dims,
    material: RollMaterial,
    *,
    headboard_foam: Length,
    headboard_thickness: Length,
    headboard_staple: Length,
    shape: BoardShape = "straight",
    rise: Length = 0.0,
    clip_across: Length = 0.0,
    clip_down: Length = 0.0,
    direction: Direction = "across",
) -> tuple[CutShape, ...]:
    """Face cloth of a headboard in one piece, pulled over foam and board and stapled behind.

    ``W + 2 (foam + board + staple)`` by the same for the height; the outline is that of the board moved
    out by as much (an arch keeps its centre). Source: arithmetic; 40 to staple is common practice.

    Parameters
    ----------
    dims
        Width and height of the board, mm.
    material
        The face cloth.
    headboard_foam
        Thickness of the foam on the board, mm.
    headboard_thickness
        Thickness of the board, mm.
    headboard_staple
        Cloth stapled behind the board, mm.
    shape
        Of the board.
    rise
        Of an arched top over its width, mm.
    clip_across, clip_down
        How far a clipped corner reaches along the top and down the side, mm.
    direction
        Whether the width of the headboard lies along the roll (railroaded) or across it, with the top
        pointing along the roll.

    Raises
    ------
    PanelError
        If a size is absurd or the values of the shape do not fit the board.
    """
    return _part(
        _Board(dims.width, dims.height, shape, rise, clip_across, clip_down),
        material,
        grow=headboard_foam + headboard_thickness + headboard_staple,
        direction=direction,
        limited_by=("headboard_staple", headboard_staple),
    )


@generator("headboard back", materials=("roll",))
def headboard_back(
    dims: Dims,
    material: RollMaterial,
    *,
    back_inset: Length,
    back_turn_under: Length,
    shape: BoardShape = "straight",
    rise: Length = 0.0,
    clip_across: Length = 0.0,
    clip_down: Length = 0.0,
    direction: Direction = "across",
) -> tuple[CutShape, ...]:
    """Cloth that covers the back of a headboard: board ``- 2 inset + 2 turn-under`` each way.

    Source: arithmetic; 10 set in and 15 turned under are common practice.

    Parameters
    ----------
    dims
        Width and height of the board, mm.
    material
        The back cloth.
    back_inset
        How far the finished edge lies inside the edge of the board, mm.
    back_turn_under
        Cloth turned under at each edge, mm.
    shape
        Of the board.
    rise
        Of an arched top over its width, mm.
    clip_across, clip_down
        How far a clipped corner reaches along the top and down the side, mm.
    direction
        Whether the width of the headboard lies along the roll or across it.

    Raises
    ------
    PanelError
        If a size is absurd or the values of the shape do not fit the board.
    """
    return _part(
        _Board(dims.width, dims.height, shape, rise, clip_across, clip_down),
        material,
        grow=back_turn_under - back_inset,
        direction=direction,
        limited_by=("back_inset", back_inset),
    )


@generator("headboard board", materials=("roll", "sheet", "block"))
def headboard_board(
    dims: Dims,
    material: Material,
    *,
    oversize: Length = 0.0,
    thickness: Length = 0.0,
    shape: BoardShape = "straight",
    rise: Length = 0.0,
    clip_across: Length = 0.0,
    clip_down: Length = 0.0,
    direction: Direction = "along",
) -> tuple[CutShape, ...]:
    """The board of a headboard, or the foam on it: the outline of the board, plus an oversize for foam.

    ``W + o`` by ``H + o``; foam 0 to 5 larger each way is common practice. A slab from a block is sawn
    as a rectangle and shaped afterwards. Source: arithmetic.

    Parameters
    ----------
    dims
        Width and height of the board, mm.
    material
        Board, or foam.
    oversize
        Total per dimension (o), mm.
    thickness
        Of the slab, mm; needed for blocks only.
    shape
        Of the board.
    rise
        Of an arched top over its width, mm.
    clip_across, clip_down
        How far a clipped corner reaches along the top and down the side, mm.
    direction
        Whether the width of the headboard lies along the material or across it.

    Raises
    ------
    PanelError
        If a size is absurd or the values of the shape do not fit the board.
    """
    return _part(
        _Board(dims.width, dims.height, shape, rise, clip_across, clip_down),
        material,
        grow=oversize / 2.0,
        direction=direction,
        limited_by=("oversize", oversize),
        thickness=thickness,
    )
