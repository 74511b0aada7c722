"""When what is missing could be here. Overdue rule: common practice, no source."""

import pytest

from inventory import actions
from inventory.queries.arrivals import arrivals_by_item, covered_on, current_offers
from tests.factories import DAY, D, days, offer, order, order_line, screws, supplier

pytestmark = pytest.mark.django_db


def arrivals(item, day):
    return arrivals_by_item(day, [item.pk])[item.pk]


def test_open_order_arrives_on_its_expected_day():
    item = screws()
    order(offer(item, pack_qty=D(100), lead_days=28), 2)
    (found,) = arrivals(item, days(5))
    assert (found.day, found.qty, found.late) == (days(28), 200, 0)


@pytest.mark.parametrize(
    ("today", "expected"),
    [(28, 28), (29, 32), (33, 38), (50, 72), (100, 128)],
    ids=["due today", "a day late", "five days late", "three weeks late", "later than it takes"],
)
def test_overdue_order_is_as_late_again_at_least_3_days_at_most_its_lead_time(today, expected):
    item = screws()
    order(offer(item, lead_days=28))
    assert arrivals(item, days(today))[0].day == days(expected)


def test_only_the_rest_of_a_partly_received_order_is_to_come():
    item = screws()
    line = order_line(offer(item, pack_qty=D(100), lead_days=28), 2)
    actions.receive_delivery(item=item, qty=D(150), day=days(9), order_line=line)
    assert arrivals(item, days(9))[0].qty == 50


def test_received_drafted_and_cancelled_orders_bring_nothing():
    item = screws()
    bags = offer(item)
    actions.draft_order(supplier=bags.supplier, lines=[(bags, 1)], day=DAY)
    actions.cancel_order(order=order(bags))
    done = order_line(bags)
    actions.receive_delivery(item=item, qty=D(1), day=DAY, order_line=done)
    assert arrivals(item, DAY) == []


def test_shortage_is_covered_by_the_order_that_fills_it():
    item = screws()
    bags = offer(item, pack_qty=D(100), lead_days=28)
    order(bags, 1, days(-10))
    second = order(bags, 1, days(-3))
    found = arrivals(item, DAY)
    assert covered_on(D(100), found, bags, DAY)[0] == days(18)
    assert covered_on(D(101), found, bags, DAY) == (days(25), f"order {second.number}")
    assert covered_on(D(201), found, bags, DAY) == (days(28), "an order to Bracken Supply today")
    assert covered_on(D(201), found, None, DAY) == (None, "no supplier offers it")


def test_preferred_offer_is_used_else_the_quickest():
    item = screws()
    slow = offer(item, supplier("BRACKEN"), lead_days=40)
    quick = offer(item, supplier("GORSE"), lead_days=4, preferred=False)
    assert current_offers(DAY)[item.pk] == slow
    offer(item, supplier("BRACKEN"), lead_days=40, day=days(-5), preferred=False)
    assert current_offers(DAY)[item.pk] == quick


def test_offer_counts_from_its_first_day_to_its_last():
    item = screws()
    old, new = offer(item, pack_qty=D(50)), offer(item, pack_qty=D(40), day=days(10))
    assert [current_offers(days(n))[item.pk] for n in (9, 10)] == [old, new]
    assert item.pk not in current_offers(days(-4000))
