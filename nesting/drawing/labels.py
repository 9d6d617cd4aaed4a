"""Labels for cut pieces and for rests, in the order in which they are needed.

The code of a label holds the same as its words (of the material its key): `fields`, with semicolons between
them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from nesting.drawing.cutting_order import LayoutOrder, cutting_orders, stacks_in_order
from nesting.drawing.facts import STOCK_WORDS
from nesting.drawing.lettering import fitting_size, shortened
from nesting.drawing.pieces import is_lengths
from nesting.drawing.qr import qr_lines
from nesting.drawing.scene import Item, Text
from nesting.drawing.sketch import Box
from nesting.handout import Handed, Handout
from nesting.measures import measure, unit
from nesting.model import MaterialPlan, Plan
from nesting.sawplan import saw_plans

__all__ = ["PieceLabel", "RestLabel", "draw_label_in", "piece_labels", "rest_labels"]

PAD = 2.0  # mm
CODE_SHARE = 0.42
"""Share of a label's width that the code may take."""

MOST_CODE = 32.0  # mm
ROUNDING = 1e-6  # mm
LEADING = 1.55
PLAIN = 0.85
"""Size of plain words over that of bold ones."""

MOST_LETTERS, LEAST_LETTERS = 3.2, 1.2  # mm, height of capitals
BLANK = "…" * 8
"""Room to write on by hand what the plan does not know."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLabel:
    """What is said of one piece.

    Parameters
    ----------
    order, due
        Order number and ISO date; the date is empty for extra pieces.
    number, of
        Which of the order line's pieces of this panel it is, and how many there are; `of` is 0 for extra
        pieces.
    position
        Number on the maps.
    layout, sequence, lay
        Number of the layout; place in its cutting order, or number of the saw cut that frees it; which lay,
        sheet, block or bar. All from 1; `lay` is 0 for pieces of several blocks that are cut alike.
    """

    order: str
    due: str
    model: str
    size: str
    code: str
    panel: str
    number: int
    of: int
    material: str
    key: str
    kind: str
    position: int
    layout: int
    sequence: int
    lay: int
    plan: str

    @property
    def count(self) -> str:
        """``"3 of 8"``."""
        return f"{self.number} of {self.of}" if self.of else f"extra {self.number}"

    @property
    def place(self) -> str:
        """Where it is cut."""
        cut = "saw cut" if self.kind == "block" else "cut"
        lay = f", {'lay' if self.kind == 'marker' else self.kind} {self.lay}" if self.lay else ""
        layout = "Marker" if self.kind == "marker" else "Layout"
        return f"{layout} {self.layout}, {cut} {self.sequence}{lay}"

    @property
    def lines(self) -> tuple[tuple[str, bool], ...]:
        """The lines of words, and whether they are bold."""
        return (
            (self.order, True),
            (f"due {self.due}" if self.due else "for no order", False),
            (f"{self.model}  {self.size}", False),
            (f"{self.code}   {self.count}", True),
            (self.panel, False),
            (self.material, False),
            (self.place, False),
            (f"no. {self.position}, plan {self.plan}", False),
        )

    @property
    def fields(self) -> tuple[str, ...]:
        """What the code says."""
        return (
            "piece",
            self.order,
            self.due,
            self.model,
            self.size,
            self.code,
            self.panel,
            f"{self.number}/{self.of}",
            self.key,
            f"{self.layout}.{self.sequence}.{self.lay}",
            str(self.position),
            self.plan,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RestLabel:
    """What is said of one rest that goes back to stock.

    Parameters
    ----------
    id, lot
        Of the stock piece it is a rest of, where that is known.
    length, width, height
        mm; the height is 0 for flat material.
    number, of
        Which of several alike.
    """

    id: str
    lot: str
    material: str
    key: str
    length: float
    width: float
    height: float
    source: str
    number: int
    of: int
    made: str
    plan: str

    @property
    def size(self) -> str:
        """``"2000 x 2250 mm"``, in the workshop's units."""
        sides = [self.length, self.width] + ([self.height] if self.height else [])
        return f"{' x '.join(measure(side) for side in sides)} {unit()}"

    @property
    def lines(self) -> tuple[tuple[str, bool], ...]:
        """The lines of words, and whether they are bold."""
        return (
            (f"REST   {self.number} of {self.of}", True),
            (self.material, True),
            (self.size, True),
            (f"from {self.id}, {self.source}" if self.id else f"from {self.source}", False),
            (f"own id {BLANK}", False),
            (f"lot {self.lot or BLANK}", False),
            (f"plan {self.plan}, {self.made}", False),
        )

    @property
    def fields(self) -> tuple[str, ...]:
        """What the code says; measures in mm whatever the workshop prefers."""
        sides = (f"{side:g}" for side in (self.length, self.width, self.height))
        return (
            "rest",
            self.id,
            self.lot,
            self.key,
            "x".join(sides),
            self.source,
            f"{self.number}/{self.of}",
            self.made,
            self.plan,
        )


def piece_labels(
    plan: Plan,
    material_plan: MaterialPlan,
    cutting: Sequence[LayoutOrder] | None = None,
    only: Collection[int] | None = None,
) -> Iterator[PieceLabel]:
    """One label for every piece of a material, in cutting order.

    Parameters
    ----------
    plan
        For its number.
    cutting
        What `cutting_orders` says of this material, where it is known already.
    only
        Numbers of the layouts to make labels for, from 1; None for all. Who gets which piece does not
        depend on it.

    Raises
    ------
    LayoutError
        When a layout refers to a piece that is not among the demands.
    """
    kind = "roll" if is_lengths(material_plan) else STOCK_WORDS[material_plan.material.kind]
    demands = {d.key: (number, d) for number, d in enumerate(material_plan.demands, start=1)}
    number_of_plan = plan.number or plan.made
    for layout, sequence, lay, key, handed in _in_cutting_order(material_plan, cutting):
        if only is not None and layout not in only:
            continue
        position, demand = demands[key]
        for part in handed:
            for number in range(part.first, part.first + part.count):
                yield PieceLabel(
                    order=part.order,
                    due=part.due,
                    model=demand.model,
                    size=demand.size,
                    code=demand.panel.code,
                    panel=demand.panel.name,
                    number=number,
                    of=part.of,
                    material=material_plan.material.name,
                    key=material_plan.material.key,
                    kind=kind,
                    position=position,
                    layout=layout,
                    sequence=sequence,
                    lay=lay,
                    plan=number_of_plan,
                )


def _in_cutting_order(
    material_plan: MaterialPlan, cutting: Sequence[LayoutOrder] | None
) -> Iterator[tuple[int, int, int, str, tuple[Handed, ...]]]:
    """Layout, place in its cutting order, lay, demand and whom its pieces are for.

    Foam blocks follow their saw plan, as its list of orders does.
    """
    layouts = material_plan.layouts
    if material_plan.material.kind == "block" and all(layout.cuts for layout in layouts):
        handout = Handout(material_plan.demands)
        for number, plan in enumerate(saw_plans(material_plan), start=1):
            for cut in plan.cuts:
                for freed in cut.frees:
                    if freed.key is not None:
                        count = cut.copies * plan.repeats
                        lay = 1 if plan.repeats == 1 else 0
                        yield number, cut.number, lay, freed.key, handout.hand(freed.key, count)
        return
    for stack in stacks_in_order(material_plan, cutting or cutting_orders(material_plan)):
        key = layouts[stack.layout - 1].placements[stack.index].key
        yield stack.layout, stack.sequence, stack.lay, key, stack.handed


def rest_labels(plan: Plan, material_plan: MaterialPlan) -> Iterator[RestLabel]:
    """One label for every rest that the plan says is worth keeping."""
    ids = {use.name: use.piece for use in material_plan.stock}
    lots = {piece.id: piece.lot for piece in material_plan.shelf}
    for rest in material_plan.remnants:
        for number in range(1, rest.quantity + 1):
            yield RestLabel(
                id=ids.get(rest.source, ""),
                lot=lots.get(ids.get(rest.source, ""), ""),
                material=material_plan.material.name,
                key=material_plan.material.key,
                length=rest.length,
                width=rest.width,
                height=rest.height,
                source=rest.source,
                number=number,
                of=rest.quantity,
                made=plan.made,
                plan=plan.number or plan.made,
            )


def draw_label_in(label: PieceLabel | RestLabel, box: Box) -> Iterator[Item]:
    """A label that fills a box: its code on the right, its words beside it."""
    side = min(box.height - 2.0 * PAD, CODE_SHARE * box.width, MOST_CODE)
    words = ";".join(field.replace(";", ",") for field in label.fields)
    right, middle = box.right - PAD / 2.0, (box.low + box.high) / 2.0
    yield from qr_lines(words, Box(right - side, middle - side / 2.0, right, middle + side / 2.0))
    room = Box(box.left + PAD, box.low + PAD, right - side, box.high - PAD)
    size = min(MOST_LETTERS, room.height / (LEADING * len(label.lines)))
    y = room.high - size
    for line, bold in label.lines:
        fit = (
            fitting_size(line, room.width, size * (1.0 if bold else PLAIN), LEAST_LETTERS, bold)
            or LEAST_LETTERS
        )
        yield Text(room.left, y, shortened(line, room.width + ROUNDING, fit, bold), fit, bold=bold)
        y -= (room.height - size) / (len(label.lines) - 1)
