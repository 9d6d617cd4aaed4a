"""The cutting order: every piece once, beds together, and a short way for the knife."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawing.cuts import piece_order
from nesting.drawing.cutting_order import best_starts, cutting_orders, short_path, stacks_in_order
from nesting.drawing.pieces import placed_pieces
from nesting.handout import Handed, Handout, orders_text
from nesting.model import Demand, Layout, MaterialPlan, OrderShare, Placement, Plan, RollMaterial

ROLL = RollMaterial(key="m", name="M", width=2150, roll_length=50_000, ply_limit=2)
POINTS = st.lists(st.tuples(st.integers(0, 1000), st.integers(0, 1000)), min_size=1, max_size=7, unique=True)


def length(path: list[int], points: list[tuple[int, int]]) -> float:
    return sum(math.dist(points[a], points[b]) for a, b in itertools.pairwise(path))


@given(POINTS)
@settings(max_examples=60, deadline=None)
def test_a_path_visits_every_node_once_and_is_nearly_shortest(points: list[tuple[int, int]]) -> None:
    """Compared with all orders of up to six points: never more than a third longer."""
    path = short_path([[math.dist(a, b) for b in points] for a in points])
    assert path[0] == 0
    assert sorted(path) == list(range(len(points)))
    shortest = min(length([0, *rest], points) for rest in itertools.permutations(range(1, len(points))))
    assert length(path, points) <= shortest * 4 / 3 + 1e-6


def test_a_crossed_path_is_turned_round() -> None:
    """Nearest neighbour alone would go 0, 1, -2, 4, -8 on a line: 1 + 3 + 6 + 12; 0, 1, 4, -2, -8 is 16."""
    points = [0, 1, -2, 4, -8]
    path = short_path([[abs(a - b) for b in points] for a in points])
    assert sum(abs(points[a] - points[b]) for a, b in itertools.pairwise(path)) == 16


def test_every_piece_is_cut_once_and_trees_are_followed(plan: Plan) -> None:
    """Whatever the material."""
    for material_plan in plan.materials:
        for layout, order in zip(material_plan.layouts, cutting_orders(material_plan), strict=True):
            assert sorted(order.pieces) == sorted(order.handing) == list(range(len(layout.placements)))
            if layout.cuts is not None:
                assert list(order.pieces) == piece_order(layout)


def test_the_knife_begins_at_the_best_corners(ticking: MaterialPlan) -> None:
    """No other choice of corners is shorter: all choices tried for the first four pieces of a marker."""
    way = placed_pieces(ticking, 0)[:4]
    starts, travel = best_starts(way, (0.0, 0.0))

    def total(choice: tuple[int, ...]) -> float:
        stops = [(0.0, 0.0), *(piece.outline[i] for piece, i in zip(way, choice, strict=True))]
        return sum(math.dist(a, b) for a, b in itertools.pairwise(stops))

    assert travel == pytest.approx(total(starts))
    assert travel == pytest.approx(min(total(choice) for choice in itertools.product(range(4), repeat=4)))


def test_the_way_is_shorter_than_from_left_to_right_with_beds_kept_together(
    demand_of: Callable[..., Demand], material_plan_of: Callable[..., MaterialPlan]
) -> None:
    """Two beds of two orders, their pieces mixed in a grid of 20: each bed in one go, and a shorter way."""
    orders = tuple(OrderShare(order=name, due="2026-12-01", pieces=5) for name in ("B-1", "B-2"))
    top = demand_of("TP", "Top", 300, 200, orders=orders)
    side = demand_of("BO", "Border", 300, 200, orders=orders)
    places = [
        Placement((top, side)[(i + j) % 2].key, i * 300.0, j * 200.0) for i in range(4) for j in range(5)
    ]
    plan = material_plan_of(ROLL, [top, side], [Layout("roll", tuple(places), 1200.0)])
    (order,) = cutting_orders(plan)
    served = [stack.handed[0].order for stack in stacks_in_order(plan, [order])]
    assert [name for name, _ in itertools.groupby(served)] in (["B-1", "B-2"], ["B-2", "B-1"])
    pieces = placed_pieces(plan, 0)
    plain = best_starts([pieces[place] for place in piece_order(plan.layouts[0])], (0.0, 0.0))[1]
    assert order.travel < plain


@given(
    places=st.integers(1, 5),
    repeats=st.integers(1, 7),
    shares=st.lists(st.integers(1, 6), max_size=4),
    plies=st.integers(1, 3),
)
@settings(max_examples=40, deadline=None)
def test_every_order_gets_its_pieces_once(
    demand_of: Callable[..., Demand],
    material_plan_of: Callable[..., MaterialPlan],
    places: int,
    repeats: int,
    shares: list[int],
    plies: int,
) -> None:
    """First to last, without a gap, over all lays; what is beyond is extra."""
    orders = tuple(OrderShare(order=f"O{i}", due=f"2026-12-0{i + 1}", pieces=n) for i, n in enumerate(shares))
    top = demand_of("TP", "Top", 300, 200, orders=orders)
    layout = Layout("roll", tuple(Placement(top.key, i * 300.0, 0.0) for i in range(places)), 1500.0, repeats)
    plan = material_plan_of(replace(ROLL, ply_limit=plies), [top], [layout])
    stacks = list(stacks_in_order(plan, cutting_orders(plan)))
    assert sum(stack.plies for stack in stacks) == places * repeats
    given_out = Counter()
    for stack in stacks:
        assert sum(part.count for part in stack.handed) == stack.plies
        for part in stack.handed:
            for number in range(part.first, part.first + part.count):
                given_out[part.order, number] += 1
    total = places * repeats
    expected = {(f"O{i}", n) for i, count in enumerate(shares) for n in range(1, count + 1)}
    in_order = [(f"O{i}", n) for i, count in enumerate(shares) for n in range(1, count + 1)][:total]
    extra = [("extra", n) for n in range(1, total - len(expected) + 1)]
    assert given_out == Counter([*in_order, *extra])


def test_handing_out_counts_within_the_order_line(demand_of: Callable[..., Demand]) -> None:
    """The second call goes on where the first ended; looking ahead gives nothing away."""
    shares = (
        OrderShare(order="late", due="2026-12-09", pieces=4),
        OrderShare(order="soon", due="2026-12-01", pieces=2),
    )
    top = demand_of("TP", "Top", 300, 200, orders=shares)
    handout = Handout([top])
    assert handout.ahead(top.key, 3) == handout.hand(top.key, 3)
    assert handout.hand(top.key, 4) == (
        Handed("late", "2026-12-09", 2, 3, 4),
        Handed("extra", "", 1, 1, 0),
    )
    assert orders_text(handout.hand(top.key, 2)) == "extra x2"
