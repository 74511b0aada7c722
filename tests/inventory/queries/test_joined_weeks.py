"""Orders of the record: weeks are joined where another order costs more than keeping the pack."""

from itertools import accumulate
from math import ceil

import pytest

from inventory.queries.time_phased import time_phased
from tests import factories as make

pytestmark = pytest.mark.django_db

APART = {"per_week": 10.0, "safety_stock": 20}


@pytest.fixture
def run(db):
    make.shop(holding_rate=make.D("0.26"))
    return make.forecast_run()


def record_of(run, item, price=20, fee=6, **offer):
    """Ten a week, 35 here, 20 kept in reserve; a pack of ten costs 20, so 0.10 a week to keep."""
    make.stock(item, 35)
    supplier = make.supplier(order_fee=make.D(fee))
    make.offer(item, supplier, price=price, **{"pack_qty": make.D(10), **offer})
    return time_phased(make.item_forecast(run, item, **APART), make.DAY)


def test_weeks_are_joined_until_keeping_costs_as_much_as_another_order(run):
    record = record_of(run, make.screws(), fee=1)
    # By hand: k weeks in one order cost 1 + 0.10 (1 + ... + k - 1); a week of it least at 4 and 5.
    assert record.joined.fee == 1
    assert record.joined.keeping == make.D("0.1")
    assert set(record.joined.packs) <= {0, 4, 5}
    assert (record.joined.apart, record.joined.orders) == (25, 6)
    assert sum(record.joined.packs) == 25
    # 25 orders against 6, of which five bring 4 packs (0.60 for keeping) and one brings 5 (1.00).
    assert record.joined.saves == make.D("25") - make.D("6") - make.D("4")


def test_charge_for_an_order_line_counts_beside_the_suppliers_fee(run):
    assert record_of(run, make.screws(), fee=2, lot_charge=make.D(3)).joined.fee == 5


@pytest.mark.parametrize(
    ("case", "values"),
    [
        ("no fee", {"fee": 0}),
        ("no price", {"price": 0}),
        ("keeping costs more", {"fee": "0.09"}),
        ("nothing left after one order", {"pack_qty": make.D(1000)}),
    ],
)
def test_each_week_is_ordered_for_itself_where_joining_spares_nothing(run, case, values):
    record = record_of(run, make.screws(), **values)
    assert record.joined is None
    assert record.record.receipts == tuple(
        ceil(short / record.line.offer.pack_qty) * record.line.offer.pack_qty
        for short in record.record.net
    )


def test_joined_order_fits_on_the_shelf(run):
    record = record_of(run, make.screws(most_stored=make.D(60)))
    # 25 are left when an order comes, 28 if little is used meanwhile: three packs fit.
    assert set(record.record.receipts) == {0, 30, 20}
    assert max(record_of(run, make.epoxy()).joined.packs) > 3


def test_joined_order_is_used_before_it_expires(run):
    record = record_of(run, make.epoxy(shelf_life_days=49))
    # In 7 weeks 70 are expected to go, 60 go 4 times in 5; 25 lie before them: three packs.
    assert max(record.joined.packs) == 3


def test_nothing_is_joined_for_weeks_after_the_items_use_ends(run):
    item = make.screws(needed_until=make.days(7 * 5))
    packs = record_of(run, item, fee=50).joined.packs
    assert [week for week, count in enumerate(packs) if count] == [1, *range(6, 26)]


@pytest.mark.parametrize("minimum", [1, 3])
@pytest.mark.parametrize("pack", [1, 7, 40])
@pytest.mark.parametrize("fee", ["0.3", "2", "40"])
def test_joined_orders_keep_the_reserve_and_the_suppliers_terms(run, pack, minimum, fee):
    item = make.screws(most_stored=make.D(90))
    record = record_of(run, item, fee=fee, pack_qty=make.D(pack), minimum_packs=minimum)
    net = record.record
    assert min(net.projected) >= record.safety_stock
    assert all(qty % pack == 0 and (not qty or qty >= minimum * pack) for qty in net.receipts)
    changes = [
        due + planned - need
        for need, due, planned in zip(net.gross, net.scheduled, net.receipts, strict=True)
    ]
    assert list(net.projected) == list(accumulate(changes, initial=record.on_hand))[1:]
    assert all((qty > 0) == (short > 0) for qty, short in zip(net.receipts, net.net, strict=True))
