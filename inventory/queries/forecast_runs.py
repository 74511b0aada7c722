"""Runs under way, failed and kept."""

import platform
from datetime import timedelta

from django.utils import timezone

from inventory.models import ForecastRun, ReplayRun
from inventory.queries.run_lock import is_held

STATE = ForecastRun.State
STARTS_WITHIN = timedelta(minutes=1)
ELSEWHERE_WITHIN = timedelta(minutes=30)
"""How long a run may take on another computer, whose processes can't be seen from here."""


def open_run() -> ForecastRun | None:
    """The run that waits or is being worked out; there is at most one."""
    return ForecastRun.objects.filter(state__in=ForecastRun.OPEN).first()


def is_alive(run: ForecastRun | ReplayRun) -> bool:
    """Whether somebody works on an open run, or is about to."""
    age = timezone.now() - run.made_at
    if run.computer != this_computer():
        return age < ELSEWHERE_WITHIN
    return is_held(run) or (run.state == STATE.QUEUED and age < STARTS_WITHIN)


def this_computer() -> str:
    return platform.node()[:80]


def failed_since(whole: ForecastRun | None) -> ForecastRun | None:
    """The newest run, when it failed after that whole one."""
    newest = ForecastRun.objects.exclude(state__in=ForecastRun.OPEN).first()
    is_failure = newest is not None and newest.state == STATE.FAILED
    return newest if is_failure and newest != whole else None
