"""Stock, products and suppliers on the screens of a shop: accessible, in reach of a thumb, quick."""

import pytest
from playwright.sync_api import expect

from inventory import actions
from inventory.models import Posting
from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)

LAPTOP = {"viewport": {"width": 1280, "height": 800}}
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}
SCREENS = pytest.mark.parametrize(
    ("device", "scheme"),
    [(LAPTOP, "light"), (LAPTOP, "dark"), (PHONE, "light"), (PHONE, "dark")],
    ids=["laptop light", "laptop dark", "phone light", "phone dark"],
)
# Links within a sentence are exempt; everything else is touched with gloves on.
SMALL_TARGETS = """() => [...document.querySelectorAll(
    'main a, nav a, button, input:not([type=hidden]), select, summary')]
  .filter(e => e.checkVisibility() && !e.closest('p, .sub, .caution'))
  .filter(e => e.getBoundingClientRect().height < 44)
  .map(e => e.outerHTML.slice(0, 120))"""


@pytest.fixture
def shop(transactional_db):
    shop = make.knife_shop()
    make.stock(make.epoxy("OLD", hazard_codes="H317"), 100, expires_on=make.DAY)
    make.offer(shop.screws)
    return shop


def addresses(shop):
    piece = shop.bar.lots.get().pieces.first()
    return [
        "/stock/",
        "/stock/items/SCREW-M4/",
        "/stock/items/BAR-4X40/",
        "/stock/items/OLD/",
        "/stock/items/SCREW-M4/prices/",
        "/stock/items/SCREW-M4/history/",
        "/stock/items/SCREW-M4/lots/",
        "/stock/items/BAR-4X40/pieces/",
        "/stock/items/OLD/change/",
        "/stock/items/SCREW-M4/use/",
        "/stock/items/BAR-4X40/receive/",
        shop.screws.lots.get().get_absolute_url(),
        piece.get_absolute_url(),
        f"{piece.get_absolute_url()}cut/",
        "/movements/",
        f"/movements/{Posting.objects.first().pk}/",
        "/products/",
        "/products/TRAIL/",
        "/products/TRAIL/bill/",
        "/stock/items/BLOCK/bill/",
        "/suppliers/",
        "/suppliers/BRACKEN/",
        "/suppliers/offers/new/",
        "/settings/",
    ]


@SCREENS
def test_every_page_is_accessible_and_fits(open_page, owner, shop, axe, device, scheme):
    page = open_page(owner, device, color_scheme=scheme)
    for address in addresses(shop):
        page.goto(address)
        expect(page.locator("h1")).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
        axe(page)


def test_every_target_is_in_reach_of_a_thumb(open_page, owner, shop):
    page = open_page(owner, PHONE)
    for address in addresses(shop):
        page.goto(address)
        assert page.evaluate(SMALL_TARGETS) == [], address


def test_one_is_used_with_three_taps(phone, shop):
    phone.goto("/stock/items/SCREW-M4/")
    phone.locator("summary", has_text="Use").tap()
    phone.get_by_label("repair").check()
    phone.get_by_role("button", name="1", exact=True).tap()
    expect(phone.get_by_text("1 of SCREW-M4 taken out")).to_be_visible()
    assert make.on_hand(shop.screws) == 199


def test_double_tap_books_once(phone, shop):
    phone.goto("/stock/items/SCREW-M4/use/")
    phone.get_by_role("button", name="Take it out").dblclick()
    expect(phone.get_by_text("taken out as entry")).to_be_visible()
    assert make.on_hand(shop.screws) == 199


def test_refusal_stands_on_top_and_keeps_what_was_typed(phone, shop):
    phone.goto("/stock/items/SCREW-M4/use/")
    phone.get_by_label("How much").fill("5000")
    phone.get_by_role("button", name="Take it out").tap()
    expect(phone.get_by_role("alert")).to_contain_text("Receive or count more")
    expect(phone.get_by_label("How much")).to_have_value("5000")


def test_slash_searches_and_the_list_follows_without_a_new_page(laptop, shop):
    laptop.goto("/stock/")
    laptop.keyboard.press("/")
    laptop.keyboard.type("screw")
    expect(laptop.locator("tbody tr")).to_have_count(1)
    expect(laptop).to_have_url("/stock/?q=screw&kind=&place=&value_class=&state=")
    laptop.go_back()
    expect(laptop.locator("tbody tr")).not_to_have_count(1)


def test_list_is_sorted_by_a_tap_on_its_heading(laptop, shop):
    laptop.goto("/stock/?kind=sheet")
    laptop.get_by_role("link", name="On hand").click()
    expect(laptop.locator("th[aria-sort=ascending]")).to_contain_text("On hand")
    expect(laptop.locator("tbody tr").first).to_contain_text("SHEET-6")


def test_more_menu_opens_without_a_script(open_page, maker, shop):
    page = open_page(maker, PHONE, java_script_enabled=False)
    page.goto("/stock/")
    page.get_by_role("button", name="More").tap()
    page.get_by_role("link", name="Movements").tap()
    expect(page.locator("h1")).to_have_text("Movements")


def test_filter_works_without_a_script(open_page, maker, shop):
    page = open_page(maker, LAPTOP, java_script_enabled=False)
    page.goto("/stock/")
    page.get_by_label("Kind").select_option("fastener")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("tbody tr")).to_have_count(1)


def test_chart_has_its_numbers_beside_it(laptop, shop):
    actions.issue_stock(item=shop.screws, qty=make.D(5), day=make.DAY, reason="sample")
    laptop.goto("/stock/items/SCREW-M4/")
    expect(laptop.get_by_role("img", name="SCREW-M4: stock over half a year")).to_be_visible()
    laptop.locator("#history summary").click()
    expect(laptop.get_by_role("columnheader", name="Stock at its end")).to_be_visible()
    laptop.get_by_role("link", name="Two years").click()
    expect(laptop.get_by_role("img", name="SCREW-M4: stock over two years")).to_be_visible()
