"""Today names what needs a decision, and nothing else."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import actions
from tests import factories as make
from tests.visit import read

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_remembered():
    cache.clear()


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def shop():
    """The factories' shop with something to buy, so that the first steps are done."""
    shop = make.knife_shop()
    make.offer(shop.screws)
    return shop


def test_new_shop_is_led_through_its_first_steps(owner_client):
    make.shop()
    page = read(owner_client, "/")
    steps = ["Items to do", "Suppliers and what they sell to do", "bill of materials to do"]
    places = [page.index(step) for step in [*steps, "Opening stock to do"]]
    assert places == sorted(places)


def test_first_step_done_is_marked(owner_client):
    make.shop()
    make.screws()
    assert "Items done" in read(owner_client, "/")


def test_running_shop_sees_no_first_steps(viewer_client, shop):
    assert "Opening stock" not in read(viewer_client, "/")


def test_shop_with_nothing_to_decide_says_so(viewer_client, shop, today):
    page = read(viewer_client, "/")
    assert "None is planned." in page
    assert "Overdue orders" not in page
    assert "Out at vendors" not in page.split("Batches of the next three weeks")[1]


def test_batch_of_the_next_weeks_is_fetched_when_its_answer_isnt_known(viewer_client, shop, today):
    batch = make.plan(shop.knife, day=today + timedelta(days=6))
    page = viewer_client.get("/").content.decode()
    assert f'hx-get="/batches/{batch.number}/answer/"' in page
    assert f'href="/batches/{batch.number}/check/"' in page


def test_batch_that_cant_start_says_why(viewer_client, shop, today):
    actions.issue_stock(item=shop.screws, qty=Decimal(195), day=make.DAY, reason="sample")
    batch = make.plan(shop.knife, day=today + timedelta(days=6))
    read(viewer_client, f"/batches/{batch.number}/answer/")
    page = read(viewer_client, "/")
    assert re.search(r"Not yet: short of .*SCREW-M4", page)
    assert "From what is here 0 of 4 can be made." in page


def test_cutter_that_will_not_last_the_next_batch_is_named(viewer_client, shop, today):
    make.stock(shop.epoxy, 500, today)
    actions.log_wear(fitting=shop.cutter.fittings.get(), amount=Decimal(118), day=make.DAY)
    actions.issue_stock(item=shop.cutter, qty=Decimal(3), day=make.DAY, reason="scrap")
    batch = make.plan(shop.knife, 8, day=today + timedelta(days=6))
    page = read(viewer_client, f"/batches/{batch.number}/answer/")
    assert re.search(
        r"MILL-6 (may|will) not last \(\d+ % chance that it does\): lay out \d, none here\.", page
    )


def test_batch_beyond_three_weeks_isnt_todays_matter(viewer_client, shop, today):
    batch = make.plan(shop.knife, day=today + timedelta(days=22))
    assert batch.number not in read(viewer_client, "/")


def test_batch_whose_start_has_passed_stays_until_it_is_decided(viewer_client, shop, today):
    make.plan(shop.knife, day=today - timedelta(days=9))
    assert "Was to start on" in read(viewer_client, "/")


def test_batch_in_work_says_what_comes_next(viewer_client, shop):
    batch = make.in_work(shop.knife)
    start = batch.lines.get().start_qty
    assert f"{start} knives, next Mill." in read(viewer_client, "/")


def test_overdue_order_says_how_late_and_what_of(viewer_client, shop):
    offer = make.offer(make.screws("BOLT"), pack_qty=Decimal(50))
    order = actions.draft_order(supplier=offer.supplier, lines=[(offer, 2)], day=make.DAY)
    actions.send_order(order=order, day=make.DAY, expected_on=make.days(14))
    late = (timezone.localdate() - make.days(14)).days
    assert f"{order.number} from Bracken Supply: BOLT 100 {late} days late" in read(
        viewer_client, "/"
    )


def test_lot_about_to_expire_and_expired_one_are_listed(viewer_client, shop, today):
    made = today - timedelta(days=365 - 20)
    make.stock(shop.epoxy, 70, today, made_on=made)
    make.stock(shop.epoxy, 30, today, made_on=made - timedelta(days=40))
    make.stock(shop.epoxy, 90, today, made_on=today)
    page = read(viewer_client, "/")
    assert re.search(r"EPOXY lot \S+ , 70 g : usable until", page)
    assert re.search(r"EPOXY lot \S+ , 30 g : expired", page)
    assert ", 90 g" not in page


def test_used_up_lot_that_expired_is_no_matter_any_more(viewer_client, shop, today):
    lot = make.stock(shop.epoxy, 30, today, made_on=today - timedelta(days=400))
    actions.issue_stock(item=shop.epoxy, qty=Decimal(30), day=today, lot=lot, reason="scrap")
    assert lot.number not in read(viewer_client, "/")


def test_quarantined_lot_waits_for_a_word(viewer_client, shop):
    make.stock(shop.screws, 40, status="quarantine")
    assert re.search(r"SCREW-M4 lot \S+ , 40 : quarantine", read(viewer_client, "/"))


def test_knives_out_at_a_vendor_say_when_they_are_back(viewer_client, shop, today):
    make.offer(shop.harden, make.vendor(), lead_days=12)
    batch = make.in_work(shop.knife)
    line = batch.lines.get()
    mill = line.bill.operations.first()
    actions.count_stage(line=line, operation=mill, scrapped=0, day=today)
    page = read(viewer_client, "/")
    assert f"knives of {batch.number} for harden at Ember Supply, back about" in page


def test_without_a_forecast_nothing_is_claimed_about_orders(viewer_client, shop):
    assert "No forecast was made yet" in read(viewer_client, "/")


def test_page_asks_the_same_of_the_database_for_many_batches(viewer_client, shop, today):
    def asked():
        with CaptureQueriesContext(connection) as seen:
            viewer_client.get("/")
        return len(seen)

    make.plan(shop.knife, 1, day=today)
    make.in_work(shop.knife, 1)
    few = asked()
    for number in range(5):
        make.plan(shop.knife, 1, day=today + timedelta(days=number))
        make.in_work(shop.knife, 1)
    assert asked() == few
