"""Weekly level per series: models of statsforecast, compared per demand class on past weeks."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from forecasting.accuracy import scaled_squared_errors
from forecasting.classify import demand_pattern

if TYPE_CHECKING:
    from statsforecast import StatsForecast

__all__ = ["WEEKS_AHEAD", "Level", "Rival", "weekly_levels"]

WEEKS_AHEAD, ORIGINS, STEP = 8, 4, 4
WEEKS_TO_COMPARE = WEEKS_AHEAD + STEP * (ORIGINS - 1) + 8
FEWEST_WEEKS = 8

AVERAGE = "average of all weeks"
CANDIDATES = {
    "smooth": ("smoothed level", "quickly smoothed level", AVERAGE),
    "erratic": ("smoothed level", "quickly smoothed level", AVERAGE),
    "intermittent": ("interval and size (SBA)", "chance and size (TSB)", AVERAGE),
    "lumpy": ("interval and size (SBA)", "chance and size (TSB)", AVERAGE),
}


@dataclass(frozen=True)
class Rival:
    """A method to compare with: its name and its totals of the next weeks per series."""

    name: str
    totals_after: Callable[[pd.Timestamp], dict[Hashable, float]]


@dataclass(frozen=True)
class Level:
    """Demand per week by the best weekly model of the class.

    scores: loss of every model compared, the mean of scaled_squared_errors over the class; empty
    when history was too short to compare.
    """

    demand_class: str
    model: str
    per_week: float
    scores: dict[str, float]


def weekly_levels(
    weekly: pd.DataFrame, key: str, rival: Rival | None = None
) -> dict[Hashable, Level]:
    """Level of each series by the weekly model that did best for its class.

    Comparing per class, not per series: with few demands in a series its own winner is luck.
    Series shorter than 28 weeks, and classes without a longer one, take their plain average.
    Args: rival: expected totals of the WEEKS_AHEAD weeks after a day, as known on that day, by a
        method outside this module; scored with the others under its name, never chosen here.
    Shapes: weekly as returned by forecasting.demand.weekly_demand.
    Source: Croston (1972); Syntetos & Boylan (2005); Teunter, Syntetos & Babai (2011), computed
        by statsforecast.
    Checked in: tests/published/test_intermittent_demand.py
    """
    series = {name: rows["qty"].to_numpy() for name, rows in weekly.groupby(key, sort=False)}
    classes = {name: demand_pattern(values).name for name, values in series.items()}
    levels = {name: _average(classes[name], values) for name, values in series.items()}
    for demand_class in CANDIDATES:
        long_enough = [
            name
            for name, values in series.items()
            if classes[name] == demand_class and len(values) >= WEEKS_TO_COMPARE
        ]
        if long_enough:
            levels |= _best_of_class(demand_class, weekly, key, long_enough, rival)
    return levels


def _average(demand_class: str, values: np.ndarray) -> Level:
    return Level(demand_class, AVERAGE, float(values.sum()) / max(len(values), FEWEST_WEEKS), {})


def _best_of_class(
    demand_class: str,
    weekly: pd.DataFrame,
    key: str,
    names: list[Hashable],
    rival: Rival | None,
) -> dict[Hashable, Level]:
    numbers = {name: number for number, name in enumerate(names)}
    rows = weekly[weekly[key].isin(names)]
    frame = pd.DataFrame(
        {"unique_id": rows[key].map(numbers), "ds": rows["week"], "y": rows["qty"]}
    ).astype({"unique_id": int})
    engine = _engine(CANDIDATES[demand_class])
    tested = engine.cross_validation(df=frame, h=WEEKS_AHEAD, n_windows=ORIGINS, step_size=STEP)
    totals = tested.drop(columns="ds").groupby(["unique_id", "cutoff"]).sum()
    variance = _variance(frame) * WEEKS_AHEAD
    scores = scaled_squared_errors(totals, variance)
    best = min(scores, key=lambda model: scores[model])
    if rival is not None:
        rival_totals = totals[["y"]].assign(**{rival.name: _rival_totals(totals, names, rival)})
        scores |= scaled_squared_errors(rival_totals, variance)
    ahead = engine.forecast(df=frame, h=1).set_index("unique_id")[best].clip(lower=0)
    return {
        name: Level(demand_class, best, float(ahead[number]), scores)
        for name, number in numbers.items()
    }


def _variance(frame: pd.DataFrame) -> pd.Series:
    """Variance of the weeks of each series, at least that of a tenth of its mean."""
    weeks = frame.groupby("unique_id")["y"]
    return np.maximum(weeks.var(), (weeks.mean() / 10) ** 2)


def _engine(names: tuple[str, ...]) -> "StatsForecast":
    from statsforecast import StatsForecast
    from statsforecast.models import TSB, CrostonSBA, HistoricAverage, SimpleExponentialSmoothing

    models = {
        "smoothed level": lambda alias: SimpleExponentialSmoothing(0.1, alias=alias),
        "quickly smoothed level": lambda alias: SimpleExponentialSmoothing(0.3, alias=alias),
        "interval and size (SBA)": lambda alias: CrostonSBA(alias=alias),
        "chance and size (TSB)": lambda alias: TSB(0.1, 0.1, alias=alias),
        AVERAGE: lambda alias: HistoricAverage(alias=alias),
    }
    return StatsForecast([models[name](name) for name in names], freq="7D", n_jobs=1)


def _rival_totals(totals: pd.DataFrame, names: list[Hashable], rival: Rival) -> list[float]:
    ends = {monday: monday + pd.Timedelta(days=6) for _, monday in totals.index}
    expected = {monday: rival.totals_after(sunday) for monday, sunday in ends.items()}
    return [expected[monday].get(names[number], 0.0) for number, monday in totals.index]
