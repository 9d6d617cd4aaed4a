"""Every model is made in every size and every panel tried on its material."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.catalogue import check, load_range
from nesting.catalogue.check import SUBSTITUTION
from nesting.errors import InputError
from nesting.model import RollMaterial


def test_a_sound_range_has_no_findings(small):
    """The small range can be made as it is."""
    assert check(small) == ()


def test_a_panel_too_wide_is_found_once_in_its_worst_size(small):
    """Queen misses by most: 1564 - 1350 = 214; double misses too, 1390 - 1350 = 40."""
    narrow = small.with_material(replace(small.materials["ticking"], width=1400))
    place, told = zip(*((f.place, str(f)) for f in check(narrow)), strict=True)
    assert place == (
        "models.aurora.panels[1] 'TP', size us-queen and 1 more size",
        "models.basis.panels[1] 'TP', size double",
    )
    assert "found '1 564 mm wide'" in told[0]
    assert "allowed: at most 1 350 mm, the usable width of 'ticking': 214 mm too wide" in told[0]
    assert "A roll of at least 1 564 mm usable width, or splitting the panel, would do." in told[0]


def test_other_materials_that_would_do_are_named(small):
    """The queen panel of 1564 is too wide for 1450 and for the narrow ticking, 1550, but not for 1650."""
    wide = RollMaterial(key="wide", name="Wide", width=1650, roll_length=10_000)
    narrow = small.with_material(wide).with_material(replace(small.materials["ticking"], width=1500))
    assert str(check(narrow)[0]).endswith(f"would do. 'wide' would take it. {SUBSTITUTION}")


def test_suggested_materials_respect_the_turns_of_the_entry(small):
    """Short, wide felt takes both double panels turned only, and that of basis may not be turned."""
    felt = RollMaterial(key="felt", name="Felt", width=2000, roll_length=1500, grain="any")
    narrow = small.with_material(felt).with_material(replace(small.materials["ticking"], width=1400))
    by_model = {finding.place.split(".")[1]: str(finding) for finding in check(narrow)}
    assert by_model["basis"].endswith(f" 'narrow-ticking' would take it. {SUBSTITUTION}")
    single = replace(narrow.models["aurora"], sizes=("double",))
    (finding,) = check(replace(narrow, models={"aurora": single}))
    assert str(finding).endswith(f" 'narrow-ticking' or 'felt' would take it. {SUBSTITUTION}")


def test_a_panel_of_several_shapes_names_the_one_at_fault(edited):
    """Rails come in two lengths; only the long one is too long for the block."""
    rails = (
        '[[models.basis.panels]]\ngenerator = "foam rails"\ncode = "RA"\nname = "Rail"\nmaterial = "foam"\n'
        "rail_width = 90\nrail_height = 160\nlength = 2100\n"
    )
    path = edited(("turns = [0]", f"turns = [0]\n{rails}"))
    with pytest.raises(InputError, match=r"models.basis.panels\[2\] 'RA' 'RA-L': found '2 110 mm long'"):
        load_range(path)
