"""What lies where, as the verifier sees it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from nesting.packing.faults import NOISE, fault, mm
from nesting.packing.pieces import GRID

__all__ = ["AXES", "Lying", "Room", "Shape", "Triple", "check_finite", "point", "round_up"]

AXES = "xyz"

Triple: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Room:
    """Where pieces may lie: low and high corner of the usable area, mm."""

    low: Triple
    high: Triple


@dataclass(frozen=True, slots=True)
class Shape:
    """A piece after turning: extent of its bounding box and outline (empty for a rectangle), mm."""

    size: Triple
    outline: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Lying:
    """A piece where it lies: key, low and high corner of its bounding box, mm, and its shape."""

    key: str
    low: Triple
    high: Triple
    shape: Shape

    def __str__(self) -> str:
        return f"{self.key!r} at {point(self.low)}"


def point(corner: Triple) -> str:
    return f"x {mm(corner[0])}, y {mm(corner[1])}" + (f", z {mm(corner[2])}" if corner[2] else "")


def round_up(value: float) -> float:
    """The next grid line at or above `value`, mm: as far as an engine may round a piece or a kerf."""
    return math.ceil((value - NOISE) / GRID) * GRID


def check_finite(values: Sequence[float], what: str, where: str) -> None:
    for value in values:
        if not math.isfinite(value):
            fault(where, f"{what} has a figure that is not a finite number: {value!r}")


# --- One layout: stock, pieces, usable area -----------------------------------------------------------
