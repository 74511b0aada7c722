"""What is out, when it is back, and which batches could go together."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory import actions
from tests import factories as make
from tests.visit import read

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    return make.knife_shop()


def milled(batch, day):
    """Count the stage before the outside one."""
    line = batch.lines.get()
    operation = line.bill.operations.first()
    return actions.count_stage(line=line, operation=operation, scrapped=0, day=day)


def test_shop_without_services_says_how_to_add_one(viewer_client):
    make.shop()
    assert "No outside service is kept yet." in read(viewer_client, "/vendors/")


def test_batch_not_yet_at_its_service_isnt_out(viewer_client, shop):
    make.in_work(shop.knife)
    assert "Nothing is out." in read(viewer_client, "/vendors/")


def test_knives_are_out_from_the_day_the_stage_before_was_counted(viewer_client, shop):
    make.offer(shop.harden, make.vendor(), lead_days=12)
    count = milled(make.in_work(shop.knife), make.days(3))
    page = read(viewer_client, "/vendors/")
    assert f"{count.good} harden Ember Supply 6 Mar 2025 18 Mar 2025" in page


def test_knives_past_their_lead_time_are_late(viewer_client, shop):
    today = timezone.localdate()
    make.offer(shop.harden, make.vendor(), lead_days=12)
    milled(make.in_work(shop.knife), today - timedelta(days=15))
    assert "3 days late" in read(viewer_client, "/vendors/")


def test_service_nobody_offers_is_out_without_a_day(viewer_client, shop):
    milled(make.in_work(shop.knife), make.DAY)
    page = read(viewer_client, "/vendors/")
    assert "no lead time known" in page
    assert "nobody offers it" in page


def test_service_states_lead_time_minimum_and_charge(viewer_client, shop):
    make.offer(
        shop.harden,
        make.vendor(),
        price=4,
        lead_days=12,
        minimum_packs=5,
        lot_charge=Decimal(60),
    )
    page = read(viewer_client, "/vendors/")
    assert "Lead time 12 days Minimum 5 knives Lot charge 60.00 EUR A knife 4.00 EUR" in page


def test_open_batches_that_share_a_service_could_go_in_one_lot(viewer_client, shop):
    first, second = make.plan(shop.knife, 2), make.plan(shop.knife, 3)
    knives = sum(batch.lines.get().start_qty for batch in (first, second))
    assert f"These could go in one lot, {knives} knives together:" in read(
        viewer_client, "/vendors/"
    )


def test_finished_and_cancelled_batches_need_no_service_any_more(viewer_client, shop):
    actions.finish_batch(batch=make.in_work(shop.knife, 2), day=make.DAY)
    actions.cancel_batch(batch=make.plan(shop.knife, 2), day=make.DAY, note="")
    assert "No open batch needs it." in read(viewer_client, "/vendors/")


def test_stock_moved_to_a_vendor_is_listed(viewer_client, shop):
    there = make.place("At the coater", make.vendor())
    lot = make.stock(make.screws("INSERT"), 30)
    actions.move_stock(
        lot=lot, place_from=make.where(lot), place_to=there, qty=Decimal(12), day=make.DAY
    )
    assert re.search(r"At the coater INSERT \S+ 12", read(viewer_client, "/vendors/"))
