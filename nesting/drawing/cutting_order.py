"""In which order the pieces of a layout are cut, where the knife begins each of them, and whom they are for.

A layout with a tree of cuts is cut as the tree says. With a free knife the pieces of one bed (order, then
model and size) are cut one after another, and the way of the knife from bed to bed and from piece to piece is
made short: nearest neighbour first, then 2-opt and moves of single pieces (Croes 1958, Operations Research
6(6): 791-812, from memory), at last the best corner of every piece to begin at, by dynamic programming.
Pieces that are alike are interchangeable, so it is settled here as well which of them go to which bed.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from nesting.drawing.cuts import piece_order
from nesting.drawing.facts import lays
from nesting.drawing.pieces import PlacedPiece, is_lengths, placed_pieces
from nesting.handout import Handed, Handout
from nesting.model import MaterialPlan, Point, RollMaterial

__all__ = [
    "LayoutOrder",
    "Stack",
    "best_starts",
    "cutting_orders",
    "numbered",
    "short_path",
    "stacks_in_order",
]

Distances: TypeAlias = NDArray[np.float64]

ORIGIN: Point = (0.0, 0.0)
MOST_SWEEPS = 40
"""So often a path is gone through for changes that shorten it: few paths need more than ten."""

MOST_NEXT = 12
"""Among so many beds, those due first, the next one to be cut is chosen."""

SHORTER = 1e-6  # mm; what counts as an improvement


@dataclass(frozen=True, slots=True)
class LayoutOrder:
    """The cutting order of one layout.

    Parameters
    ----------
    pieces
        Indices of the layout's placements, as they are cut.
    starts
        For each of them, the corner of its outline at which the knife goes in and comes out.
    handing
        The same indices in the order in which pieces are given to orders, earliest due first.
    travel
        Way of the knife from the corner of the layout to the first piece and from piece to piece, mm.
    """

    pieces: tuple[int, ...]
    starts: tuple[int, ...]
    handing: tuple[int, ...]
    travel: float


@dataclass(frozen=True, slots=True)
class Stack:
    """The pieces that one cut of one lay yields: as many as it has plies.

    Parameters
    ----------
    layout, lay
        Number of the layout and of the lay (sheet, block, bar) among its repeats, from 1.
    sequence
        Place in the cutting order of the layout, from 1.
    index
        Index of the placement.
    plies
        How many pieces.
    handed
        Whom they are for.
    """

    layout: int
    lay: int
    sequence: int
    index: int
    plies: int
    handed: tuple[Handed, ...]


def cutting_orders(material_plan: MaterialPlan) -> tuple[LayoutOrder, ...]:
    """The cutting order of every layout of a material.

    One order serves all lays of a layout; where they are for different beds, the first lay decides.

    Raises
    ------
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    handout = Handout(material_plan.demands)
    found = []
    for index, layout in enumerate(material_plan.layouts):
        pieces = placed_pieces(material_plan, index)
        sizes = _lay_sizes(material_plan, layout.repeats)
        if layout.cuts is None and material_plan.material.kind != "block" and not is_lengths(material_plan):
            order, handing = _free_order(pieces, handout, sizes[0] if sizes else 1)
        else:
            order = handing = tuple(piece_order(layout))
        starts, travel = best_starts([pieces[place] for place in order], ORIGIN)
        found.append(LayoutOrder(order, starts, handing, travel))
        for plies in sizes:
            for piece in pieces:
                handout.hand(piece.demand.key, plies)
    return tuple(found)


def stacks_in_order(material_plan: MaterialPlan, orders: Sequence[LayoutOrder]) -> Iterator[Stack]:
    """All pieces of a material as they are cut: layout by layout, lay by lay, piece by piece."""
    handout = Handout(material_plan.demands)
    for number, (layout, order) in enumerate(zip(material_plan.layouts, orders, strict=True), start=1):
        for lay, plies in enumerate(_lay_sizes(material_plan, layout.repeats), start=1):
            handed = {place: handout.hand(layout.placements[place].key, plies) for place in order.handing}
            for sequence, place in enumerate(order.pieces, start=1):
                yield Stack(number, lay, sequence, place, plies, handed[place])


def numbered(pieces: Sequence[PlacedPiece], order: LayoutOrder) -> tuple[PlacedPiece, ...]:
    """The pieces of a layout, each with its place in the cutting order, for labels to tell."""
    cuts = {place: number for number, place in enumerate(order.pieces, start=1)}
    return tuple(replace(piece, cut=cuts[piece.index]) for piece in pieces)


def _lay_sizes(material_plan: MaterialPlan, repeats: int) -> tuple[int, ...]:
    """Plies of each lay; sheets, blocks and bars are cut one by one."""
    material = material_plan.material
    spread = isinstance(material, RollMaterial) and not is_lengths(material_plan)
    return lays(repeats, material.ply_limit if spread and isinstance(material, RollMaterial) else 1)


def _free_order(
    pieces: Sequence[PlacedPiece], handout: Handout, plies: int
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Placement indices bed by bed, with a short way from bed to bed and within each; then as beds are due.

    Which of the pieces that are alike goes to which bed is free: two ways of giving them out are tried.
    """
    best: tuple[float, tuple[int, ...], tuple[int, ...]] | None = None
    for share in (_along, _nearest):
        groups = share(pieces, handout, plies)
        way = _bed_by_bed(groups)
        travel = best_starts(way, ORIGIN)[1]
        if best is None or travel < best[0]:
            order = tuple(piece.index for piece in way)
            best = travel, order, tuple(piece.index for group in groups for piece in group)
    assert best is not None
    return best[1], best[2]


def _bed_by_bed(groups: Sequence[Sequence[PlacedPiece]]) -> list[PlacedPiece]:
    """All pieces, those of a group one after another."""
    places = [[ORIGIN], *([piece.outline[i] for piece in group for i in _corners(piece)] for group in groups)]
    path = short_path(_apart(places))
    at = ORIGIN
    done: list[PlacedPiece] = []
    for node in path[1:]:
        way = _short_way(groups[node - 1], at)
        done += way
        at = way[-1].outline[best_starts(way, at)[0][-1]]
    return done


def _wanted(pieces: Sequence[PlacedPiece], handout: Handout, plies: int) -> list[list[str]]:
    """For each bed (due day, order, model and size), as they are due, the demands it gets pieces of."""
    beds: dict[tuple[bool, str, str, str, str], list[str]] = {}
    counts = Counter(piece.demand.key for piece in pieces)
    demands = {piece.demand.key: piece.demand for piece in pieces}
    for key, count in counts.items():
        handed = [part for part in handout.ahead(key, plies * count) for _ in range(part.count)]
        for first in handed[::plies]:
            nobody = not first.due  # extra pieces come last
            bed = (nobody, first.due, first.order, demands[key].model, demands[key].size)
            beds.setdefault(bed, []).append(key)
    return [beds[bed] for bed in sorted(beds)]


def _along(pieces: Sequence[PlacedPiece], handout: Handout, plies: int) -> list[list[PlacedPiece]]:
    """Pieces of each bed, as beds are due: those alike are given out from the start of the marker on."""
    alike: dict[str, list[PlacedPiece]] = {}
    for piece in sorted(pieces, key=lambda piece: (-piece.placement.x, -piece.placement.y, piece.index)):
        alike.setdefault(piece.demand.key, []).append(piece)
    return [[alike[key].pop() for key in keys] for keys in _wanted(pieces, handout, plies)]


def _nearest(pieces: Sequence[PlacedPiece], handout: Handout, plies: int) -> list[list[PlacedPiece]]:
    """Pieces of each bed, as beds are due: the bed nearest to be had is next to take the nearest pieces."""
    centres = {piece.index: _centre(piece) for piece in pieces}
    left: dict[str, list[PlacedPiece]] = {}
    for piece in pieces:
        left.setdefault(piece.demand.key, []).append(piece)

    def gathered(keys: Sequence[str], at: Point) -> tuple[float, list[PlacedPiece]]:
        way, taken, wanted = 0.0, [], Counter(keys)
        used: set[int] = set()
        while wanted:
            near = min(
                (piece for key in wanted for piece in left[key] if piece.index not in used),
                key=lambda piece: (math.dist(at, centres[piece.index]), piece.index),
            )
            way += math.dist(at, centres[near.index])
            at = centres[near.index]
            taken.append(near)
            used.add(near.index)
            wanted -= Counter([near.demand.key])
        return way, taken

    beds = _wanted(pieces, handout, plies)
    groups: list[list[PlacedPiece]] = [[] for _ in beds]
    waiting = list(range(len(beds)))
    at = ORIGIN
    while waiting:
        tries = [(*gathered(beds[bed], at), bed) for bed in waiting[:MOST_NEXT]]
        _, group, bed = min(tries, key=lambda found: (found[0] / len(found[1]), found[2]))
        waiting.remove(bed)
        groups[bed] = group
        for piece in group:
            left[piece.demand.key].remove(piece)
        at = centres[group[-1].index]
    return groups


def _short_way(pieces: Sequence[PlacedPiece], at: Point) -> list[PlacedPiece]:
    """The pieces of one bed in an order with a short way from `at` on.

    The corners at which the knife begins are not settled yet, so two guesses of the distance between
    pieces are tried: of their middles, and of their nearest corners.
    """
    corners = [[piece.outline[i] for i in _corners(piece)] for piece in pieces]
    middles = [[_centre(piece)] for piece in pieces]
    ways = []
    for places in (corners, middles):
        path = short_path(_apart([[at], *places]))
        ways.append([pieces[node - 1] for node in path[1:]])
    return min(ways, key=lambda way: best_starts(way, at)[1])


def _centre(piece: PlacedPiece) -> Point:
    left, low, right, high = piece.box
    return (left + right) / 2.0, (low + high) / 2.0


def _apart(places: Sequence[Sequence[Point]]) -> Distances:
    """Least distance of any point of one group of points from any point of another, for all pairs."""
    points = np.array([point for group in places for point in group])
    firsts = np.cumsum([0, *(len(group) for group in places[:-1])])
    rows = []
    for first, group in zip(firsts, places, strict=True):
        own = points[first : first + len(group)]
        away = np.hypot(*(own[:, None, :] - points[None, :, :]).transpose(2, 0, 1)).min(axis=0)
        rows.append(np.minimum.reduceat(away, firsts))
    return np.array(rows)


def _corners(piece: PlacedPiece) -> tuple[int, ...]:
    """Indices of the points of the outline that are nearest to the corners of its box."""
    left, low, right, high = piece.box
    outline = piece.outline

    def nearest(x: float, y: float) -> int:
        return min(range(len(outline)), key=lambda i: math.dist(outline[i], (x, y)))

    return tuple(
        dict.fromkeys((nearest(left, low), nearest(right, low), nearest(right, high), nearest(left, high)))
    )


def best_starts(way: Sequence[PlacedPiece], at: Point) -> tuple[tuple[int, ...], float]:
    """At which corner of each piece the knife begins for the shortest way from `at` on, and that way, mm.

    Outlines are closed, so the knife leaves a piece where it began. Dynamic programming over the corners,
    piece by piece, settles it for the given order.
    """
    if not way:
        return (), 0.0
    reached: list[tuple[float, Point]] = [(0.0, at)]
    steps: list[
        list[tuple[int, int]]
    ] = []  # for each piece and corner: the corner, and which one came before
    for piece in way:
        following, step = [], []
        for corner in _corners(piece):
            place = piece.outline[corner]
            ways = [cost + math.dist(before, place) for cost, before in reached]
            best = min(range(len(ways)), key=ways.__getitem__)
            following.append((ways[best], place))
            step.append((corner, best))
        reached = following
        steps.append(step)
    last = min(range(len(reached)), key=lambda i: reached[i][0])
    travel = reached[last][0]
    starts = []
    for step in reversed(steps):
        corner, last = step[last]
        starts.append(corner)
    return tuple(reversed(starts)), travel


def short_path(distances: Distances | Sequence[Sequence[float]]) -> list[int]:
    """An order of all nodes with a short way, beginning with node 0 and ending anywhere.

    Parameters
    ----------
    distances
        From every node to every node, symmetric.

    Returns
    -------
    list of int
        Nearest neighbour, improved by turning stretches round (2-opt) and by moving single nodes until
        neither helps, or `MOST_SWEEPS` times.
    """
    apart = np.asarray(distances, dtype=np.float64)
    count = len(apart)
    path = np.zeros(count, dtype=np.int64)
    waiting = np.ones(count, dtype=bool)
    waiting[0] = False
    for place in range(1, count):
        away = np.where(waiting, apart[path[place - 1]], np.inf)
        path[place] = np.argmin(away)
        waiting[path[place]] = False
    for _ in range(MOST_SWEEPS):
        turned = _turned_round(path, apart)
        if not (_moved(path, apart) or turned):
            break
    return [int(node) for node in path]


def _turned_round(path: NDArray[np.int64], apart: Distances) -> bool:
    """For each place of a path, turn the stretch from there round that shortens the way most, if any."""
    better = False
    for first in range(1, len(path) - 1):
        start, lasts = path[first], path[first + 1 :]
        before = apart[path[first - 1]]
        change = before[lasts] - before[start]
        change[:-1] += apart[start, lasts[1:]] - apart[lasts[:-1], lasts[1:]]
        best = int(np.argmin(change))
        if change[best] < -SHORTER:
            last = first + 1 + best
            path[first : last + 1] = path[first : last + 1][::-1].copy()
            better = True
    return better


def _moved(path: NDArray[np.int64], apart: Distances) -> bool:
    """For each node of a path, move it to where that shortens the way most, if anywhere."""
    better = False
    for at in range(1, len(path)):
        node, rest = path[at], np.delete(path, at)
        cost = np.append(
            apart[rest[:-1], node] + apart[node, rest[1:]] - apart[rest[:-1], rest[1:]],
            apart[rest[-1], node],
        )
        best = int(np.argmin(cost))
        if cost[best] < cost[at - 1] - SHORTER:  # where it was taken from is one of the places
            path[:] = np.insert(rest, best + 1, node)
            better = True
    return better
