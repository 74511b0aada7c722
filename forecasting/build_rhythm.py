"""Rhythm of a product's batches: gaps between them, their sizes, and futures drawn from both."""

import math
from collections.abc import Hashable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.special import gammaincc, gammainccinv

from forecasting.paths import Paths, no_events

__all__ = ["Rhythm", "learn_rhythms", "simulate_batches"]

UNKNOWN_GAP_DAYS = 56.0
UNKNOWN_GAP_CV2 = 0.25
"""Gap between batches of a shop without history (assumption, no source)."""
GAP_WEIGHT, CV2_WEIGHT = 2.0, 4.0
"""Worth of the shop's other products, in gaps."""
OWN_SIZE_WEIGHT, POOLED_SIZE_WEIGHT = 8.0, 16.0
DROPPED_PER_PRODUCT = 0.03
"""Share of products dropped before their next batch, before looking at the calendar (assumption)."""


@dataclass(frozen=True)
class Rhythm:
    """What is known about one product's batches.

    age_days: days since the last batch, None without one. gap_days, gap_cv2: mean and squared
    variation of the gap between batches. own_sizes: knives and batches of each day with a start,
    shape (n, 2). size_ratios: sizes over their mean across the shop. alive: chance it is still made.
    """

    gaps_seen: int
    age_days: float | None
    gap_days: float
    gap_cv2: float
    own_sizes: np.ndarray
    size_ratios: np.ndarray
    alive: float

    @property
    def mean_size(self) -> float:
        """Knives per start."""
        return float(self.own_sizes[:, 0].mean()) if len(self.own_sizes) else 0.0

    def with_gap(self, gap_days: float) -> "Rhythm":
        """The same rhythm, faster or slower."""
        alive = _chance_alive(self.age_days, gap_days, self.gap_cv2)
        return replace(self, gap_days=gap_days, alive=alive)


def learn_rhythms(builds: pd.DataFrame, as_of: pd.Timestamp) -> dict[Hashable, Rhythm]:
    """Rhythm of every product with a batch, shrunk towards the shop's other products.

    Gap mean m = (sum of gaps + 2 m0) / (gaps + 2), m0 the geometric mean over products; squared
    variation shrunk with four pseudo-gaps and widened by 1 + 1 / (gaps + 2) for not knowing m.
    Shapes: builds as in forecasting.frames, none after as_of.
    """
    starts = {
        product: rows.groupby("day")["qty"].agg(["sum", "count"])
        for product, rows in builds.groupby("product", sort=False)
    }
    gaps = {
        product: np.diff(days.index.to_numpy()) / np.timedelta64(1, "D")
        for product, days in starts.items()
    }
    shop_gap = _geometric_mean([own.mean() for own in gaps.values() if len(own)])
    shop_cv2 = _pooled_cv2(list(gaps.values()))
    sizes = {product: days.to_numpy(dtype=float) for product, days in starts.items()}
    ratios = _size_ratios(list(sizes.values()))
    return {
        product: _rhythm(
            gaps[product],
            sizes[product],
            ratios,
            (as_of - starts[product].index.max()).days,
            shop_gap,
            shop_cv2,
        )
        for product in starts
    }


def unknown_rhythm(known: dict[Hashable, Rhythm], sizes: np.ndarray) -> Rhythm:
    """Rhythm of a product that is planned but was never made: the shop's own, the plan's sizes."""
    gap = _geometric_mean([rhythm.gap_days for rhythm in known.values()])
    cv2 = float(np.mean([rhythm.gap_cv2 for rhythm in known.values()] or [UNKNOWN_GAP_CV2]))
    own_sizes = np.column_stack([sizes, np.ones(len(sizes))])
    return Rhythm(0, None, gap, cv2, own_sizes, np.ones(1), 1.0)


def _rhythm(
    gaps: np.ndarray,
    sizes: np.ndarray,
    ratios: np.ndarray,
    age_days: float,
    shop_gap: float,
    shop_cv2: float,
) -> Rhythm:
    n = len(gaps)
    gap = (gaps.sum() + GAP_WEIGHT * shop_gap) / (n + GAP_WEIGHT)
    own_cv2 = float(np.mean((gaps / gap - 1) ** 2)) if n else 0.0
    cv2 = (n * own_cv2 + CV2_WEIGHT * shop_cv2) / (n + CV2_WEIGHT) * (1 + 1 / (n + GAP_WEIGHT))
    alive = _chance_alive(age_days, gap, cv2)
    return Rhythm(n, float(age_days), gap, cv2, sizes, ratios, alive)


def _geometric_mean(gaps: list[float]) -> float:
    return math.exp(np.mean(np.log(gaps))) if gaps else UNKNOWN_GAP_DAYS


def _pooled_cv2(gaps: list[np.ndarray]) -> float:
    """Squared variation of the gaps across products; unbiased for each, weighted by n - 1."""
    several = [own for own in gaps if len(own) >= 2]
    weight = sum(len(own) - 1 for own in several)
    squares = sum(float(((own / own.mean() - 1) ** 2).sum()) for own in several)
    return max(0.02, (squares + UNKNOWN_GAP_CV2 * CV2_WEIGHT) / (weight + CV2_WEIGHT))


def _size_ratios(sizes: list[np.ndarray]) -> np.ndarray:
    several = [own[:, 0] / own[:, 0].mean() for own in sizes if len(own) >= 2]
    return np.concatenate([*several, np.ones(1)])


def _chance_alive(age_days: float | None, gap_days: float, gap_cv2: float) -> float:
    """Bayes: a long silence speaks for a dropped product as far as the rhythm makes it unlikely."""
    if age_days is None:
        return 1.0
    silent = float(gammaincc(1 / gap_cv2, age_days / (gap_days * gap_cv2)))
    kept = (1 - DROPPED_PER_PRODUCT) * silent
    return kept / (kept + DROPPED_PER_PRODUCT)


def simulate_batches(
    rhythm: Rhythm | None,
    planned: pd.DataFrame,
    *,
    horizon_days: int,
    paths: int,
    rng: np.random.Generator,
) -> Paths:
    """Futures of one product: the plan stands up to its last batch, then the rhythm goes on.

    Shapes: planned has day (whole days from today, past ones count as today) and qty.
    """
    firm = _firm(planned, paths)
    if rhythm is None:
        return firm
    day = _next_start(rhythm, planned, paths, rng)
    days = []
    while (day <= horizon_days).any():
        days.append(day)
        day = day + np.maximum(1.0, _gaps(rhythm, paths, rng))
    if not days:
        return firm
    ceiled = np.ceil(np.column_stack(days))
    drawn = np.where(ceiled <= horizon_days, ceiled, np.inf)
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


def _next_start(
    rhythm: Rhythm, planned: pd.DataFrame, paths: int, rng: np.random.Generator
) -> np.ndarray:
    if not planned.empty:
        return max(0.0, planned["day"].max()) + np.maximum(1.0, _gaps(rhythm, paths, rng))
    shape, scale = 1 / rhythm.gap_cv2, rhythm.gap_days * rhythm.gap_cv2
    still_silent = max(float(gammaincc(shape, rhythm.age_days / scale)), 1e-12)
    gap = scale * gammainccinv(shape, rng.uniform(size=paths) * still_silent)
    day = np.maximum(1.0, gap - rhythm.age_days)
    return np.where(rng.uniform(size=paths) < rhythm.alive, day, np.inf)


def _gaps(rhythm: Rhythm, paths: int, rng: np.random.Generator) -> np.ndarray:
    return rng.gamma(1 / rhythm.gap_cv2, rhythm.gap_days * rhythm.gap_cv2, paths)


def _sizes(rhythm: Rhythm, count: int, rng: np.random.Generator) -> np.ndarray:
    """Knives and batches per start: mostly the product's own, else its mean times a shop ratio."""
    own = rhythm.own_sizes[rng.integers(len(rhythm.own_sizes), size=count)]
    ratio = rng.choice(rhythm.size_ratios, size=count)
    knives = np.maximum(1.0, np.rint(rhythm.mean_size * ratio))
    pooled = np.column_stack([knives, np.rint(np.full(count, rhythm.own_sizes[:, 1].mean()))])
    own_weight = OWN_SIZE_WEIGHT * len(rhythm.own_sizes)
    take_own = rng.uniform(size=count) < own_weight / (own_weight + POOLED_SIZE_WEIGHT)
    return np.where(take_own[:, None], own, pooled)
