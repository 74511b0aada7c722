"""The record week by week, on the page and as CSV."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Item, ItemForecast, Supplier
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def address(db):
    item = make.screws()
    make.stock(item, 35)
    make.offer(item, make.supplier(), pack_qty=make.D(25), minimum_packs=2, lead_days=14)
    make.item_forecast(make.forecast_run(timezone.localdate()), item)
    return reverse("forecast-record", args=["SCREW-M4"])


def test_record_says_what_an_order_is_and_how_to_check(viewer_client, address):
    page = viewer_client.get(address).content.decode()
    assert "Gross need" in page
    assert "2 at least" in page
    assert "How to check it by hand" in page
    assert page.count("<table") == 2


def test_order_that_should_have_left_already_is_named(viewer_client, address):
    page = viewer_client.get(address).content.decode()
    assert "should have been ordered already" in page


def test_record_comes_as_csv_with_its_rows(viewer_client, address):
    text = b"".join(viewer_client.get(address, {"format": "csv"})).decode()
    rows = [line.split(",") for line in text.splitlines()]
    gross = next(row for row in rows if row[0] == "Gross need")
    assert len(gross) == 2 + 26
    assert sum(map(int, gross[2:])) == 260


def test_page_says_why_weeks_are_joined(viewer_client, address):
    assert "Weeks are joined" not in viewer_client.get(address).content.decode()
    make.shop(currency="EUR", holding_rate=make.D("0.26"))
    Supplier.objects.update(order_fee=3)
    page = viewer_client.get(address).content.decode()
    assert "an order costs 3.00 EUR of freight" in page
    assert "a pack costs 0.05 EUR a week on the shelf" in page
    text = b"".join(viewer_client.get(address, {"format": "csv"})).decode()
    assert "An order costs,3\r\n" in text


def test_late_order_says_when_it_is_expected(viewer_client, address):
    item = Item.objects.get(code="SCREW-M4")
    late = timezone.localdate() - timedelta(days=20)
    make.order(item.offers.get(), packs=2, day=late)
    assert "6 days late" in viewer_client.get(address).content.decode()


def test_item_without_forecast_has_no_record(viewer_client, address):
    make.epoxy()
    assert viewer_client.get(reverse("forecast-record", args=["EPOXY"])).status_code == 404


def test_item_without_use_says_so(viewer_client, address):
    ItemForecast.objects.update(reorder_point=0, order_up_to=0)
    assert "so there is no record" in viewer_client.get(address).content.decode()
