"""Share of use met from the shelf, as a line tells it."""

import pytest

from inventory.queries.expected_fill import expected_fill, usual_order
from inventory.queries.reorder_list import reorder_lines
from tests import factories as make

pytestmark = pytest.mark.django_db

CURVE = [[10.0, 0.90], [50.0, 0.98], [200.0, 0.995]]


@pytest.fixture
def screws(db):
    return make.screws()


def fill(item, **values):
    run = make.forecast_run()
    make.item_forecast(run, item, **values)
    (line,) = reorder_lines(run, make.DAY)
    return expected_fill(line, make.DAY)


def test_larger_packs_meet_more_from_the_shelf(screws):
    make.offer(screws, pack_qty=make.D(200))
    told = fill(screws, fill_by_order=CURVE)
    assert told.order == 200
    assert told.share == pytest.approx(0.995)


def test_item_without_an_offer_is_told_by_what_is_missing(screws):
    told = fill(screws, fill_by_order=CURVE)
    assert told.order == 50
    assert told.share == pytest.approx(0.98)


def test_run_that_kept_no_futures_tells_nothing(screws):
    assert fill(screws) is None


def test_usual_order_follows_the_price(screws):
    offer = make.offer(screws, make.supplier(order_fee=40), price=1, pack_qty=make.D(10))
    forecast = make.item_forecast(make.forecast_run(), screws)
    cheap = usual_order(forecast, offer, make.DAY)
    assert usual_order(forecast, offer, make.DAY, price=make.D(100)) < cheap
