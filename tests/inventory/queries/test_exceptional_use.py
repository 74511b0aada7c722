"""What won't come again: left out of forecasts, in the ledger as it was, asked about when it is large."""

import pytest

from inventory import actions
from inventory.errors import Refused
from inventory.models import ExceptionalUse, Movement
from inventory.queries.exceptional_use import occasions_to_tell, same_occasion
from inventory.queries.forecast_inputs import plan_digest
from inventory.queries.history import direct_use
from tests.factories import DAY, D, bar, days, in_work, line, rack, screws, simple_knife, stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelf():
    item = screws()
    stock(item, 1000)
    return item


def taken(item, qty, day=DAY, reason="one-off", note=""):
    return actions.issue_stock(item=item, qty=D(qty), day=day, reason=reason, note=note)


def known_use(item, day):
    return direct_use(day, {item.code})["qty"].tolist()


def test_forecasts_leave_it_out_and_the_ledger_keeps_it(shelf):
    taken(shelf, 5)
    show = taken(shelf, 400, note="Trade show")
    actions.leave_out_use(posting=show, day=days(3))
    assert known_use(shelf, days(30)) == [5]
    assert Movement.objects.filter(posting=show, qty=-400).exists()


def test_forecast_of_a_day_before_it_was_known_counts_it(shelf):
    show = taken(shelf, 400)
    actions.leave_out_use(posting=show, day=days(3))
    assert (known_use(shelf, days(2)), known_use(shelf, days(3))) == ([400], [])


def test_pieces_of_one_occasion_go_together():
    item = bar()
    pieces = rack(item, 500, 600, 700)
    first, second = (
        actions.issue_piece(piece=piece, day=DAY, reason="one-off", note="Table legs")
        for piece in pieces[:2]
    )
    other = actions.issue_piece(piece=pieces[2], day=DAY, reason="repair")
    assert list(same_occasion(first)) == [first, second]
    actions.leave_out_use(posting=second, day=DAY)
    assert set(ExceptionalUse.objects.values_list("posting", flat=True)) == {first.pk, second.pk}
    assert known_use(item, days(1)) == [-float(other.movements.get().qty)]


def test_what_came_back_of_it_is_not_taken_off_other_use(shelf):
    taken(shelf, 5)
    show = taken(shelf, 400, days(1))
    lot = show.movements.get().lot
    actions.return_stock(lot=lot, qty=D(100), day=days(2), reason="one-off")
    actions.leave_out_use(posting=show, day=days(2))
    assert known_use(shelf, days(30)) == [5]


def test_it_is_counted_in_again(shelf):
    show = taken(shelf, 400)
    actions.leave_out_use(posting=show, day=DAY)
    actions.leave_out_use(posting=show, day=days(9))
    actions.count_use_in(posting=show)
    actions.count_use_in(posting=show)
    assert known_use(shelf, days(30)) == [400]


def test_stored_forecast_is_stale_after_it(shelf):
    show, before = taken(shelf, 400), plan_digest()
    actions.leave_out_use(posting=show, day=DAY)
    assert plan_digest() != before


def test_use_of_batches_scrap_and_undone_entries_are_refused(shelf):
    batch = in_work(simple_knife("TRAIL", line(shelf, 2)), 4)
    of_batch = actions.issue_stock(item=shelf, qty=D(2), day=DAY, reason="batch", batch=batch)
    undone = taken(shelf, 3)
    actions.reverse_posting(posting=undone, day=DAY)
    for posting in (of_batch, taken(shelf, 4, reason="scrap"), undone):
        with pytest.raises(Refused, match=f"Entry {posting.pk} is no use outside batches"):
            actions.leave_out_use(posting=posting, day=DAY)


def test_occasion_of_more_than_half_a_years_use_is_asked_about(shelf):
    taken(shelf, 60)
    show = taken(shelf, 90, days(1), note="Trade show")
    [asked] = occasions_to_tell(shelf, days(7))
    assert (asked.day, asked.qty, asked.share, asked.stands_out) == (days(1), 90, D("0.6"), True)
    actions.leave_out_use(posting=show, day=days(7))
    [told] = occasions_to_tell(shelf, days(7))
    assert (told.left_out, told.stands_out) == (True, False)
    assert occasions_to_tell(shelf, days(400)) == []


def test_even_use_is_not_asked_about(shelf):
    for day in range(3):
        taken(shelf, 10, days(day))
    assert occasions_to_tell(shelf, days(7)) == []
