"""One distribution around any point forecast of a sum, so that point forecasts can be compared."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.special import gammaincinv

from forecasting.accuracy import pinball_loss

__all__ = ["dispersion_of", "gamma_quantiles", "quantile_losses"]

SHAPES = np.logspace(-5, 7, 6001)
LEAST_SPREAD = 0.1
"""A series that hardly varied is taken to vary by a tenth of its mean."""


def gamma_quantiles(mean: np.ndarray, dispersion: np.ndarray, chance: float) -> np.ndarray:
    """Quantile of a gamma distribution with variance = dispersion x mean; 0 where the mean is 0.

    Needs no unit: pieces, grams and millimetres alike. Read from a table of its own shapes, within
    0.01 % of the exact value.
    Shapes: mean and dispersion broadcast together.
    Checked in: tests/forecasting/test_gamma_sums.py
    """
    shape = np.clip(mean / np.maximum(dispersion, 1e-300), SHAPES[0], SHAPES[-1])
    return mean * np.interp(np.log(shape), np.log(SHAPES), _times_mean(chance))


def dispersion_of(qty: np.ndarray) -> np.ndarray:
    """Variance over mean of every series, in its own unit; 0 without demand.

    Shapes: qty (series, periods), NaN where not known; the result (series,).
    """
    known = np.isfinite(qty).sum(axis=1)
    mean = np.nansum(qty, axis=1) / np.maximum(known, 1)
    squares = np.nansum((qty - mean[:, None]) ** 2, axis=1)
    variance = np.maximum(squares / np.maximum(known - 1, 1), (LEAST_SPREAD * mean) ** 2)
    return variance / np.where(mean > 0, mean, 1.0)


def quantile_losses(
    actual: np.ndarray,
    mean: np.ndarray,
    dispersion: np.ndarray,
    whole: np.ndarray,
    chances: Sequence[float],
) -> np.ndarray:
    """Pinball losses of the gamma quantiles around each mean, summed over the chances.

    Args: whole: series of whole numbers, whose quantiles are rounded up.
    Shapes: mean and result (series, models); the others (series,).
    """
    losses = np.zeros(mean.shape)
    for chance in chances:
        quantile = gamma_quantiles(mean, dispersion[:, None], chance)
        quantile = np.where(whole[:, None], np.ceil(quantile - 1e-9), quantile)
        losses += pinball_loss(actual[:, None], quantile, chance)
    return losses


@lru_cache(maxsize=64)
def _times_mean(chance: float) -> np.ndarray:
    return gammaincinv(SHAPES, chance) / SHAPES
