"""The history a forecast reads: what the records know, and the notebook before them."""

from datetime import date

import pytest

from inventory import actions
from inventory.actions import PastRow
from inventory.queries.history import build_history, direct_use
from tests.factories import DAY, D, days, in_work, line, screws, simple_knife, stock

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
