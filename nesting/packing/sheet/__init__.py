"""Sheets: staged patterns (and skyline fills where cuts are free) chosen by column generation.

The one entry is `search_sheets`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from nesting.packing import kernels
from nesting.packing.bounds import rounded_cost, sheet_count_bound, stock_bound
from nesting.packing.columns import Column, Cover, Covering, Floats
from nesting.packing.grid import Ints, Kinds, Ledger
from nesting.packing.guillotine import Pattern, Region
from nesting.packing.problem import GRID, Sheet, SheetProblem, grid_down, grid_up
from nesting.packing.search import Search
from nesting.packing.solution import Axis, Layout
from nesting.packing.trees import piece_in, sections_tree

__all__ = ["layouts", "misfits", "search_sheets"]

FREE_TRIES = 60
"""Orders tried for one skyline fill of a sheet."""


@dataclass(frozen=True, slots=True)
class Staged:
    """A staged pattern whose first cuts are set out along `first`."""

    first: Axis
    pattern: Pattern


@dataclass(frozen=True, slots=True)
class Free:
    """Pieces placed freely: kind, box within the kind, x, y from the usable corner."""

    spots: tuple[tuple[int, int, int, int], ...]


class Stock:
    """One sheet size on the grid, with the regions that staged patterns are made in."""

    def __init__(self, problem: SheetProblem, sheet: Sheet, grid: SheetGrid) -> None:
        rims = problem.rims
        self.cost = sheet.cost
        self.corner = (grid_up(rims.x0), grid_up(rims.y0), 0)
        self.length = max(0, grid_down(sheet.length - rims.x1) - self.corner[0])
        self.width = max(0, grid_down(sheet.width - rims.y1) - self.corner[1])
        stages = 2 if problem.stages == 2 else 3
        self.regions: dict[Axis, Region] = {
            "x": Region(self.length, self.width, grid.dx, grid.dy, grid.owner, grid.kerf, stages)
        }
        if problem.stages not in (2, 3):
            # Without a limit on stages the first cut may as well go the other way.
            self.regions["y"] = Region(self.width, self.length, grid.dy, grid.dx, grid.owner, grid.kerf, 3)

    def patterns(
        self, values: Floats, limits: Ints, search: Search[Cover]
    ) -> Iterator[tuple[Axis, Pattern, Ints]]:
        """A valuable pattern for each direction of the first cut, with its counts."""
        for first, region in self.regions.items():
            if not region.empty:
                search.spend(region.work)
                pattern, counts, _ = region.pattern(values, limits)
                yield first, pattern, counts


class SheetGrid:
    """A sheet problem on the grid."""

    def __init__(self, problem: SheetProblem, kinds: Kinds) -> None:
        self.kinds = kinds
        self.kerf = grid_up(problem.kerf)
        self.start, self.dx, self.dy = kinds.flat()
        self.owner = np.repeat(np.arange(len(kinds)), np.diff(self.start))
        self.area = np.array([kind.area for kind in kinds], np.int64)
        self.demand = kinds.quantities
        self.stocks = [Stock(problem, sheet, self) for sheet in problem.sheets]


def misfits(problem: SheetProblem) -> Mapping[str, str]:
    """Pieces that fit no sheet in any allowed turn, with the reason in plain words."""
    rims = problem.rims
    rooms = [(sheet.length - rims.x0 - rims.x1, sheet.width - rims.y0 - rims.y1) for sheet in problem.sheets]
    reasons = {}
    for piece in problem.pieces:
        boxes = [piece.box(turn) for turn in piece.turns]
        slack = GRID / 1e3
        if not any(
            length <= room_x + slack and width <= room_y + slack
            for length, width in boxes
            for room_x, room_y in rooms
        ):
            largest = max(rooms, key=lambda room: room[0] * room[1])
            reasons[piece.key] = (
                f"measures {piece.length:.1f} x {piece.width:.1f} mm and fits no sheet in an allowed turn; "
                f"the largest usable sheet is {largest[0]:.1f} x {largest[1]:.1f} mm"
            )
    return reasons


def search_sheets(problem: SheetProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of pieces that each fit some sheet; plans and bounds go to `search`."""
    grid = SheetGrid(problem, kinds)
    stocks = grid.stocks
    costs = [stock.cost for stock in stocks]
    available = [sheet.available for sheet in problem.sheets]
    rooms = [float(stock.length * stock.width) for stock in stocks]
    usable = [s for s, room in enumerate(rooms) if room > 0 and available[s] != 0]
    search.prove(
        stock_bound(
            float(grid.area @ grid.demand),
            [rooms[s] for s in usable],
            [costs[s] for s in usable],
            [available[s] for s in usable],
        )
    )
    solid = np.where([kind.solid for kind in kinds], grid.demand, 0)
    search.prove(
        sheet_count_bound(
            grid.start,
            grid.dx + grid.kerf,
            grid.dy + grid.kerf,
            solid,
            max(stock.length for stock in stocks) + grid.kerf,
            max(stock.width for stock in stocks) + grid.kerf,
        )
        * min(costs)
    )
    # Only a bound over all patterns that are allowed is a proof.
    whole_family = problem.stages in (2, 3)
    plenty = np.full(grid.demand.size, max(max(s.length, s.width) for s in stocks) + 1, np.int64)

    def price(duals: Floats) -> list[Column]:
        return [
            Column(index, stock.cost, counts, Staged(first, pattern))
            for index, stock in enumerate(stocks)
            for first, pattern, counts in stock.patterns(duals, plenty, search)
        ]

    def ratio(duals: Floats, stock_duals: Floats) -> float | None:
        if not whole_family:
            return None
        return max(
            region.best_value(duals) / (stocks[index].cost - stock_duals[index])
            for index in usable
            for region in stocks[index].regions.values()
        )

    def fill(values: Floats, left: Ints, index: int) -> Column | None:
        stock = stocks[index]
        made = [
            Column(index, stock.cost, counts, Staged(first, pattern))
            for first, pattern, counts in stock.patterns(values, left, search)
        ]
        if problem.stages is None:
            made.append(_free_fill(grid, index, values, left, search))
        made = [column for column in made if column.counts.any()]
        return max(made, key=lambda column: float(values @ column.counts)) if made else None

    def trim(column: Column, counts: Ints) -> Column:
        body = column.body
        if isinstance(body, Staged):
            region = stocks[column.stock].regions[body.first]
            return Column(
                column.stock, column.cost, counts, Staged(body.first, region.only_of(body.pattern, counts))
            )
        left = counts.copy()
        kept = []
        for spot in body.spots:
            if left[spot[0]] > 0:
                left[spot[0]] -= 1
                kept.append(spot)
        return Column(column.stock, column.cost, counts, Free(tuple(kept)))

    Covering(
        grid.demand,
        available,
        price,
        ratio,
        fill,
        trim=trim,
        areas=grid.area.astype(np.float64),
        round_bound=rounded_cost(costs),
    ).run(search)


def _free_fill(grid: SheetGrid, index: int, values: Floats, left: Ints, search: Search[Cover]) -> Column:
    """Fill a sheet by skyline search for the most value."""
    stock = grid.stocks[index]
    kinds = np.flatnonzero(left)
    # No sheet holds more copies of a kind than its area allows, and the rest only slows the search.
    most = np.minimum(left, stock.length * stock.width // grid.area + 1)[kinds]
    order = np.argsort(-values[kinds], kind="stable").astype(np.int64)
    worth = np.maximum((values * 1e6 / values.max()).astype(np.int64), 1)
    out = np.empty((4, int(most.sum())), np.int64)
    placed, _, _, work = kernels.search_order(
        stock.width + grid.kerf,
        stock.length + grid.kerf,
        int((worth[kinds] * most).sum()),
        FREE_TRIES,
        order,
        kinds,
        most,
        grid.start,
        grid.dx + grid.kerf,
        grid.dy + grid.kerf,
        worth,
        search.random,
        out,
    )
    search.spend(work)
    spots = tuple((int(k), int(b - grid.start[k]), int(x), int(y)) for k, b, x, y in out[:, :placed].T)
    counts = np.bincount([kind for kind, *_ in spots], minlength=left.size).astype(np.int64)
    return Column(index, stock.cost, counts, Free(spots))


def layouts(problem: SheetProblem, kinds: Kinds, draft: Cover) -> tuple[list[Layout], Ledger]:
    """Write a draft out as sheets with placements in mm."""
    grid = SheetGrid(problem, kinds)
    ledger = Ledger(kinds)
    made = []
    for column, repeats in draft.chosen:
        sheet, stock = problem.sheets[column.stock], grid.stocks[column.stock]
        spots: list[tuple[int, int, int, int, int]] = []
        cuts = None
        if isinstance(column.body, Free):
            left, low, _ = stock.corner
            spots = [(kind, box, x + left, y + low, 0) for kind, box, x, y in column.body.spots]
        else:
            first = column.body.first
            along, across = (grid.dx, grid.dy) if first == "x" else (grid.dy, grid.dx)

            def place(box: int, corner, extent):  # type: ignore[no-untyped-def]
                kind = int(grid.owner[box])
                spots.append((kind, box - int(grid.start[kind]), corner[0], corner[1], 0))
                size = (int(grid.dx[box]), int(grid.dy[box]), 0)
                return piece_in(corner, extent, size, len(spots) - 1, grid.kerf)

            cuts = sections_tree(
                stock.corner,
                (stock.length, stock.width, 0),
                column.body.pattern.sections,
                along,
                across,
                grid.kerf,
                place,
                first=first,
            )
        for placements, times in ledger.assign(spots, repeats):
            made.append(
                Layout(sheet.key, placements, sheet.length, times, None if problem.stages is None else cuts)
            )
    return made, ledger
