"""Weibull life of cutters, fitted by maximum likelihood with unfinished lives included.

Only `math` and `numpy` are loaded, so a page may import it without waiting.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from math import exp, gamma, isfinite, log, sqrt
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import BadInput, require

__all__ = ["Weibull", "WeibullFit", "checked_lives", "fit", "fit_many", "hazard_to_come"]

Key = TypeVar("Key", bound=Hashable)
Lives = tuple[ArrayLike, ArrayLike]

MOST_STEPS = 60
CLOSE_ENOUGH = 1e-12
CERTAIN = (
    700.0  # natural logarithm of a hazard that nothing survives, and that a number still holds
)


def hazard_to_come(
    shape: ArrayLike, scale: ArrayLike, used: float, job: ArrayLike
) -> NDArray[np.float64]:
    """Cumulative hazard from `used` to `used + job`, for shapes and lives of any size.

    ((used + job) / scale)**shape - (used / scale)**shape, as the whole hazard times the part of it
    that is still to come: nothing overflows, and little is lost where the two are close.

    Args:
        shape, scale: as one array that fits the other; job: fits both.
    """
    job = np.asarray(job, dtype=float)
    reached = np.maximum(used + job, np.finfo(float).tiny)
    shape = np.asarray(shape, dtype=float)
    whole = np.exp(np.minimum(shape * (np.log(reached) - np.log(scale)), CERTAIN))
    if not used:
        return np.where(job > 0, whole, 0.0)
    to_come = job / reached
    log_spent = np.where(
        to_come < 0.5, np.log1p(-np.minimum(to_come, 0.5)), log(used) - np.log(reached)
    )
    return whole * -np.expm1(shape * log_spent)


@dataclass(frozen=True)
class Weibull:
    """Weibull distribution of a life, in the cutter's own life unit.

    Args:
        shape: beta; above 1 the cutter wears, at 1 it breaks by chance, below 1 new ones break most.
        scale: eta, the life by which 63.2 % have failed.
    Raises: OutOfRange if shape or scale is not a number above 0.
    Source: Weibull (1951), J. Appl. Mech. 18, pp. 293-297: from memory.
    """

    shape: float
    scale: float

    def __post_init__(self) -> None:
        for name in ("shape", "scale"):
            value = getattr(self, name)
            require(isfinite(value) and value > 0, name, "be a number above 0", value)

    @property
    def mean(self) -> float:
        return self.scale * gamma(1 + 1 / self.shape)

    @property
    def sd(self) -> float:
        first, second = gamma(1 + 1 / self.shape), gamma(1 + 2 / self.shape)
        return self.scale * sqrt(max(second - first**2, 0.0))

    @property
    def median(self) -> float:
        return self.life_failed_by(0.5)

    @property
    def b10(self) -> float:
        """Life by which one cutter in ten has failed."""
        return self.life_failed_by(0.1)

    def cumulative_hazard(self, life: float) -> float:
        return exp(min(self.shape * (log(life) - log(self.scale)), CERTAIN)) if life > 0 else 0.0

    def survival(self, life: float) -> float:
        return exp(-self.cumulative_hazard(life))

    def life_failed_by(self, share: float) -> float:
        """Life by which this share (0 < share < 1) has failed."""
        require(0 < share < 1, "share", "lie between 0 and 1", share)
        return self.scale * (-log(1 - share)) ** (1 / self.shape)

    def chance_of_surviving(self, used: float, job: float) -> float:
        """Chance that a cutter which has survived `used` also survives `job` more.

        Source: R(used + job) / R(used), the definition of conditional reliability.
        """
        _check_used_and_job(used, job)
        return exp(-float(hazard_to_come(self.shape, self.scale, used, job)))

    def mean_residual(self, used: float) -> float:
        """Mean life left after `used`: the integral of R beyond `used`, divided by R(used)."""
        # Loaded here because only this question needs it, and it takes longer than all the rest.
        from scipy.special import gammaincc

        _check_used_and_job(used, 0)
        hazard = self.cumulative_hazard(used)
        if hazard > 500:  # both integrals vanish; 1 / hazard rate is their limit
            return used / (self.shape * hazard)
        return self.mean * float(gammaincc(1 / self.shape, hazard)) * exp(hazard)


@dataclass(frozen=True)
class WeibullFit:
    """A fitted distribution and what it was fitted to."""

    weibull: Weibull
    failures: int
    censored: int
    log_likelihood: float

    @property
    def aic(self) -> float:
        """Akaike's criterion, two parameters counted."""
        return 4 - 2 * self.log_likelihood


def fit(life: ArrayLike, failed: ArrayLike) -> WeibullFit:
    """Maximum likelihood Weibull fit to lives of which some ended without a failure.

    Args:
        life: shape (n,), life reached, above 0 (a censored life of 0 tells nothing and is left out).
        failed: shape (n,), True for a failure, False for a life that ended or runs on without one.
    Raises: BadInput if there is no failure, or if every failure lies at the longest life, when the
        likelihood has no maximum.
    Source: Cohen (1965), Technometrics 7, pp. 579-588: from memory. Newton's method on the
        logarithm of the shape.
    Checked in: tests/published/test_weibull_fits.py
    """
    lives, failures = checked_lives(life, failed)
    _refuse_unfittable(lives, failures)
    return _fit_checked([lives], [failures])[0]


def fit_many(histories: Mapping[Key, Lives]) -> dict[Key, WeibullFit | None]:
    """Fit every history (life, failed) at once; None where `fit` would refuse for want of failures.

    Raises: BadInput as `checked_lives`, with the history named.
    """
    fits: dict[Key, WeibullFit | None] = dict.fromkeys(histories)
    keys, lives, failures = [], [], []
    for key, (life, failed) in histories.items():
        try:
            one_lives, one_failures = checked_lives(life, failed)
        except BadInput as error:
            raise BadInput(f"{key}: {error}") from error
        if _is_fittable(one_lives, one_failures):
            keys.append(key)
            lives.append(one_lives)
            failures.append(one_failures)
    if keys:
        fits.update(zip(keys, _fit_checked(lives, failures), strict=True))
    return fits


def checked_lives(
    life: ArrayLike, failed: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Lives and failure marks as arrays of one length; censored lives of 0 are left out.

    Raises: BadInput for unequal lengths, a life that is negative or not a number, a failure at 0.
    """
    lives = np.asarray(life, dtype=float).ravel()
    failures = np.asarray(failed, dtype=bool).ravel()
    if lives.size != failures.size:
        raise BadInput(
            f"life and failed must have one length, but got {lives.size} and {failures.size}"
        )
    wrong = ~(np.isfinite(lives) & (lives >= 0))
    if wrong.any():
        raise BadInput(f"life must be a number of 0 or more, but got {lives[wrong][0]}")
    if (failures & (lives == 0)).any():
        raise BadInput(
            "a failure at life 0 has no place on a life scale; record the use up to the failure"
        )
    informative = lives > 0
    return lives[informative], failures[informative]


def _is_fittable(lives: NDArray[np.float64], failures: NDArray[np.bool_]) -> bool:
    return bool(failures.any()) and bool(lives[failures].min() < lives.max())


def _refuse_unfittable(lives: NDArray[np.float64], failures: NDArray[np.bool_]) -> None:
    if not failures.any():
        raise BadInput(f"a fit needs at least one failure, but got none in {lives.size} lives")
    if not _is_fittable(lives, failures):
        raise BadInput(
            f"the shape cannot be fitted: every failure lies at the longest life, "
            f"{lives.max():g}; add lives that differ, or state an expected life"
        )


def _fit_checked(
    lives: list[NDArray[np.float64]], failures: list[NDArray[np.bool_]]
) -> list[WeibullFit]:
    counts = np.array([one.size for one in lives])
    starts = np.concatenate(([0], np.cumsum(counts)[:-1]))
    failed = np.concatenate(failures)
    log_life = np.log(np.concatenate(lives))
    longest = np.maximum.reduceat(log_life, starts)
    # Measured from the longest life, so that no power of it can overflow.
    log_life = log_life - np.repeat(longest, counts)
    n_failed = np.add.reduceat(failed.astype(float), starts)
    sum_failed = np.add.reduceat(np.where(failed, log_life, 0.0), starts)

    shape, power_sum = _profile_shapes(log_life, starts, counts, sum_failed / n_failed)
    log_scale = longest + np.log(power_sum / n_failed) / shape
    log_likelihood = (
        n_failed * (np.log(shape) - 1 - np.log(power_sum / n_failed))
        + (shape - 1) * sum_failed
        - n_failed * longest
    )
    return [
        WeibullFit(
            Weibull(float(shape[i]), float(np.exp(log_scale[i]))),
            failures=int(n_failed[i]),
            censored=int(counts[i] - n_failed[i]),
            log_likelihood=float(log_likelihood[i]),
        )
        for i in range(counts.size)
    ]


def _profile_shapes(
    log_life: NDArray[np.float64],
    starts: NDArray[np.int64],
    counts: NDArray[np.int64],
    mean_failed: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Shape of each history at which the profile score is zero, and the sum of life ** shape.

    The score  sum(t^b ln t) / sum(t^b) - 1/b - mean(ln t of failures)  rises with b all the way,
    so the root is single; the step is taken on ln b, which keeps b above 0.
    """
    shape = _start_shapes(log_life, starts, counts)
    for _ in range(MOST_STEPS):
        power = np.exp(np.repeat(shape, counts) * log_life)
        s0 = np.add.reduceat(power, starts)
        s1 = np.add.reduceat(power * log_life, starts)
        s2 = np.add.reduceat(power * log_life**2, starts)
        score = s1 / s0 - 1 / shape - mean_failed
        slope = shape * (s2 / s0 - (s1 / s0) ** 2) + 1 / shape
        step = np.clip(-score / slope, -1.0, 1.0)
        shape = shape * np.exp(step)
        if np.abs(step).max() < CLOSE_ENOUGH:
            break
    return shape, np.add.reduceat(np.exp(np.repeat(shape, counts) * log_life), starts)


def _start_shapes(
    log_life: NDArray[np.float64], starts: NDArray[np.int64], counts: NDArray[np.int64]
) -> NDArray[np.float64]:
    """First guess from the spread of log life, whose standard deviation is 1.283 / shape."""
    mean = np.add.reduceat(log_life, starts) / counts
    squares = np.add.reduceat((log_life - np.repeat(mean, counts)) ** 2, starts)
    return 1.283 / np.clip(np.sqrt(squares / counts), 0.01, 10.0)


def _check_used_and_job(used: float, job: float) -> None:
    for name, value in (("used", used), ("job", job)):
        require(isfinite(value) and value >= 0, name, "be a number of 0 or more", value)
