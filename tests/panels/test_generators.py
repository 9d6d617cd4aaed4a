"""What holds for every generator: documentation, names, and sane shapes on standard sizes."""

import inspect
import re

import pytest
import shapely

import nesting.panels
from nesting.panels import GENERATORS, Dims

# Usual values of the allowances (common practice); the heights and thicknesses are invented.
ALLOWANCES = {
    "back_inset": 10,
    "back_turn_under": 15,
    "board_inset": 5,
    "border_crown": 10,
    "corner_leg": 150,
    "cover_inset": 10,
    "cover_turn_under": 20,
    "crown": 5,
    "ease": 0.005,
    "flange_width": 150,
    "foam_oversize": 10,
    "gusset_height": 50,
    "headboard_foam": 40,
    "headboard_staple": 40,
    "headboard_thickness": 18,
    "join_seam": 15,
    "lap": 50,
    "pad_inset": 10,
    "peak": 20,
    "plain_seam": 12,
    "rail_height": 180,
    "rail_width": 90,
    "seam": 15,
    "staple": 50,
    "strip_width": 120,
    "thickness": 50,
    "turnover": 80,
}

# Width x length, mm. EU sizes: common practice. US sizes in inches as sold there, x 25.4.
SIZES = {
    "EU 800x1900": (800, 1900),
    "EU 900x2000": (900, 2000),
    "EU 1400x2000": (1400, 2000),
    "EU 1600x2000": (1600, 2000),
    "EU 1800x2000": (1800, 2000),
    "EU 2000x2200": (2000, 2200),
    "US twin 38x75": (965.2, 1905),
    "US full 54x75": (1371.6, 1905),
    "US queen 60x80": (1524, 2032),
    "US king 76x80": (1930.4, 2032),
}

# Options that bring out the shapes a default leaves plain.
VARIANTS = {
    "quilted panel": [{"corner_radius": 75, "centre_notches": True}],
    "mattress border": [
        {"corner_radius": 75, "handles": True, "vents": True, "label": True, "direction": "across"},
        {"join": "lapped", "strips": 3, "label": True},
    ],
    "pillow panel": [{"corner_radius": 75, "inset": 15}],
    "yoke": [{"strip_width": 120}, {"strip_width": 120, "corners": "square"}],
    "fibre layer": [{"corner_radius": 75, "layers": 2}],
    "base border": [{"split": "side by side"}, {"split": "lengthwise", "direction": "across"}],
    "waxed board": [{"slat_pitch": 180, "first_slat": 90}],
    "foam slab": [{"thicknesses": (25, 25)}],
    "foam rails": [{"corners": "mitred"}, {"corners": "blocks", "corner_leg": 150}],
    "corner support": [{"shape": "triangle"}, {"shape": "quarter round"}],
    "headboard panel": [
        {"shape": "arched", "rise": 150},
        {"shape": "clipped", "clip_across": 150, "clip_down": 90},
    ],
    "headboard back": [{"shape": "arched", "rise": 150, "direction": "along"}],
    "headboard board": [{"shape": "arched", "rise": 150, "direction": "across"}],
}

EXPECTED_NAMES = {
    "quilted panel",
    "mattress border",
    "pillow gusset",
    "pillow panel",
    "yoke",
    "flange",
    "insulator pad",
    "fibre layer",
    "base border",
    "non-slip top",
    "dust cover",
    "waxed board",
    "foam slab",
    "convoluted pad",
    "foam rails",
    "edge support",
    "corner support",
    "headboard panel",
    "headboard back",
    "headboard board",
    "tape edge",
    "plain panel",
}

LARGEST_PART = 10_000  # mm: what the packing of a bed factory's parts is made for


def documented(function):
    """Names in the numpydoc Parameters section."""
    section = inspect.getdoc(function).split("Parameters\n----------\n")[1]
    lines = before_heading(section.splitlines())
    return [name for line in lines if re.match(r"\w", line) for name in line.split(", ")]


def before_heading(lines):
    """Lines before the next underlined heading."""
    for index, line in enumerate(lines):
        if set(line) == {"-"}:
            return lines[: index - 1]
    return lines


def test_importing_the_package_registers_every_generator():
    """The names are what range files write."""
    assert set(GENERATORS) == EXPECTED_NAMES


@pytest.mark.parametrize("name", sorted(EXPECTED_NAMES))
def test_generator_is_documented(name):
    """A one-line summary, each parameter in order, the errors, and a source."""
    generator = GENERATORS[name]
    assert 20 <= len(generator.summary) <= 110
    assert generator.summary.endswith(".")
    assert documented(generator.make) == ["dims", "material", *generator.parameters]
    text = inspect.getdoc(generator.make)
    assert "Raises\n------\nPanelError" in text
    assert "ource: arithmetic" in text or "common practice" in text


def test_name_table_lists_every_allowance_and_no_other():
    """The table in the package documentation is where a person looks names up."""
    rows = re.findall(r"^(\w+) {2,}\S", nesting.panels.__doc__, flags=re.MULTILINE)
    listed = [row for row in rows if row != "Allowance"]
    required = {
        key
        for generator in GENERATORS.values()
        for key, item in generator.parameters.items()
        if item.required
    }
    assert listed == sorted(required)
    assert set(ALLOWANCES) == required


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", sorted(EXPECTED_NAMES))
def test_shapes_are_sane_on_standard_sizes(name, size, roll, quilted_later, sheet, block):
    """Whole mm on rolls, proper outlines, marks inside the part, suffixes that tell shapes apart."""
    generator = GENERATORS[name]
    needed = {key: ALLOWANCES[key] for key, item in generator.parameters.items() if item.required}
    if "thickness" in generator.parameters:
        needed["thickness"] = ALLOWANCES["thickness"]
    dims = Dims(*SIZES[size], 250)
    stock = {"roll": [roll, quilted_later], "sheet": [sheet], "block": [block]}
    for kind in generator.materials:
        for material in stock[kind]:
            for options in [{}, *VARIANTS.get(name, [])]:
                shapes = generator.make(dims, material, **{**needed, **options})
                assert shapes
                assert len({shape.suffix for shape in shapes}) == len(shapes)
                for shape in shapes:
                    check(shape, kind)


def check(shape, kind):
    assert 1 <= shape.length <= LARGEST_PART
    assert 1 <= shape.width <= LARGEST_PART
    assert shape.count >= 1
    assert (shape.thickness is not None) == (kind == "block")
    if kind == "roll":
        assert shape.length == int(shape.length)
        assert shape.width == int(shape.width)
    if shape.outline:
        assert kind != "block" or not shape.standing
        polygon = shapely.Polygon(shape.outline)
        assert polygon.is_valid
        assert polygon.exterior.is_ccw
        assert polygon.bounds == pytest.approx((0, 0, shape.length, shape.width), abs=1e-5)
    for mark in shape.marks:
        assert all(0 <= x <= shape.length and 0 <= y <= shape.width for x, y in mark.points)
