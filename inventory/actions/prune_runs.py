"""Old forecast runs deleted; what the list compares with and what is still to be scored stays."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db.models import Max

from inventory.actions.request import action
from inventory.actions.score_forecasts import LATE_ENTRIES
from inventory.models import ForecastRun, Shop

EIGHT_WEEKS = 56
BESIDE_A_LOOK = 7


@action
def prune_runs(*, day: date) -> int:
    """Delete whole and failed runs that nothing needs any more; return how many whole ones stay.

    Kept are the newest two, the last run of each day until two looks at the list ago or so, and of
    each week the first of these until its last weeks are scored: runs of neighbouring days are
    judged on nearly the same days and say nothing more.
    """
    whole = ForecastRun.objects.filter(state=ForecastRun.State.DONE)
    longest = dict(whole.order_by().values_list("pk").annotate(Max("items__lead_mean_days")))
    runs = list(whole.order_by("-as_of", "-pk").only("pk", "as_of"))
    kept = _needed(runs, longest, day)
    ForecastRun.objects.exclude(pk__in=kept).exclude(state__in=ForecastRun.OPEN).delete()
    return len(kept)


def _needed(runs: Sequence[ForecastRun], longest: dict[int, float | None], day: date) -> set[int]:
    """Ids out of whole runs, the newest first."""
    recent = day - timedelta(days=2 * Shop.objects.get().review_days + BESIDE_A_LOOK)
    of_day: dict[date, ForecastRun] = {}
    for run in runs:
        of_day.setdefault(run.as_of, run)
    of_week = {run.as_of.isocalendar()[:2]: run for run in of_day.values()}  # the earliest stays
    kept = {run.pk for run in of_day.values() if run.as_of >= recent}
    for run in of_week.values():
        last = run.as_of + timedelta(days=max(EIGHT_WEEKS, longest[run.pk] or 0) + BESIDE_A_LOOK)
        if last + LATE_ENTRIES >= day:
            kept.add(run.pk)
    return kept | {run.pk for run in runs[:2]}
