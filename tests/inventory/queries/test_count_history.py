"""Drift of an item: what its counts found, whether from a list or of one lot."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import actions
from inventory.queries.count_history import count_history
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


@pytest.fixture
def lot(db):
    return make.stock(make.screws(), 100)


def counted(lot, qty, reason="counted"):
    count = actions.start_count(day=TODAY)
    actions.enter_count(line=count.lines.get(lot=lot), counted=make.D(qty))
    return actions.post_count(count=count, reason=reason)


def test_item_that_was_never_counted_says_so(lot):
    history = count_history(lot.item, TODAY)
    assert (history.counts, history.idle_days, history.drift) == ([], None, 0)


def test_differences_of_lists_and_of_single_lots_add_up_to_the_drift(lot):
    days_ago = TODAY - timedelta(days=9)
    actions.count_lot(
        lot=lot, place=make.where(lot), counted=make.D(97), day=days_ago, reason="short pack"
    )
    counted(lot, 95, "dropped or lost")
    counted(lot, 95)
    history = count_history(lot.item, TODAY)
    assert [(past.difference, past.reason, past.number) for past in history.counts] == [
        (0, "", "C-0002"),
        (-2, "dropped or lost", "C-0001"),
        (-3, "short pack", ""),
    ]
    assert (history.drift, history.idle_days) == (-5, 0)


def test_count_that_was_undone_tells_nothing(lot):
    count = counted(lot, 90)
    actions.reverse_posting(posting=count.lines.get().posting, day=TODAY)
    assert count_history(lot.item, TODAY).counts == []


def test_dropped_list_is_no_count(lot):
    count = actions.start_count(day=TODAY)
    actions.enter_count(line=count.lines.get(), counted=make.D(90))
    actions.drop_count(count=count)
    assert count_history(lot.item, TODAY).idle_days is None
