"""Rhythm of a product's batches: gaps and sizes, learned together with the shop's others."""

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import gammaincc, gammaln

__all__ = ["GapBeliefs", "Rhythm", "learn_rhythms", "rhythm_without_history"]

UNKNOWN_GAP_DAYS, UNKNOWN_WEIGHT = 56.0, 0.1
"""Gap between batches in a shop without history, in products of its own (assumption, no source)."""
USUAL_SPREAD, USUAL_WEIGHT = 0.5, 4.0
"""Spread of the log of the products' mean gaps before any is seen, worth four (assumption)."""
DROPPED_SHARE, DROPPED_WEIGHT = 0.01, 100.0
"""One batch in a hundred is a product's last, before looking at the shop: worth so many batches of
its own record (assumption, no source)."""
GAPS_LOOKED_AT = 50
EPOCH = pd.Timestamp(1970, 1, 1)
LEAST = 1e-300

MEMORY = np.array([1.0, 0.9, 0.7])
"""Weight of a gap against the one after it: all gaps count alike, or recent ones count more."""
VARIATION = np.geomspace(0.02, 1.0, 8)
"""Squared variation of a gap around its mean: from clockwork to pure chance."""
STEP = 0.08
MEAN_DAYS = np.exp(np.arange(math.log(2), math.log(1000), STEP))
"""Mean gaps thought of; a cell is one of each: MEMORY, VARIATION, MEAN_DAYS."""
SHAPE = len(MEMORY), len(VARIATION), len(MEAN_DAYS)
UNIFORM = np.full(SHAPE[:2], 1 / (SHAPE[0] * SHAPE[1]))
CELL_VARIATION = np.broadcast_to(VARIATION[:, None], SHAPE).ravel()
CELL_MEAN_DAYS = np.broadcast_to(MEAN_DAYS, SHAPE).ravel()
CELL_SPREAD = np.full(CELL_VARIATION.shape, STEP**2 / 12)


@dataclass(frozen=True)
class GapBeliefs:
    """What the gaps may be: one cell for each MEMORY, VARIATION and MEAN_DAYS.

    chance: belief in each cell, sums to 1. mean_days: mean gap in each cell.
    mean_spread: squared variation of that mean within the cell. variation: of single gaps.
    """

    chance: np.ndarray
    mean_days: np.ndarray
    mean_spread: np.ndarray
    variation: np.ndarray

    @property
    def expected_days(self) -> float:
        """Geometric mean gap over all cells."""
        return math.exp(self.chance @ np.log(self.mean_days))

    def silent_for(self, age_days: float) -> float:
        """Chance that a product still made is silent for so long."""
        scale = self.mean_days * self.variation
        return float(self.chance @ gammaincc(1 / self.variation, age_days / scale))


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

    Mean gaps are spread over the shop's products like a lognormal, estimated from all of them with
    the silences since their last batches; each product's own gaps then speak for its mean. How
    fast old gaps fade and how much gaps vary are not fixed either: each pair of the two is judged
    by how well it foretold the gaps that came, and belief in the pairs is shared between products
    by expectation maximisation; a product with two batches takes the habits of the shop.
    Shapes: builds as in forecasting.frames, none after as_of.
    Source: empirical Bayes mixture, e.g. Efron & Hastie (2016), Computer Age Statistical
        Inference, chapter 6 | from memory; its use for batch gaps is our own.
    """
    starts = _starts(builds)
    gaps = [np.diff(days) for days, _ in starts.values()]
    ages = [float((as_of - EPOCH).days) - days[-1] for days, _ in starts.values()]
    seen = [_log_gamma_density(own[-GAPS_LOOKED_AT:]) for own in gaps]
    usual = _usual_means(seen, ages)
    beliefs = _share_beliefs([_judge(own, usual) for own in seen])
    sizes = [own for _, own in starts.values()]
    ratios = _size_ratios(sizes)
    alive = _chances_alive(beliefs, ages, batches=sum(map(len, sizes)))
    return {
        product: Rhythm(belief, age, own_sizes, ratios, float(chance))
        for product, belief, age, own_sizes, chance in zip(
            starts, beliefs, ages, sizes, alive, strict=True
        )
    }


def _starts(builds: pd.DataFrame) -> dict[Hashable, tuple[np.ndarray, np.ndarray]]:
    """Of every product its days with a start, ascending, counted from EPOCH; knives and batches
    of each, shape (days, 2)."""
    if builds.empty:
        return {}
    place, products = pd.factorize(builds["product"])
    day = (builds["day"] - EPOCH).dt.days.to_numpy()
    order = np.lexsort((day, place))
    place, day, qty = place[order], day[order], builds["qty"].to_numpy(dtype=float)[order]
    is_new = np.append(True, (np.diff(place) != 0) | (np.diff(day) != 0))
    start = np.flatnonzero(is_new)
    sizes = np.column_stack([np.add.reduceat(qty, start), np.diff(np.append(start, len(day)))])
    ends = np.cumsum(np.bincount(place[start], minlength=len(products)))[:-1]
    days = np.split(day[start].astype(float), ends)
    return dict(zip(products, zip(days, np.split(sizes, ends), strict=True), strict=True))


def rhythm_without_history(known: Sequence[Rhythm], sizes: np.ndarray) -> Rhythm:
    """Rhythm of a product that is planned but was never made: the shop's own, the plan's sizes."""
    if known:
        chance = np.mean([rhythm.gaps.chance for rhythm in known], axis=0)
    else:
        usual = np.exp(_log_prior(math.log(UNKNOWN_GAP_DAYS)))
        chance = np.broadcast_to(usual, SHAPE).ravel() * UNIFORM[0, 0]
    own_sizes = np.column_stack([sizes, np.ones(len(sizes))])
    return Rhythm(_beliefs(chance), None, own_sizes, np.ones(1), 1.0)


@dataclass(frozen=True)
class Judgement:
    """How well each pair of MEMORY and VARIATION foretold a product's gaps, and where it ended.

    foretold: log-likelihood, (memory, variation). means: chance of each of MEAN_DAYS in each pair.
    """

    foretold: np.ndarray
    means: np.ndarray


def _log_gamma_density(gaps: np.ndarray) -> np.ndarray:
    """Of every gap in every pair of VARIATION and MEAN_DAYS: (gaps, variation, mean)."""
    shape = 1 / VARIATION[:, None]
    rate, gap = shape / MEAN_DAYS, gaps[:, None, None]
    return shape * np.log(rate) - gammaln(shape) + (shape - 1) * np.log(gap) - rate * gap


def _usual_means(seen: list[np.ndarray], ages: list[float]) -> np.ndarray:
    """Log-chance of each of MEAN_DAYS for a product of this shop, before its own gaps are seen."""
    scale = MEAN_DAYS * VARIATION[:, None]
    silent = [gammaincc(1 / VARIATION[:, None], age / scale) for age in ages]
    told = np.array([own.sum(axis=0) for own in seen]).reshape(-1, *scale.shape)
    told += np.log(DROPPED_SHARE + (1 - DROPPED_SHARE) * np.reshape(silent, told.shape))
    middle, spread = math.log(UNKNOWN_GAP_DAYS), USUAL_SPREAD
    log_mean, count = np.log(MEAN_DAYS), len(seen)
    varied = np.full(len(VARIATION), 1 / len(VARIATION))
    for _ in range(15):
        weight = _normal(told + _log_prior(middle, spread) + np.log(varied)[:, None], axes=(1, 2))
        means = weight.sum(axis=1)
        logs = float((means @ log_mean).sum())
        middle = logs + UNKNOWN_WEIGHT * math.log(UNKNOWN_GAP_DAYS)
        middle /= count + UNKNOWN_WEIGHT
        squares = float((means @ (log_mean - middle) ** 2).sum())
        spread = math.sqrt((squares + USUAL_WEIGHT * USUAL_SPREAD**2) / (count + USUAL_WEIGHT))
        varied = (weight.sum(axis=(0, 2)) + 1 / len(VARIATION)) / (count + 1)
    return _log_prior(middle, spread)


def _log_prior(middle: float, spread: float = USUAL_SPREAD) -> np.ndarray:
    log_chance = -((np.log(MEAN_DAYS) - middle) ** 2) / (2 * spread**2)
    return np.log(_normal(log_chance) + LEAST)


def _judge(seen: np.ndarray, usual: np.ndarray) -> Judgement:
    """Every gap foretold from those before it, each memory fading them in its own way."""
    count = len(seen)
    ago = np.arange(count + 1)[:, None] - 1 - np.arange(count)
    fading = np.where(ago >= 0, MEMORY[:, None, None] ** np.maximum(ago, 0), 0.0)
    before = np.tensordot(fading, seen, 1) + usual
    means = _normal(before, axes=(3,))
    likelihood = (means[:, :-1] * np.exp(seen)).sum(axis=3)
    return Judgement(np.log(likelihood + LEAST).sum(axis=1), means[:, -1])


def _share_beliefs(judged: list[Judgement]) -> list[GapBeliefs]:
    prior = UNIFORM
    chances: list[np.ndarray] = []
    for _ in range(20):
        chances = [_normal(np.log(prior) + own.foretold, axes=(0, 1)) for own in judged]
        prior = np.mean([*chances, UNIFORM], axis=0)
    return [
        _beliefs((chance[:, :, None] * own.means).ravel())
        for chance, own in zip(chances, judged, strict=True)
    ]


def _beliefs(chance: np.ndarray) -> GapBeliefs:
    return GapBeliefs(chance, CELL_MEAN_DAYS, CELL_SPREAD, CELL_VARIATION)


def _normal(log_weight: np.ndarray, axes: tuple[int, ...] = (0,)) -> np.ndarray:
    """Weights that sum to 1 over those axes."""
    weight = np.exp(log_weight - log_weight.max(axis=axes, keepdims=True))
    return weight / weight.sum(axis=axes, keepdims=True)


def _size_ratios(sizes: list[np.ndarray]) -> np.ndarray:
    several = [own[:, 0] / own[:, 0].mean() for own in sizes if len(own) >= 2]
    return np.concatenate([*several, np.ones(1)])


def _chances_alive(beliefs: list[GapBeliefs], ages: list[float], batches: int) -> np.ndarray:
    """Bayes: a long silence speaks for a dropped product as far as the rhythm makes it unlikely.

    How often a batch is a product's last is learned from the shop itself, by expectation
    maximisation: one that drops nothing believes in its products longer.
    """
    silent = np.array([own.silent_for(age) for own, age in zip(beliefs, ages, strict=True)])
    share, dropped = DROPPED_SHARE, np.zeros(len(ages))
    for _ in range(20):
        dropped = share / (share + (1 - share) * silent)
        share = (DROPPED_WEIGHT * DROPPED_SHARE + dropped.sum()) / (DROPPED_WEIGHT + batches)
    return 1 - dropped
