"""A forecast run started in a process of its own, so that no page waits for it."""

import os
import subprocess
import sys
from datetime import date
from threading import Thread
from typing import Any

from django.conf import settings
from django.db import transaction

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
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "forecast"]
    command += ["--run", str(run.pk)]
    try:
        with (settings.DATA_DIR / LOG).open("wb") as log:
            process = subprocess.Popen(
                command,
                cwd=settings.BASE_DIR,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                **_detached(),
            )
    except OSError as error:
        fail_run(run=run, trouble=f"No process could be started for it: {error}.")
        return
    Thread(target=process.wait, daemon=True).start()  # so that no zombie stays behind


def _detached() -> dict[str, Any]:
    if os.name == "nt":
        return {"creationflags": subprocess.DETACHED_PROCESS | subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": True}
