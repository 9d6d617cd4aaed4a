"""What the header of a map says: how often, how many, how well used; and a caution for each kind of work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nesting.blocks import block_of, is_long
from nesting.drawing.cuts import usable_box, with_skin
from nesting.drawing.paper import Header
from nesting.drawing.pieces import PlacedPiece, is_lengths, measure, size_text
from nesting.drawing.stock_facts import flaw_lines, seen_flaws, stock_lines, stock_material
from nesting.measures import cut_measure, measures_note, percent, reworded, shown_amount, unit, with_unit
from nesting.model import BlockMaterial, Layout, Material, MaterialPlan, Plan, RollMaterial

__all__ = ["STOCK_WORDS", "caution", "efficiency", "header", "lays", "lays_text", "often"]

COMMON_CAUTION = (
    "This tool plans cutting only; it does not test or certify fire performance, safety or legal compliance. "
    "The codes of the place of work and of sale and the machine maker's instructions come first."
)
CAUTIONS = {
    "roll": "Blades cut hands and arms: guard down, cut-resistant glove on the free hand, trained people "
    "only. Lay no more plies than the blade and the ply limit allow.",
    "sheet": "Saw blades cut and throw back: guard just above the board, push aid for narrow parts, dust "
    "drawn off, trained people only.",
    "block": "Foam saws and slitters: guard down to just above the foam, push aids for small parts, trained "
    "people only. Draw off dust, no sparks or flames. No hot wire on polyurethane: its fumes are poisonous. "
    "Foam burns fast with thick, toxic smoke: keep blocks, stacks and scrap few, apart from the work and "
    "away from exits. Fresh blocks may heat up by themselves: stack and cut them only once their core is as "
    "cool as their maker says. Blocks and slabs are heavy: above {limit} two people or a lifting aid.",
}
"""By kind of material; guarding, dust and fire load after common practice in foam and cloth cutting rooms."""

STOCK_WORDS = {"roll": "marker", "sheet": "sheet", "block": "block"}


def caution(material_plan: MaterialPlan) -> str:
    """The caution printed on every page of this material."""
    material = material_plan.material
    limit = shown_amount(material.lift_limit, "kg", 0) if isinstance(material, BlockMaterial) else ""
    return f"{CAUTIONS[material.kind].format(limit=limit)} {COMMON_CAUTION}"


def lays(plies: int, ply_limit: int) -> tuple[int, ...]:
    """Plies of each lay when `plies` are spread at most `ply_limit` at a time: full lays first."""
    full, rest = divmod(plies, ply_limit)
    return (ply_limit,) * full + ((rest,) if rest else ())


def lays_text(plies: int, ply_limit: int) -> str:
    """The lays in words: ``"3 lays: 10 + 10 + 5 plies"``."""
    sizes = lays(plies, ply_limit)
    if len(set(sizes)) == 1:
        return f"{_count(len(sizes), 'lay', 'lays')} of {_count(sizes[0], 'ply', 'plies')}"
    if len(sizes) <= 4:
        return f"{len(sizes)} lays: {' + '.join(map(str, sizes))} plies"
    full = sum(1 for size in sizes if size == ply_limit)
    rest = f" + 1 x {sizes[-1]}" if full < len(sizes) else ""
    return f"{len(sizes)} lays: {full} x {ply_limit}{rest} plies"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def often(material_plan: MaterialPlan, layout: Layout) -> str:
    """How often a layout is cut, in words."""
    material = material_plan.material
    if isinstance(material, RollMaterial):
        if is_lengths(material_plan):
            return f"cut {_count(layout.repeats, 'time', 'times')}"
        return f"spread {lays_text(layout.repeats, material.ply_limit)}"
    if (
        isinstance(material, BlockMaterial)
        and block_of(material, layout.stock_key, material_plan.shelf).material.cut_to is not None
    ):
        return f"cut {_count(layout.repeats, 'part', 'parts')} of a long block like this"
    return f"cut {_count(layout.repeats, material.kind, material.kind + 's')} like this"


def efficiency(
    material_plan: MaterialPlan,
    layout: Layout,
    pieces: Iterable[PlacedPiece],
    own: Material | None = None,
) -> float:
    """Share of the usable area, volume or length of one layout that becomes pieces, 0 to 1.

    `own` is the material with the measures of what is cut, where they are not the nominal ones.
    """
    material = own or material_plan.material
    if is_lengths(material_plan):
        return sum(piece.demand.panel.length for piece in pieces) / layout.length if layout.length else 0.0
    _, _, length, width = usable_box(material, layout.length)
    if isinstance(material, BlockMaterial):
        low, high = with_skin(material)
        room = length * width * (high - low) / 1e9
        used = sum(piece.demand.panel.volume for piece in pieces)
    else:
        room = length * width / 1e6
        used = sum(piece.demand.panel.area for piece in pieces)
    return used / room if room > 0 else 0.0


def _stock_cells(material: Material, layout: Layout, *, long: bool = False) -> list[tuple[str, str]]:
    if isinstance(material, RollMaterial):
        ends = layout.length + 2.0 * material.end_loss
        return [
            (
                "Roll width, full / usable",
                f"{measure(material.width)} / {measure(material.usable_width)} {unit()}",
            ),
            ("Marker length", with_unit(layout.length)),
            ("Lay length with ends", with_unit(ends)),
            ("Plies in all / lays", f"{layout.repeats} / {len(lays(layout.repeats, material.ply_limit))}"),
            ("Cloth to spread", shown_amount(layout.repeats * ends / 1e3, "m", 2)),
        ]
    if isinstance(material, BlockMaterial):
        return _block_cells(material, layout, long)
    sides = [material.length, material.width]
    sides += [material.thickness] if material.thickness else []
    raw = " x ".join(measure(side) for side in sides)
    return [
        ("Raw sheet", f"{raw} {unit()}"),
        ("Saw cut (kerf)", f"{cut_measure(material.kerf)} {unit()}"),
        ("Sheets to cut", str(layout.repeats)),
    ]


def _block_cells(material: BlockMaterial, layout: Layout, long: bool) -> list[tuple[str, str]]:
    kerfs = material.kerfs
    saw = f"{cut_measure(kerfs.upright)} {unit()}"
    if kerfs.level != kerfs.upright:
        saw = f"slitter {cut_measure(kerfs.level)}, saw {saw}"
    raw = " x ".join(measure(side) for side in (material.length, material.width, material.height))
    cells = [
        ("Part of a long block" if long else "Raw block", f"{raw} {unit()}"),
        ("Saw cut (kerf)", saw),
    ]
    if not long:
        return [*cells, ("Blocks to cut", str(layout.repeats))]
    return [*cells, ("Parts to cut", str(layout.repeats))]


def header(
    plan: Plan,
    material_plan: MaterialPlan,
    heading: str,
    layout: Layout | None = None,
    pieces: Sequence[PlacedPiece] = (),
    more: Sequence[tuple[str, str]] = (),
) -> Header:
    """The header of a page about one layout, or about the whole material when `layout` is None.

    `more` are further cells, put after those of the layout.
    """
    material, figures = material_plan.material, material_plan.figures
    cells: list[tuple[str, str]] = []
    lines: tuple[str, ...] = ()
    if layout is not None:
        index = material_plan.layouts.index(layout)
        own = stock_material(material_plan, index)
        lines = stock_lines(material_plan, index)
        if isinstance(own, RollMaterial):
            lines += flaw_lines(seen_flaws(material_plan, index), layout.length, own.usable_width)
        cells += _stock_cells(own, layout, long=is_long(material_plan, index))
        each = {"roll": "ply", "sheet": "sheet", "block": "block"}[material.kind]
        count = len(layout.placements)
        cells.append((f"Pieces per {each} / in all", f"{count} / {count * layout.repeats}"))
        cells.append(
            (
                f"Efficiency, this {STOCK_WORDS[material.kind]}",
                percent(efficiency(material_plan, layout, pieces, own)),
            )
        )
    cells += more
    cells.append(("Efficiency, all", percent(figures.efficiency)))
    cells.append(("Gap to bound", percent(figures.gap)))
    cells += [("Made", plan.made), ("Seed", str(plan.seed)), ("Version", plan.version)]
    if material.fire_reference:
        cells.append(("Approval reference", material.fire_reference))
    return Header(
        title=f"{plan.range_name} – {material.name}",
        heading=heading,
        cells=tuple(cells),
        notices=tuple(_notices(material_plan)),
        caution=caution(material_plan),
        lines=lines,
        stamp=f"{measures_note()}  Range: {plan.range_file}.  Orders: {plan.orders_file}, "
        f"due {plan.first_due} to {plan.last_due}.  Material: {material.key}.",
    )


def _notices(material_plan: MaterialPlan) -> Iterable[str]:
    """What could not be cut or is left for later, then remarks of the plan, the material and the panels."""
    demands = {demand.key: demand for demand in material_plan.demands}
    for key, missing in material_plan.missing.items():
        demand = demands.get(key)
        what = f"{demand.panel.code} {demand.model} {demand.size}, {size_text(demand)}" if demand else key
        yield f"NOT IN THESE MAPS: {missing.quantity} x {what}: {reworded(missing.reason)}"
    yield from map(reworded, material_plan.notes)
    if material_plan.open:
        count = sum(left.demand.quantity for left in material_plan.open)
        yield f"LEFT OPEN for another roll: {count} pieces; summary.json names them."
    if material_plan.material.note:
        yield f"Material: {material_plan.material.note}"
    seen: dict[str, list[str]] = {}
    for number, demand in enumerate(material_plan.demands, start=1):
        if demand.panel.note:
            seen.setdefault(demand.panel.note, []).append(str(number))
    for note, numbers in seen.items():
        yield f"No. {', '.join(numbers)}: {note}"
