"""Recalculating starts a run in the background; the pages say how far it is."""

import sys
import uuid

import pytest
from django.utils import timezone

from inventory.actions import start_forecast as starting
from inventory.actions.forecast_runs import fail_run, queue_run
from inventory.models import ForecastRun
from tests import factories as make

pytestmark = pytest.mark.django_db
STATE = ForecastRun.State
PAGES = pytest.mark.parametrize("page", ["/reorder/", "/forecast/"])


@pytest.fixture
def shop():
    make.shop()
    return make.offer(make.screws())


@pytest.fixture
def started(monkeypatch):
    """Runs whose process would have been started."""
    runs = []
    monkeypatch.setattr(starting, "start_process", runs.append)
    return runs


def whole_run():
    day = timezone.localdate()
    return ForecastRun.objects.create(as_of=day, horizon_weeks=26, paths=2000, seed=1)


def recalculate(client, callbacks, to="", key=None):
    with callbacks(execute=True):
        return client.post(f"/forecast/update/{to}", {"key": key or uuid.uuid4()})


@pytest.mark.parametrize(("to", "page"), [("", "/reorder/"), ("?to=forecast", "/forecast/")])
def test_recalculating_starts_a_process_and_leads_back(
    maker_client, maker, shop, started, django_capture_on_commit_callbacks, to, page
):
    answer = recalculate(maker_client, django_capture_on_commit_callbacks, to)
    run = ForecastRun.objects.get()
    assert (answer.url, started) == (page, [run])
    assert (run.state, run.by, run.as_of) == (STATE.QUEUED, maker, timezone.localdate())


def test_double_tap_starts_one_process(
    maker_client, shop, started, django_capture_on_commit_callbacks
):
    key = uuid.uuid4()
    for _ in range(2):
        assert recalculate(maker_client, django_capture_on_commit_callbacks, key=key).url
    assert len(started) == 1


def test_second_run_beside_the_first_is_refused_in_a_sentence(
    maker_client, shop, started, django_capture_on_commit_callbacks
):
    for status in (302, 422):
        answer = recalculate(maker_client, django_capture_on_commit_callbacks)
        assert answer.status_code == status
    assert "A forecast is being worked out already" in answer.content.decode()
    assert len(started) == 1


def test_process_that_can_not_be_started_is_told(
    maker_client, shop, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    recalculate(maker_client, django_capture_on_commit_callbacks)
    page = maker_client.get("/reorder/").content.decode()
    assert "No process could be started for it" in page


def test_viewer_may_not_recalculate(viewer_client, shop):
    assert viewer_client.post("/forecast/update/", {"key": uuid.uuid4()}).status_code == 403


@PAGES
def test_page_shows_how_far_the_run_is_and_keeps_the_old_list(viewer_client, shop, page):
    whole_run()
    queue_run(as_of=timezone.localdate())
    ForecastRun.objects.filter(state=STATE.QUEUED).update(progress=40)
    shown = viewer_client.get(page).content.decode()
    assert "40 % of it is done" in shown
    assert '<progress max="100" value="40"' in shown
    assert f"What stands here is the one of {timezone.localdate():%-d %b %Y}" in shown
    assert f'<noscript><p><a href="{page}">' in shown


@PAGES
def test_page_says_why_the_last_run_failed_until_one_is_whole(viewer_client, shop, page):
    fail_run(run=queue_run(as_of=timezone.localdate()), trouble="It broke off: the disk is full")
    assert "the disk is full" in viewer_client.get(page).content.decode()
    whole_run()
    assert "the disk is full" not in viewer_client.get(page).content.decode()


def test_bar_turns_into_the_way_to_the_new_list(viewer_client, shop):
    run = queue_run(as_of=timezone.localdate())
    asked = {"data": {"run": run.pk}, "headers": {"HX-Request": "true"}}
    assert "<progress" in viewer_client.get("/forecast/run/", **asked).content.decode()
    ForecastRun.objects.update(state=STATE.DONE, seconds=3.2)
    asked["headers"]["HX-Current-URL"] = "http://testserver/forecast/?q=bar"
    part = viewer_client.get("/forecast/run/", **asked).content.decode()
    assert "<progress" not in part
    assert (
        'The new forecast is whole; it took 3.2 s. <a class="button" href="/forecast/?q=bar">'
        in part
    )


def test_bar_asked_for_without_a_run_is_empty(viewer_client, shop):
    assert not viewer_client.get("/forecast/run/").content.strip()
    assert not viewer_client.get("/forecast/run/?run=²").content.strip()
