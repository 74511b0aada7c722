"""Point forecasts of many series by models of statsforecast, under names of the trade."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

__all__ = [
    "AVERAGE",
    "LEAN_MODELS",
    "LEVEL_MODELS",
    "SEASON_AND_TREND_MODELS",
    "SMOOTHED",
    "expected_sums",
]

SMOOTHED = "smoothed level"
AVERAGE = "average of all periods"
LEAN_MODELS = (
    SMOOTHED,
    "quickly smoothed level",
    "interval and size (SBA)",
    "chance and size (TSB)",
)
LEVEL_MODELS = (
    *LEAN_MODELS,
    AVERAGE,
    "level with its own smoothing",
    "interval and size, own smoothing",
    "periods pooled (ADIDA)",
)
"""Models that expect the same in every period ahead."""
FEWEST_FOR_A_PATH = 8
SEASON_AND_TREND_MODELS = ("level and trend (Theta)", "season, level and trend (Theta)")


def expected_sums(
    qty: np.ndarray, models: Sequence[str], periods_ahead: int, season: int = 1
) -> np.ndarray:
    """Expected demand of the next periods together, by each model.

    Periods not known are passed over, as if the ones around them followed each other.
    Args: season: periods in a year, for models that know one.
    Shapes: qty (series, periods), NaN where not known; the result (series, models), 0 or more and
        finite; 0 for a series of which nothing is known.
    Source: Croston (1972); Syntetos & Boylan (2005); Teunter, Syntetos & Babai (2011); Nikolopoulos
        et al. (2011), ADIDA; Assimakopoulos & Nikolopoulos (2000), Theta: computed by statsforecast.
    Checked in: tests/published/test_intermittent_demand.py, tests/published/test_smoothing.py
    """
    fits = _fits(models, periods_ahead, season)
    known = np.isfinite(qty)
    result = np.zeros((len(qty), len(models)))
    for row in np.flatnonzero(known.any(axis=1)):
        values = qty[row, known[row]]
        for column, fit in enumerate(fits):
            result[row, column] = fit(values)
    return np.maximum(np.nan_to_num(result), 0.0)


def _fits(
    names: Sequence[str], periods_ahead: int, season: int
) -> list[Callable[[np.ndarray], float]]:
    """The models, each from known periods to the sum ahead.

    Called one by one: the library's table of results around them takes as long as they do.
    """
    return [
        _one_level(model, periods_ahead) if name in LEVEL_MODELS else _path(model, periods_ahead)
        for name, model in zip(names, _models(names, season), strict=True)
    ]


def _one_level(model: Any, periods_ahead: int) -> Callable[[np.ndarray], float]:
    return lambda values: periods_ahead * model.forecast(y=values, h=1)["mean"][0]


def _path(model: Any, periods_ahead: int) -> Callable[[np.ndarray], float]:
    """Where the history is too short for the model, or never varied, its mean goes on."""

    def fit(values: np.ndarray) -> float:
        if len(values) < FEWEST_FOR_A_PATH or np.ptp(values) == 0:
            return periods_ahead * values.mean()
        return model.forecast(y=values, h=periods_ahead)["mean"].sum()

    return fit


def _models(names: Sequence[str], season: int) -> list[Any]:
    from statsforecast import models

    made: dict[str, Callable[..., Any]] = {
        SMOOTHED: lambda: models.SimpleExponentialSmoothing(0.1),
        "quickly smoothed level": lambda: models.SimpleExponentialSmoothing(0.3),
        "interval and size (SBA)": models.CrostonSBA,
        "chance and size (TSB)": lambda: models.TSB(0.1, 0.1),
        AVERAGE: models.HistoricAverage,
        "level with its own smoothing": models.SimpleExponentialSmoothingOptimized,
        "interval and size, own smoothing": models.CrostonOptimized,
        "periods pooled (ADIDA)": models.ADIDA,
        "level and trend (Theta)": models.Theta,
        "season, level and trend (Theta)": lambda: models.Theta(season),
    }
    return [made[name]() for name in names]
