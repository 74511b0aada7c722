"""Old runs go; what the list compares with and what is still to be scored stays."""

from datetime import timedelta

import pytest

from inventory.actions.prune_runs import prune_runs
from inventory.models import ForecastRun, ItemForecast
from tests import factories as make
from tests.factories import DAY, days

pytestmark = pytest.mark.django_db
STATE = ForecastRun.State


@pytest.fixture
def shop():
    return make.shop(review_days=7)


def run(as_of, lead_days=14.0, state=STATE.DONE):
    made = ForecastRun.objects.create(
        as_of=as_of, horizon_weeks=26, paths=2000, seed=1, state=state
    )
    item = make.Item.objects.first() or make.screws()
    ItemForecast.objects.create(
        run=made,
        item=item,
        lead_mean_days=lead_days,
        **dict.fromkeys(["service_level", "lead_low_days", "lead_high_days", "lead_seen"], 0),
        **dict.fromkeys(["use_per_week", "lead_demand_mean", "lead_demand_q05"], 0),
        **dict.fromkeys(["lead_demand_q95", "reorder_point", "safety_stock", "order_up_to"], 0),
    )
    return made


def kept():
    return list(ForecastRun.objects.order_by("as_of", "pk").values_list("as_of", flat=True))


def test_nightly_runs_of_a_year_leave_three_weeks_of_days_and_ten_weeks(shop):
    for back in range(365, -1, -1):
        run(days(-back))
    assert prune_runs(day=DAY) == len(kept()) == 22 + 6
    daily = [day for day in kept() if day >= days(-21)]
    assert daily == [days(-back) for back in range(21, -1, -1)]
    assert [day.weekday() for day in kept() if day < days(-21)] == [0] * 6  # DAY is a Monday


def test_of_the_runs_of_a_day_the_last_stays_and_the_one_before_the_newest(shop):
    old = [run(days(-1)), run(days(-1))]
    new = [run(DAY), run(DAY), run(DAY)]
    prune_runs(day=DAY)
    assert set(ForecastRun.objects.all()) == {old[1], new[1], new[2]}


def test_long_lead_time_keeps_a_run_until_it_can_be_scored(shop):
    run(days(-100), lead_days=14)
    waiting = run(days(-98), lead_days=95)
    run(days(-1))
    run(DAY)
    prune_runs(day=DAY)
    assert waiting.as_of in kept()
    assert days(-100) not in kept()


def test_run_before_stays_however_old(shop):
    run(days(-400))
    run(DAY)
    assert prune_runs(day=DAY) == 2


def test_failed_runs_go_and_one_under_way_stays(shop):
    run(days(-1), state=STATE.FAILED)
    under_way = run(DAY, state=STATE.RUNNING)
    run(days(-2))
    prune_runs(day=DAY)
    assert kept() == [days(-2), under_way.as_of]


def test_deleting_a_run_deletes_its_figures_with_it(shop):
    run(days(-90))
    run(days(-1))
    run(DAY)
    prune_runs(day=DAY)
    assert ItemForecast.objects.count() == 2


def test_weeks_are_counted_over_the_turn_of_the_year(shop):
    new_year = DAY.replace(month=1, day=1)
    for back in range(0, 60):
        run(new_year - timedelta(days=back))
    prune_runs(day=new_year)
    weeks = {day.isocalendar()[:2] for day in kept() if day < new_year - timedelta(days=21)}
    assert len(weeks) == len([day for day in kept() if day < new_year - timedelta(days=21)])
