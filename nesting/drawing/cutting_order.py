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
from dataclasses import dataclass

from nesting.drawing.cuts import piece_order
from nesting.drawing.facts import lays
from nesting.drawing.pieces import PlacedPiece, is_lengths, placed_pieces
from nesting.handout import Handed, Handout
from nesting.model import MaterialPlan, Point, RollMaterial

__all__ = ["LayoutOrder", "Stack", "best_starts", "cutting_orders", "short_path", "stacks_in_order"]

ORIGIN: Point = (0.0, 0.0)
MOST_TRIED = 3_000_000
"""So many changes of a path are looked at in all: enough for hundreds of pieces, and never minutes."""

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
    path = short_path([[_apart(one, other) for other in places] for one in places])
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
        nodes = [[at], *places]
        path = short_path([[_apart(one, other) for other in nodes] for one in nodes])
        ways.append([pieces[node - 1] for node in path[1:]])
    return min(ways, key=lambda way: best_starts(way, at)[1])


def _centre(piece: PlacedPiece) -> Point:
    left, low, right, high = piece.box
    return (left + right) / 2.0, (low + high) / 2.0


def _apart(some: Sequence[Point], others: Sequence[Point]) -> float:
    return min(math.dist(one, other) for one in some for other in others)


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
    reached: list[tuple[float, Point, tuple[int, ...]]] = [(0.0, at, ())]
    for piece in way:
        reached = [
            min(
                (cost + math.dist(place, piece.outline[corner]), piece.outline[corner], (*starts, corner))
                for cost, place, starts in reached
            )
            for corner in _corners(piece)
        ]
    cost, _, starts = min(reached)
    return starts, cost


def short_path(distances: Sequence[Sequence[float]]) -> list[int]:
    """An order of all nodes with a short way, beginning with node 0 and ending anywhere.

    Parameters
    ----------
    distances
        From every node to every node, symmetric.

    Returns
    -------
    list of int
        Nearest neighbour, improved by turning stretches round (2-opt) and by moving single nodes until
        neither helps, or until `MOST_TRIED` changes have been looked at.
    """
    left = set(range(1, len(distances)))
    path = [0]
    while left:
        path.append(min(left, key=lambda node: (distances[path[-1]][node], node)))
        left.remove(path[-1])
    tried = 0
    better = True
    while better and tried < MOST_TRIED:
        better = _turned_round(path, distances) or _moved(path, distances)
        tried += len(path) ** 2
    return path


def _turned_round(path: list[int], distances: Sequence[Sequence[float]]) -> bool:
    """Turn the stretch round that shortens the way most; False if none does."""
    count = len(path)
    best, where = -SHORTER, (0, 0)
    for first in range(1, count - 1):
        before = distances[path[first - 1]]
        for last in range(first + 1, count):
            change = before[path[last]] - before[path[first]]
            if last + 1 < count:
                after = distances[path[last + 1]]
                change += after[path[first]] - after[path[last]]
            if change < best:
                best, where = change, (first, last)
    first, last = where
    path[first : last + 1] = path[first : last + 1][::-1]
    return best < -SHORTER


def _moved(path: list[int], distances: Sequence[Sequence[float]]) -> bool:
    """Move the node elsewhere that shortens the way most; False if none does."""
    count = len(path)

    def joint(one: int, other: int) -> float:
        return distances[path[one]][path[other]] if other < count else 0.0

    best, where = -SHORTER, (0, 0)
    for at in range(1, count):
        gain = joint(at - 1, at) + joint(at, at + 1)
        gain -= joint(at - 1, at + 1)
        for to in range(count):  # between to and to + 1
            if to in (at - 1, at):
                continue
            change = joint(to, at) + joint(at, to + 1) - joint(to, to + 1) - gain
            if to + 1 == count:
                change = joint(to, at) - gain
            if change < best:
                best, where = change, (at, to)
    at, to = where
    if best < -SHORTER:
        node = path.pop(at)
        path.insert(to + 1 if to < at else to, node)
        return True
    return False
