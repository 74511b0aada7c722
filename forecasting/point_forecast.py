"""Weekly level per series: models of statsforecast, compared per demand class on past weeks."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.classify import demand_pattern
from forecasting.model_choice import Judged, judge, judge_sums, origins
from forecasting.point_models import AVERAGE, SMOOTHED, expected_sums

__all__ = ["WEEKS_AHEAD", "Level", "Rival", "weekly_levels"]

WEEKS_AHEAD, ORIGINS, STEP = 8, 4, 4
WEEKS_TO_COMPARE = WEEKS_AHEAD + STEP * (ORIGINS - 1) + 8
FEWEST_WEEKS = 8

EVERY_WEEK = (SMOOTHED, "quickly smoothed level", AVERAGE)
NOW_AND_THEN = ("interval and size (SBA)", "chance and size (TSB)", AVERAGE)
CANDIDATES = {
    "smooth": EVERY_WEEK,
    "erratic": EVERY_WEEK,
    "intermittent": NOW_AND_THEN,
    "lumpy": NOW_AND_THEN,
}


@dataclass(frozen=True)
class Rival:
    """A method to compare with: its name and its totals of the next weeks per series."""

    name: str
    totals_after: Callable[[pd.Timestamp], dict[Hashable, float]]


@dataclass(frozen=True)
class Level:
    """Demand per week by the best weekly model of the class.

    scores: loss of every model compared, see model_choice.Judged, over the class; empty when
    history was too short to compare.
    """

    demand_class: str
    model: str
    per_week: float
    scores: dict[str, float]


def weekly_levels(
    weekly: pd.DataFrame, key: str, rival: Rival | None = None
) -> dict[Hashable, Level]:
    """Level of each series by the weekly model that did best for its class.

    Best is the least quantile loss of the eight-week total, each model with the same distribution
    around its mean: that is what the shelf feels. Comparing per class, not per series: with few
    demands in a series its own winner is luck. Series of fewer than 28 weeks known, and classes
    without a longer one, take their plain average.
    Args: rival: expected totals of the WEEKS_AHEAD weeks after a day, as known on that day, by a
        method outside this module; scored with the others under its name, never chosen here.
    Shapes: weekly as returned by forecasting.demand.weekly_demand, qty NaN where not known.
    Source: Croston (1972); Syntetos & Boylan (2005); Teunter, Syntetos & Babai (2011), computed
        by statsforecast.
    Checked in: tests/published/test_intermittent_demand.py
    """
    series = {name: rows["qty"].to_numpy() for name, rows in weekly.groupby(key, sort=False)}
    classes = {name: demand_pattern(values).name for name, values in series.items()}
    levels = {name: _average(classes[name], values) for name, values in series.items()}
    if weekly.empty:
        return levels
    last_monday = weekly["week"].max()
    for demand_class, models in CANDIDATES.items():
        long_enough = {
            name: values
            for name, values in series.items()
            if classes[name] == demand_class and np.isfinite(values).sum() >= WEEKS_TO_COMPARE
        }
        if long_enough:
            best = _best_of_class(long_enough, models, last_monday, rival)
            for name, (model, per_week, scores) in best.items():
                levels[name] = Level(demand_class, model, per_week, scores)
    return levels


def _average(demand_class: str, values: np.ndarray) -> Level:
    weeks = max(int(np.isfinite(values).sum()), FEWEST_WEEKS)
    return Level(demand_class, AVERAGE, float(np.nansum(values)) / weeks, {})


def _best_of_class(
    series: dict[Hashable, np.ndarray],
    models: Sequence[str],
    last_monday: pd.Timestamp,
    rival: Rival | None,
) -> dict[Hashable, tuple[str, float, dict[str, float]]]:
    """Model, level and scores of every series, all by the model that was best for them together.

    None when too many weeks of all of them are not known to judge any.
    """
    names, qty = list(series), _ending_together(list(series.values()))
    known_at = origins(qty.shape[1], WEEKS_AHEAD, ORIGINS, STEP)
    every = np.arange(len(names))
    scores = judge(qty, models, WEEKS_AHEAD, known_at).scores(every)
    if not scores:
        return {}
    best = min(scores, key=lambda model: scores[model])
    if rival is not None:
        scores |= _judged_rival(rival, names, qty, known_at, last_monday).scores(every)
    ahead = expected_sums(qty, [best], 1)[:, 0]
    return {name: (best, float(level), scores) for name, level in zip(names, ahead, strict=True)}


def _ending_together(series: list[np.ndarray]) -> np.ndarray:
    """One row a series, the last week in the last column; NaN before a series begins."""
    qty = np.full((len(series), max(map(len, series))), np.nan)
    for row, values in enumerate(series):
        qty[row, qty.shape[1] - len(values) :] = values
    return qty


def _judged_rival(
    rival: Rival,
    names: list[Hashable],
    qty: np.ndarray,
    known_at: Sequence[int],
    last_monday: pd.Timestamp,
) -> Judged:
    def sums(place: int, rows: np.ndarray) -> np.ndarray:
        weeks_back = qty.shape[1] - known_at[place]
        sunday = last_monday - pd.Timedelta(weeks=weeks_back) + pd.Timedelta(days=6)
        expected = rival.totals_after(sunday)
        return np.array([[expected.get(names[row], 0.0)] for row in rows]).reshape(-1, 1)

    return judge_sums(qty, [rival.name], WEEKS_AHEAD, known_at, sums)
