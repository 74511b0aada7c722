"""The history a forecast reads: what the records know, and the notebook before them."""

from datetime import date

import pytest

from inventory import actions
from inventory.actions import PastRow
from inventory.queries.history import build_history
from tests.factories import DAY, days, in_work, line, screws, simple_knife, stock

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
