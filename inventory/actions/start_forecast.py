"""A forecast run started in a process of its own, so that no page waits for it."""

from datetime import date

from django.db import transaction

from inventory.actions.background import start_command
from inventory.actions.forecast_runs import fail_run, queue_run
from inventory.actions.request import action
from inventory.models import ForecastRun, User

LOG = "forecast.log"


@action
def start_forecast(*, as_of: date, by: User | None = None) -> ForecastRun:
    """Queue a run and start its process as soon as the run is on record. Refuses as queue_run does."""
    run = queue_run(as_of=as_of, by=by)
    transaction.on_commit(lambda: start_process(run))
    return run


def start_process(run: ForecastRun) -> None:
    """Start `manage.py forecast --run` detached from this process, which may end before it."""
    try:
        start_command("forecast", "--run", str(run.pk), log=LOG)
    except OSError as error:
        fail_run(run=run, trouble=f"No process could be started for it: {error}.")
