"""Questions that orders and planning ask of a range."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pytest

from nesting.catalogue import FormulaError, load_range
from nesting.errors import InputError


@pytest.mark.parametrize(
    ("text", "key"), [("aurora", "aurora"), ("AURORA", "aurora"), (" Au-ro ra ", "aurora")]
)
def test_a_model_is_found_by_key_or_name(small, text, key):
    """Case, spaces and hyphens do not matter."""
    assert small.find_model(text).key == key


def test_a_material_is_found_by_key_or_name(small):
    """As for models."""
    assert small.find_material("quilted TICKING").key == "ticking"
    with pytest.raises(InputError, match=r"material: found 'tiking'.*Did you mean 'ticking'"):
        small.find_material("tiking")


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("double", "double"),
        ("Queen", "us-queen"),
        ("US Queen", "us-queen"),
        ("us_queen", "us-queen"),
        ("US\u2011Queen", "us-queen"),  # a non-breaking hyphen
        ("1350x1900", "double"),
        ("1350 X 1900 mm", "double"),
        ("1350 × 1900", "double"),
        ("135 x 190 cm", "double"),
        ("135,0x190cm", "double"),
        ("60x80 in", "us-queen"),
        ("1524x2032", "us-queen"),
    ],
)
def test_a_size_is_found_by_key_name_or_dimensions(small, text, key):
    """Dimensions are width x length, mm unless a unit is written."""
    assert small.find_size(text).key == key


def test_dimensions_in_whole_millimetres_find_a_size_in_inches(edited):
    """54 in is 1371.6 mm, written 1372 on most lists."""
    range_ = load_range(edited(("width = 1350\nlength = 1900", 'width = "54 in"\nlength = "75 in"')))
    assert range_.find_size("1372x1905").key == "double"
    with pytest.raises(InputError, match=r"allowed: a size of the range"):
        range_.find_size("1371x1905")


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("135x190", "In centimetres.*write 135x190 cm"),
        ("dubble", "Did you mean 'double'"),
        ("1900x1350", "Correct it, or add it to the range file"),
        ("", "Correct it"),
    ],
)
def test_an_unknown_size_gets_a_hint(small, text, hint):
    """The sizes of the range are listed."""
    with pytest.raises(InputError, match=f"'single', 'double' or 'us-queen'.*{hint}"):
        small.find_size(text)


def test_a_name_that_two_sizes_share_is_ambiguous(edited):
    """Both are listed, unless only one of them is made."""
    range_ = load_range(edited(('name = "Single"', 'name = "Queen"')))
    with pytest.raises(InputError, match=r"found 'Queen'.*could be 'single' or 'us-queen': write which"):
        range_.find_size("Queen")
    assert range_.find_size("single").key == "single"
    assert range_.find_size("queen", among=("double", "us-queen")).key == "us-queen"
    with pytest.raises(InputError, match=r"could be 'single' or 'us-queen'"):
        range_.find_size("queen", among=("single", "us-queen"))
    with pytest.raises(InputError, match=r"could be 'single' or 'us-queen'"):
        range_.find_size("queen", among=("double",))


def test_dimensions_that_two_sizes_share_are_ambiguous(edited):
    """Which key is meant cannot be guessed."""
    range_ = load_range(edited(('width = "60 in"\nlength = "80 in"', "width = 1350\nlength = 1900")))
    with pytest.raises(InputError, match=r"could be 'double' or 'us-queen'"):
        range_.find_size("1350x1900")


def test_panels_are_made_once(small):
    """The same tuple is handed out again."""
    assert small.panels("aurora", "double") is small.panels("aurora", "double")


@pytest.mark.parametrize(
    ("model", "size", "message"),
    [
        ("aurra", "double", r"model: found 'aurra'; allowed: a model of the range: 'aurora' or 'basis'"),
        ("basis", "us-queen", r"size: found 'us-queen'; allowed: a size of 'Basis': 'single' or 'double'"),
        ("basis", "nothing", r"size: found 'nothing'; allowed: a size of 'Basis'"),
    ],
)
def test_what_is_not_offered_cannot_be_made(small, model, size, message):
    """The finding says what is."""
    with pytest.raises(InputError, match=message):
        small.panels(model, size)


def test_a_changed_copy_makes_other_panels(small):
    """A designer compares allowances and cloth; the range itself stays as it is."""
    assert small.panels("aurora", "us-queen")[0].width == 1564.0
    assert small.with_allowance("seam", 20).panels("aurora", "us-queen")[0].width == 1574.0
    assert (
        small.with_allowance("seam", "3/4 in").panels("aurora", "us-queen")[0].width == 1573.0
    )  # rounded up
    nap = small.with_material(replace(small.materials["ticking"], grain="one-way"))
    assert nap.panels("aurora", "us-queen")[0].turns == (0.0,)
    assert small.panels("aurora", "us-queen")[0].turns == (0.0, 180.0)
    with pytest.raises(FormulaError, match="ends too early"):
        small.with_allowance("seam", "15 +")


def test_a_changed_copy_that_cannot_be_made_says_why(small):
    """The same findings as for the file."""
    with pytest.raises(InputError, match=r"models.aurora.panels\[1\] 'TP'.seam: found -500.0"):
        small.with_allowance("seam", -500).panels("aurora", "double")


def test_a_range_cannot_be_changed(small):
    """Neither its fields nor its tables."""
    with pytest.raises(FrozenInstanceError):
        small.name = "other"
    with pytest.raises(TypeError):
        small.sizes["x"] = small.sizes["double"]
