from functools import cache
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.errors import OutOfRange
from forecasting.lot_sizing import (
    joined_packs,
    least_unit_cost,
    part_period_balancing,
    plan_cost,
    silver_meal,
    wagner_whitin,
)

RULES = [silver_meal, least_unit_cost, part_period_balancing]
DEMAND = st.lists(st.integers(0, 60), min_size=1, max_size=26)
FEW_PACKS = st.lists(st.integers(0, 4), min_size=1, max_size=6)
MONEY = st.integers(0, 200)


@given(DEMAND, MONEY, st.integers(0, 9))
def test_no_rule_of_thumb_and_no_order_a_period_is_cheaper_than_the_best_plan(demand, fee, holding):
    terms = {"fee": fee, "holding": holding}
    best = wagner_whitin(demand, **terms)
    rivals = [plan_cost(demand, demand, **terms), *(rule(demand, **terms).cost for rule in RULES)]
    assert best.cost <= min(rivals)
    assert plan_cost(best.lots, demand, **terms) == best.cost


@given(DEMAND, MONEY, st.integers(0, 9))
def test_packs_without_minimum_and_limit_are_the_best_plan(demand, fee, holding):
    lots = joined_packs(demand, fee=fee, holding=holding)
    found = plan_cost(lots, demand, fee=fee, holding=holding)
    assert found == wagner_whitin(demand, fee=fee, holding=holding).cost


@given(FEW_PACKS, st.integers(0, 40), st.integers(0, 4), st.integers(1, 9))
def test_with_a_minimum_no_plan_at_all_is_cheaper(needs, fee, holding, minimum):
    terms = {"fee": fee, "holding": holding}
    found = joined_packs(needs, minimum=minimum, **terms)
    assert plan_cost(found, needs, **terms) == cheapest_of_all(needs, minimum, **terms)
    assert all(lot == 0 or lot >= minimum for lot in found)


def cheapest_of_all(needs, minimum, *, fee, holding):
    """Every number of packs an order could be tried in every period."""

    @cache
    def least(period, left):
        if period == len(needs):
            return 0
        most = max(sum(needs), minimum)
        orders = [0, *range(minimum, most + 1)]
        return min(
            (fee if lot else 0) + holding * after + least(period + 1, after)
            for lot in orders
            if (after := left + lot - needs[period]) >= 0 and after <= most
        )

    return least(0, 0)


@given(DEMAND, MONEY, st.integers(1, 9), st.integers(1, 40), st.integers(0, 200))
def test_limit_is_passed_only_by_what_a_period_needs_itself(needs, fee, holding, minimum, room):
    used = [0, *accumulate(needs)]
    most = [gone + room for gone in used[:-1]]
    lots = joined_packs(needs, fee=fee, holding=holding, minimum=minimum, most=most)
    received = list(accumulate(lots))
    for period, (lot, come) in enumerate(zip(lots, received, strict=True)):
        least = max(used[period + 1], come - lot + minimum)
        assert not lot or come <= max(most[period], least)


def test_orders_apart_are_kept_when_an_order_costs_nothing():
    assert joined_packs([1, 0, 2, 3], fee=0, holding=1) == (1, 0, 2, 3)


def test_what_a_minimum_brings_too_much_serves_the_weeks_that_follow():
    assert joined_packs([1, 1, 1, 4], fee=1, holding=5, minimum=3) == (3, 0, 0, 4)


def test_weeks_are_joined_as_far_as_the_fee_pays_for_it():
    # One order: 20 and 2 x (2 + 4 + 6) for keeping, 44; two of two weeks each: 40 and 8.
    assert joined_packs([2, 2, 2, 2], fee=20, holding=2) == (8, 0, 0, 0)
    assert joined_packs([2, 2, 2, 2], fee=10, holding=2) == (4, 0, 4, 0)


def test_weeks_that_do_not_fit_on_the_shelf_are_not_joined():
    assert joined_packs([2, 2, 2, 2], fee=20, holding=2, most=[5, 9, 9, 9]) == (4, 0, 4, 0)


@pytest.mark.parametrize("rule", [wagner_whitin, *RULES])
def test_periods_without_demand_get_no_order(rule):
    plan = rule([0, 5, 0, 0, 5, 0], fee=1, holding=10)
    assert plan.lots == (0, 5, 0, 0, 5, 0)
    assert plan.cost == 2


@pytest.mark.parametrize("rule", [wagner_whitin, *RULES])
def test_no_demand_at_all_costs_nothing(rule):
    assert rule([], fee=5, holding=1) == rule((), fee=5, holding=1)
    assert rule([0, 0], fee=5, holding=1).cost == 0


@pytest.mark.parametrize("rule", [wagner_whitin, *RULES])
def test_keeping_for_nothing_leads_to_one_order(rule):
    assert rule([3, 4, 5], fee=1, holding=0).lots == (12, 0, 0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wagner_whitin([1, -1], fee=1, holding=1), "demand must not be negative"),
        (lambda: wagner_whitin([1, 1], fee=[1], holding=1), "fee must have 2 periods"),
        (lambda: silver_meal([1], fee=-1, holding=1), "fee must not be negative"),
        (lambda: joined_packs([1], fee=1, holding=-1), "holding must not be negative"),
        (lambda: joined_packs([1], fee=1, holding=1, minimum=0), "minimum must be 1 or more"),
        (lambda: joined_packs([1], fee=1, holding=1, most=[]), "most must have 1 periods"),
        (lambda: plan_cost([1], [1, 1], fee=1, holding=1), "lots must have 2 periods"),
        (lambda: plan_cost([1, 0], [1, 1], fee=1, holding=1), "lots must serve the demand"),
    ],
    ids=["demand", "fees", "fee", "holding", "minimum", "most", "lots", "unserved"],
)
def test_impossible_lots_are_refused(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()
