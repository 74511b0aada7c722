"""Deliveries: lots, pieces, expiry, cost, and the orders they answer."""

from datetime import date

import pytest

from inventory import actions
from inventory.errors import Refused, WrongState, WrongUnit
from inventory.models import Lot, Movement, OrderReceipt, Piece
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    days,
    epoxy,
    offer,
    on_hand,
    order_line,
    place,
    rack,
    screws,
    service,
    sheet,
    stock,
    where,
)

pytestmark = pytest.mark.django_db


def receive(item, **values):
    return actions.receive_delivery(item=item, **{"day": DAY, **values})


def test_delivery_becomes_a_lot_with_the_next_number():
    lots = [stock(screws(), 100), stock(epoxy(), 500)]
    assert [lot.number for lot in lots] == ["L-0001", "L-0002"]


def test_number_somebody_wrote_by_hand_is_passed_over():
    lot = stock(screws(), 100)
    Lot.objects.filter(pk=lot.pk).update(number="L-0002")
    assert stock(epoxy(), 1).number == "L-0003"


def test_pieces_are_labelled_one_by_one():
    pieces = rack(bar(), 1000, 1000, 914)
    assert [(piece.label, piece.length_um) for piece in pieces] == [
        ("P-0001", 1000 * MM),
        ("P-0002", 1000 * MM),
        ("P-0003", 914 * MM),
    ]
    assert on_hand(pieces[0].lot) == 2914


def test_stock_lies_where_the_form_says_else_at_the_items_place_else_in_the_shop():
    drawer, bin_5 = place("Drawer"), place("Bin 5")
    item = screws(place=drawer)
    assert where(stock(item, 1, place=bin_5)) == bin_5
    assert where(stock(item, 1)) == drawer
    assert where(stock(epoxy(), 1)).name == "Shop"


def test_shelf_life_counts_from_manufacture_not_from_receipt():
    item = epoxy(shelf_life_days=365)
    assert stock(item, 1, made_on=days(-100)).expires_on == days(265)
    assert stock(item, 1).expires_on == days(365)
    assert stock(item, 1, expires_on=days(30)).expires_on == days(30)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "either how much came or which pieces"),
        ({"qty": D(1), "pieces": [(1, None, 1)]}, "either how much came or which pieces"),
        ({"qty": D(0)}, "quantity above zero"),
        ({"qty": D(-5)}, "quantity above zero"),
        ({"qty": D("2.5")}, "counted in whole pieces"),
        ({"pieces": [(1000, None, 1)]}, "kept as a quantity, not in pieces"),
        ({"qty": D(1), "day": days(36500)}, "is in the future"),
        ({"qty": D(1), "day": date(1, 1, 1)}, "is before any record. Check the year"),
        ({"qty": D(1), "made_on": days(1)}, "made on 4 Mar 2025, after it came on 3 Mar 2025"),
        ({"qty": D(1), "status": "lost"}, "no status of a lot"),
        ({"qty": D(1), "unit_cost": D(-1)}, "cost of -1 can't be"),
    ],
    ids=lambda value: value if isinstance(value, str) else " ".join(value) or "nothing",
)
def test_delivery_that_can_not_be_is_refused(values, words):
    with pytest.raises(Refused, match=words):
        receive(screws(), **values)
    assert not Lot.objects.exists()


@pytest.mark.parametrize(
    ("make", "pieces", "words"),
    [
        (bar, [(1000 * MM, 40 * MM, 1)], "a bar has a length only"),
        (sheet, [(1000 * MM, None, 1)], "a sheet has a length and a width"),
        (bar, [(0, None, 1)], "size and a count above zero"),
        (bar, [(1000 * MM, None, 0)], "size and a count above zero"),
        (sheet, [(1000 * MM, -1, 1)], "size and a count above zero"),
        (bar, [(1000 * MM, None, 10**9)], "more than 2000 pieces"),
        (sheet, [(10**9, 10**9, 1)], "more than any shop holds"),
    ],
)
def test_pieces_that_can_not_be_are_refused(make, pieces, words):
    with pytest.raises(Refused, match=words):
        receive(make(), pieces=pieces)
    assert not Piece.objects.exists()


def test_bar_by_the_gram_is_refused():
    with pytest.raises(WrongUnit, match="kept in pieces"):
        receive(bar(), qty=D(1000))


def test_service_is_not_received():
    with pytest.raises(Refused, match="outside service"):
        receive(service(), qty=D(1))


def test_finer_than_a_millionth_is_refused_instead_of_rounded():
    with pytest.raises(WrongUnit, match="finer than a millionth"):
        receive(epoxy(), qty=D("0.0000005"))
    assert not Movement.objects.exists()


# Orders


def test_delivery_against_an_order_takes_its_supplier_and_its_price():
    item = screws()
    ordered = order_line(offer(item, price="3.45", pack_qty=D(100)), 2)
    lot = receive(item, qty=D(200), order_line=ordered, day=days(9))
    assert (lot.supplier, lot.unit_cost) == (ordered.order.supplier, D("0.0345"))


def test_cost_of_a_square_millimetre_of_sheet_keeps_its_digits():
    # Paper: 12.50 for 304.8 x 304.8 mm = 92903.04 mm2; 92903.04 x 0.0001345489 = 12.50000.
    item = sheet()
    size = 304_800
    ordered = order_line(offer(item, price="12.50", piece_length_um=size, piece_width_um=size))
    lot = receive(item, pieces=[(size, size, 1)], order_line=ordered, day=days(9))
    lot.refresh_from_db()
    assert round(lot.unit_cost * on_hand(lot), 4) == D("12.5")


def test_partly_received_order_stays_open_until_the_rest_is_here():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)), 3)
    for qty, left, state in [(100, 200, "sent"), (50, 150, "sent"), (150, 0, "received")]:
        receive(item, qty=D(qty), order_line=ordered, day=days(9))
        ordered.refresh_from_db()
        assert (ordered.outstanding, ordered.order.state) == (left, state)
        ordered.order.refresh_from_db()
    assert OrderReceipt.objects.count() == 3


def test_stale_copies_of_an_order_line_add_up():
    """Two people have the same order open in two browsers."""
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)), 3)
    copy = type(ordered).objects.select_related("order").get()
    receive(item, qty=D(100), order_line=ordered, day=days(9))
    receive(item, qty=D(100), order_line=copy, day=days(9))
    ordered.refresh_from_db()
    assert ordered.received_qty == 200


def test_more_than_ordered_is_received_and_closes_the_line():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)))
    receive(item, qty=D(103), order_line=ordered, day=days(9))
    ordered.refresh_from_db()
    assert (ordered.closed, ordered.outstanding, on_hand(item)) == (True, 0, 103)


def test_delivery_of_another_item_than_the_lines_is_refused():
    ordered = order_line(offer(screws()))
    with pytest.raises(Refused, match="has SCREW-M4 on that line, not EPOXY"):
        receive(epoxy(), qty=D(1), order_line=ordered, day=days(9))


def test_delivery_before_the_order_was_sent_is_refused():
    item = screws()
    ordered = order_line(offer(item))
    with pytest.raises(Refused, match="was sent on 3 Mar 2025, after 2 Mar 2025"):
        receive(item, qty=D(1), order_line=ordered, day=days(-1))
    assert on_hand(item) == 0


def test_delivery_against_a_cancelled_order_is_refused_even_from_a_stale_page():
    item = screws()
    ordered = order_line(offer(item))
    copy = type(ordered).objects.select_related("order").get()
    actions.cancel_order(order=ordered.order)
    with pytest.raises(WrongState, match="is cancelled"):
        receive(item, qty=D(1), order_line=copy, day=days(9))
    assert on_hand(item) == 0
