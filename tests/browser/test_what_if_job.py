"""Checking a forecast: the record week by week, and other terms tried, on laptop and phone."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.actions.update_forecast import update_forecast
from inventory.models import PurchaseOrder
from tests import factories as make


@pytest.fixture
def forecast(transactional_db):
    """Screws of a shop with one batch planned, worked out today."""
    knives = make.knife_shop()
    make.offer(knives.screws, price=4, pack_qty=make.D(100), pack_name="bag of 100")
    make.plan(knives.knife, 10, timezone.localdate() + timedelta(days=7))
    update_forecast(as_of=timezone.localdate())
    return knives


@pytest.mark.parametrize("device", ["laptop", "phone"])
def test_record_is_read_and_other_terms_are_tried(request, forecast, axe, device):
    page = request.getfixturevalue(device)
    page.goto("/forecast/items/SCREW-M4/")
    page.get_by_role("link", name="week by week").click()
    page.get_by_role("rowheader", name="Gross need").first.wait_for()
    axe(page)
    page.get_by_text("How to check it by hand").click()
    axe(page)
    page.get_by_role("link", name="forecast", exact=True).click()
    page.get_by_role("link", name="What if").click()
    axe(page)
    page.get_by_label("One more batch of").select_option("TRAIL")
    page.get_by_label("Knives to start").fill("200")
    page.get_by_role("button", name="Try it").press("Enter")
    page.get_by_text("Fill in all three, or none").wait_for()
    axe(page)
    page.get_by_label("On", exact=True).fill((timezone.localdate() + timedelta(days=3)).isoformat())
    page.get_by_label("Lasts until the delivery").fill("99")
    page.get_by_role("button", name="Try it").click()
    page.get_by_role("rowheader", name="Reorder point the two together").wait_for()
    assert page.locator("#tried td strong").count() > 3
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert not PurchaseOrder.objects.exists()
