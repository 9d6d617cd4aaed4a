"""Boards on a frame, split where a sheet is too small so that every join lies on a slat."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from nesting.model import Mark, SheetMaterial
from nesting.panels.generator import CutShape, Dims, Length, PanelError, generator
from nesting.panels.shaping import SMALLEST_PART, check_dims, cut, merged, tenths

__all__ = ["waxed_board"]

SMALLEST_PITCH = 10.0
"""Slats nearer to each other than this are taken for a slip of the figures, mm (our own choice)."""

_NOISE = 1e-6


@generator("waxed board", materials=("sheet",))
def waxed_board(
    dims: Dims,
    material: SheetMaterial,
    *,
    board_inset: Length,
    slat_pitch: Length = 0.0,
    first_slat: Length = 0.0,
) -> tuple[CutShape, ...]:
    """Waxed board that closes the top of a base frame, in as few parts as the sheet allows.

    The board is ``L - 2 i`` by ``W - 2 i``. Where it is larger than the usable sheet it is split across
    the bed on slat lines, and if need be once along the middle (over the centre rail). Among the
    splits with fewest parts one without the middle join is taken, then the one whose longest part is
    shortest. Source: arithmetic; joins on a slat are common practice.

    Parameters
    ----------
    dims
        Frame, mm.
    material
        The board; it may be turned on the sheet when its grain is ``"any"``.
    board_inset
        How far the board stays inside the frame on each side (i), mm.
    slat_pitch
        Distance from one slat line to the next, mm; 0 where joins may lie anywhere.
    first_slat
        Distance of the first slat line from the head end of the frame, mm.

    Raises
    ------
    PanelError
        If nothing is left of the board, slats are too near or too far apart, or even half the width
        does not fit the sheet.
    """
    check_dims(dims)
    length, width = dims.length - 2.0 * board_inset, dims.width - 2.0 * board_inset
    if not min(length, width) >= SMALLEST_PART:
        most = min(dims.width, dims.length) / 2.0
        raise PanelError(
            "board_inset",
            board_inset,
            f"less than {most:g} mm, half the shorter side",
            "Give a smaller inset.",
        )
    if first_slat and not slat_pitch:
        raise PanelError("first_slat", first_slat, "0 without a slat_pitch", "Give the slat_pitch too.")
    slats = _slats(length, board_inset, slat_pitch, first_slat)
    along, across = _usable(material)
    by_rows = {rows: _longest_part(width / rows, material) for rows in (1, 2)}
    if not any(by_rows.values()):
        raise PanelError(
            "width",
            dims.width,
            f"half a board no wider than the usable sheet, {along:g} x {across:g} mm",
            "Use a larger sheet.",
        )
    splits = [
        (rows * (len(joins) + 1), rows, joins)
        for rows, longest in by_rows.items()
        if longest > 0 and (joins := _joins(length, longest, slats if slat_pitch else None)) is not None
    ]
    if not splits:
        raise PanelError(
            "slat_pitch",
            slat_pitch,
            f"slats near enough for parts that fit the usable sheet, {along:g} x {across:g} mm",
            "Use a larger sheet or place the slats nearer to each other.",
        )
    _, rows, joins = min(splits, key=lambda split: split[:2])
    edges = [0.0, *joins, length]
    return merged(
        (
            _part(start, end, width / rows, slats, material, rows, board_inset)
            for start, end in pairwise(edges)
        ),
        "part",
    )


def _slats(length: float, inset: float, pitch: float, first: float) -> list[float]:
    """Slat lines that cross the board, measured from its head end, mm."""
    if pitch == 0:
        return []
    if not pitch >= SMALLEST_PITCH:
        raise PanelError(
            "slat_pitch", pitch, f"0, or at least {SMALLEST_PITCH:g} mm", "Give the pitch in mm."
        )
    count = max(0, math.ceil((length + inset - first) / pitch - _NOISE))
    lines = [first + index * pitch - inset for index in range(count)]
    return [line for line in lines if SMALLEST_PART <= line <= length - SMALLEST_PART]


def _usable(material: SheetMaterial) -> tuple[float, float]:
    trim = material.trim
    return material.length - trim.x0 - trim.x1, material.width - trim.y0 - trim.y1


def _longest_part(width: float, material: SheetMaterial) -> float:
    """Longest part of this width that the sheet yields in an allowed turn, mm; 0 if there is none."""
    along, across = _usable(material)
    lays = [(along, across)]
    if material.grain == "any":
        lays.append((across, along))
    return max((most for most, room in lays if tenths(width) <= room + _NOISE), default=0.0)


def _joins(length: float, longest: float, lines: Sequence[float] | None) -> list[float] | None:
    """Fewest joins such that no part is longer than `longest`, with the longest part as short as possible.

    Parameters
    ----------
    length
        Of the board, mm.
    longest
        Longest part allowed, mm.
    lines
        Where joins may lie, ascending; None for anywhere.
    """
    if lines is None:
        parts = math.ceil(length / longest - _NOISE)
        return [length * index / parts for index in range(1, parts)]
    fewest = _greedy(length, longest, lines)
    if fewest is None:
        return None
    # The number of parts never rises with the length allowed, so the shortest length is found by halving.
    low, high = 0, math.ceil(longest * 10)
    best = fewest
    while high - low > 1:
        middle = (low + high) // 2
        trial = _greedy(length, middle / 10, lines)
        if trial is not None and len(trial) == len(fewest):
            high, best = middle, trial
        else:
            low = middle
    return best


def _greedy(length: float, longest: float, lines: Sequence[float]) -> list[float] | None:
    """Joins with every part as long as it may be; None where two lines are too far apart."""
    joins: list[float] = []
    start, last = 0.0, 0.0
    for line in [*lines, length]:
        if line - start > longest + _NOISE:
            if last == start or line - last > longest + _NOISE:
                return None
            joins.append(last)
            start = last
        last = line
    return joins


def _part(
    start: float,
    end: float,
    width: float,
    slats: Sequence[float],
    material: SheetMaterial,
    rows: int,
    inset: float,
) -> CutShape:
    length = end - start
    inside = [line - start for line in slats if start + _NOISE < line < end - _NOISE]
    # Turned end for end a part is the same board, so the two ways of reading its slats count as one.
    inside = min(
        inside, sorted(length - line for line in inside), key=lambda lines: [tenths(x) for x in lines]
    )
    marks = [Mark("slat", ((x, 0.0), (x, width)), "slat") for x in inside]
    return cut(length, width, material, limited_by=("board_inset", inset), marks=marks, count=rows)
