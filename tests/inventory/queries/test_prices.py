"""Prices of an item over time: as offered, as paid."""

import pytest

from inventory.queries.prices import holding_on, offered_prices, offers_ever, paid_prices
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_offered_price_is_of_one_unit_at_the_least_amount_sold():
    screws = make.screws()
    steps = [(1, make.D(12)), (2, make.D(10)), (10, make.D(8))]
    make.offer(screws, pack_qty=make.D(100), minimum_packs=2, price_breaks=steps)
    (one,) = offered_prices(offers_ever(screws))
    assert one.price == make.D("0.1")


def test_offer_that_ended_is_remembered_but_no_longer_holds():
    screws = make.screws()
    make.offer(screws, price=10, day=make.days(-300))
    make.offer(screws, price=12, day=make.days(-100))
    offers = offers_ever(screws)
    assert [(one.price, one.since) for one in offered_prices(offers)] == [
        (12, make.days(-100)),
        (10, make.days(-300)),
    ]
    assert [offer.valid_from for offer in holding_on(offers, make.DAY)] == [make.days(-100)]
    assert [offer.valid_from for offer in holding_on(offers, make.days(-200))] == [make.days(-300)]


def test_preferred_offer_stands_first():
    screws = make.screws()
    make.offer(screws, make.supplier("AAA"), preferred=False)
    make.offer(screws, make.supplier("ZZZ"))
    holding = holding_on(offers_ever(screws), make.DAY)
    assert [offer.supplier.code for offer in holding] == ["ZZZ", "AAA"]


def test_paid_prices_are_of_bought_lots_with_a_cost():
    screws = make.screws()
    make.stock(screws, 5, make.days(-3), supplier=make.supplier(), unit_cost=make.D("0.05"))
    make.stock(screws, 5, make.days(-2), supplier=make.supplier(), unit_cost=make.D("0.06"))
    make.stock(screws, 5, make.days(-1), supplier=make.supplier())
    make.stock(screws, 5, make.DAY, unit_cost=make.D("0.07"))
    assert [(one.day, one.price) for one in paid_prices(screws)] == [
        (make.days(-2), make.D("0.06")),
        (make.days(-3), make.D("0.05")),
    ]
