"""The arithmetic of ordering, against worked examples, scipy and its own promises."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from nesting.buying.ordering import (
    Terms,
    factor_of,
    gross_requirement,
    net_requirement,
    order_amount,
    reorder_point,
    safety_stock,
    schedule,
)


def test_a_worked_week_of_quilted_cloth() -> None:
    """Reckoned by hand to the last figure: 120 beds of 4.144 m a week, 12 beds either way, 3 weeks, z 1.65.

    Splices lose 1 %, remnants 1.5 %. 620 m are there, 400 m on order, 35 m usable remnants; rolls of 60 m,
    at least 500 m.
    """
    week = gross_requirement(120 * 4.144, (0.01, 0.015))
    assert round(week, 2) == 509.95
    sigma = gross_requirement(12 * 4.144, (0.01, 0.015))
    assert round(sigma, 3) == 50.995
    terms = Terms(lead=2, review=1, least=500.0, item=60.0)
    assert terms.cover == 3
    safety = safety_stock(1.65, sigma, terms.cover)
    assert round(safety, 1) == 145.7
    assert round(terms.cover * week + safety, 1) == 1675.6
    net = net_requirement(terms.cover * week, safety, 620.0, 400.0, 35.0)
    assert round(net, 1) == 620.6
    assert order_amount(net, terms) == 660.0
    plan = schedule([week] * 3, terms, stock=620.0 + 35.0, on_order=[0.0, 400.0], safety=safety)
    assert plan.now is not None
    assert (plan.now.amount, plan.now.items, plan.now.arrives) == (660.0, 11, 3)
    assert round(plan.net, 1) == 620.6


def test_losses_divide_and_do_not_add() -> None:
    """1 % and 1.5 % of loss leave 0.97515 of the cloth."""
    assert gross_requirement(0.97515, (0.01, 0.015)) == pytest.approx(1.0)


@pytest.mark.parametrize(("service", "z"), [(0.90, 1.28), (0.95, 1.645), (0.975, 1.96), (0.99, 2.33)])
def test_factors_are_those_of_the_tables(service: float, z: float) -> None:
    """Quantiles of the standard normal distribution, as printed in any table of it."""
    assert factor_of(service) == pytest.approx(z, abs=0.005)


@given(st.floats(0.5, 0.9999))
def test_factors_agree_with_scipy(service: float) -> None:
    """The same quantile by another library."""
    assert factor_of(service) == pytest.approx(float(stats.norm.ppf(service)), abs=1e-7)


def test_safety_stock_when_the_lead_time_varies_as_well() -> None:
    """z x sqrt(LT x sd^2 + d^2 x sLT^2) by hand: 2 x sqrt(4 x 9 + 100 x 0.64) = 20."""
    assert safety_stock(2.0, 3.0, 4.0, mean=10.0, sigma_lead=0.8) == pytest.approx(20.0)
    assert reorder_point(10.0, 4.0, 20.0) == 60.0


@given(
    st.floats(0.0, 5000.0),
    st.builds(
        Terms,
        least=st.floats(0.0, 1000.0),
        item=st.sampled_from([1.0, 2.31, 40.0, 54.864]),
        multiple=st.integers(1, 6),
    ),
)
def test_an_order_is_enough_sold_so_and_not_a_lot_too_much(net: float, terms: Terms) -> None:
    amount = order_amount(net, terms)
    if round(net, 6) <= 0:
        assert amount == 0
        return
    lots = amount / terms.lot
    assert lots == pytest.approx(round(lots))
    assert amount >= max(net, terms.least) - 1e-5 * terms.lot
    assert amount < max(net, terms.least) + terms.lot


@given(
    st.lists(st.floats(0.0, 300.0), min_size=1, max_size=12),
    st.builds(
        Terms,
        lead=st.integers(0, 5),
        review=st.integers(1, 4),
        least=st.sampled_from([0.0, 150.0]),
        item=st.sampled_from([1.0, 40.0]),
    ),
    st.floats(0.0, 500.0),
    st.floats(0.0, 80.0),
)
def test_after_the_first_delivery_there_is_never_less_than_the_reserve(
    need: list[float], terms: Terms, stock: float, safety: float
) -> None:
    """What orders are for: every cover begun in time is covered. And nothing is lost or made up."""
    plan = schedule(need, terms, stock=stock, safety=safety)
    assert all(end >= safety - 1e-4 for end in plan.ends[terms.lead :])
    assert all((order.placed - 1) % terms.review == 0 for order in plan.orders)
    there = sum(order.amount for order in plan.orders if order.arrives <= len(need))
    assert plan.ends[-1] == pytest.approx(stock + there - math.fsum(need), abs=1e-6)


def test_short_is_told_where_no_order_can_help() -> None:
    """3 weeks to deliver, and stock for one."""
    plan = schedule([10.0] * 6, Terms(lead=3), stock=15.0)
    assert plan.short == 2
    late = schedule([10.0] * 6, Terms(lead=3), stock=15.0, on_order=[0.0, 100.0])
    assert late.short is None
    assert late.orders == ()


def test_the_minimum_order_counts_once_something_is_missing() -> None:
    terms = Terms(lead=1, least=100.0, item=30.0)
    assert order_amount(0.0, terms) == 0.0
    assert order_amount(0.1, terms) == 120.0
    assert order_amount(0.1, replace(terms, multiple=5)) == 150.0
