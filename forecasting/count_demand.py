"""Counts per period as a mixture of smoothed negative binomials, learned across all items."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

__all__ = ["CountBeliefs", "CountHabits", "learn_counts", "learn_habits", "smoothed_levels"]

SMOOTHING = np.array([0.02, 0.05, 0.1, 0.2, 0.4])
DISPERSION = np.array([1.05, 1.3, 1.7, 2.3, 3.2, 5.0, 8.0, 15.0])
"""Variance over mean of a period's count; 1 would be Poisson."""
START_PERIODS, SHOP_PERIODS = 6, 2.0
"""The level starts from the first periods, leaning on the shop's mean as on two periods more."""
LEAST_LEVEL = 0.01
SERIES_TO_LEARN_FROM = 5000


@dataclass(frozen=True)
class CountHabits:
    """What is usual in the shop: mean count a period, and how common each cell is."""

    level: float
    chance: np.ndarray


@dataclass(frozen=True)
class CountBeliefs:
    """Belief in each cell (smoothing x dispersion) and its level after the last period.

    All arrays have one row per item and one column per cell, dispersion one entry per cell.
    """

    chance: np.ndarray
    level: np.ndarray
    dispersion: np.ndarray


def learn_counts(counts: np.ndarray, habits: CountHabits | None = None) -> CountBeliefs:
    """Beliefs of every item, its own periods weighed with what is usual in the shop.

    Each cell smooths the level exponentially and expects a negative binomial count around it; its
    likelihood is that of all periods foretold one by one. Periods not known are passed over.
    Args: habits: as learned from the whole shop, when counts are a part of it.
    Shapes: counts is (items, periods), NaN where not known; no period at all is allowed.
    Source: negative binomial smoothing as in Snyder, Ord & Beaumont (2012), Forecasting the
        intermittent demand for slow-moving inventories, IJF 28 | from memory; the shared prior is
        our own.
    """
    habits = habits or learn_habits(counts)
    likelihood, level = _cells(counts, habits.level)
    return CountBeliefs(
        chance=_normalised(likelihood * habits.chance),
        level=level,
        dispersion=np.tile(DISPERSION, len(SMOOTHING)),
    )


def learn_habits(counts: np.ndarray) -> CountHabits:
    """What is usual in the shop: the cells' prior by expectation maximisation over the items.

    Of more than 5,000 items it takes an even sample.
    Shapes: as learn_counts.
    """
    sample = counts[:: -(-len(counts) // SERIES_TO_LEARN_FROM) or 1]
    known = np.isfinite(sample)
    level = float(sample[known].mean()) if known.any() else 0.0
    likelihood, _ = _cells(sample, level)
    uniform = np.full((1, likelihood.shape[1]), 1 / likelihood.shape[1])
    prior = uniform[0]
    for _ in range(29):
        prior = np.concatenate([_normalised(likelihood * prior), uniform]).mean(axis=0)
    return CountHabits(level, prior)


def smoothed_levels(counts: np.ndarray, smoothing: float, shop_level: float) -> np.ndarray:
    """Level before each period and after the last, (items, periods + 1)."""
    first = counts[:, :START_PERIODS]
    known = np.isfinite(first).sum(axis=1)
    levels = np.empty((counts.shape[0], counts.shape[1] + 1))
    levels[:, 0] = (np.nansum(first, axis=1) + SHOP_PERIODS * shop_level) / (known + SHOP_PERIODS)
    for period, count in enumerate(counts.T):
        before = levels[:, period]
        moved = before + smoothing * (count - before)
        levels[:, period + 1] = np.where(np.isfinite(count), moved, before)
    return np.maximum(levels, max(LEAST_LEVEL * shop_level, 1e-9))


def _cells(counts: np.ndarray, shop_level: float) -> tuple[np.ndarray, np.ndarray]:
    """Likelihood of each cell, its best at 1, and its level after the last period."""
    log_likelihood, last = [], []
    for smoothing in SMOOTHING:
        levels = smoothed_levels(counts, smoothing, shop_level)
        last.append(levels[:, -1])
        log_likelihood += [_log_density(counts, levels[:, :-1], one) for one in DISPERSION]
    logs = np.stack(log_likelihood, axis=1)
    level = np.repeat(np.stack(last, axis=1), len(DISPERSION), axis=1)
    return np.exp(logs - logs.max(axis=1, keepdims=True)), level


def _log_density(counts: np.ndarray, mean: np.ndarray, dispersion: float) -> np.ndarray:
    """Negative binomial with variance = dispersion x mean, all periods of an item together.

    What is the same in every cell is left out. Most periods of most items are 0 and need no gamma
    function.
    """
    size = mean / (dispersion - 1)
    density = np.where(np.isfinite(counts), -size * np.log(dispersion), 0.0).sum(axis=1)
    item, period = np.nonzero(counts > 0)
    count, size = counts[item, period], size[item, period]
    some = gammaln(count + size) - gammaln(size) + count * np.log1p(-1 / dispersion)
    return density + np.bincount(item, some, len(counts))


def _normalised(weights: np.ndarray) -> np.ndarray:
    return weights / weights.sum(axis=1, keepdims=True)
