"""What if: one item worked out again with something else, beside what holds now."""

import sys

import pytest

from inventory.actions.update_forecast import update_forecast
from inventory.models import ForecastRun, ItemForecast
from inventory.queries.what_if import PlannedBatch, Tried, users_of, what_if
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def screws(db):
    """Three screws in each TRAIL, built every other week, sold in bags of 100."""
    item = make.screws()
    make.stock(item, 1000, make.days(-200))
    make.offer(item, make.supplier(order_fee=10), price=5, pack_qty=make.D(100), lead_days=14)
    knife = make.simple_knife("TRAIL", make.line(item, 3))
    for week in range(10, 0, -2):
        day = make.days(-7 * week)
        make.actions.finish_batch(batch=make.in_work(knife, 6, day), day=day)
    make.actions.issue_stock(item=item, qty=make.D(5), day=make.days(-20), reason="repair")
    return item


@pytest.fixture
def forecast(screws):
    update_forecast(as_of=make.DAY)
    return ItemForecast.objects.select_related("run", "item").get(item=screws)


def tried(forecast, **values):
    answer = what_if(forecast, make.DAY, Tried(**values))
    return answer.present, answer.tried


def test_present_is_what_the_run_has_stored_and_nothing_more_is_stored(forecast):
    sys.modules.pop("statsforecast", None)
    before = ForecastRun.objects.count(), ItemForecast.objects.values().get()
    now, same = tried(forecast)
    for name in ("reorder_point", "safety_stock", "order_up_to", "lead_mean_days", "use_per_week"):
        assert getattr(now.line.forecast, name) == pytest.approx(getattr(forecast, name)), name
    assert (now.fill, now.mean_stock, now.money) == (same.fill, same.mean_stock, same.money)
    assert before == (ForecastRun.objects.count(), ItemForecast.objects.values().get())
    # Fitting weekly models would load it: a page can't wait for that.
    assert "statsforecast" not in sys.modules


def test_other_terms_change_what_follows_from_them(forecast, screws):
    now, surer = tried(forecast, service_level=0.995)
    assert surer.line.forecast.reorder_point > now.line.forecast.reorder_point
    assert surer.mean_stock > now.mean_stock
    assert surer.money > now.money
    assert surer.fill >= now.fill

    _, later = tried(forecast, lead_days=70)
    more = later.line.forecast.lead_demand_mean - now.line.forecast.lead_demand_mean
    assert later.quoted_days == 70
    assert more == pytest.approx(8 * forecast.use_per_week, rel=0.35)

    _, dearer = tried(forecast, price=make.D(50))
    assert dearer.order <= now.order
    assert dearer.money > now.money
    assert dearer.line.forecast.reorder_point == now.line.forecast.reorder_point

    screws.offers.update(valid_to=make.days(-1))
    assert tried(forecast)[0].money is None


def test_one_more_batch_is_used_before_the_stock_runs_out(forecast):
    (knife,) = users_of(forecast)
    now, then = tried(forecast, batch=PlannedBatch(knife, 400, make.days(3)))
    assert not now.line.is_due
    assert then.line.is_due
    assert then.line.forecast.reorder_point > now.line.forecast.reorder_point + 900
    assert then.line.runs_out.early < make.days(60)
