"""Range files: what is read, and what is said about what cannot be."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting.blocks import block_sizes
from nesting.catalogue import load_range
from nesting.catalogue.fit import misfit
from nesting.catalogue.modelfile import ENTRY_FIELDS
from nesting.catalogue.rangefile import MAX_BYTES
from nesting.errors import InputError
from nesting.model import BlockMaterial, Panel, RollMaterial, SheetMaterial, Size
from nesting.packing.problem import Kerfs, Skins, Trim
from nesting.panels import GENERATORS
from nesting.reading.findings import MAX_FINDINGS

SMALL = Path(__file__).parents[1] / "data" / "ranges" / "small.toml"

PANEL = 'generator = "quilted panel"\ncode = "TP"\nname = "Top panel"\nmaterial = "ticking"\npieces = 2\n'


def test_everything_written_is_read(small):
    """Header, sizes, materials of all kinds, models."""
    assert (small.name, small.currency, small.unit, small.note) == ("Small range", "EUR", "mm", "invented")
    assert list(small.sizes) == ["single", "double", "us-queen"]
    assert small.sizes["double"] == Size(key="double", name="Double", width=1350.0, length=1900.0)
    ticking, foam, board = (small.materials[key] for key in ("ticking", "foam", "hardboard"))
    assert isinstance(ticking, RollMaterial)
    assert (ticking.usable_width, ticking.roll_length, ticking.end_loss) == (2150.0, 60_000.0, 20.0)
    assert isinstance(foam, BlockMaterial)
    assert foam.skins == Skins(x0=15, x1=15, y0=20, y1=20, z0=20, z1=35)
    assert isinstance(board, SheetMaterial)
    assert board.trim == Trim(10, 10, 10, 10)
    assert small.models["aurora"].sizes == ("single", "double", "us-queen")
    assert small.models["basis"].height == 203.2  # 8 in


def test_bare_numbers_of_finished_sizes_follow_the_unit_of_the_range(edited):
    """Only sizes and heights: 60 x 80 in and 8 in high, but a seam of 15 mm and a roll of 2200 mm."""
    range_ = load_range(
        edited(
            ('currency = "EUR"', 'currency = "USD"\nunit = "in"'),
            ("width = 900\nlength = 1900", "width = 38\nlength = 75"),
            ("width = 1350\nlength = 1900", 'width = "1350 mm"\nlength = "1900 mm"'),
            ('width = "60 in"\nlength = "80 in"', "width = 60\nlength = 80"),
            ("height = 250", "height = 10"),
        )
    )
    assert (range_.sizes["us-queen"].width, range_.sizes["us-queen"].length) == (1524.0, 2032.0)
    assert (range_.sizes["single"].width, range_.sizes["single"].length) == (965.2, 1905.0)
    assert range_.sizes["double"].width == 1350.0
    assert range_.models["aurora"].height == 254.0
    assert range_.materials["ticking"].width == 2200.0
    top = range_.panels("aurora", "us-queen")[0]
    assert (top.width, top.length) == (1564.0, 2072.0)


def test_names_default_to_keys(edited):
    """A table without a name is called by its key."""
    range_ = load_range(edited(('name = "Double"\n', ""), ('name = "Edge tape"\n', "")))
    assert range_.sizes["double"].name == "double"
    assert range_.materials["tape"].name == "tape"


def test_a_byte_order_mark_is_no_fault(edited):
    """Some editors write one."""
    path = edited()
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert load_range(path).name == "Small range"


def _assert_found(path, place, message):
    with pytest.raises(InputError) as caught:
        load_range(path)
    at_place = [str(finding) for finding in caught.value.findings if finding.place == place]
    assert at_place, f"nothing found at {place}: {caught.value}"
    assert any(re.search(message, text) for text in at_place), at_place
    assert all(text.startswith(f"{path}: {place}: found ") for text in at_place)
    assert "Input should" not in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ('name = "Small range"\n', "", "range.name", "found nothing; allowed: text of 1 to 80 char"),
        ('currency = "EUR"', 'currency = "euro"', "range.currency", "found 'euro'; allowed: text of 3"),
        ('currency = "EUR"', 'currency = "eur"', "range.currency", "three capital letters"),
        ("[allowances]", 'unit = "inch"\n[allowances]', "range.unit", "'mm' or 'in'. Did you mean 'in'"),
        ('note = "invented"', "notes = 1", "range.notes", "Did you mean 'note'"),
        ("[range]", "[rnage]", "rnage", "Did you mean 'range'"),
        ("[range]", "[rnage]", "range", r"Add a table \[range\]"),
    ],
)
def test_faults_of_the_header_are_named(edited, old, new, place, message):
    """Name, currency and unit; tables that do not exist."""
    _assert_found(edited((old, new)), place, message)


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ("seam = 15", 'seam = "15 +"', "allowances.seam", "ends too early"),
        ("seam = 15", "seam = true", "allowances.seam", "Write a number, or a formula in quotes"),
        ("seam = 15", "seam = nan", "allowances.seam", "finite"),
        ("seam = 15", "W = 15", "allowances.W", "another name"),
        ("seam = 15", "seam-x = 15", "allowances.seam-x", "letters, digits and underscores"),
        ('"lap / 2"', '"lapp / 2"', "allowances.tape_waste", "Nothing is named 'lapp'"),
        ("seam = 15", 'seam = "join_seam"', "allowances.seam", "round in a circle: .*seam needs join_seam"),
        ("seam = 15", 'seam = "1 / (lap - 50)"', "allowances.join_seam", "needs 'seam', which cannot"),
        ("[allowances]", "[[allowances]]", "allowances", "a table .allowances. of at most 300"),
    ],
)
def test_faults_of_allowances_are_named(edited, old, new, place, message):
    """Formulas, names and circles."""
    _assert_found(edited((old, new)), place, message)


SINGLE = '[sizes.single]\nname = "Single"\nwidth = 900\nlength = 1900\n'


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ("width = 900", 'width = "90 cms"', "sizes.single.width", "mm, cm, m, in or ft"),
        ("width = 900", "width = 0", "sizes.single.width", "a length above 0 and at most 10 000 mm"),
        ("width = 900", "width = 20000", "sizes.single.width", "at most 10 000 mm"),
        ("width = 900", "width = true", "sizes.single.width", "Write a number"),
        ("width = 900\n", "", "sizes.single.width", "found nothing.*Add a line width = ... here"),
        (SINGLE, f"{SINGLE}lenght = 1", "sizes.single.lenght", "Did you mean 'length'"),
        ("[sizes.single]", "[sizes.'si,ngle']", "sizes.si,ngle", "letters, digits, spaces"),
        ("[sizes.single]", '[sizes."Us Queen"]', "sizes.us-queen", "could not be told from 'Us Queen'"),
        ('name = "Single"', 'name = "US queen"', "sizes.single", "could not be told from 'us-queen'"),
        (SINGLE, "[sizes]\nsingle = 900\n", "sizes.single", r"Write it as a table \[sizes.single\]"),
    ],
)
def test_faults_of_sizes_are_named(edited, old, new, place, message):
    """Lengths, units, keys and names."""
    _assert_found(edited((old, new)), place, message)


def test_two_sizes_may_share_a_name(edited):
    """The same name means different sizes in different countries; orders then write the key."""
    assert load_range(edited(('name = "Single"', 'name = "Queen"'))).sizes["single"].name == "Queen"


@pytest.mark.parametrize(
    ("old", "new", "field", "message"),
    [
        ('kind = "roll"', 'kind = "rolle"', "kind", "Did you mean 'roll'"),
        ('kind = "roll"\n', "", "kind", 'Write kind = "roll", "sheet" or "block"'),
        ("edge_trim = 25", "edge_trim = 1001", "edge_trim", "a length from 0 to 1 000 mm"),
        ("width = 2200", "width = 50", "edge_trim", "less than half of the width of 50 mm"),
        ("edge_trim = 25", "measured_width = 2201", "measured_width", "at most the full width of 2 200 mm"),
        ('roll_length = "60 m"', "roll_length = 30", "end_loss", 'metres are written "60 m"'),
        ('roll_length = "60 m"', 'roll_length = "3 km"', "roll_length", "mm, cm, m, in or ft"),
        ("price = 6.5", 'grain = "oneway"', "grain", "'one-way', 'two-way' or 'any'. Did you mean 'one-way'"),
        ("price = 6.5", 'price = "6.5"', "price", "a number from 0 to 1 000 000. Write it without quotes"),
        ("price = 6.5", "price = -1", "price", "from 0 to 1 000 000"),
        ("price = 6.5", "price = inf", "price", "from 0 to 1 000 000"),
        ("price = 6.5", "price = nan", "price", "from 0 to 1 000 000"),
        ("price = 6.5", "price = true", "price", "from 0 to 1 000 000"),
        ("price = 6.5", "price = 1979-05-27", "price", "from 0 to 1 000 000"),
        ("price = 6.5", f"price = {10**400}", "price", "from 0 to 1 000 000"),
        ("price = 6.5", "ply_limit = 2.5", "ply_limit", "a whole number from 1 to 500"),
        ("price = 6.5", "key = 'x'", "key", "Correct the name or take the line out"),
        ("price = 6.5", 'note = "two\\nlines"', "note", "on one line"),
    ],
)
def test_faults_of_rolls_are_named(edited, old, new, field, message):
    """Limits of fields, and that something usable is left."""
    _assert_found(edited((old, new)), f"materials.ticking.{field}", message)


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        (
            "trim = 10",
            "trim = 610",
            "hardboard.trim",
            "found '1 220 mm in all'; .*less than the width of 1 220",
        ),
        ("trim = 10", "trim = { x0 = 10, x9 = 10 }", "hardboard.trim", "The sides are x0, x1, y0, y1"),
        ("trim = 10", "trim = { x0 = -1 }", "hardboard.trim", "x0: Correct the value"),
        ("height = 1080", "height = 55", "foam.skins", "less than the height of 55 mm"),
        ("density = 30", "density = 0", "foam.density", "a number above 0 and at most 500"),
        ("length = 2100", 'length = "61 m"', "foam.length", "above 0 and at most 60 000 mm"),
        ("length = 2100", 'length = "30 m"', "foam.length", "at most 10 000 mm .*or write cut_to"),
        ("kerf = 0.5", "kerf = 0.5\ncut_to = 2101", "foam.cut_to", "at most the length of 2 100 mm"),
        ("kerf = 0.5", "kerf = -1", "foam.kerf", "a length from 0 to 1 000 mm or a table of slitter and saw"),
        (
            "kerf = 0.5",
            "kerf = { slitter = 0.5 }",
            "foam.kerf",
            "Write both, as in { slitter = 0.5, saw = 2 }",
        ),
        ("kerf = 0.5", "kerf = { slitter = 0.5, sow = 2 }", "foam.kerf", "Did you mean 'saw'"),
        ("kerf = 0.5", "kerf = { slitter = -1, saw = 2 }", "foam.kerf", "slitter: Correct the value"),
    ],
)
def test_faults_of_sheets_and_blocks_are_named(edited, old, new, place, message):
    """Trims and skins leave something of the raw piece."""
    _assert_found(edited((old, new)), f"materials.{place}", message)


def test_long_blocks_and_kerfs_by_machine_are_read(edited):
    """30 m cut to 2.2 m; one number is the kerf of both machines."""
    long = ("length = 2100", 'length = "30 m"\ncut_to = "2.2 m"')
    foam = load_range(edited(long)).materials["foam"]
    assert (foam.length, foam.cut_to, foam.kerfs) == (30_000, 2200, Kerfs(0.5, 0.5))
    foam = load_range(edited(("kerf = 0.5", 'kerf = { slitter = 0.5, saw = "2 mm" }'))).materials["foam"]
    assert foam.kerfs == Kerfs(level=0.5, upright=2)


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ("height = 250", "height = 2500", "aurora.height", "from 0 to 2 000 mm"),
        ("height = 250\n", "", "aurora.height", "found nothing"),
        ('sizes = "all"', 'sizes = "every"', "aurora.sizes", 'sizes = "all", or a list'),
        ('sizes = "all"', 'sizes = ["singel"]', "aurora.sizes", "Did you mean 'single'"),
        ('sizes = ["single", "double"]', "sizes = []", "basis.sizes", '"all" or a list of sizes'),
        ("height = 250", "height = 250\ncolour = 1", "aurora.colour", "only 'name', 'height', 'note'"),
        ("crown = 0", "crwon = 0", "basis.allowances.crwon", "Did you mean 'crown'"),
        ("crown = 0", "rise = 0", "basis.allowances.rise", "It is an option of .*: write it in the panel"),
        ("crown = 0", "seam = 'join_seam'", "basis.allowances.seam", "round in a circle"),
        ("crown = 0", "lap = 'x'", "basis.allowances.tape_waste", "needs 'lap', which cannot"),
        ('name = "Basis"', 'name = "AURORA"', "basis", "could not be told from 'aurora'"),
    ],
)
def test_faults_of_models_are_named(edited, old, new, place, message):
    """Sizes, heights and overriding allowances."""
    _assert_found(edited((old, new)), f"models.{place}", message)


@pytest.mark.parametrize(
    ("line", "field", "message"),
    [
        ('material = "tickin"', "material", "Did you mean 'ticking'"),
        ('material = "foam"', "material", "found .*'foam', a block.*; allowed: a roll for 'quilted panel'"),
        ('generator = "quilted panels"', "generator", "Did you mean 'quilted panel'"),
        ("generator = 1", "generator", "text of 1 to 80 characters"),
        ("kerf = 1", "kerf", "for 'quilted panel' only 'seam', 'crown'"),
        ('sizes = ["king"]', "sizes", "sizes of the model: 'single', 'double' or 'us-queen'"),
        ("sizes = [1]", "sizes", "a list, each text in quotes"),
        ("mirror = 1", "mirror", "true or false"),
        ('centre_notches = "yes"', "centre_notches", "true or false, without quotes"),
        ('turns = "0"', "turns", "a list, each a number"),
        ("turns = [90]", "turns", "some of 0, 180, the turns that 'ticking' allows"),
        ("turns = []", "turns", "some of 0, 180"),
        ('when = "W"', "when", "A condition is wanted here"),
        ('when = ["W"]', "when", "formula in quotes"),
        ("pieces = 1.5", "pieces", "a whole number from 1 to 1 000"),
        ("pieces = 0", "pieces", "a whole number from 1 to 1 000"),
        ('seam = "W >"', "seam", "ends too early"),
        ('seam = "W > 3"', "seam", "A number is wanted here"),
        ('seam = "2 * saem"', "seam", "Did you mean 'seam'"),
        ("seam = -5", "seam", "found -5.0; allowed: a number from 0 to 10 000"),
        ('seam = "W - 1000"', "seam, size single", "found 'W - 1000, which is -100'"),
        ('seam = "1 / (W - 1350)"', "seam, size double", "divides by 0"),
        ('width = "W - 1400"', "width, size single and 1 more size", "a number from 0 to 10 000 mm"),
    ],
)
def test_faults_of_a_panel_entry_are_named(edited, line, field, message):
    """What the entry says itself, and the values for its generator, worked out for every size."""
    name = line.partition(" ")[0]
    panel = re.sub(rf"^{name} = .*\n", "", PANEL, flags=re.MULTILINE)
    path = edited((PANEL, f"{panel}{line}\n"))
    _assert_found(path, f"models.aurora.panels[1] 'TP'.{field}", message)


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ('code = "TP"\n', "", "[1].code", "text of 1 to 12 characters"),
        ('generator = "quilted panel"\n', "", "[1] 'TP'.generator", "found nothing"),
        ('code = "BO"', 'code = "TP"', "[2] 'TP'.code", "each code once in a model"),
        ('code = "BO"', 'code = "BO"\njoin = "sewn"', "[2] 'BO'.join", "'seamed' or 'lapped'"),
        ("strips = 4", "strips = 2.5", "[2] 'BO'.strips", "a whole number from 0 to 1 000"),
        ("border_crown = 10", "border_crown = 125", "[2] 'BO'.border_crown", "less than 125 mm"),
        ("ease = 0.005", "ease = 0.6", "[2] 'BO'.ease", "a share from -0.5 to 0.5, such as 0.005"),
        (
            "crown = 5\n",
            "",
            "[1] 'TP'.crown",
            r"in this panel, in \[models.aurora.allowances\] or in \[allow",
        ),
        ("foam_oversize = 4", "foam_oversise = 4", "[5] 'HC'.allowances.foam_oversise", "'foam_oversize'"),
        ('when = "W < 1200"', "thicknesses = 50", "[4] 'CO'.thicknesses", r"such as \[100, 200\]"),
        ('when = "W < 1200"', "thicknesses = ['W >']", "[4] 'CO'.thicknesses", "ends too early"),
    ],
)
def test_faults_of_other_panel_entries_are_named(edited, old, new, place, message):
    """Entries are counted from 1 and named by their code."""
    _assert_found(edited((old, new)), f"models.aurora.panels{place}", message)


def test_a_one_way_cloth_cannot_be_told_to_turn(edited):
    """may_turn only adds quarter turns on two-way cloth."""
    old, new = 'material = "ticking"\nturns = [0]', 'material = "narrow-ticking"\nmay_turn = true'
    place = "models.basis.panels[1] 'TP'.may_turn"
    _assert_found(edited((old, new)), place, "'narrow-ticking' is one-way")


def test_a_model_needs_panels_for_every_size(findings):
    """A condition that no panel meets leaves nothing to make."""
    (finding,) = findings(("turns = [0]", 'when = "W > 1000"'))
    assert finding.place == "models.basis.panels, size single"
    assert "at least one panel for every size" in str(finding)
    (finding,) = findings(("[[models.basis.panels]]", "[[models.basis.panel]]"), ("turns = [0]", ""))[:1]
    assert finding.place == "models.basis.panels"


def test_one_fault_makes_one_finding(findings):
    """A broken size is not blamed on the models that use it, nor a broken material on its panels."""
    assert [f.place for f in findings(("width = 900", "width = -900"))] == ["sizes.single.width"]
    assert [f.place for f in findings(("width = 2200", "width = -2200"))] == ["materials.ticking.width"]


def test_all_faults_are_told_at_once(findings):
    """From the header to the fit of panels."""
    places = [
        finding.place
        for finding in findings(
            ('currency = "EUR"', 'currency = "EURO"'),
            ("width = 900", "width = 0"),
            ("density = 30", "density = 9999"),
            ("pieces = 2", "pieces = 0"),
            ('generator = "mattress border"', 'generator = "mattres border"'),
            ("crown = 0", "crown = -1"),
        )
    ]
    assert places == [
        "range.currency",
        "sizes.single.width",
        "materials.foam.density",
        "models.aurora.panels[2] 'BO'.generator",
        "models.aurora.panels[1] 'TP'.pieces",
        "models.basis.panels[1] 'TP'.crown",
    ]


def test_a_fault_of_several_sizes_is_listed_once(findings):
    """The size is named only where it matters."""
    (finding,) = findings((PANEL, PANEL + 'crown = "1400 - W"\n'))
    assert finding.place == "models.aurora.panels[1] 'TP'.crown, size us-queen"
    (finding,) = findings((PANEL, PANEL + 'crown = "1000 - W"\n'))
    assert finding.place == "models.aurora.panels[1] 'TP'.crown, size double and 1 more size"


def test_at_most_200_findings_are_listed(findings):
    """The rest is counted."""
    many = "\n".join(f"x{number} = true" for number in range(250))
    found = findings(("seam = 15", f"seam = 15\n{many}"))
    assert len(found) == MAX_FINDINGS + 1
    assert found[-1].place == "and 50 more"
    assert "50 problems beyond the first 200" in str(found[-1])


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"[range]\nname = \n", r"line 2, column 8: found 'name ='; allowed: TOML"),
        (b"[range]\nname = 'x'\nname = 'y'\n", r"line 3.*every name and table once.*already written above"),
        (b"[range]\n[range]\n", r"line 2.*every name and table once"),
        (b"[range]\nname = 'x", r"line 2, the end of the file|line 2, column"),
        (b"[range]\nname = 'caf\xe9'\n", r"line 2: found 'the byte E9'; allowed: UTF-8 text"),
        ("[range]\nname = 'x'\n".encode("utf-16"), "line 1.*allowed: UTF-8 text"),
        (b"a = " + b"[" * 100_000, "the file|line 1"),
        (b"a = " + b"9" * 10_000, "very long numbers"),
        (b"", "found 'an empty file'"),
        (b" \n", "found 'an empty file'"),
        (b"x = 1\n", r"Add at least one table \[sizes.something\]"),
    ],
)
def test_what_is_no_range_file_is_said_plainly(tmp_path, content, message):
    """The line is named and shown."""
    path = tmp_path / "range.toml"
    path.write_bytes(content)
    with pytest.raises(InputError, match=message):
        load_range(path)


def test_a_file_that_cannot_be_opened_is_said_plainly(tmp_path):
    """Missing, a folder, too large."""
    with pytest.raises(InputError, match=r"nowhere.toml: the file: found 'no such file'.*Check the name"):
        load_range(tmp_path / "nowhere.toml")
    with pytest.raises(InputError, match=r"found 'a folder'.*Name the file itself"):
        load_range(tmp_path)
    with pytest.raises(InputError, match="an impossible file name"):
        load_range("a\0b")
    large = tmp_path / "large.toml"
    with large.open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    with pytest.raises(InputError, match=r"found '5 MB'; allowed: a range file of at most 5 MB"):
        load_range(large)


def test_too_many_pairs_of_model_and_size_are_refused(findings):
    """Checking every one of them must stay quick."""
    panel = (
        '[[models.m{0}.panels]]\ngenerator = "plain panel"\ncode = "A"\nname = "A"\nmaterial = "ticking"\n'
    )
    sizes = "".join(f"[sizes.s{n}]\nwidth = {n + 1}\nlength = 1\n" for n in range(400))
    models = "".join(f'[models.m{n}]\nheight = 1\nsizes = "all"\n{panel.format(n)}' for n in range(13))
    found = findings(("[models.aurora]", f"{sizes}{models}[models.aurora]"))
    assert any(f.place == "models" and "at most 5000" in f.allowed for f in found)


ODD = [
    "true",
    "[]",
    "{}",
    "-1",
    "0",
    "1e400",
    "nan",
    "9" * 30,
    "1979-05-27",
    "[[1]]",
    '""',
    '"W >"',
    '"1 in"',
]
LINES = SMALL.read_text(encoding="utf-8").splitlines()
VALUES = [number for number, line in enumerate(LINES) if re.match(r"[a-z_]+ = ", line)]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(st.sampled_from(VALUES), st.sampled_from(ODD))
def test_any_value_is_accepted_or_an_input_error(tmp_path, number, odd):
    """Nothing else is ever raised, whatever kind of value stands where another is wanted."""
    name = LINES[number].partition(" = ")[0]
    path = tmp_path / "range.toml"
    path.write_text("\n".join([*LINES[:number], f"{name} = {odd}", *LINES[number + 1 :]]), encoding="utf-8")
    try:
        load_range(path)
    except InputError as error:
        assert "Input should" not in str(error)


def test_keys_of_sizes_must_be_text(edited):
    """A list in the list of sizes is no key."""
    _assert_found(
        edited(('sizes = ["single", "double"]', "sizes = [[1]]")), "models.basis.sizes", "sizes of the"
    )


def test_no_parameter_of_a_generator_is_hidden_by_a_field_of_the_entry():
    """Otherwise it could never be set."""
    for generator in GENERATORS.values():
        assert not ENTRY_FIELDS & generator.parameters.keys(), generator.name


def test_importing_the_catalogue_stays_light():
    """Solver, compiler, spreadsheet and drawing libraries are loaded only where they are used."""
    heavy = "numba", "ortools", "openpyxl", "ezdxf", "shapely"
    code = f"import sys, nesting.catalogue, nesting.orders; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


SIZES = """sizes = [
    { name = "K1", length = 2100, width = 2060, height = 1080 },
    { name = "K2", length = "2 m", width = 1650, height = 1080, price = 90, available = 4, skins = {z0 = 20}},
]
"""
ONE_SIZE = "length = 2100\nwidth = 2060\nheight = 1080\n"


def test_a_foam_may_be_bought_in_several_sizes(edited):
    """The first is the usual one; what a size does not say the material says; panels may fit any of them."""
    foam = load_range(edited((ONE_SIZE, SIZES))).materials["foam"]
    assert isinstance(foam, BlockMaterial)
    first, second = block_sizes(foam)
    assert (foam.length, foam.width, foam.height) == (2100.0, 2060.0, 1080.0)
    assert (first.name, first.skins, first.price) == ("K1", Skins(15, 15, 20, 20, 20, 35), foam.price)
    assert (second.length, second.skins, second.price, second.available) == (2000.0, Skins(z0=20), 90, 4)
    tall = Panel(code="T", name="T", material="foam", length=900, width=900, thickness=1050)
    assert misfit(tall, foam) is None  # 1080 less 20 below
    assert misfit(tall, replace(foam, sizes=foam.sizes[:1])) is not None


@pytest.mark.parametrize(
    ("old", "new", "place", "message"),
    [
        ("density = 30", "density = 30\n" + SIZES, "length", "nothing where there are sizes.*in each of the"),
        (ONE_SIZE, SIZES + "available = 3\n", "available", "Write available in each of the sizes"),
        (ONE_SIZE, 'sizes = "all"\n', "sizes", "a list of 1 to 50 tables"),
        (ONE_SIZE, "sizes = []\n", "sizes", 'Write sizes = .{ name = "K1"'),
        (ONE_SIZE, SIZES.replace("K2", "K1"), "sizes[2].name", "a name that no other size has"),
        (ONE_SIZE, SIZES.replace("K2", "shelf 2"), "sizes[2].name", "does not begin with 'shelf '"),
        (ONE_SIZE, SIZES.replace(", width = 1650", ""), "sizes[2].width", "Add a line width"),
        (
            ONE_SIZE,
            SIZES.replace("z0 = 20", "z0 = 1000, z1 = 80"),
            "sizes[2].skins",
            "less than the height of 1 080",
        ),
        (ONE_SIZE, SIZES.replace("price = 90", "prize = 90"), "sizes[2].prize", "Did you mean 'price'"),
        ("density = 30", "density = 30\nrebond_contamination = 8", "rebond_contamination", "from 0 to 1"),
        ("density = 30", "density = 30\nlift_limit = 0", "lift_limit", "above 0 and at most 1 000"),
    ],
)
def test_faults_of_block_sizes_are_named(edited, old, new, place, message):
    """Each with the size it is in."""
    _assert_found(edited((old, new)), f"materials.foam.{place}", message)
