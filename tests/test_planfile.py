"""Saved plans come back the same, and nothing else is taken for one."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest

from nesting.catalogue import load_range
from nesting.errors import InputError
from nesting.orders import load_orders
from nesting.planfile import FORMAT, plan_from_json, plan_to_json, read_plan
from nesting.planning import Budget, make_plan


@pytest.fixture(scope="module")
def small_plan(patterns: Path):
    """A plan of one roll, one sheet and one block material of the demo week."""
    range_ = load_range(patterns / "demo-range.toml")
    book = load_orders(patterns / "demo-orders.csv", range_)
    return make_plan(
        range_,
        book.between(None, datetime.date(2026, 12, 7)),
        materials=["headboard-velvet", "edge-tape", "waxed-board", "core-foam", "non-slip"],
        budget=Budget(effort=2),
        today=datetime.date(2026, 12, 1),
    )


def test_a_plan_comes_back_the_same(small_plan) -> None:
    """Every figure, placement and cut survives the way through JSON."""
    assert plan_from_json(plan_to_json(small_plan), "plan.json") == small_plan


def test_the_format_is_named_first(small_plan) -> None:
    """A person who opens the file sees at once what it is."""
    assert json.loads(plan_to_json(small_plan))["format"] == FORMAT


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "plan written by this program"),
        (b"\xff\xfe", "plan written by this program"),
        (b"[1, 2]", "format: found nothing"),
        (b'{"format": "other-9"}', "format: found 'other-9'"),
        (b'{"format": "' + FORMAT.encode() + b'", "plan": {"seed": 1}}', "plan written by this program"),
        (b"[" * 100_000, "plan written by this program"),
    ],
)
def test_anything_else_is_refused_in_one_message(data: bytes, words: str) -> None:
    """No traceback for a broken or foreign file."""
    with pytest.raises(InputError, match=words):
        plan_from_json(data, "plan.json")


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """The message gives the file and the remedy."""
    with pytest.raises(InputError, match=r"plan\.json: the file: .*check the path"):
        read_plan(tmp_path / "plan.json")
