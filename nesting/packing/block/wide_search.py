"""The search where blocks are long or slabs have outlines: parts beside whole blocks, pairs beside boxes."""

from __future__ import annotations

from contextlib import suppress

from nesting.packing.block.grid import stocks_of
from nesting.packing.block.lengths import fitted, windows_left
from nesting.packing.block.long import Long, LongMaker, long_of
from nesting.packing.block.makers import Ways
from nesting.packing.block.pairs import Pairing
from nesting.packing.bounds import rounded_cost, stock_bound
from nesting.packing.columns import Cover, Maker
from nesting.packing.covering import Covering
from nesting.packing.grid import Kinds
from nesting.packing.problem import BlockProblem
from nesting.packing.search import Search, Stop

__all__ = ["search_wide"]

PARTS_SHARE = 0.7
"""Share of the budget for choosing parts, where long blocks may run out; the rest is for using them up."""


def search_wide(problem: BlockProblem, kinds: Kinds, search: Search[Cover]) -> None:
    """Search for cheap plans of slabs that each fit some block; plans and bounds go to `search`."""
    pairing = Pairing.of(problem, kinds)
    available = [block.available for block in problem.blocks]
    usable = [stock for stock in stocks_of(problem) if min(stock.extent) > 0 and available[stock.index] != 0]
    if not usable:
        search.offer(0.0, Cover((), pairing.demand), short=int(pairing.demand.sum()))
        return
    ways = pairing.ways(problem)
    makers: list[Maker] = []
    longs: list[Long] = []
    limits = list(available)
    for stock in usable:
        if problem.blocks[stock.index].cut_to is None:
            makers += ways(stock)
            continue
        long = long_of(problem, stock)
        maker = LongMaker(pairing.grid, long, ways)
        if maker.empty:
            continue
        makers.append(maker)
        longs.append(long)
        number = available[stock.index]
        limits[stock.index] = None if number is None else number * (long.room + long.kerf)
    total = float(pairing.volume @ pairing.demand)
    rooms, costs = [stock.volume for stock in usable], [stock.cost for stock in usable]
    if longs:
        # Of a long block a part is bought; the longest has most room for its cost.
        search.prove(min(total / room * cost for room, cost in zip(rooms, costs, strict=True)))
    else:
        search.prove(stock_bound(total, rooms, costs, [available[stock.index] for stock in usable]))
    covering = Covering(
        pairing.demand,
        limits,
        makers,
        areas=pairing.volume,
        round_bound=(lambda bound: bound) if longs else rounded_cost(costs),
        dearest=max(costs),
    )
    if all(available[long.index] is None for long in longs):
        covering.run(search)
        return
    _run_within_lengths(problem, pairing, covering, longs, ways, search)


def _run_within_lengths(
    problem: BlockProblem,
    pairing: Pairing,
    covering: Covering,
    longs: list[Long],
    ways: Ways,
    search: Search[Cover],
) -> None:
    """Where long blocks may run out: parts are put on them, and what finds no place goes into the rests.

    The covering only knows how much length there is in all.
    """

    def offer(plan: Cover) -> None:
        placed = fitted(problem, longs, plan)
        search.offer(placed.cost, placed, short=int(placed.missing.sum()))

    parts = search.child(PARTS_SHARE, pass_on=lambda value, plan: offer(plan))
    with suppress(Stop):
        covering.run(parts)
    search.prove(parts.bound)
    best = search.draft
    if best is None or not best.missing.any() or search.over:
        return
    rest = search.child(1.0, pass_on=lambda value, plan: offer(_joined(best, plan)))
    with suppress(Stop):
        _use_up(problem, pairing, longs, ways, best, rest)


def _joined(plan: Cover, more: Cover) -> Cover:
    return Cover((*plan.chosen, *more.chosen), more.missing)


def _use_up(
    problem: BlockProblem, pairing: Pairing, longs: list[Long], ways: Ways, plan: Cover, search: Search[Cover]
) -> None:
    """Cover what a plan leaves out from what it leaves of the blocks."""
    limits: list[int | None] = [0] * len(problem.blocks)
    makers: list[Maker] = []
    costs = [0.0]
    for stock in stocks_of(problem):
        block = problem.blocks[stock.index]
        if block.cut_to is not None or min(stock.extent) == 0 or block.available == 0:
            continue
        used = sum(times for column, times in plan.chosen if column.maker.stock == stock.index)
        limits[stock.index] = None if block.available is None else block.available - used
        makers += ways(stock)
        costs.append(stock.cost)
    for long, room, count in windows_left(problem, longs, plan):
        maker = LongMaker(pairing.grid, long, ways, len(limits), room)
        limits.append(None if count is None else count * (room + long.kerf))
        if not maker.empty:
            makers.append(maker)
            costs.append(long.price(long.most))
    if not makers:
        return
    Covering(
        plan.missing,
        limits,
        makers,
        areas=pairing.volume,
        round_bound=lambda bound: bound,
        dearest=max(costs),
    ).run(search)
