"""A replay is whole or counts for nothing; the one before stays."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import actions
from inventory.actions import PastRow
from inventory.actions import replay_past as playing
from inventory.actions.replay_past import (
    play_queued,
    queue_replay,
    replay_past,
    settle_open_replay,
)
from inventory.errors import Refused
from inventory.models import ReplayRun
from inventory.queries.replays import PlayedPast, failed_replay, latest_replay, open_replay
from tests import factories as make

pytestmark = pytest.mark.django_db
STATE = ReplayRun.State


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def shop():
    return make.knife_shop()


@pytest.fixture
def quick(monkeypatch):
    """What is played takes no time."""
    monkeypatch.setattr(playing, "play_past", lambda day: PlayedPast({"day": str(day)}, 1.5))


def built_every(weeks, product, day, since=80):
    rows = [PastRow(product, day - timedelta(weeks=ago), 6, 6) for ago in range(2, since, weeks)]
    actions.record_past_builds(rows=rows)


def test_shop_with_builds_is_played_and_stored(shop, today):
    built_every(3, shop.knife, today)
    run = replay_past(as_of=today)
    assert (run.state, run.as_of) == (STATE.DONE, today)
    assert latest_replay() == run
    result = run.result
    assert (result["currency"], result["items"]) == ("EUR", 4)
    assert result["without_cost"] == ["PLASTIC-2", "SHEET-6"]
    assert 0 < result["as_set"]["fill"] <= 1
    assert len(result["rules"]) == len(result["saved"]) + 1 == 4
    fills = [row["fill"] for row in result["least_served"]]
    assert fills == sorted(fills)
    assert all(fill < 0.95 for fill in fills)


def test_replay_says_who_asked_for_it(shop, quick, maker, today):
    assert replay_past(as_of=today, by=maker).by == maker


def test_second_one_beside_the_first_is_refused(shop, today):
    queue_replay(as_of=today)
    with pytest.raises(Refused, match="being played again already"):
        queue_replay(as_of=today)
    assert ReplayRun.objects.count() == 1


def test_one_that_breaks_off_says_why_and_the_last_whole_one_stays(shop, quick, today, monkeypatch):
    whole = replay_past(as_of=today)
    monkeypatch.setattr(playing, "play_past", lambda day: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        replay_past(as_of=today)
    assert latest_replay() == whole
    assert "ZeroDivisionError" in failed_replay().trouble
    assert open_replay() is None


def test_one_whose_process_died_makes_room_for_the_next(shop, quick, today):
    dead = queue_replay(as_of=today)
    ReplayRun.objects.filter(pk=dead.pk).update(
        state=STATE.RUNNING, made_at=timezone.now() - timedelta(minutes=5)
    )
    assert settle_open_replay() is None
    dead.refresh_from_db()
    assert (dead.state, "ended before it was whole" in dead.trouble) == (STATE.FAILED, True)
    assert replay_past(as_of=today).state == STATE.DONE


def test_whole_one_can_not_be_played_once_more(shop, quick, today):
    run = replay_past(as_of=today)
    with pytest.raises(Refused, match="is whole; it can't be begun"):
        play_queued(run=run)
    run.refresh_from_db()
    assert run.state == STATE.DONE


def test_one_given_up_meanwhile_stores_nothing(shop, today, monkeypatch):
    def given_up(day):
        ReplayRun.objects.update(state=STATE.FAILED, trouble="given up")
        return PlayedPast({"day": str(day)}, 1.0)

    monkeypatch.setattr(playing, "play_past", given_up)
    with pytest.raises(Refused, match="was given up before it was whole"):
        replay_past(as_of=today)
    assert latest_replay() is None
    assert ReplayRun.objects.get().result == {}


def test_shop_without_a_name_is_refused(today):
    with pytest.raises(Refused, match="There is no shop yet"):
        replay_past(as_of=today)
    assert not ReplayRun.objects.exists()


def test_shop_without_items_is_refused_in_a_sentence(today):
    make.shop()
    with pytest.raises(Refused, match="nothing to play again yet"):
        replay_past(as_of=today)
    assert failed_replay().trouble.startswith("There is nothing to play again yet")


def test_a_year_of_monthly_replays_is_kept(shop, today, quick):
    runs = [replay_past(as_of=today - timedelta(days=30 * ago)) for ago in reversed(range(14))]
    failed = ReplayRun.objects.create(as_of=today, state=STATE.FAILED, trouble="Stopped.")
    newest = replay_past(as_of=today)
    kept = set(ReplayRun.objects.values_list("pk", flat=True))
    assert kept == {newest.pk, *(run.pk for run in runs[-11:])}
    assert failed.pk not in kept
