"""The search for the cheapest bars where pieces may be joined."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from nesting.packing.kernels import next_random
from nesting.packing.linear.join_exact import settle_joined
from nesting.packing.linear.join_relax import relax_joined
from nesting.packing.linear.joined import Cut, JoinPlan, JoinTask, Rest, pour
from nesting.packing.linear.pack import pack_bars
from nesting.packing.search import Search

__all__ = ["search_joined"]

SHARE_NOISE = 1e-6
"""Float noise of how often the relaxation uses a bar."""

PLAIN_SHARE = 0.4
"""Share of the budget for plans without joins."""

BLOCK = 400
"""Bars that are planned one by one; of larger orders a part of that size is planned and repeated."""

BLOCK_SHARE = 0.6
"""Share of the budget for the part that is repeated."""

SHAKES = 100
"""Most pours into bars in random order."""

POUR_STEPS = 6_000
"""Elementary steps reckoned for filling one bar by pouring."""


def search_joined(task: JoinTask, search: Search[JoinPlan]) -> JoinPlan:
    """Search for the cheapest bars; plans and bounds go to `search`.

    A large order is divided: a part is planned, repeated as often as it goes, and the rest is planned.

    Parameters
    ----------
    task
        Bars and pieces; every piece can be made from the longest bar.
    search
        Takes drafts, whose value is their cost, and bounds.

    Returns
    -------
    JoinPlan
        The best plan.
    """
    times = task.material // (task.longest * BLOCK) if task.longest else 0
    if times < 2 or not any(want.quantity >= times for want in task.wants):
        return _search_block(task, search)
    # The quick plan first, so that there is one when the search is interrupted.
    for budget in (Search[JoinPlan](effort_limit=0), search):
        plan = _in_blocks(task, times, budget)
        search.offer(plan.cost, plan, sum(plan.short))
        if search.used_up:
            break
        if not any(plan.short):
            search.prove(relax_joined(task, search).bound)
    return plan


def _in_blocks(task: JoinTask, times: int, search: Search[Any]) -> JoinPlan:
    """A plan for a part of the order, so many times over, and one for the rest."""
    quantities = [want.quantity for want in task.wants]
    part = _with(
        task,
        [quantity // times for quantity in quantities],
        [None if bar.available is None else bar.available // times for bar in task.bars],
    )
    repeated = _search_block(part, search.child(BLOCK_SHARE))
    bars = Counter({bar: count * times for bar, count in repeated.bars.items()})
    used = Counter[int]()
    for (k, _), count in bars.items():
        used[k] += count
    rest = _with(
        task,
        [
            quantity - times * (there.quantity - short)
            for quantity, there, short in zip(quantities, part.wants, repeated.short, strict=True)
        ],
        [None if bar.available is None else bar.available - used[k] for k, bar in enumerate(task.bars)],
    )
    last = (search_joined if repeated.bars else _search_block)(rest, search.child())
    return JoinPlan(bars + last.bars, last.short, times * repeated.cost + last.cost)


def _with(task: JoinTask, quantities: Sequence[int], available: Sequence[int | None]) -> JoinTask:
    """The same bars and pieces in other numbers."""
    return JoinTask(
        tuple(replace(bar, available=count) for bar, count in zip(task.bars, available, strict=True)),
        tuple(replace(want, quantity=count) for want, count in zip(task.wants, quantities, strict=True)),
        task.kerf,
    )


def _search_block(task: JoinTask, search: Search[JoinPlan]) -> JoinPlan:
    """Pour, in several ways, and settle what is small.

    Everything is poured, and joinable pieces are poured into what bars with the other pieces leave: as
    the relaxation has them, and as they are packed best by themselves. Of plans that cost the same the
    one with fewer seams is taken, so a plan without joins is made too, and one where its emptiest bars
    are spread over the others. Then bars are filled in random order. Where bars and copies are few, a
    model of them all settles the rest.
    """
    quantities = [want.quantity for want in task.wants]
    plain = [0 if want.joins else want.quantity for want in task.wants]
    whole = [q if want.length <= task.longest else 0 for q, want in zip(quantities, task.wants, strict=True)]
    best = pour(task, [], quantities)
    search.offer(best.cost, best, sum(best.short))

    def offer(plan: JoinPlan) -> None:
        nonlocal best
        if plan.rank < best.rank:
            best = plan
            if not search.offer(plan.cost, plan, sum(plan.short)):
                # It is as cheap and has fewer seams, which the search does not know of.
                search.draft = plan

    starts: list[tuple[Sequence[Rest], Sequence[int]]] = []

    def poured(rests: Sequence[Rest], left: Sequence[int]) -> None:
        if not search.used_up:
            plan = pour(task, rests, left)
            search.spend(POUR_STEPS * sum(plan.bars.values()))
            offer(plan)

    def both(rests: Sequence[Rest], left: Sequence[int]) -> None:
        starts.append((rests, left))
        for order in (1, -1):
            poured(sorted(rests, key=lambda rest: order * rest.room), left)

    if search.used_up:
        return best
    relaxation = relax_joined(task, search)
    if not any(best.short):
        search.prove(relaxation.bound)
    # Whole pieces that may be joined are left to the pouring, which knows where they leave no rest.
    left, rests = quantities.copy(), []
    for k, counts, share in relaxation.bars:
        fixed = [min(n, there) for n, there in zip(counts, plain, strict=True)]
        times = min([int(share + SHARE_NOISE), *(left[i] // n for i, n in enumerate(fixed) if n)])
        rests += _rests(task, k, fixed, times)
        left = [have - n * times for have, n in zip(left, fixed, strict=True)]
    both(rests, left)
    both([rest for rest in rests if rest.cuts], left)
    for wanted in (plain, whole):
        if not any(wanted) or search.used_up:
            continue
        lengths = [want.length for want in task.wants]
        packed = pack_bars(task.bars, lengths, wanted, task.kerf, search.child(PLAIN_SHARE))
        left = [there - here for there, here in zip(quantities, wanted, strict=True)]
        for index, (count, _) in packed.missing.items():
            left[index] += count
        rests = [rest for p in packed.patterns for rest in _rests(task, p.bar, p.counts, p.repeats)]
        both(rests, left)
        if wanted is whole:
            both(*_spread(task, rests, left, len(rests) - sum(best.bars.values())))
    for shake in range(SHAKES):
        if search.over:
            break
        ordered, again = starts[shake % len(starts)]
        keys = [next_random(search.random) for _ in ordered]
        shaken = sorted(zip(keys, ordered, strict=True), key=lambda pair: pair[0])
        poured([rest for _, rest in shaken], again)
    if not any(best.short):
        # What pieces were missing before may have hidden it.
        search.prove(relaxation.bound)
        if not search.over:
            settled, bound = settle_joined(task, best, search.bound, search)
            search.prove(bound)
            if settled is not None:
                offer(settled)
    return best


def _spread(
    task: JoinTask, rests: Sequence[Rest], left: Sequence[int], fewer: int
) -> tuple[list[Rest], list[int]]:
    """Take so many of the emptiest bars apart, of those whose pieces may all be joined."""
    apart = [rest for rest in rests if all(task.wants[piece].joins for piece, _, _ in rest.cuts)]
    apart = sorted(apart, key=lambda rest: -rest.room)[: max(0, fewer)]
    again = list(left)
    for rest in apart:
        for piece, _, _ in rest.cuts:
            again[piece] += 1
    gone = set(map(id, apart))
    return [rest for rest in rests if id(rest) not in gone], again


def _rests(task: JoinTask, bar: int, counts: Sequence[int], repeats: int) -> list[Rest]:
    """Bars cut in one way, with the room they leave."""
    cuts: list[Cut] = [
        (i, (task.wants[i].length,), 0) for i, count in enumerate(counts) for _ in range(count)
    ]
    used = sum(task.wants[i].length + task.kerf for i, _, _ in cuts)
    return [Rest(bar, task.bars[bar].length + task.kerf - used, list(cuts)) for _ in range(repeats)]
