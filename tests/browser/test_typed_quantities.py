"""What is typed is understood before it is sent."""

import pytest
from playwright.sync_api import expect

from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def screws(transactional_db):
    make.shop()
    screws = make.screws()
    make.offer(screws, pack_name="bag of 100", pack_qty=make.D(100))
    return screws


def test_delivery_in_bags_shows_its_count_and_is_booked_as_shown(phone, screws, axe):
    phone.goto("/stock/items/SCREW-M4/receive/")
    phone.get_by_label("How much came").press_sequentially("2 boxes")
    expect(phone.locator("output.understood .errors")).to_contain_text("sold as “bag of 100”")
    axe(phone)
    phone.get_by_label("How much came").fill("2 bags")
    expect(phone.locator("output.understood")).to_have_text("= 200")
    assert phone.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    phone.get_by_role("button", name="Take into stock").tap()
    expect(phone.get_by_text("200 in stock as lot")).to_be_visible()
    assert make.on_hand(screws) == 200


def test_measured_thickness_is_flagged_on_the_phone(phone, axe, transactional_db):
    make.shop()
    (piece,) = make.rack(make.bar(thickness_um=4 * make.MM), 914)
    make.simple_knife("TRAIL", make.line(piece.lot.item, 1, cut=(240 * make.MM, None)))
    phone.goto(piece.get_absolute_url())
    phone.get_by_role("link", name="Thickness").tap()
    phone.get_by_label("Measured thickness").press_sequentially("0.17 in")
    expect(phone.locator("output.understood")).to_have_text("= 4.318 mm")
    phone.get_by_role("button", name="Enter it").tap()
    expect(phone.get_by_role("status").first).to_contain_text("0.318 mm above the nominal 4 mm")
    expect(phone.get_by_role("heading", name="What it still makes")).to_be_visible()
    axe(phone)
