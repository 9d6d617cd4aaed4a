"""Saw plans: every plan is replayed on the raw block, cut by cut, by code that shares nothing with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import LayoutError
from nesting.longblocks import kept_rest, length_cuts, long_blocks
from nesting.model import BlockMaterial, CutNode, Demand, Layout, MaterialPlan, OrderShare, Panel, Placement
from nesting.packing import Kerfs, Skins, solve, verify
from nesting.reports.statistics import account, remnants_of
from nesting.requests import problem_for
from nesting.sawcuts import SawCut, SawPlan
from nesting.sawplan import saw_plan, saw_plans

FACES = {"left end": 0, "front side": 1, "bottom": 2}
AXES = {"x": 0, "y": 1, "z": 2}

Cube = tuple[tuple[int, int], tuple[int, int], tuple[int, int]]
"""Lowest and highest x, y and z, in tenths of a millimetre."""


def tenths(value: float) -> int:
    steps = round(value * 10)
    assert abs(value * 10 - steps) < 1e-6, f"{value} mm is off the grid"
    return steps


def volume(cube: Cube) -> int:
    (x0, x1), (y0, y1), (z0, z1) = cube
    return (x1 - x0) * (y1 - y0) * (z1 - z0)


def between(cube: Cube, along: int, low: int, high: int) -> Cube | None:
    """The part of a cube between two places, if there is any."""
    low, high = max(low, cube[along][0]), min(high, cube[along][1])
    if low >= high:
        return None
    sides = list(cube)
    sides[along] = (low, high)
    return sides[0], sides[1], sides[2]


def replay(plan: SawPlan) -> tuple[dict[tuple[str, str], list[Cube]], int]:
    """Cut the raw block as the plan says.

    Returns what lies in the room at the end, by fate and by key or name, and the volume of the saw cuts.
    Whatever a cut frees must have the size that the plan gives; whatever it cuts must be on the table.
    """
    raw: Cube = tuple((0, tenths(side)) for side in plan.size)  # type: ignore[assignment]
    parts: dict[str, list[Cube]] = {"block": [raw]}
    room: dict[tuple[str, str], list[Cube]] = {}
    run: tuple[str, str] | None = None
    faces: list[int] = []
    dust, kerfs = 0, tuple(map(tenths, plan.kerfs))
    for number, cut in enumerate(plan.cuts, start=1):
        assert cut.number == number
        if cut.axis is None:
            for cube in parts.pop(cut.part):
                dust += cut_out(cut, cube, room)
            continue
        assert cut.machine == ("slitter" if cut.axis == "z" else "vertical saw")
        along, kerf = AXES[cut.axis], kerfs[AXES[cut.axis]]
        assert FACES[cut.face] == along
        cubes = parts[cut.part]
        assert len(cubes) == cut.copies
        if run != (cut.part, cut.axis):
            run = (cut.part, cut.axis)
            faces = [cube[along][0] for cube in cubes]
        stays: list[Cube] = []
        works = False
        for cube, face in zip(cubes, faces, strict=True):
            at = face + tenths(cut.measure)
            blade = between(cube, along, at, at + kerf)
            sides = {
                "near": between(cube, along, cube[along][0], at),
                "far": between(cube, along, at + kerf, cube[along][1]),
            }
            works = works or blade is not None or all(sides.values())
            dust += volume(blade) if blade else 0
            for freed in cut.frees:
                came = sides[freed.side]
                assert came is not None, f"cut {number} frees nothing on its {freed.side} side"
                assert tuple(high - low for low, high in came) == tuple(map(tenths, freed.size))
                sides[freed.side] = None
                if freed.fate == "part":
                    parts.setdefault(freed.name, []).append(came)
                else:
                    room.setdefault((freed.fate, freed.key or freed.name), []).append(came)
            stays += [side for side in sides.values() if side is not None]
        assert works, f"cut {number} has no effect"
        assert len(stays) in (0, len(cubes)), f"cut {number} leaves foam that nobody takes"
        if stays:
            parts[cut.part] = stays
        else:
            del parts[cut.part]
    room.update({("part", name): cubes for name, cubes in parts.items()})
    return room, dust


def cut_out(cut: SawCut, cube: Cube, room: dict[tuple[str, str], list[Cube]]) -> int:
    """Cut a box along the lines marked on it; returns what its pieces' own boxes do not take of it.

    Whatever the lines divide the box into must hold each piece as the plan gives it: its box and its foam.
    """
    (x0, x1), (y0, y1), (z0, z1) = cube
    assert cut.face == "marked line"
    straight = all(len(line) == 2 for line in cut.lines)
    assert cut.machine == ("vertical saw" if straight else "contour cutter")
    rim = shapely.box(0, 0, (x1 - x0) / 10, (y1 - y0) / 10)
    lines = [rim.exterior, *(shapely.LineString(line) for line in cut.lines)]
    faces = list(shapely.polygonize([shapely.union_all(lines)]).geoms)
    left, foam = volume(cube), 0.0
    for freed in cut.frees:
        foam += freed.volume
        if freed.fate != "piece":
            assert freed.fate == "scrap"
            continue
        found = next(
            face
            for face in faces
            if abs(face.area * freed.size[2] - freed.volume) < 0.2 * freed.size[2]
            and max(face.bounds[2] - face.bounds[0] - freed.size[0], 0) < 0.01
            and max(face.bounds[3] - face.bounds[1] - freed.size[1], 0) < 0.01
        )
        faces.remove(found)
        low = (x0 + round(found.bounds[0] * 10), y0 + round(found.bounds[1] * 10))
        sides = (round(freed.size[0] * 10), round(freed.size[1] * 10))
        piece: Cube = ((low[0], low[0] + sides[0]), (low[1], low[1] + sides[1]), (z0, z1))
        assert tenths(freed.size[2]) == z1 - z0
        room.setdefault(("piece", freed.key or ""), []).append(piece)
        left -= volume(piece)
    assert foam * 1000 <= volume(cube) * (1 + 1e-6)
    return left


def cube_of(placement: Placement, panel: Panel) -> Cube:
    thick = panel.thickness or 0.0
    along, across, up = {
        "flat": (panel.length, panel.width, thick),
        "side": (panel.length, thick, panel.width),
        "end": (thick, panel.width, panel.length),
    }[placement.stand]
    lows = (placement.x, placement.y, placement.z)
    extents = (along, across, up) if placement.turn % 180 == 0 else (across, along, up)
    x, y, z = ((tenths(low), tenths(low + side)) for low, side in zip(lows, extents, strict=True))
    return x, y, z


def check(material: BlockMaterial, layout: Layout, demands: list[Demand]) -> SawPlan:
    """Replay a plan and hold it against the layout and the raw block."""
    plan = saw_plan(material, layout, demands)
    room, dust = replay(plan)
    assert not [name for fate, name in room if fate == "part"]
    panels = {demand.key: demand.panel for demand in demands}
    # Two of one outline may share a box; which is which does not show.
    alike = {key: panel.outline or key for key, panel in panels.items()}
    wanted = Counter((alike[place.key], cube_of(place, panels[place.key])) for place in layout.placements)
    freed = Counter(
        (alike[key], cube) for (fate, key), cubes in room.items() if fate == "piece" for cube in cubes
    )
    assert freed == wanted
    length = material.length if material.cut_to is None else layout.length
    raw = tenths(length) * tenths(material.width) * tenths(material.height)
    assert plan.size == (length, material.width, material.height)
    assert sum(volume(cube) for cubes in room.values() for cube in cubes) + dust == raw
    useful = (material.min_remnant_length, material.min_remnant_width, material.min_remnant_height)
    least = tuple(map(tenths, useful))
    for (fate, name), cubes in room.items():
        if name == "offcuts":
            continue
        for (x0, x1), (y0, y1), (z0, z1) in cubes:
            sides = sorted((x1 - x0, y1 - y0))
            large = sides[1] >= least[0] and sides[0] >= least[1] and z1 - z0 >= least[2]
            assert fate in ("piece", "skin") or (fate == "remnant") == large
    for cut in plan.cuts:
        for freed_part in cut.frees:
            if freed_part.fate == "part":
                follows = next(c.number for c in plan.cuts if c.part == freed_part.name)
                assert freed_part.goes_to == f"cut {follows}"
                assert follows > cut.number
    return plan


def block(
    length: float, width: float, height: float, skins: Skins, kerf: float | Kerfs, cut_to: float | None = None
) -> BlockMaterial:
    return BlockMaterial(
        key="foam",
        name="Foam",
        length=length,
        width=width,
        height=height,
        cut_to=cut_to,
        skins=skins,
        kerf=kerf,
        density=30,
    )


def slab(
    key: str, length: float, width: float, thickness: float, quantity: int = 1, **more: object
) -> Demand:
    panel = Panel(
        code=key,
        name=key,
        material="foam",
        length=length,
        width=width,
        thickness=thickness,
        **more,  # type: ignore[arg-type]
    )
    return Demand(key=key, panel=panel, model="Aster", size="single", quantity=quantity)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    sizes=st.lists(
        st.tuples(
            st.integers(500, 9000),
            st.integers(500, 9000),
            st.sampled_from([200, 355, 1000]),
            st.integers(1, 9),
            st.sampled_from(["flat", "standing", "triangle", "round"]),
        ),
        min_size=1,
        max_size=4,
    ),
    room=st.tuples(st.integers(9000, 21000), st.integers(9000, 21000), st.integers(1000, 5000)),
    kerf=st.tuples(st.sampled_from([0, 5, 20]), st.sampled_from([0, 5, 20])),
    long=st.booleans(),
    skins=st.tuples(*[st.sampled_from([0, 3, 25, 150])] * 6),
    order=st.sampled_from(["slit first", "saw first", "best"]),
)
def test_the_replayed_plan_frees_the_layout(
    sizes: list[tuple[int, int, int, int, str]],
    room: tuple[int, int, int],
    kerf: tuple[int, int],
    long: bool,
    skins: tuple[int, ...],
    order: Literal["slit first", "saw first", "best"],
) -> None:
    """Blocks as the solver lays them: all pieces where they lie, and every cubic millimetre accounted for."""
    x0, x1, y0, y1, z0, z1 = (skin / 10 for skin in skins)
    material = block(
        round(room[0] / 10 + x0 + x1, 1),
        round(room[1] / 10 + y0 + y1, 1),
        round(room[2] / 10 + z0 + z1, 1),
        Skins(x0, x1, y0, y1, z0, z1),
        Kerfs(kerf[0] / 10, kerf[1] / 10),
    )
    if long:
        material = replace(material, length=material.length * 3, cut_to=room[0] / 10)
    material = replace(material, order=order)
    demands = [shaped(f"P{n}", a / 10, b / 10, t / 10, q, way) for n, (a, b, t, q, way) in enumerate(sizes)]
    problem = problem_for(material, demands)
    answer = solve(problem, time_limit=None, effort=0.5)
    verify(problem, answer)
    for layout in answer.layouts:
        if layout.cuts is not None and (layout.cuts.axis is not None or has_outline(layout, demands)):
            check(material, layout, demands)
    assert_lengths_add_up(material, answer.layouts)
    figures = account(material, demands, answer.layouts, (), value=answer.value, bound=answer.bound)
    amounts = [figures.pieces, figures.remnants, *(loss.amount for loss in figures.losses)]
    assert sum(amounts) == pytest.approx(figures.consumed, abs=1e-7)


def shaped(key: str, length: float, width: float, thickness: float, quantity: int, way: str) -> Demand:
    """A slab that lies flat, may stand, or is a triangle or a shape with one cut-off corner."""
    turns = (0.0, 90.0, 180.0, 270.0)
    if way == "triangle":
        outline: tuple[tuple[float, float], ...] = ((0, 0), (length, 0), (0, width))
        return slab(key, length, width, thickness, quantity, outline=outline, turns=turns)
    if way == "round":
        corner = ((length, width / 2), (length * 0.8, width * 0.8), (length / 2, width))
        outline = ((0, 0), (length, 0), *corner, (0, width))
        return slab(key, length, width, thickness, quantity, outline=outline, turns=turns)
    return slab(key, length, width, thickness, quantity, turns=turns[:2], standing=way == "standing")


def has_outline(layout: Layout, demands: list[Demand]) -> bool:
    shapes = {demand.key for demand in demands if demand.panel.outline}
    return any(place.key in shapes for place in layout.placements)


def assert_lengths_add_up(material: BlockMaterial, layouts: Sequence[Layout]) -> None:
    """Cut every long block to length as told: the parts come off at their lengths, as many as are cut up."""
    saw = tenths(material.kerfs.upright)
    parts: Counter[int] = Counter()
    for long_block in long_blocks(material, layouts):
        at = 0
        for cut in length_cuts(material, long_block):
            came = tenths(cut.measure) - at
            assert came == tenths(cut.length) or came <= 0 == cut.length
            if cut.layout is not None:
                assert came == tenths(layouts[cut.layout].length)
                parts[cut.layout] += long_block.count
            at = tenths(cut.measure) + saw
        if len(parts) and at < tenths(material.length - material.skins.x1):
            assert kept_rest(material, long_block) in (0.0, round(material.length - at / 10, 4))
        last = long_block.parts[-1]
        if material.length - last.end < 1e-6:
            parts[last.layout] += long_block.count
    if material.cut_to is not None:
        assert parts == Counter({at: layout.repeats for at, layout in enumerate(layouts)})


def test_measures_of_a_worked_block_add_up_by_hand() -> None:
    """Two sheets of 100 and one of 50, and one slab of each sheet, by arithmetic.

    Skins 10, 20 / 30, 40 / 50, 60 and a saw cut of 2. The left skin is 8 thick and its cut begins at 8.
    Level cuts from the raw bottom: 50 - 2 = 48, top at 412 - 60 = 352, then 150, 252, 304.
    """
    material = block(1000, 800, 412, Skins(10, 20, 30, 40, 50, 60), 2)
    big, thin = slab("big", 970, 500, 100, 2), slab("thin", 970, 730, 50)

    def sheet(z: float, piece: int) -> CutNode:
        parts = (
            CutNode(10, 30, 970, 500, piece=piece, z=z, height=100),
            CutNode(10, 532, 970, 228, z=z, height=100),
        )
        return CutNode(10, 30, 970, 730, "y", parts, z=z, height=100)

    parts = (
        sheet(50, 0),
        sheet(152, 1),
        CutNode(10, 30, 970, 730, piece=2, z=254, height=50),
        CutNode(10, 30, 970, 730, z=306, height=46),
    )
    root = CutNode(10, 30, 970, 730, "z", parts, z=50, height=302)
    places = (
        Placement("big", 10, 30, z=50),
        Placement("big", 10, 30, z=152),
        Placement("thin", 10, 30, z=254),
    )
    plan = check(material, Layout("block", places, 1000, 3, root), [big, thin])
    told = [(cut.part, cut.copies, cut.face, cut.measure, [f.name for f in cut.frees]) for cut in plan.cuts]
    assert told == [
        ("block", 1, "left end", 8, ["skin, left end"]),
        ("block", 1, "left end", 980, ["skin, right end"]),
        ("block", 1, "front side", 28, ["skin, front side"]),
        ("block", 1, "front side", 760, ["skin, back side"]),
        ("block", 1, "bottom", 48, ["skin, bottom"]),
        ("block", 1, "bottom", 352, ["skin, top"]),
        ("block", 1, "bottom", 150, ["sheet A"]),
        ("block", 1, "bottom", 252, ["sheet A"]),
        ("block", 1, "bottom", 304, ["no. 2 thin", "rest"]),
        ("sheet A", 2, "front side", 500, ["no. 1 big", "rest"]),
    ]
    assert [freed.goes_to for freed in plan.cuts[8].frees] == ["pile Aster single thin", "stock"]
    assert plan.cuts[9].frees[1].fate == "scrap"
    assert plan.cuts[6].frees[0].goes_to == "cut 10"
    assert plan.parts[1].lows == ((10, 30, 50), (10, 30, 152))


def test_slitter_and_saw_take_each_its_own() -> None:
    """Skins 4 and 6 of 110, sides 10; level cuts take 0.5, upright ones 2. Three sheets of 30, by arithmetic.

    Level: 4 - 0.5 = 3.5, top at 104, then 34, 64.5, 95. Upright: 10 - 2 = 8, 990 from the block; the slab
    of 400 and its cut are 402, the second ends at 802 from its own edge.
    """
    material = block(1000, 500, 110, Skins(10, 10, 0, 0, 4, 6), Kerfs(0.5, 2))
    sheets = []
    for n, z in enumerate((4, 34.5, 65)):
        parts = (
            CutNode(10, 0, 400, 500, piece=2 * n, z=z, height=30),
            CutNode(412, 0, 400, 500, piece=2 * n + 1, z=z, height=30),
            CutNode(814, 0, 176, 500, z=z, height=30),
        )
        sheets.append(CutNode(10, 0, 980, 500, "x", parts, z=z, height=30))
    rest = CutNode(10, 0, 980, 500, z=95.5, height=8.5)
    root = CutNode(10, 0, 980, 500, "z", (*sheets, rest), z=4, height=100)
    places = tuple(Placement("a", x, 0, z=z) for z in (4, 34.5, 65) for x in (10, 412))
    plan = check(material, Layout("block", places, 1000, 1, root), [slab("a", 400, 500, 30, 6)])
    told = [(cut.part, cut.machine, cut.measure) for cut in plan.cuts]
    assert told == [
        ("block", "vertical saw", 8),
        ("block", "vertical saw", 990),
        ("block", "slitter", 3.5),
        ("block", "slitter", 104),
        ("block", "slitter", 34),
        ("block", "slitter", 64.5),
        ("block", "slitter", 95),
        ("sheet A", "vertical saw", 400),
        ("sheet A", "vertical saw", 802),
    ]
    assert plan.kerfs == (2, 2, 0.5)


def test_a_long_block_by_hand() -> None:
    """10 m less 20 and 30, saw cut 10, slitter 1; six cores of 2000: four on one block, two on the next.

    The skin of 20 is 10 thick, its cut begins at 10. A part and its cut are 2010: 2020, 4030, 6040, 8050.
    What is left begins behind the last cut: 10000 - 8060 = 1940, and 10000 - 4040 = 5960. Taken are 8060
    and 4040, that is 12.1 m x 0.055 m2 = 0.6655 m3, of which cores 0.6, skins 12 m x 0.005 + 2 x 0.02 m x
    0.055 = 0.0622, and saw cuts 6 x 0.01 m x 0.055 = 0.0033.
    """
    skins = Skins(x0=20, x1=30, z0=4, z1=6)
    material = replace(block(10000, 500, 110, skins, Kerfs(1, 10), cut_to=2500), price=100)
    demands = [slab("core", 2000, 500, 100, 6)]
    answer = solve(problem_for(material, demands), time_limit=None, effort=1)
    first, second = long_blocks(material, answer.layouts)
    assert [cut.measure for cut in length_cuts(material, first)] == [10, 2020, 4030, 6040, 8050]
    assert [cut.measure for cut in length_cuts(material, second)] == [10, 2020, 4030]
    assert [cut.length for cut in length_cuts(material, second)] == [10, 2000, 2000]
    assert [kept_rest(material, one) for one in (first, second)] == [1940, 5960]
    plan = check(material, answer.layouts[0], demands)
    assert plan.size == (2000, 500, 110)
    assert [(cut.face, cut.measure) for cut in plan.cuts] == [("bottom", 3), ("bottom", 104)]
    figures = account(material, demands, answer.layouts, (), value=answer.value, bound=answer.bound)
    losses = {loss.cause: loss.amount for loss in figures.losses}
    assert (figures.stock_count, figures.consumed, figures.pieces) == pytest.approx((2, 0.6655, 0.6))
    assert losses == {"skins": pytest.approx(0.0622), "cut width": pytest.approx(0.0033)}
    assert figures.cost == pytest.approx(66.55)
    rests = [rest for rest in remnants_of(material, answer.layouts, ()) if rest.source.startswith("end of")]
    assert [(rest.length, rest.quantity) for rest in rests] == [(5960, 1), (1940, 1)]


def test_a_pair_of_triangles_by_hand() -> None:
    """Legs 100, a saw cut of 2: the box is 100 x 102.9, and one cut between two lines 2 apart frees both."""
    corners = ((0.0, 0.0), (100.0, 0.0), (0.0, 100.0))
    triangle = slab("t", 100, 100, 50, 2, outline=corners, turns=(0.0, 90.0, 180.0, 270.0))
    material = block(100, 102.9, 50, Skins(), 2)
    places = (Placement("t", 0, 0), Placement("t", 0, 2.9, 180))
    leaf = CutNode(0, 0, 100, 102.9, piece=0, height=50, pair=1)
    plan = check(material, Layout("block", places, 100, 1, leaf), [triangle])
    (cut,) = plan.cuts
    assert (cut.machine, cut.face, cut.part) == ("vertical saw", "marked line", "block")
    assert cut.lines == (((100, 0), (0, 100)), ((0, 102.9), (100, 2.9)))
    assert [(freed.fate, freed.size, round(freed.share, 6)) for freed in cut.frees] == [
        ("piece", (100, 100, 50), 0.5),
        ("piece", (100, 100, 50), 0.5),
    ]


def test_a_standing_slab_says_so() -> None:
    """A rail of 900 x 90 x 160 on its side is 160 wide and 90 high on the table."""
    rail = slab("r", 900, 90, 160, standing=True)
    leaf = CutNode(0, 0, 900, 160, piece=0, height=90)
    root = CutNode(0, 0, 1000, 160, "x", (leaf, CutNode(902, 0, 98, 160, height=90)), height=90)
    layout = Layout("block", (Placement("r", 0, 0, stand="side"),), 1000, 1, root)
    plan = check(block(1000, 160, 90, Skins(), 2), layout, [rail])
    assert [(freed.name, freed.size) for freed in plan.cuts[0].frees] == [
        ("no. 1 r, on its side", (900, 160, 90)),
        ("rest", (98, 160, 90)),
    ]


def test_scrap_beside_scrap_is_not_cut_apart() -> None:
    """Three scraps side by side are one; a useful rest is cut free of them."""
    material = block(1000, 500, 100, Skins(), 0)
    piece = slab("a", 200, 500, 100)

    def layout(*lengths: float) -> Layout:
        parts, at = [CutNode(0, 0, 200, 500, piece=0, height=100)], 200.0
        for length in lengths:
            parts.append(CutNode(at, 0, length, 500, height=100))
            at += length
        root = CutNode(0, 0, 1000, 500, "x", tuple(parts), height=100)
        return Layout("block", (Placement("a", 0, 0),), 1000, cuts=root)

    (cut,) = check(replace(material, min_remnant_length=900), layout(250, 250, 300), [piece]).cuts
    assert [freed.size for freed in cut.frees] == [(200, 500, 100), (800, 500, 100)]
    first, second = check(material, layout(100, 700), [piece]).cuts
    assert (first.measure, second.measure) == (200, 300)
    assert [freed.fate for freed in second.frees] == ["scrap", "remnant"]


def test_a_rest_no_thicker_than_the_blade_is_dust_and_a_fitting_part_is_not_cut() -> None:
    """2 mm are left of 1002, the blade takes them; across it the piece fills the block."""
    piece = slab("a", 1000, 500, 100)
    leaf = CutNode(0, 0, 1000, 500, piece=0, height=100)
    root = CutNode(0, 0, 1002, 500, "x", (leaf,), height=100)
    layout = Layout("block", (Placement("a", 0, 0),), 1002, cuts=root)
    (cut,) = check(block(1002, 500, 100, Skins(), 3), layout, [piece]).cuts
    assert (cut.measure, [freed.name for freed in cut.frees]) == (1000, ["no. 1 a"])


def test_the_last_skin_frees_a_block_that_is_one_piece() -> None:
    """Nothing is left to cut; the piece still comes off the saw."""
    piece = slab("a", 980, 500, 100)
    leaf = CutNode(12, 0, 980, 500, piece=0, height=100)
    layout = Layout("block", (Placement("a", 12, 0),), 1000, cuts=leaf)
    for material in (block(1000, 500, 100, Skins(x0=12, x1=8), 3), block(992, 500, 100, Skins(x0=12), 3)):
        plan = check(material, layout, [piece])
        assert {freed.fate for freed in plan.cuts[-1].frees} >= {"piece"}


def test_pieces_go_to_their_orders_earliest_due_first() -> None:
    """Four blocks give four pieces a cut; the order due first gets the first of them."""
    shares = (
        OrderShare(order="late", due="2026-12-09", pieces=4),
        OrderShare(order="soon", due="2026-12-01", pieces=3),
    )
    piece = replace(slab("a", 300, 500, 100, 8), orders=shares)
    parts = tuple(CutNode(at, 0, 300, 500, piece=n, height=100) for n, at in enumerate((0, 300)))
    root = CutNode(0, 0, 600, 500, "x", parts, height=100)
    places = (Placement("a", 0, 0), Placement("a", 300, 0))
    layout = Layout("block", places, 600, 4, root)
    material = block(600, 500, 100, Skins(), 0)
    item = _material_plan(material, piece, layout)
    (plan,) = saw_plans(item, "order")
    assert [freed.goes_to for freed in plan.cuts[0].frees] == ["soon x3; late x1", "late x3; extra x1"]


def test_orders_get_the_pieces_of_all_parts_that_are_cut_alike() -> None:
    """Two alike sheets in three blocks give six pieces at one cut."""
    shares = (OrderShare(order="only", due="2026-12-09", pieces=6),)
    piece = replace(slab("a", 300, 500, 100, 6), orders=shares)
    sheets = []
    for n, z in enumerate((0, 100)):
        parts = (CutNode(0, 0, 300, 500, piece=n, z=z, height=100), CutNode(300, 0, 9, 500, z=z, height=100))
        sheets.append(CutNode(0, 0, 309, 500, "x", parts, z=z, height=100))
    root = CutNode(0, 0, 309, 500, "z", tuple(sheets), height=200)
    layout = Layout("block", (Placement("a", 0, 0), Placement("a", 0, 0, z=100)), 309, 3, root)
    (plan,) = saw_plans(_material_plan(block(309, 500, 200, Skins(), 0), piece, layout), "order")
    assert [freed.goes_to for freed in plan.cuts[-1].frees] == ["only x6", "rebond"]


def _material_plan(material: BlockMaterial, piece: Demand, layout: Layout) -> MaterialPlan:
    return MaterialPlan(
        material=material,
        demands=(piece,),
        layouts=(layout,),
        missing={},
        stock=(),
        remnants=(),
        figures=account(material, (piece,), (layout,), (), value=1, bound=1),
        stopped="proved",
        effort=0,
    )


def test_a_layout_that_cannot_be_followed_is_refused() -> None:
    """Without a tree of cuts, or with a piece that nobody wants."""
    material = block(600, 500, 100, Skins(), 0)
    layout = Layout("block", (Placement("a", 0, 0),), 600)
    with pytest.raises(LayoutError, match="no tree of cuts"):
        saw_plan(material, layout, [slab("a", 300, 500, 100)])
    leaf = CutNode(0, 0, 300, 500, piece=0, height=100)
    with pytest.raises(LayoutError, match="'a', which is not wanted"):
        saw_plan(material, replace(layout, cuts=leaf), [slab("b", 300, 500, 100)])
