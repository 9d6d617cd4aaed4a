"""Strips round a bed: how many, how long, and where their joins fall."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.model import RollMaterial
from nesting.panels import PanelError
from nesting.panels.ring import Fitting, Ring, join_start, piece_count, ring_strips

BLAME = ("height", 250.0)
SQUARE = Ring(1500, 2000)  # perimeter 7000; corners at 750, 2750, 4250, 6250 from the head

rings = st.builds(
    lambda width, length, share: Ring(width, length, share * min(width, length) / 2),
    st.floats(500, 2200),
    st.floats(1200, 2300),
    st.floats(0, 0.3),
)


@settings(deadline=None)
@given(rings)
def test_corners_follow_each_other_round_the_ring(ring):
    """Half the head, corner, side, corner, foot, corner, side, corner, half the head: added up."""
    arc, side, end = math.pi / 2 * ring.radius, ring.length - 2 * ring.radius, ring.width - 2 * ring.radius
    places = list(itertools.accumulate([end / 2, arc, side, arc, end, arc, side, arc, end / 2]))
    flat = [place for corner in ring.corners for place in corner]
    assert flat == pytest.approx(places[:8])
    assert ring.perimeter == pytest.approx(places[8])
    assert ring.foot == pytest.approx((places[3], places[4]))
    assert [place for side in ring.sides for place in side] == pytest.approx([*places[1:3], *places[5:7]])


def test_quarter_of_the_length_is_measured_from_the_end_of_the_bed():
    """500 from the corner at 750, and 500 from the corner at 4250."""
    assert SQUARE.along_sides(1 / 4) == (1250, 4750)


def test_places_in_a_rounded_corner_are_refused():
    """A quarter of 1200 is 300; a radius of 400 reaches past it."""
    with pytest.raises(PanelError, match="corner_radius = 400: allowed: at most 300 mm"):
        Ring(1000, 1200, 400).along_sides(1 / 4)


@pytest.mark.parametrize(
    ("needed", "allowance", "longest", "pieces"),
    # 7018.2 / (2150 - 30) = 3.31; 7000 / 3500 = 2 exactly; one piece of 7048.2. Arithmetic.
    [(7018.2, 30, 2150, 4), (7000, 24, 3524, 2), (7018.2, 30, 7048.2, 1), (7018.2, 30, 7048, 2)],
)
def test_least_number_of_pieces(needed, allowance, longest, pieces):
    """``n >= needed / (longest - allowance)``."""
    assert piece_count(needed, allowance, longest) == pieces


def test_no_room_between_joins_is_refused():
    """A cloth 120 wide leaves 90 between joins of 15."""
    with pytest.raises(PanelError, match="longest strip = 120: allowed: at least 130 mm, joins included"):
        piece_count(7000, 30, 120)


@pytest.mark.parametrize(
    ("pieces", "joins"),
    [
        (1, [0]),  # the middle of the head end
        (2, [1750, 5250]),  # the middle of both sides
        # Folded onto 1750 the foot covers 1000 to 2500, corners with 50 cover 700 to 800 and 950 to 1050;
        # free is 800 to 950, so the joins lie 125 from the corners, all on the long sides.
        (4, [875, 2625, 4375, 6125]),
    ],
)
def test_joins_keep_off_corners_and_foot_end(pieces, joins):
    """Worked by hand for 1500 x 2000 with square corners and 50 mm of clearance."""
    start, note = join_start(SQUARE, pieces, (), 50)
    assert [start + index * 7000 / pieces for index in range(pieces)] == pytest.approx(joins)
    assert note == ""


def test_joins_move_to_the_foot_end_when_only_that_keeps_the_clearance():
    """With 200 wanted, 800 to 950 is closed; the middle of 1000 to 2500 lies 750 from every corner."""
    assert join_start(SQUARE, 4, (), 200) == (0, "")


def test_joins_avoid_a_handle():
    """A handle at 1760 closes 1710 to 1810 of the free 800 to 2700; of the rest 800 to 1710 is wider."""
    start, note = join_start(SQUARE, 2, [Fitting("handle", 1760, 100)], 50)
    assert start == pytest.approx(1255)
    assert note == ""


def test_notches_are_not_in_the_way_of_joins():
    """A join may lie on a notch."""
    assert join_start(SQUARE, 2, [Fitting("notch", 1750, 100)], 50)[0] == pytest.approx(1750)


def test_remark_says_how_near_a_join_comes_to_a_corner():
    """Four joins in 7000 lie at best 750 from a corner."""
    assert join_start(SQUARE, 4, (), 800) == (0, "A join falls 750 mm from a corner; 800 mm is wanted.")


def test_remark_when_a_join_cannot_leave_the_corners():
    """A round bed is all corner."""
    assert join_start(Ring(2000, 2000, 1000), 2, (), 50)[1] == "A join falls in a corner; 50 mm is wanted."


def test_remark_when_a_join_comes_near_a_handle():
    """Handles every 90 mm round the ring leave 45 at best."""
    handles = [Fitting("handle", 90 * index, 100) for index in range(40)]
    _, note = join_start(Ring(800, 1000), 1, handles, 0)
    assert "A join falls 45 mm from a handle, vent or label; 50 mm is wanted." in note


@settings(deadline=None)
@given(rings, st.integers(1, 9), st.floats(0, 300))
def test_no_other_start_keeps_clearance_where_the_chosen_one_does_not(ring, pieces, clearance):
    """Compared with 200 starts tried one by one, with distances measured anew."""
    period = ring.perimeter / pieces

    def least(start):
        distances = []
        for index in range(pieces):
            join = (start + index * period) % ring.perimeter
            for low, high in ring.corners:
                around = min(abs(join - edge - turn) for edge in (low, high) for turn in (0, ring.perimeter))
                distances.append(0.0 if low <= join <= high else around)
        return min(distances)

    start, note = join_start(ring, pieces, (), clearance)
    best_tried = max(least(period * step / 200) for step in range(200))
    assert least(start) >= min(clearance, best_tried) - 1e-6
    assert (note == "") == (least(start) >= clearance - 1e-6)


@settings(deadline=None)
@given(
    rings,
    st.floats(-0.05, 0.05),
    st.floats(0, 60),
    st.sampled_from(["along", "across"]),
    st.floats(0, 0.1),
    st.floats(600, 2500),
)
def test_strips_reach_round_the_bed_and_fit_the_roll(ring, ease, allowance, direction, lost, width):
    """Finished lengths add up to at least ``P (1 + e)``, and one strip fewer would not fit."""
    material = RollMaterial(
        key="c",
        name="C",
        width=width,
        roll_length=3000,
        end_loss=20,
        contraction_along=lost,
        contraction_across=lost,
    )
    shapes = ring_strips(
        ring, material, height=260, allowance=allowance, limited_by=BLAME, ease=ease, direction=direction
    )
    room = 2960 if direction == "along" else math.floor(width)
    needed = ring.perimeter * (1 + ease)
    count = sum(shape.count for shape in shapes)
    sizes = [
        shape.length if direction == "along" else shape.width for shape in shapes for _ in range(shape.count)
    ]
    assert all(size <= room for size in sizes)
    assert len(set(sizes)) == 1
    assert sum(size * (1 - lost) - allowance for size in sizes) >= needed - 1e-3
    assert count == 1 or (count - 1) * (room * (1 - lost) - allowance) < needed


@settings(deadline=None)
@given(rings, st.integers(1, 6), st.lists(st.floats(0, 0.999), min_size=1, max_size=6))
def test_every_fitting_falls_on_exactly_one_strip(ring, pieces, shares):
    """None is lost at a join and none is drawn twice."""
    material = RollMaterial(key="c", name="C", width=2200, roll_length=60_000)
    fittings = [Fitting("handle", share * ring.perimeter, 100) for share in shares]
    shapes = ring_strips(
        ring, material, height=260, allowance=30, limited_by=BLAME, pieces=pieces, fittings=fittings
    )
    assert sum(shape.count * len(shape.marks) for shape in shapes) == len(fittings)
    for shape in shapes:
        assert all(0 <= x <= shape.length and y == 100 for mark in shape.marks for x, y in mark.points)


def test_strips_across_the_roll_are_turned_with_their_marks(roll):
    """The lower edge of the strip comes to lie on the right: y from below becomes 260 - y."""
    shapes = ring_strips(
        SQUARE,
        roll,
        height=260,
        allowance=30,
        limited_by=BLAME,
        pieces=4,
        direction="across",
        fittings=[Fitting("label", 3500, 0)],
    )
    labelled = next(shape for shape in shapes if shape.marks)
    assert (labelled.length, labelled.width) == (260, 1780)
    # Joins at 875, 2625 ...: the label lies 3500 - 2625 = 875 into its strip, plus 15 of join seam.
    assert labelled.marks[0].points == ((260, 890),)


def test_table_length_limits_strips_along_the_roll(roll):
    """A table of 3000 with 20 lost at each end takes strips of 2960: 7000 / 2930 = 2.4, so three."""
    short_table = replace(roll, max_marker_length=3000, end_loss=20)
    shapes = ring_strips(SQUARE, short_table, height=260, allowance=30, limited_by=BLAME)
    assert sum(shape.count for shape in shapes) == 3


def test_absurdly_many_pieces_are_refused(roll):
    """7000 makes at most 70 strips of 100."""
    with pytest.raises(PanelError, match="strips = 71: allowed: 0 to 70 for this ring"):
        ring_strips(SQUARE, roll, height=260, allowance=30, limited_by=BLAME, pieces=71)
