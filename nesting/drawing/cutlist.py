"""The cut list: every cut of a material in the order in which a cutter meets it, as CSV."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from nesting.drawing.cutting_order import LayoutOrder, cutting_orders, stacks_in_order
from nesting.drawing.facts import lays_text
from nesting.drawing.pieces import is_lengths, placed_pieces, stand_words
from nesting.drawing.stock_facts import stock_words
from nesting.files import whole_file
from nesting.handout import Handed, orders_text, pile_of
from nesting.measures import delimiter, list_cell, measure, plain, unit
from nesting.model import BlockMaterial, Layout, MaterialPlan, Placement, RollMaterial
from nesting.sawcuts import Grouping

__all__ = ["CutRow", "cut_list_rows", "safe_cell", "write_cut_list"]

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes a cell that begins so for a formula (common advice on CSV injection)."""

FRACTION = re.compile(r" \d+/\d+$")


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """One line of the cut list. Lengths are as the workshop reads them (see `nesting.measures`)."""

    layout: int
    """Number of the layout, as on the maps."""
    lays: str
    """How the repeats are spread or cut: ``"3 lays: 10 + 10 + 5 plies"``, ``"4 sheets"``."""
    stock: str
    """Which pieces from the shelf and from where on them: ``"R-2 from 12.62 m x2"``; empty without any."""
    sequence: int
    """Place in the cutting order of this layout, from 1."""
    position: int
    """Position number, as on the maps."""
    code: str
    panel: str
    model: str
    size: str
    length: str
    width: str
    thickness: str
    turn: str
    """Degrees, counter-clockwise; with ``"flipped"`` when the piece is turned over first, and ``"stands on
    its side"`` or ``"stands on its end"`` for slabs that do."""
    x: str
    y: str
    z: str
    pieces_per_ply: int
    """How many pieces of this position the layout holds in one ply, sheet, block or bar."""
    total_pieces: int
    """How many pieces this one cut yields in all repeats."""
    goes_to: str
    """The pile of its product, or its orders, as the heading says."""
    orders: str
    """Which orders they are for, earliest due first: ``"A-17 x2; A-19 x4"``."""
    note: str


HEADINGS = {
    "goes_to": "goes to (by {group})",
    "pieces_per_ply": "pieces per ply",
    "total_pieces": "total pieces",
    "length": "length {unit}",
    "width": "width {unit}",
    "thickness": "thickness {unit}",
    "turn": "turn deg",
    "x": "x {unit}",
    "y": "y {unit}",
    "z": "z {unit}",
}
"""Headings that differ from the name of their field."""


def _times(material_plan: MaterialPlan, layout: Layout) -> str:
    material = material_plan.material
    if isinstance(material, RollMaterial) and not is_lengths(material_plan):
        return lays_text(layout.repeats, material.ply_limit)
    what: str = "bar" if isinstance(material, RollMaterial) else material.kind
    if isinstance(material, BlockMaterial) and material.cut_to is not None:
        what = "part"
    return f"{layout.repeats} {what}{'' if layout.repeats == 1 else 's'}"


def cut_list_rows(
    material_plan: MaterialPlan,
    cutting: Sequence[LayoutOrder] | None = None,
    group: Grouping = "product",
) -> Iterator[CutRow]:
    """The rows of the cut list, in cutting order.

    Layouts come in the order of the plan, their pieces in the order of `cutting_orders`. Orders get
    their pieces lay by lay, so that what is due first is cut first.

    Parameters
    ----------
    cutting
        What `cutting_orders` says of this material, where it is known already.
    group
        Whether pieces go to the piles of their products or to their orders.

    Raises
    ------
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    orders = cutting or cutting_orders(material_plan)
    handed: dict[tuple[int, int], list[Handed]] = {}
    for stack in stacks_in_order(material_plan, orders):
        handed.setdefault((stack.layout, stack.index), []).extend(stack.handed)
    for index, (layout, order) in enumerate(zip(material_plan.layouts, orders, strict=True)):
        pieces = placed_pieces(material_plan, index)
        counts: dict[int, int] = {}
        for piece in pieces:
            counts[piece.number] = counts.get(piece.number, 0) + 1
        for sequence, place in enumerate(order.pieces, start=1):
            piece = pieces[place]
            demand, placement, panel = piece.demand, piece.placement, piece.demand.panel
            for_orders = orders_text(handed[index + 1, place])
            yield CutRow(
                layout=index + 1,
                lays=_times(material_plan, layout),
                stock=stock_words(material_plan, index),
                sequence=sequence,
                position=piece.number,
                code=panel.code,
                panel=panel.name,
                model=demand.model,
                size=demand.size,
                length=list_cell(measure(panel.length)),
                width=list_cell(measure(panel.width)),
                thickness="" if panel.thickness is None else list_cell(measure(panel.thickness)),
                turn=_turn(placement),
                x=list_cell(measure(placement.x)),
                y=list_cell(measure(placement.y)),
                z=list_cell(measure(placement.z)),
                pieces_per_ply=counts[piece.number],
                total_pieces=layout.repeats,
                goes_to=for_orders if group == "order" else pile_of(demand),
                orders=for_orders,
                note=panel.note,
            )


def _turn(placement: Placement) -> str:
    """Degrees, and whether a piece is turned over or a slab stands."""
    words = plain(placement.turn % 360.0)
    if placement.mirrored:
        words += " flipped"
    return f"{words} stands {stand_words(placement)}" if placement.stand != "flat" else words


def safe_cell(value: object) -> object:
    """A cell that no spreadsheet runs as a formula and that stays on its line."""
    if not isinstance(value, str):
        return value
    return f"'{value}" if value.startswith(FORMULA_SIGNS) and not _is_number(value) else value


def _is_number(value: str) -> bool:
    """Whether it is a number of a list, be it ``"-1.5"``, ``"-1,5"`` or ``"-1 1/2"``."""
    try:
        float(FRACTION.sub("", value).replace(",", "."))
    except ValueError:
        return False
    return True


def write_cut_list(
    material_plan: MaterialPlan,
    path: Path,
    cutting: Sequence[LayoutOrder] | None = None,
    group: Grouping = "product",
) -> None:
    """Write the cut list of one material as CSV (UTF-8 with a mark, so that spreadsheets read every letter).

    Cells that a spreadsheet would run as a formula begin with an apostrophe.

    Parameters
    ----------
    cutting, group
        As for `cut_list_rows`.

    Raises
    ------
    FileError
        When the file cannot be written.
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    names = [field.name for field in fields(CutRow)]
    with (
        whole_file(path) as part,
        part.open("w", encoding="utf-8-sig", newline="", errors="replace") as stream,
    ):
        writer = csv.writer(stream, delimiter=delimiter())
        writer.writerow([HEADINGS.get(name, name).format(unit=unit(), group=group) for name in names])
        for row in cut_list_rows(material_plan, cutting, group):
            values = asdict(row)
            writer.writerow([safe_cell(values[name]) for name in names])
