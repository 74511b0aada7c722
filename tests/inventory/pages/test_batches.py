"""A batch from its plan to its bench sheet, through the pages a maker uses."""

import uuid
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import actions
from inventory.models import Batch, Reservation, StageCount
from tests import factories as make
from tests.visit import read, send, words

pytestmark = pytest.mark.django_db

ASK = "/batches/check/?product=TRAIL&qty="


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
