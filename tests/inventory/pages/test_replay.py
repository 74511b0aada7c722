"""The replay as it is read: what was stored, drawn and told; playing again in the background."""

import uuid
from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.actions import replay_past as playing
from inventory.actions.replay_past import queue_replay
from inventory.models import ReplayRun
from tests import factories as make

pytestmark = pytest.mark.django_db
STATE = ReplayRun.State
FILLS = ("0.80", "0.85", "0.90", "0.95", "0.97")


def rule(name, stocks, expected=None):
    points = [
        {"knob": 0.5 + 0.1 * n, "fill": 0.8 + 0.04 * n, "stock": stock, "expected_fill": expected}
        for n, stock in enumerate(stocks)
    ]
    at_fill = dict(zip(FILLS, (None, *stocks), strict=True))
    return {"rule": name, "knob": "chance", "points": points, "stock_at_fill": at_fill}


def found(**changes):
    names = ("normal safety stock", "half a year", "rule of thumb")
    return {
        "first_day": "2026-05-11",
        "last_day": "2026-11-22",
        "currency": "EUR",
        "items": 46,
        "unused": 3,
        "without_cost": ["RIVET"],
        "rules": [
            rule("simulated futures", (1100, 1300, 1600, 2000), 0.93),
            *(rule(name, (1200, 1500, 1900, 2600)) for name in names),
        ],
        "saved": [
            {
                "against": name,
                "at_fill": dict(zip(FILLS, (None, 0.1, 0.12, 0.2, -0.04), strict=True)),
            }
            for name in names
        ],
        "as_set": {"fill": 0.97, "stock": 2100.0, "expected_fill": 0.947},
        "bend": {"chance": 0.9, "fill": 0.95, "stock": 1700},
        "least_served": [],
    } | changes


@pytest.fixture
def shop():
    return make.shop()


@pytest.fixture
def run(shop):
    return ReplayRun.objects.create(
        as_of=timezone.localdate(), state=STATE.DONE, seconds=9.6, result=found()
    )


@pytest.fixture
def started(monkeypatch):
    """Replays whose process would have been started."""
    runs = []
    monkeypatch.setattr(playing, "start_process", runs.append)
    return runs


def page(client):
    return client.get("/forecast/replay/").content.decode()


def test_stored_replay_is_drawn_told_and_listed(viewer_client, run):
    shown = page(viewer_client)
    assert "From 11 May 2026 to 22 Nov 2026, on 46 items" in shown
    assert shown.count("<polyline") == 4
    assert "97 of 100 would have been on the shelf" in shown
    assert "The curve bends at a chance of 90\u202f%" in shown
    assert "This is information, not a setting" in shown
    assert "Left out because no cost is known: RIVET." in shown


def test_expected_share_stands_beside_the_one_that_came(viewer_client, run):
    shown = page(viewer_client)
    assert (
        '<td class="number">50\u202f%</td><td class="number">93\u202f%</td>'
        '<td class="number">80\u202f%</td><td class="number">1\u202f100</td>'
    ) in shown


def test_rivals_money_stands_with_what_ours_needed_against_it(viewer_client, run):
    shown = page(viewer_client)
    assert "(20\u202f% less)" in shown
    assert "(4\u202f% more)" in shown
    assert '<span class="faded">–</span>' in shown


def test_items_served_least_lead_to_their_forecast(viewer_client, run):
    row = {"item": "BAR-4X40", "fill": 0.71, "expected_fill": 0.9, "stock": None, "orders": 3.0}
    ReplayRun.objects.update(result=found(least_served=[row]))
    shown = page(viewer_client)
    assert '<a href="/forecast/items/BAR-4X40/">BAR-4X40</a>' in shown
    assert "71\u202f%" in shown
    assert "cost unknown" in shown


def test_shop_without_a_replay_is_told_how_long_it_takes(maker_client, viewer_client, shop):
    assert "Play it now" in page(maker_client)
    viewed = page(viewer_client)
    assert "It takes about 15 s" in viewed
    assert "Play it now" not in viewed


def test_replay_in_which_nothing_was_used_says_so(viewer_client, run):
    ReplayRun.objects.update(result=found(rules=[], saved=[], as_set=None, bend=None, items=0))
    shown = page(viewer_client)
    assert "there is nothing to compare" in shown
    assert "<polyline" not in shown


def test_shop_that_serves_everything_is_drawn_too(viewer_client, run):
    perfect = {"knob": 0.9, "fill": 1.0, "stock": 10.0, "expected_fill": 1.0}
    rules = [rule("ours", (5, 6, 7, 8)) | {"points": [perfect]} for _ in range(4)]
    stands = {"fill": 1.0, "stock": 10.0, "expected_fill": 1.0}
    ReplayRun.objects.update(result=found(rules=rules, as_set=stands, bend=None))
    assert "<svg" in page(viewer_client)


def test_nothing_on_the_shelf_is_drawn_too(viewer_client, run):
    rules = [rule("ours", (0, 0, 0, 0)) for _ in range(4)]
    ReplayRun.objects.update(result=found(rules=rules))
    assert "<svg" in page(viewer_client)


def test_playing_again_starts_a_process_and_leads_back(
    maker_client, maker, run, started, django_capture_on_commit_callbacks
):
    assert "Play again" in page(maker_client)
    key = uuid.uuid4()
    for _ in range(2):  # a double tap
        with django_capture_on_commit_callbacks(execute=True):
            answer = maker_client.post("/forecast/replay/again/", {"key": key})
        assert answer.url == "/forecast/replay/"
    newest = ReplayRun.objects.first()
    assert started == [newest]
    assert (newest.by, newest.state) == (maker, STATE.QUEUED)


def test_while_it_is_played_the_last_one_stays_and_the_page_looks_again(maker_client, run):
    queue_replay(as_of=timezone.localdate())
    shown = page(maker_client)
    assert "The past is being played again; it takes about 10 s" in shown
    assert 'hx-trigger="every 2s"' in shown
    assert "97 of 100 would have been on the shelf" in shown
    assert "Play again" not in shown


def test_second_one_beside_it_is_refused_in_a_sentence(maker_client, run, started):
    queue_replay(as_of=timezone.localdate())
    answer = maker_client.post("/forecast/replay/again/", {"key": uuid.uuid4()})
    assert answer.status_code == 422
    assert "being played again already" in answer.content.decode()


def test_one_that_broke_off_is_told_beside_the_last_whole_one(viewer_client, run):
    ReplayRun.objects.create(as_of=run.as_of, state=STATE.FAILED, trouble="It was stopped.")
    shown = page(viewer_client)
    assert "didn’t become whole. It was stopped." in shown
    assert "97 of 100 would have been on the shelf" in shown


def test_one_whose_process_died_is_told_on_the_next_look(viewer_client, run):
    dead = ReplayRun.objects.create(as_of=run.as_of, state=STATE.RUNNING)
    ReplayRun.objects.filter(pk=dead.pk).update(made_at=timezone.now() - timedelta(hours=3))
    assert "Its process ended before it was whole" in page(viewer_client)


def test_viewer_may_look_but_not_play(viewer_client, run):
    assert "Play again" not in page(viewer_client)
    answer = viewer_client.post("/forecast/replay/again/", {"key": uuid.uuid4()})
    assert answer.status_code == 403
    assert ReplayRun.objects.count() == 1


def test_forecast_page_leads_here(viewer_client, shop):
    assert 'href="/forecast/replay/"' in viewer_client.get("/forecast/").content.decode()
