"""A forecast run: whole or not at all, one at a time, and the old list stays until the new is whole."""

import os
from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.actions import update_forecast as running
from inventory.actions.forecast_runs import DIED, queue_run, settle_open_run, take_up
from inventory.actions.update_forecast import update_forecast, work_out_run
from inventory.errors import Refused
from inventory.models import ForecastRun, Item, ItemForecast, ProductForecast
from inventory.queries.forecast_inputs import latest_run
from inventory.queries.forecast_runs import STARTS_WITHIN, failed_since, open_run
from inventory.queries.run_lock import held, is_held
from tests import factories as make
from tests.factories import days

pytestmark = pytest.mark.django_db
STATE = ForecastRun.State


@pytest.fixture
def shop():
    knives = make.knife_shop()
    make.offer(knives.screws)
    make.plan(knives.knife, 10, days(5))
    return knives


def long_ago(run, age=STARTS_WITHIN * 2):
    ForecastRun.objects.filter(pk=run.pk).update(made_at=timezone.now() - age)


def stored():
    return ItemForecast.objects.count(), ProductForecast.objects.count()


def test_whole_run_counts_and_says_what_it_rests_on(shop):
    run = update_forecast(as_of=make.DAY)
    assert (run.state, run.progress) == (STATE.DONE, 100)
    assert latest_run() == run
    assert list(run.plan.values()) == [{"TRAIL": shop.knife.batch_lines.get().start_qty}]
    assert run.bills == {"TRAIL": 1, "BLOCK": 1, "SHEATH": 1}
    assert run.items.filter(item=shop.screws).exists()
    assert not is_held(run)


@pytest.mark.parametrize(
    "broken", ["_read_records", "_play_through", "_store_items", "class_items"]
)
def test_run_that_breaks_off_leaves_the_old_one_whole_and_counting(shop, monkeypatch, broken):
    old = update_forecast(as_of=make.DAY)
    before = stored()

    def break_off(*_, **__):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(running, broken, break_off)
    with pytest.raises(RuntimeError, match="the disk is full"):
        update_forecast(as_of=days(1))
    assert latest_run() == old
    assert stored() == before
    failed = failed_since(old)
    assert failed.as_of == days(1)
    assert failed.trouble == "It broke off: RuntimeError, the disk is full"
    assert open_run() is None


def test_run_that_is_stopped_says_so(shop, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(running, "_play_through", stop)
    with pytest.raises(KeyboardInterrupt):
        update_forecast(as_of=make.DAY)
    assert failed_since(None).trouble == "It was stopped."


def test_failure_is_over_with_the_next_whole_run(shop, monkeypatch):
    with monkeypatch.context() as broken:
        broken.setattr(running, "_play_through", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            update_forecast(as_of=make.DAY)
    assert failed_since(update_forecast(as_of=make.DAY)) is None


def test_run_under_way_counts_for_nothing(shop):
    old = update_forecast(as_of=make.DAY)
    run = queue_run(as_of=days(1))
    take_up(run=run)
    assert latest_run() == old


def test_progress_only_grows(shop, monkeypatch):
    seen = []

    def note(function):
        def told(*args, **asked):
            seen.append(ForecastRun.objects.get(state=STATE.RUNNING).progress)
            return function(*args, **asked)

        return told

    for step in ("_read_records", "_play_through", "_store"):
        monkeypatch.setattr(running, step, note(getattr(running, step)))
    update_forecast(as_of=make.DAY)
    assert seen == sorted(seen)
    assert seen[-1] == running.IMAGINED


def test_two_at_once_are_refused(shop):
    queue_run(as_of=make.DAY)
    with pytest.raises(Refused, match="being worked out already, 0 % of it is done"):
        update_forecast(as_of=make.DAY)
    assert ForecastRun.objects.count() == 1


def test_run_is_worked_out_once(shop):
    run = work_out_run(run=queue_run(as_of=make.DAY))
    with pytest.raises(Refused, match="is whole; it can't be begun"):
        work_out_run(run=run)
    assert latest_run() == run


def test_run_whose_process_holds_its_lock_is_alive_however_old(shop):
    run = queue_run(as_of=make.DAY)
    long_ago(run, timedelta(days=1))
    with held(run):
        assert settle_open_run() == run


def test_run_whose_process_died_is_marked_failed_on_the_next_look(shop):
    run = queue_run(as_of=make.DAY)
    take_up(run=run)
    assert settle_open_run() is None
    run.refresh_from_db()
    assert (run.state, run.trouble) == (STATE.FAILED, DIED)
    update_forecast(as_of=make.DAY)


def test_queued_run_has_some_time_to_begin(shop):
    run = queue_run(as_of=make.DAY)
    assert settle_open_run() == run
    long_ago(run)
    assert settle_open_run() is None


@pytest.mark.skipif(os.name == "nt", reason="no fork")
def test_lock_ends_with_the_process_that_held_it(shop):
    run = queue_run(as_of=make.DAY)
    child = os.fork()
    if not child:
        with held(run):
            os._exit(0)
    os.waitpid(child, 0)
    assert not is_held(run)


def test_run_on_another_computer_is_given_half_an_hour(shop):
    run = queue_run(as_of=make.DAY)
    ForecastRun.objects.update(state=STATE.RUNNING, computer="attic")
    assert settle_open_run() == run
    long_ago(run, timedelta(minutes=31))
    assert settle_open_run() is None


def test_run_given_up_meanwhile_stores_nothing(shop, monkeypatch):
    play = running._play_through

    def outlive(*args):
        ForecastRun.objects.update(state=STATE.FAILED)
        return play(*args)

    monkeypatch.setattr(running, "_play_through", outlive)
    with pytest.raises(Refused, match="was given up before it was whole"):
        update_forecast(as_of=make.DAY)
    assert stored() == (0, 0)


def test_without_a_shop_or_items_nothing_is_queued():
    with pytest.raises(Refused, match="There is no shop yet"):
        queue_run(as_of=make.DAY)
    make.shop()
    make.service()
    with pytest.raises(Refused, match="nothing to forecast yet"):
        queue_run(as_of=make.DAY)
    Item.objects.all().delete()
    assert not ForecastRun.objects.exists()


def test_real_use_of_batches_is_learned_once_in_a_run(shop, monkeypatch):
    from inventory.queries import usage

    calls, learn = [], usage.learned_by_item

    def count(day):
        calls.append(day)
        return learn(day)

    monkeypatch.setattr(usage, "learned_by_item", count)
    update_forecast(as_of=make.DAY)
    assert calls == [make.DAY]


def test_reorder_point_of_what_is_counted_is_a_whole_number(shop):
    run = update_forecast(as_of=make.DAY)
    points = run.items.filter(item__stock_unit="each").values_list("reorder_point", flat=True)
    assert points
    assert all(point == int(point) for point in points)
