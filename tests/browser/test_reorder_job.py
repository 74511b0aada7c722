"""From the reorder list to a delivery in stock, on the laptop and on the phone."""

from datetime import timedelta
from itertools import product

import pytest
from django.utils import timezone

from inventory.actions.forecast_runs import queue_run
from inventory.models import ForecastRun, ForecastScore, Item, ItemForecast, Lot, PurchaseOrder
from inventory.queries.forecast_inputs import plan_digest
from tests import factories as make

LAPTOP = {"viewport": {"width": 1280, "height": 800}}


def stored_forecast(*items):
    """Seven a week of each item, with a reorder point of 60, as if a run had stored it."""
    today = timezone.localdate()
    run = ForecastRun.objects.create(
        as_of=today, horizon_weeks=26, paths=2000, seed=1, plan_digest=plan_digest()
    )
    monday = today - timedelta(days=today.weekday())
    weeks = [
        [(monday + timedelta(weeks=n)).isoformat(), *(share * (n + 1) for share in (7, 5, 7, 8, 9))]
        for n in range(26)
    ]
    for item in items:
        ItemForecast.objects.create(
            run=run,
            item=item,
            demand_class="lumpy",
            model="batches of its products",
            service_level=0.95,
            lead_mean_days=21,
            lead_low_days=16,
            lead_high_days=30,
            lead_seen=4,
            use_per_week=7,
            lead_demand_mean=28,
            lead_demand_q05=20,
            lead_demand_q95=60,
            reorder_point=60,
            safety_stock=32,
            order_up_to=90,
            per_knife={"TRAIL": 3.0},
            weeks=weeks,
            was_due=True,
        )


@pytest.fixture
def shop(transactional_db):
    """Screws and epoxy of two suppliers, both below their reorder point."""
    make.shop()
    screws, epoxy = make.screws(), make.epoxy()
    make.stock(screws, 20)
    make.offer(screws, price=4, pack_qty=make.D(100), pack_name="bag of 100")
    make.offer(epoxy, make.supplier("ALDER", order_fee=9), pack_qty=make.D(500), price=30)
    stored_forecast(screws, epoxy)


def scored(*items):
    """Seven forecasts of each item, four weeks apart, that held too little."""
    for back, item in product(range(7), items):
        until = timezone.localdate() - timedelta(weeks=4 * back)
        ForecastScore.objects.create(
            item=item,
            as_of=until - timedelta(weeks=4),
            until=until,
            ahead="4",
            **{"mean": 40, "q05": 32, "q50": 40, "q80": 44, "q95": 48, "used": 60},
            **{"error": 1.2, "loss": 0.6, "stands_apart": True},
        )


def put_aside(item):
    today = timezone.localdate()
    until = today + timedelta(weeks=1)
    make.actions.snooze_item(item=item, until=until, day=today, runs_out=today)


def test_ticked_line_is_ordered_sent_and_received(laptop, shop):
    laptop.goto("/reorder/")
    laptop.get_by_label("Order EPOXY").uncheck()
    laptop.get_by_label("Packs of SCREW-M4").fill("3")
    laptop.get_by_role("button", name="Draft the ticked orders").first.click()
    laptop.get_by_role("link", name="Mark as sent").click()
    laptop.get_by_role("button", name="It is sent").click()
    laptop.get_by_text("on its way").wait_for()
    laptop.get_by_role("link", name="Receive").click()
    laptop.get_by_role("button", name="Check it").click()
    laptop.get_by_text("3 × bag of 100 = 300 of SCREW-M4").wait_for()
    laptop.get_by_role("button", name="Book it").click()
    laptop.get_by_text("all here").wait_for()
    assert make.on_hand(Lot.objects.latest("pk")) == 300
    assert PurchaseOrder.objects.get().state == "received"


def test_reason_leads_to_the_sum_behind_it(laptop, shop):
    laptop.goto("/reorder/")
    laptop.get_by_role("link", name="How this comes about").first.click()
    laptop.get_by_text("= reorder point").wait_for()
    laptop.locator("summary", has_text="The numbers").click()
    assert laptop.locator("table", has_text="Stock ahead").locator("tbody tr").count() > 20


def test_boxes_are_big_enough_for_a_thumb(phone, shop):
    phone.goto("/reorder/")
    box = phone.locator("label.tick").first.bounding_box()
    assert min(box["width"], box["height"]) >= 44
    phone.locator("label.tick").first.tap()
    assert not phone.locator("input[name=take]").first.is_checked()


def test_line_is_put_aside_and_brought_back(phone, shop):
    phone.goto("/reorder/")
    phone.get_by_role("link", name="Put EPOXY aside").tap()
    phone.get_by_label("Reason").fill("the old tin will do")
    phone.get_by_role("button", name="Put it aside").tap()
    phone.get_by_text("EPOXY is put aside until").wait_for()
    assert phone.get_by_label("Order EPOXY").count() == 0
    phone.locator("summary", has_text="1 line put aside").tap()
    phone.get_by_text("the old tin will do").wait_for()
    phone.get_by_role("button", name="Bring it back").tap()
    phone.get_by_label("Order EPOXY").wait_for()
    assert phone.get_by_label("Order EPOXY").is_checked()


def test_undo_in_the_message_brings_the_line_back(laptop, shop):
    laptop.goto("/reorder/SCREW-M4/snooze/")
    laptop.get_by_role("button", name="Put it aside").click()
    laptop.get_by_role("link", name="Undo").click()
    laptop.get_by_role("button", name="Bring it back").click()
    laptop.get_by_label("Order SCREW-M4").wait_for()


@pytest.mark.slow
def test_forecast_is_worked_out_in_the_background_while_the_old_list_stays(
    laptop, shop, other_processes
):
    laptop.goto("/reorder/")
    laptop.get_by_role("link", name="Recalculate").click()
    laptop.get_by_role("button", name="Recalculate").click()
    laptop.locator("progress").wait_for()
    assert laptop.get_by_label("Order EPOXY").is_visible()
    laptop.get_by_role("link", name="Show it").click(timeout=60_000)
    laptop.get_by_text("Nothing to order").wait_for()  # nothing on record uses either
    laptop.get_by_text("no use of it is expected any more").first.wait_for()


def test_without_scripts_the_bar_has_a_link_to_look_again(open_page, owner, shop):
    queue_run(as_of=timezone.localdate())
    page = open_page(owner, LAPTOP, java_script_enabled=False)
    page.goto("/reorder/")
    page.get_by_role("link", name="Look again how far it is").click()
    assert page.locator("progress").is_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("device", ["phone", "laptop"])
def test_pages_are_accessible_in_both_lights(request, axe, shop, device, scheme):
    order = make.order(make.offer(make.item("GLUE", "chemical")), 2)
    page = request.getfixturevalue(device)
    page.emulate_media(color_scheme=scheme)
    line = order.lines.get()
    scored(line.item, Item.objects.get(code="SCREW-M4"))
    put_aside(Item.objects.get(code="EPOXY"))
    queue_run(as_of=timezone.localdate())
    addresses = {
        "/reorder/": "How this comes about",
        "/orders/": order.number,
        order.get_absolute_url(): "late",
        f"{order.get_absolute_url()}{line.pk}/receive/": "Check it",
        "/forecast/": "SCREW-M4",
        "/forecast/items/SCREW-M4/": "Stock ahead without a new order",
        "/forecast/items/SCREW-M4/#accuracy": "too narrow",
        "/forecast/accuracy/": "GLUE",
        "/reorder/SCREW-M4/snooze/": "Put it aside",
    }
    for address, words in addresses.items():
        page.goto(address)
        page.get_by_text(words).or_(page.get_by_role("button", name=words)).first.wait_for()
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth") == page.viewport_size["width"]
