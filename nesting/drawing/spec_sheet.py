"""The specification of one model and size: its parts, what they are of, the values behind them, the marks.

Pages with lists come first, then the pages of `panel_sheet`, on which every part is drawn to scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.drawing.legend import COLUMN_GAP, draw_in_columns, drawn_height, height_in_columns
from nesting.drawing.mark_legend import MARK_WORDS
from nesting.drawing.panel_sheet import panel_sheet
from nesting.drawing.paper import Header, Page, Paper, find_paper, without_notices
from nesting.drawing.scene import Scene, Text, piece_style
from nesting.drawing.sketch import Box, Sketch
from nesting.drawing.tables import Column, Row, Table, table_height, table_width
from nesting.measures import amount, fixed, measure, measures_note, plain, shown_amount, unit, with_unit
from nesting.model import BlockMaterial, Mark, Material, Panel, RollMaterial

__all__ = ["Specification", "spec_sheet"]

SMALLEST = 25.0
"""Parts are drawn at 1:25 or larger, on as many pages as that takes."""

LEAST_ROWS = 3
"""A table is not begun for fewer rows than that."""

LENGTHS = {"mm": "mm", "in": "inches"}

CAUTION = (
    "This sheet says what is cut and with which values. It does not certify fire performance or safety; a "
    "change of material, filling or layer order may end the validity of an earlier test. Machine work is for "
    "trained people."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Specification:
    """All that a specification sheet tells.

    Parameters
    ----------
    range_name, model, size, note
        Names, and the model's remark.
    width, length, height
        Finished size, mm.
    panels
        In the order of the model.
    materials
        By key.
    values
        Allowances and options: name, value in words, codes of the parts.
    stamp
        What made the sheet.
    """

    range_name: str
    model: str
    size: str
    note: str
    width: float
    length: float
    height: float
    panels: tuple[Panel, ...]
    materials: Mapping[str, Material]
    values: tuple[tuple[str, str, str], ...]
    stamp: str

    @property
    def title(self) -> str:
        """Model and size."""
        return f"{self.model}, {self.size}"


def spec_sheet(spec: Specification, paper: str) -> tuple[Scene, ...]:
    """The pages of a specification, lying; called inside `nesting.measures.shown_for`.

    Raises
    ------
    DrawingError
        When there is no such paper.
    """
    sheet = find_paper(paper)
    pages = _list_pages(spec, sheet)
    title = f"{spec.title} ({measure(spec.width)} x {with_unit(spec.length)})"
    drawn = panel_sheet(
        title, spec.panels, spec.materials, paper, smallest=SMALLEST, before=len(pages), explained=True
    )
    total = len(pages) + len(drawn)
    scenes = []
    for number, page in enumerate(pages, start=1):
        words = f"page {number} of {total}"
        size = 1.5 * sheet.least
        line = page.frame.high - 2.0 * sheet.least
        page.add(Text(page.frame.right, line, words, size, "end"))
        scene = Scene(
            title=f"{spec.title}: specification ({words})",
            width=sheet.width,
            height=sheet.height,
            items=tuple(page.items),
        )
        scenes.append(scene)
    return (*scenes, *drawn)


def _list_pages(spec: Specification, paper: Paper) -> list[Page]:
    """The lists, and what the marks mean."""
    cells = (
        ("Finished width", with_unit(spec.width)),
        ("Finished length", with_unit(spec.length)),
        ("Finished height", with_unit(spec.height)),
        ("Parts cut for one bed", str(sum(panel.pieces for panel in spec.panels))),
        ("Measures", measures_note()),
    )
    header = Header(
        title=f"{spec.title}: specification",
        heading=spec.range_name,
        cells=cells,
        notices=(spec.note,) if spec.note else (),
        caution=CAUTION,
        stamp=spec.stamp,
    )
    pages = [Page(paper, header)]
    box = pages[0].body
    values, places = _values(spec), _places(spec)
    for table in (_parts(spec), _materials(spec), values, places):
        if table is values and _side_by_side(pages[-1], values, places, box, paper.least):
            break
        rest: tuple[Table, ...] = (table,) if table.rows else ()
        while rest:
            part = rest[0]
            if table_height(min(LEAST_ROWS, len(part.rows)), paper.least) <= box.height:
                high = drawn_height(part, box, paper.least)
                rest = draw_in_columns(pages[-1], part, box, paper.least)
                box = Box(box.left, box.low, box.right, box.high - high - 1.5 * paper.least)
            if rest:
                pages.append(Page(paper, without_notices(header)))
                box = pages[-1].body
    return pages


def _side_by_side(sketch: Sketch, left: Table, right: Table, box: Box, size: float) -> bool:
    """Draw two tables beside each other, where they fit so; whether they did."""
    gap = 2.0 * COLUMN_GAP * size
    wide = table_width(right, size)
    for columns in (1, 2):
        begin = box.right - columns * wide - (columns - 1) * COLUMN_GAP * size
        one = Box(box.left, box.low, begin - gap, box.high)
        other = Box(begin, box.low, box.right, box.high)
        fits = all(
            area.width >= table_width(table, size) - 1e-6
            and height_in_columns(table, area.width, size) <= area.height
            for table, area in ((left, one), (right, other))
            if table.rows
        )
        if fits:
            draw_in_columns(sketch, left, one, size)
            draw_in_columns(sketch, right, other, size)
            return True
    return False


def _parts(spec: Specification) -> Table:
    """Every part, with the sample by which it is found on the drawings."""
    codes = {code: kind for kind, code in enumerate(sorted({panel.code for panel in spec.panels}))}
    thick = any(panel.thickness is not None for panel in spec.panels)
    columns = [
        Column("Code"),
        Column("Part", gives_way=True),
        Column("Material", gives_way=True),
        Column(f"Length, {unit()}", "end"),
        Column(f"Width, {unit()}", "end"),
        *([Column(f"Thick, {unit()}", "end")] if thick else []),
        Column("Per bed", "end"),
        Column("Shape"),
        Column("May be turned"),
        Column("Each", "end"),
        Column("Remark", gives_way=True),
    ]
    rows = []
    for panel in spec.panels:
        flip = ", flipped" if panel.mirror else ""
        turns = ", ".join(f"{plain(turn)}°" for turn in panel.turns if turn % 360.0)
        cells = [
            panel.code,
            panel.name,
            _name(spec, panel.material),
            measure(panel.length),
            measure(panel.width),
            *([measure(panel.thickness) if panel.thickness is not None else "-"] if thick else []),
            str(panel.pieces),
            "outline" if panel.outline else "rectangle",
            (turns or "no") + flip,
            _amount(panel, spec.materials.get(panel.material), 1),
            panel.note,
        ]
        rows.append(Row(tuple(cells), piece_style(codes[panel.code])))
    return Table("Parts, cut sizes with all allowances", tuple(columns), tuple(rows))


def _name(spec: Specification, key: str) -> str:
    material = spec.materials.get(key)
    return material.name if material else key


def _amount(panel: Panel, material: Material | None, pieces: int) -> str:
    if isinstance(material, BlockMaterial):
        return shown_amount(panel.volume * pieces, "m3", 4)
    if isinstance(material, RollMaterial) and material.process == "lengths":
        return shown_amount(panel.length * pieces / 1e3, "m", 2)
    return shown_amount(panel.area * pieces, "m2", 3)


def _materials(spec: Specification) -> Table:
    """What one bed has of each material, in its pieces alone."""
    columns = (
        Column("Material", gives_way=True),
        Column("As bought"),
        Column("Grain"),
        Column("Parts", gives_way=True),
        Column("In one bed", "end"),
        Column("Mass", "end"),
        Column("Fire reference", gives_way=True),
    )
    rows = []
    for key in dict.fromkeys(panel.material for panel in spec.panels):
        material = spec.materials.get(key)
        if material is None:
            continue
        panels = [panel for panel in spec.panels if panel.material == key]
        cells = (
            material.name,
            _bought(material),
            "-" if isinstance(material, BlockMaterial) else material.grain,
            ", ".join(panel.code for panel in panels),
            _together(panels, material),
            _mass(panels, material),
            material.fire_reference or "-",
        )
        rows.append(Row(cells))
    return Table("Materials; what is in the parts, without cutting losses", columns, tuple(rows))


def _bought(material: Material) -> str:
    if isinstance(material, RollMaterial):
        return f"roll {with_unit(material.width)} wide, {with_unit(material.usable_width)} usable"
    sides = [material.length, material.width]
    if isinstance(material, BlockMaterial):
        sides.append(material.height)
    elif material.thickness is not None:
        sides.append(material.thickness)
    return f"{material.kind} {' x '.join(measure(side) for side in sides)} {unit()}"


def _together(panels: Sequence[Panel], material: Material) -> str:
    if isinstance(material, BlockMaterial):
        return shown_amount(sum(panel.volume * panel.pieces for panel in panels), "m3", 4)
    if isinstance(material, RollMaterial) and material.process == "lengths":
        return shown_amount(sum(panel.length * panel.pieces for panel in panels) / 1e3, "m", 2)
    return shown_amount(sum(panel.area * panel.pieces for panel in panels), "m2", 3)


def _mass(panels: Sequence[Panel], material: Material) -> str:
    if isinstance(material, BlockMaterial):
        mass = sum(panel.volume * panel.pieces for panel in panels) * material.density
    else:
        mass = sum(panel.area * panel.pieces for panel in panels) * material.mass
    shown, heavy = amount(mass, "kg")
    return f"{fixed(shown, 2)} {heavy}" if mass else "-"


def _values(spec: Specification) -> Table:
    columns = (
        Column("Allowance or option", gives_way=True),
        Column("Value", "end"),
        Column("Parts", gives_way=True),
    )
    return Table(
        f"Values that went into the cut sizes, lengths in {LENGTHS[unit()]}",
        columns,
        tuple(Row(value) for value in spec.values),
    )


def _places(spec: Specification) -> Table:
    """Where marks lie: measured from the left end and the lower edge, as drawn."""
    columns = (
        Column("Code"),
        Column("Mark"),
        Column("Words", gives_way=True),
        Column(f"From the left, {unit()}", "end"),
        Column(f"From below, {unit()}", "end"),
    )
    rows = []
    for panel in spec.panels:
        for mark in panel.marks:
            words = "" if mark.text == mark.kind else mark.text
            cells = (panel.code, MARK_WORDS[mark.kind][0], words, _along(mark, 0), _along(mark, 1))
            rows.append(Row(cells))
    return Table("Marks, as the parts are drawn", columns, tuple(dict.fromkeys(rows)))


def _along(mark: Mark, axis: int) -> str:
    places = [point[axis] for point in mark.points]
    low, high = min(places), max(places)
    return measure(low) if high - low < 0.05 else f"{measure(low)} to {measure(high)}"
