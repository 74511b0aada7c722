"""From the entry or the item's forecast to “not expected again”, and back."""

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import actions
from inventory.models import ExceptionalUse
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def show(db):
    make.shop()
    item = make.screws()
    make.stock(item, 1000)
    return actions.issue_stock(
        item=item, qty=make.D(400), day=timezone.localdate(), reason="one-off", note="Trade show"
    )


def entry(client, posting):
    return client.get(reverse("entry", args=[posting.pk])).content.decode()


def send(client, name, posting):
    return client.post(reverse(name, args=[posting.pk]), {"key": uuid.uuid4()})


def test_entry_is_left_out_and_counted_in_again(maker_client, show):
    assert "Not expected again" in entry(maker_client, show)
    asked = maker_client.get(reverse("entry-leave-out", args=[show.pk])).content.decode()
    assert "SCREW-M4 400 on" in asked
    assert "(one-off: Trade show)" in asked
    assert send(maker_client, "entry-leave-out", show).url == reverse("entry", args=[show.pk])
    assert ExceptionalUse.objects.get().posting == show
    assert "leave it out" in entry(maker_client, show)
    send(maker_client, "entry-count-in", show)
    assert not ExceptionalUse.objects.exists()


def test_entry_of_a_delivery_offers_no_such_thing(maker_client, show):
    delivery = show.movements.get().lot.movements.order_by("pk").first().posting
    assert "Not expected again" not in entry(maker_client, delivery)
    assert send(maker_client, "entry-leave-out", delivery).status_code == 422


def test_viewer_reads_it_and_changes_nothing(viewer_client, show):
    assert "Not expected again" not in entry(viewer_client, show)
    assert send(viewer_client, "entry-leave-out", show).status_code == 403
    assert not ExceptionalUse.objects.exists()


def test_forecast_of_the_item_asks_whether_it_will_come_again(maker_client, show):
    run = make.forecast_run(timezone.localdate())
    item = show.movements.get().item
    make.item_forecast(run, item)
    page = reverse("forecast-item", args=[item.code])
    leave_out = reverse("entry-leave-out", args=[show.pk])
    assert leave_out in maker_client.get(page).content.decode()
    send(maker_client, "entry-leave-out", show)
    told = maker_client.get(page).content.decode()
    assert "Left out, not expected again" in told
    assert leave_out not in told
