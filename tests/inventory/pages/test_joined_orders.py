"""What rides along stands under its supplier on the reorder list, with the reason in words."""

import uuid

import pytest
from django.utils import timezone

from inventory.models import Item, OrderLine, Supplier
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def pins(db):
    """Pins soon due, from the supplier from whom screws are due today at a fee of 30."""
    run = make.forecast_run(timezone.localdate())
    alder = make.supplier("ALDER", order_fee=30)
    for code, here in (("SCREW-M4", 20), ("PIN-3", 70)):
        item = make.screws(code)
        make.stock(item, here)
        make.item_forecast(run, item)
        make.offer(item, alder, price=4, pack_qty=make.D(300))
    return item


def test_item_worth_adding_stands_once_and_unticked_under_its_supplier(maker_client, pins):
    page = maker_client.get("/reorder/").content.decode()
    offer = pins.offers.get()
    assert "Also worth ordering now" in page
    assert "Saves about 2" in page
    assert "another 30.00 EUR of freight and fees before the next order here" in page
    assert page.count(f'name="take" value="{offer.pk}"') == 1
    assert f'value="{offer.pk}" aria-label="Order PIN-3" checked' not in page


def test_supplier_says_how_often_to_order_together(viewer_client, pins):
    page = viewer_client.get("/reorder/").content.decode()
    assert "Ordering all of it together about every" in page


def test_rider_that_is_ticked_goes_into_the_same_order(maker_client, pins):
    offers = [item.offers.get().pk for item in Item.objects.order_by("code")]
    packs = {f"packs-{pk}": "1" for pk in offers}
    maker_client.post("/reorder/", {"key": uuid.uuid4(), "take": offers, **packs})
    assert OrderLine.objects.values("order").distinct().count() == 1


def test_without_a_fee_nothing_is_joined(viewer_client, pins):
    Supplier.objects.update(order_fee=0)
    page = viewer_client.get("/reorder/").content.decode()
    assert "Also worth ordering now" not in page
    assert "PIN-3" not in page


def test_order_of_something_that_expires_says_how_likely_it_is_used(viewer_client, pins):
    Item.objects.update(shelf_life_days=365)
    assert "All of it is used before it expires" in viewer_client.get("/reorder/").content.decode()
