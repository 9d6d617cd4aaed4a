"""The verifier lets right plans pass and names the fault of every wrong one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LayoutError
from nesting.packing import verify
from nesting.packing.problem import (
    Bar,
    Block,
    BlockProblem,
    LinearProblem,
    Piece,
    Problem,
    RollProblem,
    Sheet,
    SheetProblem,
    Skins,
)
from nesting.packing.solution import Answer, Axis, CutNode, Layout, Missing, Part, Placement
from tests.packing.strategies import guillotine_answers

Case = tuple[Problem, Answer]


def box(x: float, y: float, length: float, width: float, piece: int | None = None) -> CutNode:
    """A flat leaf: a piece by its index, or left over."""
    return CutNode(x, y, length, width, piece=piece)


def cut(axis: Axis, x: float, y: float, length: float, width: float, *parts: CutNode) -> CutNode:
    """A flat box and its parts."""
    return CutNode(x, y, length, width, axis, parts)


# --- Right plans of every kind ------------------------------------------------------------------------


def roll_free() -> Case:
    """Three panels on a roll 1000 wide, 10 apart; C is turned."""
    pieces = (
        Piece.rectangle("A", 600, 400, 2, turns=(0,)),
        Piece.rectangle("C", 180, 700, 1, turns=(0, 90)),
    )
    placements = (Placement("A", 0, 0), Placement("A", 0, 410), Placement("C", 0, 820, 90))
    layout = Layout("roll", placements, 700)
    return RollProblem(1000, pieces, gap=10), Answer(layouts=(layout,), value=700, bound=660)


def roll_staged() -> Case:
    """A mattress by hand: two panels 2072 x 1564 and four border strips 1785 x 260 on 2150 of width.

    Two sections of 2072. In each: 1564 + 260 + 260 = 2084 of 2150, left 66; strips end 287 early.
    Length 2 x 2072 = 4144.
    """
    pieces = (
        Piece.rectangle("panel", 2072, 1564, 2, turns=(0,)),
        Piece.rectangle("border", 1785, 260, 4, turns=(0,)),
    )
    placements: list[Placement] = []
    sections = []
    for x in (0, 2072):
        first = len(placements)
        placements += [
            Placement("panel", x, 0),
            Placement("border", x, 1564),
            Placement("border", x, 1824),
        ]
        strips = [
            cut("x", x, y, 2072, 260, box(x, y, 1785, 260, first + i), box(x + 1785, y, 287, 260))
            for i, y in ((1, 1564), (2, 1824))
        ]
        panel, rest = box(x, 0, 2072, 1564, first), box(x, 2084, 2072, 66)
        sections.append(cut("y", x, 0, 2072, 2150, panel, *strips, rest))
    layout = Layout("roll", tuple(placements), 4144, cuts=cut("x", 0, 0, 4144, 2150, *sections))
    return RollProblem(2150, pieces, stages=2), Answer(layouts=(layout,), value=4144, bound=4144)


def sheet_staged() -> Case:
    """A sheet 2440 x 1220 trimmed by 10, kerf 3, three stages: x, y, x; the smaller piece is trimmed in y.

    By hand: 1200 + 3 + 1217 = 2420; 600 + 3 + 597 = 1200; 600 + 3 + 597 = 1200; 400 + 3 + 197 = 600.
    Cut four times, at 25 a sheet.
    """
    pieces = (
        Piece.rectangle("A", 600, 600, 4, turns=(0,)),
        Piece.rectangle("B", 400, 597, 4, turns=(90,)),
    )
    trimmed = cut("y", 613, 10, 597, 600, box(613, 10, 597, 400, 1), box(613, 413, 597, 197))
    strip = cut("x", 10, 10, 1200, 600, box(10, 10, 600, 600, 0), trimmed)
    section = cut("y", 10, 10, 1200, 1200, strip, box(10, 613, 1200, 597))
    root = cut("x", 10, 10, 2420, 1200, section, box(1213, 10, 1217, 1200))
    layout = Layout("S", (Placement("A", 10, 10), Placement("B", 613, 10, 90)), 2440, 4, root)
    problem = SheetProblem((Sheet("S", 2440, 1220, 25, 4),), pieces, kerf=3, trim=10, stages=3)
    return problem, Answer(layouts=(layout,), value=100, bound=50)


FOAM = Block("K", 2100, 2060, 1080, cost=300)
SKINS = Skins(x0=15, x1=15, y0=20, y1=20, z0=20, z1=35)
"""By hand: usable 2070 x 2020 x 1025. Ten sheets of 100 with kerf 0.5 leave 1025 - 10 x 100.5 = 20."""


def slab(x: float, y: float, z: float, length: float, width: float, piece: int | None = None) -> CutNode:
    """A box 100 high: a slab by its index, or left over."""
    return CutNode(x, y, length, width, piece=piece, z=z, height=100)


def block_slit() -> Case:
    """Ten sheets of 100; in each two cores 1910 x 910: 2 x 910.5 = 1821 of 2020, left 199."""
    sheets = []
    placements: list[Placement] = []
    for level in range(10):
        z = round(20 + 100.5 * level, 1)
        strips = []
        for y in (20, 930.5):
            core = slab(15, y, z, 1910, 910, len(placements))
            rest = slab(1925.5, y, z, 159.5, 910)
            strips.append(CutNode(15, y, 2070, 910, "x", (core, rest), z=z, height=100))
            placements.append(Placement("core", 15, y, z=z))
        left = slab(15, 1841, z, 2070, 199)
        sheets.append(CutNode(15, 20, 2070, 2020, "y", (*strips, left), z=z, height=100))
    sheets.append(CutNode(15, 20, 2070, 2020, z=1025, height=20))
    root = CutNode(15, 20, 2070, 2020, "z", tuple(sheets), z=20, height=1025)
    pieces = (Piece.slab("core", 1910, 910, 100, 20),)
    problem = BlockProblem((FOAM,), pieces, kerf=0.5, trim=SKINS, order="slit first")
    return problem, Answer(layouts=(Layout("K", tuple(placements), 2100, cuts=root),), value=300, bound=300)


def block_sawn() -> Case:
    """The same twenty cores from two columns: sawn across y, trimmed in x, then split; the last is short.

    The second column also holds one pad 1900 x 900 x 20 in the rest of 20, trimmed after splitting:
    1910 - 1900 - 0.5 = 9.5.
    """
    placements: list[Placement] = []
    columns = []
    for y in (20, 930.5):
        parts = []
        for level in range(10):
            z = round(20 + 100.5 * level, 1)
            parts.append(slab(15, y, z, 1910, 910, len(placements)))
            placements.append(Placement("core", 15, y, z=z))
        if y == 20:
            parts.append(CutNode(15, y, 1910, 910, z=1025, height=20))
        else:
            pad = CutNode(15, y, 1900, 900, piece=len(placements), z=1025, height=20)
            across = CutNode(15, y, 1900, 910, "y", (pad, CutNode(15, 1831, 1900, 9.5, z=1025, height=20)))
            across = replace(across, z=1025, height=20)
            rest = CutNode(1915.5, y, 9.5, 910, z=1025, height=20)
            parts.append(CutNode(15, y, 1910, 910, "x", (across, rest), z=1025, height=20))
            placements.append(Placement("pad", 15, y, z=1025))
        column = CutNode(15, y, 1910, 910, "z", tuple(parts), z=20, height=1025)
        rest = CutNode(1925.5, y, 159.5, 910, z=20, height=1025)
        columns.append(CutNode(15, y, 2070, 910, "x", (column, rest), z=20, height=1025))
    left = CutNode(15, 1841, 2070, 199, z=20, height=1025)
    root = CutNode(15, 20, 2070, 2020, "y", (*columns, left), z=20, height=1025)
    pieces = (Piece.slab("core", 1910, 910, 100, 20), Piece.slab("pad", 1900, 900, 20))
    problem = BlockProblem((FOAM,), pieces, kerf=0.5, trim=SKINS, order="saw first")
    return problem, Answer(layouts=(Layout("K", tuple(placements), 2100, cuts=root),), value=300, bound=300)


def bars() -> Case:
    """Three strips of 1785 in a bar of 5400, kerf 10: 3 x 1785 + 2 x 10 = 5375. Two bars of 7 each."""
    layout = Layout("B", tuple(Placement("strip", x, 0) for x in (0, 1795, 3590)), 5400, 2)
    problem = LinearProblem((Bar("B", 5400, 7, available=2),), (Piece.linear("strip", 1785, 7),), kerf=10)
    missing = {"strip": Missing(1, "the bars run out")}
    return problem, Answer(layouts=(layout,), value=14, bound=14, missing=missing)


def joined_bars() -> Case:
    """Two borders of 1500, each of 1000 and 520 with a seam of 2 x 10, and one in whole, from bars of 2000.

    By hand, kerf 10: 520 + 10 + 1000 = 1530, twice; 1500.
    """
    parts = [Placement("border", x, 0, part=Part((1000, 520), i)) for i, x in ((0, 530), (1, 0))]
    joined = Layout("B", tuple(parts), 2000, 2)
    whole = Layout("B", (Placement("border", 0, 0),), 2000)
    piece = Piece.linear("border", 1500, 3, joins=1, least=500, seam=10)
    problem = LinearProblem((Bar("B", 2000),), (piece,), kerf=10)
    return problem, Answer(layouts=(joined, whole), value=3, bound=3)


TRIANGLE = [(0, 0), (100, 0), (0, 100)]


def outlines() -> Case:
    """Two right triangles with their long sides 5 apart: each 100, moved by 3.54 both ways (5.006)."""
    piece = Piece.polygon("T", TRIANGLE, 2, turns=(0, 180))
    layout = Layout("roll", (Placement("T", 0, 0), Placement("T", 3.54, 3.54, 180)), 103.6)
    return RollProblem(110, (piece,), gap=5), Answer(layouts=(layout,), value=103.6, bound=90)


CASES: list[Callable[[], Case]] = [
    roll_free,
    roll_staged,
    sheet_staged,
    block_slit,
    block_sawn,
    bars,
    joined_bars,
    outlines,
]


@pytest.mark.parametrize("case", CASES)
def test_right_plans_pass(case: Callable[[], Case]) -> None:
    """Plans made by hand of every kind of problem."""
    verify(*case())


def in_order(problem: Problem, order: Literal["slit first", "saw first", "best"]) -> BlockProblem:
    """The same block problem with another order of cuts."""
    assert isinstance(problem, BlockProblem)
    return replace(problem, order=order)


@pytest.mark.parametrize("case", [block_slit, block_sawn])
def test_either_order_passes_where_the_best_is_asked(case: Callable[[], Case]) -> None:
    """Order "best" is settled block by block."""
    problem, answer = case()
    verify(in_order(problem, "best"), answer)


# --- One fault each -----------------------------------------------------------------------------------


def with_layout(answer: Answer, **changes: Any) -> Answer:
    """The answer with its first layout changed."""
    return replace(answer, layouts=(replace(answer.layouts[0], **changes), *answer.layouts[1:]))


def with_placement(answer: Answer, index: int, **changes: Any) -> Answer:
    """The answer with one placement of its first layout changed."""
    placements = list(answer.layouts[0].placements)
    placements[index] = replace(placements[index], **changes)
    return with_layout(answer, placements=tuple(placements))


def with_node(answer: Answer, path: tuple[int, ...], **changes: Any) -> Answer:
    """The answer with one box of its cut tree changed; the path names the parts that lead to it."""

    def changed(node: CutNode, left: tuple[int, ...]) -> CutNode:
        if not left:
            return replace(node, **changes)
        parts = list(node.parts)
        parts[left[0]] = changed(parts[left[0]], left[1:])
        return replace(node, parts=tuple(parts))

    root = answer.layouts[0].cuts
    assert root is not None
    return with_layout(answer, cuts=changed(root, path))


def dropped(answer: Answer) -> Answer:
    """Without the last placement of the first layout."""
    return with_layout(answer, placements=answer.layouts[0].placements[:-1])


def doubled(answer: Answer) -> Answer:
    """With the first layout twice."""
    return replace(answer, layouts=(*answer.layouts, answer.layouts[0]), value=2 * answer.value)


def with_parts(answer: Answer, *lengths: float) -> Answer:
    """The answer with other lengths of the two parts of its first layout."""
    for index in (0, 1):
        answer = with_placement(answer, index, part=Part(lengths, index))
    return answer


Change = Callable[[Answer], Answer]

FAULTS: list[tuple[Callable[[], Case], Change, str]] = [
    # keys, figures and stock
    (roll_free, lambda a: with_placement(a, 0, key="Z"), "Layout 1: holds 'Z', which nobody asked for"),
    (roll_free, lambda a: with_layout(a, stock_key="S"), "Layout 1: is cut from 'S'"),
    (sheet_staged, lambda a: with_layout(a, stock_key="T"), "is cut from 'T', which is not in stock"),
    (bars, lambda a: with_layout(a, stock_key="roll"), "is cut from 'roll', which is not in stock"),
    (roll_free, lambda a: with_layout(a, repeats=0), "repeats must be a whole number, 1 or more, got 0"),
    (roll_free, lambda a: with_layout(a, repeats=1.0), "repeats must be a whole number"),
    (roll_free, lambda a: with_layout(a, repeats=True), "repeats must be a whole number"),
    (roll_free, lambda a: with_layout(a, placements=()), "Layout 1: holds no pieces"),
    (roll_free, lambda a: with_layout(a, length=math.nan), "not a finite number: nan"),
    (roll_free, lambda a: with_placement(a, 0, x=math.inf), "piece 'A' has a figure.*not a finite number"),
    (roll_free, lambda a: with_placement(a, 0, turn=math.nan), "piece 'A' has a figure.*not a finite"),
    (sheet_staged, lambda a: with_node(a, (0,), width=math.nan), "cut tree has a figure.*not a finite"),
    (sheet_staged, lambda a: with_layout(a, length=2420), "is 2420 mm long, but 'S' is 2440 mm"),
    (sheet_staged, lambda a: with_layout(a, repeats=5), "Plan: uses 5 of 'S'; there are 4"),
    (bars, lambda a: with_layout(a, repeats=3), "Plan: uses 3 of 'B'; there are 2"),
    # the usable area
    (roll_free, lambda a: with_placement(a, 0, x=-0.1), "'A' at x -0.1, y 0 starts before x 0"),
    (roll_free, lambda a: with_placement(a, 2, y=820.1), "reaches to y 1000.1.*usable area ends at 1000"),
    (
        roll_free,
        lambda a: with_layout(a, length=699.9),
        "reaches to x 700, but the usable area ends at 699.9",
    ),
    (roll_free, lambda a: with_placement(a, 0, z=1.0), "reaches to z 1, but the usable area ends at 0"),
    (sheet_staged, lambda a: with_placement(a, 0, x=9.9), "starts before x 10"),
    (bars, lambda a: with_placement(a, 2, x=3615.1), "reaches to x 5400.1"),
    (bars, lambda a: with_placement(a, 0, y=0.1), "reaches to y 1.1"),
    (block_slit, lambda a: with_placement(a, 0, z=19.9), "starts before z 20"),
    (block_sawn, lambda a: with_placement(a, 20, z=1025.1), "reaches to z 1045.1"),
    # turns
    (roll_free, lambda a: with_placement(a, 0, turn=180), "'A' is turned by 180 degrees; allowed: 0"),
    (roll_free, lambda a: with_placement(a, 0, mirrored=True), "'A' is mirrored, which it must not be"),
    (outlines, lambda a: with_placement(a, 1, turn=90), "'T' is turned by 90 degrees; allowed: 0, 180"),
    (outlines, lambda a: with_placement(a, 1, mirrored=True), "'T' is mirrored"),
    # distances
    (roll_free, lambda a: with_placement(a, 1, y=409.9), "are 9.9 mm apart; 10 mm are needed"),
    (roll_free, lambda a: with_placement(a, 1, y=399.9), "overlap by 0.1 mm"),
    (roll_free, lambda a: with_placement(a, 1, y=0), "pieces 'A' at x 0, y 0 and 'A' at x 0, y 0 overlap"),
    (bars, lambda a: with_placement(a, 1, x=1794.9), "are 9.9 mm apart; 10 mm are needed"),
    (bars, lambda a: with_placement(a, 1, x=1784.9), "'strip' at x 0, y 0 and.*overlap by 0.1 mm"),
    (outlines, lambda a: with_placement(a, 1, x=3.5, y=3.5), "are 4.9497 mm apart; 5 mm are needed"),
    (outlines, lambda a: with_placement(a, 1, x=0, y=0), "are 0 mm apart; 5 mm are needed"),
    (outlines, lambda a: with_placement(a, 1, turn=0), "'T' at x 3.54, y 3.54 overlap in"),
    # parts of joined pieces
    (bars, lambda a: with_placement(a, 0, part=Part((1000, 785), 0)), "from 2 parts; allowed joins are 0"),
    (joined_bars, lambda a: with_placement(a, 0, part=Part((1520,), 0)), "joined from 1 parts"),
    (joined_bars, lambda a: with_placement(a, 0, part=Part((500, 500, 540), 0)), "from 3 parts; allowed"),
    (joined_bars, lambda a: with_placement(a, 0, part=Part((1000, 520), 2)), "has part 2 of 2"),
    (joined_bars, lambda a: with_placement(a, 0, part=Part((math.nan, 520), 0)), "not a finite number"),
    (joined_bars, lambda a: with_parts(a, 1020.1, 499.9), "a part of 499.9 mm; the least is 500 mm"),
    (joined_bars, lambda a: with_parts(a, 1000, 519.9), "add up to 1519.9 mm; needed are 1520 mm"),
    (joined_bars, lambda a: with_parts(a, 1000.1, 520), "add up to 1520.1 mm; needed are 1520 mm"),
    (joined_bars, lambda a: with_placement(a, 0, x=529.9), "are 9.9 mm apart; 10 mm are needed"),
    (joined_bars, lambda a: with_placement(a, 0, x=1000.1), "reaches to x 2000.1"),
    (joined_bars, lambda a: with_placement(a, 0, part=Part((1000, 520), 1)), "from 0 x 1000 .* 4 x 520 mm"),
    (joined_bars, dropped, "joins 'border' from 2 x 1000 .* 0 x 520 mm; there must be as many"),
    (joined_bars, doubled, "places 5 and misses 0 of 'border'; wanted are 3"),
    # quantities
    (roll_free, dropped, "Plan: places 0 and misses 0 of 'C'; wanted are 1"),
    (roll_free, doubled, "Plan: places 4 and misses 0 of 'A'; wanted are 2"),
    (sheet_staged, lambda a: with_layout(a, repeats=3), "places 3 and misses 0 of 'A'; wanted are 4"),
    (bars, lambda a: replace(a, missing={}), "places 6 and misses 0 of 'strip'; wanted are 7"),
    (bars, lambda a: replace(a, missing={"strip": Missing(2, "why")}), "misses 2 of 'strip'; wanted are 7"),
    (bars, lambda a: replace(a, missing={"strip": Missing(1, " ")}), "no reason why 'strip' is missing"),
    (bars, lambda a: replace(a, missing={"strip": Missing(0, "why")}), "missing quantity of 'strip' must be"),
    (bars, lambda a: replace(a, missing={**a.missing, "Z": Missing(1, "why")}), "misses 'Z', which nobody"),
    # the cut tree
    (
        roll_staged,
        lambda a: with_layout(a, cuts=None),
        "edge-to-edge cuts are asked, but there is no cut tree",
    ),
    (block_slit, lambda a: with_layout(a, cuts=None), "there is no cut tree"),
    (bars, lambda a: with_layout(a, cuts=box(0, 0, 5400, 1)), "a bar carries no cut tree"),
    (sheet_staged, lambda a: with_node(a, (), x=9), "cut tree covers x 9 to 2429; the usable area is 10 to"),
    (sheet_staged, lambda a: with_node(a, (), width=1199.7), "covers y 10 to 1209.7"),
    (roll_staged, lambda a: with_layout(a, length=4150), "covers x 0 to 4144; the usable area is 0 to 4150"),
    (roll_staged, lambda a: with_placement(a, 1, x=0.1), "'border' at x 0.1, y 1564 has its place.*at x 0"),
    (roll_staged, lambda a: with_placement(a, 1, x=287), "'border' at x 287, y 1564 has its place.*at x 0"),
    (roll_staged, lambda a: with_node(a, (0, 0), width=1563.9), "are 0.1 mm apart along y; the kerf is 0"),
    (roll_staged, lambda a: with_node(a, (0, 1, 0), length=1784.9), "are 0.1 mm apart along x"),
    (roll_staged, lambda a: with_node(a, (0, 1, 0), piece=None), "'border' at x 0, y 1564 is not in the cut"),
    (roll_staged, lambda a: with_node(a, (0, 1, 0), piece=2), "has its place in the cut tree at y 1564"),
    (roll_staged, lambda a: with_node(a, (0, 1, 1), piece=9), "names piece number 9 of 6"),
    (roll_staged, lambda a: with_node(a, (0, 3), piece=0), "is in the cut tree twice"),
    (
        sheet_staged,
        lambda a: with_node(a, (0, 0, 0), length=599.9),
        "are 3.1 mm apart along x; the kerf is 3",
    ),
    (sheet_staged, lambda a: with_node(a, (1,), x=1212.9), "are 2.9 mm apart along x; the kerf is 3 mm"),
    (sheet_staged, lambda a: with_node(a, (1,), length=1210), "end at x 2423, but the box ends at 2430"),
    (sheet_staged, lambda a: with_node(a, (1,), length=1218), "end at x 2431, but the box ends at"),
    (sheet_staged, lambda a: with_node(a, (1,), width=1190), "measures 1190 along y, not from edge to edge"),
    (sheet_staged, lambda a: with_node(a, (0,), x=10.1), "starts at x 10, its first part at 10.1"),
    (sheet_staged, lambda a: with_node(a, (1,), length=0.0), "part 2 of .* has no size along x"),
    (sheet_staged, lambda a: with_node(a, (1,), piece=None, parts=(box(0, 0, 1, 1),)), "no direction of cut"),
    (sheet_staged, lambda a: with_node(a, (0,), piece=0), "is cut, so it needs parts and is no piece"),
    (sheet_staged, lambda a: with_node(a, (0,), parts=()), "is cut, so it needs parts"),
    (sheet_staged, lambda a: with_node(a, (0,), axis="w"), "cuts along 'w'; allowed are x, y and z"),
    (
        sheet_staged,
        lambda a: with_node(a, (0,), axis="z"),
        "part 1 of the box .* measures 600 along y, not from edge to edge",
    ),
    (
        sheet_staged,
        lambda a: with_node(a, (0, 0, 1), axis=None, parts=(), piece=1),
        "'B' at .* measures 400 along y, but its leaf of the cut tree 600",
    ),
    (
        sheet_staged,
        lambda a: with_node(a, (0, 0), parts=(box(10, 10, 599, 600, 0), box(612, 10, 598, 600, 1))),
        "'A' at .* measures 600 along x, but its leaf of the cut tree 599",
    ),
    (block_slit, lambda a: with_node(a, (0, 0, 0), height=99), "measures 99 along z, not from edge to edge"),
    # value and bound
    (roll_free, lambda a: replace(a, value=699.9), "given as 699.9, but its layouts add up to 700"),
    (sheet_staged, lambda a: replace(a, value=25), "given as 25, but its layouts add up to 100"),
    (roll_free, lambda a: replace(a, value=math.nan), "value or bound has a figure"),
    (roll_free, lambda a: replace(a, bound=700.1), "bound 700.1 is not between 0 and its value 700"),
    (roll_free, lambda a: replace(a, bound=-1), "bound -1 is not between 0 and"),
]


@pytest.mark.parametrize(("case", "change", "words"), FAULTS)
def test_every_fault_is_caught_and_named(case: Callable[[], Case], change: Change, words: str) -> None:
    """One change to a right plan, and the words that a person needs to find it."""
    problem, answer = case()
    with pytest.raises(LayoutError, match=words):
        verify(problem, change(answer))


def test_a_marker_may_not_be_longer_than_the_table() -> None:
    """The limit itself is allowed."""
    problem, answer = roll_free()
    assert isinstance(problem, RollProblem)
    verify(replace(problem, max_marker_length=700), answer)
    with pytest.raises(LayoutError, match=r"is 700 mm long; a marker may be at most 699.9 mm"):
        verify(replace(problem, max_marker_length=699.9), answer)


def test_the_second_layout_is_called_the_second() -> None:
    """Layouts are counted from 1."""
    problem, answer = roll_free()
    bad = with_placement(answer, 0, key="Z").layouts[0]
    with pytest.raises(LayoutError, match="Layout 2: holds 'Z'"):
        verify(problem, replace(answer, layouts=(answer.layouts[0], bad)))


# --- Distances of rectangles --------------------------------------------------------------------------


def test_rectangles_keep_their_gap_in_x_or_in_y() -> None:
    """Corner to corner is near enough to be too near: 9 in x and 9 in y is less than 10 in either."""
    square = Piece.rectangle("A", 100, 100, 2, turns=(0,))
    problem = RollProblem(300, (square,), gap=10)
    near = Layout("roll", (Placement("A", 0, 0), Placement("A", 109, 109)), 209)
    with pytest.raises(LayoutError, match="are 9 mm apart; 10 mm are needed"):
        verify(problem, Answer(layouts=(near,), value=209, bound=0))
    clear = Layout("roll", (Placement("A", 0, 0), Placement("A", 110, 50)), 210)
    verify(problem, Answer(layouts=(clear,), value=210, bound=0))


def many(columns: int, rows: int) -> Case:
    """A full roll of touching rectangles 10 x 8."""
    piece = Piece.rectangle("A", 10, 8, columns * rows, turns=(0,))
    placements = tuple(Placement("A", 10 * i, 8 * j) for i in range(columns) for j in range(rows))
    layout = Layout("roll", placements, 10 * columns)
    return RollProblem(8 * rows, (piece,)), Answer(layouts=(layout,), value=10 * columns, bound=0)


def test_large_layouts_are_checked_in_full() -> None:
    """75 000 rectangles, right and with one of them moved by a tenth."""
    problem, answer = many(300, 250)
    verify(problem, answer)
    with pytest.raises(LayoutError, match=r"overlap by 0.1 mm"):
        verify(problem, with_placement(answer, 40_001, y=7.9))


def test_pieces_all_in_one_place_are_caught_without_comparing_all_pairs() -> None:
    """The first pair is fault enough."""
    problem, answer = many(100, 100)
    pile = tuple(Placement("A", 0, 0) for _ in answer.layouts[0].placements)
    with pytest.raises(LayoutError, match="overlap by 8 mm"):
        verify(problem, with_layout(answer, placements=pile))


def test_float_noise_is_no_overlap() -> None:
    """0.1 + 0.2 starts a hair beyond 0.3, and 3 x 0.1 as well."""
    piece = Piece.rectangle("A", 0.1, 10, 3, turns=(0,))
    layout = Layout("roll", (Placement("A", 0, 0), Placement("A", 0.1, 0), Placement("A", 0.2, 0)), 0.3)
    verify(RollProblem(10, (piece,)), Answer(layouts=(layout,), value=0.3, bound=0.3))


# --- Outlines -----------------------------------------------------------------------------------------

L_SHAPE = [(0, 0), (300, 0), (300, 100), (100, 100), (100, 300), (0, 300)]


@pytest.mark.parametrize(
    ("turn", "mirrored", "x", "y"),
    [
        (0.0, False, 100, 100),
        # A quarter turn counter-clockwise takes the open corner from upper right to upper left,
        (90.0, False, 0, 100),
        (180.0, False, 0, 0),
        (270.0, False, 100, 0),
        # flipping in the x axis to lower right; then the quarter turn to upper right.
        (0.0, True, 100, 0),
        (90.0, True, 100, 100),
    ],
)
def test_outlines_are_turned_counter_clockwise_after_flipping(
    turn: float, mirrored: bool, x: float, y: float
) -> None:
    """A square of 200 fits only the open corner of an L; everywhere else it overlaps."""
    pieces = (
        Piece.polygon("L", L_SHAPE, turns=(0, 90, 180, 270), mirror=True),
        Piece.rectangle("S", 200, 200, turns=(0,)),
    )
    for spot in ((0, 0), (100, 0), (0, 100), (100, 100)):
        placements = (Placement("L", 0, 0, turn, mirrored), Placement("S", *spot))
        answer = Answer(layouts=(Layout("roll", placements, 300),), value=300, bound=0)
        if spot == (x, y):
            verify(RollProblem(300, pieces), answer)
        else:
            with pytest.raises(LayoutError, match="overlap in"):
                verify(RollProblem(300, pieces), answer)


def test_a_square_on_its_corner_needs_its_diagonal() -> None:
    """100 x 100 turned by 45 degrees is 141.42 wide."""
    square = Piece.polygon("S", [(0, 0), (100, 0), (100, 100), (0, 100)], turns=(45,))
    answer = Answer(layouts=(Layout("roll", (Placement("S", 0, 0, 45),), 141.5),), value=141.5, bound=0)
    verify(RollProblem(141.43, (square,)), answer)
    with pytest.raises(LayoutError, match=r"reaches to y 141.4214"):
        verify(RollProblem(141.42, (square,)), answer)


@pytest.mark.parametrize(("shift", "passes"), [(0.0, True), (0.005, True), (0.05, False)])
def test_outlines_may_touch_but_not_overlap_deeply(shift: float, passes: bool) -> None:
    """Two triangles share their long side; pushed together by more than 0.01 mm they overlap."""
    piece = Piece.polygon("T", TRIANGLE, 2, turns=(0, 180))
    placements = (Placement("T", shift, shift), Placement("T", 0, 0, 180))
    answer = Answer(layouts=(Layout("roll", placements, 101),), value=101, bound=0)
    problem = RollProblem(101, (piece,))
    if passes:
        verify(problem, answer)
    else:
        with pytest.raises(LayoutError, match="overlap in"):
            verify(problem, answer)


def test_an_outline_inside_another_is_caught() -> None:
    """No edges cross, yet all of it is doubled."""
    pieces = (Piece.polygon("big", L_SHAPE, turns=(0,)), Piece.polygon("small", TRIANGLE, turns=(0,)))
    placements = (Placement("big", 0, 0), Placement("small", 0, 0))
    answer = Answer(layouts=(Layout("roll", placements, 300),), value=300, bound=0)
    with pytest.raises(LayoutError, match="'big' at x 0, y 0 and 'small' at x 0, y 0 overlap in 5000 mm2"):
        verify(RollProblem(300, pieces), answer)


def test_outlines_cut_edge_to_edge_are_checked_by_their_boxes() -> None:
    """The leaf of an outline is its bounding box."""
    piece = Piece.polygon("T", TRIANGLE, 2, turns=(0, 180))
    problem = RollProblem(100, (piece,), stages=2)
    root = cut("x", 0, 0, 200, 100, box(0, 0, 100, 100, 0), box(100, 0, 100, 100, 1))
    layout = Layout("roll", (Placement("T", 0, 0), Placement("T", 100, 0, 180)), 200, cuts=root)
    verify(problem, Answer(layouts=(layout,), value=200, bound=0))


# --- Kerfs, rounding and stages -----------------------------------------------------------------------


def one_sheet(length: float, root: CutNode, *pieces: Piece, stages: Any = 2, kerf: float = 3.0) -> Case:
    """A sheet 1000 wide cut once; every piece has its own leaf, in the order of the leaves."""
    leaves: list[CutNode] = []
    stack = [root]
    while stack:
        node = stack.pop()
        stack.extend(reversed(node.parts))
        if node.piece is not None:
            leaves.append(node)
    placements = tuple(
        Placement(piece.key, leaf.x, leaf.y) for piece, leaf in zip(pieces, leaves, strict=True)
    )
    problem = SheetProblem((Sheet("S", length, 1000),), pieces, kerf=kerf, stages=stages)
    return problem, Answer(layouts=(Layout("S", placements, length, cuts=root),), value=1, bound=0)


def rect(key: str, length: float, width: float) -> Piece:
    """A rectangle that must not be turned."""
    return Piece.rectangle(key, length, width, turns=(0,))


@pytest.mark.parametrize(("length", "passes"), [(1000, True), (1002, True), (1003, True), (1003.1, False)])
def test_a_rest_no_thicker_than_the_blade_goes_with_the_cut(length: float, passes: bool) -> None:
    """A piece of 1000 may end up to one kerf of 3 before the far edge; then a left-over is due."""
    case = one_sheet(length, cut("x", 0, 0, length, 1000, box(0, 0, 1000, 1000, 0)), rect("A", 1000, 1000))
    if passes:
        verify(*case)
    else:
        with pytest.raises(LayoutError, match=r"end at x 1000, but the box ends at 1003.1"):
            verify(*case)


def test_leaves_and_kerfs_may_be_rounded_up_to_the_grid_and_no_further() -> None:
    """A piece of 99.95 has a leaf of 100, a kerf of 2.95 a distance of 3; 100.1 is too much."""
    pieces = (rect("A", 99.95, 1000), rect("B", 99.95, 1000))
    for leaf, passes in ((99.95, True), (100.0, True), (100.1, False), (99.9, False)):
        second = round(leaf + 3, 2)
        rest = box(round(2 * leaf + 6, 2), 0, round(994 - 2 * leaf, 2), 1000)
        root = cut("x", 0, 0, 1000, 1000, box(0, 0, leaf, 1000, 0), box(second, 0, leaf, 1000, 1), rest)
        case = one_sheet(1000, root, *pieces, kerf=2.95)
        if passes:
            verify(*case)
        else:
            with pytest.raises(LayoutError, match=r"measures 99.95 along x, but its leaf"):
                verify(*case)


def test_the_root_may_be_rounded_down_to_the_grid() -> None:
    """A roll of 1000.05 is used as 1000; at 999.8 too much of it is lost."""
    piece = rect("A", 100, 900)
    for width, passes in ((1000.05, True), (1000.0, True), (999.8, False)):
        root = cut("y", 0, 0, 100, width, box(0, 0, 100, 900, 0), box(0, 900, 100, round(width - 900, 2)))
        layout = Layout("roll", (Placement("A", 0, 0),), 100, cuts=root)
        case = (RollProblem(1000.05, (piece,), stages=2), Answer(layouts=(layout,), value=100, bound=0))
        if passes:
            verify(*case)
        else:
            with pytest.raises(LayoutError, match=r"covers y 0 to 999.8"):
                verify(*case)


def test_a_first_cut_along_the_sheet_costs_an_empty_stage() -> None:
    """Strips first, then pieces, then trims: two directions, but three stages when x must come first."""
    strips = [
        cut("x", 0, y, 1000, 500, box(0, y, 500, 500, i), box(500, y, 500, 500, i + 1))
        for i, y in ((0, 0), (2, 500))
    ]
    root = cut("y", 0, 0, 1000, 1000, *strips)
    pieces = [rect(key, 500, 500) for key in "ABCD"]
    verify(*one_sheet(1000, root, *pieces, stages=3, kerf=0))
    verify(*one_sheet(1000, root, *pieces, stages="any", kerf=0))
    with pytest.raises(LayoutError, match="needs 3 stages of cuts, the first across x; allowed are 2"):
        verify(*one_sheet(1000, root, *pieces, stages=2, kerf=0))


def test_cuts_in_the_same_direction_are_one_stage() -> None:
    """A part cut again the same way could have been cut in the same go."""
    right = cut("x", 300, 0, 700, 1000, box(300, 0, 300, 1000, 1), box(600, 0, 400, 1000))
    root = cut("x", 0, 0, 1000, 1000, box(0, 0, 300, 1000, 0), right)
    verify(*one_sheet(1000, root, rect("A", 300, 1000), rect("B", 300, 1000), stages=2, kerf=0))


def test_trimming_one_piece_in_both_directions_is_free() -> None:
    """Sections, strips, then x and y off a single piece: still two stages."""
    trims = cut("x", 0, 0, 600, 400, cut("y", 0, 0, 500, 400, box(0, 0, 500, 300, 0), box(0, 300, 500, 100)))
    trims = replace(trims, parts=(*trims.parts, box(500, 0, 100, 400)))
    section = cut("y", 0, 0, 600, 1000, trims, box(0, 400, 600, 600, 1))
    root = cut("x", 0, 0, 1000, 1000, section, box(600, 0, 400, 1000))
    verify(*one_sheet(1000, root, rect("A", 500, 300), rect("B", 600, 600), stages=2, kerf=0))


def test_a_third_stage_that_parts_two_pieces_is_not_a_trim() -> None:
    """The same strip with a second piece in place of the left-over."""
    strip = cut("x", 0, 0, 600, 400, box(0, 0, 500, 400, 0), box(500, 0, 100, 400, 1))
    section = cut("y", 0, 0, 600, 1000, strip, box(0, 400, 600, 600, 2))
    root = cut("x", 0, 0, 1000, 1000, section, box(600, 0, 400, 1000))
    pieces = (rect("A", 500, 400), rect("B", 100, 400), rect("C", 600, 600))
    verify(*one_sheet(1000, root, *pieces, stages=3, kerf=0))
    with pytest.raises(LayoutError, match="needs 3 stages"):
        verify(*one_sheet(1000, root, *pieces, stages=2, kerf=0))


def test_a_deep_tree_needs_no_deep_stack() -> None:
    """Five thousand cuts, each in the rest of the one before."""
    count = 5000
    node = box(count - 1, 0, 1, 1000, count - 1)
    for i in range(count - 2, -1, -1):
        node = cut("x", i, 0, count - i, 1000, box(i, 0, 1, 1000, i), node)
    piece = Piece.rectangle("A", 1, 1000, count, turns=(0,))
    problem = SheetProblem((Sheet("S", count, 1000),), (piece,), stages=2)
    layout = Layout("S", tuple(Placement("A", i, 0) for i in range(count)), count, cuts=node)
    answer = Answer(layouts=(layout,), value=1, bound=0)
    verify(problem, answer)


# --- Blocks -------------------------------------------------------------------------------------------


def test_a_slit_block_is_not_a_sawn_one_and_the_other_way_round() -> None:
    """Each order refuses the trees of the other, with the reason."""
    problem, answer = block_slit()
    with pytest.raises(LayoutError, match=r"not saw first: the slab at .* is divided further"):
        verify(in_order(problem, "saw first"), answer)
    problem, answer = block_sawn()
    with pytest.raises(
        LayoutError, match="not slit first: the sheet at z 20 is slit again after it was sawn"
    ):
        verify(in_order(problem, "slit first"), answer)


def brick(order: Any, root: CutNode, pieces: tuple[Piece, ...], placements: tuple[Placement, ...]) -> Case:
    """A block 400 x 400 x 100 without skins and kerf."""
    problem = BlockProblem((Block("K", 400, 400, 100),), pieces, order=order)
    return problem, Answer(layouts=(Layout("K", placements, 400, cuts=root),), value=1, bound=0)


def test_a_mixed_order_is_refused_whatever_is_asked() -> None:
    """Sawn into halves, one half slit, and a slit part sawn again into two pieces."""
    low = tuple(CutNode(x, 0, 100, 400, piece=i, z=0, height=50) for i, x in ((0, 0), (1, 100)))
    low_half = CutNode(0, 0, 200, 400, "x", low, z=0, height=50)
    high_half = CutNode(0, 0, 200, 400, piece=2, z=50, height=50)
    left = CutNode(0, 0, 200, 400, "z", (low_half, high_half), height=100)
    right = CutNode(200, 0, 200, 400, piece=3, height=100)
    root = CutNode(0, 0, 400, 400, "x", (left, right), height=100)
    pieces = (
        Piece.slab("A", 100, 400, 50, 2, turns=(0,)),
        Piece.slab("B", 200, 400, 50, turns=(0,)),
        Piece.slab("C", 200, 400, 100, turns=(0,)),
    )
    placements = (
        Placement("A", 0, 0),
        Placement("A", 100, 0),
        Placement("B", 0, 0, z=50),
        Placement("C", 200, 0),
    )
    for order in ("slit first", "saw first", "best"):
        with pytest.raises(LayoutError, match=r"not (saw|slit) first: the"):
            verify(*brick(order, root, pieces, placements))


@pytest.mark.parametrize("order", ["slit first", "saw first", "best"])
def test_a_fourth_stage_in_the_footprint_is_refused(order: str) -> None:
    """Halves of halves of halves, in turn along x and y, five times over."""
    pieces: list[Piece] = []
    placements: list[Placement] = []

    def halved(x: float, y: float, length: float, width: float, cuts: int) -> CutNode:
        if cuts == 0:
            pieces.append(Piece.slab(f"P{len(pieces)}", length, width, 100, turns=(0,)))
            placements.append(Placement(pieces[-1].key, x, y))
            return CutNode(x, y, length, width, piece=len(placements) - 1, height=100)
        if cuts % 2:
            half = length / 2
            parts = (halved(x, y, half, width, cuts - 1), halved(x + half, y, half, width, cuts - 1))
            return CutNode(x, y, length, width, "x", parts, height=100)
        half = width / 2
        parts = (halved(x, y, length, half, cuts - 1), halved(x, y + half, length, half, cuts - 1))
        return CutNode(x, y, length, width, "y", parts, height=100)

    root = halved(0, 0, 400, 400, 3)
    verify(*brick(order, root, tuple(pieces), tuple(placements)))
    pieces, placements = [], []
    root = halved(0, 0, 400, 400, 4)
    with pytest.raises(LayoutError, match=r"needs? 4 stages of cuts; allowed are 3"):
        verify(*brick(order, root, tuple(pieces), tuple(placements)))


def test_a_slab_thinner_than_its_sheet_is_refused() -> None:
    """Thickness comes from slitting; it is never trimmed afterwards."""
    piece = Piece.slab("A", 400, 400, 90, turns=(0,))
    root = CutNode(0, 0, 400, 400, piece=0, height=100)
    with pytest.raises(LayoutError, match="measures 90 along z, but its leaf of the cut tree 100"):
        verify(*brick("best", root, (piece,), (Placement("A", 0, 0),)))


# --- Random layouts -----------------------------------------------------------------------------------


@given(guillotine_answers())
@settings(max_examples=60, deadline=None)
def test_random_guillotine_layouts_pass(case: tuple[SheetProblem, Answer]) -> None:
    """Trees that are right by construction."""
    verify(*case)


def lies_right(problem: SheetProblem, answer: Answer) -> bool:
    """By brute force, with another library's rectangles: all inside, and no two closer than the kerf."""
    layout = answer.layouts[0]
    boxes = []
    for piece, spot in zip(problem.pieces, layout.placements, strict=True):
        sides = (piece.length, piece.width) if spot.turn in (0.0, 180.0) else (piece.width, piece.length)
        boxes.append((spot.x, spot.y, spot.x + sides[0], spot.y + sides[1]))
    sheet = problem.sheets[0]
    noise = 1e-6
    if any(b[0] < -noise or b[1] < -noise for b in boxes):
        return False
    if any(b[2] > sheet.length + noise or b[3] > sheet.width + noise for b in boxes):
        return False
    grown = [shapely.box(x0, y0, x1 + problem.kerf, y1 + problem.kerf) for x0, y0, x1, y1 in boxes]
    return all(
        shapely.intersection(one, other).area < noise
        for i, one in enumerate(grown)
        for other in grown[i + 1 :]
    )


MOVES = st.integers(-300, 300).map(lambda steps: steps / 10)


@given(guillotine_answers(), st.integers(0, 100), MOVES, MOVES)
@settings(max_examples=80, deadline=None)
def test_a_moved_piece_never_passes_in_a_guillotine_layout(
    case: tuple[SheetProblem, Answer], pick: int, dx: float, dy: float
) -> None:
    """Whether or not the move makes an overlap, the piece has left its leaf."""
    problem, answer = case
    index = pick % len(problem.pieces)
    spot = answer.layouts[0].placements[index]
    moved = with_placement(answer, index, x=round(spot.x + dx, 1), y=round(spot.y + dy, 1))
    if (dx, dy) == (0, 0):
        verify(problem, moved)
    else:
        with pytest.raises(LayoutError, match="Layout 1: piece"):
            verify(problem, moved)


@given(guillotine_answers(stages=None), st.integers(0, 100), MOVES, MOVES)
@settings(max_examples=120, deadline=None)
def test_a_moved_piece_passes_a_free_layout_just_when_nothing_is_too_close(
    case: tuple[SheetProblem, Answer], pick: int, dx: float, dy: float
) -> None:
    """The sweep agrees with brute force on every pair."""
    problem, answer = case
    index = pick % len(problem.pieces)
    spot = answer.layouts[0].placements[index]
    moved = with_placement(answer, index, x=round(spot.x + dx, 1), y=round(spot.y + dy, 1))
    if lies_right(problem, moved):
        verify(problem, moved)
    else:
        with pytest.raises(LayoutError, match=r"overlap by|are needed|usable area"):
            verify(problem, moved)


@given(guillotine_answers(), st.data())
@settings(max_examples=80, deadline=None)
def test_a_stretched_box_never_passes(case: tuple[SheetProblem, Answer], data: st.DataObject) -> None:
    """Any box of the tree made longer or shorter breaks the tiling or its leaf; rests may be dust."""
    problem, answer = case
    root = answer.layouts[0].cuts
    assert root is not None
    paths: list[tuple[int, ...]] = [()]
    stack: list[tuple[CutNode, tuple[int, ...]]] = [(root, ())]
    while stack:
        node, path = stack.pop()
        for i, part in enumerate(node.parts):
            paths.append((*path, i))
            stack.append((part, (*path, i)))
    path = data.draw(st.sampled_from(paths))
    node = root
    for i in path:
        node = node.parts[i]
    more = data.draw(st.sampled_from([-40.0, -4.0, 4.0, 40.0]))
    with pytest.raises(LayoutError, match="Layout 1"):
        verify(problem, with_node(answer, path, length=round(node.length + more, 1)))
