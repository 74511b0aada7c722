"""The history a forecast reads: what the records know, and the notebook before them."""

from datetime import date

import pytest

from inventory import actions
from inventory.actions import PastRow
from inventory.queries.history import build_history, direct_use, wear_lives
from tests.factories import DAY, D, cutter, days, fitted, in_work, line, screws, simple_knife, stock

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


def test_lives_of_what_wears_come_with_the_age_of_the_most_worn():
    item = cutter()
    for pocket, used in (("1", 40), ("2", 75)):
        actions.log_wear(fitting=fitted(item, pocket), amount=D(used), day=DAY)
    cutter("SPARE")
    lives = wear_lives({"MILL-6", "SPARE"})
    by_item = lives.groupby("item")[["used", "fitted"]].first()
    assert by_item.loc["MILL-6"].tolist() == [75.0, True]
    assert by_item.loc["SPARE"].tolist() == [0.0, False]
    assert len(lives) > 20
    assert wear_lives({"NONE"}).empty
