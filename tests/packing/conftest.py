"""What the tests of the packing core share: exhaustive searches that are as plain as can be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import product
from math import inf
from typing import Any, TypeAlias

import pytest

Boxes: TypeAlias = Sequence[tuple[int, int]]
"""Length and width of one piece in each of its turns."""


def partitions(items: tuple[int, ...]) -> Iterator[list[tuple[int, ...]]]:
    """All ways of dividing some items into groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for groups in partitions(rest):
        yield [(first,), *groups]
        for at, group in enumerate(groups):
            yield [*groups[:at], (first, *group), *groups[at + 1 :]]


def section_length(boxes: Boxes, width: int, kerf: int, stages: int) -> float:
    """Shortest section that holds one box of each piece, all turns given; infinite when none does.

    The pieces are divided into strips in every possible way; the widths of the strips, with a kerf
    between two of them, must fit across.
    """
    best = inf
    for strips in partitions(tuple(range(len(boxes)))):
        if stages == 2 and any(len(strip) > 1 for strip in strips):
            continue
        across = sum(max(boxes[piece][1] for piece in strip) for strip in strips) + kerf * (len(strips) - 1)
        if across <= width:
            reach = max(sum(boxes[i][0] for i in strip) + kerf * (len(strip) - 1) for strip in strips)
            best = min(best, reach)
    return best


def staged_lengths(pieces: Sequence[Boxes], width: int, kerf: int, stages: int) -> dict[int, float]:
    """For every set of pieces (as bits), the least length of sections in a row, with a kerf between two.

    Only sets that can be cut at all are listed.
    """

    @cache
    def one(members: int) -> float:
        chosen = [boxes for piece, boxes in enumerate(pieces) if members >> piece & 1]
        return min(section_length(turned, width, kerf, stages) for turned in product(*chosen))

    @cache
    def row(members: int) -> float:
        if not members:
            return -kerf
        best = inf
        lowest = members & -members
        part = members
        while part:
            if part & lowest and one(part) < inf:
                best = min(best, one(part) + kerf + row(members ^ part))
            part = (part - 1) & members
        return best

    return {members: row(members) for members in range(1, 1 << len(pieces)) if row(members) < inf}


def cheapest(whole: int, cost: Callable[[int], float]) -> float:
    """Least cost of the groups that a set (as bits) can be divided into; infinite for none."""

    @cache
    def least(members: int) -> float:
        if not members:
            return 0
        lowest = members & -members
        best = inf
        part = members
        while part:
            if part & lowest and cost(part) < inf:
                best = min(best, cost(part) + least(members ^ part))
            part = (part - 1) & members
        return best

    return least(whole)


def fewest(whole: int, fits: Callable[[int], bool]) -> float:
    """Fewest groups, each of which fits, that a set (as bits) can be divided into; infinite for none."""
    return cheapest(whole, lambda part: 1 if fits(part) else inf)


@pytest.fixture(scope="session")
def exact_roll() -> Callable[..., float]:
    """Least length of roll (one marker) for staged cutting, by trying everything."""

    def optimum(pieces: Sequence[Boxes], width: int, gap: int, stages: int) -> float:
        return staged_lengths(pieces, width, gap, stages)[(1 << len(pieces)) - 1]

    return optimum


@pytest.fixture(scope="session")
def exact_sheets() -> Callable[..., float]:
    """Fewest sheets for staged cutting, the first cuts across the length, by trying everything."""

    def optimum(pieces: Sequence[Boxes], length: int, width: int, kerf: int, stages: int) -> float:
        rows = staged_lengths(pieces, width, kerf, stages)
        return fewest((1 << len(pieces)) - 1, lambda part: rows.get(part, inf) <= length)

    return optimum


@pytest.fixture(scope="session")
def exact_blocks() -> Callable[..., float]:
    """Least cost of blocks for slit-first or saw-first cutting, by trying everything.

    Blocks are given by extent and cost, or by extent alone where there is one size and each costs 1.
    Pieces are pairs of boxes and thickness. Slit first: sheets of one thickness each, cut in three stages
    with the first cut either way, stacked with a kerf between two. Saw first: the footprints of stacks,
    cut in three stages; the largest sides of a stack are its footprint.
    """

    def turned(boxes: Boxes) -> list[tuple[int, int]]:
        return [(dy, dx) for dx, dy in boxes]

    def flat_fits(pieces: Sequence[Boxes], length: int, width: int, kerf: int) -> bool:
        whole = (1 << len(pieces)) - 1
        if staged_lengths(pieces, width, kerf, 3).get(whole, inf) <= length:
            return True
        other = [turned(boxes) for boxes in pieces]
        return staged_lengths(other, length, kerf, 3).get(whole, inf) <= width

    def fitting(
        pieces: Sequence[tuple[Boxes, int]], extent: tuple[int, int, int], kerf: int, order: str
    ) -> Callable[[int], bool]:
        length, width, height = extent

        @cache
        def slit(part: int) -> bool:
            members = [at for at in range(len(pieces)) if part >> at & 1]
            for sheets in partitions(tuple(members)):
                high = [pieces[sheet[0]][1] for sheet in sheets]
                alike = all(pieces[at][1] == pieces[sheet[0]][1] for sheet in sheets for at in sheet)
                if (
                    alike
                    and sum(high) + kerf * (len(sheets) - 1) <= height
                    and all(flat_fits([pieces[at][0] for at in s], length, width, kerf) for s in sheets)
                ):
                    return True
            return False

        @cache
        def saw(part: int) -> bool:
            members = [at for at in range(len(pieces)) if part >> at & 1]
            for stacks in partitions(tuple(members)):
                footprints = []
                for stack in stacks:
                    high = sum(pieces[at][1] for at in stack) + kerf * (len(stack) - 1)
                    rooms = {
                        (max(x for x, _ in lying), max(y for _, y in lying))
                        for lying in product(*(pieces[at][0] for at in stack))
                    }
                    footprints.append(sorted(rooms) if high <= height else [])
                if all(footprints) and any(
                    flat_fits([[box] for box in choice], length, width, kerf)
                    for choice in product(*footprints)
                ):
                    return True
            return False

        return {
            "slit first": slit,
            "saw first": saw,
            "best": lambda part: slit(part) or saw(part),
        }[order]

    def optimum(pieces: Sequence[tuple[Boxes, int]], extent: Any, kerf: int, order: str) -> float:
        blocks = [(extent, 1)] if isinstance(extent[0], int) else extent
        fits = [(fitting(pieces, room, kerf, order), cost) for room, cost in blocks]
        return cheapest(
            (1 << len(pieces)) - 1, lambda part: min((cost for ok, cost in fits if ok(part)), default=inf)
        )

    return optimum
