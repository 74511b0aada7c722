"""On hand, held, usable and free; what doesn't count says why."""

import pytest

from inventory import actions
from inventory.queries.availability import free_balances, stock_by_item
from tests.factories import (
    DAY,
    D,
    bar,
    days,
    epoxy,
    line,
    offer,
    order_line,
    rack,
    reserved,
    screws,
    simple_knife,
    stock,
    vendor,
    where,
)

pytestmark = pytest.mark.django_db


def stock_of(item, day=DAY, **values):
    return stock_by_item(day, [item.pk], **values)[item.pk]


def test_item_without_stock_has_zeros():
    found = stock_of(screws())
    assert (found.on_hand, found.available, found.on_order, found.unusable) == (0, 0, 0, {})


def test_available_is_on_hand_less_held_expired_and_quarantined():
    glue = epoxy()
    stock(glue, 500)
    stock(glue, 100, days(-9), expires_on=days(-1))
    stock(glue, 50, status="quarantine")
    stock(glue, 25, usable_from=days(1))
    reserved(simple_knife("TRAIL", line(glue, 30)), 4)
    found = stock_of(glue)
    assert (found.on_hand, found.usable, found.held, found.available) == (675, 500, 120, 380)
    assert found.unusable == {
        "expired 2 Mar 2025": 100,
        "quarantine": 50,
        "curing until 4 Mar 2025": 25,
    }


def test_lot_is_usable_on_its_last_day_and_not_the_day_after():
    glue = epoxy()
    stock(glue, 100, days(-9), expires_on=DAY)
    assert [stock_of(glue, days(n)).available for n in (0, 1)] == [100, 0]


def test_stock_that_came_later_was_not_there_before():
    glue = epoxy()
    stock(glue, 100)
    assert stock_of(glue, days(-1)).available == 0


def test_hold_on_a_lot_that_expired_does_not_count_twice():
    glue = epoxy()
    stock(glue, 100, days(-9), expires_on=DAY)
    stock(glue, 40)
    reserved(simple_knife("TRAIL", line(glue, 10)), 4)
    found = stock_of(glue, days(1))
    assert (found.usable, found.held, found.available) == (40, 0, 40)


def test_batch_sees_what_is_held_for_it_as_free():
    item = screws()
    stock(item, 20)
    batch = reserved(simple_knife("TRAIL", line(item, 3)), 4)
    assert (stock_of(item).available, stock_of(item, own_batch=batch).available) == (8, 20)
    assert sum(free for _, free in free_balances(item, DAY)) == 8
    assert sum(free for _, free in free_balances(item, DAY, batch=batch)) == 20


def test_two_reservations_never_make_the_free_stock_negative():
    item = screws()
    stock(item, 24)
    knife = simple_knife("TRAIL", line(item, 3))
    reserved(knife, 4)
    reserved(knife, 4)
    assert (stock_of(item).held, stock_of(item).available, free_balances(item, DAY)) == (24, 0, [])


def test_open_order_is_on_order_and_never_on_hand():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)), 3)
    assert (stock_of(item).on_order, stock_of(item).on_hand) == (300, 0)
    actions.receive_delivery(item=item, qty=D(100), day=days(9), order_line=ordered)
    assert (stock_of(item, days(9)).on_order, stock_of(item, days(9)).on_hand) == (200, 100)
    ordered.refresh_from_db()
    actions.close_order_line(line=ordered)
    assert stock_of(item).on_order == 0


def test_draft_and_cancelled_orders_bring_nothing():
    item = screws()
    bags = offer(item, pack_qty=D(100))
    actions.draft_order(supplier=bags.supplier, lines=[(bags, 1)], day=DAY)
    actions.cancel_order(order=order_line(bags).order)
    assert stock_of(item).on_order == 0


def test_first_expired_stands_first_and_what_never_expires_last():
    glue = epoxy()
    never = stock(glue, 1, days(-9))
    late = stock(glue, 1, days(-8), expires_on=days(90))
    early = stock(glue, 1, days(-7), expires_on=days(30))
    also_early = stock(glue, 1, days(-6), expires_on=days(30))
    order = [balance.lot for balance, _ in free_balances(glue, DAY)]
    assert order == [early, also_early, late, never]


def test_held_piece_is_not_free_and_its_neighbour_is():
    steel = bar()
    rack(steel, 1000, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240_000, None))), 1)
    held = batch.reservations.get().piece
    free = [balance.piece for balance, _ in free_balances(steel, DAY)]
    assert len(free) == 1
    assert held not in free


def test_stock_at_a_vendor_is_told_apart():
    item = screws()
    lot = stock(item, 100)
    away = vendor().places.get()
    actions.move_stock(lot=lot, place_from=where(lot), place_to=away, qty=D(100), day=DAY)
    assert (stock_of(item).on_hand, stock_of(item).away) == (100, 100)


def test_whole_shop_is_read_in_a_fixed_number_of_queries(django_assert_num_queries):
    for n in range(12):
        stock(screws(f"SCREW-{n}"), 10)
    with django_assert_num_queries(3):
        assert len(stock_by_item(DAY)) == 12
