"""A mismatch can only be planted behind the actions' back; each of these is, and is found."""

from io import StringIO

import pytest
from django.core.management import call_command

from inventory import actions
from inventory.models import (
    Balance,
    Batch,
    Fitting,
    Movement,
    OrderLine,
    Piece,
    Posting,
    Reservation,
)
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    cutter,
    days,
    fitted,
    in_work,
    knife_shop,
    line,
    offer,
    order_line,
    place,
    rack,
    reserved,
    screws,
    simple_knife,
    stock,
)

pytestmark = pytest.mark.django_db


def test_shop_that_built_a_batch_has_nothing_to_tell():
    shop = knife_shop()
    batch = in_work(shop.knife, 8)
    actions.finish_batch(batch=batch, day=days(4))
    assert audit() == []


def test_empty_shop_has_nothing_to_tell():
    assert audit() == []


def test_balance_that_was_changed_is_named_with_both_figures():
    stock(screws(), 100)
    Balance.objects.update(qty=D(99))
    assert audit() == [
        "SCREW-M4 lot L-0001 at Shop: the balance says 99, its movements add up to 100."
    ]


def test_balance_that_is_missing_is_found():
    stock(screws(), 100)
    Balance.objects.all().delete()
    assert "the balance says 0, its movements add up to 100" in audit()[0]


def test_balance_without_movements_is_found():
    lot = stock(screws(), 100)
    Balance.objects.create(item=lot.item, lot=lot, place=place("Elsewhere"), qty=D(5))
    assert audit() == [
        "SCREW-M4 lot L-0001 at Elsewhere: the balance says 5, its movements add up to 0."
    ]


def test_movement_with_the_item_of_another_lot_is_found():
    lot = stock(screws(), 100)
    other = screws("SCREW-M5")
    posting = Posting.objects.get()
    shelf = lot.balances.get().place
    Movement.objects.create(
        posting=posting,
        item=other,
        lot=lot,
        place=shelf,
        qty=D(1),
        kind=posting.kind,
        day=posting.day,
    )
    assert any("belongs to other records" in found for found in audit())


def test_piece_with_another_size_than_its_balance_is_found():
    rack(bar(), 1000)
    Piece.objects.update(length_um=900 * MM)
    assert audit() == ["Piece P-0001: 1000 is in stock, its size is 900."]


def test_remnant_of_another_lot_is_found():
    first, second = rack(bar(), 1000)[0], rack(bar("BAR-5X40"), 500)[0]
    Piece.objects.filter(pk=second.pk).update(parent=first)
    assert audit() == ["Piece P-0002 can't come from P-0001: other lot or larger."]


def test_hold_on_more_than_is_there_is_found():
    item = screws()
    stock(item, 100)
    batch = reserved(simple_knife("TRAIL", line(item, 3)), 4)
    Reservation.objects.update(qty=D(101))
    assert audit() == ["SCREW-M4 lot L-0001: 101 is held, 100 is there."]
    Batch.objects.filter(pk=batch.pk).update(state="cancelled")
    assert "held for batch B-0001, which is cancelled" in audit()[0]


def test_order_line_that_forgot_a_delivery_is_found():
    item = screws()
    ordered = order_line(offer(item, pack_qty=D(100)), 2)
    actions.receive_delivery(item=item, qty=D(100), day=days(9), order_line=ordered)
    OrderLine.objects.update(received_qty=D(200))
    assert audit() == [
        "Order O-0001, SCREW-M4: 200 noted as received, its deliveries add up to 100."
    ]


def test_order_line_with_a_delivery_nobody_received_is_found():
    order_line(offer(screws(), pack_qty=D(100)))
    OrderLine.objects.update(received_qty=D(100))
    assert "its deliveries add up to 0" in audit()[0]


def test_life_that_its_log_does_not_add_up_to_is_found():
    fitting = fitted(cutter())
    actions.log_wear(fitting=fitting, amount=D(30), day=DAY)
    Fitting.objects.update(life_used=D(31))
    assert audit() == ["T-0001: life used is 31, its log adds up to 30."]


def test_command_counts_what_agrees():
    stock(screws(), 100)
    out = StringIO()
    call_command("audit_stock", stdout=out)
    assert out.getvalue() == "1 balances agree with 1 movements.\n"


def test_command_ends_with_1_and_a_line_a_mismatch():
    stock(screws(), 100)
    Balance.objects.update(qty=D(99))
    out = StringIO()
    with pytest.raises(SystemExit, match="1"):
        call_command("audit_stock", stdout=out)
    assert out.getvalue().count("\n") == 1


def test_audit_takes_as_many_queries_for_many_records_as_for_few(django_assert_max_num_queries):
    item = screws()
    for day in range(30):
        stock(item, 10, days(day))
    with django_assert_max_num_queries(12):
        audit()
