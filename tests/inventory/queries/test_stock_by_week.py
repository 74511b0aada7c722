"""Stock of an item week by week, reckoned backwards from what is there."""

import pytest

from inventory import actions
from inventory.queries.stock_by_week import stock_by_week, turnover
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


def turned_over(item, weeks=12):
    return turnover(stock_by_week(item, make.days(7 * 10), weeks))


def test_stock_that_halves_in_ten_weeks_turns_over_by_the_average_that_lay_there():
    screws = make.screws()
    make.stock(screws, 100, make.days(-1))
    for week in range(10):
        actions.issue_stock(item=screws, qty=make.D(5), day=make.days(7 * week), reason="sample")
    found = turned_over(screws)
    # The Sunday before belongs to an eleventh week that ended with 100 and began with none.
    assert (found.weeks, found.used) == (11, 50)
    assert found.average == pytest.approx((50 + 750) / 11)
    assert found.turns.a_year == pytest.approx(50 / (800 / 11) * 365 / 77)


def test_running_week_does_not_count():
    screws = make.screws()
    make.stock(screws, 100, make.days(-7))
    actions.issue_stock(item=screws, qty=make.D(5), day=make.DAY, reason="sample")
    actions.issue_stock(item=screws, qty=make.D(50), day=make.days(7 * 10), reason="sample")
    assert turned_over(screws).used == 5


@pytest.mark.parametrize(
    ("came", "weeks", "used"), [(-7, 12, 0), (-7, 8, 5), (35, 12, 5)], ids=["idle", "short", "new"]
)
def test_too_little_to_go_by_says_nothing_of_turns(came, weeks, used):
    screws = make.screws()
    make.stock(screws, 100, make.days(came))
    if used:
        actions.issue_stock(item=screws, qty=make.D(used), day=make.days(40), reason="sample")
    assert turned_over(screws, weeks) is None
