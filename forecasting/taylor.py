"""Taylor's equation: how cutter life falls as cutting speed rises.

Units are the caller's, but one and the same throughout: speed in m/min (or ft/min), life in min.
"""

from dataclasses import dataclass
from math import exp, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import BadInput, require

__all__ = [
    "EXPONENT_RANGES",
    "ExtendedTaylor",
    "Taylor",
    "exponent_warning",
    "fit_extended_taylor",
    "fit_taylor",
    "life_at_another_speed",
]

# Exponents n of single-point turning; end milling may lie outside, so they only serve to warn.
# Source: HSS 0.08-0.20, carbide 0.20-0.30, ceramic 0.40-0.60: a public question bank; Groover,
# Fundamentals of Modern Manufacturing, has 0.125, 0.25 and 0.6: from memory.
EXPONENT_RANGES = {"HSS": (0.08, 0.20), "carbide": (0.20, 0.30), "ceramic": (0.40, 0.60)}


@dataclass(frozen=True)
class Taylor:
    """V T**n = C.

    Args:
        n: exponent, above 0.
        c: speed at which the cutter lives one unit of time.
    Source: Taylor (1907), On the Art of Cutting Metals: from memory.
    """

    n: float
    c: float

    def life_at(self, speed: float) -> float:
        _check_positive("speed", speed)
        return (self.c / speed) ** (1 / self.n)

    def speed_for(self, life: float) -> float:
        _check_positive("life", life)
        return self.c / life**self.n


@dataclass(frozen=True)
class ExtendedTaylor:
    """V**p f**q T = C, with feed f; p = 1 / n of the plain equation."""

    p: float
    q: float
    c: float

    def life_at(self, speed: float, feed: float) -> float:
        _check_positive("speed", speed)
        _check_positive("feed", feed)
        return self.c / (speed**self.p * feed**self.q)


def fit_taylor(speed: ArrayLike, life: ArrayLike) -> Taylor:
    """Taylor's n and C through tests at two or more speeds.

    Least squares on logarithms with life the dependent one: speed is set, life is what scatters.

    Args:
        speed, life: shape (n,) each, above 0.
    Raises: BadInput with fewer than two speeds, or if life does not fall as speed rises.
    Checked in: tests/published/test_taylor.py
    """
    log_speed, log_life = _logs(speed=speed, life=life)
    if np.unique(log_speed).size < 2:
        raise BadInput("Taylor's equation needs lives at two speeds or more, but got one speed")
    slope, height = np.polyfit(log_speed, log_life, 1)
    if slope >= 0:
        raise BadInput(
            "life must fall as speed rises, but the tests say otherwise; check whether lives and "
            "speeds are in the right order and the work was the same"
        )
    return Taylor(n=float(-1 / slope), c=exp(-height / slope))


def fit_extended_taylor(speed: ArrayLike, feed: ArrayLike, life: ArrayLike) -> ExtendedTaylor:
    """Exponents of speed and feed through three or more tests; with three it passes through all.

    With so few tests it describes them and no more: do not use it outside their range.

    Args:
        speed, feed, life: shape (n,) each, above 0.
    Raises: BadInput unless speed and feed vary independently in at least three tests.
    """
    log_speed, log_feed, log_life = _logs(speed=speed, feed=feed, life=life)
    design = np.column_stack([np.ones(log_speed.size), -log_speed, -log_feed])
    if np.linalg.matrix_rank(design) < 3:
        raise BadInput(
            "the extended equation needs three tests or more in which speed and feed vary "
            f"independently, but got {log_speed.size} that do not"
        )
    (log_c, p, q), *_ = np.linalg.lstsq(design, log_life)
    return ExtendedTaylor(p=float(p), q=float(q), c=exp(log_c))


def life_at_another_speed(life: float, speed: float, new_speed: float, n: float) -> float:
    """Life expected at a new speed, the exponent being an assumption of the caller."""
    for name, value in (("life", life), ("speed", speed), ("new_speed", new_speed), ("n", n)):
        _check_positive(name, value)
    return life * (speed / new_speed) ** (1 / n)


def exponent_warning(n: float, material: str) -> str | None:
    """Words of doubt if n lies outside what turning tests give for this cutter material.

    Args:
        material: one of EXPONENT_RANGES.
    """
    if material not in EXPONENT_RANGES:
        raise BadInput(
            f"material must be one of {', '.join(EXPONENT_RANGES)}, but got {material!r}"
        )
    low, high = EXPONENT_RANGES[material]
    if low <= n <= high:
        return None
    return (
        f"An exponent of {n:.3g} is unusual: turning with {material} gives {low} to {high}. "
        "Check the lives and whether only the speed was changed."
    )


def _logs(**columns: ArrayLike) -> list[NDArray[np.float64]]:
    arrays = {name: np.ravel(np.asarray(column, float)) for name, column in columns.items()}
    sizes = {array.size for array in arrays.values()}
    require(len(sizes) == 1, " and ".join(arrays), "have one length", sorted(sizes))
    for name, array in arrays.items():
        for value in array:
            _check_positive(name, float(value))
    return [np.log(array) for array in arrays.values()]


def _check_positive(name: str, value: float) -> None:
    require(isfinite(value) and value > 0, name, "be a number above 0", value)
