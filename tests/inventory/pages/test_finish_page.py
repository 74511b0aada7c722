"""What a batch really took: proposed by its bill, corrected by the maker, and what each knife cost."""

import uuid
from decimal import Decimal

import pytest

from inventory import actions
from inventory.models import Batch, Movement, WearLog
from tests import factories as make
from tests.visit import read, send

pytestmark = pytest.mark.django_db


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
