"""The life of a forecast run: queued, taken up, told how far it is, closed; one at a time."""

from datetime import date
from typing import Any

from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import ForecastRun, Shop, User
from inventory.queries.forecast_inputs import is_anything_bought
from inventory.queries.forecast_runs import is_alive, open_run, this_computer
from inventory.queries.run_lock import drop_lock

HORIZON_WEEKS = 26
PATHS = 2000
STATE = ForecastRun.State
DIED = "Its process ended before it was whole. Start it again; forecast.log of the data folder says more."


@action
def queue_run(*, as_of: date, seed: int = 1, by: User | None = None) -> ForecastRun:
    """A run that waits to be worked out.

    Refuses a second one beside it, and a shop without a name or without items.
    """
    # Locked, so that of two at once one sees the other.
    if Shop.objects.select_for_update().first() is None:
        raise Refused("There is no shop yet. Run python3 manage.py start, then name it.")
    if under_way := settle_open_run():
        raise Refused(
            f"A forecast is being worked out already, {under_way.progress} % of it is done. "
            "Wait until it is whole; until then the list stays as it is."
        )
    if not is_anything_bought():
        raise Refused("There is nothing to forecast yet. Enter items and suppliers first.")
    return ForecastRun.objects.create(
        as_of=as_of,
        state=STATE.QUEUED,
        horizon_weeks=HORIZON_WEEKS,
        paths=PATHS,
        seed=seed,
        by=by,
        computer=this_computer(),
    )


@action
def take_up(*, run: ForecastRun) -> None:
    """Begin a queued run. Refuses one that has begun, was given up, or is whole."""
    waiting = ForecastRun.objects.filter(pk=run.pk, state=STATE.QUEUED)
    if not waiting.update(state=STATE.RUNNING, computer=this_computer()):
        run.refresh_from_db()
        raise Refused(f"The run of {run.as_of} is {run.get_state_display()}; it can't be begun.")
    run.state = STATE.RUNNING


@action
def tell_progress(*, run: ForecastRun, percent: int) -> None:
    """Say how much of a run is done, for the bar on the page."""
    ForecastRun.objects.filter(pk=run.pk, state=STATE.RUNNING).update(progress=percent)


@action
def close_run(*, run: ForecastRun, seconds: float, **rests_on: Any) -> None:
    """The run is whole and counts from now on; `rests_on`: plan_digest, plan and bills.

    Refuses a run that was given up meanwhile.
    """
    mine = ForecastRun.objects.filter(pk=run.pk, state=STATE.RUNNING)
    if not mine.update(state=STATE.DONE, progress=100, seconds=seconds, **rests_on):
        raise Refused(f"The run of {run.as_of} was given up before it was whole. Start it again.")
    run.refresh_from_db()


@action
def fail_run(*, run: ForecastRun, trouble: str) -> None:
    """Close a run that didn't become whole, and say why; the one before goes on counting."""
    mine = ForecastRun.objects.filter(pk=run.pk, state__in=ForecastRun.OPEN)
    mine.update(state=STATE.FAILED, trouble=trouble)


def settle_open_run() -> ForecastRun | None:
    """The run under way; one whose process has died is marked as failed instead."""
    run = open_run()
    if run is None or is_alive(run):
        return run
    fail_run(run=run, trouble=DIED)
    drop_lock(run)
    return None
