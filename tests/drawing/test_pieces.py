"""Pieces where they lie."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st

from nesting.drawing.pieces import measure, placed_pieces, size_text
from nesting.errors import LayoutError
from nesting.model import Demand, Layout, Mark, MaterialPlan, Panel, Placement, RollMaterial

ROLL = RollMaterial(key="m", name="M", width=2150, roll_length=50_000)
HOOK = ((0.0, 0.0), (400.0, 0.0), (400.0, 100.0), (150.0, 100.0), (150.0, 300.0), (0.0, 300.0))


def _hook(turn: float, mirrored: bool, material_plan_of: Callable[..., MaterialPlan]) -> MaterialPlan:
    panel = Panel(
        code="HK",
        name="Hook",
        material="m",
        length=400,
        width=300,
        outline=HOOK,
        marks=(Mark("drill", ((50.0, 200.0),)),),
    )
    demand = Demand(key="hook", panel=panel, model="M", size="S", quantity=1)
    layout = Layout("roll", (Placement("hook", 1000.0, 500.0, turn, mirrored),), 3000.0)
    return material_plan_of(ROLL, [demand], [layout])


@pytest.mark.parametrize(
    ("turn", "mirrored", "corner", "drill"),
    [
        # Worked by hand: where the hook's corner (400, 100) and its hole (50, 200) come to lie.
        (0.0, False, (1400.0, 600.0), (1050.0, 700.0)),
        (90.0, False, (1200.0, 900.0), (1100.0, 550.0)),
        (180.0, False, (1000.0, 700.0), (1350.0, 600.0)),
        (270.0, False, (1100.0, 500.0), (1200.0, 850.0)),
        (0.0, True, (1400.0, 700.0), (1050.0, 600.0)),
        (90.0, True, (1100.0, 900.0), (1200.0, 550.0)),
    ],
)
def test_marks_turn_and_move_with_their_outline(
    turn: float,
    mirrored: bool,
    corner: tuple[float, float],
    drill: tuple[float, float],
    material_plan_of: Callable[..., MaterialPlan],
) -> None:
    """A hole stays where it is in the piece, however the piece is laid."""
    (piece,) = placed_pieces(_hook(turn, mirrored, material_plan_of), 0)
    assert piece.outline[2] == corner
    assert piece.marks[0].points == (drill,)
    assert piece.box[:2] == (1000.0, 500.0)


@given(st.floats(0, 360), st.booleans())
def test_turning_agrees_with_an_independent_library(turn: float, mirrored: bool) -> None:
    """Outline and hole of a turned piece are those that shapely computes."""
    panel = Panel(
        code="HK",
        name="Hook",
        material="m",
        length=400,
        width=300,
        outline=HOOK,
        marks=(Mark("drill", ((50.0, 200.0),)),),
    )
    demand = Demand(key="hook", panel=panel, model="M", size="S", quantity=1)
    layout = Layout("roll", (Placement("hook", 7.0, 11.0, turn, mirrored),), 3000.0)
    plan = MaterialPlan(
        material=ROLL,
        demands=(demand,),
        layouts=(layout,),
        missing={},
        stock=(),
        remnants=(),
        figures=None,  # type: ignore[arg-type]
        stopped="effort",
        effort=1,
    )
    (piece,) = placed_pieces(plan, 0)
    both = shapely.GeometryCollection([shapely.Polygon(HOOK), shapely.Point(50, 200)])
    if mirrored:
        both = shapely.affinity.scale(both, 1, -1, origin=(0, 0))
    both = shapely.affinity.rotate(both, turn, origin=(0, 0))
    left, low, _, _ = both.geoms[0].bounds
    both = shapely.affinity.translate(both, 7.0 - left, 11.0 - low)
    assert shapely.Polygon(piece.outline).symmetric_difference(both.geoms[0]).area == pytest.approx(
        0, abs=1e-3
    )
    assert math.dist(piece.marks[0].points[0], both.geoms[1].coords[0]) < 1e-6


def test_the_same_demand_has_the_same_number_everywhere(ticking: MaterialPlan) -> None:
    """The headboard is number 3 on both markers."""
    numbers = {p.demand.key: p.number for index in (0, 1) for p in placed_pieces(ticking, index)}
    assert numbers == {"Aster/TP/queen": 1, "Aster/BO/queen": 2, "Aster/HB/queen": 3, "Aster/FL/queen": 4}


def test_an_unknown_piece_is_named_with_its_layout(ticking: MaterialPlan) -> None:
    """A layout that refers to nothing is a fault of the planner and says so."""
    bad = replace(ticking, layouts=(Layout("roll", (Placement("ghost", 0, 0),), 10.0),))
    with pytest.raises(LayoutError, match="Layout 1 of 'ticking' places 'ghost', which is not among"):
        placed_pieces(bad, 0)


@pytest.mark.parametrize(
    ("value", "shown"), [(2072.0, "2072"), (1564.5, "1564.5"), (0.04, "0"), (-0.01, "0"), (99.96, "100")]
)
def test_measures_are_read_to_the_tenth(value: float, shown: str) -> None:
    """Whole where they are whole."""
    assert measure(value) == shown


def test_slabs_show_their_thickness(foam: MaterialPlan, ticking: MaterialPlan) -> None:
    """Length x width, and x thickness where there is one."""
    assert size_text(foam.demands[0]) == "1910 x 910 x 100"
    assert size_text(ticking.demands[0]) == "2072 x 1564"
