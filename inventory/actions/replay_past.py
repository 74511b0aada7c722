"""The shop's past played again and stored: queued, played, whole or failed; one at a time."""

from datetime import date

from django.db import transaction

from inventory.actions.background import start_command
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import ReplayRun, Shop, User
from inventory.queries.forecast_runs import is_alive, this_computer
from inventory.queries.replays import PlayedPast, open_replay, play_past
from inventory.queries.run_lock import drop_lock, held

LOG = "replay.log"
STATE = ReplayRun.State
KEPT = 12
"""Whole replays that stay: a year of them, one a month."""
DIED = "Its process ended before it was whole. Start it again; replay.log of the data folder says more."


@action
def start_replay(*, as_of: date, by: User | None = None) -> ReplayRun:
    """Queue a replay and start its process as soon as it is on record. Refuses as queue_replay does."""
    run = queue_replay(as_of=as_of, by=by)
    transaction.on_commit(lambda: start_process(run))
    return run


def replay_past(*, as_of: date, by: User | None = None) -> ReplayRun:
    """Play the past again in this process and store what it showed. Refuses as queue_replay does.

    Not one transaction: nobody who books something has to wait for it.
    """
    return play_queued(run=queue_replay(as_of=as_of, by=by))


@action
def queue_replay(*, as_of: date, by: User | None = None) -> ReplayRun:
    """A replay that waits to be played. Refuses a second one beside it, and a shop without a name."""
    # Locked, so that of two at once one sees the other.
    if Shop.objects.select_for_update().first() is None:
        raise Refused("There is no shop yet. Run python3 manage.py start, then name it.")
    if settle_open_replay():
        raise Refused("The past is being played again already. Wait until that is whole.")
    return ReplayRun.objects.create(as_of=as_of, by=by, computer=this_computer())


def play_queued(*, run: ReplayRun) -> ReplayRun:
    """Play a queued replay in this process; when that fails it says why and the last whole one stays.

    Refuses one that isn't waiting.
    """
    with held(run):
        _take_up(run=run)
        try:
            return _close(run=run, played=play_past(run.as_of))
        except BaseException as error:
            _fail(run=run, trouble=_trouble(error))
            raise


def settle_open_replay() -> ReplayRun | None:
    """The replay under way; one whose process has died is marked as failed instead."""
    run = open_replay()
    if run is None or is_alive(run):
        return run
    _fail(run=run, trouble=DIED)
    drop_lock(run)
    return None


@action
def _take_up(*, run: ReplayRun) -> None:
    waiting = ReplayRun.objects.filter(pk=run.pk, state=STATE.QUEUED)
    if not waiting.update(state=STATE.RUNNING, computer=this_computer()):
        run.refresh_from_db()
        raise Refused(f"The replay of {run.as_of} is {run.get_state_display()}; it can't be begun.")


@action
def _close(*, run: ReplayRun, played: PlayedPast) -> ReplayRun:
    mine = ReplayRun.objects.filter(pk=run.pk, state=STATE.RUNNING)
    if not mine.update(state=STATE.DONE, result=played.result, seconds=played.seconds):
        raise Refused(
            f"The replay of {run.as_of} was given up before it was whole. Start it again."
        )
    run.refresh_from_db()
    _forget_the_oldest()
    return run


def _forget_the_oldest() -> None:
    ended = ReplayRun.objects.exclude(state__in=ReplayRun.OPEN)
    kept = ended.filter(state=STATE.DONE).order_by("-pk").values_list("pk", flat=True)[:KEPT]
    ended.exclude(pk__in=list(kept)).delete()


@action
def _fail(*, run: ReplayRun, trouble: str) -> None:
    mine = ReplayRun.objects.filter(pk=run.pk, state__in=ReplayRun.OPEN)
    mine.update(state=STATE.FAILED, trouble=trouble)


def start_process(run: ReplayRun) -> None:
    """Start `manage.py replay --run` detached from this process, which may end before it."""
    try:
        start_command("replay", "--run", str(run.pk), log=LOG)
    except OSError as error:
        _fail(run=run, trouble=f"No process could be started for it: {error}.")


def _trouble(error: BaseException) -> str:
    if isinstance(error, Refused):
        return str(error)
    if isinstance(error, KeyboardInterrupt):
        return "It was stopped."
    return f"It broke off: {type(error).__name__}, {error}"[:500]
