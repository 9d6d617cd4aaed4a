"""From a material and its demand to a packing problem."""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

from nesting.model import BlockMaterial, Demand, Material, RollMaterial, SheetMaterial, StockPiece
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
    Stages,
)
from nesting.recipes import recipes_of

__all__ = ["longest_marker", "problem_for"]

_STAGES: dict[str, Stages] = {
    "free knife": None,
    "guillotine": "any",
    "guillotine 2": 2,
    "guillotine 3": 3,
}


def longest_marker(material: RollMaterial) -> float:
    """Longest marker that the cutting table and one roll allow, mm; a ply loses both its ends."""
    whole_roll = material.roll_length - 2 * material.end_loss
    table = material.max_marker_length
    return whole_roll if table is None else min(table, whole_roll)


def problem_for(material: Material, demands: Sequence[Demand], stock: Sequence[StockPiece] = ()) -> Problem:
    """The packing problem of one material.

    Parameters
    ----------
    material
        What is cut.
    demands
        What is wanted; their keys become the keys of the pieces.
    stock
        What stands on the shelf of this material, free to be used; not used as yet.
    """
    if isinstance(material, RollMaterial):
        if material.process == "lengths":
            bar = Bar("roll", longest_marker(material), cost=longest_marker(material))
            lengths = [Piece.linear(d.key, d.panel.length, d.quantity) for d in demands]
            return LinearProblem((bar,), tuple(lengths), kerf=material.gap)
        return RollProblem(
            width=material.usable_width,
            pieces=tuple(_flat(demand) for demand in demands),
            gap=material.gap,
            stages=_STAGES[material.process],
            max_marker_length=longest_marker(material),
            end_loss=2 * material.end_loss,
        )
    if isinstance(material, SheetMaterial):
        sheet = Sheet("sheet", material.length, material.width, material.price or 1.0, material.available)
        return SheetProblem(
            sheets=(sheet,),
            pieces=tuple(_flat(demand) for demand in demands),
            kerf=material.kerf,
            trim=material.trim,
            stages=_STAGES[material.process],
        )
    if isinstance(material, BlockMaterial):
        volume = material.length * material.width * material.height / 1e9
        block = Block(
            "block",
            material.length,
            material.width,
            material.height,
            volume * material.price or 1.0,
            material.available,
        )
        return BlockProblem(
            blocks=(block,),
            pieces=tuple(_slab(demand, material, demands) for demand in demands),
            kerf=material.kerf,
            trim=material.skins,
            order=material.order,
        )
    assert_never(material)


def _flat(demand: Demand) -> Piece:
    panel = demand.panel
    if panel.outline:
        return Piece.polygon(demand.key, panel.outline, demand.quantity, panel.turns, panel.mirror)
    return Piece.rectangle(demand.key, panel.length, panel.width, demand.quantity, panel.turns)


def _slab(demand: Demand, material: BlockMaterial, demands: Sequence[Demand]) -> Piece:
    panel = demand.panel
    if panel.thickness is None:
        raise ValueError(f"{demand.key}: a panel cut from a block needs a thickness")
    return Piece.slab(
        demand.key,
        panel.length,
        panel.width,
        panel.thickness,
        demand.quantity,
        panel.turns,
        recipes=recipes_of(panel, material, [other.panel for other in demands]),
        whole=panel.glue is None or panel.glue.whole,
    )
