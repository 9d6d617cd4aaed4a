"""From entries to panels: where values come from and what panels carry."""

from __future__ import annotations

import pytest

from nesting.catalogue import load_range
from nesting.errors import InputError
from nesting.panels import generator as register
from nesting.panels.generator import CutShape, Dims, Length, generator


@pytest.fixture
def shapes():
    """Registers a generator ``"test shape"`` that shows what it is given, and takes it out again."""

    @generator("test shape", materials=("roll", "block"))
    def make(dims: Dims, material, *, wanted: Length, extra: Length = 7.0) -> tuple[CutShape, ...]:
        """Two shapes: the dims themselves, and wanted by extra."""
        return (
            CutShape(length=dims.length, width=dims.width, thickness=dims.height, note="first"),
            CutShape(
                length=wanted + 0.1 + 0.2, width=extra, thickness=50.0, suffix="-2", title="two", count=3
            ),
        )

    yield
    register._register.pop("test shape")


def _panels(edited, entry, *changes):
    head = 'generator = "test shape"\ncode = "X"\nname = "Shape"\nmaterial = "ticking"\n'
    panel = f"[[models.basis.panels]]\n{head}{entry}\n"
    range_ = load_range(edited(("turns = [0]", f"turns = [0]\n{panel}"), *changes))
    return range_.panels("basis", "single")[1:]


def test_panels_carry_what_shape_and_entry_say(shapes, edited):
    """Codes, names, counts and notes are joined; noise such as 0.1 + 0.2 is cleaned off."""
    first, second = _panels(edited, 'wanted = 30\npieces = 2\nmirror = true\nnote = "mind the nap"')
    assert (first.code, first.name, first.pieces, first.note) == ("X", "Shape", 2, "mind the nap; first")
    assert (first.length, first.width, first.thickness, first.mirror) == (1900.0, 900.0, None, True)
    assert (second.code, second.name, second.pieces, second.note) == ("X-2", "Shape, two", 6, "mind the nap")
    assert (second.length, second.width) == (30.3, 7.0)
    assert second.turns == (0.0, 180.0)


def test_slabs_from_blocks_have_a_thickness(shapes, edited):
    """A finished height of 8 in is 203.2 mm; on flat material the thickness is the material's own."""
    first, second = _panels(
        edited,
        "wanted = 30",
        ('code = "X"\nname = "Shape"\nmaterial = "ticking"', 'code = "X"\nname = "Shape"\nmaterial = "foam"'),
    )
    assert (first.thickness, second.thickness) == (203.2, 50.0)
    assert first.turns == (0.0, 90.0)


@pytest.mark.parametrize(
    ("entry", "changes", "wanted"),
    [
        ("wanted = 1", (), 1.3),
        ("[models.basis.panels.allowances]\nwanted = 2", (), 2.3),
        ("", (("crown = 0", "crown = 0\nwanted = 3"),), 3.3),
        ("", (("seam = 15", "seam = 15\nwanted = 4"),), 4.3),
        ("", (("seam = 15", "seam = 15\nwanted = 4"), ("crown = 0", "crown = 0\nwanted = 3")), 3.3),
        (
            "wanted = 1\n[models.basis.panels.allowances]\nwanted = 2",
            (("seam = 15", "seam = 15\nwanted = 4"), ("crown = 0", "crown = 0\nwanted = 3")),
            1.3,
        ),
        ("", (("seam = 15", 'seam = 15\nwanted = "2 * seam"'),), 30.3),
        ("", (("seam = 15", 'seam = 15\nwanted = "2 * seam"'), ("crown = 0", "crown = 0\nseam = 12")), 24.3),
        ('wanted = "W / 9 + seam"', (), 115.3),
        ('wanted = "1/2 in"', (), 13.0),
    ],
)
def test_the_innermost_value_counts(shapes, edited, entry, changes, wanted):
    """Entry before the panel's allowances, the model's and the range's; formulas follow overrides."""
    assert _panels(edited, entry, *changes)[1].length == wanted


@pytest.mark.parametrize(
    ("entry", "changes", "extra"),
    [
        ("wanted = 1", (), 7.0),
        ("wanted = 1\nextra = 9", (), 9.0),
        ("wanted = 1", (("seam = 15", "seam = 15\nextra = 9"),), 7.0),
        ('wanted = 1\nextra = "extra + 1"', (("seam = 15", "seam = 15\nextra = 9"),), 10.0),
    ],
)
def test_an_allowance_never_changes_an_option(shapes, edited, entry, changes, extra):
    """A parameter with a default only changes where its panel says so."""
    assert _panels(edited, entry, *changes)[1].width == extra


def test_finished_dimensions_can_be_those_of_the_panel(shapes, edited):
    """W, L and H in formulas stay those of the bed."""
    first, second = _panels(edited, 'wanted = "W"\nwidth = "W / 2"\nlength = "L - 20"\nheight = 40')
    assert (first.width, first.length) == (450.0, 1880.0)
    assert second.length == 900.3


@pytest.mark.parametrize(("when", "made"), [('"W >= 1000"', 0), ('"W < 1000"', 2), ('"H > 8 in"', 0)])
def test_a_condition_decides_whether_a_panel_is_made(shapes, edited, when, made):
    """8 in high is not higher than 8 in."""
    assert len(_panels(edited, f"wanted = 1\nwhen = {when}")) == made


def test_sizes_restrict_an_entry(shapes, edited):
    """Made for double only, the single has none."""
    assert _panels(edited, 'wanted = 1\nsizes = ["double"]') == ()


def test_turns_can_be_restricted_or_widened(shapes, edited):
    """two-way cloth allows half turns, and quarter turns where a panel may turn."""
    assert _panels(edited, "wanted = 1\nturns = [180]")[0].turns == (180.0,)
    assert _panels(edited, "wanted = 1\nmay_turn = true")[0].turns == (0.0, 90.0, 180.0, 270.0)


def test_a_cut_size_of_nothing_is_refused(shapes, edited):
    """A generator may shrink a panel to nothing."""
    with pytest.raises(InputError, match=r"'X'.cut width: found '0 mm'; allowed: above 0 mm"):
        _panels(edited, "wanted = 1\nextra = 0")


def test_codes_with_suffixes_are_unique_too(shapes, edited):
    """X-2 of one entry meets X-2 of another."""
    with pytest.raises(
        InputError, match=r"models.basis.panels: found \"'X-2' \(Shape, two\)\".*each code once"
    ):
        _panels(
            edited,
            "wanted = 1",
            (
                'code = "TP"\nname = "Top panel"\nmaterial = "ticking"\nturns',
                'code = "X-2"\nname = "Top panel"\nmaterial = "ticking"\nturns',
            ),
        )


# A US queen, 60 x 80 in, 250 high; corner radius 75, seam 15, crown 5, border crown 10, ease 0.5 %,
# join 15, lap 50, foam 4 over. Arithmetic by hand:
#   panel      1524 + 30 + 10 = 1564 by 2032 + 40 = 2072
#   border     250 - 20 + 30 = 260 high; P = 2 x 3556 - 1.7168 x 75 = 6983.2; x 1.005 = 7018.2;
#              + 4 x 30 = 7138.2; / 4 = 1784.6, so 1785
#   tape       6983.2 + 50 = 7033.2, so 7034, twice
#   half core  762 + 4 = 766 by 2032 + 4 = 2036, 250 - 100 = 150 thick
def test_a_whole_unit_agrees_with_the_worked_example(small):
    """Every panel of a queen Aurora, sizes worked out by hand."""
    cut = {p.code: (p.length, p.width, p.thickness, p.pieces) for p in small.panels("aurora", "us-queen")}
    assert cut == {
        "TP": (2072.0, 1564.0, None, 2),
        "BO": (1785.0, 260.0, None, 4),
        "TE": (7034.0, 40.0, None, 2),
        "HC": (2036.0, 766.0, 150.0, 2),
    }
