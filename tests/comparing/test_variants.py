"""Widths and sizes as people write them, and their prices."""

from __future__ import annotations

from dataclasses import replace

import pytest

from nesting.comparing import request_for
from nesting.comparing.variants import default_variants, read_variants, resized, room
from nesting.errors import InputError
from nesting.measures import shown_for
from nesting.model import Workshop


def test_a_wider_roll_costs_more_by_its_width(strip) -> None:
    """10.00 at 2040 is 10.20 at 2080.8; the edges lose as much as before."""
    cloth = strip.materials["cloth"]
    wider = resized(cloth, width=2080.8)
    assert wider.price == pytest.approx(10.20)
    assert room(wider, "width") == pytest.approx(2030.8)
    measured = resized(replace(cloth, measured_width=1980.0), width=2050.0)
    assert measured.usable_width == 1990.0


def test_sizes_are_read_with_units_and_prices(strip) -> None:
    """In any order; the present one is always among them."""
    found = read_variants("84 in, 2000=9.50", strip.materials["cloth"])
    assert [(v.key, v.present, v.priced) for v in found] == [
        ("2000", False, True),
        ("2040", True, False),
        ("2133.6", False, False),
    ]
    assert found[0].material.price == 9.50
    (low, high) = read_variants("1900 x 980 X 1050", strip.materials["foam"])
    assert (low.present, high.key, high.material.price) == (True, "1900x980x1050", 100.0)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "1 to 12 sizes"),
        ("two metres", "numbers in mm"),
        ("2000x100", "width in mm"),
        ("40", "lost at the edges"),
        ("20000", "at most 10 000 mm"),
        ("2000=cheap", "a price after the sign ="),
        ("-5", "above 0"),
    ],
)
def test_what_cannot_be_read_is_told(strip, text: str, word: str) -> None:
    """Option, value, what is allowed, an example."""
    with pytest.raises(InputError) as caught:
        read_variants(text, strip.materials["cloth"])
    assert word in str(caught.value)
    assert "--widths 2000,2100,2200" in str(caught.value)


def test_without_widths_there_are_steps_to_both_sides(strip) -> None:
    """50 mm apart, or 2 in for a shop that reads inches."""
    cloth = strip.materials["cloth"]
    assert [variant.key for variant in default_variants(cloth)] == ["1940", "1990", "2040", "2090", "2140"]
    with shown_for(Workshop(units="inch")):
        assert default_variants(cloth)[0].key == "1938.4"


@pytest.mark.parametrize(
    ("asked", "word"),
    [
        ({"models": ["plane"]}, "Did you mean 'plain'"),
        ({"material": "tape"}, "only cut to length"),
        ({"material": "foam", "stock": {"roll": "2000"}}, "Give --blocks"),
        ({"material": "foam", "sizes": ["narrow"]}, "'cloth'"),
        ({"stock": {"roll": "2000", "block": "1x1x1"}}, "one of them at a time"),
        ({"stock": {"sheet": "2000x1000"}}, "a sheet among the materials"),
    ],
)
def test_what_cannot_be_compared_is_told(strip, asked, word: str) -> None:
    """Before anything is planned."""
    with pytest.raises(InputError) as caught:
        request_for(strip, **asked)
    assert word in str(caught.value)


def test_the_dearest_material_is_compared_without_another_wish(strip) -> None:
    """By the size of the pieces: wide and narrow cloth 13.17, foam 18.62."""
    assert request_for(strip).material == "foam"
    assert request_for(strip, stock={"roll": "2000"}).material == "cloth"
    assert request_for(strip, sizes=["narrow"]).material == "cloth"
