"""Lots for a known demand against published examples; no printed original was read."""

from itertools import product

import pytest

from forecasting.lot_sizing import (
    least_unit_cost,
    part_period_balancing,
    plan_cost,
    silver_meal,
    wagner_whitin,
)

# H. M. Wagner & T. M. Whitin, Dynamic Version of the Economic Lot Size Model, Management Science 5
# (1958), the example of twelve months: data and optimum 864 read in open code that quotes it.
TWELVE_MONTHS = {
    "demand": [69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56],
    "fee": [85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114],
    "holding": 1,
}
# Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed., Example 3.9; numbers read in
# the first author's open documentation.
FOUR_PERIODS = {"demand": [90, 120, 80, 70], "fee": 500, "holding": 2}
# Course problem "SCMO WW (c)", read in the first author's open tests; the unit price varies.
PRICE_VARIES = {
    "demand": [400, 500, 500, 1100, 900],
    "fee": 100,
    "holding": 0.1,
    "unit_price": [3, 1, 4, 6, 6],
}
# S. Nahmias, Production and Operations Analysis, computer casings: Silver-Meal read in the course
# notes "Alternative Lot-Sizing Schemes", part-period balancing and 310 in notes at numerade.com
# (Ex. 7.5); least unit cost and its 340 worked out by hand.
CASINGS = {"demand": [18, 30, 42, 5, 20], "fee": 80, "holding": 2}


@pytest.mark.parametrize(
    ("example", "cost", "lots"),
    [
        pytest.param(
            *(TWELVE_MONTHS, 864, (98, 0, 97, 0, 121, 0, 0, 112, 0, 67, 135, 0)), id="wagner-whitin"
        ),
        pytest.param(FOUR_PERIODS, 1380, (210, 0, 150, 0), id="snyder-shen-3.9"),
        pytest.param(PRICE_VARIES, 4940, (400, 3000, 0, 0, 0), id="price-varies"),
    ],
)
def test_cheapest_plan_is_the_published_one(example, cost, lots):
    plan = wagner_whitin(**example)
    assert plan.cost == pytest.approx(cost, abs=1e-6)
    assert plan.lots == lots
    assert plan_cost(plan.lots, **example) == pytest.approx(plan.cost)


@pytest.mark.parametrize(
    ("rule", "lots", "cost"),
    [
        pytest.param(silver_meal, (48, 0, 47, 0, 20), 310, id="silver-meal"),
        pytest.param(part_period_balancing, (48, 0, 67, 0, 0), 310, id="part-period-balancing"),
        pytest.param(least_unit_cost, (48, 0, 42, 25, 0), 340, id="least-unit-cost"),
    ],
)
def test_rule_of_thumb_orders_what_is_published(rule, lots, cost):
    plan = rule(**CASINGS)
    assert plan.lots == lots
    assert plan.cost == cost


def test_no_plan_for_the_casings_costs_less_than_310():
    assert wagner_whitin(**CASINGS).cost == 310


@pytest.mark.parametrize("example", [TWELVE_MONTHS, PRICE_VARIES], ids=["twelve", "price"])
def test_no_choice_of_order_months_is_cheaper(example):
    """All of them, each month with or without an order that lasts until the next."""
    demand = example["demand"]
    costs = []
    for orders in product([False, True], repeat=len(demand) - 1):
        lots, last = [0] * len(demand), 0
        for month, ordered in enumerate((True, *orders)):
            last = month if ordered else last
            lots[last] += demand[month]
        costs.append(plan_cost(lots, **example))
    assert min(costs) == pytest.approx(wagner_whitin(**example).cost)
