"""From the question "can I make it" to what each knife took, through the pages a maker uses."""

import csv
import io
import re
import uuid
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import actions
from inventory.models import Batch, Movement, Reservation, StageCount, WearLog
from tests import factories as make

pytestmark = pytest.mark.django_db

ASK = "/batches/check/?product=TRAIL&qty="


@pytest.fixture(autouse=True)
def nothing_remembered():
    cache.clear()


@pytest.fixture
def shop():
    """The factories' shop; its epoxy has expired since, so there is fresh one."""
    shop = make.knife_shop()
    make.stock(shop.epoxy, 500, timezone.localdate(), unit_cost=Decimal("0.04"))
    return shop


def read(client, address, status=200):
    """What a page says, tags and runs of space taken out."""
    answer = client.get(address)
    assert answer.status_code == status
    return words(answer)


def words(answer):
    text = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", text).replace("\u202f", " ")


def send(client, address, **values):
    return client.post(address, {"key": uuid.uuid4(), **values})


def count_all(client, batch, scrapped=0):
    """Count the next stage of a batch of one line."""
    line = batch.lines.get()
    operation = line.bill.operations.all()[line.stages.count()]
    return send(
        client,
        f"/batches/{batch.number}/count/",
        line=line.pk,
        operation=operation.pk,
        scrapped=scrapped,
        cause="over-ground" if scrapped else "",
        day=make.DAY,
    )


# The check


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


# Planning to finishing


def test_planned_from_the_check_with_the_lines_of_its_address(maker_client, shop):
    answer = send(maker_client, "/batches/plan/?product=TRAIL&qty=4", start_on="2025-04-01")
    batch = Batch.objects.get()
    assert answer.url == f"/batches/{batch.number}/"
    assert (batch.state, batch.lines.get().wanted) == ("planned", 4)


def test_plan_form_sent_twice_plans_once(maker_client, shop):
    form = {"key": uuid.uuid4(), "start_on": "2025-04-01"}
    for _ in range(2):
        maker_client.post("/batches/plan/?product=TRAIL&qty=4", form)
    assert Batch.objects.count() == 1


def test_planned_batch_shows_its_answer_when_asked(viewer_client, shop):
    batch = make.plan(shop.knife)
    assert "Working it out." in read(viewer_client, f"/batches/{batch.number}/")
    assert "Can start: everything is here." in read(
        viewer_client, f"/batches/{batch.number}/answer/"
    )


def test_answer_is_worked_out_again_after_stock_moved(viewer_client, shop):
    batch = make.plan(shop.knife)
    address = f"/batches/{batch.number}/answer/"
    assert "everything is here" in read(viewer_client, address)
    actions.issue_stock(item=shop.screws, qty=Decimal(195), day=make.DAY, reason="sample")
    assert "short of SCREW-M4" in read(viewer_client, address)


def test_answer_that_is_known_isnt_worked_out_again(viewer_client, shop, monkeypatch):
    batch = make.plan(shop.knife)
    address = f"/batches/{batch.number}/answer/"
    read(viewer_client, address)
    monkeypatch.setattr("inventory.queries.batch_answer.check_planned_batch", None)
    assert "everything is here" in read(viewer_client, address)


def test_held_batch_names_lots_and_pieces(maker_client, shop):
    batch = make.plan(shop.knife)
    send(maker_client, f"/batches/{batch.number}/hold/")
    page = read(maker_client, f"/batches/{batch.number}/")
    assert "Everything is held." in page
    held = Reservation.objects.filter(piece__isnull=False).first()
    assert held.piece.label in page


def test_holding_what_isnt_there_is_refused_and_holds_nothing(maker_client, shop):
    batch = make.plan(shop.knife, 100)
    answer = send(maker_client, f"/batches/{batch.number}/hold/")
    assert answer.status_code == 422
    assert "can&#x27;t be reserved; short of" in answer.content.decode()
    assert not Reservation.objects.exists()


def test_released_batch_is_planned_again(maker_client, shop):
    batch = make.reserved(shop.knife)
    send(maker_client, f"/batches/{batch.number}/release/")
    assert Batch.objects.get().state == "planned"


def test_started_batch_shows_the_next_stage_with_one_button(maker_client, shop):
    batch = make.reserved(shop.knife)
    send(maker_client, f"/batches/{batch.number}/start/", day=make.DAY)
    page = read(maker_client, f"/batches/{batch.number}/")
    start = batch.lines.get().start_qty
    assert f"{start} knives reached it." in page
    assert f"Done, all {start} good" in page


def test_stages_are_counted_one_after_the_other(maker_client, shop):
    batch = make.in_work(shop.knife)
    start = batch.lines.get().start_qty
    count_all(maker_client, batch, scrapped=1)
    assert f"{start - 1} knives reached it. They go out: harden" in read(
        maker_client, f"/batches/{batch.number}/"
    )
    count_all(maker_client, batch)
    assert list(StageCount.objects.values_list("scrapped", "cause")) == [
        (1, "over-ground"),
        (0, ""),
    ]


def test_more_scrapped_than_arrived_is_refused_in_words(maker_client, shop):
    batch = make.in_work(shop.knife)
    answer = count_all(maker_client, batch, scrapped=99)
    assert answer.status_code == 422
    assert "99 can&#x27;t be scrapped there" in answer.content.decode()
    assert not StageCount.objects.exists()


def test_line_of_another_batch_isnt_counted_here(maker_client, shop):
    first, second = make.in_work(shop.knife, 2), make.in_work(shop.knife, 2)
    line = second.lines.get()
    answer = send(
        maker_client,
        f"/batches/{first.number}/count/",
        line=line.pk,
        operation=line.bill.operations.first().pk,
        scrapped=0,
        day=make.DAY,
    )
    assert answer.status_code == 422
    assert not StageCount.objects.exists()


def finish(client, batch, **values):
    return send(client, f"/batches/{batch.number}/finish/", day=make.DAY, **values)


def test_finish_form_proposes_what_the_bill_says(maker_client, shop):
    batch = make.in_work(shop.knife)
    page = read(maker_client, f"/batches/{batch.number}/finish/")
    assert "EPOXY epoxy By the bill 80 g." in page
    start = batch.lines.get().start_qty
    assert f"MILL-6, Mill 1 By the bill {5 * start} min." in page


def test_finished_by_the_bill_when_nothing_is_typed(maker_client, shop):
    batch = make.in_work(shop.knife)
    assert finish(maker_client, batch).status_code == 302
    taken = Movement.objects.filter(posting__batch=batch, item=shop.epoxy)
    assert sum(move.qty for move in taken) == -80


def test_amount_typed_at_the_end_is_what_is_booked(maker_client, shop):
    batch = make.in_work(shop.knife)
    finish(maker_client, batch, **{f"used-{shop.epoxy.pk}": "3 oz"})
    taken = Movement.objects.filter(posting__batch=batch, item=shop.epoxy)
    # 1 oz = 28.349523125 g exactly: NIST Special Publication 811 (2008), Appendix B.8.
    assert sum(move.qty for move in taken) == Decimal("-85.048569")


def test_knives_scrapped_at_the_end_lower_what_the_cutter_is_charged(maker_client, shop):
    batch = make.in_work(shop.knife)
    line = batch.lines.get()
    harden = line.bill.operations.get(name="Harden")
    finish(maker_client, batch, **{f"scrap-{line.pk}-{harden.pk}": 2, f"used-{shop.epoxy.pk}": ""})
    line.refresh_from_db()
    assert (line.good, line.scrapped) == (line.start_qty - 2, 2)
    assert WearLog.objects.get(batch=batch).amount == 5 * line.start_qty


def test_cutter_life_typed_at_the_end_is_what_is_logged(maker_client, shop):
    batch = make.in_work(shop.knife)
    finish(maker_client, batch, **{f"wear-{shop.cutter.fittings.get().pk}": "31"})
    assert WearLog.objects.get(batch=batch).amount == 31


def test_wrong_unit_at_the_end_is_said_at_its_field_and_books_nothing(maker_client, shop):
    batch = make.in_work(shop.knife)
    answer = finish(maker_client, batch, **{f"used-{shop.epoxy.pk}": "3 in"})
    assert answer.status_code == 422
    assert "kept as a mass" in answer.content.decode()
    assert Batch.objects.get().state == "in_work"


def test_finish_tapped_twice_leads_to_the_batch_both_times(maker_client, shop):
    batch = make.in_work(shop.knife)
    key = uuid.uuid4()
    assert finish(maker_client, batch, key=key).status_code == 302
    again = finish(maker_client, batch, key=key)
    assert again.url == batch.get_absolute_url()
    assert "What it said the first time stands" in read(maker_client, again.url)
    assert Movement.objects.filter(posting__batch=batch, item=shop.screws).count() == 1


def test_finish_on_a_day_before_one_of_its_cutters_was_fitted_logs_the_others(maker_client):
    first, second = make.cutter("MILL-4"), make.cutter("MILL-8")
    early = make.fitted(first, "1", make.days(-9))
    wear = ((first, Decimal(5)), (second, Decimal(7)))
    batch = make.in_work(make.simple_knife("TRAIL", wear=wear), 3)
    make.fitted(second, "2", make.days(5))
    typed = {f"wear-{early.pk}": "4"}
    assert finish(maker_client, batch, **typed).status_code == 302
    assert list(WearLog.objects.values_list("fitting", "amount")) == [(early.pk, 4)]


def test_finished_batch_tells_lots_and_what_a_good_knife_cost(maker_client, shop):
    make.offer(shop.harden, make.vendor(), price=4, lot_charge=Decimal(60))
    make.offer(shop.cutter, price=18)
    batch = make.in_work(shop.knife)
    finish(maker_client, batch)
    page = read(maker_client, f"/batches/{batch.number}/")
    line = batch.lines.get()
    moves = Movement.objects.filter(posting__batch=batch)
    material = -sum(move.qty * move.unit_cost for move in moves)
    cutters = Decimal(5 * line.start_qty) * 18 / 120
    services = 60 + 4 * line.start_qty
    each = round((material + cutters + services) / line.good, 2)
    assert f"A good knife cost {each} EUR" in page
    assert f"Divided by {line.good} good knives" in page
    assert shop.screws.lots.get().number in page


def test_cost_names_what_nothing_tells_the_cost_of(maker_client, shop):
    batch = make.in_work(shop.knife)
    finish(maker_client, batch)
    assert "Nothing tells the cost of HARDEN" in read(maker_client, f"/batches/{batch.number}/")


def test_cancelled_batch_in_work_needs_a_word_about_the_blanks(maker_client, shop):
    batch = make.in_work(shop.knife)
    answer = send(maker_client, f"/batches/{batch.number}/cancel/", day=make.DAY)
    assert "Say in a note what becomes of the blanks." in answer.content.decode()
    send(maker_client, f"/batches/{batch.number}/cancel/", day=make.DAY, note="kept for repairs")
    assert Batch.objects.get().state == "cancelled"


# The bench sheet


def test_bench_sheet_of_a_planned_batch_warns_that_nothing_is_held(viewer_client, shop):
    batch = make.plan(shop.knife)
    assert "Nothing is held yet" in read(viewer_client, f"/batches/{batch.number}/sheet/")


def test_bench_sheet_of_a_held_batch_names_pieces_cuts_and_cutters(viewer_client, shop):
    batch = make.reserved(shop.knife)
    answer = viewer_client.get(f"/batches/{batch.number}/sheet/")
    page = words(answer)
    held = batch.reservations.filter(piece__isnull=False, item=shop.bar).first()
    assert held.piece.label in page
    assert '<svg xmlns="http://www.w3.org/2000/svg" class="cut-drawing"' in answer.content.decode()
    assert "cut off" in page
    assert "MILL-6 mill-6 Mill 1" in page
    assert "Harden: harden" in page


def test_bench_sheet_of_a_finished_batch_is_gone(viewer_client, shop):
    batch = make.in_work(shop.knife)
    actions.finish_batch(batch=batch, day=make.DAY)
    read(viewer_client, f"/batches/{batch.number}/sheet/", status=404)


# The list, and who may do what


def test_list_finds_batches_by_product_and_state(viewer_client, shop):
    first = make.plan(shop.knife)
    second = make.plan(make.simple_knife("NECK", make.line(shop.screws)))
    assert second.number not in read(viewer_client, "/batches/?q=trail")
    assert first.number in read(viewer_client, "/batches/?q=trail")
    assert first.number not in read(viewer_client, "/batches/?state=finished")


def test_list_asks_the_same_of_the_database_for_many_batches(viewer_client, shop):
    def asked():
        with CaptureQueriesContext(connection) as seen:
            viewer_client.get("/batches/")
        return len(seen)

    make.plan(shop.knife)
    few = asked()
    for _ in range(8):
        make.plan(shop.knife)
    assert asked() == few


def test_viewer_sees_no_form_and_may_send_none(viewer_client, shop):
    batch = make.plan(shop.knife)
    page = viewer_client.get(f"/batches/{batch.number}/").content.decode()
    assert "Hold everything for it" not in page
    assert "Plan this batch" not in read(viewer_client, ASK + "4")
    for step in ("hold", "release", "start", "count", "finish", "cancel"):
        assert send(viewer_client, f"/batches/{batch.number}/{step}/").status_code == 403
    assert send(viewer_client, "/batches/plan/?product=TRAIL&qty=4").status_code == 403
    assert Batch.objects.get().state == "planned"


def test_batch_that_doesnt_exist_is_not_found(viewer_client, shop):
    read(viewer_client, "/batches/B-9999/", status=404)


def test_start_today_when_no_day_is_named(maker_client, shop):
    batch = make.reserved(shop.knife)
    page = maker_client.get(f"/batches/{batch.number}/start/").content.decode()
    assert f'value="{timezone.localdate().isoformat()}"' in page


def test_shop_without_a_product_is_led_to_its_first(owner_client):
    make.shop()
    page = owner_client.get("/batches/check/").content.decode()
    assert "There is no product to check yet" in page
    assert 'href="/products/new/"' in page


def test_cutter_changed_during_the_batch_is_asked_what_it_did_and_the_rest_goes_on(
    maker_client, shop
):
    batch = make.in_work(shop.knife, 8, start=10)
    old = shop.cutter.fittings.get()
    new = actions.swap(fitting=old, reason="broken", day=make.DAY)
    page = read(maker_client, f"/batches/{batch.number}/finish/")
    assert "how much did the one before do?" in page
    assert finish(maker_client, batch).status_code == 422
    assert finish(maker_client, batch, **{f"gone-{old.pk}": "31,5"}).status_code == 302
    lives = {one.label: one.life_used for one in shop.cutter.fittings.all()}
    assert lives == {old.label: Decimal("31.5"), new.label: Decimal("18.5")}


def test_minutes_of_an_empty_pocket_go_to_the_one_that_was_in_it(maker_client, shop):
    batch = make.in_work(shop.knife, 8, start=10)
    old = actions.remove(fitting=shop.cutter.fittings.get(), reason="worn", day=make.DAY)
    finish(maker_client, batch, **{f"gone-{old.pk}": "50"})
    old.refresh_from_db()
    assert old.life_used == 50


def test_minutes_that_no_cutter_takes_are_named(maker_client, shop):
    actions.remove(fitting=shop.cutter.fittings.get(), reason="worn", day=make.days(-1))
    batch = make.in_work(shop.knife, 8, start=10)
    words = "logged on none: MILL-6, 50 min"
    assert words in read(maker_client, f"/batches/{batch.number}/finish/")
    finish(maker_client, batch)
    said = read(maker_client, f"/batches/{batch.number}/")
    assert "Not logged, because none is fitted: MILL-6, 50 min." in said


def test_finish_page_of_a_batch_that_hasnt_begun_opens(maker_client, shop):
    batch = make.plan(shop.knife)
    assert maker_client.get(f"/batches/{batch.number}/finish/").status_code == 200
