"""Which Weibull lives are plausible after a few cutters: the range around a fit.

With five failures a fit alone looks far surer than it is. Here shape and scale get their joint
distribution given the lives, in the form of equally likely pairs; any chance, count or life can be
worked out for each pair, and its range read off.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite, log

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import BadInput, require
from forecasting.weibull import Weibull, checked_lives, hazard_to_come

__all__ = ["Expectation", "WeibullRange", "weibull_range"]

SHAPES, SCALES = 24, 12
LOG_SHAPE_LIMITS = (log(0.02), log(2000.0))
NEGLIGIBLE = 12.0  # natural logarithm of how much less likely than the best
NINE_IN_TEN = 1.645  # standard deviations of a normal distribution on either side


@dataclass(frozen=True)
class Expectation:
    """What is expected of shape and, if known, of life before any cutter was used up.

    Args:
        shape: shape expected; nine times in ten it lies within `shape_factor` up or down.
        shape_factor: above 1.
        scale: life by which 63.2 % are expected to have failed; None if nothing is known.
        weight: how many failures seen the expected scale counts for, 0.25 or more; used with a
            scale only.
    """

    shape: float
    shape_factor: float
    scale: float | None = None
    weight: float = 0.0

    def __post_init__(self) -> None:
        Weibull(self.shape, 1.0 if self.scale is None else self.scale)
        factor = self.shape_factor
        require(isfinite(factor) and factor > 1, "shape_factor", "be above 1", factor)
        if self.scale is not None:
            holds = isfinite(self.weight) and self.weight >= 0.25
            require(holds, "weight", "be 0.25 or more", self.weight)


@dataclass(frozen=True, eq=False)
class WeibullRange:
    """Equally likely pairs of shape and scale.

    Args:
        shape, scale: shape (SHAPES * SCALES,) each.
        middle: median shape, and the median scale that goes with it.
        log_shape_grid, share_below: distribution function of ln shape, one array each.
    """

    shape: NDArray[np.float64]
    scale: NDArray[np.float64]
    middle: Weibull
    log_shape_grid: NDArray[np.float64]
    share_below: NDArray[np.float64]

    def shape_quantile(self, share: float) -> float:
        """Shape below which the true one lies with this chance."""
        return float(np.exp(np.interp(share, self.share_below, self.log_shape_grid)))

    def shape_interval(self, confidence: float = 0.9) -> tuple[float, float]:
        """Shapes between which the true one lies with this confidence."""
        tail = _tail(confidence)
        return self.shape_quantile(tail), self.shape_quantile(1 - tail)

    def life_interval(self, share: float, confidence: float = 0.9) -> tuple[float, float]:
        """Range of the life by which `share` have failed (0.1: the B10 life)."""
        lives = self.scale * (-log(1 - share)) ** (1 / self.shape)
        low, high = np.quantile(lives, [_tail(confidence), 1 - _tail(confidence)])
        return float(low), float(high)

    def survival_chances(self, used: float, job: float) -> NDArray[np.float64]:
        """Chance of surviving `job` more after `used`, one for each pair."""
        return np.exp(-hazard_to_come(self.shape, self.scale, used, job))

    def few_pairs(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """A sixth of the pairs, spread over all of them, for what is costly to work out."""
        rows, columns = np.arange(1, SHAPES, 3), np.arange(0, SCALES, 2)
        at = (rows[:, None] * SCALES + columns + np.arange(rows.size)[:, None] % 2).ravel()
        return self.shape[at], self.scale[at]


def weibull_range(
    life: ArrayLike, failed: ArrayLike, expectation: Expectation | None = None
) -> WeibullRange:
    """Joint distribution of shape and scale given lives, as equally likely pairs.

    Without an expectation the intervals are the exact conditional ones for complete lives and for
    tests stopped at a fixed number of failures, and close for other censoring: they equal the
    posterior under the prior d(ln scale) d(1/shape) * shape. Integrating over scale leaves

        p(ln b)  ~  b**(r-1) * prod(t_failed)**b / sum(t**b)**r ,   b = shape, r = failures,

    and scale**-b given b is a gamma variable of order r divided by sum(t**b). An expected shape
    multiplies p by a normal density in ln b. An expected scale is a gamma density on scale**-b
    of order `weight`, that is, it counts like so many failures seen, with its median there.

    Args:
        life, failed: shape (n,), as `weibull.fit`; n may be 0 with an expected scale.
    Raises: BadInput without an expectation unless there are two failures at differing lives, and
        without an expected scale unless there is a failure.
    Source: Lawless (1978), Technometrics 20, pp. 355-364, conditional intervals; Lawless (1982),
        Statistical Models and Methods for Lifetime Data, section 4.1: from memory, re-derived.
    Checked in: tests/forecasting/test_weibull_range.py (share of intervals that hold the truth)
    """
    lives, failures = checked_lives(life, failed)
    _refuse_too_little(lives, failures, expectation)
    has_scale = expectation is not None and expectation.scale is not None
    unit = float(max(lives.max(initial=0.0), expectation.scale if has_scale else 0.0))
    log_life = np.log(lives / unit)
    n_failed = int(failures.sum())
    sum_failed = float(log_life[failures].sum())
    order = n_failed + (expectation.weight if has_scale else 0.0)
    expected_rate = _gamma_median(expectation.weight) if has_scale else 0.0

    def power_sums(log_shape: NDArray[np.float64]) -> NDArray[np.float64]:
        shape = np.exp(log_shape)
        sums = np.exp(shape[:, None] * log_life).sum(axis=1)
        if has_scale:
            sums = sums + expected_rate * np.exp(shape * log(expectation.scale / unit))
        return sums

    def log_density(log_shape: NDArray[np.float64]) -> NDArray[np.float64]:
        shape = np.exp(log_shape)
        value = n_failed * log_shape + shape * sum_failed - order * np.log(power_sums(log_shape))
        if has_scale:
            value += expectation.weight * shape * log(expectation.scale / unit)
        else:
            value -= log_shape
        if expectation is not None:
            spread = log(expectation.shape_factor) / NINE_IN_TEN
            value -= 0.5 * ((log_shape - log(expectation.shape)) / spread) ** 2
        return value

    grid, cumulative = _distribution_on_grid(log_density)

    def scale_at(log_shape: NDArray[np.float64], rate: NDArray[np.float64]) -> NDArray[np.float64]:
        return unit * (power_sums(log_shape)[:, None] / rate) ** np.exp(-log_shape)[:, None]

    log_shapes = np.interp(_middles(SHAPES), cumulative, grid)
    middle = np.interp([0.5], cumulative, grid)
    middle_scale = scale_at(middle, np.array([_gamma_median(order)]))
    return WeibullRange(
        shape=np.repeat(np.exp(log_shapes), SCALES),
        scale=scale_at(log_shapes, _gamma_quantiles(order, _middles(SCALES))).ravel(),
        middle=Weibull(float(np.exp(middle[0])), float(middle_scale[0, 0])),
        log_shape_grid=grid,
        share_below=cumulative,
    )


def _refuse_too_little(
    lives: NDArray[np.float64], failures: NDArray[np.bool_], expectation: Expectation | None
) -> None:
    if expectation is None:
        differing = np.unique(lives[failures]).size > 1 or (
            failures.sum() > 1 and lives.max() > lives[failures].max()
        )
        if not differing:
            raise BadInput(
                "a range needs at least two failures at lives that differ, "
                f"but got {int(failures.sum())} in {lives.size} lives; state an expected shape"
            )
    elif expectation.scale is None and not failures.any():
        raise BadInput(
            f"no failure among {lives.size} lives and no expected life; state an expected life"
        )


def _distribution_on_grid(
    log_density: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Grid of ln shape and the distribution function on it."""
    coarse = np.linspace(*LOG_SHAPE_LIMITS, 120)
    height = log_density(coarse)
    seen = np.flatnonzero(height > height.max() - NEGLIGIBLE)
    low, high = max(seen[0] - 1, 0), min(seen[-1] + 1, coarse.size - 1)
    grid = np.linspace(coarse[low], coarse[high], 160)
    height = log_density(grid)
    weight = np.exp(height - height.max())
    steps = (weight[1:] + weight[:-1]) / 2
    cumulative = np.concatenate(([0.0], np.cumsum(steps))) / steps.sum()
    return grid, cumulative


def _gamma_median(order: float) -> float:
    """Median of the gamma distribution of this order and scale 1: Wilson and Hilferty (1931)."""
    return order * (1 - 1 / (9 * order)) ** 3


def _gamma_quantiles(order: float, shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Quantiles of the gamma distribution of this order and scale 1, by summing its density.

    scipy has them too, but loading it would take longer than everything else a page does.
    """
    spread = 1 / np.sqrt(order) + 1 / order
    log_x = np.linspace(log(order) - 12 * spread, log(order) + min(6 * spread, 5), 1200)
    weight = np.exp(order * (log_x - log(order)) - np.exp(log_x) + order)
    cumulative = np.cumsum((weight[1:] + weight[:-1]) / 2)
    return np.exp(np.interp(shares, cumulative / cumulative[-1], log_x[1:]))


def _middles(n: int) -> NDArray[np.float64]:
    return (np.arange(n) + 0.5) / n


def _tail(confidence: float) -> float:
    require(0 < confidence < 1, "confidence", "lie between 0 and 1 (0.9 for 90 %)", confidence)
    return (1 - confidence) / 2
