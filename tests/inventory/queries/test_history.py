"""The history a forecast reads: what the records know, and the notebook before them."""

from datetime import date

import pytest

from inventory import actions
from inventory.actions import PastRow
from inventory.queries.history import (
    build_history,
    build_plan,
    direct_use,
    past_plans,
    receipt_history,
    stock_out_weeks,
)
from tests.factories import (
    DAY,
    D,
    days,
    in_work,
    line,
    offer,
    order,
    order_line,
    plan,
    reserved,
    screws,
    simple_knife,
    stock,
)

pytestmark = pytest.mark.django_db


def test_builds_of_the_notebook_come_before_those_of_the_records():
    item = screws()
    stock(item, 100)
    batch = in_work(simple_knife("TRAIL", line(item)), 4)
    [recorded] = batch.lines.all()
    past = PastRow(recorded.product, days(-400), started=12, good=11)
    actions.record_past_builds(rows=[past])
    assert list(build_history(DAY).itertuples(index=False, name=None)) == [
        ("TRAIL", days(-400), 12),
        ("TRAIL", DAY, recorded.start_qty),
    ]


def test_builds_after_the_day_asked_about_are_left_out():
    item = screws()
    stock(item, 100)
    in_work(simple_knife("TRAIL", line(item)), 4)
    assert build_history(date(2020, 1, 1)).empty


def test_what_came_back_is_taken_off_the_newest_one_off_before_it():
    item = screws()
    lot = stock(item, 100)
    for day, qty in ((days(1), 10), (days(8), 6)):
        actions.issue_stock(item=item, qty=D(qty), day=day, reason="repair")
    actions.return_stock(lot=lot, qty=D(8), day=days(9), reason="repair")
    assert list(direct_use(days(30), {item.code}).itertuples(index=False, name=None)) == [
        (item.code, days(1), 8.0)
    ]


def test_plan_keeps_the_planned_day_of_a_batch_that_is_overdue():
    knife = simple_knife("TRAIL", line(screws()))
    plan(knife, 4, days(-30))
    assert build_plan()["day"].tolist() == [days(-30)]


def test_past_plans_say_what_was_begun_late_what_waits_and_what_was_given_up():
    item = screws()
    stock(item, 100)
    knife = simple_knife("TRAIL", line(item))
    actions.start_batch(batch=reserved(knife, 4, days(1)), day=days(9))
    plan(knife, 4, days(5))
    dropped = plan(knife, 4, days(40))
    actions.cancel_batch(batch=dropped, day=days(10), note="no order")
    plan(knife, 4, days(60))
    plan(knife, 4, days(-900))
    rows = past_plans(days(12)).sort_values("outcome").itertuples(index=False, name=None)
    assert list(rows) == [(8, "begun"), (-28, "given up"), (7, "waiting")]


def test_deliveries_tell_the_lead_time_and_overdue_orders_the_least_of_theirs():
    item = screws()
    bags = offer(item, pack_qty=D(100), lead_days=20)
    came = order_line(bags, 1, days(-60))
    actions.receive_delivery(item=item, qty=D(100), day=days(-37), order_line=came)
    order(bags, 1, days(-30))
    order(bags, 1, days(-5))
    told = receipt_history(DAY)[["quoted_days", "actual_days"]]
    assert set(told.itertuples(index=False, name=None)) == {(20, 23), (20, 30)}


def test_overdue_order_makes_the_supplier_slower_from_day_to_day():
    item = screws()
    order(offer(item, lead_days=20), 1, days(-30))
    told = [receipt_history(days(more))["actual_days"].tolist() for more in (-10, 0, 15)]
    assert told == [[], [30], [45]]


def take(item, qty, day):
    actions.issue_stock(item=item, qty=D(qty), day=day, reason="repair")


def out_of_stock(day, *items):
    table = stock_out_weeks(day, direct_use(day, {item.code for item in items}))
    return list(table.itertuples(index=False, name=None))


def test_week_with_none_on_any_day_is_a_stock_out():
    item = screws()
    stock(item, 10)
    take(item, 4, days(1))
    take(
        item, 6, days(16)
    )  # the Wednesday of the third week; more comes on the Tuesday of the sixth
    stock(item, 10, days(36))
    assert out_of_stock(days(55), item) == [(item.code, days(21)), (item.code, days(28))]


def test_item_that_is_bought_when_needed_has_no_stock_outs():
    item = screws()
    for week in (0, 28, 56):
        stock(item, 5, days(week))
        take(item, 5, days(week + 1))
    assert out_of_stock(days(80), item) == []


def test_item_that_came_later_was_not_there_before():
    old, new = screws(), screws("SCREW-NEW")
    stock(old, 10)
    take(old, 1, days(1))
    stock(new, 10, days(14))
    take(new, 1, days(15))
    assert out_of_stock(days(40), old, new) == [(new.code, days(0)), (new.code, days(7))]


def test_shop_without_use_outside_batches_has_no_stock_outs():
    stock(screws(), 10)
    assert out_of_stock(days(40), screws("SCREW-NEW")) == []
