"""Futures of one product: the plan stands up to its last batch, then the rhythm goes on."""

import numpy as np
import pandas as pd
from scipy.special import gammaincc, gammainccinv

from forecasting.build_rhythm import Rhythm
from forecasting.paths import Paths, no_events

__all__ = ["simulate_batches"]

OWN_SIZE_WEIGHT, SHOP_SIZE_WEIGHT = 8.0, 16.0
LEAST_SURVIVAL = 1e-12


def simulate_batches(
    rhythm: Rhythm | None,
    planned: pd.DataFrame,
    *,
    horizon_days: int,
    paths: int,
    rng: np.random.Generator,
) -> Paths:
    """Batches of one product in many futures; without a rhythm the plan alone.

    Every path believes in one cell of the rhythm and in one mean gap, drawn from what is not
    known about it; the silence since the last batch weighs them.
    Shapes: planned has day (whole days from today, past ones count as today) and qty.
    """
    firm = _firm(planned, paths)
    if rhythm is None:
        return firm
    mean, variation = _gap_of_each_path(rhythm, planned.empty, paths, rng)
    day = _next_start(rhythm, planned, mean, variation, rng)
    days = []
    while (day <= horizon_days).any():
        days.append(day)
        day = day + _gaps(mean, variation, rng)
    if not days:
        return firm
    drawn = np.ceil(np.column_stack(days))
    drawn[drawn > horizon_days] = np.inf
    sizes = _sizes(rhythm, drawn.size, rng).reshape(*drawn.shape, 2)
    return Paths(
        day=np.hstack([firm.day, drawn]),
        qty=np.hstack([firm.qty, sizes[:, :, 0]]),
        batches=np.hstack([firm.batches, sizes[:, :, 1]]),
    )


def _firm(planned: pd.DataFrame, paths: int) -> Paths:
    if planned.empty:
        return no_events(paths)
    day = np.tile(planned["day"].clip(lower=0).to_numpy(dtype=float), (paths, 1))
    qty = np.tile(planned["qty"].to_numpy(dtype=float), (paths, 1))
    return Paths(day, qty, np.ones_like(qty))


def _gap_of_each_path(
    rhythm: Rhythm, waiting: bool, paths: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and squared variation of the gap in each path, in the light of the silence so far.

    The mean is inverse gamma, as the mean of gamma gaps is known after a few of them.
    """
    beliefs = rhythm.gaps
    cell = rng.choice(len(beliefs.chance), size=paths, p=beliefs.chance)
    shape = 2 + 1 / beliefs.mean_spread[cell]
    mean = beliefs.mean_days[cell] * (shape - 1) / rng.gamma(shape)
    variation = beliefs.variation[cell]
    if not waiting or rhythm.age_days is None:
        return mean, variation
    weight = _survival(rhythm.age_days, mean, variation) + LEAST_SURVIVAL
    kept = rng.choice(paths, size=paths, p=weight / weight.sum())
    return mean[kept], variation[kept]


def _survival(age_days: float, mean: np.ndarray, variation: np.ndarray) -> np.ndarray:
    return gammaincc(1 / variation, age_days / (mean * variation))


def _next_start(
    rhythm: Rhythm,
    planned: pd.DataFrame,
    mean: np.ndarray,
    variation: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    if not planned.empty:
        return max(0.0, planned["day"].max()) + _gaps(mean, variation, rng)
    age_days = rhythm.age_days or 0.0
    silent = np.maximum(_survival(age_days, mean, variation), LEAST_SURVIVAL)
    gap = mean * variation * gammainccinv(1 / variation, rng.uniform(size=len(mean)) * silent)
    day = np.maximum(1.0, gap - age_days)
    return np.where(rng.uniform(size=len(mean)) < rhythm.alive, day, np.inf)


def _gaps(mean: np.ndarray, variation: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return np.maximum(1.0, rng.gamma(1 / variation, mean * variation))


def _sizes(rhythm: Rhythm, count: int, rng: np.random.Generator) -> np.ndarray:
    """Knives and batches per start: mostly the product's own, else its mean times a shop ratio."""
    own = rhythm.sizes[rng.integers(len(rhythm.sizes), size=count)]
    knives, batches = rhythm.sizes.mean(axis=0)
    of_shop = np.maximum(1.0, np.rint(knives * rng.choice(rhythm.size_ratios, size=count)))
    pooled = np.column_stack([of_shop, np.full(count, np.rint(batches))])
    own_weight = OWN_SIZE_WEIGHT * len(rhythm.sizes)
    take_own = rng.uniform(size=count) < own_weight / (own_weight + SHOP_SIZE_WEIGHT)
    return np.where(take_own[:, None], own, pooled)
