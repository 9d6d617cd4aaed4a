"""Slabs that may be glued up: all ways to make them, and plans that say which copy is made how.

A *way* makes one copy of a piece: whole, or by one of its recipes. The whole pieces and the parts of all
recipes, equal ones merged, are the kinds that are cut. Once it is chosen how many copies are made in which
way, what is left is a plain demand of these kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nesting.packing.block.grid import stocks_of
from nesting.packing.columns import Column, Cover, covered, without_surplus
from nesting.packing.grid import Floats, Ints, Kinds, too_large
from nesting.packing.problem import BlockProblem, Piece
from nesting.packing.search import Search
from nesting.packing.solution import CutNode, Glued, Layout
from nesting.packing.trees import Corner, Extent, Place

__all__ = ["SORT", "Adapted", "GluePlan", "Noting", "Way", "Ways", "Widened", "has_recipes", "unmakable"]

SORT = 4
"""Joints that are as much trouble as one more recipe: every recipe wants parts to be sorted."""

Cut = tuple[int, Glued | None]
"""What is cut: a piece (its index), and which part of it, if not the whole."""


def has_recipes(problem: BlockProblem) -> bool:
    """Whether some slab may be glued up."""
    return any(piece.recipes for piece in problem.pieces)


def unmakable(problem: BlockProblem) -> Mapping[str, str]:
    """Slabs that can be cut neither whole nor in parts, with the reason in plain words."""
    rooms = [stock.extent for stock in stocks_of(problem)]
    reasons = dict(too_large(problem.pieces, rooms, "block"))
    for piece in problem.pieces:
        fitting = [recipe for recipe in range(len(piece.recipes)) if _fits(piece, recipe, rooms)]
        if fitting:
            reasons.pop(piece.key, None)
        elif not piece.whole:
            reasons[piece.key] = "must be glued up, and of every recipe some part fits no block"
        elif piece.recipes and piece.key in reasons:
            reasons[piece.key] += "; of every way to glue it up some part fits no block either"
    return reasons


def _fits(piece: Piece, recipe: int, rooms: Sequence[tuple[int, ...]]) -> bool:
    parts = [_cut_piece(piece, Glued(recipe, index)) for index in range(len(piece.recipes[recipe].parts))]
    return not too_large(parts, rooms, "block")


def _cut_piece(piece: Piece, part: Glued | None) -> Piece:
    """A whole piece without its recipes, or one of its parts."""
    if part is None:
        return replace(piece, recipes=(), whole=True)
    length, width, thickness = piece.recipes[part.recipe].parts[part.index]
    return Piece.slab(piece.key, length, width, thickness, piece.quantity, piece.turns, piece.standing)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """How one copy of a piece can be made.

    Parameters
    ----------
    piece
        Its index among the pieces of the problem.
    recipe
        Which of its recipes; None: in one piece.
    cost
        Of gluing one copy.
    joints
        To be glued in one copy.
    need
        Copies of each kind that one takes.
    """

    piece: int
    recipe: int | None
    cost: float
    joints: int
    need: Ints


class Ways:
    """All ways to make the pieces of a problem.

    Attributes
    ----------
    pieces, wanted
        The pieces, and copies wanted of each.
    kinds
        What may be cut. Their quantities are the most copies that any choice of ways needs.
    ways
        Those of each piece stand together, in one piece first, then in the order of its recipes.
    need
        Of each way (row), copies of each kind.
    """

    def __init__(self, problem: BlockProblem) -> None:
        self.pieces = problem.pieces
        self.wanted: Ints = np.array([piece.quantity for piece in self.pieces], np.int64)
        chosen = _possible(problem)
        self._cuts: dict[str, Cut] = {}
        made: list[Piece] = []
        held: list[list[str]] = []
        for at, recipe in chosen:
            piece = self.pieces[at]
            count = 1 if recipe is None else len(piece.recipes[recipe].parts)
            names = []
            for index in range(count):
                part = None if recipe is None else Glued(recipe, index)
                names.append(f"{len(self._cuts)}")
                self._cuts[names[-1]] = (at, part)
                made.append(replace(_cut_piece(piece, part), key=names[-1]))
            held.append(names)
        self.kinds = Kinds.of(made)
        kind_of = {p.key: number for number, kind in enumerate(self.kinds) for p, _ in kind.members}
        self.ways: list[Way] = []
        for (at, recipe), names in zip(chosen, held, strict=True):
            need = np.bincount([kind_of[name] for name in names], minlength=len(self.kinds))
            cost = 0.0 if recipe is None else self.pieces[at].recipes[recipe].cost
            self.ways.append(Way(at, recipe, cost, len(names) - 1, need.astype(np.int64)))
        self.need: Ints = np.array([way.need for way in self.ways], np.int64)
        self._way_of = {name: at for at, names in enumerate(held) for name in names}

    def of_piece(self, piece: int) -> list[int]:
        """The ways of one piece."""
        return [at for at, way in enumerate(self.ways) if way.piece == piece]

    def simplest(self) -> Ints:
        """Copies made in each way with the fewest joints, and of these the cheapest."""
        copies = np.zeros(len(self.ways), np.int64)
        for piece, wanted in enumerate(self.wanted.tolist()):
            best = min(self.of_piece(piece), key=lambda at: (self.ways[at].joints, self.ways[at].cost))
            copies[best] = wanted
        return copies

    def rounded(self, shares: Floats) -> Ints:
        """Whole copies near shares of copies that add up to what is wanted of each piece."""
        copies = np.floor(shares + 1e-6).astype(np.int64)
        for piece, wanted in enumerate(self.wanted.tolist()):
            ways = self.of_piece(piece)
            # Shares may add up to more than is wanted; fewer joints are better then.
            over = int(copies[ways].sum()) - wanted
            for at in sorted(ways, key=lambda at: -self.ways[at].joints):
                off = min(max(over, 0), int(copies[at]))
                copies[at] -= off
                over -= off
            for at in sorted(ways, key=lambda at: float(copies[at] - shares[at]))[: max(0, -over)]:
                copies[at] += 1
                over += 1
            copies[ways[0]] -= min(over, 0)
        return copies

    def demand(self, copies: Ints) -> Kinds:
        """The kinds, with what these copies need of each."""
        kinds = []
        for kind in self.kinds:
            members = tuple(
                (replace(piece, quantity=int(copies[self._way_of[piece.key]])), poses)
                for piece, poses in kind.members
                if copies[self._way_of[piece.key]]
            )
            quantity = sum(piece.quantity for piece, _ in members)
            # A kind that nobody needs keeps its members: they tell what it is.
            kinds.append(replace(kind, quantity=quantity, members=members or kind.members))
        return Kinds(kinds)

    def cost(self, copies: Ints) -> float:
        """Of gluing these copies."""
        return float(sum(way.cost * n for way, n in zip(self.ways, copies.tolist(), strict=True)))

    def trouble(self, copies: Ints) -> int:
        """Work and muddle of these copies: the joints, and `SORT` for each recipe that is used."""
        return sum(
            way.joints * n + (SORT if n and way.joints else 0)
            for way, n in zip(self.ways, copies.tolist(), strict=True)
        )

    def cheapest(self, values: Floats) -> Floats:
        """For each piece, the least cost of a copy when a copy of each kind costs so much."""
        costs = np.array([way.cost for way in self.ways]) + self.need @ values
        return np.array([costs[self.of_piece(piece)].min() for piece in range(len(self.pieces))])

    def renamed(self, layouts: Sequence[Layout]) -> list[Layout]:
        """Layouts of the kinds as layouts of the pieces and their parts."""

        def name(key: str) -> tuple[str, Glued | None]:
            piece, part = self._cuts[key]
            return self.pieces[piece].key, part

        return [
            replace(
                layout,
                placements=tuple(
                    replace(placement, key=name(placement.key)[0], part=name(placement.key)[1])
                    for placement in layout.placements
                ),
            )
            for layout in layouts
        ]


def _possible(problem: BlockProblem) -> list[tuple[int, int | None]]:
    """Every piece with every recipe (None: whole) of which all parts fit some block."""
    rooms = [stock.extent for stock in stocks_of(problem)]
    found: list[tuple[int, int | None]] = []
    for at, piece in enumerate(problem.pieces):
        if piece.whole and not too_large([piece], rooms, "block"):
            found.append((at, None))
        found += [(at, recipe) for recipe in range(len(piece.recipes)) if _fits(piece, recipe, rooms)]
    return found


class Adapted:
    """Patterns for some of the kinds as patterns for all kinds.

    Parameters
    ----------
    maker
        Makes patterns for some kinds.
    kinds, boxes
        The number, among all, of each kind and each box that the maker knows.
    count
        How many kinds there are in all.
    """

    def __init__(self, maker: Any, kinds: Ints, boxes: Ints, count: int) -> None:
        self.stock: int = maker.stock
        self._maker, self._kinds, self._boxes, self._count = maker, kinds, boxes, count

    def column(self, column: Column) -> Column:
        """A pattern of the maker as one of all kinds."""
        counts = np.zeros(self._count, np.int64)
        counts[self._kinds] = column.counts
        return Column(self, column.cost, counts, column.body)  # type: ignore[arg-type]

    def trim(self, column: Column, counts: Ints) -> Column:
        """The column with only the given counts."""
        own = Column(self._maker, column.cost, column.counts[self._kinds], column.body)
        return self.column(self._maker.trim(own, counts[self._kinds]))

    def tree(self, body: Any, place: Place) -> CutNode:
        """The cut tree, its boxes numbered among all."""

        def numbered(box: int, corner: Corner, extent: Extent) -> CutNode:
            return place(int(self._boxes[box]), corner, extent)

        tree: CutNode = self._maker.tree(body, numbered)
        return tree


class Noting:
    """A maker that notes what it makes, so that other searches may begin with it."""

    def __init__(self, maker: Any, seen: list[Column]) -> None:
        self._maker, self._seen = maker, seen

    def __getattr__(self, name: str) -> Any:
        return getattr(self._maker, name)

    def price(self, values: Floats, search: Search[Any]) -> list[Column]:
        """Patterns that are valuable for their cost when copies are free."""
        made: list[Column] = self._maker.price(values, search)
        self._seen += made
        return made


class Widened:
    """Plans for the kinds that a choice of ways needs, as plans for all kinds."""

    def __init__(self, demand: Kinds) -> None:
        starts = np.cumsum([0, *(len(kind.boxes) for kind in demand)])
        self._kinds: Ints = np.flatnonzero(demand.quantities)
        self._boxes: Ints = np.concatenate([np.arange(starts[k], starts[k + 1]) for k in self._kinds])
        self._count = len(demand)
        self._adapted: dict[int, Adapted] = {}
        self.needed = Kinds(demand[kind] for kind in self._kinds.tolist())

    def cover(self, cover: Cover) -> Cover:
        """A plan for the kinds needed as one for all kinds."""
        missing = np.zeros(self._count, np.int64)
        missing[self._kinds] = cover.missing
        return Cover(tuple((self.column(column), times) for column, times in cover.chosen), missing)

    def column(self, column: Column) -> Column:
        """A pattern for the kinds needed as one for all kinds."""
        made = self._adapted.get(id(column.maker))
        if made is None:
            made = Adapted(column.maker, self._kinds, self._boxes, self._count)
            self._adapted[id(column.maker)] = made
        return made.column(column)


@dataclass(frozen=True, slots=True, eq=False)
class GluePlan:
    """A plan that says how many copies are made in which way.

    Parameters
    ----------
    ways, copies
        The ways, and copies made in each.
    cover
        The blocks: they hold exactly what these copies need.
    """

    ways: Ways
    copies: Ints
    cover: Cover

    @classmethod
    def of(cls, ways: Ways, copies: Ints, cover: Cover, areas: Floats) -> GluePlan:
        """Leave out copies of which a part is missing, and the other parts of these."""
        copies = copies.copy()
        held = covered(cover.chosen, areas.size)
        while (lack := np.maximum(copies @ ways.need - held, 0)).any():
            helped = np.minimum(ways.need, lack).sum(axis=1) * (copies > 0)
            way = int(helped.argmax())
            both = (ways.need[way] > 0) & (lack > 0)
            fewest = int((lack[both] // ways.need[way][both]).min())
            copies[way] -= max(1, min(fewest, int(copies[way])))
        chosen = without_surplus(cover.chosen, copies @ ways.need, areas)
        return cls(ways, copies, Cover(tuple(chosen), np.zeros_like(cover.missing)))

    @property
    def missing(self) -> Ints:
        """Copies of each piece that are left out."""
        left = self.ways.wanted.copy()
        for way, copies in zip(self.ways.ways, self.copies.tolist(), strict=True):
            left[way.piece] -= copies
        return left

    @property
    def short(self) -> int:
        """Copies left out in all."""
        return int(self.missing.sum())

    @property
    def cost(self) -> float:
        """Of blocks and gluing."""
        return self.cover.cost + self.ways.cost(self.copies)

    @property
    def trouble(self) -> int:
        """Of plans of one cost the one with least is best; see `Ways.trouble`."""
        return self.ways.trouble(self.copies)

    def left_over(self) -> dict[str, int]:
        """Copies left out, by key."""
        return {
            piece.key: count
            for piece, count in zip(self.ways.pieces, self.missing.tolist(), strict=True)
            if count
        }

    def layouts(self, write: Callable[[Kinds, Cover], list[Layout]]) -> list[Layout]:
        """The blocks with their placements; `write` does so for plain kinds."""
        return self.ways.renamed(write(self.ways.demand(self.copies), self.cover))
