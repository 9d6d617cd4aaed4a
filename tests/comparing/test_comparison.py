"""Figures worked out by hand on the range of `conftest`."""

from __future__ import annotations

from datetime import date

import pytest

from nesting.comparing import compare, request_for
from nesting.comparing.lab import Lab
from nesting.comparing.results import Unit
from nesting.orders import OrderBook, OrderLine


def _compared(range_, **asked):
    effort = asked.pop("effort", 5.0)
    return compare(range_, request_for(range_, **asked), effort=effort)


@pytest.fixture(scope="module")
def wide(strip):
    """Wide panels: one lies across 1990 mm, two across 2000 mm."""
    return _compared(strip, sizes=["wide"], material="cloth", stock={"roll": "2040,2060"}, volume=1000)


def test_figures_per_bed_alone(wide) -> None:
    """One across: 1.92 m at 10.00; two: 0.96 m at 10 x 2060 / 2040. Pieces 1.92 m2 a bed."""
    (row,) = wide.rows
    present, wider = row.alone
    assert present.amount == pytest.approx(1.92)
    assert present.cost == pytest.approx(19.20)
    assert present.waste == pytest.approx(1 - 1.92 / (1.92 * 2.04))
    assert present.gap == 0.0
    assert wider.amount == pytest.approx(0.96)
    assert wider.cost == pytest.approx(0.96 * 10 * 2060 / 2040)
    assert wider.waste == pytest.approx(1 - 2000 / 2060)
    assert wide.beds_alone == {"plain/wide": 20}


def test_a_breakpoint_of_the_width_is_planned_on_both_sides(wide, strip) -> None:
    """2 x 1000 = 2000 of usable width is a roll of 2050; at 2049 one panel lies across."""
    point = next(point for point in wide.breakpoints if point.name == "roll width")
    assert (point.now, point.short, point.at) == (2040, 2049, 2050)
    assert point.cost_short == pytest.approx(1.92 * 10 * 2049 / 2040)
    assert point.cost_at == pytest.approx(0.96 * 10 * 2050 / 2040)
    assert point.saving == pytest.approx(19.20 - point.cost_at)
    assert point.yearly == pytest.approx(1000 * point.saving)
    assert point.sure == pytest.approx(point.saving)
    assert point.proven
    assert point.fitting is not None
    assert point.fitting.pieces == (("Top panel, Wide", 1000.0, 2),)
    assert (point.fitting.total, point.fitting.direction) == (2000.0, "across")
    # Both sides once more, by a laboratory that knows nothing of the comparison.
    lab = Lab("cloth")
    unit = Unit("again", (("plain", "wide", 20),))
    for width, metres in ((2049.0, 38.4), (2050.0, 19.2)):
        from nesting.comparing.variants import resized

        changed = strip.with_material(resized(strip.materials["cloth"], width=width))
        assert lab.outcome(changed, unit, 5.0).stock == pytest.approx(metres)


def test_a_breakpoint_of_an_allowance_is_planned_on_both_sides(wide) -> None:
    """2 x (980 + 2 x 7.5) = 1990 fits the present width; 8 mm of seam give 1992."""
    point = next(point for point in wide.breakpoints if point.name == "seam")
    assert (point.now, point.short, point.at) == (10.0, 8.0, 7.5)
    assert point.cost_short == pytest.approx(1.916 * 10)
    assert point.cost_at == pytest.approx(1.915 / 2 * 10)
    assert point.fitting is not None
    assert point.fitting.total == pytest.approx(1990.0)


def test_breakpoints_are_listed_by_saving(wide) -> None:
    """Seam 7.5 saves 9.625 a bed, the wider roll 9.553."""
    savings = [point.saving for point in wide.breakpoints]
    assert savings == sorted(savings, reverse=True)
    assert savings[0] == pytest.approx(19.2 - 9.575)


def test_the_curve_falls_where_two_fit(wide) -> None:
    """Its only step is at 2050 mm."""
    (curve,) = wide.curves
    assert [at for at, _ in curve.steps[1:]] == [2050.0]
    assert curve.steps[-1][1].waste == pytest.approx(1 - 2000 / 2050)


def test_what_a_size_adds_to_a_mix(strip) -> None:
    """Ten wide panels leave 990 mm beside them, in which ten or twenty narrow ones cost nothing.

    Without the wide ones, narrow ones lie four across: ten take three rows of 1.92 m; so wide ones add
    seven rows, 1.344 m each.
    """
    lines = tuple(
        OrderLine(order="1", due=date(2026, 12, 1), model_key="plain", size_key=key, quantity=10, row=2)
        for key in ("wide", "narrow")
    )
    found = _compared(strip, material="cloth", stock={"roll": "2040"}, book=OrderBook("week.csv", lines))
    narrow = {row.case.size: row.mixed[0] for row in found.rows}["narrow"]
    wide = {row.case.size: row.mixed[0] for row in found.rows}["wide"]
    assert narrow is not None
    assert wide is not None
    assert narrow.cost == pytest.approx(0.0, abs=1e-6)
    assert wide.amount == pytest.approx(7 * 1.92 / 10)
    assert wide.low <= wide.cost <= wide.high
    assert found.whole[0] is not None
    assert found.whole[0][0] == pytest.approx(10 * 19.2 / 20)
    assert "week.csv" in found.shares


def test_blocks_are_counted_by_many(strip) -> None:
    """Nine cores of 100 in 990 mm, ten in 1000: a block of 1.84338 m3 costs 184.34."""
    found = _compared(strip, material="foam", stock={"block": "1900x980x990,1900x980x1000"})
    (row,) = found.rows
    assert found.beds_alone["plain/wide"] >= 900
    low, high = row.alone
    volume = 1.9 * 0.98 * 0.99
    assert low.cost == pytest.approx(volume * 100 / 9, rel=0.01)
    assert high.cost == pytest.approx(1.9 * 0.98 * 1.0 * 100 / 10, rel=0.01)
    point = next(point for point in found.breakpoints if point.name == "block height")
    assert (point.short, point.at) == (999.0, 1000.0)
    assert point.fitting is not None
    assert (point.fitting.pieces[0][2], point.fitting.direction) == (10, "up")


def test_thicker_than_the_block_may_be(strip) -> None:
    """Thickness 99 lets ten cores into 990 mm: found as a breakpoint of the allowance."""
    found = _compared(strip, material="foam", stock={"block": "1900x980x990"})
    point = next(point for point in found.breakpoints if point.name == "thickness")
    assert (point.now, point.at) == (100.0, 99.0)


def test_what_does_not_fit_says_so(strip) -> None:
    """A roll of 900 mm takes no panel of 1000 mm."""
    found = _compared(strip, sizes=["wide"], material="cloth", stock={"roll": "900,2040"})
    (row,) = found.rows
    assert not row.alone[0].fits
    assert row.best() == 1
    assert found.whole[0] is None


def test_the_same_comparison_twice_is_the_same(strip) -> None:
    """It depends on input, effort and seed alone, not on threads."""
    request = request_for(strip, material="cloth", stock={"roll": "2000,2040"})
    first, second = (compare(strip, request, effort=2.0, workers=workers) for workers in (1, 2))
    assert first == second
