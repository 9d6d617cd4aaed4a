"""Formulas: what they give, and that nothing but a formula gets through."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.catalogue import Formula, FormulaError, parse
from nesting.catalogue.formula import RESERVED
from nesting.catalogue.parser import MAX_DEPTH, MAX_TEXT

NAMES = {"W": 1524.0, "L": 2032.0, "H": 250.0, "seam": 15.0, "ease": 0.005}


@pytest.mark.parametrize(
    ("text", "result"),
    [
        # A queen panel: 1524 + 2 x 15 + 2 x 5 = 1564.
        ("W + 2 * seam + 2 * 5", 1564.0),
        # A border height: (250 - 10 - 10) + 2 x 15 = 260.
        ("(H - 10 - 10) + 2 * seam", 260.0),
        ("W / 2", 762.0),
        ("2 + 3 * 4", 14.0),
        ("(2 + 3) * 4", 20.0),
        ("20 - 5 - 5", 10.0),
        ("80 / 4 / 2", 10.0),
        ("-W + 1600", 76.0),
        ("2 * -3", -6.0),
        ("--3", 3.0),
        ("min(W, L)", 1524.0),
        ("max(W, L, 3000)", 3000.0),
        ("ceil(7018.2 / (2150 - 30))", 4.0),  # strips of a border: 3.31, so 4
        ("ceil(1401, 5)", 1405.0),
        ("floor(1409, 5)", 1405.0),
        ("round(1407.5, 5)", 1410.0),
        ("round(2.5)", 3.0),
        ("round(-2.5)", -2.0),
        ("if(W >= 1500, 2, 1)", 2.0),
        ("if(W < 1500 or H > 300, 2, 1)", 1.0),
        ("W + 1 in", 1549.4),
        ("W + 3/4 in", 1543.05),
        ("10 * 1 1/2 in", 381.0),
        ("2 cm + 1 m", 1020.0),
        (".5 * 4", 2.0),
        ("5.", 5.0),
    ],
)
def test_formulas_give_what_a_hand_calculator_gives(text, result):
    """Order of operations, functions and units."""
    assert parse(text).number(NAMES) == pytest.approx(result, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "result"),
    [
        ("W >= 1500", True),
        ("W < 1500", False),
        ("W = 60 in", True),
        ("W == 1524", True),
        ("W != 1524", False),
        ("W > 60 in", False),
        ("W >= 60 in and H <= 250", True),
        ("W < 1000 or L > 2000 and H = 250", True),
        ("not W < 1000", True),
        ("not (W < 1000 or H = 250)", False),
        ("(W + 10) / 2 > 700", True),
    ],
)
def test_conditions_are_true_or_false(text, result):
    """Comparisons, joined with and, or, not."""
    assert parse(text).truth(NAMES) is result


@pytest.mark.parametrize(
    ("text", "result"), [("ceil(6 * 0.1 / 0.2)", 3.0), ("floor(0.3 / 0.1)", 3.0), ("ceil(1.1 * 3, 1.1)", 3.3)]
)
def test_noise_of_decimal_fractions_never_adds_a_step(text, result):
    """In binary fractions 6 x 0.1 / 0.2 is a little more than 3, and 0.3 / 0.1 a little less."""
    assert parse(text).number({}) == pytest.approx(result, abs=1e-12)


def test_noise_does_not_tip_a_comparison():
    """0.1 + 0.2 is 0.3 to a cutter."""
    assert parse("0.1 + 0.2 = 0.3").truth({})
    assert parse("0.1 + 0.2 <= 0.3").truth({})
    assert not parse("0.1 + 0.2 > 0.3").truth({})


def test_only_the_branch_that_counts_is_worked_out():
    """A condition can guard a division."""
    assert parse("if(H > 250, W / (H - 250), 0)").number(NAMES) == 0.0
    assert not parse("H > 250 and W / (H - 250) > 1").truth(NAMES)


@pytest.mark.parametrize(
    ("text", "column", "message"),
    [
        ("", 1, "The formula is empty"),
        ("W /", 4, "ends too early"),
        ("(W", 1, "never closed"),
        ("W)", 2, "out of place"),
        ("W L", 3, "out of place"),
        ("2 W", 3, "out of place"),
        ("1200 <= W <= 1600", 11, "join with and"),
        ("W > 1 + (L > 2)", 7, "numbers, not conditions"),
        ("W and L", 3, "works on conditions"),
        ("not W", 1, "works on conditions"),
        ("-(W > 1)", 1, "numbers, not conditions"),
        ("if(W, 1, 2)", 1, "works on conditions"),
        ("min(W > 1, 2)", 1, "numbers, not conditions"),
        ("min(W)", 1, "min takes 2 to 20 values, 1 are written"),
        ("if(W > 1, 2)", 1, "if takes 3 values, 2 are written"),
        ("min", 1, "needs its values in parentheses"),
        ("exp(1)", 1, "'exp' is not a function; there are min"),
        ("__import__('os')", 1, "not a function"),
        ("W.real", 2, "means nothing here"),
        ("'W'", 1, "means nothing here"),
        ("W ^ 2", 3, "Write x \\* x"),
        ("0.5 %", 5, "Write 0.005 for 0.5 %"),
        ("12,5", 3, "decimal point"),
        ("W ** 2", 4, "out of place"),
        ("1-1/2 in", 1, "Write 1 1/2 in with a space, or 1 - 1/2 in to subtract"),
        ("1/0 in", 1, "divided by 0"),
        ("9" * 400, 1, "too large"),
    ],
)
def test_what_is_no_formula_is_refused_at_the_right_place(text, column, message):
    """The column is counted from 1, the words are plain."""
    with pytest.raises(FormulaError, match=message) as caught:
        parse(text)
    assert caught.value.column == column
    assert str(caught.value).startswith(f"At character {column}: ")


@pytest.mark.parametrize(
    ("text", "column", "message"),
    [
        ("W / (H - 250)", 3, "divides by 0"),
        ("w + 1", 1, "Nothing is named 'w'. Did you mean 'W'?"),
        ("2 * saem", 5, "Did you mean 'seam'?"),
        ("zzz", 1, "Known here: H, L, W, ease, seam"),
        ("ceil(W, 0)", 1, "the step to round to must be above 0"),
        ("ceil(W, H - 300)", 1, "the step to round to must be above 0"),
        ("W * " + "9" * 300 + " * " + "9" * 100, 306, "too large"),
        ("ceil(" + "9" * 300 + ", 0." + "0" * 100 + "1)", 1, "too large"),
        ("W > 1", 1, "A number is wanted here, not a condition"),
    ],
)
def test_what_cannot_be_worked_out_is_refused(text, column, message):
    """Unknown names, division by 0 and results out of bounds."""
    with pytest.raises(FormulaError, match=message.replace("?", r"\?")) as caught:
        parse(text).number(NAMES)
    assert caught.value.column == column


def test_a_number_is_no_condition():
    """when = "W" has no answer."""
    with pytest.raises(FormulaError, match="A condition is wanted here"):
        parse("W").truth(NAMES)


def test_length_and_depth_are_limited():
    """Just within the limits passes, just beyond is refused."""
    assert parse("1" + "+1" * 249).number({}) == 250.0
    with pytest.raises(FormulaError, match=f"at most {MAX_TEXT} characters"):
        parse("1" * (MAX_TEXT + 1))
    assert parse("(" * MAX_DEPTH + "W" + ")" * MAX_DEPTH).number(NAMES) == 1524.0
    for opening in ("(", "-", "not ", "ceil("):
        with pytest.raises(FormulaError, match=f"At most {MAX_DEPTH} "):
            parse(opening * (MAX_DEPTH + 1) + "W")


def test_a_formula_tells_the_names_it_uses():
    """Functions and units are no names."""
    assert parse("if(W > 2 in, seam, max(H, 3)) / seam").names == {"W", "seam", "H"}
    assert Formula.constant(3).names == set()
    assert not Formula.constant(3).is_condition


@given(st.text(max_size=60) | st.text(alphabet="WLH+-*/()<>=!, .0123456789inmaxcelfrodt", max_size=60))
def test_any_text_is_a_formula_or_a_formula_error(text):
    """Nothing else is ever raised, neither while parsing nor while working out."""
    try:
        formula = parse(text)
        value = formula.truth(NAMES) if formula.is_condition else formula.number(NAMES)
    except FormulaError as error:
        assert 1 <= error.column <= max(MAX_TEXT, len(text)) + 1
    else:
        assert math.isfinite(value)


# Trees are worked out twice: by Python's own arithmetic here, and from their text by the formula.
_numbers = st.decimals(min_value=0, max_value=5000, places=1).map(lambda d: (str(d), float(d)))
_names = st.sampled_from(sorted(NAMES)).map(lambda name: (name, NAMES[name]))


def _joined(parts):
    left, symbol, right = parts
    text = f"({left[0]} {symbol} {right[0]})"
    a, b = left[1], right[1]
    if a is None or b is None or (symbol == "/" and b == 0):
        return text, None
    return text, {"+": a + b, "-": a - b, "*": a * b, "/": a / b if b else None}[symbol]


def _chosen(parts):
    function, left, right = parts
    text = f"{function}({left[0]}, {right[0]})"
    if left[1] is None or right[1] is None:
        return text, None
    return text, {"min": min, "max": max}[function](left[1], right[1])


def _negative(part):
    return f"-{part[0]}", None if part[1] is None else -part[1]


_trees = st.recursive(
    _numbers | _names,
    lambda inner: (
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(_joined)
        | st.tuples(st.sampled_from(["min", "max"]), inner, inner).map(_chosen)
        | inner.map(_negative)
    ),
    max_leaves=12,
)


@given(_trees)
def test_formulas_agree_with_python(tree):
    """The same sum in the same order gives the same number, to the last bit."""
    text, expected = tree
    if expected is None or not math.isfinite(expected):
        with pytest.raises(FormulaError, match=r"divides by 0|too large"):
            parse(text).number(NAMES)
    else:
        assert parse(text).number(NAMES) == expected


@given(st.lists(st.sampled_from("+-*"), min_size=1, max_size=20), st.data())
def test_precedence_agrees_with_python(symbols, data):
    """Without parentheses, the same text is read alike by Python, which is safe for digits alone."""
    numbers = [data.draw(st.integers(0, 99)) for _ in range(len(symbols) + 1)]
    text = str(numbers[0]) + "".join(f" {s} {n}" for s, n in zip(symbols, numbers[1:], strict=True))
    assert parse(text).number({}) == float(eval(text))


def test_reserved_names_cover_dimensions_words_and_functions():
    """An allowance of such a name could never be reached."""
    assert {"W", "L", "H", "and", "or", "not", "if", "min", "ceil"} <= RESERVED
