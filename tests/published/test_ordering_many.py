"""The same published costs as in test_ordering_rule.py, with many items played at once.

Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed.; numbers read in the first
author's open documentation and tests, the printed book was not read. Tolerances are four times the
standard error of the mean over the items played.
"""

import math

import numpy as np
import pytest

from forecasting.ordering_rule import Levels, play_many
from forecasting.reorder_point import unit_normal_loss

ITEMS, PERIODS, NOT_COUNTED = 1000, 80, 20


def played(demand, rule, **terms):
    start = rule.order_up_to
    return play_many(
        demand, [rule] * demand.shape[1], start=start, not_counted=NOT_COUNTED, **terms
    )


def test_reorder_point_and_order_up_to_of_example_4_7():
    # Poisson demand of 6, holding 1, waiting 4, order 5: (4, 10) costs 8.03411156 a period.
    demand = np.random.default_rng(5).poisson(6, (ITEMS, PERIODS)).astype(float)
    many = played(demand, Levels(4, 10), lead=0)
    cost = many.mean_stock + 4 * many.mean_waiting + 5 * many.orders / (PERIODS - NOT_COUNTED)
    assert cost.mean() == pytest.approx(8.03411156, abs=0.06)


def test_base_stock_with_lead_time_of_example_4_4():
    # Normal demand 50 +- 8, lead time 4, overage 0.18, underage 0.70: 264.7668944 costs 4.466781.
    demand = np.random.default_rng(6).normal(50, 8, (ITEMS, PERIODS))
    many = played(demand, Levels(264.7668944, 264.7668944), lead=4)
    cost = 0.18 * many.mean_stock + 0.7 * many.mean_waiting
    assert cost.mean() == pytest.approx(4.466781, abs=0.085)


@pytest.mark.parametrize(
    ("lead", "review", "level"), [(2, 3, 260), (0, 4, 210), (4, 1, 255)], ids=str
)
def test_periodic_review_serves_the_share_of_the_loss_function(lead, review, level):
    # (R, S) policy: short per review = loss at lead + review less loss at lead, demand normal;
    # Silver, Pyke & Thomas (2017), Inventory and Production Management | formula from memory.
    mean, sd = 50.0, 8.0

    def short(periods):
        spread = sd * math.sqrt(periods)
        if not periods:
            return 0.0
        return spread * unit_normal_loss((level - mean * periods) / spread)

    expected = 1 - (short(lead + review) - short(lead)) / (mean * review)
    demand = np.random.default_rng(7).normal(mean, sd, (ITEMS, NOT_COUNTED + 60))
    many = played(demand, Levels(level, level), lead=lead, review=review)
    assert many.served_at_once.sum() / many.demand.sum() == pytest.approx(expected, abs=0.002)
