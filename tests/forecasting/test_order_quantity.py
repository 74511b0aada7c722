from decimal import Decimal

import pytest

from forecasting.errors import OutOfRange
from forecasting.order_quantity import Pack, packs_to_order

SCREWS = Pack(
    Decimal(100),
    price_breaks=((1, Decimal(12)), (5, Decimal(10))),
    order_fee=Decimal(3),
)


def order(shortfall, pack=SCREWS, use_per_year=600, rate=0.2):
    return packs_to_order(Decimal(shortfall), use_per_year, pack, holding_rate=rate)


@pytest.mark.parametrize("shortfall", ["0", "-30"])
def test_nothing_short_orders_nothing(shortfall):
    choice = order(shortfall)
    assert (choice.packs, choice.qty, choice.cost) == (0, 0, 0)
    assert choice.reason == "nothing short"


def test_price_break_worth_its_keep_is_taken():
    choice = order(120)
    assert (choice.packs, choice.qty, choice.cost) == (5, 500, 50)
    assert choice.reason == "price break at 5"


def test_large_shortfall_is_covered_in_whole_packs():
    choice = order(901, use_per_year=10)
    assert choice.packs == 10
    assert choice.reason == "what is short, in whole packs"


def test_item_hardly_used_is_not_bought_for_a_price_break():
    assert order(20, use_per_year=60).packs == 1


def test_minimum_order_is_named_when_it_decides():
    pack = Pack(Decimal(100), minimum_packs=4, price_breaks=((1, Decimal(12)),))
    choice = order(20, pack, use_per_year=60)
    assert choice.packs == 4
    assert choice.reason == "minimum order of 4 packs"


def test_price_list_that_starts_at_ten_packs_is_a_minimum_order():
    pack = Pack(Decimal(1), price_breaks=((10, Decimal(3)),))
    assert order(2, pack).packs == 10


def test_shelf_life_stops_a_price_break():
    epoxy = Pack(
        Decimal(1000),
        price_breaks=((1, Decimal(60)), (6, Decimal(30))),
        order_fee=Decimal(20),
        max_useful_qty=Decimal(2500),
    )
    choice = order(400, epoxy, use_per_year=6000)
    assert choice.packs == 2
    assert choice.reason == "as much as shelf life allows; fewer orders"


def test_shortfall_beyond_shelf_life_is_cut_and_says_so():
    epoxy = Pack(Decimal(1000), price_breaks=((1, Decimal(60)),), max_useful_qty=Decimal(2500))
    choice = order(5000, epoxy)
    assert choice.packs == 2
    assert choice.reason == "shelf life: no more than 2500 can be used in time"


def test_minimum_order_beyond_shelf_life_is_ordered_with_a_warning():
    epoxy = Pack(
        Decimal(1000),
        minimum_packs=4,
        price_breaks=((1, Decimal(60)),),
        max_useful_qty=Decimal(2500),
    )
    choice = order(400, epoxy)
    assert choice.packs == 4
    assert choice.reason == "minimum order of 4 packs, though only 2500 can be used in time"


def test_single_pack_beyond_shelf_life_is_ordered_with_a_warning():
    epoxy = Pack(Decimal(1000), price_breaks=((1, Decimal(60)),), max_useful_qty=Decimal(300))
    choice = order(200, epoxy)
    assert choice.packs == 1
    assert choice.reason == "one pack, though only 300 can be used in time"


def test_unknown_price_orders_what_is_short():
    choice = order(120, Pack(Decimal(50)))
    assert (choice.packs, choice.cost) == (3, 0)


def test_high_order_fee_makes_orders_fewer_but_never_more_than_a_years_use():
    dear_freight = Pack(Decimal(10), price_breaks=((1, Decimal(1)),), order_fee=Decimal(500))
    choice = order(10, dear_freight, use_per_year=95)
    assert choice.packs == 10
    assert choice.reason == "fewer orders cost less over a year"


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Pack(Decimal(0)), "pack qty must be above 0, but got 0"),
        (
            lambda: Pack(Decimal(1), price_breaks=((5, Decimal(1)), (1, Decimal(2)))),
            "price_breaks must ascend",
        ),
        (lambda: Pack(Decimal(1), price_breaks=((1, Decimal(-1)),)), "no negative price"),
        (lambda: Pack(Decimal(1), order_fee=Decimal(-1)), "order_fee must not be negative"),
        (lambda: order(5, use_per_year=-1), "use_per_year must not be negative"),
        (lambda: order(5, rate=-0.1), "holding_rate must not be negative"),
    ],
    ids=["pack", "order", "price", "fee", "use", "rate"],
)
def test_impossible_terms_are_refused(make, message):
    with pytest.raises(OutOfRange, match=message):
        make()
