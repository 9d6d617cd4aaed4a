"""Mattress borders, flanges and tape."""

from dataclasses import replace

import pytest

from nesting.model import Mark, RollMaterial
from nesting.panels import Dims, PanelError
from nesting.panels.borders import flange, mattress_border, tape_edge

QUEEN = Dims(1524, 2032, 250)  # US queen, 60 x 80 in: sizes as sold in the US
KING = Dims(1500, 2000, 250)  # UK king: common practice
USUAL = {"seam": 15, "border_crown": 10, "join_seam": 15, "lap": 50}  # common practice


def test_queen_border_across_the_roll_is_the_worked_example(roll):
    """7018.2 / (2150 - 30) -> 4 strips; (7018.2 + 120) / 4 -> 1785 long, 250 - 20 + 30 = 260 high."""
    shapes = mattress_border(QUEEN, roll, ease=0.005, corner_radius=75, direction="across", **USUAL)
    assert [(shape.length, shape.width, shape.count) for shape in shapes] == [(260, 1785, 4)]


def test_queen_border_in_one_piece_is_the_worked_example(roll):
    """6983.2 x 1.005 + 30 = 7048.2 -> 7049 along a roll long enough for it; arithmetic."""
    (shape,) = mattress_border(QUEEN, roll, ease=0.005, corner_radius=75, **USUAL)
    assert (shape.length, shape.width, shape.count) == (7049, 260, 1)
    assert shape.note == ""


def test_lapped_border_has_one_overlap_for_each_strip(roll):
    """(7000 + 2 x 50) / 2 = 3550; arithmetic on a king with square corners."""
    (shape,) = mattress_border(KING, roll, ease=0.0, join="lapped", strips=2, **USUAL)
    assert (shape.length, shape.count) == (3550, 2)


def test_stretch_cloth_is_cut_shorter(roll):
    """7000 x 0.995 + 2 x 30 = 7025, half of it 3512.5 -> 3513; arithmetic with 0.5 % stretch."""
    (shape,) = mattress_border(KING, roll, ease=-0.005, strips=2, **USUAL)
    assert shape.length == 3513


def test_border_quilted_after_cutting_grows_in_both_directions(quilted_later):
    """3530 / 0.96 = 3677.1 -> 3678 along, 260 / 0.98 = 265.3 -> 266 across; arithmetic."""
    (shape,) = mattress_border(KING, quilted_later, ease=0.0, strips=2, **USUAL)
    assert (shape.length, shape.width) == (3678, 266)


def test_border_with_one_crowned_face_is_higher(roll):
    """250 - 10 + 30 = 270; arithmetic."""
    (shape,) = mattress_border(KING, roll, ease=0.0, strips=2, crowned_faces=1, **USUAL)
    assert shape.width == 270


def test_handles_and_vents_are_marked_where_they_fall_on_the_strips(roll):
    """Worked by hand. Round the ring handles lie at 1250, 2250, 4750, 5750, vents at 1500, 2000, 5000, 5500.

    Folded onto 3500 the free gaps are 800 to 1200, 1550 to 1950 and 2300 to 2700, each 400 wide, and two
    of 150; the first wins, so joins lie at 1000 and 4500, on the sides and 250 from the corners. Into its
    strip a handle then lies 250 and 1250, a vent 500 and 1000, plus 15 of join seam.
    """
    (shape,) = mattress_border(KING, roll, ease=0.0, strips=2, handles=True, vents=True, **USUAL)
    assert shape.count == 2
    assert shape.marks == (
        Mark("handle", ((265.0, 130.0),), "handle"),
        Mark("vent", ((515.0, 130.0),), "vent"),
        Mark("vent", ((1015.0, 130.0),), "vent"),
        Mark("handle", ((1265.0, 130.0),), "handle"),
    )


def test_label_at_the_foot_end_makes_two_kinds_of_strip(roll):
    """Joins at 1750 and 5250: the middle of the foot, 3500, lies 1750 into the first, plus 15."""
    first, second = mattress_border(KING, roll, ease=0.0, strips=2, label=True, **USUAL)
    assert first.marks == (Mark("label", ((1765.0, 0.0),), "label"),)
    assert second.marks == ()
    assert [(shape.suffix, shape.title, shape.count) for shape in (first, second)] == [
        ("-1", "strip 1", 1),
        ("-2", "strip 2", 1),
    ]


def test_joins_near_a_corner_carry_a_remark(roll):
    """Four joins in 7000 lie at best 750 from a corner; this factory asks for 800."""
    (shape,) = mattress_border(KING, roll, ease=0.0, strips=4, join_clearance=800, **USUAL)
    assert shape.note == "A join falls 750 mm from a corner; 800 mm is wanted."


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"border_crown": 125}, "border_crown = 125: allowed: less than 125 mm for this height"),
        ({"corner_radius": 751}, "corner_radius = 751: allowed: 0 to 750 mm"),
        ({"strips": 90}, "strips = 90: allowed: 0 to 70"),
        ({"handles": True, "corner_radius": 600}, "at most 500 mm where handles or vents are placed"),
    ],
)
def test_absurd_borders_are_refused(roll, change, message):
    """Each message names the value to change and its limit."""
    with pytest.raises(PanelError, match=message):
        mattress_border(KING, roll, ease=0.0, **{**USUAL, **change})


def test_border_of_a_mattress_without_height_is_refused(roll):
    """The height is missing from the model."""
    with pytest.raises(PanelError, match=r"height = 0.0: allowed: at least 1 mm"):
        mattress_border(Dims(1500, 2000), roll, ease=0.0, **USUAL)


def test_vents_too_near_to_handles_are_refused(roll):
    """An eighth of 700 is 87.5, under the 100 of common practice."""
    with pytest.raises(PanelError, match=r"vents = True: .*87.5 mm from the handles, at least 100 wanted"):
        mattress_border(Dims(500, 700, 100), roll, ease=0.0, handles=True, vents=True, **USUAL)


def test_narrow_cloth_leaves_no_room_for_strips_across(roll):
    """A tape 100 wide cannot carry strips with joins of 15 across it."""
    tape = replace(roll, width=100, edge_trim=0)
    with pytest.raises(PanelError, match=r"longest strip = 100.0: .*lay the strips the other way"):
        mattress_border(KING, tape, ease=0.0, direction="across", **USUAL)


def test_flange_is_as_long_as_the_perimeter_and_one_overlap(roll):
    """6983.2 + 50 = 7033.2 -> 7034 in one piece; in four (6983.2 + 200) / 4 = 1795.8 -> 1796."""
    (one,) = flange(QUEEN, roll, flange_width=150, lap=50, corner_radius=75)
    (four,) = flange(QUEEN, roll, flange_width=150, lap=50, corner_radius=75, direction="across")
    assert (one.length, one.width, one.count) == (7034, 150, 1)
    assert (four.length, four.width, four.count) == (150, 1796, 4)
    assert four.note == ""


def test_flange_without_width_is_refused(roll):
    """The parameter is named."""
    with pytest.raises(PanelError, match="flange_width = 0: "):
        flange(QUEEN, roll, flange_width=0, lap=50)


def test_tape_is_cut_once_for_each_edge():
    """P + v = 6983.2 + 50 = 7033.2 -> 7034 for each of three edges of a pillow top; arithmetic."""
    tape = RollMaterial(key="t", name="Tape", width=38, roll_length=200_000, process="lengths")
    (shape,) = tape_edge(QUEEN, tape, lap=50, corner_radius=75, edges=3)
    assert (shape.length, shape.width, shape.count) == (7034, 38, 3)
    with pytest.raises(PanelError, match="edges = 0: allowed: 1 or more"):
        tape_edge(QUEEN, tape, lap=50, edges=0)
