"""A spreadsheet becomes the shop's items: seen first, then saved, on a laptop and on a phone."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from inventory.exchange import uploads
from inventory.models import Item
from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}


@pytest.fixture
def items(transactional_db: None, tmp_path: Path) -> Path:
    make.shop()
    make.screws()
    path = tmp_path / "items.csv"
    rows = [f"BOLT-{number};Bolt {number};fastener;1,5" for number in range(300)]
    head = "code;name;kind;weight of one"
    path.write_text("\n".join([head, "SCREW-M4;Long screw;fastener;2,5", *rows]))
    return path


def is_too_wide(page: Page) -> bool:
    return page.evaluate("document.documentElement.scrollWidth > innerWidth")


def test_long_list_is_seen_then_saved_under_a_moving_bar(laptop, axe, items, monkeypatch):
    monkeypatch.setattr(uploads, "AT_ONCE_BYTES", 0)
    laptop.goto("/settings/")
    laptop.get_by_role("link", name="Lists in and out").click()
    axe(laptop)
    laptop.get_by_role("link", name="Items", exact=True).click()
    axe(laptop)
    laptop.get_by_label("File").set_input_files(items)
    laptop.get_by_role("button", name="See what it changes").click()
    expect(laptop.get_by_text("300 new, 1 changed, 0 unchanged, 0 refused.")).to_be_visible()
    expect(laptop.get_by_text("name: screw-m4 → Long screw")).to_be_visible()
    axe(laptop)
    laptop.get_by_role("button", name="Save all of it").click()
    expect(laptop.get_by_text("Saved: 300 new and 1 changed.")).to_be_visible()
    assert Item.objects.count() == 301


def test_refused_rows_are_read_on_a_phone(open_page, owner, axe, items):
    phone = open_page(owner, PHONE)
    items.write_text("code,name,kind\nNUT,Nut,nonsense\nBOLT,Bolt,fastener\n")
    phone.goto("/settings/lists/items/")
    assert not is_too_wide(phone)
    phone.get_by_label("File").set_input_files(items)
    phone.get_by_role("button", name="See what it changes").tap()
    expect(phone.get_by_text("“nonsense” is not one of")).to_be_visible()
    assert not is_too_wide(phone)
    axe(phone)
    expect(phone.get_by_role("button", name="Save all of it")).to_have_count(0)
