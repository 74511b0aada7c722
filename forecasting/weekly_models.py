"""Levels of the weekly models that a shop's own forecast compares, written out.

statsforecast knows them too, but takes longer to import than the whole shop to forecast.
"""

from collections.abc import Callable, Sequence

import numpy as np

from forecasting.point_models import AVERAGE, SMOOTHED

__all__ = ["levels_per_week"]

SIZE_WEIGHT = GAP_WEIGHT = CHANCE_WEIGHT = 0.1
UNBIASED = 1 - GAP_WEIGHT / 2
"""A mean size over a mean gap is too much on average, by half the weight of the last gap."""


def levels_per_week(qty: np.ndarray, models: Sequence[str]) -> np.ndarray:
    """Expected demand of any week ahead, by each model.

    Weeks not known are passed over, as if the ones around them followed each other.
    Shapes: qty (series, weeks), NaN where not known; the result (series, models), 0 or more; 0 for
        a series of which nothing is known.
    Source: Brown (1959), smoothing; Croston (1972) with the correction of Syntetos & Boylan (2005);
        Teunter, Syntetos & Babai (2011): from memory.
    Checked in: tests/forecasting/test_weekly_models.py, tests/published/test_intermittent_demand.py,
        tests/published/test_smoothing.py
    """
    result = np.zeros((len(qty), len(models)))
    known = np.isfinite(qty)
    for row in np.flatnonzero(known.any(axis=1)):
        weeks = qty[row, known[row]]
        result[row] = [MODELS[name](weeks) for name in models]
    return result


def _smoothed(values: np.ndarray, weight: float) -> float:
    """The first value, then moved towards each next one by that weight."""
    ago = np.arange(len(values) - 1, -1, -1)
    share = weight * (1 - weight) ** ago
    share[0] /= weight
    return float(share @ values)


def _interval_and_size(weeks: np.ndarray) -> float:
    """Of the weeks with demand, the first gap counted from before the first week."""
    place = np.flatnonzero(weeks > 0)
    if not place.size:
        return 0.0
    gap = _smoothed(np.diff(place, prepend=-1), GAP_WEIGHT)
    return UNBIASED * _smoothed(weeks[place], SIZE_WEIGHT) / gap


def _chance_and_size(weeks: np.ndarray) -> float:
    wanted = weeks > 0
    if not wanted.any():
        return 0.0
    return _smoothed(wanted, CHANCE_WEIGHT) * _smoothed(weeks[wanted], SIZE_WEIGHT)


MODELS: dict[str, Callable[[np.ndarray], float]] = {
    SMOOTHED: lambda weeks: _smoothed(weeks, 0.1),
    "quickly smoothed level": lambda weeks: _smoothed(weeks, 0.3),
    "interval and size (SBA)": _interval_and_size,
    "chance and size (TSB)": _chance_and_size,
    AVERAGE: lambda weeks: float(weeks.mean()),
}
