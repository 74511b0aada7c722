"""Orders from draft to the last delivery, and what is late."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import actions
from inventory.models import Lot, OrderReceipt, PurchaseOrder
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def screws(db):
    make.shop()
    return make.screws()


@pytest.fixture
def offer(screws):
    return make.offer(screws, price=4, pack_qty=make.D(100), pack_name="bag of 100")


@pytest.fixture
def line(offer):
    return make.order_line(offer, 3)


def post(client, name, order, *more, **values):
    url = reverse(name, args=[order.number, *more])
    return client.post(url, {"key": uuid.uuid4(), **values})


def receive(client, line, **values):
    """Fill the form, read what was understood, and book it."""
    values = {"day": "2025-03-10", "status": "released", **values}
    shown = post(client, "order-receive", line.order, line.pk, **values)
    if shown.status_code != 200:
        return shown
    values["confirmed"] = shown.context["understood"]
    return post(client, "order-receive", line.order, line.pk, **values)


def test_list_filters_by_state_and_finds_an_item(viewer_client, offer, line):
    draft = actions.draft_order(supplier=offer.supplier, lines=[(offer, 1)], day=make.DAY)
    found = viewer_client.get("/orders/?state=draft").context["table"].data
    assert [order.number for order in found] == [draft.number]
    assert len(viewer_client.get("/orders/?q=screw").context["table"].data) == 2
    assert len(viewer_client.get("/orders/?q=belt").context["table"].data) == 0


def test_overdue_order_says_by_how_many_days(viewer_client, offer):
    today = timezone.localdate()
    actions.send_order(
        order=actions.draft_order(
            supplier=offer.supplier, lines=[(offer, 1)], day=today - timedelta(days=20)
        ),
        day=today - timedelta(days=20),
    )
    page = viewer_client.get("/orders/?state=overdue").content.decode()
    assert '<span class="status stop">6 days late</span>' in page
    one = viewer_client.get(PurchaseOrder.objects.get().get_absolute_url()).content.decode()
    assert "6 days late, perhaps" in one


def test_draft_that_is_sent_is_expected_after_its_lead_time(maker_client, offer):
    order = actions.draft_order(supplier=offer.supplier, lines=[(offer, 2)], day=make.DAY)
    post(maker_client, "order-send", order, day="2025-03-05")
    order.refresh_from_db()
    assert order.state == "sent"
    assert order.lines.get().expected_on == make.DAY + timedelta(days=2 + 14)


def test_promised_day_counts_instead_of_the_lead_time(maker_client, offer):
    order = actions.draft_order(supplier=offer.supplier, lines=[(offer, 2)], day=make.DAY)
    post(maker_client, "order-send", order, day="2025-03-05", expected_on="2025-05-01")
    assert f"{order.lines.get().expected_on}" == "2025-05-01"


def test_packs_are_shown_as_stock_units_before_anything_is_booked(maker_client, line):
    values = {"packs": "2", "day": "2025-03-10", "status": "released"}
    answer = post(maker_client, "order-receive", line.order, line.pk, **values)
    page = answer.content.decode()
    assert "2 × bag of 100 = 200 of SCREW-M4; 100 of the line still to come." in page
    assert not Lot.objects.exists()


def test_confirmed_delivery_becomes_a_lot_and_evidence_of_the_lead_time(maker_client, line):
    receive(maker_client, line, packs="2", maker_number="H-77")
    lot = Lot.objects.get()
    line.refresh_from_db()
    assert (lot.maker_number, make.on_hand(lot), lot.unit_cost) == ("H-77", 200, make.D("0.04"))
    assert (line.received_qty, line.closed, line.order.state) == (200, False, "sent")
    assert OrderReceipt.objects.get().qty == 200


def test_values_changed_after_the_check_are_checked_again(maker_client, line):
    values = {"packs": "2", "day": "2025-03-10", "status": "released"}
    shown = post(maker_client, "order-receive", line.order, line.pk, **values)
    values |= {"packs": "3", "confirmed": shown.context["understood"]}
    again = post(maker_client, "order-receive", line.order, line.pk, **values)
    assert "3 × bag of 100 = 300" in again.context["understood"]
    assert not Lot.objects.exists()


def test_bag_with_three_missing_is_booked_as_it_came(maker_client, line):
    receive(maker_client, line, qty="297")
    assert make.on_hand(Lot.objects.get()) == 297


def test_last_delivery_completes_the_order(maker_client, line):
    receive(maker_client, line, packs="1")
    receive(maker_client, line, packs="2", day="2025-03-12")
    order = PurchaseOrder.objects.get()
    assert order.state == "received"
    page = maker_client.get(order.get_absolute_url()).content.decode()
    assert "all here" in page
    assert page.count("10 Mar 2025") == 1
    assert page.count("12 Mar 2025") == 1


def test_more_than_ordered_is_questioned(maker_client, line):
    values = {"packs": "30", "day": "2025-03-10", "status": "released"}
    answer = post(maker_client, "order-receive", line.order, line.pk, **values)
    assert "more than was still to come: check the pack" in answer.context["understood"]


def test_packs_of_bars_become_pieces_of_their_size(maker_client):
    make.shop()
    bar = make.bar()
    offer = make.offer(bar, pack_name="bar 914 mm", piece_length_um=914_000)
    line = make.order_line(offer, 4)
    receive(maker_client, line, packs="4")
    pieces = Lot.objects.get().pieces.all()
    assert [piece.length_um for piece in pieces] == [914_000] * 4


def test_bars_of_other_sizes_are_booked_as_they_are(maker_client):
    make.shop()
    line = make.order_line(make.offer(make.bar(), piece_length_um=914_000), 4)
    receive(maker_client, line, pieces="2 of 914 mm\n1 of 36 in")
    sizes = sorted(piece.length_um for piece in Lot.objects.get().pieces.all())
    assert sizes == [914_000, 914_000, 914_400]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({}, "Say either how many packs came"),
        ({"packs": "1", "qty": "100"}, "Say either how many packs came"),
        ({"qty": "2 kg"}, "is not a count"),
        ({"packs": "1", "day": "2025-03-01"}, "was sent on"),
    ],
    ids=["nothing", "both", "a mass", "before it was sent"],
)
def test_delivery_that_cannot_be_is_refused_in_words(maker_client, line, values, words):
    answer = receive(maker_client, line, **values)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Lot.objects.exists()


def test_rest_that_will_not_come_closes_the_line(maker_client, line):
    receive(maker_client, line, packs="1")
    post(maker_client, "order-line-close", line.order, line.pk)
    line.refresh_from_db()
    assert line.closed
    page = maker_client.get(line.order.get_absolute_url()).content.decode()
    assert "closed, the rest won&#x27;t come" in page


def test_order_of_which_something_came_cannot_be_cancelled(maker_client, line):
    receive(maker_client, line, packs="1")
    answer = post(maker_client, "order-cancel", line.order, note="too late")
    assert answer.status_code == 422
    assert "has come in part" in answer.content.decode()


def test_draft_is_cancelled(maker_client, offer):
    order = actions.draft_order(supplier=offer.supplier, lines=[(offer, 1)], day=make.DAY)
    post(maker_client, "order-cancel", order)
    order.refresh_from_db()
    assert order.state == "cancelled"


def test_order_of_one_item_is_drafted_by_hand(maker_client, offer):
    values = {"key": uuid.uuid4(), "offer": offer.pk, "packs": "2", "day": "2025-03-05"}
    answer = maker_client.post(reverse("order-new"), values)
    order = PurchaseOrder.objects.get()
    assert answer.url == order.get_absolute_url()
    assert order.lines.get().qty == 200


def test_order_comes_as_csv(viewer_client, line):
    text = b"".join(viewer_client.get(f"{line.order.get_absolute_url()}?format=csv")).decode()
    assert "SCREW-M4,screw-m4,,3,bag of 100,300,each,4,12,0,2025-03-17" in text


@pytest.mark.parametrize("name", ["order-send", "order-cancel"])
def test_viewer_may_not_change_an_order(viewer_client, line, name):
    assert post(viewer_client, name, line.order, day="2025-03-05").status_code == 403


def test_viewer_may_not_receive(viewer_client, line):
    assert receive(viewer_client, line, packs="1").status_code == 403


def test_order_asks_the_database_the_same_however_long_it_is(
    viewer_client, screws, django_assert_max_num_queries
):
    supplier = make.supplier()
    offers = [make.offer(make.screws(f"SCREW-{number}"), supplier) for number in range(15)]
    order = actions.draft_order(supplier=supplier, lines=[(one, 1) for one in offers], day=make.DAY)
    actions.send_order(order=order, day=make.DAY)
    with django_assert_max_num_queries(12):
        viewer_client.get(order.get_absolute_url())
