"""How far smoothed levels were off in the shop's own past, by what could be seen at the time."""

from dataclasses import dataclass

import numpy as np

__all__ = ["Seen", "corrected", "learn_correction"]

WIDEST_RATIO = 3.0
"""Largest natural logarithm of a ratio or of a correction: nothing beyond what was met."""
LEAST_SHARE = 0.05
"""Of the shop's mean; keeps ratios of levels finite."""
OVERDISPERSION = 0.5
"""Variance of a sum = mean + 0.5 mean²: busy items count for more, but not for all."""
CAUTION = 60.0
"""Weight of no correction, as of that many demands seen where demand is Poisson."""
ROUNDS = 12


@dataclass(frozen=True)
class Seen:
    """What was known of every item on one day.

    mean: expected per period before correction. levels: smoothed slowly to quickly, one column
    each. since: known periods since the last demand, of all periods if there was none.
    """

    mean: np.ndarray
    levels: np.ndarray
    since: np.ndarray


def learn_correction(
    past: list[Seen], sums: list[np.ndarray], periods: int, weights: list[float], shop_level: float
) -> np.ndarray:
    """Coefficients by which the expected sums would have come nearest to those that came.

    A regression of the sums on how the levels stood to each other, how busy the item was and how
    long it had been quiet, over all items and several days of the past; shrunk to no correction, so
    that a small shop is left as it is.
    Args: sums: over the periods after each day, NaN where not known whole. weights: of each day.
    Source: Poisson regression with overdispersion weights by iteratively reweighted least squares,
        McCullagh & Nelder (1989), Generalized Linear Models | from memory; the features are ours.
    """
    features = np.concatenate([_features(seen, shop_level) for seen in past])
    expected = np.concatenate([seen.mean for seen in past]) * periods
    came = np.concatenate(sums)
    weight = np.repeat(weights, [len(one) for one in sums])
    whole = np.isfinite(came)
    features, expected, came, weight = (part[whole] for part in (features, expected, came, weight))
    weight = weight / _unevenness(came, expected, weight)
    coefficients = np.zeros(features.shape[1])
    shrinkage = CAUTION * np.eye(len(coefficients))
    for _ in range(ROUNDS):
        mean = expected * _factor(features, coefficients)
        trust = weight / (1 + OVERDISPERSION * mean)
        slope = features.T @ ((came - mean) * trust) - CAUTION * coefficients
        curvature = (features * (mean * trust)[:, None]).T @ features + shrinkage
        coefficients = coefficients + np.linalg.solve(curvature, slope)
    return coefficients


def corrected(seen: Seen, coefficients: np.ndarray, shop_level: float) -> np.ndarray:
    """Factor on the mean of every item."""
    return _factor(_features(seen, shop_level), coefficients)


def _unevenness(came: np.ndarray, expected: np.ndarray, weight: np.ndarray) -> float:
    """Squared errors over what they would be by chance, at least 1: lumpy demand teaches less."""
    by_chance = expected * (1 + OVERDISPERSION * expected) + 1e-9
    total = float((weight * expected).sum())
    if not total:
        return 1.0
    return max(1.0, float((weight * expected * (came - expected) ** 2 / by_chance).sum() / total))


def _factor(features: np.ndarray, coefficients: np.ndarray) -> np.ndarray:
    return np.exp(np.clip(features @ coefficients, -WIDEST_RATIO, WIDEST_RATIO))


def _features(seen: Seen, shop_level: float) -> np.ndarray:
    least = LEAST_SHARE * shop_level + 1e-9
    busy = _log_ratio(seen.mean + least, shop_level + least)
    quiet = np.log1p(seen.since)
    return np.column_stack(
        [
            np.ones(len(busy)),
            busy,
            busy**2,
            np.exp(-seen.since),
            quiet,
            quiet**2,
            _log_ratio(seen.levels + least, (seen.mean + least)[:, None]),
        ]
    )


def _log_ratio(above: np.ndarray, below: np.ndarray | float) -> np.ndarray:
    return np.clip(np.log(above / below), -WIDEST_RATIO, WIDEST_RATIO)
