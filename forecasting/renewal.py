"""How many times a cutter is changed over a job, when each is replaced as it fails."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, erf, gamma, isfinite, log2

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import require
from forecasting.weibull import hazard_to_come

__all__ = [
    "Aged",
    "ChangeCount",
    "count_changes",
    "expected_renewals",
    "line_changes",
    "weibull_changes",
]

Distribution = Callable[[NDArray[np.float64]], NDArray[np.float64]]

STEPS_PER_LIFE = 20
FEWEST_STEPS = 127
LONG_RUN_LIVES = 25
RARE = 1e-7


@dataclass(frozen=True, eq=False)
class Aged:
    """Weibull life of one cutter that was used before.

    Args:
        shape, scale: numbers, or equally likely pairs of shape (pairs,).
        used: use so far, in the life unit.
    """

    shape: ArrayLike
    scale: ArrayLike
    used: float = 0.0

    def __post_init__(self) -> None:
        _check_use("used", self.used)

    @property
    def pairs(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return np.ravel(self.shape).astype(float), np.ravel(self.scale).astype(float)

    @property
    def left(self) -> Distribution:
        """Distribution function of what is left of its life."""
        shapes, scales = (values[:, None] for values in self.pairs)
        return lambda life: -np.expm1(-hazard_to_come(shapes, scales, self.used, life))


@dataclass(frozen=True, eq=False)
class ChangeCount:
    """Distribution of the number of changes.

    Args:
        chance: shape (k,), chance of 0, 1, ... k-1 changes; sums to 1.
    """

    chance: NDArray[np.float64]

    @property
    def expected(self) -> float:
        return float(self.chance @ np.arange(self.chance.size))

    @property
    def chance_of_none(self) -> float:
        return float(self.chance[0])

    def at_most(self, confidence: float) -> int:
        """Smallest number that is not exceeded with this confidence."""
        require(0 < confidence < 1, "confidence", "lie between 0 and 1", confidence)
        reached = np.cumsum(self.chance) >= confidence
        return int(np.argmax(reached)) if reached.any() else self.chance.size - 1


def count_changes(
    first: Distribution,
    later: Distribution,
    job: float,
    steps: int = 1023,
    between: Sequence[Distribution] = (),
) -> ChangeCount:
    """Distribution of the number of failures within a job, each followed by a new cutter.

    Chance of at least k+1 = chance of at least k, convolved with the life of a new cutter. Lives
    are gathered on a grid, each point holding what falls within half a step of it, so the error
    falls with the square of the step.

    Args:
        first: distribution function of what is left of the life of the fitted cutter. Takes
            shape (m,), gives (m,) or (pairs, m); pairs are equally likely and are averaged.
        later: the same for a new cutter.
        job: use the job takes, in the life unit, 0 or more.
        steps: grid steps in the job; fastest one below a power of two.
        between: the same for used cutters that go in before any new one, in this order.
    Source: Cox (1962), Renewal Theory, chapters 2 and 3: from memory.
    Checked in: tests/published/test_renewals.py
    """
    _check_use("job", job)
    edges = job * (np.arange(steps + 1) + 0.5) / steps
    length = 2 * (steps + 1)

    def on_grid(life: Distribution) -> NDArray[np.float64]:
        return np.diff(np.atleast_2d(life(edges)), axis=1, prepend=0.0)

    later_lives = np.fft.rfft(on_grid(later), length)
    in_line = [np.fft.rfft(on_grid(life), length) for life in reversed(between)]
    arrivals = on_grid(first)
    at_least = [1.0, float(np.mean(first(np.array([job]))))]
    while at_least[-1] > RARE:
        life = in_line.pop() if in_line else later_lives
        arrivals = np.fft.irfft(np.fft.rfft(arrivals, length) * life, length)[:, : steps + 1]
        within = arrivals.sum(axis=1) - arrivals[:, -1] / 2
        at_least.append(float(np.clip(np.mean(within), 0.0, at_least[-1])))
    return ChangeCount(-np.diff([*at_least, 0.0]))


def expected_renewals(
    life: Distribution, times: ArrayLike, steps: int = 2047
) -> NDArray[np.float64]:
    """Renewal function: expected number of failures by each time, beginning with a new cutter.

    Args:
        life: distribution function of one life.
        times: shape (n,), 0 or more.
    """
    return np.array(
        [count_changes(life, life, float(time), steps).expected for time in np.ravel(times)]
    )


def weibull_changes(shape: ArrayLike, scale: ArrayLike, used: float, job: float) -> ChangeCount:
    """Changes in a job when a cutter already used is fitted and lives are Weibull.

    Args:
        shape, scale: numbers, or equally likely pairs of shape (pairs,).
        used: use of the fitted cutter so far; job: use still to come, in the same unit.
    """
    return line_changes([Aged(shape, scale, used)], Aged(shape, scale), job)


def line_changes(line: Sequence[Aged], new: Aged, job: float) -> ChangeCount:
    """Changes in a job when used cutters go in before new ones; the first of them is fitted.

    Beyond LONG_RUN_LIVES lives the count is taken as normal: good for the expected number and its
    range, not for very small chances; the chance of none is exact always.

    Args:
        line: the fitted one, then those that follow it, each with its own life and use so far; as
            many pairs in each as in new.
        job: use still to come, in the unit of the lives.
    """
    _check_use("job", job)
    require(len(line) > 0, "line", "hold the fitted one", len(line))
    first, *between = [one.left for one in line]
    shapes, scales = new.pairs
    lives = job / float(np.median(scales))
    if lives > LONG_RUN_LIVES:
        return _long_run_count([first, *between], shapes, scales, job)
    steps = 2 ** ceil(log2(max(STEPS_PER_LIFE * lives, FEWEST_STEPS) + 1)) - 1
    return count_changes(first, new.left, job, steps, between)


def _long_run_count(
    line: Sequence[Distribution],
    shape: NDArray[np.float64],
    scale: NDArray[np.float64],
    job: float,
) -> ChangeCount:
    """Normal count with mean k - 1 + t/m - m0/m + (s**2 + m**2) / (2 m**2), variance s**2 t / m**3.

    m, s: mean and standard deviation of a new life; m0: mean of what is left of the k in line.
    Source: Cox (1962), Renewal Theory, sections 4.1 and 4.2: from memory.
    """
    first = line[0]
    mean = scale * np.array([gamma(1 + 1 / b) for b in shape])
    second = scale**2 * np.array([gamma(1 + 2 / b) for b in shape])
    grid = np.linspace(0.0, 1.0, 400) ** 2 * job
    left = sum(np.trapezoid(1 - one(grid), grid, axis=1) for one in line)
    expected = len(line) - 1 + (job - left) / mean + second / (2 * mean**2)
    sd = np.sqrt((second - mean**2) * job / mean**3)
    most = ceil(float((expected + 6 * sd).max())) + 1
    edges = (np.arange(most) + 0.5 - expected[:, None]) / (sd[:, None] * 2**0.5)
    up_to = np.mean([[0.5 + 0.5 * erf(z) for z in row] for row in edges], axis=0)
    up_to[0] = 1 - float(np.mean(first(np.array([job]))))
    up_to = np.maximum.accumulate(up_to)
    return ChangeCount(np.diff(up_to, prepend=0.0, append=1.0))


def _check_use(name: str, value: float) -> None:
    require(isfinite(value) and value >= 0, name, "be a number of 0 or more", value)
