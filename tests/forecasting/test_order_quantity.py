from decimal import Decimal

import pytest

from forecasting.errors import OutOfRange
from forecasting.order_quantity import Limit, Pack, last_packs, newsvendor_cost, packs_to_order

SCREWS = Pack(
    Decimal(100),
    price_breaks=((1, Decimal(12)), (5, Decimal(10))),
    order_fee=Decimal(3),
)


def keeps(qty):
    """Before it expires."""
    return Limit("shelf life", Decimal(qty), "can be used in time")


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
        limits=(keeps(2500),),
    )
    choice = order(400, epoxy, use_per_year=6000)
    assert choice.packs == 2
    assert choice.reason == "as much as shelf life allows; fewer orders"


def test_shortfall_beyond_shelf_life_is_cut_and_says_so():
    epoxy = Pack(Decimal(1000), price_breaks=((1, Decimal(60)),), limits=(keeps(2500),))
    choice = order(5000, epoxy)
    assert choice.packs == 2
    assert choice.reason == "shelf life: no more than 2500 can be used in time"


def test_minimum_order_beyond_shelf_life_is_ordered_with_a_warning():
    epoxy = Pack(
        Decimal(1000),
        minimum_packs=4,
        price_breaks=((1, Decimal(60)),),
        limits=(keeps(2500),),
    )
    choice = order(400, epoxy)
    assert choice.packs == 4
    assert choice.reason == "minimum order of 4 packs, though only 2500 can be used in time"


def test_single_pack_beyond_shelf_life_is_ordered_with_a_warning():
    epoxy = Pack(Decimal(1000), price_breaks=((1, Decimal(60)),), limits=(keeps(300),))
    choice = order(200, epoxy)
    assert choice.packs == 1
    assert choice.reason == "one pack, though only 300 can be used in time"


def test_pack_that_is_hardly_used_in_time_is_ordered_with_a_warning():
    epoxy = Pack(Decimal(1000), price_breaks=((1, Decimal(60)),), limits=(keeps(0),))
    assert order(200, epoxy).reason == "one pack, though none of it can be used in time"


def test_room_on_the_shelf_limits_what_shelf_life_would_allow():
    room = Limit("room", Decimal(1500), "fits on the shelf")
    epoxy = Pack(Decimal(500), price_breaks=((1, Decimal(60)),), limits=(keeps(2500), room))
    choice = order(4000, epoxy, use_per_year=9000)
    assert choice.packs == 3
    assert choice.reason == "room: no more than 1500 fits on the shelf"


def test_price_break_beyond_the_room_is_let_go():
    room = Limit("room", Decimal(400), "fits on the shelf")
    pack = Pack(SCREWS.qty, price_breaks=SCREWS.price_breaks, order_fee=Decimal(3), limits=(room,))
    choice = order(120, pack)
    assert choice.packs <= 4
    assert choice.reason == "as much as room allows; fewer orders"


@pytest.mark.parametrize(
    ("price_breaks", "packs"),
    [
        pytest.param(((1, Decimal(100)), (5, Decimal("99.95"))), 4, id="hardly-cheaper"),
        pytest.param(((1, Decimal(100)), (5, Decimal("99.9"))), 5, id="cheaper"),
        pytest.param(((1, Decimal(100)), (5, Decimal(120))), 4, id="dearer"),
    ],
)
def test_numbers_on_both_sides_of_a_price_break_are_compared(price_breaks, packs):
    # Economic order: sqrt(2 * 400 * 5 / (0.25 * 10)) = 40, that is 4 packs of 10 at 100 a pack. A
    # year of 4 costs 4000 + 100, of 5 at 99.95 3998 + 102.47, at 99.90 3996 + 102.44.
    pack = Pack(Decimal(10), price_breaks=price_breaks, order_fee=Decimal(5))
    assert packs_to_order(Decimal(1), 400, pack, holding_rate=0.25).packs == packs


def evenly(chance):
    """Use that is anything from 0 to 1000, all alike."""
    return 1000 * chance


@pytest.mark.parametrize(
    ("here", "pack", "packs"),
    [(0, 100, 9), (240, 100, 7), (260, 100, 6), (950, 100, 0), (0, 400, 2), (0, 700, 1)],
)
def test_last_order_takes_the_cheaper_of_both_neighbours(here, pack, packs):
    terms = {"short": 9.0, "left": 1.0}
    found = last_packs(here, Pack(Decimal(pack)), evenly, **terms)
    assert found == packs
    cost = {n: newsvendor_cost(here + n * pack, evenly, **terms) for n in range(15)}
    assert cost[found] == min(cost.values())


def test_unknown_price_orders_what_is_short():
    choice = order(120, Pack(Decimal(50)))
    assert (choice.packs, choice.cost) == (3, 0)


def test_high_order_fee_makes_orders_fewer_but_never_more_than_a_years_use():
    dear_freight = Pack(Decimal(10), price_breaks=((1, Decimal(1)),), order_fee=Decimal(500))
    choice = order(10, dear_freight, use_per_year=95)
    assert choice.packs == 9
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
        (lambda: last_packs(0, SCREWS, evenly, short=0, left=1), "short must be above 0"),
        (lambda: last_packs(0, SCREWS, evenly, short=1, left=0), "left must be above 0"),
    ],
    ids=["pack", "order", "price", "fee", "use", "rate", "short", "left"],
)
def test_impossible_terms_are_refused(make, message):
    with pytest.raises(OutOfRange, match=message):
        make()
