"""“Can I make this batch?” as a maker asks it, and the answer."""

import csv
import io
import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import actions
from tests import factories as make
from tests.visit import read

pytestmark = pytest.mark.django_db

ASK = "/batches/check/?product=TRAIL&qty="


def test_check_without_a_question_only_asks(viewer_client, shop):
    page = read(viewer_client, "/batches/check/")
    assert "Good knives wanted" in page
    assert "Materials" not in page


def test_batch_that_can_be_made_says_yes_first(viewer_client, shop):
    page = read(viewer_client, ASK + "4")
    assert "Yes. 4 of 4 TRAIL can be made now from what is here." in page


def test_batch_that_runs_short_says_how_many_and_what_stops_the_next(viewer_client, shop):
    make.offer(shop.screws, lead_days=10)
    actions.issue_stock(item=shop.screws, qty=Decimal(188), day=make.DAY, reason="sample")
    page = read(viewer_client, ASK + "8")
    assert re.search(r"Not yet\. \d of 8 TRAIL can be made now", page)
    assert "The next knife is stopped by SCREW-M4 screw-m4." in page
    assert "by an order to Bracken Supply today" in page


def test_number_to_start_is_explained_by_the_yields(viewer_client, shop):
    page = read(viewer_client, ASK + "4")
    assert re.search(r"TRAIL: Start \d+ so that 4 finish with \d+ % chance", page)
    assert "10 Mill 90 %" in page


def test_need_opens_to_the_steps_it_comes_from(viewer_client, shop):
    page = read(viewer_client, ASK + "4")
    assert re.search(r"TRAIL 30 Glue: 3 per knife, \d+ in all", page)
    assert "TRAIL 30 Glue: 40 g per setup" in page


def test_remnants_too_short_for_the_blank_are_listed(viewer_client, shop):
    make.rack(shop.bar, 180, 200)
    page = read(viewer_client, ASK + "4")
    assert "2 pieces here too small for it" in page
    assert "180 mm" in page


def test_part_that_cures_has_to_be_made_first(viewer_client, shop):
    page = read(viewer_client, ASK + "14")
    assert re.search(r"Make \d+ BLOCK first: they are ready 1 day later\.", page)


def test_cutter_that_will_not_last_is_marked(viewer_client, shop):
    fitting = shop.cutter.fittings.get()
    actions.log_wear(fitting=fitting, amount=Decimal(115), day=make.DAY)
    page = read(viewer_client, ASK + "8")
    assert "will not last" in page
    assert "115 used of about" in page


def test_outside_service_shows_vendor_lot_charge_and_cost_per_knife(viewer_client, shop):
    make.offer(shop.harden, make.vendor(), price=4, lead_days=12, lot_charge=Decimal(60))
    page = read(viewer_client, ASK + "10")
    assert "Ember Supply 12" in page
    assert "60.00" in page


def test_service_below_its_minimum_is_said(viewer_client, shop):
    make.offer(shop.harden, make.vendor(), minimum_packs=50)
    assert "below the minimum of 50" in read(viewer_client, ASK + "4")


def test_cautions_end_with_the_deferral_to_data_sheets(viewer_client, shop):
    actions.save_item(values={"hazard_codes": "H317"}, item=shop.epoxy)
    page = read(viewer_client, ASK + "4")
    assert "H317 May cause an allergic skin reaction" in page
    assert "Follow the safety data sheets of your own products, local codes" in page


def test_several_products_are_checked_in_one_address(viewer_client, shop):
    make.simple_knife("NECK", make.line(shop.screws, 2))
    page = read(viewer_client, ASK + "4&2-product=NECK&2-qty=3")
    assert "4 of 4 TRAIL and 3 of 3 NECK can be made now" in page


def test_one_more_line_is_offered_without_script(viewer_client, shop):
    page = viewer_client.get(ASK + "4&lines=2").content.decode()
    assert 'name="2-product"' in page
    assert 'name="lines" value="3"' in page


def test_choice_of_the_address_reaches_the_answer(viewer_client, shop):
    knife = make.product("NECK", [("handle", "black", True), ("handle", "orange", False)])
    black, orange = (make.screws(code) for code in ("BLK", "ORG"))
    lines = [
        make.line(item, option=make.option(knife, choice))
        for item, choice in ((black, "black"), (orange, "orange"))
    ]
    make.bill(knife, make.step(10, "Assemble", *lines))
    address = "/batches/check/?product=NECK&qty=2&choice-handle="
    assert "ORG org" in read(viewer_client, address + "orange")
    assert "BLK blk" in read(viewer_client, address + "no-such-choice")


def test_product_without_bill_is_refused_in_words(viewer_client, shop):
    make.product("BARE")
    page = read(viewer_client, "/batches/check/?product=BARE&qty=2", status=422)
    assert "BARE has no active bill of materials." in page


def test_cutter_without_any_known_life_is_named_wherever_it_stops_the_check(viewer_client, shop):
    actions.save_item(values={"rated_life": None, "rated_shape": None}, item=shop.cutter)
    batch = make.plan(shop.knife)
    said = "MILL-6: no usual life is stated"
    assert said in read(viewer_client, ASK + "2", status=422)
    assert said in read(viewer_client, f"/batches/{batch.number}/answer/")
    assert said in read(viewer_client, f"/batches/{batch.number}/check/", status=422)
    assert said in read(viewer_client, f"/batches/{batch.number}/sheet/", status=422)


@pytest.mark.parametrize(
    "address",
    [
        "/batches/check/?product=&qty=",
        "/batches/check/?product=NONE&qty=3",
        ASK + "3&start=2",
        ASK + "2&lines=99999999999",
        ASK + "2&9-product=TRAIL",
        ASK + "2&0-product=TRAIL",
        ASK + "2&²-product=TRAIL",
        ASK + "2&lines=²",
        ASK + "2&lines=" + "9" * 5000,
        "/batches/?state=nonsense",
    ],
)
def test_odd_address_is_answered_with_a_page(viewer_client, shop, address):
    assert viewer_client.get(address).status_code in (200, 422)


@pytest.mark.parametrize("qty", ["0", "-3", "many", "2001"])
def test_number_that_makes_no_batch_is_answered_at_its_field(viewer_client, shop, qty):
    page = viewer_client.get(ASK + qty).content.decode()
    assert 'aria-invalid="true"' in page
    assert "Materials" not in page


def test_need_is_taken_as_csv_with_exact_numbers(viewer_client, shop):
    answer = viewer_client.get(ASK + "4&format=csv")
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    rows = {row["Item"]: row for row in csv.DictReader(io.StringIO(text))}
    assert rows["EPOXY"]["Need"] == "80"
    assert rows["EPOXY"]["Unit"] == "g"
    assert rows["SCREW-M4"]["Available"] == "200"


def test_check_asks_no_more_of_the_database_for_a_larger_batch(viewer_client, shop):
    def asked(qty):
        with CaptureQueriesContext(
            connection,
        ) as seen:
            viewer_client.get(f"{ASK}{qty}")
        return len(seen)

    viewer_client.get(ASK + "1")
    assert asked(10) <= asked(2)


def test_shop_without_a_product_is_led_to_its_first(owner_client):
    make.shop()
    page = owner_client.get("/batches/check/").content.decode()
    assert "There is no product to check yet" in page
    assert 'href="/products/new/"' in page
