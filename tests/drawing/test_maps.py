"""Printed pages of every kind of material: what they say, and that it can be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import Literal, TypeAlias

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawing.cutting_order import cutting_orders
from nesting.drawing.lettering import text_width
from nesting.drawing.maps import map_pages
from nesting.drawing.paper import PAPERS, DrawingError
from nesting.drawing.pieces import is_lengths
from nesting.drawing.scene import Circle, Layer, Line, Polygon, Scene, Text
from nesting.model import (
    CutNode,
    Demand,
    Layout,
    Mark,
    MaterialPlan,
    Placement,
    Plan,
    RollMaterial,
    Units,
    Workshop,
)

Pages: TypeAlias = dict[tuple[str, str], tuple[Scene, ...]]
Faults: TypeAlias = Callable[[Scene, float], list[str]]
WordsOn: TypeAlias = Callable[[Scene], list[str]]
PlanOf: TypeAlias = Callable[..., Plan]
DemandOf: TypeAlias = Callable[..., Demand]
MaterialPlanOf: TypeAlias = Callable[..., MaterialPlan]


@pytest.fixture(scope="module")
def pages(plan: Plan) -> Pages:
    """All pages by paper and material."""
    return {(paper, m.material.key): map_pages(plan, m, paper) for paper in PAPERS for m in plan.materials}


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_can_be_read(
    paper: str,
    plan: Plan,
    pages: Pages,
    page_faults: Faults,
) -> None:
    """No words over words, none too small, nothing off the paper."""
    for material_plan in plan.materials:
        for scene in pages[paper, material_plan.material.key]:
            assert page_faults(scene, PAPERS[paper].least) == []


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_in_inches_can_be_read(paper: str, plan: Plan, page_faults: Faults) -> None:
    """Fractions take more room than millimetres: still no words over words, and nothing off the paper."""
    in_inches = replace(plan, workshop=Workshop(units="inch"))
    for material_plan in plan.materials:
        for scene in map_pages(in_inches, material_plan, paper):
            assert page_faults(scene, PAPERS[paper].least) == []


# ISO 216: A1 is 594 x 841 mm, A3 297 x 420 mm, A4 210 x 297 mm. ASME Y14.1: sizes A and B are 8.5 x 11 and
# 11 x 17 in, here at 25.4 mm each.
@pytest.mark.parametrize(
    ("paper", "size"),
    [
        ("A1", (841.0, 594.0)),
        ("A3", (420.0, 297.0)),
        ("A4", (297.0, 210.0)),
        ("Letter", (279.4, 215.9)),
        ("Tabloid", (431.8, 279.4)),
    ],
)
def test_pages_are_standard_paper(paper: str, size: tuple[float, float], pages: Pages) -> None:
    """Lying, long side along x."""
    assert (pages[paper, "ticking"][0].width, pages[paper, "ticking"][0].height) == size


def test_an_inch_shop_reads_inches_on_its_own_paper(plan: Plan, words_on: WordsOn) -> None:
    """12 300 mm are 484.252 in, a roll of 2200 mm is 86.614 in wide (arithmetic)."""
    in_inches = replace(plan, workshop=Workshop(units="inch", paper="Letter"))
    scene = map_pages(in_inches, plan.materials[0])[0]
    words = words_on(scene)
    assert (scene.width, scene.height) == (279.4, 215.9)
    for expected in ("484 1/4 in", "86 5/8 / 84 5/8 in", "81 9/16 x 61 9/16", "1 yd"):
        assert any(expected in line for line in words), expected
    assert all(" in (" in line for line in words if " mm" in line)  # of what does not fit, both are told
    assert any(line.startswith("All measures in inches, rounded: sizes to 1/16 in") for line in words)


def test_a_decimal_comma_is_kept_throughout(plan: Plan, words_on: WordsOn) -> None:
    """Shares as well as lengths."""
    scene = map_pages(replace(plan, workshop=Workshop(decimal=",")), plan.materials[0])[0]
    assert "1,5 %" in words_on(scene)


def test_other_paper_is_refused_in_words(plan: Plan) -> None:
    """What was asked, what is allowed, what to do."""
    with pytest.raises(
        DrawingError, match=r"paper = 'A5': allowed: A1, A3, A4, Tabloid, Letter\. Choose one of them"
    ):
        map_pages(plan, plan.materials[0], "A5")


def test_the_header_says_what_the_lead_needs(pages: Pages, words_on: WordsOn) -> None:
    """Range, material, widths, length, lays, pieces, efficiency, gap, date, seed, version, page."""
    words = words_on(pages["A3", "ticking"][0])
    for expected in (
        "Spring range – Quilted ticking, damask white",
        "Marker 1 of 2: spread 3 lays: 10 + 10 + 5 plies",
        "2200 / 2150 mm",
        "12300 mm",
        "12340 mm",  # 20 mm lost at each end
        "25 / 3",
        "21 / 525",
        "1.5 %",
        "2026-11-25",
        "7",
        "0.1.0",
        "invented approval T-100",
        "page 1 of 2",
    ):
        assert expected in words


def test_what_could_not_be_cut_is_on_the_first_page_only(pages: Pages, words_on: WordsOn) -> None:
    """With quantity, piece, size and reason."""
    first, second = (" ".join(words_on(scene)) for scene in pages["A3", "ticking"])
    assert "NOT IN THESE MAPS: 2 x HB Briar super king, 2400 x 2300: it is 2300 mm wide" in first
    assert "No. 4: Mark the face side with chalk." in first
    assert "NOT IN THESE MAPS" not in second


def test_a_material_without_layouts_still_gets_a_page(
    plan: Plan, ticking: MaterialPlan, words_on: WordsOn
) -> None:
    """It says that there is nothing to cut, and why."""
    (scene,) = map_pages(plan, replace(ticking, layouts=()), "A4")
    words = " ".join(words_on(scene))
    assert "Nothing to cut" in words
    assert "NOT IN THESE MAPS: 2 x HB" in words


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("ticking", ["guard down", "cut-resistant glove", "ply limit"]),
        ("board", ["Saw blades", "dust"]),
        ("foam-30", ["No hot wire on polyurethane", "toxic smoke", "Draw off dust"]),
    ],
)
def test_every_page_carries_the_caution_for_its_work(
    key: str,
    words: list[str],
    pages: Pages,
    words_on: WordsOn,
) -> None:
    """And the line that the program certifies nothing."""
    common = [
        "plans cutting only",
        "does not test or certify fire performance",
        "machine maker's instructions",
    ]
    for scene in pages["A4", key]:
        said = " ".join(words_on(scene))
        assert all(part in said for part in [*words, *common])


def test_every_piece_shows_its_number_code_and_cut_size(pages: Pages, words_on: WordsOn) -> None:
    """Five top panels, each with number, name and size; the narrow strips in one line."""
    words = words_on(pages["A3", "ticking"][0])
    assert words.count("TP queen") == 5
    assert words.count("2  BO queen") == 10
    assert words.count("4  FL queen  1200 x 75") == 4
    assert words.count("2072 x 1564") == 5 + 1  # once more in the legend
    assert words.count("turned 180°") == 3


def test_labels_do_not_stand_on_marks(
    plan_of: PlanOf, demand_of: DemandOf, material_plan_of: MaterialPlanOf
) -> None:
    """A border strip with handles, vents and notches: no letter covers a sign."""
    handles = tuple(Mark("handle", ((x, 130.0),)) for x in (446.0, 1339.0))
    vents = tuple(Mark("vent", ((x, 130.0),)) for x in (600.0, 1185.0))
    notches = tuple(Mark("notch", ((x, y),)) for x in (0.0, 892.0, 1785.0) for y in (0.0, 260.0))
    strip = demand_of(
        "BO-1", "Border", 1785, 260, size="Long double 140x200", marks=handles + vents + notches
    )
    roll = RollMaterial(key="m", name="M", width=2150, roll_length=100_000)
    places = tuple(Placement(strip.key, x, y * 260.0) for x in (0.0, 1785.0, 3570.0) for y in range(8))
    item = material_plan_of(roll, [strip], [Layout("roll", places, 5355.0)])
    (scene,) = map_pages(plan_of(item), item, "A3")
    vents_drawn = [item for item in scene.items if isinstance(item, Circle)]
    assert len(vents_drawn) == 2 * len(places)
    texts = [item for item in scene.items if isinstance(item, Text) and item.anchor == "middle"]
    for vent in vents_drawn:
        for text in texts:
            half = text_width(text.words, text.size, text.bold) / 2.0
            beside = abs(vent.x - text.x) > half or not text.y <= vent.y <= text.y + text.size
            assert beside, text.words


def test_a_piece_is_drawn_to_scale(pages: Pages) -> None:
    """A panel of 2072 x 1564 at 1:25 is 82.88 x 62.56 mm on paper."""
    sizes = {
        (round(max(xs) - min(xs), 2), round(max(ys) - min(ys), 2))
        for item in pages["A3", "ticking"][0].items
        if isinstance(item, Polygon) and item.layer is Layer.PIECES
        for xs, ys in [tuple(zip(*item.points, strict=True))]
    }
    assert (82.88, 62.56) in sizes


def test_only_one_way_material_shows_arrows(pages: Pages, words_on: WordsOn) -> None:
    """The velvet says which way its nap runs; the two-way ticking does not."""
    said = "ONE-WAY: nap or pattern runs this way"
    assert any(said in words for words in words_on(pages["A3", "velvet"][0]))
    assert not any(said in words for words in words_on(pages["A3", "ticking"][0]))


def test_first_cuts_are_numbered_and_measured(pages: Pages, words_on: WordsOn) -> None:
    """At the cuts and in the table: 10 trim + 1500 board = 1510."""
    words = words_on(pages["A3", "board"][0])
    assert {"1: 1510", "2: 2110", "3: 2204", "4: 2298"} <= set(words)
    assert {"1510", "1500", "rest", "From raw left edge"} <= set(words)


def test_remnants_are_marked_with_their_size(pages: Pages, words_on: WordsOn) -> None:
    """Both rests of the second sheet are large enough to keep."""
    words = words_on(pages["A3", "board"][1])
    assert words.count("KEEP") == 2
    assert {"2420 x 600", "916 x 600"} <= set(words)


def test_a_slit_first_block_lists_its_sheets_with_heights(pages: Pages, words_on: WordsOn) -> None:
    """Bottom skin 20, sheets of 100, cuts of 0.5: the second begins at 120.5, the last at 1025."""
    words = words_on(pages["A3", "foam-30"][0])
    assert any(title.startswith("Plan A: sheets 1–10, 100 thick") for title in words)
    assert {"20", "120", "120.5", "220.5", "924.5", "1024.5", "1025", "1045"} <= set(words)
    rest = [words for scene in pages["A3", "foam-30"] for words in words_on(scene)]
    assert any(title.startswith("Plan B: sheet 11, 20 thick") for title in rest)


def test_a_saw_first_block_shows_columns_and_their_stacks(pages: Pages, words_on: WordsOn) -> None:
    """Two columns A.1 are alike, A.2 is the rails; what is left above the rails is waste."""
    words = [words for scene in pages["A3", "foam-30"] for words in words_on(scene)]
    assert "A.1: 1910 x 910" in words
    assert "A.2: 1910 x 99" in words
    assert "waste" in words


def test_bars_are_lists_of_lengths(pages: Pages, words_on: WordsOn) -> None:
    """7 x 7033 = 49 231, which leaves 769 of 50 000; short neighbours alike are drawn as one."""
    words = words_on(pages["A3", "tape"][0])
    assert "Pattern 1: cut 6 times;  bar 50000, rest 769" in words
    assert "Pattern 2: cut 3 times;  bar 50000, rest 3055 (keep)" in words
    assert any(line.startswith("5 x no. 1 (7033)") for line in words)


def test_a_long_marker_is_broken_where_no_piece_is_cut(
    plan_of: PlanOf,
    demand_of: DemandOf,
    material_plan_of: MaterialPlanOf,
) -> None:
    """Thirty panels in a row of 62 m: every panel is drawn whole, and the bands fill several pages."""
    roll = RollMaterial(key="m", name="M", width=2150, roll_length=100_000)
    panel = demand_of("TP", "Top", 2072, 1564)
    places = tuple(Placement(panel.key, i * 2072.0, 0.0) for i in range(30))
    item = material_plan_of(roll, [panel], [Layout("roll", places, 30 * 2072.0)])
    scenes = map_pages(plan_of(item), item, "A3")
    assert len(scenes) > 1
    drawn = [
        item
        for scene in scenes
        for item in scene.items
        if isinstance(item, Polygon) and item.layer is Layer.PIECES and item.style and item.style.width > 0.3
    ]
    assert len(drawn) == 30


def test_a_piece_across_a_break_has_no_edge_there(
    plan_of: PlanOf,
    demand_of: DemandOf,
    material_plan_of: MaterialPlanOf,
) -> None:
    """A strip of 40 m runs over all bands; its short edges are drawn twice in all, at its two ends."""
    roll = RollMaterial(key="m", name="M", width=2150, roll_length=100_000)
    strip = demand_of("ST", "Strip", 40_000, 900)
    item = material_plan_of(roll, [strip], [Layout("roll", (Placement(strip.key, 0.0, 0.0),), 40_000.0)])
    scenes = map_pages(plan_of(item), item, "A3")
    edges = [
        (a, b)
        for scene in scenes
        for item in scene.items
        if isinstance(item, Line) and item.layer is Layer.PIECES
        for a, b in pairwise(item.points)
    ]
    assert len([1 for a, b in edges if abs(a[0] - b[0]) < 1e-9]) == 2


@pytest.mark.parametrize("paper", ["A3", "A4"])
def test_hostile_names_do_no_harm(paper: str, hostile: Plan, page_faults: Faults) -> None:
    """Long, foreign and malicious words stay inside their rooms."""
    for scene in map_pages(hostile, hostile.materials[0], paper):
        assert page_faults(scene, PAPERS[paper].least) == []


def _columns(sizes: list[tuple[int, int]], copies: int) -> tuple[list[tuple[float, float, int]], float]:
    """Pieces stacked across a roll of 1500 mm, column by column: x, y and index; and the length used."""
    places, x, y, deepest = [], 0.0, 0.0, 0.0
    for index, (length, width) in enumerate(sizes * copies):
        if y + width > 1500:
            x, y, deepest = x + deepest, 0.0, 0.0
        places.append((x, y, index % len(sizes)))
        y += width
        deepest = max(deepest, length)
    return places, x + deepest


@settings(max_examples=20, deadline=None)
@given(
    sizes=st.lists(st.tuples(st.integers(40, 2400), st.integers(30, 1400)), min_size=1, max_size=20),
    copies=st.integers(1, 3),
    paper=st.sampled_from(list(PAPERS)),
    units=st.sampled_from(["mm", "inch"]),
    grain=st.sampled_from(["one-way", "two-way"]),
)
def test_any_marker_can_be_read(
    plan_of: PlanOf,
    demand_of: DemandOf,
    material_plan_of: MaterialPlanOf,
    page_faults: Faults,
    sizes: list[tuple[int, int]],
    copies: int,
    paper: str,
    units: Units,
    grain: Literal["one-way", "two-way"],
) -> None:
    """Random pieces in columns across a roll: the pages stay readable whatever their sizes."""
    roll = RollMaterial(
        key="m", name="M", width=1540, edge_trim=20, roll_length=200_000, grain=grain, end_loss=30
    )
    demands = [demand_of(f"P{i}", f"Panel {i}", *size) for i, size in enumerate(sizes)]
    places, length = _columns(sizes, copies)
    layout = Layout("roll", tuple(Placement(demands[i].key, x, y) for x, y, i in places), length)
    item = material_plan_of(roll, demands, [layout])
    for scene in map_pages(replace(plan_of(item), workshop=Workshop(units=units)), item, paper):
        assert page_faults(scene, PAPERS[paper].least) == []


class _Cutter:
    """Cuts a box at random, stage by stage, down to pieces and leftovers."""

    def __init__(self, random: Random, axes: str, kerf: float, demand_of: DemandOf) -> None:
        self.random, self.axes, self.kerf, self.demand_of = random, axes, kerf, demand_of
        self.demands: list[Demand] = []
        self.places: list[Placement] = []

    def cut(self, box: tuple[float, ...], stage: int = 0) -> CutNode:
        """The tree for a box of (x, y, z, length, width, height)."""
        x, y, z, length, width, height = box
        if stage == len(self.axes):
            if self.random.random() < 0.2:
                return CutNode(x, y, length, width, z=z, height=height)
            code = f"P{len(self.demands)}"
            demand = self.demand_of(code, "Panel", length, width, thickness=height or None)
            self.demands.append(demand)
            self.places.append(Placement(demand.key, x, y, z=z))
            return CutNode(x, y, length, width, piece=len(self.places) - 1, z=z, height=height)
        axis = self.axes[stage]
        side = "xyz".index(axis)
        count = self.random.randint(1, 5)
        room = box[side + 3] - self.kerf * (count - 1)
        shares = [self.random.uniform(0.1, 1.0) for _ in range(count)]
        parts, at = [], box[side]
        for share in shares:
            part = list(box)
            part[side], part[side + 3] = at, room * share / sum(shares)
            parts.append(self.cut(tuple(part), stage + 1))
            at += part[side + 3] + self.kerf
        if count == 1:
            return parts[0]
        return CutNode(x, y, length, width, axis=axis, parts=tuple(parts), z=z, height=height)


@settings(max_examples=30, deadline=None)
@given(
    random=st.randoms(use_true_random=False),
    axes=st.sampled_from(["xy", "yx", "xyx", "zxy", "zyx", "xyz", "yxz"]),
    kerf=st.sampled_from([0.0, 0.5, 4.0]),
    paper=st.sampled_from(list(PAPERS)),
    units=st.sampled_from(["mm", "inch"]),
)
def test_any_sheet_or_block_can_be_read(
    plan_of: PlanOf,
    demand_of: DemandOf,
    material_plan_of: MaterialPlanOf,
    page_faults: Faults,
    board: MaterialPlan,
    foam: MaterialPlan,
    random: Random,
    axes: str,
    kerf: float,
    paper: str,
    units: Units,
) -> None:
    """Random trees of cuts, in sheets, and in blocks that are slit or sawn first."""
    flat = "z" not in axes
    box = (10.0, 8.0, 0.0, 2420.0, 1204.0, 0.0) if flat else (15.0, 20.0, 20.0, 2070.0, 2020.0, 1025.0)
    cutter = _Cutter(random, axes, kerf, demand_of)
    tree = cutter.cut(box)
    material = board.material if flat else foam.material
    layout = Layout("stock", tuple(cutter.places), 2440.0, 2, tree)
    item = material_plan_of(replace(material, kerf=kerf), cutter.demands, [layout])
    for scene in map_pages(replace(plan_of(item), workshop=Workshop(units=units)), item, paper):
        assert page_faults(scene, PAPERS[paper].least) == []


def test_a_tree_of_one_leaf_is_a_plain_page(plan_of: PlanOf, foam: MaterialPlan, page_faults: Faults) -> None:
    """A block that is one slab after trimming has one column and no cuts."""
    core = foam.demands[0]
    node = CutNode(15.0, 20.0, 1910.0, 910.0, piece=0, z=20.0, height=100.0)
    layout = Layout("foam-30", (Placement(core.key, 15.0, 20.0, z=20.0),), 2100.0, 1, node)
    item = replace(foam, layouts=(layout,))
    for scene in map_pages(plan_of(item), item, "A4"):
        assert page_faults(scene, 1.8) == []


def test_a_block_without_a_tree_is_shown_level_by_level(plan_of: PlanOf, foam: MaterialPlan) -> None:
    """Heights at which slabs begin make the levels."""
    core = foam.demands[0]
    places = tuple(Placement(core.key, 15.0, 20.0, z=20.0 + 100.5 * i) for i in range(3))
    item = replace(foam, layouts=(Layout("foam-30", places, 2100.0),))
    assert len(map_pages(plan_of(item), item, "A4")) >= 1


@pytest.mark.parametrize("paper", ["A3", "A4", "Letter"])
def test_mini_markers_take_one_page_each_and_are_legible(
    plan: Plan, paper: str, page_faults: Faults, words_on: WordsOn
) -> None:
    """However long the marker is; pieces tell their place in the cutting order."""
    for material_plan in plan.materials:
        if material_plan.material.kind != "roll" or is_lengths(material_plan):
            continue
        pages = map_pages(plan, material_plan, paper, mini=cutting_orders(material_plan))
        assert len(pages) == len(material_plan.layouts)
        for page in pages:
            assert page_faults(page, PAPERS[paper].least) == []
            assert any(word.endswith("cut 1") for word in words_on(page))


def test_chosen_layouts_are_drawn_alone(ticking: MaterialPlan, plan: Plan) -> None:
    """They keep their numbers."""
    pages = map_pages(plan, ticking, "A3", only={2})
    assert all("Marker 2 of 2" in page.title for page in pages)
