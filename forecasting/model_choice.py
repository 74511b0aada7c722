"""Which model foretold best: rolling origins, the quantile loss of the sum, pooled per class."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from forecasting.classify import whole_numbers
from forecasting.gamma_sums import dispersion_of, quantile_losses
from forecasting.point_models import expected_sums

__all__ = [
    "FEWEST_PERIODS",
    "JUDGED_CHANCES",
    "Judged",
    "judge",
    "judge_sums",
    "judged_rows",
    "origins",
    "pays",
    "series_variance",
]

JUDGED_CHANCES = (0.5, 0.8, 0.95, 0.99)
"""The middle, so that no model wins by expecting too much, and what a shelf is filled for."""
FEWEST_PERIODS = 8
"""Known before a model is judged, or trusted."""
MOST_SPREAD = 4.0
SURE = 2.0
"""Standard errors by which a richer model must win."""


@dataclass(frozen=True)
class Judged:
    """How models did on the past of many series.

    losses: quantile losses summed over the chances, over the standard deviation of the sum, shape
    (series, origins, models); NaN where an origin could not be judged. squares: squared errors of
    the sum over its variance, expected: what the dispersion and each mean let one expect of them;
    both (series, models), added up over the origins.
    """

    models: tuple[str, ...]
    losses: np.ndarray
    squares: np.ndarray
    expected: np.ndarray

    def scores(self, rows: np.ndarray) -> dict[str, float]:
        """Mean loss of each model over the series, each counting alike; empty if none was judged."""
        losses = self.losses[rows]
        counted = np.isfinite(losses[:, :, 0]).sum(axis=1)
        seen = counted > 0
        if not seen.any():
            return {}
        per_series = np.nansum(losses[seen], axis=1) / counted[seen, None]
        return dict(zip(self.models, per_series.mean(axis=0).tolist(), strict=True))

    def spread_factor(self, rows: np.ndarray, model: str) -> float:
        """How much wider than their dispersion the sums fell around that model, at most 4 times."""
        column = self.models.index(model)
        expected = self.expected[rows, column].sum()
        ratio = self.squares[rows, column].sum() / expected if expected > 0 else 1.0
        return float(np.clip(ratio, 1 / MOST_SPREAD, MOST_SPREAD))


def origins(periods: int, periods_ahead: int, windows: int, step: int) -> list[int]:
    """Periods known at each origin, the latest first; only those with enough of them."""
    latest = periods - periods_ahead
    return [
        known for known in range(latest, latest - windows * step, -step) if known >= FEWEST_PERIODS
    ]


def judge(
    qty: np.ndarray,
    models: Sequence[str],
    periods_ahead: int,
    known_at: Sequence[int],
    season: int = 1,
    spread_factor: float = 1.0,
) -> Judged:
    """Every model's quantiles of the sum over the periods ahead, as foretold at past origins.

    Each model gets the same distribution around its mean: gamma, as dispersed as the series was by
    then. An origin is judged where eight periods are known, some with demand, and at least half of
    those ahead, by that part of the sum.
    Args: season: periods in a year. spread_factor: widens the distribution.
    Shapes: qty (series, periods), NaN where not known.
    Source: rolling origin, Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed.,
        section 5.10; pinball loss, section 5.9.
    """

    def sums(place: int, rows: np.ndarray) -> np.ndarray:
        return expected_sums(qty[rows, : known_at[place]], models, periods_ahead, season)

    return judge_sums(qty, models, periods_ahead, known_at, sums, spread_factor)


def judge_sums(
    qty: np.ndarray,
    models: Sequence[str],
    periods_ahead: int,
    known_at: Sequence[int],
    sums: Callable[[int, np.ndarray], np.ndarray],
    spread_factor: float = 1.0,
) -> Judged:
    """The same for sums foretold in any other way.

    Args: sums: expected sum (rows, models) by place of the origin and rows of the series.
    """
    whole, variance = whole_numbers(qty), series_variance(qty)
    losses = np.full((len(qty), len(known_at), len(models)), np.nan)
    squares, expected = np.zeros((2, len(qty), len(models)))
    for place, known in enumerate(known_at):
        past, ahead = qty[:, :known], qty[:, known : known + periods_ahead]
        rows = _told_at(qty, known, periods_ahead)
        if not rows.size:
            continue
        actual, seen = np.nansum(ahead[rows], axis=1), np.isfinite(ahead[rows]).sum(axis=1)[:, None]
        mean, unit = sums(place, rows) * seen / periods_ahead, variance[rows, None] * seen
        dispersion = spread_factor * dispersion_of(past[rows])
        lost = quantile_losses(actual, mean, dispersion, whole[rows], JUDGED_CHANCES)
        losses[rows, place] = lost / np.sqrt(unit)
        squares[rows] += (actual[:, None] - mean) ** 2 / unit
        expected[rows] += dispersion[:, None] * mean / unit
    return Judged(tuple(models), losses, squares, expected)


def judgeable(qty: np.ndarray, periods_ahead: int, known_at: Sequence[int]) -> np.ndarray:
    """Whether each series can be judged at one of the origins at least, (series,)."""
    found = np.zeros(len(qty), dtype=bool)
    for known in known_at:
        found[_told_at(qty, known, periods_ahead)] = True
    return found


def _told_at(qty: np.ndarray, known: int, periods_ahead: int) -> np.ndarray:
    """Places of the series that can be judged at an origin."""
    seen = np.isfinite(qty[:, known : known + periods_ahead]).sum(axis=1)
    return judged_rows(qty[:, :known], 2 * seen >= periods_ahead)


def judged_rows(past: np.ndarray, outcome_known: np.ndarray) -> np.ndarray:
    """Places of the series of which enough was known, and of which the outcome is known."""
    enough = (np.isfinite(past).sum(axis=1) >= FEWEST_PERIODS) & (past > 0).any(axis=1)
    return np.flatnonzero(enough & outcome_known)


def series_variance(qty: np.ndarray) -> np.ndarray:
    """Variance of a period of every series, at least that of a tenth of its mean; never 0."""
    known = np.maximum(np.isfinite(qty).sum(axis=1), 1)
    variance = dispersion_of(qty) * np.nansum(qty, axis=1) / known
    return np.where(variance > 0, variance, 1.0)


def pays(richer: np.ndarray, plain: np.ndarray) -> bool:
    """Whether the richer model's losses are lower by more than chance, pair by pair.

    Shapes: both any, NaN where not judged; at least three pairs are asked for.
    """
    gained = (plain - richer)[np.isfinite(plain - richer)]
    if len(gained) < 3:
        return False
    return bool(gained.mean() > SURE * gained.std(ddof=1) / np.sqrt(len(gained)))
