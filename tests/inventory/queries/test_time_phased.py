"""The record by hand: rows that add up, on the shop's own stock, orders and plan."""

from datetime import timedelta
from decimal import Decimal
from itertools import accumulate

import pytest

from inventory.queries.time_phased import time_phased
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(db):
    return make.forecast_run()


@pytest.fixture
def screws(db):
    item = make.screws()
    make.stock(item, 35)
    return item


def record_of(run, item, day=make.DAY, **values):
    return time_phased(make.item_forecast(run, item, **values), day)


def test_record_of_an_item_can_be_checked_by_hand(run, screws):
    # Ten a week; 35 here, 20 kept in reserve, packs of 25, two weeks of lead time.
    make.offer(screws, pack_qty=make.D(25), lead_days=14)
    record = record_of(run, screws)
    net = record.record
    assert net.gross[:5] == (10, 10, 10, 10, 10)
    assert net.balance[:5] == (25, 15, 5, -5, -15)
    assert net.net[:5] == (0, 5, 0, 0, 10)
    assert net.receipts[:5] == (0, 25, 0, 0, 25)
    assert net.projected[:5] == (25, 40, 30, 20, 35)
    assert net.releases[:5] == (0, 0, 25, 0, 25)
    assert (record.lead_weeks, record.safety_stock, net.past_due) == (2, 20, 25)


def test_order_under_way_is_received_in_the_week_it_is_expected(run, screws):
    make.order(make.offer(screws, pack_qty=make.D(50), lead_days=10), day=make.DAY)
    assert record_of(run, screws).record.scheduled[:3] == (0, 50, 0)


def test_overdue_order_is_expected_later_and_not_in_the_past(run, screws):
    make.order(make.offer(screws, pack_qty=make.D(50), lead_days=10), day=make.days(-30))
    scheduled = record_of(run, screws).record.scheduled
    # 20 days late by now: as long again, at most its lead time of 10 days.
    assert scheduled[:3] == (0, 50, 0)
    assert sum(scheduled) == 50


def test_planned_batch_is_told_from_other_use(run, screws):
    knife = make.simple_knife("TRAIL", make.line(screws, 2))
    make.plan(knife, 3, make.days(9))
    record = record_of(run, screws)
    assert record.planned[:3] == (0, 6, 0)
    assert record.expected[:3] == (10, 4, 10)


def test_batch_that_needs_more_than_is_forecast_takes_the_whole_week(run, screws):
    knife = make.simple_knife("TRAIL", make.line(screws, 2))
    make.plan(knife, 30, make.days(-20))
    record = record_of(run, screws)
    assert record.planned[0] == record.record.gross[0] == 10
    assert record.expected[0] == 0


def test_held_by_a_batch_in_work_is_not_here_any_more(run, screws):
    make.in_work(make.simple_knife("TRAIL", make.line(screws, 2)), 5)
    assert record_of(run, screws).on_hand == 25


@pytest.mark.parametrize(("per_week", "unit"), [(0.37, "each"), (12.34, "g"), (3.333, "mL")])
def test_rows_add_up_however_uneven_the_use(run, per_week, unit):
    item = make.item("THING", "adhesive", unit)
    make.stock(item, 20)
    make.offer(item, pack_qty=make.D(7), lead_days=14, minimum_packs=2)
    record = record_of(run, item, per_week=per_week)
    net = record.record
    whole = [firm + other for firm, other in zip(record.planned, record.expected, strict=True)]
    assert whole == list(net.gross)
    changes = [
        due + planned - need
        for need, due, planned in zip(net.gross, net.scheduled, net.receipts, strict=True)
    ]
    assert list(net.projected) == list(accumulate(changes, initial=record.on_hand))[1:]
    assert min(net.gross) >= 0
    step = Decimal(1) if unit == "each" else Decimal("0.1")
    assert abs(sum(net.gross) - Decimal(str(26 * per_week))) <= step


def test_weeks_that_are_over_leave_the_record(run, screws):
    forecast = make.item_forecast(run, screws)
    later = time_phased(forecast, make.days(21))
    assert later.weeks[0] == make.days(21)
    assert len(later.weeks) == 23
    assert time_phased(forecast, make.days(26 * 7)) is None


def test_item_without_use_has_no_record(run, screws):
    assert record_of(run, screws, reorder_point=0, order_up_to=0) is None


def test_item_that_nobody_offers_is_planned_as_missing(run, screws):
    assert set(record_of(run, screws).record.receipts) == {0, 5, 10}


def test_first_week_begins_on_its_monday(run, screws):
    thursday = make.DAY + timedelta(days=3)
    assert time_phased(make.item_forecast(run, screws), thursday).weeks[0] == make.DAY
