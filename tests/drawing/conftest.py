"""A plan built by hand, with one material of every kind. All names and figures are invented.

The cut sizes are those of the worked examples of the trade: a queen bed 1524 x 2032 mm with 15 mm
seams and 5 mm crown gives a panel of 1564 x 2072 and border pieces of 1785 x 260.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from nesting.drawing.lettering import text_width
from nesting.drawing.scene import Line, Polygon, Scene, Text
from nesting.model import (
    BlockMaterial,
    CutNode,
    Demand,
    Figures,
    Layout,
    Mark,
    Material,
    MaterialPlan,
    Missing,
    OrderShare,
    Panel,
    Placement,
    Plan,
    Point,
    Remnant,
    RollMaterial,
    SheetMaterial,
)
from nesting.packing.problem import Skins, Trim

FIGURES = Figures(
    unit="m2",
    stock_count=6,
    roll_length=307.5,
    consumed=676.5,
    pieces=600.0,
    losses=(),
    remnants=0.0,
    efficiency=0.923,
    utilisation=0.887,
    bound=303_000.0,
    value=307_500.0,
    gap=0.0146,
    cost=2460.0,
    mass=270.6,
    piece_count=650,
)


def figures(**changes: Any) -> Figures:
    """Figures that look plausible; drawings only print some of them."""
    values = {name: getattr(FIGURES, name) for name in FIGURES.__slots__}
    return Figures(**{**values, **changes})


def demand(
    code: str,
    name: str,
    length: float,
    width: float,
    *,
    quantity: int = 10,
    model: str = "Aster",
    size: str = "queen",
    orders: tuple[OrderShare, ...] = (),
    **panel: Any,
) -> Demand:
    """One demand, its key made of model, code and size."""
    return Demand(
        key=f"{model}/{code}/{size}",
        panel=Panel(code=code, name=name, material="m", length=length, width=width, **panel),
        model=model,
        size=size,
        quantity=quantity,
        orders=orders,
    )


def material_plan(
    material: Material, demands: list[Demand], layouts: list[Layout], **more: Any
) -> MaterialPlan:
    """A material plan with plausible figures."""
    values: dict[str, Any] = {
        "missing": {},
        "stock": (),
        "remnants": (),
        "stopped": "effort",
        "effort": 300,
        **more,
    }
    return MaterialPlan(
        material=material, demands=tuple(demands), layouts=tuple(layouts), figures=figures(), **values
    )


def headboard_outline(length: float, width: float, rise: float, steps: int = 24) -> tuple[Point, ...]:
    """A board whose upper edge is a flat arc over two straight shoulders."""
    shoulder = width - rise
    top = [
        (length * (1 - i / steps), shoulder + rise * math.sin(math.pi * i / steps)) for i in range(steps + 1)
    ]
    return ((0.0, 0.0), (length, 0.0), *top)


class Tree:
    """Builds a tree of cuts together with the placements of its leaves."""

    def __init__(self, kerf: float) -> None:
        self.kerf = kerf
        self.placements: list[Placement] = []

    def grow(self, box: tuple[float, ...], spec: Any) -> CutNode:
        """A node for `box` (x, y, z, length, width, height).

        `spec` is None for a leftover, ``(demand, turn)`` for a piece, or ``(axis, [(extent, spec), ...])``;
        the last extent may be None for whatever is left.
        """
        x, y, z, length, width, height = box
        sides = {"x": 0, "y": 1, "z": 2}
        if spec is None:
            return CutNode(x, y, length, width, z=z, height=height)
        head, tail = spec
        if isinstance(head, Demand):
            panel = head.panel
            sizes = (panel.length, panel.width) if tail % 180 == 0 else (panel.width, panel.length)
            assert sizes == pytest.approx((length, width)), head.key
            assert (panel.thickness or 0.0) == pytest.approx(height), head.key
            self.placements.append(Placement(head.key, x, y, float(tail), z=z))
            return CutNode(x, y, length, width, piece=len(self.placements) - 1, z=z, height=height)
        side = sides[head]
        at, end = box[side], box[side] + box[side + 3]
        parts = []
        for extent, inner in tail:
            size = end - at if extent is None else extent
            part = list(box)
            part[side], part[side + 3] = at, size
            parts.append(self.grow(tuple(part), inner))
            at += size + self.kerf
        assert at - self.kerf == pytest.approx(end)
        return CutNode(x, y, length, width, axis=head, parts=tuple(parts), z=z, height=height)


@pytest.fixture(scope="session")
def ticking() -> MaterialPlan:
    """A quilted roll: a marker of 12.3 m in 25 plies, a short one of one ply, and a piece too wide for it."""
    roll = RollMaterial(
        key="ticking",
        name="Quilted ticking, damask white",
        width=2200,
        roll_length=50_000,
        edge_trim=25,
        end_loss=20,
        ply_limit=10,
        price=8.0,
        fire_reference="invented approval T-100",
    )
    top = demand(
        "TP",
        "Top panel",
        2072,
        1564,
        quantity=125,
        marks=(
            Mark("notch", ((1036.0, 0.0),)),
            Mark("notch", ((1036.0, 1564.0),)),
            Mark("label", ((60.0, 60.0),), "label"),
        ),
        orders=(
            OrderShare(order="A-17", due="2026-11-30", pieces=2),
            OrderShare(order="A-19", due="2026-12-02", pieces=123),
        ),
    )
    border = demand(
        "BO",
        "Border piece",
        1785,
        260,
        quantity=256,
        marks=(Mark("handle", ((446.0, 130.0),), "handle"), Mark("vent", ((600.0, 130.0),), "vent")),
    )
    head = demand(
        "HB",
        "Headboard face",
        1696,
        796,
        quantity=51,
        outline=headboard_outline(1696, 796, 180),
        turns=(0.0, 180.0),
        marks=(Mark("grain", ((400.0, 300.0), (1200.0, 300.0))), Mark("drill", ((848.0, 500.0),), "button")),
    )
    flange = demand("FL", "Flange strip", 1200, 75, quantity=300, note="Mark the face side with chalk.")
    wide = demand("HB", "Headboard face", 2400, 2300, model="Briar", size="super king", quantity=2)
    placements = []
    for row in range(5):
        x = row * 2072.0
        placements.append(Placement(top.key, x, 0.0, 0.0 if row % 2 == 0 else 180.0))
        placements += [Placement(border.key, x, 1564.0), Placement(border.key, x, 1824.0)]
    placements += [Placement(head.key, 10360.0, 0.0), Placement(head.key, 10360.0 + 244.0, 1100.0, 180.0)]
    placements += [Placement(flange.key, 10360.0 + i * 75.0, 900.0, 90.0) for i in range(3)]
    placements += [Placement(flange.key, 9200.0 + 1160.0, 800.0 - 2.0, 0.0)]
    long = Layout("roll", tuple(placements), 12_300.0, repeats=25)
    short = Layout("roll", (Placement(head.key, 0.0, 0.0), Placement(border.key, 0.0, 800.0)), 1785.0)
    return material_plan(
        roll,
        [top, border, head, flange, wide],
        [long, short],
        missing={wide.key: Missing(2, "it is 2300 mm wide; the roll is 2150 mm wide when usable")},
        notes=("Outlines were packed as drawn.",),
    )


@pytest.fixture(scope="session")
def velvet() -> MaterialPlan:
    """A one-way cloth with a measured width, one ply."""
    roll = RollMaterial(
        key="velvet",
        name="Upholstery velvet, moss",
        width=1400,
        measured_width=1376,
        roll_length=30_000,
        end_loss=25,
        grain="one-way",
    )
    face = demand("HF", "Headboard face", 1696, 796, size="double")
    side = demand("BB", "Base border", 1764, 472, size="double")
    cap = demand("CP", "Corner cap", 140, 60, size="double")
    places = [Placement(face.key, i * 1696.0, 0.0) for i in range(2)]
    places += [Placement(side.key, i * 1764.0, 796.0) for i in range(2)]
    places += [Placement(cap.key, i * 140.0, 1270.0) for i in range(8)]
    return material_plan(roll, [face, side, cap], [Layout("roll", tuple(places), 3528.0, repeats=3)])


@pytest.fixture(scope="session")
def spunbond() -> MaterialPlan:
    """Dust covers in many plies, cut edge to edge."""
    roll = RollMaterial(
        key="spunbond",
        name="Spunbond 70 g/m2",
        width=2100,
        roll_length=300_000,
        process="guillotine 2",
        ply_limit=100,
    )
    cover = demand("DC", "Dust cover", 2020, 1520, size="king", quantity=240)
    patch = demand("PT", "Patch", 500, 500, size="any", quantity=480)
    tree = Tree(0.0)
    box = (0.0, 0.0, 0.0, 2020.0, 2100.0, 0.0)
    strips = ("x", [(500.0, (patch, 0)), (500.0, (patch, 0)), (1020.0, None)])
    cuts = tree.grow(box, ("y", [(1520.0, (cover, 0)), (500.0, strips), (80.0, None)]))
    return material_plan(roll, [cover, patch], [Layout("roll", tuple(tree.placements), 2020.0, 240, cuts)])


@pytest.fixture(scope="session")
def board() -> MaterialPlan:
    """Sheets of board with trimmed edges and a 4 mm saw cut; the second layout leaves a remnant."""
    sheet = SheetMaterial(
        key="board",
        name="Poplar plywood 18",
        length=2440,
        width=1220,
        trim=Trim(10, 10, 8, 8),
        kerf=4,
        thickness=18,
        price=42,
    )
    head = demand("HB", "Headboard board", 1500, 600, size="king", quantity=6)
    slat = demand("SL", "Slat", 596, 80, size="king", quantity=60)
    leg = demand("LG", "Leg block", 90, 80, size="any", quantity=24)
    tree = Tree(4.0)
    area = (10.0, 8.0, 0.0, 2420.0, 1204.0, 0.0)
    boards = ("y", [(600.0, (head, 0)), (600.0, (head, 0))])
    column = ("y", [(80.0, (slat, 0))] * 14 + [(28.0, None)])
    legs = ("y", [(80.0, (leg, 0))] * 14 + [(28.0, None)])
    cuts = tree.grow(
        area, ("x", [(1500.0, boards), (596.0, column), (90.0, legs), (90.0, legs), (None, None)])
    )
    first = Layout("board", tuple(tree.placements), 2440.0, 3, cuts)
    tree = Tree(4.0)
    cuts = tree.grow(area, ("y", [(600.0, ("x", [(1500.0, (head, 0)), (None, None)])), (None, None)]))
    second = Layout("board", tuple(tree.placements), 2440.0, 1, cuts)
    kept = Remnant(source="layout 2", length=2420, width=600)
    return material_plan(sheet, [head, slat, leg], [first, second], remnants=(kept,))


@pytest.fixture(scope="session")
def foam() -> MaterialPlan:
    """A foam block slit into ten sheets of 100 and one of 20, and a second one sawn into columns first."""
    block = BlockMaterial(
        key="foam-30",
        name="Foam 30 kg/m3",
        length=2100,
        width=2060,
        height=1080,
        skins=Skins(15, 15, 20, 20, 20, 35),
        kerf=0.5,
        density=30,
        price=110,
    )
    core = demand("CO", "Core", 1910, 910, size="single", thickness=100, quantity=60)
    rail = demand("RA", "Edge rail", 1910, 99, size="single", thickness=100, quantity=60)
    pad = demand("PD", "Comfort pad", 1910, 910, size="single", thickness=20, quantity=8)
    corner = demand("CS", "Corner support", 100, 99, size="single", thickness=100, quantity=40)
    area = (15.0, 20.0, 20.0, 2070.0, 2020.0, 1025.0)
    tree = Tree(0.5)
    strips = [(910.0, (core, 0)), (910.0, (core, 0)), (99.0, (rail, 0)), (99.0, (rail, 0)), (None, None)]
    sheet = (
        "x",
        [(1910.0, ("y", strips)), (100.0, ("y", [(99.0, (corner, 0)), (None, None)])), (None, None)],
    )
    thin = ("x", [(1910.0, ("y", [(910.0, (pad, 0)), (910.0, (pad, 0)), (None, None)])), (None, None)])
    cuts = tree.grow(area, ("z", [(100.0, sheet)] * 10 + [(20.0, thin)]))
    slit = Layout("foam-30", tuple(tree.placements), 2100.0, 3, cuts)

    tree = Tree(0.5)
    tall = ("z", [(100.0, (core, 0))] * 10 + [(20.0, (pad, 0))])
    rails = ("z", [(100.0, (rail, 0))] * 10 + [(None, None)])
    cuts = tree.grow(
        area,
        ("x", [(1910.0, ("y", [(910.0, tall), (910.0, tall), (99.0, rails), (None, None)])), (None, None)]),
    )
    sawn = Layout("foam-30", tuple(tree.placements), 2100.0, 1, cuts)
    return material_plan(block, [core, rail, pad, corner], [slit, sawn])


@pytest.fixture(scope="session")
def tape() -> MaterialPlan:
    """Binding tape that is only cut to length."""
    roll = RollMaterial(
        key="tape", name="Binding tape 40", width=40, roll_length=50_000, process="lengths", min_remnant=3000
    )
    queen = demand("TA", "Tape ring", 7033, 40, quantity=48)
    single = demand("TA", "Tape ring", 5650, 40, size="single", quantity=20)
    loop = demand("LP", "Loop", 120, 40, size="any", quantity=40)
    layouts = []
    for counts, repeats in (((7, 0, 0), 6), ((5, 2, 4), 3), ((1, 6, 7), 2)):
        places, x = [], 0.0
        for wanted, count in zip((queen, single, loop), counts, strict=True):
            for _ in range(count):
                places.append(Placement(wanted.key, x, 0.0))
                x += wanted.panel.length
        layouts.append(Layout("tape", tuple(places), 50_000.0, repeats))
    return material_plan(roll, [queen, single, loop], layouts)


@pytest.fixture(scope="session")
def plan(
    ticking: MaterialPlan,
    velvet: MaterialPlan,
    spunbond: MaterialPlan,
    board: MaterialPlan,
    foam: MaterialPlan,
    tape: MaterialPlan,
) -> Plan:
    """The whole plan."""
    return make_plan(ticking, velvet, spunbond, board, foam, tape)


def make_plan(*materials: MaterialPlan, name: str = "Spring range") -> Plan:
    """A plan of these materials."""
    return Plan(
        range_name=name,
        range_file="spring.toml",
        orders_file="week-49.csv",
        currency="EUR",
        made="2026-11-25",
        version="0.1.0",
        seed=7,
        first_due="2026-11-30",
        last_due="2026-12-04",
        beds=63,
        materials=materials,
    )


@pytest.fixture(scope="session")
def plan_of() -> Callable[..., Plan]:
    """Makes a plan of given materials."""
    return make_plan


@pytest.fixture(scope="session")
def demand_of() -> Callable[..., Demand]:
    """Makes one demand."""
    return demand


@pytest.fixture(scope="session")
def material_plan_of() -> Callable[..., MaterialPlan]:
    """Makes a material plan."""
    return material_plan


def _text_box(text: Text) -> tuple[float, float, float, float]:
    """Where a level or upright text stands: left, low, right, high, mm."""
    width = text_width(text.words, text.size, text.bold)
    before = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    if text.turn == 0:
        return text.x - before, text.y, text.x - before + width, text.y + text.size
    assert text.turn == 90
    return text.x - text.size, text.y - before, text.x, text.y - before + width


@pytest.fixture(scope="session")
def page_faults() -> Callable[[Scene, float], list[str]]:
    """Judges a page: text too small, text over text, anything off the paper."""

    def faults(scene: Scene, least: float) -> list[str]:
        found = []
        texts = [item for item in scene.items if isinstance(item, Text) and item.words.strip()]
        boxes = [_text_box(text) for text in texts]
        found += [f"too small: {text.words}" for text in texts if text.size < least - 1e-6]
        for i, (a, first) in enumerate(zip(boxes, texts, strict=True)):
            for b, second in zip(boxes[:i], texts[:i], strict=True):
                across, up = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
                if across > 0.05 and up > 0.05:
                    found.append(f"{first.words!r} runs into {second.words!r}")
        corners = [(x, y) for box in boxes for x, y in (box[:2], box[2:])]
        corners += [p for item in scene.items if isinstance(item, Polygon | Line) for p in item.points]
        found += [
            f"off the paper at {x:.1f}, {y:.1f}"
            for x, y in corners
            if not (-1e-6 <= x <= scene.width + 1e-6 and -1e-6 <= y <= scene.height + 1e-6)
        ]
        return found

    return faults


@pytest.fixture(scope="session")
def words_on() -> Callable[[Scene], list[str]]:
    """All words of a scene."""
    return lambda scene: [item.words for item in scene.items if isinstance(item, Text)]


@pytest.fixture(scope="session")
def hostile(plan_of: Callable[..., Plan], ticking: MaterialPlan) -> Plan:
    """A plan whose every name tries to break something."""
    evil = 'x"><script>&amp;</script>\x00\x1b\ud800\n' + "超大号 Größe Жёлтый עברית " + "long " * 12
    top, *others = ticking.demands
    share = OrderShare(order='=HYPERLINK("x")', due="2026-11-30", pieces=125)
    panel = replace(top.panel, name=evil, note=evil, marks=(Mark("label", ((60.0, 60.0),), evil),))
    bad = replace(top, panel=panel, model=evil[:80], size=evil[-80:], orders=(share,))
    material = replace(ticking.material, key="../a/b:c*?", name=evil, note=evil, fire_reference=evil)
    spoilt = replace(ticking, material=material, demands=(bad, *others), notes=(evil,) * 9)
    return replace(plan_of(spoilt), range_name=evil, range_file=evil, orders_file=evil)
