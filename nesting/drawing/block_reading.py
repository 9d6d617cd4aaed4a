"""A block layout as its cutters see it: sheets from the bottom, or columns with their stacks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nesting.drawing.cuts import columns, leaves, levels
from nesting.drawing.pieces import PlacedPiece
from nesting.model import BlockMaterial, CutNode, Layout
from nesting.sawcuts import SawPlan
from nesting.sawplan import letters

__all__ = [
    "Column",
    "Level",
    "Stack",
    "block_columns",
    "block_levels",
    "is_slit_first",
    "sheet_list",
    "stacks",
]

SAME = 1e-6  # mm; heights closer than this are one


@dataclass(frozen=True, slots=True)
class Level:
    """One sheet of a slit-first block.

    Parameters
    ----------
    number
        1 at the bottom.
    low, thickness
        Lower face above the raw bottom of the block, and thickness, mm.
    plan
        Letter shared by sheets that are alike; empty for a sheet that is left over.
    pieces
        The pieces cut from it.
    node
        Its tree of cuts, if there is one.
    """

    number: int
    low: float
    thickness: float
    plan: str
    pieces: tuple[PlacedPiece, ...]
    node: CutNode | None


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a saw-first block: its name, its box and its slabs from the bottom."""

    letter: str
    node: CutNode
    slabs: tuple[PlacedPiece, ...]


@dataclass(frozen=True, slots=True)
class Stack:
    """Columns that are split alike: their names and the parts of one of them, from the bottom."""

    letters: tuple[str, ...]
    column: Column


def is_slit_first(layout: Layout) -> bool:
    """Whether the block is slit into sheets before it is sawn; without a tree it is shown so as well."""
    return layout.cuts is None or layout.cuts.axis == "z"


def _pieces_under(node: CutNode, pieces: Sequence[PlacedPiece]) -> tuple[PlacedPiece, ...]:
    return tuple(pieces[at] for leaf in leaves(node) for at in (leaf.piece, leaf.pair) if at is not None)


def block_levels(layout: Layout, material: BlockMaterial, pieces: Sequence[PlacedPiece]) -> tuple[Level, ...]:
    """The sheets of a slit-first block, from the bottom; sheets with the same pieces share a plan."""
    plans: dict[object, str] = {}
    result = []
    for number, node in enumerate(levels(layout, material.height - material.skins.z1), start=1):
        if layout.cuts is None:
            on_level = tuple(p for p in pieces if abs(p.placement.z - node.z) < SAME)
        else:
            on_level = _pieces_under(node, pieces)
        alike = frozenset(
            (p.number, p.placement.x, p.placement.y, p.placement.turn, p.placement.stand) for p in on_level
        )
        thickness = node.height
        plan = ""
        if on_level:
            plan = plans.setdefault((round(thickness, 4), alike), letters(len(plans)))
        result.append(Level(number, node.z, thickness, plan, on_level, None if layout.cuts is None else node))
    return tuple(result)


def block_columns(layout: Layout, pieces: Sequence[PlacedPiece], plan: SawPlan) -> tuple[Column, ...]:
    """The columns of a saw-first block that hold pieces, in cutting order, named as in its saw plan."""
    assert layout.cuts is not None
    names = {
        tuple(round(at, 4) for at in low): part.name.partition(" ")[2]
        for part in plan.parts
        if part.name.startswith("column")
        for low in part.lows
    }
    result: list[Column] = []
    for node in columns(layout.cuts):
        slabs = _pieces_under(node, pieces)
        if slabs:
            low = tuple(round(at, 4) for at in (node.x, node.y, node.z))
            # A column that is one slab is no part of the saw plan: it needs no cut.
            result.append(Column(names.get(low, f"no. {slabs[0].number}"), node, slabs))
    return tuple(result)


def stacks(found: Sequence[Column]) -> tuple[Stack, ...]:
    """Columns that are split alike, put together."""
    groups: dict[object, list[Column]] = {}
    for column in found:
        # With turn and stand, so that columns that are split alike are sawn alike too.
        slabs = tuple(
            (slab.number, round(slab.placement.z, 4), slab.placement.turn, slab.placement.stand)
            for slab in column.slabs
        )
        alike = (round(column.node.length, 4), round(column.node.width, 4), slabs)
        groups.setdefault(alike, []).append(column)
    return tuple(
        Stack(tuple(dict.fromkeys(column.letter for column in group)), group[0]) for group in groups.values()
    )


def sheet_list(alike: Sequence[Level]) -> str:
    """Which sheets, runs drawn together: ``"sheets 1-4, 6"``."""
    runs: list[list[int]] = []
    for level in alike:
        if runs and level.number == runs[-1][-1] + 1:
            runs[-1].append(level.number)
        else:
            runs.append([level.number])
    names = [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs]
    return f"{'sheet' if len(alike) == 1 else 'sheets'} {', '.join(names)}"
