"""The check of a saw plan: it is followed cut by cut on the raw block, and all parts add up to it.

It shares no code with `nesting.sawplan`, and goes by what the cutter reads: which part is on the table, the
face, the measure, and the sizes that a cut is said to free.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from nesting.blocks import layout_block
from nesting.errors import LayoutError
from nesting.model import BlockMaterial, Demand, Layout, MaterialPlan, Panel, Placement
from nesting.sawcuts import SawCut, SawPlan
from nesting.sawplan import saw_plans

__all__ = ["check_foam_plan", "check_saw_plan"]

EXACT = 0.1
"""Parts, skins and saw cuts add up to the block to this, mm, in each direction."""

NOISE = 1e-3
"""Float noise of places in a block, mm: sums of four decimals."""

AXES = {"x": 0, "y": 1, "z": 2}
FACES = {"left end": 0, "front side": 1, "bottom": 2}

Span = tuple[float, float]
Box = tuple[Span, Span, Span]
"""From and to along x, y and z, mm from the corner of the raw block."""


@dataclass(slots=True)
class _Run:
    """One part on the table while cuts in one direction go on, and what is told to be in it."""

    part: str
    along: int
    starts: list[float]
    extent: float
    told: float = 0.0
    """Sum of the sizes that the cuts are said to free, and of the saw cuts, mm."""


@dataclass(slots=True)
class _Table:
    """The foam while it is cut up."""

    parts: dict[str, list[Box]]
    pieces: Counter[tuple[str, tuple[float, ...], tuple[float, ...]]] = field(default_factory=Counter)
    told: list[float] = field(default_factory=list)
    """Volumes that the plan says it frees, mm3."""
    dust: list[float] = field(default_factory=list)


def check_foam_plan(material_plan: MaterialPlan) -> None:
    """Check the saw plans of all layouts of a foam; other materials have none.

    Raises
    ------
    LayoutError
        Naming the layout, the cut and what is wrong with it.
    """
    if not isinstance(material_plan.material, BlockMaterial):
        return
    if not all(layout.cuts for layout in material_plan.layouts):
        return  # laid by hand, without cuts: there is no saw plan
    for index, plan in enumerate(saw_plans(material_plan)):
        block, layout = layout_block(material_plan, index).material, material_plan.layouts[index]
        where = f"{material_plan.material.key}, block layout {index + 1}"
        raw = (block.length, block.width, block.height)
        check_saw_plan(plan, raw, layout, material_plan.demands, where)


def check_saw_plan(
    plan: SawPlan,
    raw: tuple[float, float, float],
    layout: Layout,
    demands: Sequence[Demand],
    where: str = "the saw plan",
) -> None:
    """Follow a saw plan on a raw block and hold it against the layout.

    Checked are: every cut finds its part on the table, as often as told; what it frees has the size told,
    and is all that comes off; along each run skins, saw cuts, parts and rests add up to the part to 0.1 mm;
    volumes add up to the raw block; and the pieces of the layout come out where they lie, each once.

    Parameters
    ----------
    raw
        Length, width and height of the block that is really cut, mm.
    where
        Begins the message.

    Raises
    ------
    LayoutError
        Naming the first fault.
    """
    if max(abs(told - real) for told, real in zip(plan.size, raw, strict=True)) > NOISE:
        _fault(where, f"is made for a block of {_size(plan.size)}, but the block is {_size(raw)}")
    table = _Table({"block": [((0.0, raw[0]), (0.0, raw[1]), (0.0, raw[2]))]})
    run: _Run | None = None
    for number, cut in enumerate(plan.cuts, start=1):
        at = f"{where}, cut {number}"
        if cut.number != number:
            _fault(at, f"is numbered {cut.number}")
        boxes = table.parts.get(cut.part)
        if boxes is None:
            _fault(at, f"wants {cut.part!r}, which is not on the table")
        if len(boxes) != cut.copies:
            _fault(at, f"wants {cut.copies} of {cut.part!r}, but there are {len(boxes)}")
        if cut.axis is None:
            _end(run, table, where)
            run = None
            _cut_out(cut, layout, {demand.key: demand.panel for demand in demands}, table, at)
            continue
        along = AXES[cut.axis]
        if FACES.get(cut.face) != along or (cut.machine == "slitter") != (along == 2):
            _fault(at, f"cannot be made on the {cut.machine} from the {cut.face!r}")
        if run is None or (run.part, run.along) != (cut.part, along):
            _end(run, table, where)
            extent = boxes[0][along][1] - boxes[0][along][0]
            run = _Run(cut.part, along, [box[along][0] for box in boxes], extent)
        _make(cut, plan.kerfs[along], run, table, at)
    _end(run, table, where)
    _check_rest(plan, raw, layout, demands, table, where)


def _make(cut: SawCut, kerf: float, run: _Run, table: _Table, at: str) -> None:
    """One cut in all copies of its part."""
    along = run.along
    left: list[Box] = []
    taken = 0.0
    for box, start in zip(table.parts.pop(cut.part), run.starts, strict=True):
        low, high = box[along]
        blade = (start + cut.measure, start + cut.measure + kerf)
        sides = {"near": (low, min(blade[0], high)), "far": (max(blade[1], low), high)}
        taken = max(0.0, min(high, blade[1]) - max(low, blade[0]))
        whole = [side for side, span in sides.items() if span[1] - span[0] > NOISE]
        if len(whole) < 2 and taken <= NOISE:
            _fault(at, "cuts nothing")
        table.dust.append(taken * _face(box, along))
        for freed in cut.frees:
            span = sides[freed.side]
            if freed.side not in whole:
                _fault(at, f"frees {freed.name!r}, but no foam is on that side of the blade")
            whole.remove(freed.side)
            came = _with(box, along, span)
            told = freed.size
            if any(abs(side[1] - side[0] - said) > NOISE for side, said in zip(came, told, strict=True)):
                real = _size([side[1] - side[0] for side in came])
                _fault(at, f"frees {freed.name!r}, told as {_size(told)}, but {real} comes off")
            table.told.append(freed.volume)
            if freed.fate == "part":
                table.parts.setdefault(freed.name, []).append(came)
            elif freed.fate == "piece":
                table.pieces[_piece(freed.key or "", came)] += 1
        if len(whole) > 1:
            _fault(at, "leaves foam on both sides of the blade that nobody takes")
        left += [_with(box, along, sides[side]) for side in whole]
    if left and len(left) != cut.copies:
        _fault(at, "does not leave the same of all parts that are cut alike")
    run.told += taken + sum(freed.size[along] for freed in cut.frees)
    if left:
        table.parts[cut.part] = left


def _cut_out(cut: SawCut, layout: Layout, panels: Mapping[str, Panel], table: _Table, at: str) -> None:
    """A cut along the lines marked on boxes: the outlines that lie in them come out, and offcuts."""
    for box in table.parts.pop(cut.part):
        inside = [place for place in layout.placements if _holds(box, place, panels[place.key])]
        wanted = Counter(place.key for place in inside)
        told = Counter(freed.key for freed in cut.frees if freed.fate == "piece")
        if wanted != told:
            _fault(at, f"frees {dict(told)}, but {dict(wanted)} lie in the box")
        for place in inside:
            table.pieces[_signature(place, panels[place.key])] += 1
        volumes = [freed.volume for freed in cut.frees]
        solid = math.prod(high - low for low, high in box)
        left = solid - math.fsum(volumes)
        if left < -EXACT * _face(box, 2):
            _fault(at, f"frees {math.fsum(volumes) / 1e9:.6f} m3 from a box of {solid / 1e9:.6f} m3")
        table.told += volumes
        table.dust.append(max(0.0, left))


def _holds(box: Box, place: Placement, panel: Panel) -> bool:
    """Whether a piece that is an outline lies in a box."""
    low = (place.x, place.y, place.z)
    return bool(panel.outline) and all(
        start - NOISE <= at < end - NOISE for (start, end), at in zip(box, low, strict=True)
    )


def _signature(place: Placement, panel: Panel) -> tuple[str, tuple[float, ...], tuple[float, ...]]:
    """A piece by its key, its low corner and its sides, whichever way it lies."""
    sides = sorted((panel.length, panel.width, panel.thickness or 0.0))
    return place.key, _tenths((place.x, place.y, place.z)), tuple(map(_grown, sides))


def _end(run: _Run | None, table: _Table, where: str) -> None:
    """When a run is over: what it freed, its saw cuts and what is still on the table make up the part."""
    if run is None:
        return
    rest = table.parts.get(run.part, [])
    still = rest[0][run.along][1] - rest[0][run.along][0] if rest else 0.0
    if abs(run.told + still - run.extent) > EXACT:
        name = "xyz"[run.along]
        _fault(
            where,
            f"{run.part!r} is {run.extent:.4f} mm along {name}, but parts, saw cuts and rests add up to "
            f"{run.told + still:.4f} mm",
        )


def _check_rest(
    plan: SawPlan,
    raw: tuple[float, float, float],
    layout: Layout,
    demands: Sequence[Demand],
    table: _Table,
    where: str,
) -> None:
    """When all cuts are made: nothing is forgotten, and nothing is in it twice."""
    panels = {demand.key: demand.panel for demand in demands}
    wanted: Counter[tuple[str, tuple[float, ...], tuple[float, ...]]] = Counter()
    for place in layout.placements:
        wanted[_signature(place, panels[place.key])] += 1
    if not plan.cuts:
        table.pieces = wanted  # the block is itself the piece
        table.told, table.parts = [math.prod(raw)], {}
    if table.parts:
        _fault(where, f"leaves {', '.join(map(repr, table.parts))} uncut")
    if table.pieces != wanted:
        missed = next(iter((wanted - table.pieces) or (table.pieces - wanted)))
        much = table.pieces[missed], wanted[missed]
        _fault(where, f"frees {missed[0]!r} at {_size(missed[1])} {much[0]} times; it lies there {much[1]}")
    # Parts are told twice: once as what a cut frees, and once more when they are cut up themselves.
    volumes: Mapping[str, float] = {part.name: math.prod(part.size) * len(part.lows) for part in plan.parts}
    inner = math.fsum(volume for name, volume in volumes.items() if name != "block")
    total = math.fsum(table.told) + math.fsum(table.dust) - inner
    slack = EXACT * (raw[0] * raw[1] + raw[1] * raw[2] + raw[0] * raw[2])
    if abs(total - math.prod(raw)) > slack:
        _fault(where, f"adds up to {total / 1e9:.6f} m3 of the block's {math.prod(raw) / 1e9:.6f} m3")


def _piece(key: str, box: Box) -> tuple[str, tuple[float, ...], tuple[float, ...]]:
    return key, _tenths([low for low, _ in box]), _tenths(sorted(high - low for low, high in box))


def _tenths(values: Sequence[float]) -> tuple[float, ...]:
    return tuple(round(value, 1) + 0.0 for value in values)


def _grown(side: float) -> float:
    """A side as pieces are cut: rounded up to the tenth."""
    return round(math.ceil(10 * side - NOISE) / 10, 1)


def _with(box: Box, along: int, span: Span) -> Box:
    x, y, z = (span if axis == along else old for axis, old in enumerate(box))
    return x, y, z


def _face(box: Box, along: int) -> float:
    return math.prod(high - low for axis, (low, high) in enumerate(box) if axis != along)


def _size(sides: Sequence[float]) -> str:
    return " x ".join(f"{side:.4f}".rstrip("0").rstrip(".") for side in sides) + " mm"


def _fault(where: str, what: str) -> NoReturn:
    raise LayoutError(f"{where}: {what}.")
