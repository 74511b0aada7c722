"""manage.py replay, on a table, on the shop's own past, and as the process that a page starts."""

import json
import time

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from inventory.actions import replay_past as playing
from inventory.actions.replay_past import queue_replay, start_process
from inventory.models import ReplayRun
from inventory.queries.replays import PlayedPast
from tests import factories as make

STATE = ReplayRun.State


@pytest.fixture
def table(tmp_path):
    """Two parts, twelve months, one asked for now and then."""
    path = tmp_path / "spares.csv"
    rows = ["series_id,period,qty"]
    for month in range(1, 13):
        rows += [f"pin,2026-{month:02d},2", f"nut,2026-{month:02d},{4 * (month % 4 == 0)}"]
    path.write_text("\n".join(rows))
    return path


def test_table_needs_no_shop_and_its_answer_is_one_json_object(table, capsys):
    call_command("replay", demand=table, lead_time=2, review=1, json=True)
    printed = capsys.readouterr()
    data = json.loads(printed.out)
    assert (data["series"], data["lead_time"], data["known"]) == (2, 2, 8)
    assert printed.err == ""


def test_table_prints_stock_at_equal_service(table, capsys):
    call_command("replay", demand=table, lead_time=1, known=9)
    printed = capsys.readouterr().out
    assert "Replay of spares.csv" in printed
    assert "9 of 12 periods known, 3 played" in printed
    assert "80%   85%   90%   95%   97%  rule" in " ".join(printed.split("\n"))
    assert "ours: chance of lasting" in printed


def test_table_without_a_lead_time_is_asked_for_it(table):
    with pytest.raises(CommandError, match="Say the lead time in periods"):
        call_command("replay", demand=table)


def test_mistake_in_a_table_is_told_with_its_line(table):
    table.write_text("series_id,period,qty\npin,2026-01,two")
    with pytest.raises(CommandError, match="spares.csv: Line 2: qty must be a number"):
        call_command("replay", demand=table, lead_time=1)


@pytest.mark.django_db
def test_lead_time_without_a_table_is_refused():
    with pytest.raises(CommandError, match="go with --demand"):
        call_command("replay", lead_time=2)


@pytest.mark.django_db
def test_shop_that_is_not_there_is_one_sentence():
    with pytest.raises(CommandError, match="There is no shop yet"):
        call_command("replay")
    with pytest.raises(CommandError, match="There is no replay 7. Leave --run out"):
        call_command("replay", run=7)


@pytest.fixture
def found(monkeypatch):
    shares = {"0.80": None, "0.90": 0.1}
    point = {"knob": 0.95, "fill": 0.97, "stock": 1234.0, "expected_fill": 0.94}
    result = {
        "first_day": "2026-05-11",
        "last_day": "2026-11-22",
        "currency": "EUR",
        "items": 12,
        "unused": 3,
        "without_cost": ["RIVET"],
        "rules": [
            {
                "rule": "simulated futures",
                "knob": "chance",
                "points": [point],
                "stock_at_fill": {"0.80": None, "0.90": 900.5},
            }
        ],
        "saved": [{"against": "guessing", "at_fill": shares | {"0.95": 0.2}}],
        "as_set": {"fill": 0.97, "stock": 1234.0, "expected_fill": 0.94},
        "bend": None,
    }
    monkeypatch.setattr(playing, "play_past", lambda day: PlayedPast(result, 2.0))
    return result


@pytest.mark.django_db
def test_own_past_is_printed_and_stored(found, capsys):
    make.shop()
    call_command("replay")
    printed = capsys.readouterr().out
    assert "Replay of 11 May 2026 to 22 Nov 2026" in printed
    assert "Left out, because no cost is known: RIVET." in printed
    assert "97.0%" in printed
    assert "This is information, not a setting" in printed
    assert ReplayRun.objects.get().result == found


@pytest.mark.django_db
def test_own_past_comes_as_json_with_its_day(found, capsys):
    make.shop()
    call_command("replay", json=True)
    data = json.loads(capsys.readouterr().out)
    assert data == {"as_of": str(timezone.localdate()), "seconds": 2.0, **found}


@pytest.mark.slow
def test_page_starts_the_same_command_in_a_process_of_its_own(other_processes):
    make.knife_shop()
    run = queue_replay(as_of=timezone.localdate())
    start_process(run)
    until = time.monotonic() + 90
    while run.state in ReplayRun.OPEN and time.monotonic() < until:
        time.sleep(0.2)
        run.refresh_from_db()
    assert run.state == STATE.DONE, (run.trouble, (other_processes / "replay.log").read_text())
    assert run.result["rules"] == []
