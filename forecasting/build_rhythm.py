"""Rhythm of a product's batches: gaps and sizes, learned together with the shop's others."""

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import gammaincc, gammaln

__all__ = ["GapBeliefs", "Rhythm", "learn_rhythms", "rhythm_without_history"]

UNKNOWN_GAP_DAYS = 56.0
"""Gap between batches in a shop without history (assumption, no source)."""
SHOP_WEIGHT = 1.5
"""Worth of the shop's other products when a mean gap is estimated, in gaps; fades as they come."""
DROPPED_SHARE, DROPPED_WEIGHT = 0.02, 100.0
"""One batch in fifty is a product's last, before looking at the shop: worth so many batches of its
own record (assumption, no source)."""

MEMORY = np.array([1.0, 0.85, 0.6])
"""Weight of a gap against the one after it: all gaps count alike, or recent ones count more."""
VARIATION = np.array([0.03, 0.08, 0.16, 0.3, 0.55, 1.0])
"""Squared variation of a gap around its mean: from clockwork to pure chance."""
CELL_MEMORY = np.repeat(np.arange(len(MEMORY)), len(VARIATION))
CELL_VARIATION = np.tile(VARIATION, len(MEMORY))
UNIFORM = np.full(len(CELL_VARIATION), 1 / len(CELL_VARIATION))


@dataclass(frozen=True)
class GapBeliefs:
    """What the gaps may be: one cell for each pair of MEMORY and VARIATION.

    chance: belief in each cell, sums to 1. mean_days: mean gap in each cell.
    mean_spread: squared variation of that mean, for not knowing it. variation: of single gaps.
    """

    chance: np.ndarray
    mean_days: np.ndarray
    mean_spread: np.ndarray
    variation: np.ndarray

    @property
    def expected_days(self) -> float:
        """Mean gap over all cells."""
        return float(self.chance @ self.mean_days)


@dataclass(frozen=True)
class Rhythm:
    """What is known about one product's batches.

    age_days: days since the last batch, None without one. sizes: knives and batches of each day
    with a start, shape (n, 2). size_ratios: sizes over their product's mean, across the shop.
    alive: chance that the product is still made.
    """

    gaps: GapBeliefs
    age_days: float | None
    sizes: np.ndarray
    size_ratios: np.ndarray
    alive: float


def learn_rhythms(builds: pd.DataFrame, as_of: pd.Timestamp) -> dict[Hashable, Rhythm]:
    """Rhythm of every product with a batch.

    The mean gap is a weighted mean of the gaps seen and of m0, the geometric mean over the shop's
    products. How fast old gaps fade and how much gaps vary are not fixed: each pair of the two is
    a cell, judged by how well it foretold the gaps that came, and belief in the cells is shared
    between products by expectation maximisation; a product with two batches takes the habits of
    the shop.
    Shapes: builds as in forecasting.frames, none after as_of.
    Source: empirical Bayes mixture, e.g. Efron & Hastie (2016), Computer Age Statistical
        Inference, chapter 6 | from memory; its use for batch gaps is our own.
    """
    starts = {
        product: rows.groupby("day")["qty"].agg(["sum", "count"])
        for product, rows in builds.groupby("product", sort=False)
    }
    gaps = [np.diff(days.index.to_numpy()) / np.timedelta64(1, "D") for days in starts.values()]
    shop_gap = _geometric_mean([own.mean() for own in gaps if len(own)])
    beliefs = _share_beliefs([_judge(own, shop_gap) for own in gaps])
    sizes = [days.to_numpy(dtype=float) for days in starts.values()]
    ratios = _size_ratios(sizes)
    ages = [float((as_of - days.index.max()).days) for days in starts.values()]
    alive = _chances_alive(beliefs, ages, batches=sum(map(len, sizes)))
    return {
        product: Rhythm(belief, age, own_sizes, ratios, float(chance))
        for product, belief, age, own_sizes, chance in zip(
            starts, beliefs, ages, sizes, alive, strict=True
        )
    }


def rhythm_without_history(known: Sequence[Rhythm], sizes: np.ndarray) -> Rhythm:
    """Rhythm of a product that is planned but was never made: the shop's own, the plan's sizes."""
    fresh = _judge(np.zeros(0), _geometric_mean([rhythm.gaps.expected_days for rhythm in known]))
    chance = np.mean([rhythm.gaps.chance for rhythm in known] or [UNIFORM], axis=0)
    beliefs = GapBeliefs(chance, fresh.mean_days, fresh.mean_spread, CELL_VARIATION)
    own_sizes = np.column_stack([sizes, np.ones(len(sizes))])
    return Rhythm(beliefs, None, own_sizes, np.ones(1), 1.0)


@dataclass(frozen=True)
class Judgement:
    """How well each cell foretold a product's gaps, and what it expects next."""

    log_likelihood: np.ndarray
    mean_days: np.ndarray
    mean_spread: np.ndarray


def _judge(gaps: np.ndarray, shop_gap: float) -> Judgement:
    weight = np.full(len(MEMORY), SHOP_WEIGHT)
    total = weight * shop_gap
    likelihood = np.zeros(len(CELL_VARIATION))
    for gap in gaps:
        mean, spread = (total / weight)[CELL_MEMORY], (1 + 1 / weight)[CELL_MEMORY]
        likelihood += _log_gamma_density(gap, mean, CELL_VARIATION * spread)
        weight, total = MEMORY * weight + 1, MEMORY * total + gap
    return Judgement(
        likelihood, (total / weight)[CELL_MEMORY], CELL_VARIATION / weight[CELL_MEMORY]
    )


def _log_gamma_density(gap: float, mean: np.ndarray, variation: np.ndarray) -> np.ndarray:
    shape = 1 / variation
    rate = shape / mean
    return shape * np.log(rate) - gammaln(shape) + (shape - 1) * math.log(gap) - rate * gap


def _share_beliefs(judged: list[Judgement]) -> list[GapBeliefs]:
    prior, chances = UNIFORM, []
    for _ in range(20):
        chances = [_posterior(prior, own.log_likelihood) for own in judged]
        prior = np.mean([*chances, UNIFORM], axis=0)
    return [
        GapBeliefs(chance, own.mean_days, own.mean_spread, CELL_VARIATION)
        for chance, own in zip(chances, judged, strict=True)
    ]


def _posterior(prior: np.ndarray, log_likelihood: np.ndarray) -> np.ndarray:
    weight = prior * np.exp(log_likelihood - log_likelihood.max())
    return weight / weight.sum()


def _geometric_mean(gaps: Sequence[float]) -> float:
    return math.exp(np.mean(np.log(gaps))) if len(gaps) else UNKNOWN_GAP_DAYS


def _size_ratios(sizes: list[np.ndarray]) -> np.ndarray:
    several = [own[:, 0] / own[:, 0].mean() for own in sizes if len(own) >= 2]
    return np.concatenate([*several, np.ones(1)])


def _chances_alive(beliefs: list[GapBeliefs], ages: list[float], batches: int) -> np.ndarray:
    """Bayes: a long silence speaks for a dropped product as far as the rhythm makes it unlikely.

    How often a batch is a product's last is learned from the shop itself, by expectation
    maximisation: one that drops nothing believes in its products longer.
    """
    silent = np.array([_survival(own, age) for own, age in zip(beliefs, ages, strict=True)])
    share, dropped = DROPPED_SHARE, np.zeros(len(ages))
    for _ in range(20):
        dropped = share / (share + (1 - share) * silent)
        share = (DROPPED_WEIGHT * DROPPED_SHARE + dropped.sum()) / (DROPPED_WEIGHT + batches)
    return 1 - dropped


def _survival(beliefs: GapBeliefs, age_days: float) -> float:
    """Chance that a product still made is silent for so long."""
    variation = beliefs.variation + beliefs.mean_spread
    silent = gammaincc(1 / variation, age_days / (beliefs.mean_days * variation))
    return float(beliefs.chance @ silent)
