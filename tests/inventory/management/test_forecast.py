"""manage.py forecast, by hand, at night, and as the process that a page starts."""

import time

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from inventory.actions.forecast_runs import queue_run
from inventory.actions.start_forecast import start_process
from inventory.models import ForecastRun
from tests import factories as make

STATE = ForecastRun.State


@pytest.mark.django_db
def test_run_says_what_it_foretold(capsys):
    make.knife_shop()
    call_command("forecast", seed=3)
    run = ForecastRun.objects.get()
    assert (run.seed, run.as_of) == (3, timezone.localdate())
    assert f"Forecast of {run.as_of}: 1 products, 6 items" in capsys.readouterr().out


@pytest.mark.django_db
def test_refusal_is_one_sentence():
    with pytest.raises(CommandError, match="There is no shop yet"):
        call_command("forecast")
    with pytest.raises(CommandError, match="There is no run 7. Leave --run out"):
        call_command("forecast", run=7)


@pytest.mark.slow
def test_page_starts_the_same_command_in_a_process_of_its_own(other_processes):
    make.knife_shop()
    run = queue_run(as_of=timezone.localdate())
    start_process(run)
    until = time.monotonic() + 60
    while run.state in ForecastRun.OPEN and time.monotonic() < until:
        time.sleep(0.2)
        run.refresh_from_db()
    assert run.state == STATE.DONE, (run.trouble, (other_processes / "forecast.log").read_text())
    assert run.items.count() == 6
