"""Whether a panel can be laid on a material, and what is said when it cannot."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.catalogue.fit import misfit, permitted_turns
from nesting.model import BlockMaterial, Panel, RollMaterial, SheetMaterial
from nesting.packing.problem import Skins, Trim

ROLL = RollMaterial(key="cloth", name="Cloth", width=2200, edge_trim=25, roll_length=60_000, end_loss=20)
SHEET = SheetMaterial(key="board", name="Board", length=2440, width=1220, trim=Trim(10, 10, 10, 10))
BLOCK = BlockMaterial(
    key="foam",
    name="Foam",
    length=2100,
    width=2060,
    height=1080,
    skins=Skins(x0=15, x1=15, y0=20, y1=20, z0=20, z1=35),
    density=30,
)
STRIP = RollMaterial(key="tape", name="Tape", width=40, roll_length=200_000, process="lengths")


def panel(length, width, turns=(0.0,), **rest):
    """A panel of this size."""
    return Panel(code="P", name="Panel", material="m", length=length, width=width, turns=turns, **rest)


@pytest.mark.parametrize(
    ("material", "may_turn", "turns"),
    [
        (replace(ROLL, grain="one-way"), False, (0,)),
        (replace(ROLL, grain="two-way"), False, (0, 180)),
        (replace(ROLL, grain="two-way"), True, (0, 90, 180, 270)),
        (replace(ROLL, grain="any"), False, (0, 90, 180, 270)),
        (replace(ROLL, grain="one-way"), True, (0,)),
        (SHEET, False, (0, 90, 180, 270)),
        (replace(SHEET, grain="one-way"), False, (0,)),
        (BLOCK, False, (0, 90)),
        (STRIP, False, (0, 180)),
        (replace(STRIP, grain="any"), True, (0, 180)),
    ],
)
def test_the_grain_decides_which_turns_are_permitted(material, may_turn, turns):
    """Nap panels are never turned; strips cut to length never by a quarter."""
    assert permitted_turns(material, may_turn=may_turn) == turns


def test_too_wide_says_by_how_much_and_what_would_do():
    """2310 needed, 2150 usable: 160 too wide."""
    fault = misfit(panel(2000, 2310), ROLL)
    assert fault.found == "2 310 mm wide"
    assert fault.allowed == "at most 2 150 mm, the usable width of 'cloth': 160 mm too wide"
    assert fault.remedy == "A roll of at least 2 310 mm usable width, or splitting the panel, would do."
    assert fault.excess == pytest.approx(160)


def test_a_permitted_quarter_turn_can_make_it_fit():
    """2310 fits along the roll, 2000 across it."""
    assert misfit(panel(2000, 2310, turns=(0.0, 90.0)), ROLL) is None


def test_the_turn_that_misses_least_is_told():
    """2160 misses by 10 across, 2310 by 160."""
    assert misfit(panel(2160, 2310, turns=(0.0, 90.0)), ROLL).found == "2 160 mm wide"


@pytest.mark.parametrize(
    ("material", "part", "found", "allowed"),
    [
        (
            ROLL,
            panel(59_961, 100),
            "59 961 mm long",
            "at most 59 960 mm, the roll length without its end losses",
        ),
        (
            replace(ROLL, max_marker_length=8000),
            panel(8100, 100),
            "8 100 mm long",
            "at most 8 000 mm, the longest marker of 'cloth': 100 mm too long",
        ),
        (
            SHEET,
            panel(2421, 100),
            "2 421 mm long",
            "at most 2 420 mm, the usable length of 'board': 1 mm too long",
        ),
        (SHEET, panel(1201, 1201), "1 201 mm wide", "at most 1 200 mm, the usable width of 'board'"),
        (BLOCK, panel(2071, 100, thickness=100), "2 071 mm long", "at most 2 070 mm, the usable length"),
        (BLOCK, panel(2020, 2020.1, thickness=100), "2 020.1 mm wide", "at most 2 020 mm, the usable width"),
        (BLOCK, panel(100, 100, thickness=1025.1), "1 025.1 mm thick", "at most 1 025 mm, the usable height"),
        (STRIP, panel(1000, 41), "41 mm wide", "at most 40 mm, the usable width of 'tape'"),
        (STRIP, panel(1000, 38), "38 mm wide", "40 mm, because 'tape' is only cut to length"),
    ],
)
def test_every_direction_is_checked(material, part, found, allowed):
    """Trims, skins, end losses and the table are taken off first."""
    fault = misfit(part, material)
    assert fault.found == found
    assert fault.allowed.startswith(allowed)


@pytest.mark.parametrize(
    ("material", "part"),
    [
        (ROLL, panel(59_960, 2150)),
        (SHEET, panel(1200, 2420, turns=(90.0,))),
        (BLOCK, panel(2070, 2020, thickness=1025)),
        (STRIP, panel(7034, 40)),
        (STRIP, panel(7034, 39)),
    ],
)
def test_what_just_fits_fits(material, part):
    """No room is lost to rounding."""
    assert misfit(part, material) is None


def test_a_standing_slab_fits_where_it_fits_in_any_pose():
    """1300 high lies flat only without standing; on its side it is as high as it is wide."""
    assert misfit(panel(1900, 90, thickness=1300), BLOCK).found == "1 300 mm thick"
    assert misfit(panel(1900, 90, thickness=1300, standing=True), BLOCK) is None


def test_a_part_of_a_long_block_is_as_long_as_the_machines_take():
    """30 m are there, 2200 are taken, and 2030 less skins across."""
    long = replace(BLOCK, length=30_000, cut_to=2200)
    assert misfit(panel(2200, 2020, thickness=100), long) is None
    assert misfit(panel(2201, 2020, thickness=100), long).found == "2 201 mm long"


def test_outlines_from_blocks_take_all_right_angles():
    """Their boxes take a quarter turn only, for half turns change nothing."""
    assert permitted_turns(BLOCK, shaped=True) == (0, 90, 180, 270)
    assert permitted_turns(ROLL, shaped=True) == permitted_turns(ROLL)


def test_shapes_cannot_be_cut_from_a_strip_cut_to_length():
    """A mitred end needs another process."""
    outline = ((0.0, 0.0), (1000.0, 0.0), (960.0, 40.0), (40.0, 40.0))
    fault = misfit(panel(1000, 40, outline=outline), STRIP)
    assert fault.found == "a shaped outline"
    assert "only cut to length" in fault.allowed


def test_outlines_are_measured_after_turning():
    """A triangle 3000 long and 1000 high, turned by 90 degrees, is 1000 long and 3000 wide."""
    triangle = ((0.0, 0.0), (3000.0, 0.0), (0.0, 1000.0))
    assert misfit(panel(3000, 1000, outline=triangle), ROLL) is None
    assert misfit(panel(3000, 1000, outline=triangle, turns=(90.0,)), ROLL).found == "3 000 mm wide"


@given(
    length=st.floats(1, 3000), width=st.floats(1, 3000), turns=st.sampled_from([(0.0,), (0.0, 90.0), (90.0,)])
)
def test_fit_agrees_with_comparing_the_sides(length, width, turns):
    """Away from the edge case of a tenth of a millimetre, plain comparison gives the same answer."""
    across = [width if turn == 0.0 else length for turn in turns]
    if any(abs(side - 2150) < 0.2 for side in across):
        return
    assert (misfit(panel(length, width, turns=turns), ROLL) is None) == any(side <= 2150 for side in across)
