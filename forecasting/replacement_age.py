"""At what age to change a cutter before it fails, or that this never pays."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import require
from forecasting.weibull import Weibull

__all__ = [
    "ReplacementAge",
    "best_replacement_age",
    "cost_rate",
    "weibull_cost_curve",
    "weibull_replacement_age",
]

Survival = Callable[[NDArray[np.float64]], NDArray[np.float64]]

GRID = 6000
CURVE_TO = 0.99  # share failed beyond which a curve of costs is level
LEAST_SAVING = 0.01  # a smaller gain would be lost in what is not known about the costs
OUTLIVED_BY = 1e-7


@dataclass(frozen=True)
class ReplacementAge:
    """Answer of an age replacement sum.

    Args:
        age: life at which to change; None when waiting for the failure costs no more.
        cost_rate: cost per unit of life at that age (or on failure, when age is None).
        cost_rate_on_failure: cost per unit of life when every cutter runs until it fails.
    """

    age: float | None
    cost_rate: float
    cost_rate_on_failure: float

    @property
    def saving(self) -> float:
        """Share of the run-to-failure cost that changing at `age` saves."""
        return 1 - self.cost_rate / self.cost_rate_on_failure


def cost_rate(
    survival: Survival, age: NDArray[np.float64], cost_planned: float, cost_failure: float
) -> NDArray[np.float64]:
    """Long-run cost per unit of life when changing on failure or at `age`, whichever is first.

    C(T) = (cp R(T) + cf (1 - R(T))) / integral of R from 0 to T

    Args:
        survival: R; takes and gives shape (n,).
        age: shape (n,), rising, dense enough for a trapezoid sum from 0; above 0.
        cost_planned, cost_failure: money per change; failure includes the cutter, the lost time and
            the spoilt piece.
    Source: Barlow and Proschan (1965), Mathematical Theory of Reliability, chapter 4: from memory.
    """
    _check_costs(cost_planned, cost_failure)
    surviving = survival(age)
    grid, heights = np.append(0.0, age), np.append(1.0, surviving)
    lived = np.cumsum(np.diff(grid) * (heights[1:] + heights[:-1]) / 2)
    return (cost_planned * surviving + cost_failure * (1 - surviving)) / lived


def best_replacement_age(
    survival: Survival, longest: float, cost_planned: float, cost_failure: float
) -> ReplacementAge:
    """Age at which changing costs least, or None where it saves less than LEAST_SAVING.

    Args:
        survival: R, falling from 1 to (nearly) 0 at `longest`.
        longest: life that practically no cutter outlives.
    """
    require(np.isfinite(longest) and longest > 0, "longest", "be a number above 0", longest)
    age = longest * (np.arange(1, GRID + 1) / GRID) ** 2
    rates = cost_rate(survival, age, cost_planned, cost_failure)
    at = int(np.argmin(rates))
    on_failure = float(rates[-1])
    if rates[at] > (1 - LEAST_SAVING) * on_failure:
        return ReplacementAge(None, on_failure, on_failure)
    return ReplacementAge(_lowest(age, rates, at), float(rates[at]), on_failure)


def weibull_replacement_age(
    weibull: Weibull, cost_planned: float, cost_failure: float
) -> ReplacementAge:
    """Age replacement of a cutter with a Weibull life; never pays at a shape of 1 or less.

    Checked in: tests/published/test_replacement_age.py
    """
    _check_costs(cost_planned, cost_failure)
    if weibull.shape <= 1 or cost_failure <= cost_planned:
        on_failure = cost_failure / weibull.mean
        return ReplacementAge(None, on_failure, on_failure)

    def survival(life: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.exp(-((life / weibull.scale) ** weibull.shape))

    longest = weibull.life_failed_by(1 - OUTLIVED_BY)
    return best_replacement_age(survival, longest, cost_planned, cost_failure)


def weibull_cost_curve(
    weibull: Weibull, cost_planned: float, cost_failure: float, points: int = 60
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ages, evenly spaced, and the cost per unit of life of changing at each; shape (points,)."""
    require(points >= 2, "points", "be 2 or more", points)
    longest = weibull.life_failed_by(CURVE_TO)
    dense = np.linspace(0.0, longest, GRID + 1)[1:]
    survival = np.exp(-((dense / weibull.scale) ** weibull.shape))
    rates = cost_rate(lambda _: survival, dense, cost_planned, cost_failure)
    ages = np.linspace(0.0, longest, points + 1)[1:]
    return ages, np.interp(ages, dense, rates)


def _lowest(age: NDArray[np.float64], rates: NDArray[np.float64], at: int) -> float:
    """Bottom of the parabola through the lowest point and its neighbours."""
    if not 0 < at < age.size - 1:
        return float(age[at])
    bend, slope, _ = np.polyfit(age[at - 1 : at + 2] - age[at], rates[at - 1 : at + 2], 2)
    return float(age[at] - slope / (2 * bend)) if bend > 0 else float(age[at])


def _check_costs(cost_planned: float, cost_failure: float) -> None:
    for name, value in (("cost_planned", cost_planned), ("cost_failure", cost_failure)):
        require(bool(np.isfinite(value)) and value > 0, name, "be a number above 0", value)
