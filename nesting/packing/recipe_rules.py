"""What the verifier knows of slabs that are glued up from parts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping

from nesting.packing.faults import fault
from nesting.packing.pieces import Piece
from nesting.packing.problem import Problem
from nesting.packing.solution import Answer, Glued, Part

__all__ = ["check_whole_slab", "glue_cost", "glued_copies", "part_piece"]


def check_whole_slab(part: Part | Glued | None, piece: Piece, where: str) -> None:
    """A slab that must be glued up may not lie in one piece."""
    if part is None and not piece.whole:
        fault(where, f"piece {piece.key!r} is cut in one piece, which it must not be")


def part_piece(part: Part | Glued | None, piece: Piece, where: str) -> Piece:
    """What lies there: the piece itself, or the part of one of its recipes, as a piece of its own."""
    if not isinstance(part, Glued):
        return piece
    name = f"piece {piece.key!r}"
    if not 0 <= part.recipe < len(piece.recipes):
        fault(
            where, f"{name} is glued by recipe {part.recipe}, counted from 0; there are {len(piece.recipes)}"
        )
    parts = piece.recipes[part.recipe].parts
    if not 0 <= part.index < len(parts):
        fault(where, f"{name} has part {part.index} of {len(parts)}, counted from 0")
    length, width, thickness = parts[part.index]
    return Piece.slab(piece.key, length, width, thickness, turns=piece.turns, standing=piece.standing)


def glued_copies(pieces: Mapping[str, Piece], answer: Answer) -> dict[tuple[str, int], int]:
    """Copies glued up, by key and recipe, after checking that there are as many of each part."""
    parts: dict[tuple[str, int], Counter[int]] = {}
    for layout in answer.layouts:
        for placement in layout.placements:
            if isinstance(placement.part, Glued):
                alike = parts.setdefault((placement.key, placement.part.recipe), Counter())
                alike[placement.part.index] += layout.repeats
    copies = {}
    for (key, recipe), counts in parts.items():
        found = [counts[index] for index in range(len(pieces[key].recipes[recipe].parts))]
        if len(set(found)) > 1:
            shown = " + ".join(map(str, found))
            fault("Plan", f"has {shown} parts of recipe {recipe} of {key!r}; there must be as many of each")
        copies[key, recipe] = found[0]
    return copies


def glue_cost(problem: Problem, answer: Answer) -> float:
    """What all gluing costs."""
    pieces = {piece.key: piece for piece in problem.pieces}
    return math.fsum(
        pieces[key].recipes[recipe].cost * copies
        for (key, recipe), copies in glued_copies(pieces, answer).items()
    )
