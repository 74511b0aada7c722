"""Stock of an item week by week, reckoned backwards from what is there."""

import pytest

from inventory import actions
from inventory.queries.stock_by_week import stock_by_week
from tests import factories as make

pytestmark = pytest.mark.django_db

# make.DAY is a Monday; days(6) is the Sunday of its week.


def rows(item, weeks=4, until=20):
    return [
        (week.came, week.used, week.corrected, week.stock)
        for week in stock_by_week(item, make.days(until), weeks)
    ]


def test_weeks_run_from_monday_to_sunday():
    screws = make.screws()
    make.stock(screws, 100, make.DAY)
    make.stock(screws, 7, make.days(6))
    make.stock(screws, 5, make.days(7))
    assert rows(screws, weeks=3) == [(107, 0, 0, 107), (5, 0, 0, 112), (0, 0, 0, 112)]


def test_every_week_leaves_what_it_began_with_and_its_changes():
    screws = make.screws()
    lot = make.stock(screws, 100, make.days(-70))
    actions.issue_stock(item=screws, qty=make.D(30), day=make.days(2), reason="repair")
    actions.count_lot(
        lot=lot, place=make.where(lot), counted=make.D(68), day=make.days(9), reason="dropped"
    )
    weeks = stock_by_week(screws, make.days(20), 4)
    assert [week.before for week in weeks] == [100, 100, 70, 68]
    assert [week.stock for week in weeks] == [100, 70, 68, 68]
    assert [week.is_corrected for week in weeks] == [False, False, True, False]
    assert weeks[2].corrected == -2


def test_stock_at_the_end_is_what_is_there():
    screws = make.screws()
    for ago in (300, 200, 100):
        make.stock(screws, 40, make.days(-ago))
        actions.issue_stock(item=screws, qty=make.D(7), day=make.days(20 - ago), reason="sample")
    assert stock_by_week(screws, make.DAY, 26)[-1].stock == make.on_hand(screws)
    assert stock_by_week(screws, make.DAY, 104)[0].before == 0


def test_undone_entry_corrects_and_is_neither_came_nor_used():
    screws = make.screws()
    make.stock(screws, 100, make.days(-30))
    taken = actions.issue_stock(item=screws, qty=make.D(8), day=make.DAY, reason="repair")
    actions.reverse_posting(posting=taken, day=make.days(8))
    assert rows(screws, weeks=2, until=8) == [(0, 8, 0, 92), (0, 0, 8, 100)]


def test_piece_moved_to_another_place_is_no_use():
    (piece,) = make.rack(make.bar(), 1000, day=make.days(-30))
    actions.move_stock(lot=piece.lot, piece=piece, place_to=make.place("Bench"), day=make.DAY)
    assert rows(piece.lot.item, weeks=1, until=0) == [(0, 0, 0, 1000)]


def test_cut_piece_uses_what_its_remnant_lacks():
    (piece,) = make.rack(make.bar(), 1000, day=make.days(-30))
    half = [(500 * make.MM, None)]
    actions.cut_piece(piece=piece, parts=[(240 * make.MM, None, 1)], remnants=half, day=make.DAY)
    assert rows(piece.lot.item, weeks=1, until=0) == [(0, 500, 0, 500)]


def test_two_years_take_as_few_queries_as_a_week(django_assert_num_queries):
    screws = make.screws()
    for week in range(20):
        make.stock(screws, 5, make.days(-7 * week))
    with django_assert_num_queries(2):
        stock_by_week(screws, make.DAY, 104)
