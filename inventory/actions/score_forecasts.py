"""Stored forecasts against what was used, as soon as their weeks have passed."""

from collections.abc import Iterator
from datetime import date, timedelta

from django.db.models import Max

from inventory.actions.request import action
from inventory.models import ForecastRun, ForecastScore, ItemForecast
from inventory.queries.ledger_use import (
    UseRecord,
    first_day_of_ledger,
    stock_records,
    use_records,
)

AHEAD = ForecastScore.Ahead
LATE_ENTRIES = timedelta(days=3)
"""What was used is often entered a little later."""

YEAR = timedelta(days=365)
CHANCES = {"q05": 0.05, "q50": 0.5, "q80": 0.8, "q95": 0.95}


@action
def score_forecasts(*, day: date) -> int:
    """Score every whole run whose weeks are over on that day; return how many scores were added.

    Once for each item, day of the forecast and stretch. What was neither expected nor used isn't
    scored. A stretch in which none was on hand for a week is marked.
    """
    scores = list(_due_scores(day))
    if not scores:
        return 0
    _fill_in(scores)
    scores = [score for score in scores if score.q95 or score.used]
    _rate(scores)
    _tell_apart(scores)
    ForecastScore.objects.bulk_create(scores)
    return len(scores)


def weeks_to(days: float, forecast: ItemForecast, as_of: date) -> tuple[date, list]:
    """The Sunday nearest to so many days after the forecast, and the figures up to it."""
    ends = [date.fromisoformat(week[0]) + timedelta(days=6) for week in forecast.weeks]
    end = min(ends, key=lambda end: abs((end - as_of).days - days))
    return end, forecast.weeks[ends.index(end)][1:]


def _due_scores(day: date) -> Iterator[ForecastScore]:
    whole = ForecastRun.objects.filter(state=ForecastRun.State.DONE, as_of__lt=day - LATE_ENTRIES)
    runs = list(whole.order_by("-pk"))
    scored = ForecastScore.objects.filter(as_of__in={run.as_of for run in runs})
    known = set(scored.values_list("item", "as_of", "ahead"))
    for run in runs:
        for forecast in run.items.only("item", "weeks", "lead_mean_days"):
            for ahead, days in _stretches(forecast):
                end, figures = weeks_to(days, forecast, run.as_of)
                key = (forecast.item_id, run.as_of, ahead)
                if run.as_of < end <= day - LATE_ENTRIES and key not in known:
                    known.add(key)
                    yield _score(*key, end, figures)


def _stretches(forecast: ItemForecast) -> list[tuple[str, float]]:
    if not forecast.weeks:
        return []
    return [
        (AHEAD.FOUR_WEEKS, 28),
        (AHEAD.EIGHT_WEEKS, 56),
        (AHEAD.LEAD_TIME, forecast.lead_mean_days),
    ]


def _score(item: int, as_of: date, ahead: str, until: date, figures: list) -> ForecastScore:
    mean, q05, q50, q80, q95 = figures
    return ForecastScore(
        item_id=item,
        as_of=as_of,
        ahead=ahead,
        until=until,
        mean=mean,
        q05=q05,
        q50=q50,
        q80=q80,
        q95=q95,
    )


def _fill_in(scores: list[ForecastScore]) -> None:
    """What was used, whether it ran out, and the scale, from the ledger."""
    earliest = min(score.as_of for score in scores)
    began = first_day_of_ledger()
    used = use_records(earliest - YEAR, max(score.until for score in scores))
    stock = stock_records({score.item_id for score in scores}, earliest)
    for score in scores:
        record = used.get(score.item_id, UseRecord())
        score.used = round(record.between(score.as_of, score.until), 6)
        score.ran_out = stock[score.item_id].ran_out(score.as_of, score.until)
        score.scale = _scale(record, score, began)


def _scale(record: UseRecord, score: ForecastScore, began: date | None) -> float | None:
    from forecasting.accuracy import usual_change

    length = score.until - score.as_of
    earliest = max(score.as_of - YEAR, began or score.as_of)
    totals, end = [], score.as_of
    while end - length >= earliest:
        totals.append(record.between(end - length, end))
        end -= length
    return usual_change(totals[::-1])


def _rate(scores: list[ForecastScore]) -> None:
    import pandas as pd

    from forecasting.accuracy import scored_totals

    columns = ["mean", *CHANCES, "used", "scale"]
    rows = [[getattr(score, column) for column in columns] for score in scores]
    rated = scored_totals(pd.DataFrame(rows, columns=columns), CHANCES)
    rated = rated.astype(object).where(rated.notna(), None)
    for score, error, loss in zip(scores, rated["error"], rated["loss"], strict=True):
        score.error, score.loss = error, loss


def _tell_apart(scores: list[ForecastScore]) -> None:
    """Mark those that share no day with one marked before: only they may be counted as a sample."""
    marked = ForecastScore.objects.filter(stands_apart=True).order_by()
    ends = marked.values_list("item", "ahead").annotate(Max("until"))
    last = {(item, ahead): until for item, ahead, until in ends}
    for score in sorted(scores, key=lambda score: score.as_of):
        before = last.get((score.item_id, score.ahead))
        if score.is_judged and (before is None or score.as_of >= before):
            score.stands_apart = True
            last[score.item_id, score.ahead] = score.until
