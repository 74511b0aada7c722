"""Quantiles of sums learned across series of any unit: each is counted in a unit of its own."""

from collections.abc import Sequence

import numpy as np

from forecasting.classify import whole_numbers
from forecasting.count_demand import CountHabits, learn_habits
from forecasting.gamma_sums import dispersion_of
from forecasting.sum_quantiles import quantiles_of_sums

__all__ = ["learn_shared_counts", "shared_quantiles"]

COUNT_DISPERSION = (0.5, 8.0)
"""Variance over mean of pieces that are counted as pieces."""
USUAL_DISPERSION = 4.0
FEW = 15.0


def learn_shared_counts(qty: np.ndarray, periods_ahead: int) -> CountHabits:
    """What is usual among the series, once each is counted in its own unit.

    Shapes: qty (series, periods), NaN where not known.
    """
    return learn_habits(qty / _units(qty)[:, None], periods_ahead)


def shared_quantiles(
    qty: np.ndarray, periods_ahead: int, chances: Sequence[float], habits: CountHabits
) -> np.ndarray:
    """Quantiles of the sum over the next periods, in the series' own quantity.

    Shapes: qty (series, periods), NaN where not known; the result (series, chances).
    """
    if not len(qty):
        return np.zeros((0, len(chances)))
    units = _units(qty)[:, None]
    quantiles = units * quantiles_of_sums(qty / units, periods_ahead, chances, habits)
    return np.where(whole_numbers(qty)[:, None], np.ceil(quantiles - 1e-9), quantiles)


def _units(qty: np.ndarray) -> np.ndarray:
    """A piece where pieces vary as counts do; else what makes them vary so, or the only size."""
    demands = (qty > 0).sum(axis=1)
    size = np.nansum(qty, axis=1) / np.maximum(demands, 1)
    spread = dispersion_of(qty)
    as_counts = np.where(
        demands > 1, (spread >= COUNT_DISPERSION[0]) & (spread <= COUNT_DISPERSION[1]), size <= FEW
    )
    unit = np.where(demands > 1, spread / USUAL_DISPERSION, size)
    return np.where((as_counts & whole_numbers(qty)) | (demands == 0), 1.0, unit)
