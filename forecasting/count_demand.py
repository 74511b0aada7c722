"""Counts per period as a mixture of smoothed negative binomials, learned across all items."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from forecasting.classify import INTERVAL_CUT
from forecasting.level_correction import Seen, corrected, learn_correction

__all__ = ["CountBeliefs", "CountHabits", "learn_counts", "learn_habits", "smoothed_levels"]

SMOOTHING = np.array([0.02, 0.05, 0.1, 0.2, 0.4])
DISPERSION = np.array([1.05, 1.4, 2.0, 3.0, 5.0, 9.0, 20.0, 50.0])
"""Variance over mean of a period's count; 1 would be Poisson."""
COMPARED = [1, 3, 4]
"""Smoothed levels compared with each other to correct the mean."""
START_PERIODS, SHOP_PERIODS = 6, 2.0
"""The level starts from the first periods, leaning on the shop's mean as on two periods more."""
LEAST_LEVEL = 0.01
SERIES_TO_LEARN_FROM, DAYS_TO_LEARN_FROM = 5000, 12
FEWEST_TO_TEACH_APART = 30
MEMORY = 6
"""Days of the past count half after a sixth of the history."""


@dataclass(frozen=True)
class GroupHabits:
    """What is usual in a group of items.

    level: mean count a period. chance: how common each cell is. correction: coefficients of
    forecasting.level_correction, None where history was too short.
    """

    level: float
    chance: np.ndarray
    correction: np.ndarray | None


@dataclass(frozen=True)
class CountHabits:
    """What is usual among items asked for now and then, and among those nearly always asked for.

    One and the same where either are too few to learn from.
    """

    rare: GroupHabits
    steady: GroupHabits


@dataclass(frozen=True)
class CountBeliefs:
    """Belief in each cell (smoothing x dispersion) and its level after the last period.

    All arrays have one row per item and one column per cell, dispersion one entry per cell.
    """

    chance: np.ndarray
    level: np.ndarray
    dispersion: np.ndarray

    @property
    def mean(self) -> np.ndarray:
        """Expected demand per period, (items,)."""
        return (self.chance * self.level).sum(axis=1)


@dataclass(frozen=True)
class _Cells:
    """After some days of the past: how each cell had done, and the smoothed levels.

    likelihood: (items, days, cells), the best of an item at 1. levels: (items, days, smoothings).
    """

    likelihood: np.ndarray
    levels: np.ndarray

    def seen(self, day: int, prior: np.ndarray, since: np.ndarray) -> Seen:
        levels = self.levels[:, day]
        chance = _normalised(self.likelihood[:, day] * prior)
        by_smoothing = chance.reshape(-1, len(SMOOTHING), len(DISPERSION)).sum(axis=2)
        return Seen((by_smoothing * levels).sum(axis=1), levels[:, COMPARED], since[:, day])


def learn_counts(counts: np.ndarray, habits: CountHabits | None = None) -> CountBeliefs:
    """Beliefs of every item, its own periods weighed with what is usual in the shop.

    Each cell smooths the level exponentially and expects a negative binomial count around it; its
    likelihood is that of all periods foretold one by one. Levels are corrected by how far they were
    off in the past. Periods not known are passed over.
    Args: habits: as learned from the whole shop, when counts are a part of it.
    Shapes: counts is (items, periods), NaN where not known; no period at all is allowed.
    Source: negative binomial smoothing as in Snyder, Ord & Beaumont (2012), Forecasting the
        intermittent demand for slow-moving inventories, IJF 28 | from memory; the shared prior and
        the correction are our own.
    """
    habits = habits or learn_habits(counts)
    if habits.rare is habits.steady:
        return _beliefs(counts, habits.rare)
    steady = _is_steady(counts)
    rare, often = _beliefs(counts[~steady], habits.rare), _beliefs(counts[steady], habits.steady)
    chance, level = np.empty((2, len(counts), len(SMOOTHING) * len(DISPERSION)))
    for group, beliefs in ((~steady, rare), (steady, often)):
        chance[group], level[group] = beliefs.chance, beliefs.level
    return CountBeliefs(chance, level, rare.dispersion)


def _beliefs(counts: np.ndarray, habits: GroupHabits) -> CountBeliefs:
    today = np.array([counts.shape[1]])
    cells = _cells(counts, habits.level, today)
    level = cells.levels[:, 0]
    if habits.correction is not None:
        seen = cells.seen(0, habits.chance, _since(counts, today))
        level = level * corrected(seen, habits.correction, habits.level)[:, None]
    return CountBeliefs(
        chance=_normalised(cells.likelihood[:, 0] * habits.chance),
        level=np.repeat(level, len(DISPERSION), axis=1),
        dispersion=np.tile(DISPERSION, len(SMOOTHING)),
    )


def _is_steady(counts: np.ndarray) -> np.ndarray:
    """Items asked for in so many of their known periods that they aren't intermittent."""
    known = np.isfinite(counts).sum(axis=1)
    return (counts > 0).sum(axis=1) * INTERVAL_CUT > known


def learn_habits(counts: np.ndarray, periods_ahead: int = 3) -> CountHabits:
    """What is usual in the shop, for sums over the periods ahead.

    The cells' prior comes from expectation maximisation over the items, the correction from sums
    after some days of the past. Items asked for now and then, and those nearly always asked for,
    teach apart where both are many. Of more than 5,000 items it takes an even sample.
    Shapes: as learn_counts.
    """
    sample = counts[:: -(-len(counts) // SERIES_TO_LEARN_FROM) or 1]
    steady = _is_steady(sample)
    if min(steady.sum(), (~steady).sum()) < FEWEST_TO_TEACH_APART:
        habits = _habits(sample, periods_ahead)
        return CountHabits(habits, habits)
    return CountHabits(
        _habits(sample[~steady], periods_ahead), _habits(sample[steady], periods_ahead)
    )


def _habits(sample: np.ndarray, periods_ahead: int) -> GroupHabits:
    known = np.isfinite(sample)
    level = float(sample[known].mean()) if known.any() else 0.0
    periods = sample.shape[1]
    days = _days_to_learn_from(periods, periods_ahead)
    cells = _cells(sample, level, np.append(days, periods))
    prior = _prior(cells.likelihood[:, -1])
    if not len(days) or not level:
        return GroupHabits(level, prior, None)
    since = _since(sample, days)
    half_life = max(1.0, periods / MEMORY)
    apart = np.diff(days).mean() if len(days) > 1 else periods_ahead
    correction = learn_correction(
        [cells.seen(number, prior, since) for number in range(len(days))],
        [_sums(sample, day, periods_ahead) for day in days],
        periods_ahead,
        [min(1.0, apart / periods_ahead) * 0.5 ** ((days[-1] - day) / half_life) for day in days],
        level,
    )
    return GroupHabits(level, prior, correction)


def smoothed_levels(counts: np.ndarray, smoothing: float, shop_level: float) -> np.ndarray:
    """Level before each period and after the last, (items, periods + 1)."""
    known = np.isfinite(counts)
    first = known & (np.cumsum(known, axis=1) <= START_PERIODS)
    started = np.where(first, counts, 0.0).sum(axis=1) + SHOP_PERIODS * shop_level
    levels = np.empty((counts.shape[0], counts.shape[1] + 1))
    levels[:, 0] = started / (first.sum(axis=1) + SHOP_PERIODS)
    for period, count in enumerate(counts.T):
        before = levels[:, period]
        moved = before + smoothing * (count - before)
        levels[:, period + 1] = np.where(known[:, period], moved, before)
    return np.maximum(levels, max(LEAST_LEVEL * shop_level, 1e-9))


def _days_to_learn_from(periods: int, ahead: int) -> np.ndarray:
    """Numbers of periods known on some days of the past, spread evenly over its later part."""
    first, last = max(START_PERIODS, periods // 3), periods - ahead
    if last < first:
        return np.zeros(0, dtype=int)
    return np.unique(np.linspace(first, last, DAYS_TO_LEARN_FROM).round().astype(int))


def _sums(counts: np.ndarray, day: int, periods: int) -> np.ndarray:
    """Demand of the periods after the day; NaN where not known whole or hardly begun before."""
    begun = np.isfinite(counts[:, :day]).sum(axis=1) >= START_PERIODS
    return np.where(begun, counts[:, day : day + periods].sum(axis=1), np.nan)


def _since(counts: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Known periods since the last demand, as of each day, (items, days)."""
    seen = np.cumsum(np.isfinite(counts), axis=1)
    demanded = np.maximum.accumulate(np.where(counts > 0, seen, 0), axis=1)
    quiet = np.hstack([np.zeros((len(counts), 1)), seen - demanded])
    return quiet[:, days]


def _cells(counts: np.ndarray, shop_level: float, days: np.ndarray) -> _Cells:
    """Days: numbers of periods known, rising, the last all of them.

    What is the same in every cell is left out of the likelihood. Most periods of most items are 0
    and need no gamma function.
    """
    item, period = np.nonzero(counts > 0)
    count = counts[item, period]
    part = np.searchsorted(days, period, side="right")
    place, shape = item * len(days) + part, (len(counts), len(days))
    known = np.isfinite(counts)
    log_likelihood = np.empty((*shape, len(SMOOTHING) * len(DISPERSION)))
    levels = np.empty((*shape, len(SMOOTHING)))
    for row, smoothing in enumerate(SMOOTHING):
        path = smoothed_levels(counts, smoothing, shop_level)
        levels[:, :, row] = path[:, days]
        passed = np.hstack([np.zeros((len(counts), 1)), np.cumsum(path[:, :-1] * known, axis=1)])
        for column, dispersion in enumerate(DISPERSION):
            size = path[item, period] / (dispersion - 1)
            some = gammaln(count + size) - gammaln(size) + count * np.log1p(-1 / dispersion)
            demanded = np.bincount(place, some, shape[0] * shape[1]).reshape(shape)
            nothing = passed[:, days] * np.log(dispersion) / (dispersion - 1)
            cell = row * len(DISPERSION) + column
            log_likelihood[:, :, cell] = np.cumsum(demanded, axis=1) - nothing
    best = log_likelihood.max(axis=2, keepdims=True)
    return _Cells(np.exp(log_likelihood - best), levels)


def _prior(likelihood: np.ndarray) -> np.ndarray:
    uniform = np.full((1, likelihood.shape[1]), 1 / likelihood.shape[1])
    prior = uniform[0]
    for _ in range(29):
        prior = np.concatenate([_normalised(likelihood * prior), uniform]).mean(axis=0)
    return prior


def _normalised(weights: np.ndarray) -> np.ndarray:
    return weights / weights.sum(axis=1, keepdims=True)
