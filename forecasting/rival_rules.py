"""Ordering rules of textbooks and habit, as levels from a history: what ours is compared with.

Each takes a history (series, periods; NaN where not known) and the periods stock must last (one
number, or one per series), and answers with Levels of shape (knobs, series), one row for each
setting of its knob. `cover`: periods of mean use that an order brings beyond its reorder point.
"""

from collections.abc import Sequence

import numpy as np

from forecasting.ordering_rule import Levels

__all__ = ["mean_and_deviation", "min_max", "smoothed", "smoothed_normal"]

YEAR = 12
START = 6


def mean_and_deviation(
    history: np.ndarray,
    lasts: float | np.ndarray,
    factors: Sequence[float],
    *,
    cover: float | np.ndarray = 0.0,
) -> Levels:
    """Mean and standard deviation of all periods known, taken as normal.

    Source: safety stock z sd sqrt(L + R) of periodic review, any textbook | from memory.
    """
    mean = known_mean(history)
    return _normal(mean, known_mean((history - mean[:, None]) ** 2), lasts, factors, cover)


def smoothed_normal(
    history: np.ndarray,
    lasts: float | np.ndarray,
    factors: Sequence[float],
    smoothing: float,
    error_smoothing: float | None = None,
    *,
    cover: float | np.ndarray = 0.0,
) -> Levels:
    """Level by exponential smoothing, its one-step errors taken as normal.

    Source: Brown (1959), Statistical Forecasting for Inventory Control; errors smoothed too: Silver,
        Pyke & Thomas (2017), Inventory and Production Management in Supply Chains | from memory.
    """
    return _normal(*smoothed(history, smoothing, error_smoothing), lasts, factors, cover)


def min_max(
    history: np.ndarray,
    lasts: float | np.ndarray,
    times: Sequence[float],
    *,
    cover: float | np.ndarray = 2.0,
    recent: int = YEAR,
) -> Levels:
    """Order at so many times the usual use until the next delivery, up to `cover` periods more.

    The usual use is the mean of the last `recent` periods (common practice, no source).
    """
    mean = known_mean(history[:, -recent:])
    least = np.multiply.outer(np.asarray(times), mean * lasts)
    return Levels(least, least + cover * mean)


def smoothed(
    history: np.ndarray, smoothing: float, error_smoothing: float | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Level after the last period and mean squared one-step error, one of each per series.

    Starts from the mean of the first six periods known; periods not known change nothing. Squared
    errors are smoothed as well, or else averaged, those of the first year left out once two years
    are known, because the level is still finding its place then.
    """
    is_known = ~np.isnan(history)
    seen = np.cumsum(is_known, axis=1)
    level = known_mean(np.where(is_known & (seen <= START), history, np.nan))
    settled = is_known & (seen > np.where(seen[:, -1:] >= 2 * YEAR, YEAR, 0))
    mean_square, errors = np.zeros(len(history)), np.zeros(len(history))
    for period, amount in enumerate(history.T):
        error = np.where(is_known[:, period], amount - level, 0.0)
        errors += settled[:, period]
        weight = 1 / np.maximum(errors, 1)
        if error_smoothing is not None:
            weight = np.maximum(weight, error_smoothing)
        mean_square += np.where(settled[:, period], weight * (error**2 - mean_square), 0.0)
        level = level + smoothing * error
    return level, mean_square


def known_mean(history: np.ndarray) -> np.ndarray:
    """Mean of the periods known; 0 where none is."""
    known = ~np.isnan(history)
    return np.where(known, history, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)


def _normal(
    mean: np.ndarray,
    variance: np.ndarray,
    lasts: float | np.ndarray,
    factors: Sequence[float],
    cover: float | np.ndarray,
) -> Levels:
    spread = np.sqrt(variance * lasts)
    point = np.maximum(mean * lasts + np.multiply.outer(np.asarray(factors), spread), 0.0)
    return Levels(point, point + cover * mean)
