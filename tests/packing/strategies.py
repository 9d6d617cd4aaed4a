"""Random packing problems, and random layouts that are right by construction, for hypothesis."""

from __future__ import annotations

from typing import Literal

from hypothesis import strategies as st

from nesting.packing.problem import (
    Bar,
    Block,
    BlockProblem,
    Flaw,
    LinearProblem,
    Piece,
    RackProblem,
    Roll,
    RollProblem,
    Sheet,
    SheetProblem,
    Stages,
    Trim,
)
from nesting.packing.solution import Answer, CutNode, Layout, Placement

__all__ = [
    "block_problems",
    "guillotine_answers",
    "linear_problems",
    "rack_problems",
    "rectangles",
    "roll_problems",
    "sheet_problems",
    "tenths",
]

TURNS = [(0.0,), (90.0,), (0.0, 180.0), (0.0, 90.0), (0.0, 90.0, 180.0, 270.0)]


def tenths(least: int, most: int) -> st.SearchStrategy[float]:
    """Lengths in mm on the grid of 0.1 mm, limits in tenths."""
    return st.integers(least, most).map(lambda steps: round(steps / 10, 1))


@st.composite
def rectangles(
    draw: st.DrawFn, *, most: float = 100.0, kinds: int = 6, quantity: int = 5
) -> tuple[Piece, ...]:
    """Up to `kinds` rectangles with sides up to `most` mm, so that each fits stock of that size."""
    count = draw(st.integers(1, kinds))
    side = tenths(1, int(most * 10))
    return tuple(
        Piece.rectangle(
            f"P{index}", draw(side), draw(side), draw(st.integers(1, quantity)), draw(st.sampled_from(TURNS))
        )
        for index in range(count)
    )


@st.composite
def roll_problems(draw: st.DrawFn, stages: st.SearchStrategy[Stages] | None = None) -> RollProblem:
    """Small roll problems whose every piece fits in every turn."""
    pieces = draw(rectangles())
    least = max(max(piece.length, piece.width) for piece in pieces)
    return RollProblem(
        width=round(least + draw(tenths(0, 1000)), 1),
        pieces=pieces,
        gap=draw(tenths(0, 50)),
        stages=draw(stages or st.sampled_from([None, 2, 3, "any"])),
        max_marker_length=draw(st.none() | tenths(int(least * 10), int(least * 10) + 3000)),
    )


@st.composite
def sheet_problems(draw: st.DrawFn, stages: st.SearchStrategy[Stages] | None = None) -> SheetProblem:
    """Small sheet problems whose every piece fits every sheet in every turn."""
    pieces = draw(rectangles())
    trim = draw(tenths(0, 100))
    least = int(max(max(piece.length, piece.width) for piece in pieces) * 10 + 20 * trim)
    sheets = tuple(
        Sheet(
            f"S{index}",
            draw(tenths(least, least + 2000)),
            draw(tenths(least, least + 2000)),
            float(draw(st.integers(1, 20))),
            # The first size never runs out, so that a complete plan exists.
            None if index == 0 else draw(st.none() | st.integers(0, 3)),
            # A rest has no rim any more.
            draw(st.none() | st.just(Trim())),
        )
        for index in range(draw(st.integers(1, 3)))
    )
    return SheetProblem(
        sheets=sheets,
        pieces=pieces,
        kerf=draw(tenths(0, 50)),
        trim=trim,
        stages=draw(stages or st.sampled_from([None, 2, 3, "any"])),
    )


@st.composite
def block_problems(draw: st.DrawFn) -> BlockProblem:
    """Small block problems whose every slab fits every block in every turn."""
    flat = draw(rectangles(kinds=4, quantity=4))
    pieces = tuple(
        Piece.slab(
            piece.key,
            piece.length,
            piece.width,
            draw(st.sampled_from([20.0, 35.5, 50.0])),
            piece.quantity,
            draw(st.sampled_from([(0.0,), (0.0, 90.0)])),
            standing=draw(st.booleans()),
        )
        for piece in flat
    )
    least = int(max(max(piece.length, piece.width) for piece in pieces) * 10) + 100
    orders: list[Literal["slit first", "saw first", "best"]] = ["slit first", "saw first", "best"]
    blocks = tuple(
        Block(
            f"K{index}",
            draw(tenths(least, least + 1500)),
            draw(tenths(least, least + 1500)),
            draw(tenths(700, 2000)),
            float(draw(st.integers(1, 20))),
        )
        for index in range(draw(st.integers(1, 2)))
    )
    return BlockProblem(
        blocks=blocks,
        pieces=pieces,
        kerf=draw(tenths(0, 20)),
        trim=draw(tenths(0, 50)),
        order=draw(st.sampled_from(orders)),
    )


@st.composite
def linear_problems(draw: st.DrawFn, *, kinds: int = 4, quantity: int = 3, joins: int = 0) -> LinearProblem:
    """Small bar problems; bars may run out, and pieces may be too long. Up to so many joins."""
    bars = tuple(
        Bar(
            f"B{index}",
            draw(tenths(400, 1000)),
            float(draw(st.integers(1, 9))),
            draw(st.none() | st.integers(0, 3)),
        )
        for index in range(draw(st.integers(1, 3)))
    )
    pieces = tuple(
        Piece.linear(
            f"L{index}",
            draw(tenths(50, 1200 if joins else 600)),
            draw(st.integers(1, quantity)),
            joins=draw(st.integers(0, joins)),
            least=draw(tenths(41, 200)) if joins else 0.0,
            seam=draw(tenths(0, 20)) if joins else 0.0,
        )
        for index in range(draw(st.integers(1, kinds)))
    )
    return LinearProblem(bars=bars, pieces=pieces, kerf=draw(tenths(0, 30)))


@st.composite
def guillotine_answers(draw: st.DrawFn, stages: Stages = "any") -> tuple[SheetProblem, Answer]:
    """A sheet cut at random, face to face, and the problem that it answers; right by construction."""
    kerf = draw(st.sampled_from([0, 5, 30]))
    length, width = draw(st.integers(300, 3000)), draw(st.integers(300, 3000))
    pieces: list[Piece] = []
    placements: list[Placement] = []

    def part(x: int, y: int, dx: int, dy: int, depth: int) -> CutNode:
        axis: Literal["x", "y"] = draw(st.sampled_from(["x", "y"]))
        room = dx if axis == "x" else dy
        if depth < 3 and room > kerf + 20 and draw(st.integers(0, 3)):
            at = draw(st.integers(10, room - kerf - 10))
            rest = room - at - kerf
            if axis == "x":
                parts = (part(x, y, at, dy, depth + 1), part(x + at + kerf, y, rest, dy, depth + 1))
            else:
                parts = (part(x, y, dx, at, depth + 1), part(x, y + at + kerf, dx, rest, depth + 1))
            return CutNode(x / 10, y / 10, dx / 10, dy / 10, axis, parts)
        if placements and draw(st.integers(0, 4)) == 0:
            return CutNode(x / 10, y / 10, dx / 10, dy / 10)
        turn = draw(st.sampled_from([0.0, 90.0, 180.0, 270.0]))
        sides = (dx, dy) if turn in (0.0, 180.0) else (dy, dx)
        pieces.append(Piece.rectangle(f"P{len(pieces)}", sides[0] / 10, sides[1] / 10, turns=(turn,)))
        placements.append(Placement(pieces[-1].key, x / 10, y / 10, turn))
        return CutNode(x / 10, y / 10, dx / 10, dy / 10, piece=len(placements) - 1)

    root = part(0, 0, length, width, 0)
    problem = SheetProblem(
        (Sheet("S", length / 10, width / 10),), tuple(pieces), kerf=kerf / 10, stages=stages
    )
    layout = Layout("S", tuple(placements), length / 10, cuts=root if stages is not None else None)
    return problem, Answer(layouts=(layout,), value=1.0, bound=1.0)


@st.composite
def rack_problems(draw: st.DrawFn, stages: st.SearchStrategy[Stages] | None = None) -> RackProblem:
    """Small racks: rolls with and without end, some flawed; stock may be short."""
    pieces = draw(rectangles(kinds=4))
    least = int(max(max(piece.length, piece.width) for piece in pieces) * 10)
    rolls = []
    for index in range(draw(st.integers(1, 3))):
        width = draw(tenths(max(100, least // 2), least + 1000))
        if draw(st.booleans()):
            rolls.append(Roll(f"R{index}", width, cost=float(draw(st.integers(1, 9)))))
            continue
        length = draw(tenths(500, least + 3000))
        flaws = []
        for _ in range(draw(st.integers(0, 2))):
            x0, y0 = draw(tenths(0, int(length * 10))), draw(tenths(0, int(width * 10)))
            y1 = draw(st.none() | tenths(1, 300).map(lambda wide, low=y0: low + wide))
            flaws.append(Flaw(x0, x0 + draw(tenths(1, 200)), 0.0 if y1 is None else y0, y1))
        rolls.append(
            Roll(
                f"R{index}",
                width,
                length,
                float(draw(st.integers(1, 9))),
                draw(st.none() | st.integers(0, 3)),
                tuple(flaws),
            )
        )
    return RackProblem(
        rolls=tuple(rolls),
        pieces=pieces,
        gap=draw(st.sampled_from([0.0, 0.5, 3.0])),
        stages=draw(stages or st.sampled_from([None, 2, 3, "any"])),
        max_marker_length=draw(st.none() | tenths(least, least + 2000)),
        end_loss=draw(st.sampled_from([0.0, 0.0, 1.0, 12.5])),
    )
