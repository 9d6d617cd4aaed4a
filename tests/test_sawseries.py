"""Cuts in one line: the lines tell every cut, and a block can be cut by them."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.handout import Handed
from nesting.model import BlockMaterial, Demand, Panel
from nesting.packing import Block, BlockProblem, Piece, Skins, solve
from nesting.sawcheck import check_saw_plan
from nesting.sawcuts import Freed, SawCut, SawPlan
from nesting.sawplan import saw_plan
from nesting.sawseries import saw_series


def freed(name: str = "sheet A", thick: float = 100.0, handed: tuple[Handed, ...] = ()) -> Freed:
    return Freed(
        side="near", fate="part", name=name, size=(900, 900, thick), goes_to="cut 9", key=None, handed=handed
    )


def cut(number: int, measure: float, *frees: Freed) -> SawCut:
    return SawCut(
        number=number,
        machine="slitter",
        part="block",
        copies=1,
        axis="z",
        face="bottom",
        measure=measure,
        frees=frees,
    )


def plan_of(*cuts: SawCut) -> SawPlan:
    return SawPlan(
        size=(900, 900, 1000), kerfs=(0.5, 0.5, 0.5), skins=(0,) * 6, repeats=1, cuts=cuts, parts=()
    )


REST = replace(freed("rest", 40), side="far", fate="scrap", goes_to="rebond")


def test_nine_cuts_every_hundred_and_a_half_are_one_line() -> None:
    """From 100.5 to 904.5; the last frees the rest beyond it as well."""
    cuts = [cut(n, 100.5 * n, freed()) for n in range(1, 10)]
    cuts[-1] = replace(cuts[-1], frees=(freed(), REST))
    (line,) = saw_series(plan_of(*cuts))
    assert (line.count, line.step, line.first.measure, line.last_measure) == (9, 100.5, 100.5, 904.5)
    assert (line.first.number, line.last_number) == (1, 9)
    assert line.beyond == (REST,)
    assert tuple(line.cuts()) == tuple(cuts)


def test_what_is_not_the_same_begins_another_line() -> None:
    """Another part, distance or face, a cut that frees nothing; after a rest nothing follows."""
    lines = saw_series(
        plan_of(
            cut(1, 100, freed()),
            cut(2, 200.5, freed()),
            cut(3, 301, freed()),
            cut(4, 402, freed()),  # half a millimetre too far
            cut(5, 502.5, freed("sheet B")),
            cut(6, 603, freed("sheet B"), REST),
            cut(7, 703.5, freed("sheet B")),
            cut(8, 804),
            cut(9, 904.5),
            replace(cut(10, 1005, freed("sheet B")), face="top"),
        )
    )
    assert [line.count for line in lines] == [3, 1, 2, 1, 1, 1, 1]


def test_orders_in_one_line_are_added_up() -> None:
    """Six pieces that are alike: whose they are does not matter to the cutter, how many of each does."""
    first = Handed("A-1", "2026-12-01", 1, 2, 3)
    both = (Handed("A-1", "2026-12-01", 3, 1, 3), Handed("A-2", "2026-12-02", 1, 1, 5))
    last = Handed("A-2", "2026-12-02", 2, 2, 5)
    piece = replace(freed("no. 1 CO"), fate="piece")
    (line,) = saw_series(
        plan_of(
            cut(1, 100, replace(piece, handed=(first,), goes_to="A-1 x2")),
            cut(2, 200, replace(piece, handed=both, goes_to="A-1 x1; A-2 x1")),
            cut(3, 300, replace(piece, handed=(last,), goes_to="A-2 x2")),
        )
    )
    assert line.first.frees[0].goes_to == "A-1 x3; A-2 x3"


def test_lines_can_be_told_one_by_one() -> None:
    """Where rounded measures would run away."""
    cuts = [cut(n, 100.5 * n, freed()) for n in range(1, 4)]
    lines = saw_series(plan_of(*cuts), joined=False)
    assert [line.count for line in lines] == [1, 1, 1]
    assert tuple(chain(*(line.cuts() for line in lines))) == tuple(cuts)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    sizes=st.lists(
        st.tuples(
            st.integers(500, 9000),
            st.integers(500, 9000),
            st.sampled_from([200, 355, 1000]),
            st.integers(1, 12),
        ),
        min_size=1,
        max_size=3,
    ),
    room=st.tuples(st.integers(9000, 21000), st.integers(9000, 21000), st.integers(1000, 5000)),
    kerf=st.sampled_from([0, 5, 20]),
    skin=st.sampled_from([0, 3, 150]),
)
def test_a_block_can_be_cut_by_the_lines(
    sizes: list[tuple[int, int, int, int]], room: tuple[int, int, int], kerf: int, skin: int
) -> None:
    """The cuts made again from the lines are the plan, and follow it to the end on the raw block."""
    sides = [round((side + 2 * skin) / 10, 1) for side in room]
    skins = Skins.even(skin / 10)
    material = BlockMaterial(
        key="foam",
        name="Foam",
        length=sides[0],
        width=sides[1],
        height=sides[2],
        skins=skins,
        kerf=kerf / 10,
        density=30,
    )
    demands = []
    for n, (a, b, t, q) in enumerate(sizes):
        panel = Panel(code=f"P{n}", name="", material="foam", length=a / 10, width=b / 10, thickness=t / 10)
        demands.append(Demand(key=f"P{n}", panel=panel, model="Aster", size="single", quantity=q))
    pieces = tuple(
        Piece.slab(d.key, d.panel.length, d.panel.width, d.panel.thickness or 0.0, d.quantity)
        for d in demands
    )
    problem = BlockProblem((Block("block", *sides),), pieces, kerf=kerf / 10, trim=skins)
    for layout in solve(problem, time_limit=None, effort=0.5).layouts:
        plan = saw_plan(material, layout, demands)
        again = replace(plan, cuts=tuple(chain(*(line.cuts() for line in saw_series(plan)))))
        assert again == plan
        check_saw_plan(again, (sides[0], sides[1], sides[2]), layout, demands)
