"""The cut list: every cut of a material in the order in which a cutter meets it, as CSV."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from nesting.drawing.cuts import piece_order
from nesting.drawing.facts import lays_text
from nesting.drawing.pieces import is_lengths, placed_pieces, stand_words
from nesting.files import whole_file
from nesting.handout import Handout
from nesting.measures import delimiter, list_cell, measure, unit
from nesting.model import BlockMaterial, Layout, MaterialPlan, Placement, RollMaterial

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
    orders: str
    """Which orders they are for, earliest due first: ``"A-17 x2; A-19 x4"``."""
    note: str


HEADINGS = {
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


def cut_list_rows(material_plan: MaterialPlan) -> Iterator[CutRow]:
    """The rows of the cut list, in cutting order.

    Layouts come in the order of the plan. Within one, pieces come as a cutter meets them: in the
    order of the tree of cuts where there is one (sheet by sheet from the bottom of a block), else by
    x and then y.

    Raises
    ------
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    orders = Handout(material_plan.demands)
    for index, layout in enumerate(material_plan.layouts):
        pieces = placed_pieces(material_plan, index)
        counts: dict[int, int] = {}
        for piece in pieces:
            counts[piece.number] = counts.get(piece.number, 0) + 1
        for sequence, place in enumerate(piece_order(layout), start=1):
            piece = pieces[place]
            demand, placement, panel = piece.demand, piece.placement, piece.demand.panel
            yield CutRow(
                layout=index + 1,
                lays=_times(material_plan, layout),
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
                orders=orders.take(demand.key, layout.repeats),
                note=panel.note,
            )


def _turn(placement: Placement) -> str:
    """Degrees, and whether a piece is turned over or a slab stands."""
    words = measure(placement.turn % 360.0)
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


def write_cut_list(material_plan: MaterialPlan, path: Path) -> None:
    """Write the cut list of one material as CSV (UTF-8 with a mark, so that spreadsheets read every letter).

    Cells that a spreadsheet would run as a formula begin with an apostrophe.

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
        writer.writerow([HEADINGS.get(name, name).format(unit=unit()) for name in names])
        for row in cut_list_rows(material_plan):
            values = asdict(row)
            writer.writerow([safe_cell(values[name]) for name in names])
