"""manage.py forecast, by hand, at night, and as the process that a page starts."""

import os
import subprocess
import sys
import time

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.utils import timezone

from inventory.actions.forecast_runs import DIED, queue_run, settle_open_run
from inventory.actions.start_forecast import start_process
from inventory.models import ForecastRun, ItemForecast
from inventory.queries.forecast_inputs import latest_run
from tests import factories as make

STATE = ForecastRun.State
PATIENCE = 60


@pytest.mark.django_db
def test_run_says_what_it_foretold(capsys):
    make.knife_shop()
    call_command("forecast", seed=3)
    run = ForecastRun.objects.get()
    assert (run.seed, run.as_of) == (3, timezone.localdate())
    said = capsys.readouterr().out
    assert f"Forecast of {run.as_of}: 1 products, 6 items" in said
    assert "1 run(s) kept" in said


@pytest.mark.django_db
def test_refusal_is_one_sentence():
    with pytest.raises(CommandError, match="There is no shop yet"):
        call_command("forecast")
    with pytest.raises(CommandError, match="There is no run 7. Leave --run out"):
        call_command("forecast", run=7)


def wait_while(run, states):
    until = time.monotonic() + PATIENCE
    while run.state in states and time.monotonic() < until:
        time.sleep(0.1)
        run.refresh_from_db()


@pytest.mark.slow
def test_page_starts_the_same_command_in_a_process_of_its_own(other_processes):
    make.knife_shop()
    run = queue_run(as_of=timezone.localdate())
    start_process(run)
    wait_while(run, ForecastRun.OPEN)
    assert run.state == STATE.DONE, (run.trouble, (other_processes / "forecast.log").read_text())
    assert run.items.count() == 6


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL")
def test_killed_run_leaves_the_old_list_and_is_marked_failed_on_the_next_look(other_processes):
    make.knife_shop()
    old = ForecastRun.objects.create(as_of=make.DAY, horizon_weeks=26, paths=2000, seed=1)
    run = queue_run(as_of=timezone.localdate())
    command = [sys.executable, settings.BASE_DIR / "manage.py", "forecast", "--run", str(run.pk)]
    with subprocess.Popen(command) as process:
        wait_while(run, [STATE.QUEUED])
        assert settle_open_run() == run
        process.kill()
    assert settle_open_run() is None
    run.refresh_from_db()
    assert (run.state, run.trouble) == (STATE.FAILED, DIED)
    assert latest_run() == old
    assert not ItemForecast.objects.exists()
    assert queue_run(as_of=timezone.localdate())
