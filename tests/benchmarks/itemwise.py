"""Item by item, as most programs forecast: quantiles of the use of the next weeks from past weeks.

Croston (1972), Syntetos & Boylan (2005), Willemain, Smart & Schwarz (2004): all from memory.
Shapes: weeks is (items, weeks); every method returns (chances, items).
"""

import numpy as np
from scipy import stats

SMOOTHING = 0.1
BOOTSTRAPS = 400


def smoothed_normal(weeks: np.ndarray, ahead: int, chances: np.ndarray) -> np.ndarray:
    """Exponentially smoothed level, normal with the errors it made."""
    level, errors = _smoothed(weeks)
    return _normal(level, errors, ahead, chances)


def smoothed_counts(weeks: np.ndarray, ahead: int, chances: np.ndarray) -> np.ndarray:
    """The same level and errors, as a negative binomial."""
    level, errors = _smoothed(weeks)
    mean = np.maximum(level * ahead, 1e-9)
    variance = np.maximum(errors * ahead, 1.01 * mean)
    share = mean / variance
    return stats.nbinom.ppf(chances[:, None], mean * share / (1 - share), share)


def intervals_and_sizes(weeks: np.ndarray, ahead: int, chances: np.ndarray) -> np.ndarray:
    """Croston's method with the correction of Syntetos & Boylan, normal with its errors."""
    items = np.arange(len(weeks))
    first = np.argmax(weeks > 0, axis=1)
    size, interval = np.maximum(weeks[items, first], 1e-9), first + 1.0
    level, since, squares = np.zeros(len(weeks)), np.zeros(len(weeks)), np.zeros(len(weeks))
    for week in weeks.T:
        squares += (week - level) ** 2
        since += 1
        used = week > 0
        size = np.where(used, size + SMOOTHING * (week - size), size)
        interval = np.where(used, interval + SMOOTHING * (since - interval), interval)
        since = np.where(used, 0, since)
        level = (1 - SMOOTHING / 2) * size / interval
    return _normal(level, squares / weeks.shape[1], ahead, chances)


def empirical_sums(weeks: np.ndarray, ahead: int, chances: np.ndarray) -> np.ndarray:
    """Quantiles of all sums of that many consecutive weeks."""
    sums = np.lib.stride_tricks.sliding_window_view(weeks, ahead, axis=1).sum(axis=-1)
    return np.quantile(sums, chances, axis=1, method="higher")


def markov_bootstrap(weeks: np.ndarray, ahead: int, chances: np.ndarray) -> np.ndarray:
    """Willemain's bootstrap: weeks with and without use follow each other as seen, sizes drawn."""
    rng, answer = np.random.default_rng(3), []
    for series in weeks:
        used, sizes = series > 0, series[series > 0]
        if not len(sizes):
            answer.append(np.zeros(len(chances)))
            continue
        goes_on = [(used[1:] & (used[:-1] == before)).sum() for before in (False, True)]
        seen = [(used[:-1] == before).sum() for before in (False, True)]
        chance = [(on + 0.5) / (of + 1) for on, of in zip(goes_on, seen, strict=True)]
        now = np.full(BOOTSTRAPS, used[-1])
        total = np.zeros(BOOTSTRAPS)
        for _ in range(ahead):
            now = rng.uniform(size=BOOTSTRAPS) < np.where(now, chance[1], chance[0])
            drawn = rng.choice(sizes, BOOTSTRAPS)
            jittered = 1 + (drawn + rng.normal(size=BOOTSTRAPS) * np.sqrt(drawn)).astype(int)
            total += now * np.where(jittered > 0, jittered, drawn)
        answer.append(np.quantile(total, chances, method="higher"))
    return np.column_stack(answer)


METHODS = {
    "normal around smoothing": smoothed_normal,
    "normal around intervals and sizes": intervals_and_sizes,
    "sums seen so far": empirical_sums,
    "bootstrap of weeks": markov_bootstrap,
    "negative binomial around smoothing": smoothed_counts,
}


def _smoothed(weeks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    level = weeks[:, :8].mean(axis=1)
    squares = np.zeros(len(weeks))
    for week in weeks.T:
        squares += (week - level) ** 2
        level = level + SMOOTHING * (week - level)
    return level, squares / weeks.shape[1]


def _normal(level: np.ndarray, variance: np.ndarray, ahead: int, chances: np.ndarray) -> np.ndarray:
    factor = stats.norm.ppf(chances)[:, None]
    return np.maximum(0.0, level * ahead + factor * np.sqrt(variance * ahead))
