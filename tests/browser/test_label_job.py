"""From a label to a posted entry with a thumb, and the labels on paper."""

import io
import re

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import expect

from inventory.models import Posting
from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)

SMALLEST_TARGET = 44


@pytest.fixture
def lot(transactional_db):
    make.shop()
    make.vendor()
    return make.stock(make.screws(), 200, place=make.place("Drawer 4"))


def small_targets(page):
    return page.locator(".hand :is(summary, button, a, .pills label):visible").evaluate_all(
        "(found, least) => found.map(one => one.getBoundingClientRect())"
        ".filter(box => box.height < least || box.width < least).length",
        SMALLEST_TARGET,
    )


def test_from_a_label_to_posted_use_in_three_taps(phone, axe, lot):
    phone.goto(f"/l/{lot.number}")  # the first tap, on what the camera shows
    phone.locator("summary", has_text="Use").tap()
    assert small_targets(phone) == 0
    axe(phone)
    phone.get_by_role("button", name="5", exact=True).tap()
    expect(phone.get_by_text("5 of SCREW-M4 taken out")).to_be_visible()
    assert make.on_hand(lot) == 195
    phone.get_by_role("link", name="Undo").first.tap()
    phone.get_by_role("button", name="Undo this entry").tap()
    expect(phone.get_by_text("is undone by entry")).to_be_visible()
    assert make.on_hand(lot) == 200


def test_lot_goes_to_the_vendor_in_three_taps_without_a_script(open_page, maker, lot):
    device = {"viewport": {"width": 390, "height": 844}}
    page = open_page(maker, device, java_script_enabled=False)
    page.goto(f"/l/{lot.number}")
    page.locator("summary", has_text="Move").click()
    page.get_by_role("button", name="At Ember Supply").click()
    expect(page.get_by_text("200 moved to At Ember Supply")).to_be_visible()
    assert Posting.objects.first().kind == "transfer"


def test_printed_labels_are_read_back_and_every_sheet_is_one_page(laptop, axe, lot):
    make.rack(make.bar(), *[914] * 30, place=make.place("Rack 2"))
    laptop.goto("/labels/?of=pieces&which=BAR-4X40&sheet=a4-65&first=40&copies=1")
    expect(laptop.get_by_role("button", name="Print")).to_be_visible()
    axe(laptop)
    laptop.emulate_media(media="print")
    sheets = laptop.locator(".label-sheet")
    pages = re.findall(rb"/Type\s*/Page\b", laptop.pdf(prefer_css_page_size=True))
    assert (sheets.count(), len(pages)) == (2, 2)
    picture = Image.open(io.BytesIO(sheets.first.screenshot())).convert("L")
    read = {code.text.rpartition("/l/")[2] for code in zxingcpp.read_barcodes(np.array(picture))}
    assert read == {f"P-{number:04}" for number in range(1, 27)}
