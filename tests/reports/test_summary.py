"""The summary in the workshop's units; programs always read metres and kilograms."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from nesting.model import Figures, MaterialPlan, Missing, Plan, RollMaterial, Workshop
from nesting.reports.summary import missing_lines, summary, summary_csv, table

ROLL = RollMaterial(key="cloth", name="Cloth", width=2000, roll_length=50_000, price=10)
FIGURES = Figures(
    unit="m2",
    stock_count=2,
    roll_length=91.44,
    consumed=182.88,
    pieces=150.0,
    losses=(),
    remnants=0.0,
    efficiency=0.876,
    utilisation=0.8202,
    bound=90_000.0,
    value=91_440.0,
    gap=0.0157,
    cost=1234.5,
    mass=45.359237,
    piece_count=60,
)
MISSING = Missing(3, "needs 2540.0 mm across the roll, usable width is 2000.0 mm")


@pytest.fixture
def plan() -> Plan:
    """A plan of 100 yd of cloth, and of a piece that is too wide for it (invented)."""
    part = MaterialPlan(
        material=ROLL,
        demands=(),
        layouts=(),
        missing={"X": MISSING},
        stock=(),
        remnants=(),
        figures=FIGURES,
        stopped="effort",
        effort=1,
    )
    return Plan(
        range_name="Range",
        range_file="range.toml",
        orders_file="orders.csv",
        currency="USD",
        made="2026-11-25",
        version="0",
        seed=0,
        first_due="2026-12-07",
        last_due="2026-12-11",
        beds=12,
        materials=(part,),
    )


def rows_of(plan: Plan, delimiter: str = ",") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(summary_csv(plan)), delimiter=delimiter))


def test_an_inch_shop_counts_yards_square_feet_and_pounds(plan: Plan) -> None:
    """91.44 m are 100 yd, 45.359237 kg 100 lb; 182.88 m2 / 0.09290304 = 1968.5039 sq ft (NIST SP 811)."""
    (row,) = rows_of(replace(plan, workshop=Workshop(units="inch")))
    assert (row["roll length yd"], row["mass lb"], row["unit"]) == ("100.0", "100.0", "sq ft")
    assert float(row["consumed"]) == pytest.approx(1968.5039, abs=1e-4)
    assert (row["planned"], row["planned in"]) == ("100.0", "yd of marker")
    assert table(replace(plan, workshop=Workshop(units="inch")))[1][0][1] == "100.0 yd from 2 rolls"


def test_programs_read_metres_whatever_people_read(plan: Plan) -> None:
    """One shape of JSON for all workshops."""
    assert summary(replace(plan, workshop=Workshop(units="inch", decimal=","))) == summary(plan)
    assert summary(plan)["materials"][0]["roll length m"] == 91.44


def test_a_decimal_comma_in_table_and_list(plan: Plan) -> None:
    """Numbers of the list as well as of the screen."""
    comma = replace(plan, workshop=Workshop(decimal=","))
    (row,) = rows_of(comma, ";")
    assert (row["roll length m"], row["efficiency %"], row["pieces"]) == ("91,44", "87,6", "60")
    assert table(comma)[1][0][3:] == ["87,6 %", "82,0 %", "1,6 %", "1 234,50"]


def test_what_does_not_fit_is_told_in_inches_too(plan: Plan) -> None:
    """2540 mm are 100 in; the millimetres stay beside them."""
    (line,) = missing_lines(replace(plan, workshop=Workshop(units="inch")))
    assert "needs 100 in (2540.0 mm) across the roll" in line
