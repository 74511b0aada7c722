"""Ordering rules played over long random demand cost what is published for them.

Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed.; numbers read in the first
author's open documentation and tests, the printed book was not read. Tolerances are four times the
standard error of the mean over the periods played, measured over twenty seeds.
"""

import numpy as np
import pytest

from forecasting.ordering_rule import Levels, play

PERIODS = 60_000


def cost_per_period(demand, rule, *, lead, holding, waiting, per_order=0.0):
    played = play(demand, [rule] * len(demand), start=rule.order_up_to, lead=lead)
    orders = played.orders / len(demand)
    return holding * played.mean_stock + waiting * played.mean_waiting + per_order * orders


def poisson(mean):
    return np.random.default_rng(5).poisson(mean, PERIODS).tolist()


def normal(mean, sd):
    return np.random.default_rng(6).normal(mean, sd, PERIODS).tolist()


def test_reorder_point_and_order_up_to_of_example_4_7():
    # Poisson demand of 6, holding 1, waiting 4, order 5: (4, 10) costs 8.03411156 a period.
    cost = cost_per_period(poisson(6), Levels(4, 10), lead=0, holding=1, waiting=4, per_order=5)
    assert cost == pytest.approx(8.03411156, abs=0.06)


@pytest.mark.parametrize("rule", [Levels(3, 9), Levels(5, 11), Levels(4, 13)])
def test_neighbours_of_the_published_rule_cost_more(rule):
    best = cost_per_period(poisson(6), Levels(4, 10), lead=0, holding=1, waiting=4, per_order=5)
    assert cost_per_period(poisson(6), rule, lead=0, holding=1, waiting=4, per_order=5) > best


def test_one_period_stock_of_example_4_7_without_order_cost():
    # Newsvendor with Poisson demand of 6, overage 1, underage 4: 8 units cost 3.57010695.
    cost = cost_per_period(poisson(6), Levels(7, 8), lead=0, holding=1, waiting=4)
    assert cost == pytest.approx(3.57010695, abs=0.06)


@pytest.mark.parametrize(
    ("stock", "cost", "tolerance"),
    # Examples 4.1 and 4.3: normal demand 50 +- 8, overage 0.18, underage 0.70.
    [(56.60395593, 1.99760519, 0.02), (40, 7.35613155, 0.1), (60, 2.15613155, 0.02)],
)
def test_one_period_stock_of_examples_4_1_and_4_3(stock, cost, tolerance):
    rule = Levels(stock, stock)
    played = cost_per_period(normal(50, 8), rule, lead=0, holding=0.18, waiting=0.7)
    assert played == pytest.approx(cost, abs=tolerance)


def test_base_stock_with_lead_time_of_example_4_4_protects_five_periods():
    # Lead time 4, so stock must last 4 + 1 periods: level 264.7668944 costs 4.466781.
    rule = Levels(264.7668944, 264.7668944)
    cost = cost_per_period(normal(50, 8), rule, lead=4, holding=0.18, waiting=0.7)
    assert cost == pytest.approx(4.466781, abs=0.085)
