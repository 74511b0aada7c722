"""A place counted on the phone, one line after the other, looked over and posted."""

import pytest
from playwright.sync_api import expect

from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)

SMALL_TARGETS = """() => [...document.querySelectorAll('main a, button, input:not([type=hidden]), select')]
  .filter(e => e.checkVisibility() && !e.closest('p small'))
  .filter(e => e.getBoundingClientRect().height < 44)
  .map(e => e.outerHTML.slice(0, 120))"""


@pytest.fixture
def rack(transactional_db):
    """Three lines on one rack: screws, epoxy and a bar."""
    make.shop()
    place = make.place("Rack A")
    screws = make.stock(make.screws(), 100, place=place, unit_cost=make.D("0.05"))
    make.stock(make.epoxy(), 500, place=place)
    make.rack(make.bar(), 1000, place=place)
    return screws


def fits(page, axe):
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), page.url
    assert page.evaluate(SMALL_TARGETS) == []
    axe(page)


def test_three_lines_of_a_rack_are_counted_and_the_one_that_differs_is_posted(phone, rack, axe):
    phone.goto("/counts/new/")
    phone.get_by_label("Place").select_option("Rack A")
    phone.get_by_role("button", name="Start counting").tap()

    expect(phone.locator("h1")).to_have_text("BAR-4X40")
    fits(phone, axe)
    phone.get_by_role("button", name="Here, same as its label").tap()
    expect(phone.locator("h1")).to_have_text("EPOXY")
    fits(phone, axe)
    phone.keyboard.type("500")  # the field has the cursor already
    phone.keyboard.press("Enter")
    expect(phone.locator("h1")).to_have_text("SCREW-M4")
    phone.get_by_label("How much is there").fill("97")
    phone.get_by_role("button", name="Enter, next").tap()

    expect(phone.locator("h1")).to_have_text("What count C-0001 found")
    expect(phone.locator("tbody tr")).to_have_count(1)
    expect(phone.locator("tbody")).to_contain_text("−3")
    fits(phone, axe)
    phone.get_by_label("Why SCREW-M4 L-0001 differs").select_option("the pack held less")
    phone.get_by_role("button", name="Post the differences").tap()
    expect(phone.get_by_text("Count C-0001 is posted")).to_be_visible()
    assert make.on_hand(rack) == 97


def test_pages_of_a_count_are_accessible_on_the_laptop(laptop, rack, axe):
    laptop.goto("/counts/new/")
    laptop.get_by_role("button", name="Start counting").click()
    for address in (
        "/counts/",
        "/counts/C-0001/",
        "/counts/C-0001/paper/",
        "/counts/C-0001/found/",
    ):
        laptop.goto(address)
        expect(laptop.locator("h1")).to_be_visible()
        axe(laptop)
