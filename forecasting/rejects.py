"""How many knives to start so that enough good ones finish."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from forecasting.errors import require

__all__ = ["StartQuantity", "chance_of_enough", "start_quantity"]

ROUNDING_SLACK = 1e-9
"""Keeps 20 x 0.95 = 19.000000000000004 from becoming 20 knives."""


@dataclass(frozen=True)
class StartQuantity:
    """Knives to start, and what to expect of them.

    start: knives to start. chance_enough: chance that the good ones suffice.
    expected_good: good knives on average. entering: knives to lay out for each step, in order.
    """

    start: int
    chance_enough: float
    expected_good: float
    entering: tuple[int, ...]


def start_quantity(good: int, step_yields: Sequence[float], confidence: float) -> StartQuantity:
    """Fewest knives to start so that `good` of them survive every step.

    Knives fail independently of each other, each step with its own yield: the good ones are
    binomial, and the smallest start is a quantile of the negative binomial distribution.

    Args:
        good: good knives needed, 0 or more.
        step_yields: share that survives each step in order, 0 < yield <= 1; empty means no rejects.
        confidence: chance wanted that the good ones suffice, 0 < confidence < 1.
    Raises: OutOfRange.
    Source: binomial and negative binomial distribution, any textbook of probability;
        independence of rejects is an assumption (common practice, no source).
    Checked in: tests/published/test_yields.py
    """
    require(good >= 0, "good", "be 0 or more", good)
    require(0 < confidence < 1, "confidence", "lie between 0 and 1", confidence)
    for number, share in enumerate(step_yields, start=1):
        require(0 < share <= 1, f"yield of step {number}", "lie above 0 and up to 1", share)
    overall = math.prod(step_yields)
    start, chance = _fewest(good, overall, confidence)
    return StartQuantity(start, chance, start * overall, _entering(start, good, step_yields))


def chance_of_enough(start: int, good: int, overall_yield: float) -> float:
    """Chance that at least `good` of `start` knives survive; exact binomial tail."""
    require(0 < overall_yield <= 1, "overall_yield", "lie above 0 and up to 1", overall_yield)
    return min(
        1.0, math.fsum(_last_good_is(n, good, overall_yield) for n in range(good, start + 1))
    )


def _fewest(good: int, overall: float, confidence: float) -> tuple[int, float]:
    start, chance = good, _last_good_is(good, good, overall)
    while chance < confidence:
        start += 1
        chance += _last_good_is(start, good, overall)
    return start, min(1.0, chance)


def _last_good_is(start: int, good: int, overall: float) -> float:
    """Chance that the last good knife needed is exactly the one started as number `start`."""
    rejects = start - good
    if good == 0 or overall == 1:
        return float(rejects == 0)
    log_ways = math.lgamma(start) - math.lgamma(good) - math.lgamma(rejects + 1)
    return math.exp(log_ways + good * math.log(overall) + rejects * math.log1p(-overall))


def _entering(start: int, good: int, step_yields: Sequence[float]) -> tuple[int, ...]:
    reaching = accumulate(step_yields[:-1], lambda knives, share: knives * share, initial=start)
    if not step_yields:
        return ()
    return tuple(max(good, math.ceil(knives - ROUNDING_SLACK)) for knives in reaching)
