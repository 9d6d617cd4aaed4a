"""Rings of strips round a mattress or base: how many strips, how long, where the joins fall.

A ring is measured from the middle of the head end, counter-clockwise seen from above: down the left
side, across the foot end, up the right side. A strip is drawn as it is seen from outside the bed, x
to the right along the ring and y up from its lower cut edge, so its face lies up when it is cut.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from nesting.model import Mark, Point, RollMaterial
from nesting.panels.generator import CutShape, PanelError
from nesting.panels.geometry import perimeter
from nesting.panels.shaping import check_radius, contraction, cut, merged

__all__ = [
    "FITTING_CLEARANCE",
    "JOIN_CLEARANCE",
    "SHORTEST_STRIP",
    "Direction",
    "Fitting",
    "Ring",
    "join_start",
    "piece_count",
    "ring_strips",
]

Direction: TypeAlias = Literal["along", "across"]
"""Whether strips lie along the roll or across it."""

JOIN_CLEARANCE = 50.0
"""Least distance of a join from a corner unless a range file says otherwise, mm (our own choice)."""

FITTING_CLEARANCE = 50.0
"""Least distance of a join from a handle, vent or label, mm (common practice)."""

SHORTEST_STRIP = 100.0
"""A ring is not made of finished pieces shorter than this, mm (our own choice)."""

_NOISE = 1e-6

_Stretch: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ring:
    """The upright faces round a rectangle with (finished) rounded corners, mm.

    Raises
    ------
    PanelError
        If the corners do not fit.
    """

    width: float
    length: float
    radius: float = 0.0

    def __post_init__(self) -> None:
        check_radius(self.radius, self.width, self.length)

    @property
    def perimeter(self) -> float:
        """Finished length of the ring, mm; see `nesting.panels.geometry.perimeter`."""
        return perimeter(self.width, self.length, self.radius)

    @property
    def corners(self) -> tuple[_Stretch, ...]:
        """Start and end of each of the four corners, mm along the ring; equal for square corners."""
        arc, half = math.pi * self.radius / 2.0, self.perimeter / 2.0
        first = self.width / 2.0 - self.radius
        second = first + arc + self._straight_side
        starts = (first, second, first + half, second + half)
        return tuple((start, start + arc) for start in starts)

    @property
    def sides(self) -> tuple[_Stretch, _Stretch]:
        """Start and end of the straight part of the two long sides, mm along the ring."""
        one, two, three, four = self.corners
        return (one[1], two[0]), (three[1], four[0])

    @property
    def foot(self) -> _Stretch:
        """Start and end of the straight part of the foot end, mm along the ring."""
        return self.corners[1][1], self.corners[2][0]

    @property
    def _straight_side(self) -> float:
        return self.length - 2.0 * self.radius

    def along_sides(self, share: float) -> tuple[float, float]:
        """Where a share of the full bed length falls on each long side, mm along the ring.

        Raises
        ------
        PanelError
            If that place lies in a rounded corner.
        """
        offset = share * self.length - self.radius
        if not 0 <= offset <= self._straight_side:
            most = min(share, 1.0 - share) * self.length
            raise PanelError(
                "corner_radius",
                self.radius,
                f"at most {most:g} mm where handles or vents are placed on the sides",
                "Give a smaller radius, or leave handles and vents off this panel.",
            )
        return self.sides[0][0] + offset, self.sides[1][0] + offset


@dataclass(frozen=True, slots=True)
class Fitting:
    """Something marked on a ring: its kind, its place along the ring, its height above the cut edge, mm."""

    kind: Literal["handle", "vent", "label", "notch"]
    place: float
    height: float
    text: str = ""


def piece_count(needed: float, allowance: float, longest: float) -> int:
    """Least number of equal pieces that make a ring: ``n >= needed / (longest - allowance)``.

    Parameters
    ----------
    needed
        Length of the ring, ease included, mm.
    allowance
        What each piece has in addition: two join seams, or one overlap, mm.
    longest
        Longest piece that can be cut, mm.

    Raises
    ------
    PanelError
        If the material leaves less than `SHORTEST_STRIP` between the joins.
    """
    room = longest - allowance
    if not room >= SHORTEST_STRIP:
        raise PanelError(
            "longest strip",
            longest,
            f"at least {allowance + SHORTEST_STRIP:g} mm, joins included",
            "The material is too narrow or too short for this ring: lay the strips the other way.",
        )
    return max(1, math.ceil(needed / room - _NOISE))


def join_start(ring: Ring, pieces: int, fittings: Sequence[Fitting], clearance: float) -> tuple[float, str]:
    """Where the first of the equally spaced joins is put, and a remark when it is a compromise.

    All joins repeat every ``perimeter / pieces``. So the ring is folded onto one such stretch, and what
    the joins must keep clear of (corners by `clearance`, fittings by `FITTING_CLEARANCE`) covers parts
    of it; the middle of the widest free gap is the best place. By common practice a join belongs at the
    head end or near a corner, never on the foot end when that can be avoided.

    Parameters
    ----------
    ring
        The finished ring.
    pieces
        How many strips make it.
    fittings
        What is marked on it; notches are not in the way.
    clearance
        Wanted distance from corners, mm.

    Returns
    -------
    tuple of (float, str)
        Place of the first join, mm along the ring, and the remark, empty when all clearances hold.
    """
    period = ring.perimeter / pieces
    places = [item.place for item in fittings if item.kind != "notch"]

    def kept(by_corner: float, by_fitting: float) -> list[_Stretch]:
        return [(start - by_corner, end + by_corner) for start, end in ring.corners] + [
            (place - by_fitting, place + by_fitting) for place in places
        ]

    wanted = kept(clearance, FITTING_CLEARANCE)
    for barred in ([ring.foot, *ring.sides], [ring.foot], []):
        best = _widest_gap([*wanted, *barred], period)
        if best is not None:
            return best, ""
    best = _widest_gap(kept(0.0, 0.0), period)
    start = 0.0 if best is None else best
    joins = [start + index * period for index in range(pieces)]
    return start, _remark(ring, joins, places, clearance)


def _widest_gap(covered: Sequence[_Stretch], period: float) -> float | None:
    """Middle of the widest part of a circle of length `period` that is not covered; None if all is."""
    if any(end - start >= period for start, end in covered):
        return None
    folded = sorted((start % period, start % period + end - start) for start, end in covered)
    reached = max(end for _, end in folded) - period
    best: float | None = None
    widest = 0.0
    for start, end in folded:
        if start - reached > widest + _NOISE:  # the first of equally wide gaps wins
            widest, best = start - reached, (start + reached) / 2.0 % period
        reached = max(reached, end)
    return best


def _remark(ring: Ring, joins: Sequence[float], places: Sequence[float], clearance: float) -> str:
    def nearest(stretches: Iterable[_Stretch]) -> float:
        return min(
            (_distance(join, stretch, ring.perimeter) for join in joins for stretch in stretches),
            default=math.inf,
        )

    corner, fitting = nearest(ring.corners), nearest([(place, place) for place in places])
    remarks = []
    if corner < clearance - _NOISE:
        where = "in a corner" if corner <= _NOISE else f"{corner:.0f} mm from a corner"
        remarks.append(f"A join falls {where}; {clearance:g} mm is wanted.")
    if fitting < FITTING_CLEARANCE - _NOISE:
        remarks.append(
            f"A join falls {fitting:.0f} mm from a handle, vent or label; {FITTING_CLEARANCE:g} mm is wanted."
        )
    return " ".join(remarks)


def _distance(place: float, stretch: _Stretch, around: float) -> float:
    start, end = stretch
    after = (place - start) % around
    if after <= end - start:
        return 0.0
    return min(after - (end - start), around - after)


def ring_strips(
    ring: Ring,
    material: RollMaterial,
    *,
    height: float,
    allowance: float,
    limited_by: tuple[str, float],
    ease: float = 0.0,
    pieces: int = 0,
    direction: Direction = "along",
    fittings: Sequence[Fitting] = (),
    folds: Sequence[float] = (),
    join_clearance: float | None = JOIN_CLEARANCE,
    count: int = 1,
) -> tuple[CutShape, ...]:
    """Cut the strips of a ring: equal lengths, marks where fittings fall, equal strips counted together.

    ``total = P (1 + e) + n a`` with `a` the allowance of one piece (twice the join seam, or the
    overlap), each piece ``ceil(total / n)``; source: arithmetic.

    Parameters
    ----------
    ring
        The finished ring.
    material
        The roll; its contraction applies.
    height
        Cut height of the strip, mm.
    allowance
        Added to each piece for its joins, mm.
    limited_by
        Name and value of the parameter to blame when the height is absurd.
    ease
        Share of the perimeter added (or, below 0, taken away for stretch).
    pieces
        How many strips; 0 for the least number that the material allows.
    direction
        Lay of the strips on the roll.
    fittings
        What is marked on the ring.
    folds
        Heights at which a fold line is marked, mm.
    join_clearance
        Wanted distance of joins from corners, mm; None when nobody minds where the joins fall.
    count
        How many such rings.

    Raises
    ------
    PanelError
        If the strips would be shorter than `SHORTEST_STRIP`, or no room is left for the joins.
    """
    needed = ring.perimeter * (1.0 + ease)
    if pieces == 0:
        pieces = piece_count(needed, allowance, _longest_strip(material, direction))
    step = needed / pieces
    if not step >= SHORTEST_STRIP:
        most = max(1, math.floor(needed / SHORTEST_STRIP))
        raise PanelError("strips", pieces, f"0 to {most} for this ring", "Use fewer strips.")
    start, note = 0.0, ""
    if join_clearance is not None:
        start, note = join_start(ring, pieces, fittings, join_clearance)
    length = step + allowance

    def strip(index: int) -> CutShape:
        placed = []
        for item in fittings:
            from_start = (item.place - start) % ring.perimeter
            if min(int(from_start * pieces / ring.perimeter), pieces - 1) == index:
                x = allowance / 2.0 + from_start * (1.0 + ease) - index * step
                placed.append(Mark(item.kind, ((x, item.height),), item.text))
        lines = [Mark("fold", ((0.0, level), (length, level))) for level in folds]
        marks = [*lines, *sorted(placed, key=lambda mark: mark.points)]
        if direction == "along":
            return cut(length, height, material, limited_by=limited_by, marks=marks, note=note, count=count)
        turned = [Mark(mark.kind, _upright(mark.points, height), mark.text) for mark in marks]
        return cut(height, length, material, limited_by=limited_by, marks=turned, note=note, count=count)

    return merged((strip(index) for index in range(pieces)), "strip")


def _upright(points: Sequence[Point], height: float) -> tuple[Point, ...]:
    """Points of a strip after a quarter turn counter-clockwise, so that it lies across the roll."""
    return tuple((height - y, x) for x, y in points)


def _longest_strip(material: RollMaterial, direction: Direction) -> float:
    """Longest strip the roll allows, reckoned back to the finished cloth, mm."""
    lost_along, lost_across = contraction(material)
    if direction == "across":
        return math.floor(material.usable_width + _NOISE) * (1.0 - lost_across)
    longest = min(material.roll_length, material.max_marker_length or math.inf) - 2.0 * material.end_loss
    return math.floor(longest + _NOISE) * (1.0 - lost_along)
