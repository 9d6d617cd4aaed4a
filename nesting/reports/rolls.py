"""Where the cloth of rolls goes, roll by roll: each has its own width, length, flaws and worth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.model import Demand, Flaw, Layout, RollMaterial, StockPiece, StockUse
from nesting.places import extents
from nesting.shelf import own_material, width_share, worth_of

__all__ = ["RollShare", "roll_shares", "sound_stretches"]

SAME = 1e-6
"""mm; shorter stretches are float noise."""


@dataclass(frozen=True, slots=True)
class RollShare:
    """What becomes of one roll; lengths in m, areas in m2.

    All that is taken from it is ``used - kept + short_end``: markers, ends of plies, what is skipped between
    them, and the end.
    """

    used: float
    """Where the last ply ends."""
    short_end: float
    """The rest of the roll, where it is too short to keep."""
    width: float
    """Full width, m."""
    usable: float
    """Usable width, m."""
    markers: float
    ends: float
    skipped: float
    """Length between markers that is neither kept nor an end of a ply."""
    kept: float
    """Length of the sound stretches between markers that are long enough to keep."""
    flaws_in_markers: float
    flaws_skipped: float
    rate: float
    """Worth of a metre, as a share of the price of new material."""


def roll_shares(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    stock: Sequence[StockUse],
    shelf: Mapping[str, StockPiece],
) -> list[RollShare]:
    """What becomes of each roll."""
    return [_share(material, demands, layouts, use, shelf.get(use.piece)) for use in stock]


def _share(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    use: StockUse,
    piece: StockPiece | None,
) -> RollShare:
    own = own_material(material, piece)
    assert isinstance(own, RollMaterial)
    flaws = piece.flaws if piece else ()
    plies = [(index, lay) for index, lay in _plies(material, demands, layouts, use)]
    markers = sum(high - low for _, (low, high) in plies)
    ends = 2 * material.end_loss * len(plies)
    kept = sum(high - low for low, high in sound_stretches(material, demands, layouts, use, piece))
    marked = sum(_flawed(flaws, low, high, own.usable_width) for _, (low, high) in plies)
    between = sum(_flawed(flaws, low, high, own.usable_width) for low, high in _between(material, plies))
    return RollShare(
        used=use.used / 1e3,
        short_end=use.rest / 1e3 if use.rest < material.min_remnant else 0.0,
        width=own.width / 1e3,
        usable=own.usable_width / 1e3,
        markers=markers / 1e3,
        ends=ends / 1e3,
        skipped=(use.used - markers - ends - kept) / 1e3,
        kept=kept / 1e3,
        flaws_in_markers=marked / 1e6,
        flaws_skipped=between / 1e6,
        rate=width_share(piece, material) * worth_of(piece, material) if piece else 1.0,
    )


def sound_stretches(
    material: RollMaterial,
    demands: Sequence[Demand],
    layouts: Sequence[Layout],
    use: StockUse,
    piece: StockPiece | None,
) -> list[tuple[float, float]]:
    """Where stretches without flaws lie between the markers that are long enough to keep, mm from and to."""
    if piece is None or not piece.flaws:
        return []
    found = []
    for low, high in _between(material, list(_plies(material, demands, layouts, use))):
        at = low
        for flaw in sorted(piece.flaws, key=lambda flaw: flaw.x0):
            if flaw.x1 <= at or flaw.x0 >= high:
                continue
            if flaw.x0 - at >= material.min_remnant:
                found.append((at, flaw.x0))
            at = max(at, flaw.x1)
        if high - at >= material.min_remnant:
            found.append((at, high))
    return found


def _plies(
    material: RollMaterial, demands: Sequence[Demand], layouts: Sequence[Layout], use: StockUse
) -> Iterator[tuple[int, tuple[float, float]]]:
    """Layout, and from where to where its marker lies on the roll, mm, for every ply."""
    end = 0.0
    for place, (index, count) in enumerate(use.cuts):
        layout = layouts[index]
        length = layout.length
        if material.process == "lengths":
            length = max(box[2] for box in extents(demands, layout))
        step = max(length + 2 * material.end_loss, length + material.gap)
        start = use.starts[place] if use.starts else end
        for ply in range(count):
            low = start + ply * step + material.end_loss
            yield index, (low, low + length)
        end = start + count * step


def _between(
    material: RollMaterial, plies: Sequence[tuple[int, tuple[float, float]]]
) -> list[tuple[float, float]]:
    """The stretches before and between plies, their end losses not among them."""
    edges = [(0.0, 0.0)] + [(low - material.end_loss, high + material.end_loss) for _, (low, high) in plies]
    return [(end, start) for (_, end), (start, _) in pairwise(sorted(edges)) if start > end + SAME]


def _flawed(flaws: Sequence[Flaw], low: float, high: float, width: float) -> float:
    """Area that flaws cover of a stretch, mm2; where they overlap it counts once."""
    inside = [
        (max(low, flaw.x0), min(high, flaw.x1), flaw.y0, width if flaw.y1 is None else min(width, flaw.y1))
        for flaw in flaws
        if flaw.x0 < high and flaw.x1 > low
    ]
    edges = sorted({x for x0, x1, _, _ in inside for x in (x0, x1)})
    area = 0.0
    for left, right in pairwise(edges):
        top = 0.0
        for y0, y1 in sorted((y0, y1) for x0, x1, y0, y1 in inside if x0 <= left and x1 >= right):
            area += (right - left) * max(0.0, y1 - max(y0, top))
            top = max(top, y1)
    return area
