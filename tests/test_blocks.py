"""Blocks of several sizes and rests from the shelf: what is offered, what is taken, what is told of it."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.blocks import block_of, block_sizes, block_stock, layout_block
from nesting.errors import LayoutError
from nesting.model import BlockMaterial, BlockSize, Demand, MaterialPlan, Panel, StockPiece
from nesting.packing import Answer, BlockProblem, Kerfs, Skins
from nesting.planning import Budget, Watch, plan_material
from nesting.requests import problem_for
from nesting.rests import solve_with_rests
from nesting.sawyield import foam_yield
from nesting.shelf import shelf_key

SKINS = Skins(10, 10, 10, 10, 10, 10)
FOAM = BlockMaterial(
    key="foam",
    name="Foam",
    length=2020,
    width=1020,
    height=520,
    skins=SKINS,
    density=30,
    price=100,
    remnant_value=0.5,
)
SIZED = replace(
    FOAM,
    sizes=(
        BlockSize(name="K1", length=2020, width=1020, height=520),
        BlockSize(name="K2", length=1020, width=1020, height=220, price=120, skins=Skins(z0=20)),
    ),
)


def slab(key: str, length: float, width: float, thickness: float, quantity: int) -> Demand:
    panel = Panel(
        code=key,
        name=key,
        material="foam",
        length=length,
        width=width,
        thickness=thickness,
        turns=(0.0, 90.0),
    )
    return Demand(key=key, panel=panel, model="Aster", size="single", quantity=quantity)


def piece(key: str, *sides: float, remnant: bool = True, material: str = "foam") -> StockPiece:
    length, width, height = sides
    return StockPiece(
        id=key, material=material, length=length, width=width, height=height, remnant=remnant, place="bay 1"
    )


def planned(
    material: BlockMaterial, demands: Sequence[Demand], stock: Sequence[StockPiece] = (), effort: float = 3
) -> MaterialPlan:
    return plan_material(
        material, tuple(demands), Budget(effort=effort), Watch(), threading.Event(), tuple(stock)
    )


def test_one_size_and_several_have_one_form() -> None:
    """Where a size says nothing, the material holds."""
    (plain,) = block_sizes(FOAM)
    assert (plain.name, plain.length, plain.skins, plain.price) == ("block", 2020, SKINS, 100)
    first, second = block_sizes(SIZED)
    assert (first.skins, first.price) == (SKINS, 100)
    assert (second.skins, second.price) == (Skins(z0=20), 120)


def test_a_layout_finds_the_block_it_is_cut_from() -> None:
    """By the name of the size or the id on the shelf; a rest has no skins and is worth its share."""
    small = block_of(SIZED, "K2")
    assert (small.material.height, small.material.skins, small.size) == (220, Skins(z0=20), "K2")
    assert small.cost == pytest.approx(1.02 * 1.02 * 0.22 * 120)
    assert small.material.sizes == ()
    rest = block_of(SIZED, "shelf B-7", [piece("B-7", 900, 800, 300)])
    assert (rest.material.length, rest.material.skins, rest.name) == (900, Skins(), "remnant B-7")
    assert rest.cost == pytest.approx(0.9 * 0.8 * 0.3 * 100 * 0.5)
    whole = block_of(SIZED, "shelf B-8", [piece("B-8", 2000, 1000, 500, remnant=False)])
    assert (whole.material.skins, whole.rate) == (SKINS, 100)
    assert block_of(FOAM, "whatever a plan calls it").material.length == 2020
    for material, key in ((SIZED, "K3"), (SIZED, "block"), (FOAM, "shelf B-9")):
        with pytest.raises(LayoutError, match="neither a block size nor on the shelf"):
            block_of(material, key, [piece("B-7", 900, 800, 300)])


def test_the_cheapest_size_is_bought() -> None:
    """One slab of 1000 x 1000 x 200 fills a K2 for 27.47; a K1 would cost 107.14. Ten slabs take two K1s."""
    plan = planned(SIZED, [slab("a", 1000, 1000, 200, 1)])
    assert [(layout.stock_key, layout.repeats) for layout in plan.layouts] == [("K2", 1)]
    assert plan.figures.cost == pytest.approx(1.02 * 1.02 * 0.22 * 120)
    assert plan.figures.consumed == pytest.approx(1.02 * 1.02 * 0.22)
    assert plan.figures.mass == pytest.approx(1.02 * 1.02 * 0.22 * 30)
    many = planned(SIZED, [slab("a", 1000, 1000, 100, 20)])
    assert [(layout.stock_key, layout.repeats) for layout in many.layouts] == [("K1", 2)]


def test_only_so_many_blocks_of_a_size_are_used_as_there_are() -> None:
    """One K2 is there: the second slab needs a K1."""
    k1, k2 = SIZED.sizes
    plan = planned(replace(SIZED, sizes=(k1, replace(k2, available=1))), [slab("a", 1000, 1000, 200, 2)])
    assert {layout.stock_key: layout.repeats for layout in plan.layouts} in ({"K1": 1}, {"K1": 1, "K2": 1})
    assert not plan.missing


def test_a_rest_goes_first_where_it_saves_a_block() -> None:
    """A sheet of foam of exactly the slab's size has no skins and is worth 5, a new block costs 107."""
    rest = piece("S-1", 1000, 1000, 100)
    plan = planned(FOAM, [slab("a", 1000, 1000, 100, 1)], [rest])
    assert [layout.stock_key for layout in plan.layouts] == ["shelf S-1"]
    assert plan.figures.cost == pytest.approx(0.1 * 50)
    assert plan.shelf == (rest,)
    assert [(use.piece, use.cuts) for use in plan.stock] == [("S-1", ((0, 1),))]
    assert layout_block(plan, 0).name == "remnant S-1"


def test_a_rest_stays_where_it_saves_nothing() -> None:
    """Eleven slabs take two blocks of ten, or one block and the rest; ten take one block and no rest."""
    rest = piece("S-1", 1000, 1000, 100)
    ten = planned(FOAM, [slab("a", 1000, 1000, 100, 10)], [rest])
    assert [layout.stock_key for layout in ten.layouts] == ["block"]
    assert ten.shelf == ()
    eleven = planned(FOAM, [slab("a", 1000, 1000, 100, 11)], [rest])
    assert sorted(layout.stock_key for layout in eleven.layouts) == ["block", "shelf S-1"]
    assert eleven.figures.cost == pytest.approx(2.02 * 1.02 * 0.52 * 100 + 5)


def test_alike_rests_are_handed_back_one_by_one() -> None:
    """Three sheets of foam that are alike are one kind for the search; each layout names its own."""
    rests = [piece(f"S-{n}", 1000, 1000, 100) for n in (1, 2, 3)]
    assert [(block.key, block.available) for block in block_stock(FOAM, rests)] == [
        ("block", None),
        ("shelf S-1", 3),
    ]
    plan = planned(FOAM, [slab("a", 1000, 1000, 100, 1), slab("b", 500, 1000, 100, 2)], rests)
    used = [use.piece for use in plan.stock]
    assert sorted(used) == ["S-1", "S-2"]
    names = [layout_block(plan, index).name for index in range(len(plan.layouts))]
    assert sorted(names) in (["remnant S-1", "remnant S-2"], ["remnants S-1, S-2"])


def test_another_grade_is_never_used() -> None:
    """Not even when somebody hands in a piece of it: a grade of foam is a material."""
    other = piece("X-1", 1000, 1000, 100, material="foam-50")
    assert [block.key for block in block_stock(FOAM, [other])] == ["block"]
    plan = planned(FOAM, [slab("a", 1000, 1000, 100, 1)], [other])
    assert [layout.stock_key for layout in plan.layouts] == ["block"]
    assert plan.shelf == ()


def test_a_whole_block_on_the_shelf_is_cut_before_one_is_bought() -> None:
    """It is like a new one, and one more than can be bought."""
    own = piece("B-1", 2020, 1020, 520, remnant=False)
    (offered,) = block_stock(replace(FOAM, available=1), [own])
    assert (offered.key, offered.available) == ("block", 2)
    plan = planned(FOAM, [slab("a", 2000, 1000, 500, 2)], [own])
    assert [use.piece for use in plan.stock] == ["B-1"]
    assert layout_block(plan, 0).name == "B-1 from the shelf, 1 new"


def test_without_new_blocks_only_the_shelf_is_cut() -> None:
    """What finds no room is missing."""
    problem = problem_for(FOAM, [slab("a", 1000, 1000, 100, 2)], [piece("S-1", 1000, 1000, 100)], new=False)
    assert isinstance(problem, BlockProblem)
    assert [(block.key, block.available) for block in problem.blocks] == [("block", 0), ("shelf S-1", 1)]


def test_a_rest_never_makes_a_plan_dearer() -> None:
    """A search that is misled by a rest is passed over, with the bound of the whole problem."""
    demands = [slab("a", 1000, 1000, 100, 10)]
    problem = problem_for(FOAM, demands, [piece("S-1", 1000, 1000, 100)])
    assert isinstance(problem, BlockProblem)
    asked = []

    def run(part: BlockProblem, share: float) -> Answer:
        asked.append(([block.key for block in part.blocks], share))
        misled = len(part.blocks) > 1
        return Answer(layouts=(), value=112.0 if misled else 107.0, bound=100.0 if misled else 107.0)

    answer = solve_with_rests(problem, run)
    assert (answer.value, answer.bound) == (107.0, 100.0)
    assert [keys for keys, _ in asked] == [["block"], ["block", "shelf S-1"]]
    assert sum(share for _, share in asked) == pytest.approx(1.0)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    wanted=st.lists(
        st.tuples(
            st.integers(300, 1000), st.integers(300, 1000), st.sampled_from([50, 100, 200]), st.integers(1, 8)
        ),
        min_size=1,
        max_size=3,
    ),
    rests=st.lists(
        st.tuples(
            st.integers(300, 1200), st.integers(300, 1200), st.sampled_from([50, 100, 320]), st.booleans()
        ),
        max_size=4,
    ),
    sized=st.booleans(),
)
def test_whatever_is_on_the_shelf_the_account_adds_up(
    wanted: list[tuple[int, int, int, int]], rests: list[tuple[int, int, int, bool]], sized: bool
) -> None:
    """Plans are verified, and their saw plans followed, as they are made; here the figures must agree."""
    demands = [slab(f"P{n}", a, b, t, q) for n, (a, b, t, q) in enumerate(wanted)]
    stock = [piece(f"B-{n}", a, b, t, remnant=rest) for n, (a, b, t, rest) in enumerate(rests)]
    material = SIZED if sized else FOAM
    plan = planned(material, demands, stock, effort=0.5)
    figures, found = plan.figures, foam_yield(plan)
    told = figures.pieces + sum(loss.amount for loss in figures.losses) + figures.remnants
    assert told == pytest.approx(figures.consumed)
    assert found.volumes.raw == pytest.approx(figures.consumed)
    assert found.volumes.pieces == pytest.approx(figures.pieces)
    assert found.volumes.remnants == pytest.approx(figures.remnants)
    assert found.cost == pytest.approx(figures.cost)
    assert figures.cost == pytest.approx(figures.value)
    cut = sum(
        layer.cost
        * (layer.demand.quantity - (plan.missing[layer.demand.key].quantity if plan.missing else 0))
        for layer in found.layers
    )
    assert cut == pytest.approx(found.net)
    ids = [use.piece for use in plan.stock]
    assert len(ids) == len(set(ids))
    assert {each.id for each in plan.shelf} == set(ids)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    wanted=st.lists(
        st.tuples(
            st.integers(300, 1000), st.integers(300, 1000), st.sampled_from([50, 100, 200]), st.integers(1, 9)
        ),
        min_size=1,
        max_size=3,
    ),
    lengths=st.lists(st.integers(2500, 9000), min_size=1, max_size=2, unique=True),
    rests=st.lists(st.tuples(st.integers(600, 4000), st.sampled_from([100, 320])), max_size=2),
    kerf=st.sampled_from([Kerfs(0.5, 2.0), Kerfs(0.0, 0.0), Kerfs(1.0, 30.0)]),
    outlined=st.booleans(),
    standing=st.booleans(),
)
def test_long_blocks_outlines_and_rests_add_up(
    wanted: list[tuple[int, int, int, int]],
    lengths: list[int],
    rests: list[tuple[int, int]],
    kerf: Kerfs,
    outlined: bool,
    standing: bool,
) -> None:
    """Of several lengths, cut to 2 m first, with rests that are short enough or not, corners and rails."""
    demands = [slab(f"P{n}", a, b, t, q) for n, (a, b, t, q) in enumerate(wanted)]
    demands[0] = replace(demands[0], panel=replace(demands[0].panel, standing=standing))
    if outlined:
        a, b, *_ = wanted[-1]
        corner = replace(
            demands[-1].panel,
            outline=((0.0, 0.0), (a, 0.0), (0.0, b)),
            turns=(0.0, 90.0, 180.0, 270.0),
            standing=False,
        )
        demands[-1] = replace(demands[-1], panel=corner)
    material = replace(
        FOAM,
        length=lengths[0],
        kerf=kerf,
        cut_to=2000.0,
        sizes=tuple(
            BlockSize(name=f"L{n}", length=length, width=1020, height=520) for n, length in enumerate(lengths)
        ),
    )
    stock = [piece(f"B-{n}", a, 1000, h) for n, (a, h) in enumerate(rests)]
    plan = planned(material, demands, stock, effort=0.3)
    figures, found = plan.figures, foam_yield(plan)
    told = figures.pieces + sum(loss.amount for loss in figures.losses) + figures.remnants
    assert told == pytest.approx(figures.consumed)
    assert found.volumes.raw == pytest.approx(figures.consumed)
    assert found.volumes.pieces == pytest.approx(figures.pieces)
    assert found.volumes.remnants == pytest.approx(figures.remnants)
    assert found.cost == pytest.approx(figures.cost)


def test_a_rest_keeps_the_skins_that_it_must_still_have() -> None:
    """A rest larger than the block without skins has them on; the end of a long block all but one."""
    raw = replace(FOAM, length=2000, width=1020, height=520, skins=Skins(10, 12, 10, 10, 8, 12))
    inside = block_of(raw, shelf_key(cut := piece("R", 1978, 1000, 500)), [cut])
    assert inside.material.skins == Skins()
    top = block_of(raw, shelf_key(half := piece("T", 1978, 1000, 505)), [half])
    assert top.material.skins == Skins(z0=8, z1=12)
    long = replace(raw, length=30_000, cut_to=2000.0)
    end = block_of(long, shelf_key(left := piece("L", 9000, 1020, 520)), [left])
    assert end.material.skins == Skins(x1=12, y0=10, y1=10, z0=8, z1=12)
    slab_of_it = block_of(long, shelf_key(thin := piece("S", 1900, 1000, 50)), [thin])
    assert slab_of_it.material.skins == Skins()
