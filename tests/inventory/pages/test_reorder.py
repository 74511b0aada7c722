"""The reorder list says what to order and why, and makes drafts of what is ticked."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import ForecastRun, OrderLine, PurchaseOrder
from tests import factories as make

pytestmark = pytest.mark.django_db


def forecast_run(day=None):
    return make.forecast_run(day or timezone.localdate())


def forecast(run, item, reorder_point=50, **values):
    """Ten a week, as if a run had stored it."""
    return make.item_forecast(run, item, reorder_point=reorder_point, **values)


@pytest.fixture
def due(db):
    """Screws below their reorder point, sold in bags of 100 by a supplier with a fee."""
    item = make.screws()
    make.stock(item, 20)
    supplier = make.supplier(order_fee=9)
    offer = make.offer(item, supplier, price=4, pack_qty=make.D(100), pack_name="bag of 100")
    forecast(forecast_run(), item)
    return offer


def send(client, **values):
    return client.post("/reorder/", {"key": uuid.uuid4(), **values})


def test_without_a_forecast_the_list_says_what_to_do(maker_client, viewer_client):
    make.shop()
    assert "Work it out now" in maker_client.get("/reorder/").content.decode()
    assert "Work it out now" not in viewer_client.get("/reorder/").content.decode()


def test_item_above_its_reorder_point_is_not_to_be_ordered(viewer_client):
    item = make.screws()
    make.stock(item, 500)
    make.offer(item)
    forecast(forecast_run(), item)
    assert "Nothing to order" in viewer_client.get("/reorder/").content.decode()


def test_order_that_may_come_after_stock_runs_out_is_to_be_hastened(viewer_client):
    item = make.screws()
    make.stock(item, 12)
    make.order(make.offer(item), packs=100, day=timezone.localdate())
    forecast(forecast_run(), item)
    page = viewer_client.get("/reorder/").content.decode()
    assert "what is on order may come too late" in page
    assert "ask the supplier for it earlier" in page
    assert "order by" not in page.lower()


def test_draft_that_was_not_sent_is_asked_for(maker_client, due):
    send(maker_client, **{"take": due.pk, f"packs-{due.pk}": "1"})
    page = maker_client.get("/reorder/").content.decode()
    assert "send its draft order" in page
    assert "Enough is on order or drafted" in page


def test_due_item_says_why_and_stands_ticked_under_its_supplier(maker_client, due):
    page = maker_client.get("/reorder/").content.decode()
    assert "20 here and usable; 2 a knife of TRAIL" in page
    assert "(at most 50, 19 times in 20)" in page
    assert "bag of 100" in page
    assert f'value="{due.pk}" aria-label="Order SCREW-M4" checked' in page
    assert "freight and fees 9.00 EUR" in page


def test_item_that_nobody_offers_cannot_be_ticked(maker_client):
    item = make.screws()
    forecast(forecast_run(), item)
    page = maker_client.get("/reorder/").content.decode()
    assert "Nobody offers these" in page
    assert 'name="take"' not in page


def test_ticked_line_becomes_a_draft_of_the_packs_typed(maker_client, due):
    answer = send(maker_client, **{"take": due.pk, f"packs-{due.pk}": "3"})
    line = OrderLine.objects.get()
    assert (line.packs, line.qty, line.order.state) == (3, 300, "draft")
    assert answer.url == line.order.get_absolute_url()


def test_drafted_item_leaves_the_list(maker_client, due):
    send(maker_client, **{"take": due.pk, f"packs-{due.pk}": "1"})
    assert "Nothing to order" in maker_client.get("/reorder/").content.decode()


def test_two_suppliers_get_an_order_each(maker_client, due):
    epoxy = make.epoxy()
    other = make.offer(epoxy, make.supplier("ALDER"), pack_qty=make.D(1000))
    forecast(ForecastRun.objects.get(), epoxy)
    answer = send(
        maker_client,
        take=[due.pk, other.pk],
        **{f"packs-{due.pk}": "1", f"packs-{other.pk}": "2"},
    )
    assert answer.url == "/orders/?state=draft"
    assert {order.supplier.code for order in PurchaseOrder.objects.all()} == {"BRACKEN", "ALDER"}


def test_same_form_sent_twice_drafts_once(maker_client, due):
    values = {"key": uuid.uuid4(), "take": due.pk, f"packs-{due.pk}": "3"}
    for _ in range(2):
        maker_client.post("/reorder/", values)
    assert PurchaseOrder.objects.count() == 1


def test_list_opened_before_somebody_else_ordered_drafts_nothing_twice(maker_client, due):
    opened = maker_client.get("/reorder/").context["seen"]
    wanted = {"take": due.pk, f"packs-{due.pk}": "1"}
    send(maker_client, **wanted, seen=opened)
    answer = send(maker_client, **wanted, seen=opened)
    assert answer.status_code == 422
    assert "Ordered since this list was opened: SCREW-M4 on O-" in answer.content.decode()
    assert PurchaseOrder.objects.count() == 1
    send(maker_client, **wanted, seen=answer.context["seen"])
    assert PurchaseOrder.objects.count() == 2


@pytest.mark.parametrize("seen", ["", "x", "²", "9" * 30])
def test_form_that_does_not_say_what_it_knew_still_drafts(maker_client, due, seen):
    send(maker_client, **{"take": due.pk, f"packs-{due.pk}": "1"}, seen=seen)
    assert PurchaseOrder.objects.count() == 1


@pytest.mark.parametrize(
    "packs", ["0", "-2", "2.5", "a few", "", "²", "9" * 5000], ids=lambda text: text[:5]
)
def test_packs_that_are_no_whole_number_are_refused_and_stay_typed(maker_client, due, packs):
    answer = send(maker_client, **{"take": due.pk, f"packs-{due.pk}": packs})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "is no number of packs" in page
    assert f'value="{packs}" min="1"' in page
    assert not PurchaseOrder.objects.exists()


def test_nothing_ticked_is_refused(maker_client, due):
    answer = send(maker_client)
    assert answer.status_code == 422
    assert "Tick at least one line" in answer.content.decode()


def test_fewer_than_the_minimum_is_refused_in_words(maker_client):
    item = make.screws()
    offer = make.offer(item, minimum_packs=5)
    forecast(forecast_run(), item)
    answer = send(maker_client, **{"take": offer.pk, f"packs-{offer.pk}": "2"})
    assert "sells at least 5" in answer.content.decode()


def test_changed_plan_is_noticed(viewer_client, due):
    make.plan(make.simple_knife(), 4)
    assert (
        "The plan, a bill or the use that is counted has changed"
        in viewer_client.get("/reorder/").content.decode()
    )


def test_old_forecast_is_noticed(viewer_client):
    item = make.screws()
    forecast(forecast_run(timezone.localdate() - timedelta(days=12)), item)
    assert "This forecast is 12 days old" in viewer_client.get("/reorder/").content.decode()


def test_list_comes_as_csv_with_the_reason(viewer_client, due):
    text = b"".join(viewer_client.get("/reorder/?format=csv")).decode()
    assert "Bracken Supply,SCREW-M4,screw-m4,each,20,20,0,0,50" in text
    assert "order by" in text


def test_viewer_reads_but_does_not_order(viewer_client, due):
    page = viewer_client.get("/reorder/").content.decode()
    assert "Draft the ticked orders" not in page
    assert send(viewer_client, **{"take": due.pk, f"packs-{due.pk}": "1"}).status_code == 403
    assert not PurchaseOrder.objects.exists()


def test_list_asks_the_database_the_same_however_long_it_is(
    viewer_client, due, django_assert_max_num_queries
):
    run = ForecastRun.objects.get()
    for number in range(20):
        item = make.screws(f"SCREW-{number}")
        make.offer(item, make.supplier(f"S{number % 5}"))
        forecast(run, item)
    with django_assert_max_num_queries(22):
        viewer_client.get("/reorder/")


def test_item_that_nobody_offers_leads_to_a_new_offer(owner_client):
    forecast(forecast_run(), make.screws())
    page = owner_client.get("/reorder/").content.decode()
    assert "Nobody offers these" in page
    assert 'href="/suppliers/offers/new/"' in page


def put_aside(client, days=14, **values):
    until = timezone.localdate() + timedelta(days=days)
    asked = {"key": uuid.uuid4(), "until": until, **values}
    return client.post("/reorder/SCREW-M4/snooze/", asked)


def shown(client):
    return client.get("/reorder/").content.decode()


def test_line_put_aside_is_counted_with_its_reason_and_brought_back_in_one_tap(maker_client, due):
    answer = put_aside(maker_client, reason="new bags are on the way")
    assert answer.url == "/reorder/"
    page = shown(maker_client)
    assert "1 line put aside" in page
    assert "new bags are on the way" in page
    assert "by maker" in page
    assert f'value="{due.pk}" aria-label="Order SCREW-M4"' not in page
    assert "SCREW-M4 is put aside until" in page
    maker_client.post("/reorder/SCREW-M4/back/", {"key": uuid.uuid4()})
    assert f'value="{due.pk}" aria-label="Order SCREW-M4" checked' in shown(maker_client)


def test_undo_stands_in_the_message(maker_client, due):
    put_aside(maker_client)
    assert '<a class="button" href="/reorder/SCREW-M4/back/">Undo</a>' in shown(maker_client)


def test_day_that_is_not_ahead_is_refused_and_stays_typed(maker_client, due):
    answer = put_aside(maker_client, days=0, reason="later")
    assert answer.status_code == 422
    assert "Choose a day from tomorrow on" in answer.content.decode()
    assert 'value="later"' in answer.content.decode()
    assert "put aside" not in shown(maker_client)


def test_line_that_got_worse_is_back_and_says_so(maker_client, due):
    put_aside(maker_client)
    make.actions.issue_stock(
        item=due.item, qty=make.D(15), day=timezone.localdate(), reason="repair"
    )
    page = shown(maker_client)
    assert "back early" in page
    assert "would run out earlier now" in page


def test_viewer_sees_what_is_put_aside_but_can_not_bring_it_back(maker_client, viewer_client, due):
    put_aside(maker_client)
    page = shown(viewer_client)
    assert "1 line put aside" in page
    assert "Bring it back" not in page
    for address in ("snooze", "back"):
        answer = viewer_client.post(f"/reorder/SCREW-M4/{address}/", {"key": uuid.uuid4()})
        assert answer.status_code == 403


def test_first_forecast_has_nothing_to_compare_with(viewer_client, due):
    assert "This is the first forecast that is kept" in shown(viewer_client)


def test_lines_say_what_changed_and_gone_ones_stand_beneath(viewer_client, due):
    now = ForecastRun.objects.get()
    now.delete()
    before = forecast_run(timezone.localdate() - timedelta(days=7))
    forecast(before, due.item, 25, was_due=False, position_then=80)
    gone = make.epoxy()
    make.stock(gone, 500)
    forecast(before, gone, was_due=True, position_then=10)
    after = forecast_run()
    forecast(after, due.item, 50)
    forecast(after, gone, 50)
    page = shown(viewer_client)
    assert "stock and orders fell from 80 to 20; reorder point up from 25 to 50" in page
    assert "No longer on the list" in page
    assert "stock grew from 10 g to 500 g" in page
    text = b"".join(viewer_client.get("/reorder/?format=csv")).decode()
    assert "new on the list; stock and orders fell from 80 to 20" in text


def test_another_run_can_be_compared_with(viewer_client, due):
    ForecastRun.objects.all().delete()
    today = timezone.localdate()
    runs = [forecast_run(today - timedelta(days=back)) for back in (7, 1, 0)]
    for run, point in zip(runs, (60, 80, 100), strict=True):
        forecast(run, due.item, point, position_then=20, was_due=True)
    page = shown(viewer_client)
    assert "reorder point up from 60 to 100" in page
    assert f'<a href="?since={runs[1].pk}">' in page
    other = viewer_client.get(f"/reorder/?since={runs[1].pk}").content.decode()
    assert "reorder point up from 80 to 100" in other


def test_last_buy_stands_on_the_list_until_its_end_is_covered(maker_client):
    today = timezone.localdate()
    screws = make.screws(status="last_buy", needed_until=today + timedelta(days=140))
    make.stock(screws, 120)
    make.offer(screws, pack_qty=make.D(20))
    forecast(forecast_run(), screws)
    page = maker_client.get("/reorder/").content.decode()
    assert "last buy" in page
    assert "6 make" in page


def test_last_buy_without_a_day_asks_for_it(maker_client):
    screws = make.screws(status="last_buy")
    make.offer(screws)
    forecast(forecast_run(), screws)
    assert "Say until when it is needed" in maker_client.get("/reorder/").content.decode()
