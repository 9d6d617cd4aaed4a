"""Allowances that are reckoned from one another."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nesting.catalogue import parse
from nesting.catalogue.allowances import allowance_values


def _worked_out(**texts):
    return allowance_values({name: parse(text) for name, text in texts.items()})


def test_allowances_are_worked_out_in_any_order():
    """join = 2 x seam = 30, strip = join + 10 = 40."""
    values, problems = _worked_out(strip="join + 10", join="2 * seam", seam="15")
    assert values == {"strip": 40.0, "join": 30.0, "seam": 15.0}
    assert problems == {}


def test_a_circle_is_told_and_the_rest_worked_out():
    """Members of the circle, what hangs on it, and what does not."""
    values, problems = _worked_out(a="b", b="c + 1", c="a", d="2 * a", e="7")
    assert values == {"e": 7.0}
    assert set(problems) == {"a", "b", "c", "d"}
    assert problems["a"].startswith("It goes round in a circle: ")
    assert problems["d"] == "It needs 'a', which cannot be worked out."


def test_two_circles_are_both_told():
    """Also one of a single allowance."""
    _, problems = _worked_out(a="b", b="a", c="c + 1")
    assert set(problems) == {"a", "b", "c"}
    assert problems["c"] == "It goes round in a circle: c needs c."


def test_an_unknown_name_is_told():
    """With the one that resembles it, wherever that stands."""
    _, problems = _worked_out(b="saem", seam="15")
    assert problems == {"b": "At character 1: Nothing is named 'saem'. Did you mean 'seam'?"}


def test_allowances_are_the_same_for_all_sizes():
    """Their formulas cannot use the dimensions of the bed."""
    _, problems = _worked_out(a="W / 2", b="a + 1")
    assert problems["a"] == "W, L and H are known in panels only: write the formula there."
    assert problems["b"] == "It needs 'a', which cannot be worked out."


@given(st.permutations(range(30)))
def test_a_long_chain_is_worked_out_from_any_order(order):
    """Each allowance is one more than the one before it."""
    formulas = {f"a{n}": parse(f"a{n - 1} + 1" if n else "0") for n in order}
    values, problems = allowance_values(formulas)
    assert problems == {}
    assert values == {f"a{n}": float(n) for n in range(30)}
