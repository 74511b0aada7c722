"""What rides along in an order, and how often to order together."""

import itertools
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecasting.errors import OutOfRange
from forecasting.joint_orders import (
    SharedItem,
    Waiting,
    common_rhythm,
    ride_along,
)

MONEY = st.integers(1, 500).map(float)
ITEMS = st.lists(st.builds(SharedItem, st.integers(0, 300).map(float), MONEY, MONEY), min_size=1)


def cost_of(order_fee, items, multiples):
    fees = order_fee + sum(item.fee / m for item, m in zip(items, multiples, strict=True))
    kept = sum(item.carried * m for item, m in zip(items, multiples, strict=True))
    return math.sqrt(2 * fees * kept)


@settings(max_examples=60, deadline=None)
@given(MONEY, st.lists(st.builds(SharedItem, MONEY, MONEY, MONEY), min_size=1, max_size=3))
def test_no_other_multiples_cost_less(order_fee, items):
    rhythm = common_rhythm(order_fee, items)
    tried = itertools.product(range(1, 13), repeat=len(items))
    least = min(cost_of(order_fee, items, multiples) for multiples in tried)
    assert rhythm.cost <= least * (1 + 1e-9)
    assert rhythm.cost == pytest.approx(cost_of(order_fee, items, rhythm.multiples))


@settings(max_examples=60, deadline=None)
@given(MONEY, ITEMS.filter(lambda items: len(items) <= 8))
def test_ordering_together_costs_no_more_than_each_for_itself(order_fee, items):
    alone = sum(math.sqrt(2 * (order_fee + item.fee) * item.carried) for item in items)
    assert common_rhythm(order_fee, items).cost <= alone * (1 + 1e-9)


def test_items_without_a_line_fee_are_on_every_order():
    items = [SharedItem(0, 1000, 2), SharedItem(0, 3, 2)]
    assert common_rhythm(25, items).multiples == (1, 1)


NEVER = (0.0,) * 26
SOON = (0.1, 0.6, *[0.95] * 24)
LATE = (*[0.0] * 12, 0.2, 0.5, *[0.9] * 12)


def ride(*items, fee=30.0, rate=0.2):
    return ride_along(items, order_fee=fee, holding_rate=rate)


def test_cheap_item_that_would_soon_be_ordered_alone_rides_along():
    (found,) = ride(Waiting("screws", SOON, value=12), Waiting("bar", NEVER))
    assert found.names == ("screws",)
    assert found.alone == pytest.approx(0.95)
    assert found.saves == pytest.approx(30 * 0.95 - found.keeping)
    assert found.keeping < 0.2


def test_dear_item_due_late_waits():
    assert ride(Waiting("bar", LATE, value=4000)) == []


def test_item_that_would_ride_with_another_order_soon_saves_no_fee():
    certain = (1.0,) * 26
    assert ride(Waiting("screws", LATE, value=12), Waiting("bar", certain)) == []


def test_two_that_come_due_together_ride_together():
    # Either alone would ride with the other then; only both together spare the fee.
    due = (0.0, 1.0, *[1.0] * 24)
    (found,) = ride(Waiting("pins", due, value=5), Waiting("screws", due, value=5))
    assert found.names == ("pins", "screws")
    assert found.alone == 1
    assert found.saves == pytest.approx(30 - found.keeping)


def test_pair_too_dear_to_keep_waits():
    due = (*[0.0] * 20, *[1.0] * 6)
    assert ride(Waiting("bars", due, value=900), Waiting("sheet", due, value=900)) == []


def test_second_rider_is_judged_with_the_first_on_board():
    first, second = Waiting("pins", SOON, value=5), Waiting("screws", LATE, value=5)
    names = [found.names for found in ride(first, second)]
    assert names == [("pins",), ("screws",)]


def test_without_a_fee_nothing_rides_along():
    assert ride(Waiting("screws", SOON, value=12), fee=0) == []


def test_item_that_cannot_be_ordered_is_not_offered_the_ride():
    assert ride(Waiting("screws", SOON)) == []


def test_chances_are_those_of_many_played_weeks():
    # The plainest second way: draw the week in which each comes due and count.
    rng = random.Random(2)
    own, other = (0.1, 0.4, 0.7, 0.9), (0.0, 0.3, 0.3, 0.8)

    def week(due):
        chance = rng.random()
        return next((number for number, reached in enumerate(due) if chance < reached), 9)

    pairs = [(week(own), week(other)) for _ in range(40_000)]
    alone = sum(mine < theirs and mine < 9 for mine, theirs in pairs) / len(pairs)
    weeks = sum(1 + min(mine, theirs, 4) for mine, theirs in pairs) / len(pairs)
    (found,) = ride(Waiting("a", own, value=1), Waiting("b", other), fee=1000)
    assert found.alone == pytest.approx(alone, abs=0.01)
    assert found.weeks_early == pytest.approx(weeks, abs=0.05)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: common_rhythm(0, [SharedItem(1, 1, 1)]), "order_fee must be above 0"),
        (lambda: common_rhythm(5, []), "items must hold one item"),
        (lambda: common_rhythm(5, [SharedItem(1, 0, 1)]), "use and holding must be above 0"),
        (lambda: common_rhythm(5, [SharedItem(-1, 1, 1)]), "fee must not be negative"),
        (lambda: ride(fee=-1), "order_fee must not be negative"),
        (lambda: ride(rate=-1), "holding_rate must not be negative"),
        (lambda: ride(Waiting("a", SOON), Waiting("b", ())), "due must be equally long"),
    ],
    ids=["fee", "none", "use", "line-fee", "ride-fee", "rate", "weeks"],
)
def test_impossible_terms_are_refused(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()
