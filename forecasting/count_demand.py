"""Counts per week as a mixture of smoothed negative binomials, learned across all items."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

__all__ = ["CountBeliefs", "learn_counts"]

SMOOTHING = np.array([0.02, 0.05, 0.1, 0.2, 0.4])
DISPERSION = np.array([1.05, 1.3, 1.7, 2.3, 3.2, 5.0, 8.0, 15.0])
"""Variance over mean of a week's count; 1 would be Poisson."""
START_WEEKS, SHOP_WEEKS = 6, 2.0
"""The level starts from the first weeks, leaning on the shop's mean as on two weeks more."""
LEAST_LEVEL = 0.01


@dataclass(frozen=True)
class CountBeliefs:
    """Belief in each cell (smoothing x dispersion) and its level after the last week.

    All arrays have one row per item and one column per cell, dispersion one entry per cell.
    """

    chance: np.ndarray
    level: np.ndarray
    dispersion: np.ndarray


def learn_counts(counts: np.ndarray) -> CountBeliefs:
    """Beliefs of every item, its own weeks weighed with what is usual in the shop.

    Each cell smooths the level exponentially and expects a negative binomial count around it; its
    likelihood is that of all weeks foretold one by one. The prior of the cells is estimated from
    all items by expectation maximisation.
    Shapes: counts is (items, weeks), at least one of each.
    Source: negative binomial smoothing as in Snyder, Ord & Beaumont (2012), Forecasting the
        intermittent demand for slow-moving inventories, IJF 28 | from memory; the shared prior is
        our own.
    """
    shop = counts.mean()
    start = counts[:, :START_WEEKS].sum(axis=1) + SHOP_WEEKS * shop
    start = start / (min(START_WEEKS, counts.shape[1]) + SHOP_WEEKS)
    paths = [_levels(counts, start, smoothing, LEAST_LEVEL * shop) for smoothing in SMOOTHING]
    log_likelihood = np.stack(
        [
            _log_density(counts, levels[:, :-1], dispersion).sum(axis=1)
            for levels in paths
            for dispersion in DISPERSION
        ],
        axis=1,
    )
    return CountBeliefs(
        chance=_shared(log_likelihood),
        level=np.repeat(np.stack([levels[:, -1] for levels in paths], axis=1), len(DISPERSION), 1),
        dispersion=np.tile(DISPERSION, len(SMOOTHING)),
    )


def _levels(counts: np.ndarray, start: np.ndarray, smoothing: float, least: float) -> np.ndarray:
    """Level before each week and after the last, (items, weeks + 1)."""
    levels = np.empty((counts.shape[0], counts.shape[1] + 1))
    levels[:, 0] = start
    for week, count in enumerate(counts.T):
        levels[:, week + 1] = levels[:, week] + smoothing * (count - levels[:, week])
    return np.maximum(levels, max(least, 1e-9))


def _log_density(counts: np.ndarray, mean: np.ndarray, dispersion: float) -> np.ndarray:
    """Negative binomial with variance = dispersion x mean."""
    size = mean / (dispersion - 1)
    return (
        gammaln(counts + size)
        - gammaln(size)
        - gammaln(counts + 1)
        - size * np.log(dispersion)
        + counts * np.log1p(-1 / dispersion)
    )


def _shared(log_likelihood: np.ndarray) -> np.ndarray:
    likelihood = np.exp(log_likelihood - log_likelihood.max(axis=1, keepdims=True))
    uniform = np.full((1, likelihood.shape[1]), 1 / likelihood.shape[1])
    chance = prior = uniform
    for _ in range(30):
        chance = likelihood * prior
        chance = chance / chance.sum(axis=1, keepdims=True)
        prior = np.concatenate([chance, uniform]).mean(axis=0)
    return chance
