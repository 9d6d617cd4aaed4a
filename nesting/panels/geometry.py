"""Plane geometry of cut parts: outlines with flattened arcs, perimeters, areas.

Arcs become *tangent polygons*: each side touches the true curve and every corner lies outside it, by at
most `ARC_TOLERANCE`. An outline therefore always contains the true shape (no part is cut short and no
two parts placed apart can overlap), and its bounding box is exactly that of the true shape.

Outlines run counter-clockwise, start anywhere, do not repeat the first point and have the lower left of
their box at (0, 0). Lengths are mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from nesting.model import Point

__all__ = [
    "ARC_TOLERANCE",
    "arched_rectangle",
    "clipped_rectangle",
    "flattened_arc",
    "offset_convex",
    "perimeter",
    "polygon_area",
    "quarter_round",
    "rounded_rectangle",
    "rounded_rectangle_area",
    "spans",
    "to_origin",
    "trapezoid",
]

ARC_TOLERANCE = 0.1
"""Farthest that a flattened arc may lie outside the true one, mm: the step of the packing grid."""

_DECIMALS = 6
"""Points are rounded to a millionth of a mm, so that corners meant to lie on a side do lie on it."""


def perimeter(width: float, length: float, radius: float = 0.0) -> float:
    """Perimeter of a rectangle with rounded corners, mm.

    ``P = 2 (W + L) - (8 - 2 pi) r``: each corner replaces ``2 r`` of straight side by a quarter circle
    of ``pi r / 2``. Source: arithmetic.
    """
    return 2.0 * (width + length) - (8.0 - 2.0 * math.pi) * radius


def rounded_rectangle_area(width: float, length: float, radius: float = 0.0) -> float:
    """Area of a rectangle with rounded corners, mm2: ``W L - (4 - pi) r^2``. Source: arithmetic."""
    return width * length - (4.0 - math.pi) * radius**2


def polygon_area(points: Sequence[Point]) -> float:
    """Signed area of a polygon, mm2; positive when it runs counter-clockwise (shoelace formula)."""
    nexts = [*points[1:], *points[:1]]
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, nexts, strict=True)) / 2.0


def spans(radius: float, sweep: float, tolerance: float = ARC_TOLERANCE) -> int:
    """Number of corners a tangent polygon needs to stay within `tolerance` of an arc.

    A corner between two tangents ``2 a`` apart lies ``r (1 / cos a - 1)`` outside the arc.

    Parameters
    ----------
    radius
        Of the arc, mm, above 0.
    sweep
        Angle of the arc in radians.
    tolerance
        mm, above 0.
    """
    widest_half = math.acos(radius / (radius + tolerance))
    return max(1, math.ceil(sweep / (2.0 * widest_half)))


def flattened_arc(
    centre: Point, radius: float, start: float, sweep: float, *, even: bool = False
) -> tuple[Point, ...]:
    """Corners of the tangent polygon of an arc, counter-clockwise, without the two ends of the arc.

    Parameters
    ----------
    centre, radius
        Of the arc, mm.
    start, sweep
        Angles in radians.
    even
        Ask for an even number of corners, so that one side touches the arc in its middle.
    """
    count = spans(radius, sweep)
    if even:
        count += count % 2
    step = sweep / count
    reach = radius / math.cos(step / 2.0)
    angles = [start + (index + 0.5) * step for index in range(count)]
    return tuple(
        (
            round(centre[0] + reach * math.cos(angle), _DECIMALS),
            round(centre[1] + reach * math.sin(angle), _DECIMALS),
        )
        for angle in angles
    )


def rounded_rectangle(length: float, width: float, radius: float) -> tuple[Point, ...]:
    """Outline of a rectangle with four equal rounded corners; empty when `radius` is 0.

    Parameters
    ----------
    length, width
        Along x and y, mm.
    radius
        mm.

    Raises
    ------
    ValueError
        If the radius is negative or more than half the shorter side.
    """
    if not 0 <= radius <= min(length, width) / 2.0:
        raise ValueError(f"radius must be from 0 to half the shorter side, got {radius!r}.")
    if radius == 0:
        return ()
    left, right, low, high = radius, length - radius, radius, width - radius
    quarter = math.pi / 2.0
    return (
        *flattened_arc((right, low), radius, -quarter, quarter),
        *flattened_arc((right, high), radius, 0.0, quarter),
        *flattened_arc((left, high), radius, quarter, quarter),
        *flattened_arc((left, low), radius, 2.0 * quarter, quarter),
    )


def quarter_round(leg: float) -> tuple[Point, ...]:
    """Quarter circle of radius `leg`, mm, with its centre at (0, 0)."""
    return ((0.0, 0.0), (leg, 0.0), *flattened_arc((0.0, 0.0), leg, 0.0, math.pi / 2.0), (0.0, leg))


def trapezoid(outer: float, depth: float) -> tuple[Point, ...]:
    """Symmetric strip whose ends are cut at 45 degrees; the `outer` (longer) edge lies on y = 0.

    Parameters
    ----------
    outer
        Length of the longer edge, mm.
    depth
        Width of the strip, mm; the inner edge is ``outer - 2 depth`` long.

    Raises
    ------
    ValueError
        If no inner edge would be left.
    """
    if not 0 < 2.0 * depth < outer:
        raise ValueError(f"depth must be above 0 and less than half of {outer!r}, got {depth!r}.")
    return ((0.0, 0.0), (outer, 0.0), (outer - depth, depth), (depth, depth))


def clipped_rectangle(width: float, height: float, across: float, down: float) -> tuple[Point, ...]:
    """Upright rectangle whose two upper corners are cut off by a straight line.

    Parameters
    ----------
    width, height
        Along x and y, mm.
    across, down
        How far each cut reaches along the top and down the side, mm.

    Raises
    ------
    ValueError
        If a cut is not above 0, the two meet, or they reach the lower edge.
    """
    if not (0 < across < width / 2.0 and 0 < down < height):
        raise ValueError(f"cuts of {across!r} by {down!r} do not fit {width!r} by {height!r}.")
    return (
        (0.0, 0.0),
        (width, 0.0),
        (width, height - down),
        (width - across, height),
        (across, height),
        (0.0, height - down),
    )


def arched_rectangle(width: float, height: float, radius: float) -> tuple[Point, ...]:
    """Upright rectangle whose top is one circular arc from side to side.

    The sides are ``height - rise`` high, with ``rise = r - sqrt(r^2 - (w / 2)^2)``.

    Parameters
    ----------
    width
        Along x, mm.
    height
        At the crown of the arch, mm.
    radius
        Of the arc, mm; at least half the width (a half circle).

    Raises
    ------
    ValueError
        If the radius is too small, or the arch is higher than the whole.
    """
    half = width / 2.0
    if not radius >= half > 0:
        raise ValueError(f"radius must be at least half the width, {half!r}, got {radius!r}.")
    side = round(height - radius + math.sqrt(radius**2 - half**2), _DECIMALS)
    if side < 0:
        raise ValueError(f"the arch is higher than the whole, {height!r}.")
    reach = math.asin(half / radius)
    # An even number of corners puts one side level with the crown: the box is exactly `height` high.
    arc = flattened_arc((half, height - radius), radius, math.pi / 2.0 - reach, 2.0 * reach, even=True)
    sides = ((0.0, 0.0), (width, 0.0))
    if side == 0:
        return (*sides, *arc)
    return (*sides, (width, side), *arc, (0.0, side))


def offset_convex(points: Sequence[Point], distance: float) -> tuple[Point, ...]:
    """Convex outline with every side moved outwards, corners kept sharp, moved back to the origin.

    Parameters
    ----------
    points
        A convex outline, counter-clockwise.
    distance
        mm; below 0 moves inwards.

    Raises
    ------
    ValueError
        If a side would vanish.
    """
    count = len(points)
    moved = []
    for before, corner, after in zip(
        [points[-1], *points[:-1]], points, [*points[1:], points[0]], strict=True
    ):
        (ax, ay), (bx, by) = _direction(before, corner), _direction(corner, after)
        # Both neighbours move out along their right-hand normals; they meet on the bisector.
        share = distance / (1.0 + ax * bx + ay * by)
        moved.append((corner[0] + share * (ay + by), corner[1] - share * (ax + bx)))
    for index in range(count):
        old = _direction(points[index], points[(index + 1) % count])
        (x0, y0), (x1, y1) = moved[index], moved[(index + 1) % count]
        if not old[0] * (x1 - x0) + old[1] * (y1 - y0) > 0:
            raise ValueError(f"moving the sides by {distance!r} leaves one of them without length.")
    return to_origin(moved)


def _direction(start: Point, end: Point) -> Point:
    dx, dy = end[0] - start[0], end[1] - start[1]
    size = math.hypot(dx, dy)
    return dx / size, dy / size


def to_origin(points: Sequence[Point]) -> tuple[Point, ...]:
    """Outline moved so that the lower left corner of its box is (0, 0)."""
    left = min(x for x, _ in points)
    low = min(y for _, y in points)
    return tuple((round(x - left, _DECIMALS), round(y - low, _DECIMALS)) for x, y in points)
