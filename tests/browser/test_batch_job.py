"""A batch from the question to the finished knives, on the laptop and with a thumb."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.utils import timezone
from playwright.sync_api import expect

from inventory import actions
from inventory.models import Batch
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


@pytest.fixture
def shop(transactional_db):
    cache.clear()
    shop = make.knife_shop()
    make.offer(shop.screws)
    make.offer(shop.harden, make.vendor(), lead_days=12, lot_charge=Decimal(60))
    make.stock(shop.epoxy, 500, timezone.localdate())
    return shop


def fits_the_screen(page):
    return page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@SCREENS
def test_every_page_of_a_batch_is_accessible_and_fits(open_page, maker, shop, axe, device, scheme):
    today = timezone.localdate()
    make.stock(shop.screws, 40, status="quarantine")
    short = make.plan(shop.knife, 60, day=today + timedelta(days=5))
    held = make.reserved(shop.knife, 2, day=today)
    work = make.in_work(shop.knife, 2, day=today)
    done = make.in_work(shop.knife, 1, day=today)
    actions.finish_batch(batch=done, day=today)
    page = open_page(maker, device, color_scheme=scheme)
    for address in (
        "/",
        "/batches/",
        "/batches/check/?product=TRAIL&qty=60",
        f"/batches/{short.number}/",
        f"/batches/{held.number}/",
        f"/batches/{held.number}/sheet/",
        f"/batches/{work.number}/",
        f"/batches/{work.number}/finish/",
        f"/batches/{done.number}/",
        "/vendors/",
    ):
        page.goto(address)
        page.wait_for_load_state("networkidle")
        axe(page)
        assert fits_the_screen(page), address


def test_from_the_question_to_the_bench_sheet_on_the_laptop(laptop, shop):
    laptop.goto("/")
    laptop.get_by_role("link", name="Can I make this batch?").click()
    laptop.get_by_label("Product").select_option("TRAIL")
    laptop.get_by_label("Good knives wanted").fill("4")
    laptop.get_by_role("button", name="Check").click()
    expect(laptop.get_by_role("heading", name="Yes. 4 of 4 TRAIL")).to_be_visible()
    assert "qty=4" in laptop.url
    laptop.get_by_role("button", name="Plan this batch").click()
    expect(laptop.get_by_text("Can start: everything is here.")).to_be_visible()
    laptop.get_by_role("button", name="Hold everything for it").click()
    expect(laptop.get_by_text("Everything is held. The bench sheet")).to_be_visible()
    laptop.get_by_role("link", name="Bench sheet").click()
    expect(laptop.locator("svg.cut-drawing").first).to_be_visible()
    laptop.emulate_media(media="print")
    expect(laptop.get_by_role("navigation")).to_have_count(0)
    expect(laptop.get_by_role("heading", name="Cutters to lay out")).to_be_visible()


def test_choosing_the_product_brings_its_choices_without_leaving_the_page(laptop, shop):
    knife = make.product("NECK", [("handle", "black", True), ("handle", "orange", False)])
    make.bill(knife, make.step(10, "Assemble", make.line(shop.screws)))
    laptop.goto("/batches/check/")
    laptop.get_by_label("Good knives wanted").fill("2")
    laptop.get_by_label("Product").select_option("NECK")
    laptop.get_by_label("Handle").select_option("orange")
    expect(laptop.get_by_label("Good knives wanted")).to_have_value("2")
    laptop.get_by_role("button", name="Check").click()
    expect(laptop.get_by_role("heading", name="Yes. 2 of 2 NECK")).to_be_visible()
    assert "choice-handle=orange" in laptop.url


def test_stages_are_counted_with_one_thumb(phone, shop):
    batch = make.in_work(shop.knife, 2, day=timezone.localdate())
    start = batch.lines.get().start_qty
    phone.goto(f"/batches/{batch.number}/")
    phone.get_by_role("button", name=f"Done, all {start} good").tap()
    expect(phone.get_by_text(f"Mill: {start} good.")).to_be_visible()
    phone.get_by_text("Some were scrapped").tap()
    phone.get_by_label("Scrapped here").fill("1")
    phone.get_by_role("button", name="Count it").tap()
    expect(phone.get_by_text(f"Harden: {start - 1} good, 1 scrapped.")).to_be_visible()
    phone.get_by_role("link", name="Finish the batch").tap()
    phone.get_by_role("button", name="Finish the batch").tap()
    expect(phone.get_by_text(f"Finished with {start - 1} good.")).to_be_visible()
    assert Batch.objects.get().state == "finished"


def test_whole_job_works_without_script(open_page, maker, shop):
    page = open_page(maker, LAPTOP, java_script_enabled=False)
    page.goto("/batches/check/")
    page.get_by_label("Product").select_option("TRAIL")
    page.get_by_label("Good knives wanted").fill("2")
    page.get_by_role("button", name="Check").click()
    page.get_by_role("button", name="Plan this batch").click()
    page.get_by_role("link", name="Open the check").click()
    expect(page.get_by_role("heading", name="Yes. 2 of 2 TRAIL")).to_be_visible()
    page.go_back()
    page.get_by_role("button", name="Hold everything for it").click()
    page.get_by_role("link", name="Start it").click()
    page.get_by_role("button", name="It is cut: start").click()
    expect(page.get_by_role("button", name="Done, all")).to_be_visible()
