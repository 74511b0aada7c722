"""What may ride along with an order that goes to a supplier anyway."""

import pytest

from inventory.exchange.answers import reorder_data
from inventory.management.reports import reorder_report
from inventory.queries.join_orders import supplier_rhythms, worth_joining
from inventory.queries.reorder_list import reorder_list
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(db):
    return make.forecast_run()


@pytest.fixture
def alder(db):
    """A supplier with a fee, from whom screws are due today."""
    return make.supplier("ALDER", order_fee=30)


@pytest.fixture
def due(run, alder):
    screws = make.screws()
    make.stock(screws, 20)
    make.item_forecast(run, screws)
    return make.offer(screws, alder, price=4, pack_qty=make.D(300))


def kept(run, supplier, code, here, price=1, per_week=10.0, **values):
    """An item of that supplier, at its reorder point of 50 once so much of it is used."""
    item = make.screws(code, **values)
    make.stock(item, here)
    make.item_forecast(run, item, per_week=per_week)
    make.offer(item, supplier, price=price, pack_qty=make.D(50))
    return item


def joined(supplier):
    found = worth_joining(reorder_list(make.DAY), 0.2).get(supplier.pk, [])
    return [[line.item.code for line in each.lines] for each in found]


def test_item_that_is_due_before_the_next_order_rides_along(run, alder, due):
    kept(run, alder, "PIN-3", here=70)
    (found,) = worth_joining(reorder_list(make.DAY), 0.2)[alder.pk]
    assert [line.item.code for line in found.lines] == ["PIN-3"]
    assert found.alone > 0.9
    assert 20 < found.saves < 30
    assert found.weeks_early < 5


def test_terminal_and_plain_data_tell_what_rides_along(run, alder, due):
    kept(run, alder, "PIN-3", here=70)
    listed = reorder_list(make.DAY)
    assert "Also worth ordering now: PIN-3" in reorder_report(listed, "EUR")
    (told,) = reorder_data(listed)["suppliers"][0]["worth_joining"]
    assert told["lines"][0]["item"] == "PIN-3"
    assert float(told["saves"]) > 20


def test_dear_item_that_is_due_late_waits(run, alder, due):
    kept(run, alder, "BAR-5", here=99, price=5000, per_week=4)
    assert joined(alder) == []


def test_supplier_without_a_fee_joins_nothing(run):
    birch = make.supplier("BIRCH")
    kept(run, birch, "PIN-3", here=20)
    kept(run, birch, "PIN-4", here=70)
    assert joined(birch) == []


def test_supplier_from_whom_nothing_is_due_joins_nothing(run, alder):
    kept(run, alder, "PIN-3", here=70)
    assert joined(alder) == []


def test_item_of_another_supplier_does_not_ride_along(run, alder, due):
    kept(run, make.supplier("BIRCH"), "PIN-3", here=70)
    assert joined(alder) == []


def test_item_with_plenty_on_the_shelf_is_not_ordered_for_a_fee(run, alder, due):
    kept(run, alder, "PIN-3", here=400)
    assert joined(alder) == []


def test_item_that_would_expire_first_does_not_ride_along(run, alder, due):
    kept(run, alder, "GLUE", here=90, shelf_life_days=30)
    assert joined(alder) == []


def test_items_that_share_a_fee_have_a_common_rhythm(run, alder, due):
    kept(run, alder, "PIN-3", here=70)
    rhythm = supplier_rhythms(reorder_list(make.DAY), 0.2)[alder.pk]
    # Fee 30; 520 a year each, at 4/300 and 1/50 apiece, 20 % to keep: sqrt(2 * 30 / 3.467) years.
    assert rhythm.weeks == pytest.approx(52 * (60 / (520 * 0.2 * (4 / 300 + 1 / 50))) ** 0.5)
    assert rhythm.less_often == ()


def test_item_with_a_dear_line_of_its_own_is_ordered_less_often(run, alder, due):
    plated = make.screws("PLATED")
    make.stock(plated, 500)
    make.item_forecast(run, plated, per_week=0.5)
    make.offer(plated, alder, price=1, pack_qty=make.D(50), lot_charge=40)
    rhythm = supplier_rhythms(reorder_list(make.DAY), 0.2)[alder.pk]
    ((line, times),) = rhythm.less_often
    assert line.item == plated
    assert times > 1
