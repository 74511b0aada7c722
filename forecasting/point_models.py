"""Point forecasts of many series by models of statsforecast, under names of the trade."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from statsforecast import StatsForecast

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
    known = np.isfinite(qty)
    present = np.flatnonzero(known.any(axis=1))
    result = np.zeros((len(qty), len(models)))
    if not present.size:
        return result
    frame = _long(qty, known)
    level = [column for column, name in enumerate(models) if name in LEVEL_MODELS]
    moving = [column for column, name in enumerate(models) if name not in LEVEL_MODELS]
    for columns, steps in ((level, 1), (moving, periods_ahead)):
        if columns:
            engine = _engine([models[column] for column in columns], season)
            ahead = engine.forecast(df=frame, h=steps).iloc[:, 2:].to_numpy()
            sums = ahead.reshape(len(present), steps, len(columns)).sum(axis=1)
            result[np.ix_(present, columns)] = sums * (periods_ahead / steps)
    return np.maximum(np.nan_to_num(result), 0.0)


def _long(qty: np.ndarray, known: np.ndarray) -> pd.DataFrame:
    """The known periods of every series, numbered without gaps."""
    row, _ = np.nonzero(known)
    counts = known.sum(axis=1)
    starts = np.repeat(np.cumsum(counts) - counts, counts)
    return pd.DataFrame({"unique_id": row, "ds": np.arange(len(row)) - starts, "y": qty[known]})


def _engine(names: Sequence[str], season: int) -> "StatsForecast":
    from statsforecast import StatsForecast, models

    made: dict[str, Callable[..., Any]] = {
        SMOOTHED: lambda **name: models.SimpleExponentialSmoothing(0.1, **name),
        "quickly smoothed level": lambda **name: models.SimpleExponentialSmoothing(0.3, **name),
        "interval and size (SBA)": models.CrostonSBA,
        "chance and size (TSB)": lambda **name: models.TSB(0.1, 0.1, **name),
        AVERAGE: models.HistoricAverage,
        "level with its own smoothing": models.SimpleExponentialSmoothingOptimized,
        "interval and size, own smoothing": models.CrostonOptimized,
        "periods pooled (ADIDA)": models.ADIDA,
        "level and trend (Theta)": models.Theta,
        "season, level and trend (Theta)": lambda **name: models.Theta(season, **name),
    }
    return StatsForecast(
        [made[name](alias=name) for name in names],
        freq=1,
        n_jobs=1,
        fallback_model=models.HistoricAverage(),
    )
