"""How much may be ordered: shelf life, room, and the end of an item's use."""

from decimal import Decimal

import pytest

from inventory.queries.reorder_list import reorder_lines
from inventory.queries.use_ahead import use_ahead
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(db):
    return make.forecast_run()


def line(run, item, day=make.DAY):
    (found,) = reorder_lines(run, day, [item.pk])
    return found


def offered(item, **values):
    make.offer(item, make.supplier(), **{"price": 4, "pack_qty": make.D(20), **values})
    return item


def test_use_expected_before_today_is_over(run):
    forecast = make.item_forecast(run, make.screws())
    ahead = use_ahead(forecast, make.days(14))
    assert ahead.mean(7) == pytest.approx(10)
    assert ahead.days[0] == 7
    assert use_ahead(forecast, make.days(26 * 7)) is None


def test_order_is_cut_to_what_is_used_before_it_expires(run):
    epoxy = offered(make.epoxy(shelf_life_days=28))
    make.item_forecast(run, epoxy)
    found = line(run, epoxy)
    # Expires 28 days after it comes, in 42 days: 52 g are used by then 8 times in 10.
    assert found.choice.qty == 40
    assert found.choice.reason == "shelf life: no more than 52 can be used in time"
    assert found.used_in_time > 0.8


def test_what_lies_there_already_is_used_first(run):
    epoxy = offered(make.epoxy(shelf_life_days=28))
    make.stock(epoxy, 30, made_on=make.DAY)
    make.item_forecast(run, epoxy)
    found = line(run, epoxy)
    assert found.choice.qty == 20
    assert found.choice.reason == "shelf life: no more than 22 can be used in time"


def test_minimum_order_that_may_expire_says_how_likely_it_is_used(run):
    epoxy = offered(make.epoxy(shelf_life_days=28), minimum_packs=3)
    make.item_forecast(run, epoxy)
    found = line(run, epoxy)
    assert found.choice.qty == 60
    assert found.used_in_time == pytest.approx(0.5)


def test_item_that_keeps_tells_no_such_chance(run):
    screws = offered(make.screws())
    make.item_forecast(run, screws)
    assert line(run, screws).used_in_time is None


def test_order_is_cut_to_the_room_there_is_when_it_comes(run):
    screws = offered(make.screws(most_stored=Decimal(70)))
    make.stock(screws, 30)
    make.item_forecast(run, screws)
    # 30 are here, at least 17 of them are used by then: 13 left of room for 70.
    found = line(run, screws)
    assert found.choice.reason == "room: no more than 57 fits on the shelf"
    assert found.choice.qty == 40


def test_item_that_is_needed_until_a_day_is_not_stocked_beyond_it(run):
    screws = offered(make.screws(needed_until=make.days(28)), price_breaks=[(1, 4), (10, 1)])
    make.item_forecast(run, screws)
    found = line(run, screws)
    # 40 are used by then, perhaps 48: a third pack of 20 is worth it, the price break at 10 is not.
    assert found.choice.qty == 60
    assert found.choice.reason == "needed until 31 Mar 2025: no more than 60 are worth having"


def test_last_buy_covers_the_use_until_its_end(run):
    screws = offered(make.screws(status="last_buy", needed_until=make.days(140)))
    make.stock(screws, 120)
    make.item_forecast(run, screws)
    found = line(run, screws)
    # About 200 will be used, at most 240 nineteen times in twenty; 120 are here.
    assert found.is_due
    assert found.choice.qty == 120


def test_last_buy_with_enough_for_its_end_is_not_due(run):
    screws = offered(make.screws(status="last_buy", needed_until=make.days(14)))
    make.stock(screws, 40)
    make.item_forecast(run, screws)
    assert line(run, screws).position <= 50
    assert not line(run, screws).is_due


def test_last_buy_without_an_end_is_ordered_like_any_other(run):
    screws = offered(make.screws(status="last_buy"))
    make.item_forecast(run, screws)
    assert line(run, screws).last_qty is None
    assert line(run, screws).is_due
