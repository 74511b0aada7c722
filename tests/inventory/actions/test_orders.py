import pytest

from inventory import actions
from inventory.errors import Refused, WrongState
from inventory.models import OrderLine, PurchaseOrder
from tests.factories import (
    DAY,
    D,
    days,
    epoxy,
    offer,
    order,
    order_line,
    screws,
    supplier,
)

pytestmark = pytest.mark.django_db


def draft(of, packs=1, day=DAY):
    return actions.draft_order(supplier=of.supplier, lines=[(of, packs)], day=day)


def test_draft_orders_packs_at_todays_price_and_lead_time():
    bags = offer(screws(), price="4.20", pack_qty=D(100), lead_days=28)
    ordered = draft(bags, 3).lines.get()
    assert (ordered.qty, ordered.pack_price, ordered.lead_days) == (300, D("4.20"), 28)
    assert ordered.expected_on is None


@pytest.mark.parametrize(
    ("packs", "price"), [(1, 5), (999, 5), (1000, D("4.8")), (1999, D("4.8")), (2000, D("4.75"))]
)
def test_every_pack_gets_the_price_of_the_highest_break_reached(packs, price):
    # Breaks of the toy race cars: Render, Stair & Hanna, quantity-discount example (inputs read).
    breaks = [(1, D(5)), (1000, D("4.8")), (2000, D("4.75"))]
    assert offer(screws(), price_breaks=breaks).price_at(packs) == price


def test_sent_order_is_expected_after_its_lead_time_unless_a_day_is_given():
    bags = offer(screws(), lead_days=28)
    assert order(bags).lines.get().expected_on == days(28)
    said = actions.send_order(order=draft(bags), day=DAY, expected_on=days(60))
    assert said.lines.get().expected_on == days(60)


def test_one_order_a_supplier_from_one_list():
    first, second = offer(screws(), supplier("BRACKEN")), offer(epoxy(), supplier("GORSE"))
    actions.draft_orders(packs={first.pk: 2, second.pk: 1}, day=DAY)
    found = PurchaseOrder.objects.order_by("number")
    assert [(one.supplier.code, one.lines.get().packs) for one in found] == [
        ("BRACKEN", 2),
        ("GORSE", 1),
    ]


@pytest.mark.parametrize("packs", [4, 0, -1])
def test_fewer_packs_than_the_minimum_are_refused(packs):
    with pytest.raises(Refused, match="sells at least 5 × bag, but got"):
        draft(offer(screws(), minimum_packs=5, pack_name="bag"), packs)
    assert not PurchaseOrder.objects.exists()


@pytest.mark.parametrize("packs", [10**10, 10**30])
def test_absurd_number_of_packs_is_refused_in_words(packs):
    with pytest.raises(Refused, match="more than any shop orders"):
        draft(offer(screws()), packs)
    assert not OrderLine.objects.exists()


def test_offer_of_another_supplier_is_refused():
    with pytest.raises(Refused, match="isn't from Gorse Supply"):
        actions.draft_order(supplier=supplier("GORSE"), lines=[(offer(screws()), 1)], day=DAY)


def test_offer_that_ended_is_refused():
    old = offer(screws())
    offer(old.item, price=12, day=DAY)
    old.refresh_from_db()
    with pytest.raises(Refused, match="ended on 2025-03-02. Choose a newer one"):
        draft(old)


def test_order_without_lines_is_refused():
    with pytest.raises(Refused, match="at least one line"):
        actions.draft_order(supplier=supplier(), lines=[], day=DAY)


def test_order_is_sent_once_even_from_a_stale_page():
    drafted = draft(offer(screws()))
    copy = PurchaseOrder.objects.get()
    actions.send_order(order=drafted, day=DAY)
    with pytest.raises(WrongState, match="is sent; only one that is draft can be sent"):
        actions.send_order(order=copy, day=days(1))
    assert PurchaseOrder.objects.get().sent_on == DAY


def test_order_is_not_sent_before_it_was_drafted_nor_in_the_future():
    drafted = draft(offer(screws()))
    with pytest.raises(Refused, match="was drafted on 3 Mar 2025"):
        actions.send_order(order=drafted, day=days(-1))
    with pytest.raises(Refused, match="in the future"):
        actions.send_order(order=drafted, day=days(36500))


def test_line_that_will_not_come_is_closed_and_the_order_with_it():
    item = screws()
    line = order_line(offer(item, pack_qty=D(100)), 2)
    actions.receive_delivery(item=item, qty=D(100), day=days(9), order_line=line)
    closed = actions.close_order_line(line=line)
    assert (closed.closed, closed.outstanding) == (True, 0)
    assert PurchaseOrder.objects.get().state == "received"


def test_order_that_came_in_part_is_not_cancelled():
    item = screws()
    line = order_line(offer(item, pack_qty=D(100)), 2)
    actions.receive_delivery(item=item, qty=D(100), day=days(9), order_line=line)
    with pytest.raises(WrongState, match="has come in part. Close the lines"):
        actions.cancel_order(order=line.order)


def test_cancelled_order_stays_cancelled():
    ordered = order(offer(screws()))
    actions.cancel_order(order=ordered, note="found a bag")
    with pytest.raises(WrongState, match="is cancelled; it stays"):
        actions.cancel_order(order=ordered)
    assert PurchaseOrder.objects.get().note == "found a bag"
