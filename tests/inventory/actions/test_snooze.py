"""A line put aside leaves the list, and is back on its day, when it gets worse, or when asked for."""

from datetime import timedelta

import pytest

from inventory import actions
from inventory.errors import Refused
from inventory.exchange.answers import reorder_data
from inventory.management.reports import reorder_report
from inventory.models import ForecastRun, ItemForecast, Snooze
from inventory.queries.forecast_inputs import plan_digest
from inventory.queries.reorder_list import reorder_list
from tests import factories as make
from tests.factories import DAY, D, days

pytestmark = pytest.mark.django_db


@pytest.fixture
def screws():
    """Seven a week, twenty in stock, reorder point 60: runs out in about three weeks."""
    make.shop()
    item = make.screws()
    make.stock(item, 20, days(-30))
    make.offer(item)
    run = ForecastRun.objects.create(
        as_of=DAY, horizon_weeks=26, paths=2000, seed=1, plan_digest=plan_digest()
    )
    weeks = [
        [(DAY + timedelta(weeks=n)).isoformat(), *(s * (n + 1) for s in (7, 5, 7, 8, 9))]
        for n in range(26)
    ]
    ItemForecast.objects.create(
        run=run,
        item=item,
        demand_class="lumpy",
        model="batches of its products",
        service_level=0.95,
        lead_mean_days=21,
        lead_low_days=16,
        lead_high_days=30,
        lead_seen=4,
        use_per_week=7,
        lead_demand_mean=28,
        lead_demand_q05=20,
        lead_demand_q95=60,
        reorder_point=60,
        safety_stock=32,
        order_up_to=90,
        weeks=weeks,
    )
    return item


def put_aside(item, until=None, day=DAY):
    (line,) = (line for line in reorder_list(day).every if line.item == item)
    return actions.snooze_item(
        item=item, until=until or days(14), day=day, runs_out=line.runs_out.expected
    )


def codes(lines):
    return [line.item.code for line in lines]


def test_line_put_aside_is_hidden_and_counted(screws):
    put_aside(screws)
    listed = reorder_list(DAY)
    assert codes(listed.lines) == codes(listed.soon) == []
    assert codes(each.line for each in listed.asleep) == ["SCREW-M4"]


def test_terminal_names_what_is_put_aside(screws):
    put_aside(screws)
    listed = reorder_list(DAY)
    assert "Put aside: SCREW-M4 (until 17 Mar 2025)." in reorder_report(listed, "EUR")
    (line,) = reorder_data(listed)["put_aside"]
    assert (line["item"], line["until"]) == ("SCREW-M4", "2025-03-17")


def test_line_is_back_on_its_day(screws):
    put_aside(screws)
    make.stock(screws, 40, DAY)  # enough that it doesn't get worse until then
    assert codes(reorder_list(days(13)).lines) == []
    assert codes(reorder_list(days(14)).lines) == ["SCREW-M4"]
    assert not reorder_list(days(14)).woken


def test_line_that_would_run_out_earlier_is_back_before_its_day(screws):
    put_aside(screws)
    actions.issue_stock(item=screws, qty=D(10), day=DAY, reason="repair")
    listed = reorder_list(DAY)
    assert codes(listed.lines) == ["SCREW-M4"]
    assert listed.woken[screws.pk].until == days(14)


def test_run_out_a_day_earlier_wakes_nobody(screws):
    put_aside(screws)
    actions.issue_stock(item=screws, qty=D(1), day=DAY, reason="repair")
    assert codes(each.line for each in reorder_list(DAY).asleep) == ["SCREW-M4"]


def test_item_not_expected_to_run_out_then_wakes_as_soon_as_it_is(screws):
    actions.snooze_item(item=screws, until=days(14), day=DAY, runs_out=None)
    assert codes(reorder_list(DAY).lines) == ["SCREW-M4"]


def test_line_brought_back_is_on_the_list_again(screws):
    put_aside(screws)
    actions.end_snooze(item=screws)
    assert codes(reorder_list(DAY).lines) == ["SCREW-M4"]
    assert actions.end_snooze(item=screws) == screws


def test_line_put_aside_again_gets_the_new_day(screws):
    put_aside(screws)
    put_aside(screws, days(30))
    assert Snooze.objects.get().until == days(30)


def test_item_that_needs_nothing_is_neither_hidden_nor_counted(screws):
    put_aside(screws)
    make.stock(screws, 500, DAY)
    listed = reorder_list(DAY)
    assert not listed.asleep
    assert not listed.woken


@pytest.mark.parametrize(
    ("until", "words"),
    [
        (DAY, "isn't ahead. Choose a day from tomorrow on"),
        (days(-1), "isn't ahead"),
        (days(400), "more than a year ahead"),
    ],
    ids=["today", "yesterday", "after a year"],
)
def test_day_that_makes_no_sense_is_refused_and_nothing_written(screws, until, words):
    with pytest.raises(Refused, match=words):
        actions.snooze_item(item=screws, until=until, day=DAY)
    assert not Snooze.objects.exists()
